"""Photos taken while a pass is still a draft, as a phone's queue sends them."""

import io
import re

from small_session import SmallSession, picture
from starlette.testclient import TestClient

from app.desk.passes import drafts
from app.desk.passes.pass_sheets import read_pass
from app.library import Library

KEY = "0123456789abcdef"


def send(client: TestClient, draft_id: int, key: str, content: bytes, **headers: str) -> int:
    answer = client.post(
        f"/drafts/{draft_id}/photos",
        data={"key": key, "caption": "the amp"},
        files={"photo": ("x.jpg", io.BytesIO(content))},
        headers={"accept": "application/json", **headers},
    )
    return answer.status_code


def test_a_photo_of_a_draft_is_the_pass_s_once_that_is_saved(
    filled_client: TestClient, filled: Library, session: SmallSession
) -> None:
    draft = drafts.open_draft(filled, session.bass)
    assert send(filled_client, draft.draft_id, KEY, picture(shade=77)) == 200
    page = filled_client.get(f"/sources/{session.bass}/passes/new").text
    (thumbnail,) = re.findall(r"/draft-photos/\d+/thumbnail.jpg", page)
    assert filled_client.get(thumbnail).headers["content-type"] == "image/jpeg"
    saved = drafts.save(filled, draft.draft_id)
    (photo,) = read_pass(filled, saved).photos
    assert photo.caption == "the amp"
    assert filled_client.get(thumbnail).status_code == 404


def test_a_photo_sent_twice_is_there_once(
    filled_client: TestClient, filled: Library, session: SmallSession
) -> None:
    draft = drafts.open_draft(filled, session.bass)
    for _ in range(3):
        assert send(filled_client, draft.draft_id, KEY, picture(shade=78)) == 200
    assert len(drafts.read_draft(filled, draft.draft_id).photo_ids) == 1
    for _ in range(2):
        sent = {"photo": ("y.jpg", io.BytesIO(picture(shade=79)))}
        assert filled_client.post(
            f"/passes/{session.passes[1]}/photos", data={"key": KEY + "b"}, files=sent
        ).is_redirect
    assert len(read_pass(filled, session.passes[1]).photos) == 1


def test_a_photo_that_comes_after_the_pass_was_saved_goes_to_the_pass(
    filled_client: TestClient, filled: Library, session: SmallSession
) -> None:
    """The phone was out of reach while the pass was saved at the desk."""
    draft = drafts.open_draft(filled, session.bass)
    saved = drafts.save(filled, draft.draft_id)
    assert send(filled_client, draft.draft_id, KEY, picture(shade=80)) == 200
    assert len(read_pass(filled, saved).photos) == 1


def test_what_is_no_picture_or_of_no_draft_is_said(
    filled_client: TestClient, filled: Library, session: SmallSession
) -> None:
    draft = drafts.open_draft(filled, session.bass)
    assert send(filled_client, draft.draft_id, KEY, b"not a picture") == 422
    assert send(filled_client, 999, KEY, picture()) == 410
    assert filled_client.post(f"/drafts/{draft.draft_id}/photos", data={}).status_code == 422


def test_without_script_a_photo_leads_back_to_the_form(
    filled_client: TestClient, filled: Library, session: SmallSession
) -> None:
    draft = drafts.open_draft(filled, session.bass)
    answer = filled_client.post(
        f"/drafts/{draft.draft_id}/photos", files={"photo": ("x.jpg", io.BytesIO(picture(shade=81)))}
    )
    assert answer.headers["location"] == f"/sources/{session.bass}/passes/new#draft-photos"
