"""What was logged stays as it was logged, and what was typed stays when something goes wrong."""

import re

from already_logged import AMP, MICROPHONE, LoggedSession
from person import control, gear_in_chain, press, row_of, unfold
from playwright.sync_api import expect
from running_app import RunningApp
from watched_browser import Visit


def test_a_renamed_knob_keeps_its_old_name_on_old_passes(
    visit: Visit, app: RunningApp, logged: LoggedSession
) -> None:
    page = visit(app)
    page.goto(logged.source)
    page.goto(f"{page.url}/passes/new")
    control(page, AMP, "Presence").fill("noon")
    press(page, "Save the pass")
    old_pass = page.url
    page.goto("/gear")
    page.get_by_role("link", name=AMP).click()
    unfold(page, "More")
    page.get_by_role("link", name="Edit", exact=True).click()
    page.get_by_role("group", name="Presence").get_by_label("Name").fill("Air")
    press(page, "Save")
    expect(page.get_by_role("heading", name="Controls")).to_contain_text(re.compile("version [2-9]"))
    page.goto(old_pass)
    settings = page.get_by_role("listitem").filter(has_text="noon")
    expect(settings).to_contain_text("Presence")
    page.get_by_role("link", name="Next pass from this").click()
    expect(control(page, AMP, "Air")).to_have_value("noon")
    press(page, "Save the pass")
    expect(page.get_by_role("listitem").filter(has_text="noon")).to_contain_text("Air")
    page.goto(logged.source)
    expect(row_of(page, "Air")).to_be_visible()


def test_a_button_that_the_server_fails_says_so_and_leaves_the_form(
    visit: Visit, app: RunningApp, logged: LoggedSession
) -> None:
    page = visit(app, expected={500})
    page.goto(logged.source)
    page.goto(f"{page.url}/passes/new")
    page.get_by_label("Notes").fill("do not lose this")
    page.route("**/passes", lambda route: route.fulfill(status=500, body="broken"))
    amp = gear_in_chain(page, AMP)
    amp.get_by_text("Move or remove").click()
    amp.get_by_role("button", name=re.compile("^Earlier")).click()
    expect(page.get_by_role("alert").filter(has_text="This was not done (answer 500)")).to_be_in_viewport()
    expect(page.get_by_label("Notes")).to_have_value("do not lose this")
    page.unroute("**/passes")
    amp.get_by_role("button", name=re.compile("^Earlier")).click()
    expect(page.get_by_role("alert")).to_have_count(0)
    expect(page.get_by_label("Notes")).to_have_value("do not lose this")
    expect(page.get_by_role("region").first).to_contain_text(AMP)


def test_a_button_that_nobody_answers_says_so_and_leaves_the_form(
    visit: Visit, app: RunningApp, logged: LoggedSession
) -> None:
    page = visit(app, expected={"net::ERR_INTERNET_DISCONNECTED", "htmx:sendError", "htmx:afterRequest"})
    page.goto(logged.source)
    page.goto(f"{page.url}/passes/new")
    page.get_by_label("Notes").fill("do not lose this either")
    page.context.set_offline(True)
    amp = gear_in_chain(page, AMP)
    amp.get_by_text("Move or remove").click()
    amp.get_by_role("button", name=re.compile("^Remove")).click()
    expect(page.get_by_role("alert").filter(has_text="Dialback does not answer")).to_be_in_viewport()
    page.context.set_offline(False)
    amp.get_by_role("button", name=re.compile("^Remove")).click()
    expect(amp).to_have_count(0)
    expect(page.get_by_role("alert")).to_have_count(0)
    expect(page.get_by_label("Notes")).to_have_value("do not lose this either")


def test_lengths_are_read_and_shown_in_the_unit_chosen(
    visit: Visit, app: RunningApp, logged: LoggedSession
) -> None:
    page = visit(app)
    page.goto(logged.pass_one)
    expect(page.get_by_role("main")).to_contain_text("25 mm from the grille")
    page.get_by_role("button", name="inches").click()
    expect(page.get_by_role("button", name="inches")).to_have_attribute("aria-pressed", "true")
    expect(page.get_by_role("main")).to_contain_text("in from the grille")
    page.get_by_role("link", name="Next pass from this").click()
    microphone = gear_in_chain(page, MICROPHONE)
    microphone.get_by_text("Placement").click()
    microphone.get_by_label("Distance from the grille").fill("2")
    press(page, "Save the pass")
    expect(page.get_by_role("main")).to_contain_text("2 in from the grille")
    page.get_by_role("button", name="mm", exact=True).click()
    expect(page.get_by_role("main")).to_contain_text(re.compile(r"5[01](\.8)?\smm from the grille"))
