"""A pass jotted before any gear is on the shelf: its words are kept, and set the controls once there are some."""

import pytest
from page_reader import filled_in, form_of, page_of, text_of
from small_session import SmallSession, bring_in, put_on_shelf
from starlette.testclient import TestClient

from app.desk.finding.find import find
from app.desk.passes import drafts, passes
from app.desk.passes.jot_lines import understand, understand_notes
from app.desk.passes.pass_sheets import PassSheet, read_pass, read_passes_of_source
from app.desk.projects import projects
from app.desk.projects.projects import ProjectEntry
from app.desk.shelf.control_entries import ControlEntry
from app.library import Library

WORDS = "drive noon, treble 6, ribbon 30 mm"


def _source(library: Library) -> int:
    return bring_in(library, projects.create_project(library, ProjectEntry("Boathouse")), "bass DI")


def _saved_in_words(client: TestClient, library: Library) -> int:
    draft = drafts.open_draft(library, _source(library))
    answer = client.post(f"/drafts/{draft.draft_id}/save", data={"key": "a" * 16, "line": WORDS})
    assert answer.status_code == 200, answer.text
    return int(answer.json()["pass_id"])


def _with_gear(library: Library, draft_id: int) -> None:
    pedal = put_on_shelf(library, "overdrive", "pedal", ControlEntry(name="Drive", scale="clock"))
    amp = put_on_shelf(library, "valve combo", "amp", ControlEntry(name="Treble"))
    ribbon = put_on_shelf(library, "small ribbon", "microphone")
    for gear_id in (pedal, amp, ribbon):
        drafts.add_gear(library, draft_id, "", gear_id)


def _settings(sheet: PassSheet) -> list[tuple[str, str]]:
    return [(line.name, line.reading) for step in sheet.steps for line in step.settings if line.is_set]


def test_an_empty_shelf_keeps_a_jot_line_as_words_that_are_found_again(
    client: TestClient, library: Library
) -> None:
    pass_id = _saved_in_words(client, library)
    assert read_pass(library, pass_id).notes == WORDS
    assert [hit.row_id for hit in find(library, "ribbon treble")] == [pass_id]


def test_a_line_is_taken_into_the_notes_once_and_undone_in_one_step(
    client: TestClient, library: Library
) -> None:
    draft_id = drafts.open_draft(library, _source(library)).draft_id
    drafts.jot(library, draft_id, "", {"notes": "late at night"})
    assert understand(library, draft_id, WORDS).is_words
    assert not understand(library, draft_id, " ").is_words
    for _ in range(2):
        answer = client.post(f"/drafts/{draft_id}/changes", data={"do": "jot", "line": WORDS}).json()
        assert (answer["line"], answer["puzzling"]) == ("", [])
    assert drafts.read_draft(library, draft_id).entry.notes == f"late at night\n{WORDS}"
    drafts.undo(library, draft_id)
    assert drafts.read_draft(library, draft_id).entry.notes == "late at night"


def test_words_become_settings_when_asked_to_and_stay_as_they_were_typed(
    client: TestClient, library: Library
) -> None:
    pass_id = _saved_in_words(client, library)
    edit = f"/passes/{pass_id}/edit"
    draft_id = drafts.open_edit(library, pass_id).draft_id
    assert not page_of(client.get(edit)).xpath("//button[@value='settings']")
    _with_gear(library, draft_id)
    page = page_of(client.get(edit))
    offered = page.xpath("//*[@class='said-in-notes']//li")
    assert [text_of(line) for line in offered] == [
        "overdrive Drive noon",
        "valve combo Treble 6",
        "small ribbon distance 30 mm",
    ]
    assert not drafts.read_draft(library, draft_id).entry.steps[0].readings
    fields = filled_in(form_of(page, edit))
    set_page = page_of(client.post(edit, data=fields | {"do": "settings"}))
    assert not set_page.xpath("//*[@class='said-in-notes']")
    assert client.post(edit, data=filled_in(form_of(set_page, edit)) | {"do": "save"}).status_code == 303
    sheet = read_pass(library, pass_id)
    assert _settings(sheet) == [("Drive", "noon"), ("Treble", "6")]
    assert [step.placement.distance_mm for step in sheet.steps if step.placement] == [30.0]
    assert sheet.notes == WORDS


def test_what_is_set_already_is_not_set_by_words(client: TestClient, library: Library) -> None:
    pass_id = _saved_in_words(client, library)
    draft_id = drafts.open_edit(library, pass_id).draft_id
    _with_gear(library, draft_id)
    client.post(f"/drafts/{draft_id}/changes", data={"do": "jot", "line": "treble 4"})
    client.post(f"/drafts/{draft_id}/changes", data={"do": "settings"})
    drafts.save(library, draft_id)
    assert _settings(read_pass(library, pass_id)) == [("Drive", "noon"), ("Treble", "4")]


def test_the_open_column_offers_what_its_notes_say(client: TestClient, library: Library) -> None:
    source_id = _source(library)
    draft_id = drafts.open_draft(library, source_id).draft_id
    client.post(f"/drafts/{draft_id}/changes", data={"do": "jot", "line": WORDS})
    _with_gear(library, draft_id)
    page = page_of(client.get(f"/sources/{source_id}?column=open"))
    assert len(page.xpath("//*[@id='cell-notes']//*[@class='said-in-notes']//li")) == 3


def test_a_line_that_names_no_control_can_be_kept_as_words_beside_gear(
    client: TestClient, library: Library
) -> None:
    source_id = _source(library)
    draft_id = drafts.open_draft(library, source_id).draft_id
    _with_gear(library, draft_id)
    answer = client.post(f"/drafts/{draft_id}/changes", data={"do": "words", "line": "brighter, door shut"})
    assert answer.status_code == 200, answer.text
    drafts.save(library, draft_id)
    assert [sheet.notes for sheet in read_passes_of_source(library, source_id)] == ["brighter, door shut"]
    assert passes.entry_for_next(library, source_id).notes == ""


def test_prose_in_the_notes_offers_nothing(client: TestClient, library: Library) -> None:
    draft_id = drafts.open_draft(library, _source(library)).draft_id
    drafts.jot(
        library,
        draft_id,
        "",
        {"notes": "Nobody liked it, too loud, treble 6 at most, and the door was open."},
    )
    _with_gear(library, draft_id)
    assert understand_notes(library, drafts.read_draft(library, draft_id).entry) == ()


def test_without_scripts_what_stands_in_the_column_is_kept_when_gear_is_made_on_the_way(
    filled: Library, filled_client: TestClient, session: SmallSession
) -> None:
    page = page_of(filled_client.get(f"/sources/{session.bass}?column=open"))
    (form,) = page.xpath("//form[@id='open-column']")
    (button,) = page.xpath("//noscript//button[@form='open-column'][@value='gear-column']")
    sent = {
        field.get("name"): field.text or field.get("value") or ""
        for field in page.xpath("//*[@form='open-column' or ancestor::form[@id='open-column']][@name]")
        if field.tag in ("input", "textarea")
    }
    answer = filled_client.post(form.get("action"), data=sent | {"notes": "tubby", "do": button.get("value")})
    assert answer.headers["location"].startswith("/gear/new?into=")
    assert answer.headers["location"].endswith("&at=column")
    again = page_of(filled_client.get(f"/sources/{session.bass}?column=open"))
    assert [area.text.strip() for area in again.xpath("//textarea[@name='notes'][@form='open-column']")] == [
        "tubby"
    ]


@pytest.mark.parametrize("with_scripts", [True, False])
def test_a_chain_that_was_typed_and_not_put_together_is_in_the_pass_that_is_saved(
    client: TestClient, library: Library, with_scripts: bool
) -> None:
    source = _source(library)
    page = page_of(client.get(f"/sources/{source}?column=open"))
    (form,) = page.xpath("//form[@id='open-column']")
    sent = {field.get("name"): field.get("value") or "" for field in form.xpath(".//input[@type='hidden']")}
    typed = {"chain": "re-amp box > combo > ribbon 30 mm"}
    if with_scripts:
        client.post(f"/drafts/{form.get('data-draft')}/save", data=typed | {"key": "0123456789abcdef"})
    else:
        client.post(form.get("action"), data=sent | typed | {"do": "save"})
    (logged,) = read_passes_of_source(library, source)
    assert [step.kind for step in logged.steps] == ["reamp_box", "amp", "microphone"]
