"""Two tabs that edit one pass: the second is told, shown both, and neither version is lost."""

from already_logged import AMP, LoggedSession
from person import control, press, unfold
from playwright.sync_api import expect
from running_app import RunningApp
from watched_browser import Visit


def test_the_second_to_save_is_told_and_shown_both(
    visit: Visit, app: RunningApp, logged: LoggedSession
) -> None:
    first = visit(app, expected={409})
    first.goto(logged.source)
    first.goto(f"{first.url}/passes/new")
    first.get_by_label("Title").fill("two hands on it")
    press(first, "Save the pass")
    address = first.url
    second = first.context.new_page()
    for page in (first, second):
        page.goto(address)
        unfold(page, "More")
        page.get_by_role("link", name="Edit", exact=True).click()
    control(first, AMP, "Gain").fill("2.5")
    press(first, "Save the pass")
    expect(first.get_by_role("heading", level=1)).to_contain_text("two hands on it")

    control(second, AMP, "Gain").fill("9")
    second.get_by_label("Notes").fill("mine, from the other tab")
    press(second, "Save the pass")
    expect(second.get_by_role("alert").filter(has_text="saved from another tab")).to_be_visible()
    saved = second.get_by_role("main").filter(has=second.get_by_role("heading", name="Saved meanwhile"))
    expect(saved).to_contain_text("Gain 2.5")
    expect(control(second, AMP, "Gain")).to_have_value("9")
    expect(second.get_by_label("Notes")).to_have_value("mine, from the other tab")

    press(second, "Save the pass")  # now knowingly
    expect(second.get_by_role("main")).to_contain_text("mine, from the other tab")
    first.reload()
    expect(first.get_by_role("main")).to_contain_text("mine, from the other tab")
