"""What happens elsewhere while a column is open: nothing typed is lost, nothing fails."""

from dataclasses import replace

from page_reader import page_of
from small_session import SmallSession
from starlette.testclient import TestClient

from app.desk.passes import drafts, passes
from app.desk.passes.drafts import DraftSheet
from app.desk.passes.field_names import ReadingField
from app.desk.passes.pass_sheets import read_newest
from app.desk.shelf.gear import edit_gear, gear_entry, read_gear
from app.library import Library


def turned(draft: DraftSheet, gear_id: int) -> str:
    step = next(step for step in draft.entry.steps if step.gear_id == gear_id)
    return str(ReadingField(gear_id, next(iter(step.readings))))


def test_a_layout_edited_in_another_tab_leaves_the_column_as_it_was_opened(
    filled: Library, filled_client: TestClient, session: SmallSession
) -> None:
    draft = drafts.open_draft(filled, session.bass)
    field = turned(draft, session.amp)
    entry = gear_entry(filled, session.amp)
    edit_gear(filled, session.amp, replace(entry, controls=entry.controls[1:]))
    answer = filled_client.post(f"/drafts/{draft.draft_id}/changes", data={"key": "k1", field: "9"})
    assert answer.status_code == 200
    assert 'value="9"' in filled_client.get(f"/drafts/{draft.draft_id}/cells?field={field}").text
    saved = filled_client.post(f"/drafts/{draft.draft_id}/save", data={"key": "k2"})
    assert saved.status_code == 200
    (newest,) = read_newest(filled, session.bass, 1).passes
    step = next(step for step in newest.steps if step.gear_id == session.amp)
    assert "9" in [line.reading for line in step.settings]
    assert step.layout_id != read_gear(filled, session.amp).newest.layout_id


def test_the_pass_before_deleted_elsewhere_leaves_the_column_and_its_words(
    filled: Library, filled_client: TestClient, session: SmallSession
) -> None:
    draft = drafts.open_draft(filled, session.bass)
    filled_client.post(f"/drafts/{draft.draft_id}/changes", data={"key": "k1", "title": "kept through it"})
    for sheet in read_newest(filled, session.bass, 100).passes[1:]:
        passes.delete_pass(filled, sheet.pass_id)
    page = page_of(filled_client.get(f"/sources/{session.bass}/ledger?column=open"))
    assert page.xpath("//input[@name='title']/@value") == ["kept through it"]
    assert filled_client.post(f"/drafts/{draft.draft_id}/save", data={"key": "k2"}).status_code == 200


def test_a_column_saved_on_the_phone_is_told_to_the_desk_with_its_pass(
    filled: Library, filled_client: TestClient, session: SmallSession
) -> None:
    draft = drafts.open_draft(filled, session.bass)
    saved = filled_client.post(f"/drafts/{draft.draft_id}/save", data={"key": "from the phone"}).json()
    late = filled_client.post(f"/drafts/{draft.draft_id}/changes", data={"key": "k2", "title": "too late"})
    assert late.status_code == 410
    assert late.json()["pass_id"] == saved["pass_id"]
    anew = page_of(filled_client.get(f"/sources/{session.bass}/ledger?column=open"))
    assert anew.xpath("//form[@id='open-column']/@data-draft") != [str(draft.draft_id)]


def test_what_the_page_still_asks_of_a_column_that_was_saved_is_answered_with_nothing(
    filled: Library, filled_client: TestClient, session: SmallSession
) -> None:
    draft = drafts.open_draft(filled, session.bass)
    filled_client.post(f"/drafts/{draft.draft_id}/save", data={"key": "saved meanwhile"})
    for part in (f"cells?field={turned(draft, session.amp)}", "turned"):
        answer = filled_client.get(f"/drafts/{draft.draft_id}/{part}")
        assert (answer.status_code, answer.text) == (204, "")
