"""Jottings as a page's queue sends them, and the pass form that was overtaken by another device."""

from page_reader import field, filled_in, form_of, page_of, text_of
from small_session import SmallSession
from starlette.testclient import TestClient

from app.desk.passes import drafts
from app.desk.passes.pass_sheets import read_passes_of_source
from app.library import Library

KEY = "0123456789abcdef"


def test_a_jotting_is_answered_with_where_the_draft_stands(
    filled_client: TestClient, session: SmallSession, filled: Library
) -> None:
    draft = drafts.open_draft(filled, session.bass)
    here = f"/drafts/{draft.draft_id}"
    sent = {"key": KEY, "title": "a jotting", f"placement-{session.near_mic}-angle": "a bit", "nonsense": "1"}
    answer = filled_client.post(f"{here}/changes", data=sent)
    assert answer.status_code == 200
    assert answer.json()["revision"] == 1
    assert (answer.json()["undo"], answer.json()["redo"]) == (True, False)
    assert list(answer.json()["refused"]) == [f"placement-{session.near_mic}-angle"]
    assert filled_client.post(f"{here}/changes", data=sent).json() == answer.json()
    undone = filled_client.post(f"{here}/undo", data={"key": KEY + "1"}).json()
    assert (undone["redo"], undone["changed"], "title" in undone["values"]) == (True, False, False)
    assert filled_client.post(f"{here}/redo", data={}).json()["values"]["title"] == "a jotting"
    assert filled_client.post(f"{here}/changes", data={"do": f"remove-{session.amp}"}).status_code == 200
    assert filled_client.get(here).json()["chain"] != undone["chain"]
    filled_client.post(f"{here}/discard", data={})
    saved = filled_client.post(f"{here}/save", data={"key": KEY + "2"}).json()
    assert filled_client.get(saved["address"]).status_code == 200
    late = filled_client.post(f"{here}/changes", data={"key": KEY + "3", "title": "late"})
    assert (late.status_code, late.json()["pass_id"]) == (410, saved["pass_id"])


def test_a_form_sent_twice_logs_one_pass(
    filled_client: TestClient, filled: Library, session: SmallSession
) -> None:
    action = f"/sources/{session.bass}/passes"
    fields = filled_in(form_of(page_of(filled_client.get(f"{action}/new")), action)) | {"title": "once"}
    first, second = (filled_client.post(action, data=fields) for _ in range(2))
    assert first.headers["location"] == second.headers["location"]
    assert len(read_passes_of_source(filled, session.bass)) == 4


def test_a_form_whose_draft_was_saved_elsewhere_is_told_so_and_loses_nothing(
    filled_client: TestClient, filled: Library, session: SmallSession
) -> None:
    action = f"/sources/{session.bass}/passes"
    page = page_of(filled_client.get(f"{action}/new"))
    fields = filled_in(form_of(page, action)) | {field(page, "Drive").get("name"): "1.5"}
    drafts.save(filled, int(fields["draft"]))
    answer = filled_client.post(action, data=fields)
    assert answer.status_code == 409
    again = page_of(answer)
    assert "saved as pass 4 meanwhile" in text_of(again.xpath("//*[@role='alert']")[0])
    assert field(again, "Drive").get("value") == "1.5"
    assert len(read_passes_of_source(filled, session.bass)) == 4
    assert filled_client.post(action, data=filled_in(form_of(again, action))).status_code == 303


def test_an_unsaved_draft_is_said_and_offers_the_pass_that_was_asked_for(
    filled_client: TestClient, filled: Library, session: SmallSession
) -> None:
    new = f"/sources/{session.bass}/passes/new"
    draft = drafts.open_draft(filled, session.bass)
    assert "not saved yet" not in page_of(filled_client.get(new)).text_content()
    drafts.jot(filled, draft.draft_id, "", {"notes": "half a thought"})
    page = page_of(filled_client.get(f"{new}?like={session.passes[0]}"))
    assert field(page, "Notes").text.strip() == "half a thought"
    assert "not saved yet" in text_of(page.get_element_by_id("draft-state"))
    assert [text_of(b) for b in page.xpath(f"//button[@value='like-{session.passes[0]}']")] == [
        "Set all as in pass 1"
    ]
