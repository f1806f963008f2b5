"""The desk: the next pass is a column of the ledger, jotted, saved and inked where it stands."""

import re
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from already_logged import AMP, LoggedSession
from made_audio import Sounds
from person import at_the_desk, row_of, throw_away
from playwright.sync_api import Locator, Page, expect
from running_app import RunningApp
from watched_browser import PHONE_PX, Visit, overflow_px

KEY_S = 0.15  # a quick person
AIMING_S = 0.8


def cell(page: Page, name: str, gear: str = AMP) -> Locator:
    """A field of the open column."""
    return page.get_by_label(f"{name}, {gear}", exact=True)


def inked(page: Page, name: str) -> Locator:
    """What the newest pass says of a control."""
    return row_of(page, name).get_by_role("gridcell").or_(row_of(page, name).get_by_role("cell")).last


def pass_count(page: Page) -> int:
    said = re.match(r"\d+", page.locator(".ledger-corner").inner_text())
    assert said is not None
    return int(said[0])


def save(page: Page) -> None:
    page.keyboard.press("Control+Enter")
    expect(page.locator("#open-column")).to_have_count(0)


def test_one_knob_is_a_line_and_a_key_chord(
    visit: Visit, app: RunningApp, logged: LoggedSession, record_property: Callable[[str, object], None]
) -> None:
    page = at_the_desk(visit, app, logged)
    before = pass_count(page)
    page.goto(logged.source)
    started = time.perf_counter()
    page.keyboard.press("n")
    expect(page.locator("#line")).to_be_focused()
    page.keyboard.type("treble 3.5", delay=1000 * KEY_S)
    save(page)
    seconds = time.perf_counter() - started
    record_property("seconds", round(seconds, 2))
    print(f"next pass with one knob: {seconds:.1f} s, 1 key, 10 characters, 1 key chord")
    assert seconds < 10
    assert page.url.endswith(logged.source.rsplit("/", 1)[1])
    assert pass_count(page) == before + 1
    page.get_by_role("link", name="All", exact=True).click()
    expect(inked(page, "Treble")).to_contain_text("3.5")


def test_a_cell_says_what_stood_there_and_can_be_put_back(
    visit: Visit, app: RunningApp, logged: LoggedSession
) -> None:
    page = at_the_desk(visit, app, logged)
    bass = cell(page, "Bass")
    stood = bass.input_value()
    bass.focus()
    page.keyboard.type("9")
    page.keyboard.press("Enter")
    expect(page.locator("#turned")).to_have_text("1 changed")
    here = page.locator("td", has=bass)
    expect(here).to_have_class(re.compile("is-changed"))
    expect(here).to_contain_text(f"was {stood}")
    here.get_by_role("button", name=f"Put Bass back to {stood}").click()
    expect(page.locator("#turned")).to_have_text("0 changed")
    expect(cell(page, "Bass")).to_have_value(stood)
    throw_away(page)


def test_a_reading_that_no_scale_knows_keeps_what_was_typed(
    visit: Visit, app: RunningApp, logged: LoggedSession
) -> None:
    page = at_the_desk(visit, app, logged, expected={422})
    middle = cell(page, "Middle")
    middle.focus()
    page.keyboard.type("sideways")
    page.keyboard.press("Tab")
    expect(middle).to_have_attribute("aria-invalid", "true")
    page.keyboard.press("Control+Enter")
    expect(page.locator("#draft-state")).to_contain_text("sideways")
    expect(cell(page, "Middle")).to_have_value("sideways")
    expect(cell(page, "Middle")).to_be_focused()
    throw_away(page)


def test_one_moves_as_in_a_sheet(visit: Visit, app: RunningApp, logged: LoggedSession) -> None:
    page = at_the_desk(visit, app, logged)
    gain, bass = cell(page, "Gain"), cell(page, "Bass")
    gain.focus()
    page.keyboard.press("ArrowDown")
    expect(bass).to_be_focused()
    page.keyboard.press("ArrowUp")
    expect(gain).to_be_focused()
    stood = gain.input_value()
    page.keyboard.type("8")
    page.keyboard.press("Escape")
    expect(gain).to_have_value(stood)
    page.keyboard.press("Enter")
    expect(bass).to_be_focused()
    page.keyboard.press("ArrowLeft")
    assert page.evaluate("document.activeElement.localName") == "td"
    page.keyboard.press("ArrowRight")
    expect(bass).to_be_focused()
    assert page.locator(".is-desk [tabindex='0']").count() == 1, "one cell is in the tab order"
    throw_away(page)


def test_a_dial_is_stepped_by_keys_and_by_buttons(
    visit: Visit, app: RunningApp, logged: LoggedSession
) -> None:
    page = at_the_desk(visit, app, logged)
    gain = cell(page, "Gain")
    gain.focus()
    stood = gain.input_value()
    page.keyboard.press("Shift+ArrowUp")
    expect(gain).not_to_have_value(stood)
    stepped = gain.input_value()
    page.get_by_role("button", name="Gain a step up").click()
    expect(gain).not_to_have_value(stepped)
    throw_away(page)


def test_a_column_of_a_spreadsheet_fills_the_cells_down(
    visit: Visit, app: RunningApp, logged: LoggedSession
) -> None:
    page = at_the_desk(visit, app, logged)
    gain = cell(page, "Gain")
    gain.focus()
    gain.evaluate(
        """field => {
          const data = new DataTransfer();
          data.setData("text/plain", "7\\n6\\nfar out\\n");
          field.dispatchEvent(new ClipboardEvent("paste", {clipboardData: data, bubbles: true, cancelable: true}));
        }"""
    )
    expect(cell(page, "Gain")).to_have_value("7")
    expect(cell(page, "Bass")).to_have_value("6")
    expect(cell(page, "Middle")).to_have_value("far out")
    expect(cell(page, "Middle")).to_have_attribute("aria-invalid", "true")
    throw_away(page)


def test_what_is_jotted_stands_in_the_cells_and_can_be_undone(
    visit: Visit, app: RunningApp, logged: LoggedSession
) -> None:
    page = at_the_desk(visit, app, logged)
    stood = cell(page, "Bass").input_value()
    page.keyboard.type("bass 1.5")
    expect(page.locator("#jot-said")).to_contain_text("Bass 1.5")
    page.keyboard.press("Enter")
    expect(cell(page, "Bass")).to_have_value("1.5")
    expect(page.locator("#line")).to_have_value("")
    page.get_by_role("button", name="Undo", exact=True).click()
    expect(cell(page, "Bass")).to_have_value(stood)
    throw_away(page)


def test_a_line_that_is_saved_without_a_chain_is_said_to_be_kept_as_words(
    visit: Visit, app: RunningApp, logged: LoggedSession
) -> None:
    page = at_the_desk(visit, app, logged)
    draft = page.locator("#open-column").get_attribute("data-draft")
    assert page.request.post(f"{app.address}/drafts/{draft}/changes", form={"do": "empty"}).ok
    page.reload()
    page.locator("#line").fill("treble 6, door open")
    page.locator("#line").press("Control+Enter")
    expect(page.locator("#open-column")).to_have_count(0)
    expect(page.locator("#desk-state")).to_have_text(
        "Kept as words in the notes: no gear stands in the chain."
    )
    saved = page.locator("#ledger th[data-pass]").last.get_attribute("data-pass")
    assert page.request.post(f"{app.address}/passes/{saved}/delete").ok, (
        "the next pass goes on from one with a chain"
    )


def test_what_a_jotted_word_could_mean_is_still_offered_once_the_rest_is_taken(
    visit: Visit, app: RunningApp, logged: LoggedSession
) -> None:
    page = at_the_desk(visit, app, logged)
    page.keyboard.type("bass 1.5, bright sideways")
    page.keyboard.press("Enter")
    expect(cell(page, "Bass")).to_have_value("1.5")
    expect(page.locator("#line")).to_have_value("bright sideways")
    page.locator("[data-meant]").filter(has_text="Bright on").click()
    page.keyboard.press("Enter")
    expect(page.locator("#line")).to_have_value("")
    expect(cell(page, "Bright")).to_have_value("on")
    throw_away(page)


def test_what_was_typed_into_a_cell_is_undone_where_it_stands(
    visit: Visit, app: RunningApp, logged: LoggedSession
) -> None:
    page = at_the_desk(visit, app, logged)
    before = cell(page, "Bass").input_value()
    cell(page, "Bass").fill("9.9")
    page.keyboard.press("Tab")
    expect(page.locator("#turned")).to_have_text("1 changed")
    page.get_by_role("button", name="Undo", exact=True).click()
    expect(cell(page, "Bass")).to_have_value(before)
    page.wait_for_timeout(600)  # longer than what is typed waits before it is sent
    expect(cell(page, "Bass")).to_have_value(before)
    throw_away(page)


def test_gear_leaves_and_joins_in_place(visit: Visit, app: RunningApp, logged: LoggedSession) -> None:
    page = at_the_desk(visit, app, logged)
    page.get_by_label(f"Move, swap or remove {AMP}").click()
    page.get_by_role("button", name="Remove", exact=True).and_(page.locator("[open] button")).click()
    expect(page.get_by_text("left the chain")).to_be_visible()
    page.get_by_label("Add gear to the chain").select_option(label=f"{AMP} (amp)")
    page.get_by_role("button", name="Add", exact=True).click()
    expect(cell(page, "Gain")).to_be_visible()
    throw_away(page)


def test_two_ticked_passes_are_told_apart_below(visit: Visit, app: RunningApp, logged: LoggedSession) -> None:
    page = at_the_desk(visit, app, logged)
    page.keyboard.type("bass 2")
    save(page)
    for box in page.get_by_role("checkbox", name=re.compile("Compare pass")).all()[-2:]:
        box.check()
    expect(page.locator("#pair")).to_contain_text("Bass")
    expect(page.get_by_role("button", name="Compare 2")).to_be_visible()


def test_a_pass_is_judged_where_it_stands(visit: Visit, app: RunningApp, logged: LoggedSession) -> None:
    page = at_the_desk(visit, app, logged)
    save(page)
    page.get_by_label(re.compile(r"Pass \d+: keep, rate, go on")).last.click()
    page.get_by_label("Keep it, because").fill("It sits.")
    page.get_by_role("button", name="Mark as keeper").click()
    expect(page.get_by_role("columnheader").last).to_contain_text("keeper")


def test_a_first_session_begins_with_a_track_and_a_line(
    visit: Visit, empty_app: RunningApp, sounds: Sounds, record_property: Callable[[str, object], None]
) -> None:
    page = visit(empty_app)
    page.goto("/")
    started = time.perf_counter()
    page.get_by_label("Begin with a source track").set_input_files(sounds.source)
    chain = page.get_by_label("The chain, in the order the signal goes")
    chain.click()
    page.keyboard.type("interface > re-amp box > overdrive > combo > ribbon 30 mm > preamp", delay=20)
    expect(page.locator("#chain-said li")).to_have_count(6)
    page.keyboard.press("Enter")
    expect(page.locator(".ledger-gear")).to_have_count(6)
    expect(page.locator("#line")).to_be_focused()
    page.keyboard.type(
        "output level -6 dB, box level 5, drive noon, tone 2:00, overdrive level 10:30, combo gain 4, bass 5, "
        "middle 6, treble 6.5, ribbon 40 mm off centre, preamp gain 40 dB",
        delay=20,
    )
    save(page)
    seconds = time.perf_counter() - started
    record_property("seconds", round(seconds, 1))
    print(
        f"first pass with six pieces of gear and eleven settings: {seconds:.0f} s beside typing at 20 ms a key"
    )
    assert seconds < 180
    expect(page.get_by_role("heading", level=1)).to_have_text(Path(sounds.source).stem)
    expect(row_of(page, "Treble")).to_contain_text("6.5")
    expect(row_of(page, "placement")).to_contain_text("30 mm from the grille")


def test_the_column_works_without_script(visit: Visit, app: RunningApp, logged: LoggedSession) -> None:
    page = visit(app, javascript=False)
    page.goto(f"{logged.source}?column=open")
    cell(page, "Bass").fill("4.4")
    page.get_by_role("button", name="Save", exact=True).last.click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Pass ")
    expect(page.locator(".reading", has_text="4.4")).to_be_visible()


@pytest.mark.parametrize("query", ["", "?column=open", "?rows=prints"])
def test_on_a_phone_the_ledger_is_cards(
    visit: Visit, app: RunningApp, logged: LoggedSession, query: str
) -> None:
    page = visit(app, width=PHONE_PX, touch=True)
    page.goto(logged.source + query)
    expect(page.locator(".pass-card").first).to_be_visible()
    expect(page.locator("table.is-desk")).to_be_hidden()
    assert overflow_px(page) <= 0
    page.get_by_text("All settings").first.click()
    expect(page.locator(".card-settings").first).to_be_visible()
