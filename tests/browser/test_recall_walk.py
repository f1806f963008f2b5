"""A recall worked through at the amp by keyboard: what is checked off is counted at once, and nothing noted is lost."""

from hostile_words import InventedApp
from playwright.sync_api import expect
from watched_browser import Visit


def test_checking_off_by_keyboard_keeps_the_focus_and_what_is_being_noted(
    visit: Visit, invented: InventedApp
) -> None:
    page = visit(invented.app)
    page.goto("/recalls/1")
    before = page.locator("#recall-progress span").inner_text()
    noted = page.get_by_label("What keeps Gain 1 from being as it was")
    noted.locator("xpath=..").locator("summary").click()
    noted.fill("the knob is loose")
    page.get_by_role("button", name="Check off Gain 2").press("Enter")
    expect(page.get_by_role("button", name="Done Gain 2")).to_be_focused()
    expect(page.locator("#recall-progress span")).not_to_have_text(before)
    expect(noted).to_have_value("the knob is loose")
    page.reload()
    expect(page.get_by_label("What keeps Gain 1 from being as it was")).to_have_value("the knob is loose")
    page.get_by_role("button", name="Done Gain 2").press("Enter")
    expect(page.locator("#recall-progress span")).to_have_text(before)
