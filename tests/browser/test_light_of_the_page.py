"""The paper and the dim-room theme of one design."""

import pytest
from already_logged import LoggedSession
from playwright.sync_api import Page, expect
from running_app import RunningApp
from watched_browser import Visit


def ground(page: Page) -> float:
    """The page's ground from 0 (black) to 1 (white)."""
    light: float = page.locator("html").evaluate(
        "html => { const [r, g, b] = getComputedStyle(html).backgroundColor.match(/[\\d.]+/g).map(Number);"
        " return (0.2126 * r + 0.7152 * g + 0.0722 * b) / 255; }"
    )
    return light


@pytest.mark.parametrize("javascript", [True, False], ids=["with script", "without script"])
def test_the_theme_is_switched_on_the_page_one_is_at_and_stays(
    visit: Visit, app: RunningApp, logged: LoggedSession, javascript: bool
) -> None:
    page = visit(app, javascript=javascript)
    page.goto(logged.source)
    assert ground(page) > 0.8
    page.get_by_role("button", name="Dim").click()
    expect(page.get_by_role("button", name="Dim")).to_have_attribute("aria-pressed", "true")
    expect(page).to_have_url(logged.source)
    assert ground(page) < 0.15
    page.get_by_role("link", name="Gear", exact=True).click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Gear")
    assert ground(page) < 0.15
    page.get_by_role("button", name="Paper").click()
    expect(page.get_by_role("button", name="Paper")).to_have_attribute("aria-pressed", "true")
    assert ground(page) > 0.8


def test_left_to_itself_the_page_follows_the_system(
    visit: Visit, app: RunningApp, logged: LoggedSession
) -> None:
    page = visit(app)
    page.emulate_media(color_scheme="dark")
    page.goto(logged.source)
    assert ground(page) < 0.15
    page.emulate_media(color_scheme="light")
    assert ground(page) > 0.8
    page.get_by_role("button", name="Dim").click()
    expect(page.get_by_role("button", name="Dim")).to_have_attribute("aria-pressed", "true")
    assert ground(page) < 0.15
