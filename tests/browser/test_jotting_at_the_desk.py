"""Jotting at the desk: kept while it is typed, undone, typed as a line, and reached from anywhere by a key."""

import re

import pytest
from already_logged import AMP, LoggedSession
from person import control, row_of
from playwright.sync_api import Page, expect
from running_app import RunningApp
from watched_browser import PHONE_PX, Visit


@pytest.fixture
def form(visit: Visit, app: RunningApp, logged: LoggedSession) -> Page:
    page = visit(app)
    page.goto(f"{logged.source}/passes/new")
    return page


def test_closing_the_lid_in_the_middle_loses_nothing(form: Page, logged: LoggedSession) -> None:
    control(form, AMP, "Gain").fill("4.4")
    form.get_by_label("Notes").fill("the lid fell")
    expect(form.get_by_text("Kept as you type")).to_be_visible()
    address = form.url
    form.get_by_label("Notes").press_sequentially(" shut")
    again = form.context.new_page()
    form.close()  # within the pause of typing
    again.goto(address)
    expect(again.get_by_text(re.compile("not saved yet"))).to_be_visible()
    expect(control(again, AMP, "Gain")).to_have_value("4.4")
    expect(again.get_by_label("Notes")).to_have_value(re.compile("the lid fell"))


def test_undo_and_redo_by_key_outside_of_text(form: Page) -> None:
    gain = control(form, AMP, "Gain")
    before = gain.input_value()
    gain.fill("4.4")
    gain.press("Tab")
    expect(form.get_by_role("button", name="Undo")).to_be_enabled()
    form.get_by_role("heading", level=1).click()
    form.keyboard.press("Control+z")
    expect(control(form, AMP, "Gain")).to_have_value(before)
    form.get_by_role("heading", level=1).click()
    form.keyboard.press("Control+Shift+z")
    expect(control(form, AMP, "Gain")).to_have_value("4.4")


def test_a_line_typed_sets_several_at_once_and_ctrl_enter_saves(
    visit: Visit, app: RunningApp, logged: LoggedSession
) -> None:
    page = visit(app)
    page.goto(logged.source)
    page.get_by_role("heading", level=1).click()
    page.keyboard.press("j")
    line = page.get_by_label("Jot what changed")
    expect(line).to_be_focused()
    page.keyboard.type("master 6.5, bass 4, mic 30 mm, master5")
    expect(page.get_by_text("distance 30 mm")).to_be_visible()
    page.keyboard.press("Enter")
    expect(line).to_have_value("master5")
    expect(page.get_by_label(f"Master, {AMP}")).to_have_value("6.5")
    expect(line).to_be_focused()
    page.keyboard.press("Control+a")
    page.keyboard.press("Delete")
    page.keyboard.press("Control+Enter")
    expect(page.locator("#open-column")).to_have_count(0)
    expect(row_of(page, "Master").locator("td").last).to_contain_text("6.5")


def test_while_the_server_is_silent_it_is_said_and_sent_again(
    visit: Visit, app: RunningApp, logged: LoggedSession
) -> None:
    page = visit(app, expected={"net::ERR_INTERNET_DISCONNECTED"})
    page.goto(f"{logged.source}/passes/new")
    page.context.set_offline(True)
    page.get_by_label("Notes").fill("no network here")
    expect(page.get_by_text("1 jotting waits here")).to_be_visible()
    page.get_by_label("Title").fill("nor here")
    expect(page.get_by_text("2 jottings wait here")).to_be_visible()
    page.context.set_offline(False)
    expect(page.get_by_text("Kept as you type")).to_be_visible()
    expect(page.locator("#waiting")).to_be_hidden()
    page.reload()
    expect(page.get_by_label("Notes")).to_have_value("no network here")
    expect(page.get_by_label("Title")).to_have_value("nor here")


def test_the_map_of_keys_opens_and_keys_do_nothing_while_one_types(form: Page) -> None:
    form.get_by_label("Notes").press_sequentially("n?j/")
    expect(form.get_by_label("Notes")).to_have_value("n?j/")
    expect(form.locator("#draft-state")).to_contain_text("Kept as you type")
    form.get_by_role("heading", level=1).click()
    form.keyboard.press("?")
    dialog = form.get_by_role("dialog", name="Keys")
    expect(dialog).to_contain_text("Next pass of the source one is at")
    form.keyboard.press("Escape")
    expect(dialog).to_be_hidden()
    form.keyboard.press("g")
    form.keyboard.press("p")
    expect(form.get_by_role("heading", level=1)).to_have_text("Projects")
    form.keyboard.press("n")
    expect(form.get_by_label("Notes")).to_have_value("n?j/")
    form.get_by_role("button", name="Save", exact=True).last.click()
    expect(form.locator("#open-column")).to_have_count(0)


def test_desk_and_phone_see_each_other_s_jottings_at_once(
    visit: Visit, app: RunningApp, logged: LoggedSession
) -> None:
    desk, phone = visit(app), visit(app, width=PHONE_PX, touch=True)
    for page in (desk, phone):
        page.goto(f"{logged.source}/passes/new")
    control(phone, AMP, "Gain").fill("2.2")
    control(phone, AMP, "Gain").press("Tab")
    expect(control(desk, AMP, "Gain")).to_have_value("2.2")
    desk.get_by_label("Notes").fill("from the desk")
    expect(phone.get_by_label("Notes")).to_have_value("from the desk")
    expect(control(phone, AMP, "Gain")).to_have_value("2.2")


def test_a_jotting_that_waits_outlives_a_reload(visit: Visit, app: RunningApp, logged: LoggedSession) -> None:
    """The answer is held back, as by a network that is away; the page is loaded again meanwhile."""
    page = visit(app, expected={503})
    page.goto(f"{logged.source}/passes/new")
    page.route("**/drafts/*/changes", lambda route: route.fulfill(status=503))
    page.get_by_label("Notes").fill("kept in the browser")
    expect(page.get_by_text("1 jotting waits here")).to_be_visible()
    page.unroute("**/drafts/*/changes")
    page.reload()
    page.reload()
    expect(page.get_by_label("Notes")).to_have_value("kept in the browser")
