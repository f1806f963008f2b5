"""Everything can be done without a mouse, and what has the focus can be seen."""

import pytest
from already_logged import AMP, LoggedSession
from person import press
from playwright.sync_api import Page, expect
from running_app import RunningApp
from watched_browser import PHONE_PX, Visit

MOST_STOPS = 250

# A player rings its own buttons, which no page can ask after.
FOCUS = """() => {
  const focused = document.activeElement;
  if (!focused || focused === document.body) return null;
  const style = getComputedStyle(focused);
  const box = focused.getBoundingClientRect();
  const topmost = document.elementFromPoint(box.x + box.width / 2, box.y + Math.min(box.height / 2, 20));
  return {
    name: `${focused.tagName} ${focused.id || focused.getAttribute("aria-label") || focused.textContent.trim()}`.slice(0, 80),
    ringed: focused.tagName === "AUDIO" || style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2,
    inWindow: box.bottom > 0 && box.top < innerHeight && box.width > 0 && box.height > 0,
    covered: topmost !== null && !focused.contains(topmost) && !topmost.contains(focused),
  };
}"""


def test_the_first_stop_skips_to_the_sheet(visit: Visit, app: RunningApp, logged: LoggedSession) -> None:
    page = visit(app)
    page.goto(logged.source)
    page.keyboard.press("Tab")
    skip = page.get_by_role("link", name="Skip to the sheet")
    expect(skip).to_be_focused()
    expect(skip).to_be_in_viewport()
    page.keyboard.press("Enter")
    expect(page.get_by_role("main")).to_be_focused()
    page.keyboard.press("Tab")
    assert page.evaluate("document.querySelector('main').contains(document.activeElement)")


@pytest.mark.parametrize("width", [1280, PHONE_PX])
@pytest.mark.parametrize("place", ["source", "form", "pass"])
def test_every_stop_is_ringed_in_sight_and_not_covered(
    visit: Visit, app: RunningApp, logged: LoggedSession, place: str, width: int
) -> None:
    page = visit(app, width=width)
    page.goto(
        {"source": logged.source, "form": f"{logged.source}/passes/new", "pass": logged.pass_one}[place]
    )
    stops = []
    for _ in range(MOST_STOPS):
        page.keyboard.press("Tab")
        stop = page.evaluate(FOCUS)
        if stop is None:  # round once
            break
        stops.append(stop)
    else:
        pytest.fail("the focus is caught, or the page has more stops than it should")
    assert len(stops) > 10
    assert [stop["name"] for stop in stops if not stop["ringed"]] == []
    assert [stop["name"] for stop in stops if not stop["inWindow"]] == []
    assert [stop["name"] for stop in stops if stop["covered"]] == []


def test_a_wide_ledger_moves_by_its_keys(visit: Visit, app: RunningApp, logged: LoggedSession) -> None:
    page = visit(app, width=PHONE_PX)
    for _ in range(3):
        page.goto(f"{logged.source}/passes/new")
        press(page, "Save the pass")
        expect(page.get_by_role("heading", level=1)).to_contain_text("Pass")
    page.goto(logged.source)
    ticks = page.locator(".pass-card input[name=pass]").evaluate_all("boxes => boxes.map((box) => box.value)")
    page.goto(f"/compare?{'&'.join(f'pass={number}' for number in ticks[:4])}")
    ledger = page.get_by_role("region", name="Compared passes")
    ledger.focus()
    page.keyboard.press("Home")
    page.wait_for_function("document.querySelector('.ledger-scroll').scrollLeft === 0")
    page.keyboard.press("ArrowRight")
    page.wait_for_function("document.querySelector('.ledger-scroll').scrollLeft > 0")
    before = ledger.evaluate("ledger => ledger.scrollLeft")
    page.keyboard.press("End")
    page.wait_for_function(
        "before => document.querySelector('.ledger-scroll').scrollLeft > before", arg=before
    )
    page.keyboard.press("ArrowLeft")
    end = ledger.evaluate("ledger => ledger.scrollWidth - ledger.clientWidth")
    page.wait_for_function("end => document.querySelector('.ledger-scroll').scrollLeft < end", arg=end)


def test_a_next_pass_by_keyboard_alone(visit: Visit, app: RunningApp, logged: LoggedSession) -> None:
    page = visit(app)
    page.goto(logged.source)
    tab_to(page, "Next pass")
    page.keyboard.press("Enter")
    expect(page.locator("#line")).to_be_focused()
    gain = page.get_by_label(f"Gain, {AMP}")
    for _ in range(MOST_STOPS):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.matches('.open-field')"):
            break
    for _ in range(MOST_STOPS):
        if gain.evaluate("wanted => wanted === document.activeElement"):
            break
        page.keyboard.press("ArrowDown")
    expect(gain).to_be_focused()
    before = gain.input_value()
    page.keyboard.press("Shift+ArrowUp")
    expect(gain).not_to_have_value(before)
    page.keyboard.press("Control+Enter")
    expect(page.locator("#open-column")).to_have_count(0)


def tab_to(page: Page, name: str, within: str | None = None) -> None:
    """Press Tab until what bears this name has the focus."""
    place = page.get_by_role("region", name=within) if within else page.get_by_role("main")
    target = place.get_by_label(name).or_(place.get_by_role("link", name=name)).first
    for _ in range(MOST_STOPS):
        page.keyboard.press("Tab")
        if target.evaluate("wanted => wanted === document.activeElement"):
            return
    pytest.fail(f"Tab never comes to {name}")
