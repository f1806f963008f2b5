"""A recall worked through at the amp, by keyboard and on a phone: what is ticked is counted at once, nothing noted is
lost, and what is ticked while the network is away arrives when it is back."""

import re

from already_logged import InventedApp
from playwright.sync_api import Page, expect
from watched_browser import Visit

AT_PREAMP = "/recalls/1?only=all"


def done(page: Page) -> int:
    return int(page.locator("#recall-progress strong").inner_text())


def test_ticking_by_keyboard_keeps_the_focus_and_what_is_being_noted(
    visit: Visit, invented: InventedApp
) -> None:
    page = visit(invented.app)
    page.goto(AT_PREAMP)
    page.get_by_role("link", name="Two-channel preamp").press("Enter")
    before = done(page)
    page.get_by_text("Not as it was? Gain 1", exact=True).locator("xpath=..").press("Enter")
    noted = page.get_by_label("What keeps Gain 1 from being as it was")
    noted.fill("the knob is loose")
    page.get_by_role("button", name="Set Gain 2").press("Enter")
    expect(page.get_by_role("button", name="Set Gain 2")).to_be_focused()
    expect(page.get_by_role("button", name="Set Gain 2", pressed=True)).to_be_visible()
    assert done(page) == before + 1
    expect(noted).to_have_value("the knob is loose")
    expect(page.locator("html")).to_have_attribute("data-waiting", "0")
    page.reload()
    expect(page.get_by_label("What keeps Gain 1 from being as it was")).to_have_value("the knob is loose")
    page.get_by_role("button", name="Set Gain 2").press("Enter")
    assert done(page) == before


def test_the_last_thing_of_a_stage_leads_to_the_next_that_is_open(
    visit: Visit, invented: InventedApp
) -> None:
    page = visit(invented.app)
    page.goto(AT_PREAMP)
    page.get_by_role("link", name="Small ribbon microphone").press("Enter")
    page.get_by_role("button", name="In place Placement").press("Enter")
    expect(page.get_by_role("heading", name="Large dynamic microphone")).to_be_visible()
    expect(page.get_by_role("button", name="In place Placement")).to_be_focused()
    expect(page.get_by_role("link", name="Large dynamic microphone")).to_have_attribute(
        "aria-current", "step"
    )
    page.get_by_role("link", name="Small ribbon microphone").press("Enter")
    page.get_by_role("button", name="In place Placement").press("Enter")
    expect(page.locator("html")).to_have_attribute("data-waiting", "0")


def test_on_a_phone_one_thing_at_a_time_is_set_also_while_the_network_is_away(
    visit: Visit, invented: InventedApp
) -> None:
    page = visit(invented.app, width=375, expected={"ERR_INTERNET_DISCONNECTED"})
    page.goto(AT_PREAMP)
    page.get_by_role("button", name="List").click()
    page.get_by_role("link", name="Two-channel preamp").click()
    shown = page.locator(".recall-item:visible")
    expect(shown).to_have_count(1)
    expect(shown.get_by_role("heading")).to_have_text("Gain 1")
    before = done(page)
    page.context.set_offline(True)
    page.get_by_role("button", name="Set, next").click()
    expect(shown.get_by_role("heading")).to_have_text("Polarity 1")
    page.keyboard.press("ArrowRight")
    expect(shown.get_by_role("heading")).to_have_text("Gain 2")
    page.get_by_role("button", name="Skip").click()
    expect(shown.get_by_role("heading")).to_have_text("Polarity 2")
    assert done(page) == before + 1
    expect(page.locator("html")).to_have_attribute("data-waiting", re.compile("[1-9]"))
    page.context.set_offline(False)
    expect(page.locator("html")).to_have_attribute("data-waiting", "0")
    page.reload()
    assert done(page) == before + 1
    page.keyboard.press("ArrowLeft")
    page.get_by_role("button", name="List").click()
    page.get_by_role("link", name="Two-channel preamp").click()
