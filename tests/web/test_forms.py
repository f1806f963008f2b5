"""Forms: what was typed is kept, what is wrong is said at its field, and the chain's buttons work without script."""

from dataclasses import replace
from typing import Any

import pytest
from page_reader import field, filled_in, form_of, page_of, sentence_at, text_of, texts, words
from small_session import SmallSession, tone
from starlette.testclient import TestClient

from app.desk.passes.pass_sheets import read_pass, read_passes_of_source
from app.desk.projects.projects import list_projects, read_project
from app.desk.shelf import gear
from app.desk.shelf.control_entries import ControlEntry
from app.library import Library

LONG = "x" * 10_000
TRICKY = "“O'Brien” <b>&amp; ../../etc/passwd 👩‍🎤 \\ % ‮"
KEPT = "“O'Brien” <b>&amp; ../../etc/passwd 👩‍🎤 \\ %"


def sent(client: TestClient, action: str, fields: dict[str, Any], **more: Any) -> Any:
    """The page that answers a form."""
    return page_of(client.post(action, data=fields, **more))


def assert_summary_leads_to_the_fields(page: Any) -> None:
    links = page.xpath("//*[@class='error-summary']//a/@href")
    assert links
    for target in links:
        page.get_element_by_id(target.removeprefix("#"))


def test_a_project_is_begun_and_shown_with_its_words_as_typed(client: TestClient, library: Library) -> None:
    answer = client.post(
        "/projects", data={"title": TRICKY, "artist": "nobody", "sample_rate": "96000", "notes": "one\r\ntwo"}
    )
    assert answer.status_code == 303
    page = page_of(client.get(answer.headers["location"]))
    assert words(page, "//h1") == KEPT
    assert "96 kHz" in page.text_content()
    (line,) = list_projects(library)
    assert read_project(library, line.project_id).notes == "one\ntwo"


def test_a_refused_project_keeps_what_was_typed(client: TestClient, library: Library) -> None:
    answer = client.post(
        "/projects", data={"title": LONG, "artist": TRICKY, "sample_rate": "12", "notes": "  kept\n"}
    )
    assert answer.status_code == 422
    page = page_of(answer)
    assert "10,000 characters" in sentence_at(page, "Title")
    assert "Choose" in sentence_at(page, "Sample rate of the DAW project")
    assert field(page, "Title").get("value") == LONG
    assert field(page, "Artist").get("value") == TRICKY
    assert "kept" in field(page, "Notes").text
    assert_summary_leads_to_the_fields(page)
    assert list_projects(library) == []


@pytest.mark.parametrize("title", ["", "   ", "\x00\x07", "\u202e"])
def test_a_title_without_a_letter_is_no_title(client: TestClient, title: str) -> None:
    answer = client.post("/projects", data={"title": title, "sample_rate": "48000"})
    assert answer.status_code == 422
    assert "empty" in sentence_at(page_of(answer), "Title")


def test_editing_a_project_changes_it(filled_client: TestClient, session: SmallSession) -> None:
    here = f"/projects/{session.project}/edit"
    fields = filled_in(form_of(page_of(filled_client.get(here)), here))
    assert fields["title"] == "Boathouse"
    answer = filled_client.post(here, data=fields | {"title": "Boathouse, take two"})
    assert answer.status_code == 303
    assert words(page_of(filled_client.get(answer.headers["location"])), "//h1") == "Boathouse, take two"


def test_a_refused_source_keeps_what_was_typed(filled_client: TestClient, session: SmallSession) -> None:
    answer = filled_client.post(
        f"/projects/{session.project}/sources",
        data={"name": "voice", "instrument": LONG, "tuning": TRICKY},
        files={"file": ("voice.wav", b"this is a letter, not a sound")},
    )
    assert answer.status_code == 422
    page = page_of(answer)
    assert "10,000 characters" in sentence_at(page, "Instrument")
    assert field(page, "Name").get("value") == "voice"
    assert field(page, "Tuning").get("value") == TRICKY
    assert_summary_leads_to_the_fields(page)

    again = filled_client.post(
        f"/projects/{session.project}/sources",
        data={"name": "voice", "tuning": TRICKY},
        files={"file": ("voice.wav", b"this is a letter, not a sound")},
    )
    assert "“voice.wav” is not a WAV, AIFF or FLAC file" in sentence_at(page_of(again), "Audio file")
    assert field(page_of(again), "Tuning").get("value") == TRICKY


def test_a_source_without_a_name_takes_that_of_its_file(
    filled_client: TestClient, session: SmallSession
) -> None:
    answer = filled_client.post(
        f"/projects/{session.project}/sources",
        data={"name": ""},
        files={"file": (r"C:\takes\spoken verse.wav", tone(0.1))},
    )
    assert answer.status_code == 303
    page = page_of(filled_client.get(answer.headers["location"]))
    assert words(page, "//h1") == "spoken verse"


def test_the_gear_form_keeps_everything_while_rows_are_added_moved_and_removed(client: TestClient) -> None:
    page = page_of(client.get("/gear/new?start=single_channel_amp"))
    fields = filled_in(form_of(page, "/gear")) | {"name": TRICKY, "controls-1-marks": "half typed"}
    first, second = fields["controls-0-name"], fields["controls-1-name"]

    def rows(page: Any) -> list[str]:
        return [row.get("value") for row in page.xpath("//fieldset//input[contains(@name, '-name')]")]

    before = rows(page)
    added = sent(client, "/gear", fields | {"do": "add"})
    assert rows(added) == [*before, ""]
    assert field(added, "Name").get("value") == TRICKY
    moved = sent(client, "/gear", fields | {"do": "down-0"})
    assert rows(moved)[:2] == [second, first]
    assert moved.xpath("//input[@name='controls-0-marks']/@value") == ["half typed"]
    removed = sent(client, "/gear", fields | {"do": "remove-1"})
    assert rows(removed) == [first, *before[2:]]
    assert rows(sent(client, "/gear", fields | {"do": "up-0"})) == before
    dragged = sent(client, "/gear", fields | {"do": "at-0-2"})
    assert rows(dragged) == [*before[1:3], first, *before[3:]]
    assert dragged.xpath("//input[@name='controls-0-marks']/@value") == ["half typed"]
    assert rows(sent(client, "/gear", fields | {"do": "at-2-0"})) == [before[2], *before[:2], *before[3:]]


def test_the_gear_form_draws_the_controls_as_far_as_they_are_typed(client: TestClient) -> None:
    page = page_of(client.get("/gear/new?start=fuzz"))
    fields = filled_in(form_of(page, "/gear"))

    def drawn(page: Any) -> list[str]:
        return [name.text_content() for name in page.xpath("//*[@class='row-of-controls']//*[@class='name']")]

    before = drawn(page)
    assert before[0] == fields["controls-0-name"]
    renamed = sent(client, "/gear", fields | {"controls-0-name": "Grit", "do": "add"})
    assert drawn(renamed) == ["Grit", *before[1:]]


@pytest.mark.parametrize(
    "do",
    ["remove-", "remove-99", "up-x", "down--1", f"remove-{'9' * 6000}", "at-0-", "at-0-x", "at-9-0", "dance"],
)
def test_a_button_of_the_gear_form_that_is_not_there_loses_no_row(client: TestClient, do: str) -> None:
    fields = filled_in(form_of(page_of(client.get("/gear/new?start=fuzz")), "/gear"))
    answer = client.post("/gear", data=fields | {"do": do, "name": ""})
    assert answer.status_code == 422
    assert "empty" in sentence_at(page_of(answer), "Name")


def test_what_is_wrong_with_a_control_is_said_at_its_row(client: TestClient, library: Library) -> None:
    row = {"controls-0-name": "Drive", "controls-0-form": "knob", "controls-0-scale": "range"}
    other = {"controls-7-name": "drive", "controls-7-form": "switch", "controls-7-positions": "off, on"}
    answer = client.post(
        "/gear",
        data={
            "name": "silicon fuzz",
            "kind": "pedal",
            **row,
            "controls-0-low": "loud",
            "controls-0-high": "10",
            **other,
        },
    )
    assert answer.status_code == 422
    page = page_of(answer)
    assert "number printed" in sentence_at(page, "From")
    assert_summary_leads_to_the_fields(page)
    assert gear.list_gear(library) == []
    answer = client.post(
        "/gear",
        data={
            "name": "silicon fuzz",
            "kind": "pedal",
            **row,
            "controls-0-low": "0",
            "controls-0-high": "10",
            **other,
        },
    )
    assert answer.status_code == 422
    assert "Two controls are called drive" in page_of(answer).text_content()


def test_an_unknown_reading_is_said_at_its_knob_and_the_rest_is_kept(
    filled_client: TestClient, filled: Library, session: SmallSession
) -> None:
    action = f"/sources/{session.bass}/passes"
    page = page_of(filled_client.get(f"{action}/new"))
    drive, tone_knob = field(page, "Drive").get("name"), field(page, "Tone").get("name")
    fields = filled_in(form_of(page, action)) | {drive: "eleventy", tone_knob: "3:00", "title": TRICKY}
    answer = filled_client.post(action, data=fields)
    assert answer.status_code == 422
    again = page_of(answer)
    assert "“eleventy” is not a reading of this knob" in sentence_at(again, "Drive")
    assert field(again, "Drive").get("value") == "eleventy"
    assert filled_in(form_of(again, action)) | {"seen": "0"} == fields
    assert_summary_leads_to_the_fields(again)
    assert len(read_passes_of_source(filled, session.bass)) == 3


@pytest.mark.parametrize("typed", ["half past 2", "6.5", "noon", "max", "just past 2", "40 %"])
def test_any_way_of_reading_a_knob_is_taken(
    filled_client: TestClient, filled: Library, session: SmallSession, typed: str
) -> None:
    action = f"/sources/{session.bass}/passes"
    page = page_of(filled_client.get(f"{action}/new"))
    fields = filled_in(form_of(page, action)) | {field(page, "Drive").get("name"): typed}
    answer = filled_client.post(action, data=fields)
    assert answer.status_code == 303
    saved = read_pass(filled, int(answer.headers["location"].split("/")[-1]))
    drive = next(line for step in saved.steps for line in step.settings if line.name == "Drive")
    assert drive.reading == typed
    assert drive.position is not None


def test_the_next_pass_needs_one_knob_and_one_button(
    filled_client: TestClient, filled: Library, session: SmallSession
) -> None:
    page = page_of(filled_client.get(f"/sources/{session.bass}"))
    (link,) = [link for link in page.iter("a") if text_of(link) == "Next pass"]
    page = page_of(filled_client.get(link.get("href")))
    action = f"/sources/{session.bass}/passes"
    fields = filled_in(form_of(page, action)) | {field(page, "Drive").get("name"): "8"}
    saved = filled_client.post(action, data=fields)
    before, after = (
        read_pass(filled, session.passes[2]),
        read_pass(filled, int(saved.headers["location"].split("/")[-1])),
    )
    changed = [
        (new.name, new.reading)
        for old_step, new_step in zip(before.steps, after.steps, strict=True)
        for old, new in zip(old_step.settings, new_step.settings, strict=True)
        if old.reading != new.reading
    ]
    assert changed == [("Drive", "8")]
    assert after.number == 4
    assert [step.placement for step in after.steps] == [step.placement for step in before.steps]


def test_the_chains_buttons_keep_everything_that_was_typed(
    filled_client: TestClient, session: SmallSession
) -> None:
    action = f"/sources/{session.bass}/passes"
    page = page_of(filled_client.get(f"{action}/new"))
    fields = filled_in(form_of(page, action)) | {
        field(page, "Drive").get("name"): "eleventy",
        "notes": TRICKY,
    }

    def chain(page: Any) -> list[str]:
        return list(page.xpath("//section[contains(@class, 'gear-step')]//h2/text()"))

    names = [name.strip() for name in chain(page)]
    moved = sent(filled_client, action, fields | {"do": f"down-{session.box}"})
    assert [name.strip() for name in chain(moved)] == [names[1], names[0], *names[2:]]
    assert field(moved, "Drive").get("value") == "eleventy"
    assert field(moved, "Notes").text.strip() == TRICKY
    taken_out = sent(filled_client, action, fields | {"do": f"remove-{session.box}"})
    assert [name.strip() for name in chain(taken_out)] == names[1:]
    assert field(taken_out, "Drive").get("value") == "eleventy"
    added = sent(filled_client, action, fields | {"do": "add", "add_gear": str(session.fuzz)})
    assert len(chain(added)) == len(names), "one was taken out, one added"
    assert field(added, "Fuzz").get("value") == ""
    assert field(added, "Drive").get("value") == "eleventy"


def test_nothing_chosen_to_add_is_said_at_the_list(filled_client: TestClient, session: SmallSession) -> None:
    action = f"/sources/{session.bass}/passes"
    fields = filled_in(form_of(page_of(filled_client.get(f"{action}/new")), action))
    answer = filled_client.post(action, data=fields | {"do": "add", "add_gear": ""})
    assert answer.status_code == 422
    assert_summary_leads_to_the_fields(page_of(answer))
    assert "Choose a piece of gear" in page_of(answer).text_content()


@pytest.mark.parametrize(
    "do", ["remove-", "remove-99", "remove--1", "up-99", "undo", "swap-99", f"down-{'9' * 6000}"]
)
def test_a_button_that_is_not_there_changes_no_chain(
    filled_client: TestClient, filled: Library, session: SmallSession, do: str
) -> None:
    action = f"/sources/{session.bass}/passes"
    fields = filled_in(form_of(page_of(filled_client.get(f"{action}/new")), action))
    answer = filled_client.post(action, data=fields | {"do": do})
    assert answer.status_code in (200, 303)
    if answer.status_code == 200:
        assert filled_in(form_of(page_of(answer), action)) == fields
    assert len(read_pass(filled, session.passes[2]).steps) == 4


def test_fields_of_no_meaning_are_left_aside(filled_client: TestClient, session: SmallSession) -> None:
    action = f"/sources/{session.bass}/passes"
    fields = filled_in(form_of(page_of(filled_client.get(f"{action}/new")), action))
    nonsense = {
        f"control-1-{'9' * 5000}": "1",
        "control-1-²": "1",
        "control-1-99999": "1",
        "steps-x-gear": "1",
        "revision": "9" * 5000,
    }
    assert filled_client.post(action, data=fields | nonsense).status_code == 303


def test_the_second_of_two_tabs_is_told_and_shown_both_versions(
    filled_client: TestClient, filled: Library, session: SmallSession
) -> None:
    here = f"/passes/{session.passes[1]}/edit"
    one = filled_in(form_of(page_of(filled_client.get(here)), here))
    other_page = page_of(filled_client.get(here))
    other = filled_in(form_of(other_page, here))
    drive = field(other_page, "Drive").get("name")
    assert filled_client.post(here, data=one | {drive: "3", "notes": "from the laptop"}).status_code == 303

    answer = filled_client.post(here, data=other | {drive: "9", "notes": "from the phone"})
    assert answer.status_code == 409
    page = page_of(answer)
    assert field(page, "Drive").get("value") == "9"
    assert field(page, "Notes").text.strip() == "from the phone"
    saved = text_of(page.xpath("//section[contains(., 'Saved meanwhile')]")[0])
    assert "Drive 3" in saved
    assert "from the laptop" in saved
    assert "another tab" in text_of(page.xpath("//*[@role='alert']")[0])
    assert read_pass(filled, session.passes[1]).notes == "from the laptop"

    mine = filled_in(form_of(page, here))
    assert filled_client.post(here, data=mine).status_code == 303
    assert read_pass(filled, session.passes[1]).notes == "from the phone"


def test_gear_deleted_in_another_tab_is_shown_as_gone_and_takes_no_step_with_it(
    filled_client: TestClient, filled: Library, session: SmallSession
) -> None:
    action = f"/sources/{session.bass}/passes"
    start = page_of(filled_client.get(f"{action}/new"))
    fields = filled_in(form_of(start, action)) | {field(start, "Drive").get("name"): "2"}
    page = sent(filled_client, action, fields | {"do": "add", "add_gear": str(session.unused)})
    fields = filled_in(form_of(page, action))
    gear.delete_gear(filled, session.unused)
    answer = filled_client.post(action, data=fields)
    assert answer.status_code == 422
    again = page_of(answer)
    assert "no longer on the shelf" in again.text_content()
    assert field(again, "Drive").get("value") == "2"
    page = sent(filled_client, action, filled_in(form_of(again, action)) | {"do": f"remove-{session.unused}"})
    saved = filled_client.post(action, data=filled_in(form_of(page, action)))
    assert saved.status_code == 303
    assert len(read_pass(filled, int(saved.headers["location"].split("/")[-1])).steps) == 4


def test_a_refused_keeper_keeps_its_reason(filled_client: TestClient, session: SmallSession) -> None:
    here = f"/passes/{session.passes[1]}"
    answer = filled_client.post(f"{here}/keeper", data={"part": LONG, "reason": TRICKY})
    assert answer.status_code == 422
    page = page_of(answer)
    assert "10,000 characters" in sentence_at(page, "Part")
    assert field(page, "Part").get("value") == LONG
    assert field(page, "Why this one stays").get("value") == TRICKY


def test_of_several_prints_the_good_are_kept_and_the_bad_are_named(
    filled_client: TestClient, filled: Library, session: SmallSession
) -> None:
    here = f"/passes/{session.passes[1]}"
    answer = filled_client.post(
        f"{here}/prints",
        data={"label": "room"},
        files=[
            ("file", ("good.wav", tone(0.1, hz=500))),
            ("file", ("letter.wav", b"Dear diary, this is no sound.")),
            ("file", ("nothing.wav", b"")),
        ],
    )
    assert answer.status_code == 422
    page = page_of(answer)
    sentence = sentence_at(page, "Audio files")
    assert "“letter.wav” is not" in sentence
    assert "“nothing.wav” is empty" in sentence
    assert field(page, "Label").get("value") == "room"
    assert [item.file_name for item in read_pass(filled, session.passes[1]).prints] == ["far.wav", "good.wav"]


def test_a_print_form_without_a_file_says_so(filled_client: TestClient, session: SmallSession) -> None:
    answer = filled_client.post(f"/passes/{session.passes[1]}/prints", data={"label": "room"})
    assert answer.status_code == 422
    assert "Choose the audio file" in sentence_at(page_of(answer), "Audio files")


def test_a_label_that_is_too_long_is_said_at_the_label(
    filled_client: TestClient, session: SmallSession
) -> None:
    answer = filled_client.post(
        f"/passes/{session.passes[1]}/prints",
        data={"label": LONG},
        files=[("file", ("a.wav", tone(0.1))), ("file", ("b.wav", tone(0.1)))],
    )
    assert sentence_at(page_of(answer), "Label").count("10,000 characters") == 1


def test_deleting_asks_first_and_then_does_it(filled_client: TestClient, session: SmallSession) -> None:
    for path in (
        f"/photos/{session.photos[0]}",
        f"/prints/{session.prints[0]}",
        f"/passes/{session.passes[0]}",
        f"/sources/{session.organ}",
        f"/gear/{session.unused}",
        f"/projects/{session.project}",
    ):
        asked = page_of(filled_client.get(f"{path}/delete"))
        form_of(asked, f"{path}/delete")
        done = filled_client.post(f"{path}/delete")
        assert done.status_code == 303, path
        assert filled_client.get(done.headers["location"].split("#")[0]).status_code == 200
        assert filled_client.post(f"{path}/delete").status_code == 404


def test_gear_in_the_log_is_not_deleted(filled_client: TestClient, session: SmallSession) -> None:
    answer = filled_client.post(f"/gear/{session.amp}/delete")
    assert answer.status_code == 422
    assert "stands in 3 logged passes" in page_of(answer).text_content()


def test_distances_are_read_and_shown_in_the_unit_one_likes(
    filled_client: TestClient, filled: Library, session: SmallSession
) -> None:
    here = f"/passes/{session.passes[0]}/edit"
    filled_client.post("/preferences", data={"unit": "in", "back": "/"})
    page = page_of(filled_client.get(here))
    fields = filled_in(form_of(page, here))
    distance = next(name for name in fields if name.endswith("-distance"))
    assert filled_client.post(here, data=fields | {distance: "1.5"}).status_code == 303
    placed = [step.placement for step in read_pass(filled, session.passes[0]).steps if step.placement]
    assert placed[0].distance_mm == pytest.approx(38.1)
    assert (
        "1.5 in from the grille" in page_of(filled_client.get(f"/passes/{session.passes[0]}")).text_content()
    )


def test_a_layout_read_by_the_dials_is_never_stale(
    filled_client: TestClient, filled: Library, session: SmallSession
) -> None:
    layout = gear.read_gear(filled, session.unused).newest.layout_id
    answer = filled_client.get(f"/layouts/{layout}/detents")
    assert answer.json() == {}
    entry = gear.gear_entry(filled, session.unused)
    gear.edit_gear(
        filled, session.unused, gear.GearEntry(entry.name, entry.kind, "", (ControlEntry(name="Pad"),))
    )
    assert len(filled_client.get(f"/layouts/{layout}/detents").json()) == 1
    assert answer.headers["cache-control"] == "no-store"


def test_a_typed_reading_is_explained_while_it_is_typed(
    filled_client: TestClient, filled: Library, session: SmallSession
) -> None:
    controls = {c.spec.name: c.control_id for c in gear.read_gear(filled, session.amp).newest.controls}
    known = filled_client.get(f"/controls/{controls['Drive']}/read", params={"text": "half past 2"})
    assert known.json()["reading"] == "7.5"
    unknown = filled_client.get(f"/controls/{controls['Drive']}/read", params={"text": "soft"})
    assert unknown.status_code == 200
    assert "not a reading" in unknown.json()["sentence"]
    assert texts(page_of(filled_client.get(f"/gear/{session.amp}")), "//tbody//th")[0] == "Drive"


def test_gear_saved_from_another_tab_meanwhile_is_shown_beside_what_was_typed(
    filled_client: TestClient, filled: Library, session: SmallSession
) -> None:
    form = page_of(filled_client.get(f"/gear/{session.fuzz}/edit"))
    (seen,) = form.xpath("//input[@name='seen']/@value")
    gear.edit_gear(
        filled, session.fuzz, replace(gear.gear_entry(filled, session.fuzz), notes="fresh battery")
    )
    typed = {"name": "my fuzz", "kind": "pedal", "notes": "", "seen": seen, "do": "save"}
    answer = filled_client.post(f"/gear/{session.fuzz}/edit", data=typed)
    assert answer.status_code == 409
    page = page_of(answer)
    assert page.xpath("//input[@name='name']/@value") == ["my fuzz"]
    assert "fresh battery" in words(page, "//section[@class='notice']")


@pytest.mark.parametrize("time", ["nan", "inf", "-1", "soon"])
def test_a_part_that_is_no_time_is_not_a_page(filled_client: TestClient, time: str) -> None:
    answer = filled_client.get(f"/compare/gains?pass=1&pass=2&from_s={time}&to_s=2")
    assert answer.status_code == 404


def test_the_address_of_a_refused_form_opened_anew_is_the_page_that_it_stands_on(
    filled_client: TestClient, session: SmallSession
) -> None:
    here = f"/passes/{session.passes[0]}"
    assert filled_client.post(f"{here}/rating", data={"rating": "9"}).status_code == 422
    answer = filled_client.get(f"{here}/rating")
    assert (answer.status_code, answer.headers["location"]) == (303, here)
    for path in (f"/gear/{session.fuzz}/retire", "/sources/1/passes", "/projects/1/folders"):
        assert filled_client.get(filled_client.get(path).headers["location"]).status_code == 200
