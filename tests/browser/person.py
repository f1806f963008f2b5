"""What a person does at the pages, by the words and roles that are on them."""

from pathlib import Path

from already_logged import LoggedSession
from playwright.sync_api import FloatRect, Locator, Page, expect
from running_app import RunningApp
from watched_browser import Visit


def at_the_desk(
    visit: Visit, app: RunningApp, logged: LoggedSession, expected: set[int | str] | None = None
) -> Page:
    """The source's page with the next pass open, as the last one."""
    page = visit(app, expected=expected)
    page.goto(logged.source)
    page.keyboard.press("n")
    expect(page.locator("#line")).to_be_focused()
    return page


def throw_away(page: Page) -> None:
    """What a test leaves unsaved would stand in the next one's column."""
    page.get_by_label("More for this pass").click()
    page.get_by_role("button", name="Throw it away").click()
    expect(page.locator("#open-column")).to_have_count(0)


def begin_project(page: Page, title: str, artist: str = "") -> None:
    page.goto("/projects/new")
    page.get_by_label("Title").fill(title)
    page.get_by_label("Artist").fill(artist)
    press(page, "Save")
    expect(page.get_by_role("heading", level=1)).to_have_text(title)


def bring_in_source(page: Page, file: Path, name: str) -> None:
    """From the project's page."""
    page.get_by_role("link", name="Bring in a source track").click()
    page.get_by_label("Audio file").set_input_files(file)
    page.get_by_label("Name", exact=True).fill(name)
    page.get_by_label("Instrument").fill("invented four-string bass")
    press(page, "Save")
    expect(page.get_by_role("heading", level=1)).to_have_text(name)


def put_on_shelf(page: Page, layout: str, name: str) -> None:
    """A piece of gear with the controls of a layout to start from, unchanged."""
    page.goto("/gear")
    page.get_by_role("link", name="New gear").click()
    page.get_by_role("link", name=layout, exact=True).click()
    page.get_by_label("Name", exact=True).first.fill(name)
    press(page, "Save")
    expect(page.get_by_role("heading", level=1)).to_have_text(name)


def add_to_chain(page: Page, gear: str, kind: str) -> None:
    page.get_by_label("From the shelf").select_option(label=f"{gear} ({kind})")
    press(page, "Add to the chain")
    expect(gear_in_chain(page, gear)).to_be_visible()


def gear_in_chain(page: Page, gear: str) -> Locator:
    """The part of the pass form that holds one piece of gear; on a phone it is unfolded first."""
    part = page.get_by_role("region", name=gear)
    folded = part.locator(".gear-fold:not([open]) > summary")
    if folded.count():
        folded.click()
    return part


def control(page: Page, gear: str, name: str) -> Locator:
    return gear_in_chain(page, gear).get_by_label(name)


def mark_of(field: Locator) -> Locator:
    """The dial beside a control's field."""
    return field.locator("xpath=..").locator(".control-mark")


def readings_of(field: Locator) -> Locator:
    """The line under a control's field that gives its position on every scale."""
    return field.locator("xpath=..").locator(".control-readings")


def row_of(page: Page, name: str) -> Locator:
    """The rows of a ledger that are headed by this name."""
    return page.get_by_role("row").filter(has=page.get_by_role("rowheader", name=name, exact=True))


def attach_prints(page: Page, *files: Path, label: str = "") -> None:
    """From the pass's page."""
    unfold(page, "Attach a print")
    page.get_by_label("Audio files").set_input_files(list(files))
    if label:
        page.get_by_label("Label").fill(label)
    press(page, "Attach")


def prints_of(page: Page) -> Locator:
    """What can be heard on the page of a pass, and said of each file."""
    return page.locator("details.print")


def print_row(page: Page, file_name: str) -> Locator:
    """What the table of prints says of the print of this file."""
    shown = prints_of(page).filter(has_text=file_name)
    expect(shown).to_have_count(1)
    at = shown.locator("[id^=print-]").first.get_attribute("id")
    return page.locator(".prints tbody").filter(has=page.locator(f"a[href='#{at}']"))


def unfold(page: Page, words: str) -> None:
    """Open the part of a page that these words stand over, where it is closed."""
    fold = page.locator("details:not([open]) > summary").filter(has_text=words)
    if fold.count():
        fold.first.click()


def press(page: Page, words: str) -> None:
    """Press the button that a person sees under these words; the forms' hidden first button is none."""
    page.get_by_role("main").get_by_role("button", name=words, exact=True).click()


def begin_anew(page: Page) -> None:
    """Throw away what a test before this one left unsaved in the pass form that is open."""
    button = page.get_by_role("button", name="Throw it away")
    if button.count():
        button.click()
        expect(button).to_have_count(0)


def box_of(locator: Locator) -> FloatRect:
    box = locator.bounding_box()
    assert box is not None, "it is not on the page"
    return box
