"""Gear is put right where the next pass is jotted; what was logged keeps its controls as they were."""

from page_reader import page_of
from small_session import SmallSession
from starlette.testclient import TestClient

from app.desk.passes import drafts
from app.desk.passes.pass_sheets import read_pass
from app.desk.shelf.gear import read_gear
from app.library import Library


def at(draft_id: int, gear_id: int) -> str:
    return f"/drafts/{draft_id}/gear/{gear_id}/control"


def test_a_control_renamed_in_the_column_keeps_its_reading_and_the_log_its_name(
    filled: Library, filled_client: TestClient, session: SmallSession
) -> None:
    draft = drafts.open_draft(filled, session.bass)
    step = next(step for step in draft.entry.steps if step.gear_id == session.amp)
    before = read_gear(filled, session.amp).newest
    control = next(each for each in before.controls if step.readings.get(each.control_id))
    form = page_of(filled_client.get(f"{at(draft.draft_id, session.amp)}?key={control.key}"))
    fields = {field.name: field.value or "" for field in form.xpath("//input | //select") if field.name}
    name = f"{fields['at']}name"
    assert fields[name] == control.spec.name
    answer = filled_client.post(at(draft.draft_id, session.amp), data=fields | {name: "Bite"})
    assert answer.status_code == 204
    after = read_gear(filled, session.amp).newest
    assert after.version == before.version + 1
    renamed = next(each for each in after.controls if each.key == control.key)
    assert renamed.spec.name == "Bite"
    moved = next(
        step for step in drafts.read_draft(filled, draft.draft_id).entry.steps if step.gear_id == session.amp
    )
    assert moved.readings[renamed.control_id] == step.readings[control.control_id]
    logged = [step for each in session.passes for step in read_pass(filled, each).steps]
    said = [line.name for step in logged if step.layout_id == before.layout_id for line in step.settings]
    assert control.spec.name in said
    assert "Bite" not in said


def test_a_control_is_added_and_removed_again(
    filled: Library, filled_client: TestClient, session: SmallSession
) -> None:
    draft = drafts.open_draft(filled, session.bass)
    action = at(draft.draft_id, session.amp)
    new = {"at": "new-", "new-name": "Glow", "new-form": "switch", "new-positions": "off, on"}
    assert filled_client.post(action, data=new).status_code == 204
    added = read_gear(filled, session.amp).newest.controls[-1]
    assert (added.spec.name, added.spec.positions) == ("Glow", ("off", "on"))
    filled_client.post(action, data={"at": "old-", "old-key": added.key, "do": "remove"})
    assert "Glow" not in [each.spec.name for each in read_gear(filled, session.amp).newest.controls]


def test_what_is_wrong_is_said_at_the_field_and_what_was_typed_stays(
    filled: Library, filled_client: TestClient, session: SmallSession
) -> None:
    draft = drafts.open_draft(filled, session.bass)
    answer = filled_client.post(
        at(draft.draft_id, session.amp),
        data={"at": "new-", "new-name": "Glow", "new-form": "switch", "new-positions": "on"},
    )
    assert answer.status_code == 422
    page = page_of(answer)
    assert page.xpath("//*[contains(@id, 'positions-error')]")
    assert page.xpath("//input[contains(@name, '-name')]/@value") == ["Glow"]


def test_gear_is_named_where_it_stands(
    filled: Library, filled_client: TestClient, session: SmallSession
) -> None:
    draft = drafts.open_draft(filled, session.bass)
    filled_client.post(f"/drafts/{draft.draft_id}/gear/{session.amp}/name", data={"name": "Boathouse combo"})
    assert read_gear(filled, session.amp).name == "Boathouse combo"
