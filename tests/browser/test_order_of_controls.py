"""The controls of a piece of gear go to another place in its form, by keys and by their grip."""

from already_logged import AMP, LoggedSession
from person import press, unfold
from playwright.sync_api import Page, expect
from running_app import RunningApp
from watched_browser import Visit


def edit_the_amp(visit: Visit, app: RunningApp) -> Page:
    page = visit(app)
    page.goto("/gear")
    page.get_by_role("link", name=AMP).click()
    unfold(page, "More")
    page.get_by_role("link", name="Edit", exact=True).click()
    return page


def names(page: Page) -> list[str]:
    return [field.input_value() for field in page.locator("[data-row] [name$='-name']").all()]


def test_a_control_goes_by_keys_with_the_focus_and_by_its_grip(
    visit: Visit, app: RunningApp, logged: LoggedSession
) -> None:
    page = edit_the_amp(visit, app)
    first, second, third, *rest = names(page)
    name_of = page.locator("[data-row] [name$='-name']")
    name_of.nth(0).focus()
    page.keyboard.press("Alt+ArrowDown")
    page.keyboard.press("Alt+ArrowDown")  # without waiting for the first
    expect(name_of.nth(2)).to_have_value(first)
    expect(name_of.nth(2)).to_be_focused()
    assert names(page) == [second, third, first, *rest]
    page.keyboard.press("End")
    page.keyboard.type("!")
    expect(name_of.nth(2)).to_have_value(f"{first}!")
    page.locator("[data-row-grip]").nth(2).drag_to(page.locator("[data-row]").nth(0))
    expect(name_of.nth(0)).to_have_value(f"{first}!")
    assert names(page) == [f"{first}!", second, third, *rest]


def test_the_last_control_goes_no_further_and_a_list_keeps_its_own_key(
    visit: Visit, app: RunningApp, logged: LoggedSession
) -> None:
    page = edit_the_amp(visit, app)
    before = names(page)
    name_of = page.locator("[data-row] [name$='-name']")
    name_of.last.focus()
    page.keyboard.press("Alt+ArrowDown")
    page.locator("[data-row] [name$='-form']").first.focus()
    page.keyboard.press("Alt+ArrowDown")
    page.keyboard.press("Escape")
    name_of.nth(1).focus()
    page.keyboard.press("Alt+ArrowUp")  # goes behind whatever went before
    expect(name_of.nth(0)).to_have_value(before[1])
    assert names(page) == [before[1], before[0], *before[2:]]


def test_save_stays_in_sight_and_covers_no_field_that_has_the_focus(
    visit: Visit, app: RunningApp, logged: LoggedSession
) -> None:
    page = edit_the_amp(visit, app)
    page.set_viewport_size({"width": 375, "height": 667})
    save = page.get_by_role("button", name="Save", exact=True).last
    expect(save).to_be_in_viewport()
    for field in page.locator("[data-row] [name$='-name']").all():
        field.focus()
        below, bar = field.bounding_box(), save.bounding_box()
        assert below is not None
        assert bar is not None
        assert below["y"] + below["height"] <= bar["y"]
    press(page, "Add a control")
    expect(page.get_by_role("group", name="New control")).to_be_visible()
