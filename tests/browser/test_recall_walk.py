"""A recall worked through at the amp, by keyboard and on a phone: what is ticked is counted at once, nothing noted is
lost, and what is ticked while the network is away arrives when it is back."""

import re
from urllib.parse import urlencode
from urllib.request import Request, urlopen

from already_logged import InventedApp, LoggedSession
from playwright.sync_api import Page, Route, expect
from running_app import RunningApp
from watched_browser import PHONE_PX, Visit

AT_PREAMP = "/recalls/1?only=all"


def done(page: Page) -> int:
    return int(page.locator("#recall-progress strong").inner_text())


def arrived(page: Page) -> None:
    expect(page.locator("html")).to_have_attribute("data-waiting", "0")


def open_things(page: Page) -> list[str]:
    """What is not ticked yet, by its key."""
    ids = page.locator(".tick-off[aria-pressed=false]").evaluate_all("buttons => buttons.map(({ id }) => id)")
    return [each.removeprefix("do-") for each in ids]


def do_elsewhere(invented: InventedApp, does: str) -> None:
    asked = Request(
        f"{invented.app.address}/recalls/1/items", urlencode({"do": does, "only": "all"}).encode()
    )
    asked.add_header("Accept", "application/json")
    with urlopen(asked) as answer:
        assert answer.status == 200


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
    arrived(page)
    page.reload()
    expect(page.get_by_label("What keeps Gain 1 from being as it was")).to_have_value("the knob is loose")
    page.get_by_role("button", name="Set Gain 2").press("Enter")
    assert done(page) == before
    arrived(page)


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
    arrived(page)


def test_what_is_ticked_while_the_page_is_being_left_is_kept(visit: Visit, invented: InventedApp) -> None:
    """Pressed and gone within one task: the browser's store cannot have it yet."""
    page = visit(invented.app)
    page.goto(AT_PREAMP)
    before = done(page)
    button = f"[id='do-{open_things(page)[0]}']"
    for ticked in (1, 0):
        with page.expect_navigation():
            page.evaluate("button => { document.querySelector(button).click(); location.reload(); }", button)
        arrived(page)
        page.goto(AT_PREAMP)
        assert done(page) == before + ticked


def test_what_was_done_elsewhere_meanwhile_is_shown_once_what_waits_has_arrived(
    visit: Visit, invented: InventedApp
) -> None:
    """Another page ticks while this one is away from the network, then while this one asks how things stand, and it is ticked
    here before the answer comes, which cannot know of it."""
    page = visit(invented.app, expected={"ERR_INTERNET_DISCONNECTED"})
    page.goto(AT_PREAMP)
    before = done(page)
    mine, theirs = open_things(page)[:2]
    here, there = (page.locator(f"[id='do-{each}']") for each in (mine, theirs))
    page.route("**/recalls/1/items", lambda route: route.abort("internetdisconnected"))
    here.evaluate("button => button.click()")
    expect(page.locator("#waiting")).to_be_visible()
    page.evaluate(
        "window.told = new Promise((tell) => document.addEventListener('dialback:changed', () => tell(), {once: true})), 0"
    )
    do_elsewhere(invented, f"done-{theirs}")
    page.evaluate("window.told")
    page.unroute("**/recalls/1/items")
    expect(there).to_have_attribute("aria-pressed", "true")
    expect(here).to_have_attribute("aria-pressed", "true")
    assert done(page) == before + 2

    asked: list[Route] = []
    page.route("**/recalls/1?*", lambda route: asked.append(route), times=1)
    do_elsewhere(invented, f"undo-{theirs}")
    while not asked:
        page.wait_for_timeout(10)
    known = asked[0].fetch()
    here.evaluate("button => button.click()")
    arrived(page)
    asked[0].fulfill(response=known)
    expect(page.locator("#recall-progress strong")).to_have_text(str(before))
    expect(here).to_have_attribute("aria-pressed", "false")


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
    arrived(page)
    page.reload()
    assert done(page) == before + 1
    page.keyboard.press("ArrowLeft")
    page.get_by_role("button", name="List").click()
    page.get_by_role("link", name="Two-channel preamp").click()


def test_enter_in_a_note_keeps_it_and_closes_its_menu(
    visit: Visit, app: RunningApp, logged: LoggedSession
) -> None:
    page = visit(app, width=PHONE_PX)
    page.goto(f"{logged.pass_one}/recalls")
    page.locator(f"form[action='{logged.pass_one}/recalls'] button").first.click()
    page.get_by_role("button", name="Not as it was", exact=True).click()
    noted = page.locator("details[open] input[name^=deviation-]")
    noted.fill("it sticks")
    noted.press("Enter")
    expect(noted).to_have_count(0)
    expect(page.locator("p.deviation:visible")).to_have_text("it sticks")
    page.get_by_role("button", name="Set, next").click()
    arrived(page)
