"""At the ledger gear is put in order and put right, and files fall on the column that they are of."""

import base64
from pathlib import Path

from already_logged import AMP, BOX, LoggedSession
from made_audio import Sounds
from person import at_the_desk, row_of, throw_away
from PIL import Image
from playwright.sync_api import Page, expect
from running_app import RunningApp
from watched_browser import Visit

DROP = """([selector, name, kind, bytes]) => {
  const taken = new DataTransfer();
  taken.items.add(new File([Uint8Array.from(atob(bytes), (each) => each.charCodeAt(0))], name, { type: kind }));
  const target = [...document.querySelectorAll(selector)].at(-1);
  for (const kind of ["dragover", "drop"]) {
    target.dispatchEvent(new DragEvent(kind, { dataTransfer: taken, bubbles: true, cancelable: true }));
  }
}"""


def drop(page: Page, selector: str, file: Path, kind: str) -> None:
    page.evaluate(DROP, [selector, file.name, kind, base64.b64encode(file.read_bytes()).decode()])


def test_gear_goes_by_keys_and_by_its_grip(visit: Visit, app: RunningApp, logged: LoggedSession) -> None:
    page = at_the_desk(visit, app, logged)
    first, second = page.locator("[data-gear]").nth(0), page.locator("[data-gear]").nth(1)
    expect(first).to_contain_text(BOX)
    expect(second).to_contain_text(AMP)
    page.get_by_label(f"Gain, {AMP}").focus()
    page.keyboard.press("Alt+ArrowUp")
    expect(page.locator("[data-gear]").nth(0)).to_contain_text(AMP)
    page.locator("[data-grip]").nth(0).drag_to(page.locator("[data-gear] th").filter(has_text=BOX))
    expect(page.locator("[data-gear]").nth(0)).to_contain_text(BOX)
    throw_away(page)


def test_a_control_is_put_right_in_the_control_column(
    visit: Visit, app: RunningApp, logged: LoggedSession
) -> None:
    page = at_the_desk(visit, app, logged)
    row_of(page, "Middle").hover()
    page.get_by_label(f"Put Middle of {AMP} right").click()
    name = page.locator(".is-correcting").get_by_label("Name")
    name.fill("Mids")
    page.get_by_role("button", name="Save the control").click()
    expect(page.get_by_label(f"Mids, {AMP}")).to_have_value("6.5")
    page.get_by_label(f"Put Mids of {AMP} right").click()
    page.locator(".is-correcting").get_by_label("Name").fill("Middle")
    page.get_by_role("button", name="Save the control").click()
    expect(page.get_by_label(f"Middle, {AMP}")).to_have_value("6.5")
    throw_away(page)


def test_a_name_that_cannot_be_is_refused_where_it_was_typed(
    visit: Visit, app: RunningApp, logged: LoggedSession
) -> None:
    page = at_the_desk(visit, app, logged, expected={422})
    page.get_by_label(f"Move, swap or remove {AMP}").click()
    name = page.locator("details.menu[open]").get_by_label("Name", exact=True)
    name.fill("long " * 100)
    page.get_by_role("button", name="Save the name").click()
    expect(page.locator("details.menu[open] [role=alert]")).to_contain_text("200 are the most")
    expect(name).to_have_value("long " * 100)
    throw_away(page)


def test_a_picture_dropped_on_the_open_column_is_its_photo(
    visit: Visit, app: RunningApp, logged: LoggedSession, tmp_path: Path
) -> None:
    picture = tmp_path / "panel.png"
    Image.new("RGB", (64, 48), "#446655").save(picture)
    page = at_the_desk(visit, app, logged)
    drop(page, "#ledger .open-cell", picture, "image/png")
    expect(page.locator(".open-cell.photos-cell img")).to_have_count(1)
    expect(page.locator("#draft-state")).to_have_text("The photo is added.")
    page.get_by_label("Title of pass").fill("with its picture")
    page.keyboard.press("Control+Enter")
    expect(page.locator("#open-column")).to_have_count(0)
    page.keyboard.press("n")
    expect(page.locator("td.photos-cell:not(.open-cell) img")).not_to_have_count(0)
    throw_away(page)


def test_a_sound_dropped_on_a_column_is_its_print_and_fills_its_cells(
    visit: Visit, app: RunningApp, logged: LoggedSession, sounds: Sounds
) -> None:
    page = visit(app)
    page.goto(logged.source)
    drop(page, "#ledger th[data-pass]", sounds.close, "audio/wav")
    expect(page.locator(".ledger-measures td .reading").filter(has_text="LUFS").last).to_be_visible()


def test_a_sound_dropped_beside_the_columns_asks_only_which_pass_it_is_of(
    visit: Visit, app: RunningApp, logged: LoggedSession, sounds: Sounds
) -> None:
    page = visit(app)
    page.goto(logged.source)
    drop(page, "#ledger th[data-pass]", sounds.close, "audio/wav")
    expect(page.locator("th [data-prints]").last).to_be_visible()
    drop(page, "h1", sounds.far, "audio/wav")
    asked = page.get_by_role("dialog")
    expect(asked).to_contain_text(f"Which pass is {sounds.far.name} of?")
    asked.get_by_role("button", name="Cancel").click()
    expect(asked).to_have_count(0)


def test_what_is_typed_while_the_server_is_away_is_kept_and_arrives(
    visit: Visit, app: RunningApp, logged: LoggedSession
) -> None:
    page = visit(app, expected={503})
    page.goto(logged.source)
    page.keyboard.press("n")
    expect(page.locator("#line")).to_be_focused()
    page.route("**/drafts/*/changes", lambda route: route.fulfill(status=503))
    bass = page.get_by_label(f"Bass, {AMP}")
    bass.fill("8.5")
    expect(page.get_by_text("1 jotting waits here")).to_be_visible()
    expect(bass).to_have_value("8.5")
    page.unroute("**/drafts/*/changes")
    expect(page.get_by_text("1 jotting waits here")).to_be_hidden()
    expect(page.locator("#cell-said")).to_contain_text("Bass: 8.5 · ")
    page.reload()
    expect(page.get_by_label(f"Bass, {AMP}")).to_have_value("8.5")
    throw_away(page)


def test_a_print_chosen_in_the_open_column_saves_its_pass_first(
    visit: Visit, app: RunningApp, logged: LoggedSession, sounds: Sounds
) -> None:
    page = at_the_desk(visit, app, logged)
    number = page.locator("#open-head .pass-number").inner_text()
    page.get_by_label(f"Prints of {number.lower()}, which is saved first").set_input_files(sounds.close)
    head = page.locator("#ledger th[data-pass]").last
    expect(head).to_contain_text(number)
    expect(head.locator("[data-prints]")).to_be_visible()
    expect(page.locator("[data-prints-of='open']")).to_have_count(0)
    expect(page.locator("#ledger .add-print").last.locator("input")).to_have_count(0)
