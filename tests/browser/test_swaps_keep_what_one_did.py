"""What a person did since a request left survives its answer. The answers are held back here until it was done."""

import re
from collections.abc import Callable

import pytest
from already_logged import AMP, MICROPHONE, LoggedSession
from person import control, gear_in_chain, press, unfold
from playwright.sync_api import Page, Route, expect
from running_app import RunningApp
from watched_browser import Visit

REFRESH = "address => htmx.ajax('get', address, {target: '#ledger', swap: 'outerHTML'})"
"""What a ledger does by itself while its prints are being measured."""


@pytest.fixture
def form(visit: Visit, app: RunningApp, logged: LoggedSession) -> Page:
    page = visit(app)
    page.goto(f"{logged.source}/passes/new")
    return page


def hold_back(page: Page, address: str, method: str) -> Callable[[], None]:
    """From here on no answer comes from this address, until what is returned is called."""
    held: list[Route] = []

    def hold(route: Route) -> None:
        if route.request.method == method:
            held.append(route)
        else:
            route.fallback()

    page.route(address, hold)

    def release() -> None:
        while not held:
            page.wait_for_timeout(20)  # lets the request come as far as here
        held[0].continue_()
        page.unroute(address, hold)

    return release


def turned(form: Page) -> str:
    """Turn the gain, wait until it is kept, and give what it was."""
    gain = control(form, AMP, "Gain")
    before = gain.input_value()
    gain.fill("4.4")
    gain.press("Tab")
    expect(form.get_by_role("button", name="Undo")).to_be_enabled()
    return before


def placement(form: Page) -> str:
    state: str = (
        gear_in_chain(form, MICROPHONE)
        .locator("details.placement")
        .evaluate("fold => fold.open ? 'open' : 'closed'")
    )
    return state


def test_a_fold_that_was_opened_and_what_was_typed_meanwhile_stay(form: Page, logged: LoggedSession) -> None:
    before = turned(form)
    assert placement(form) == "closed"
    answer = hold_back(form, "**/sources/*/passes", "POST")
    press(form, "Undo")
    gear_in_chain(form, MICROPHONE).get_by_text("Placement").click()
    gear_in_chain(form, MICROPHONE).get_by_label("Angle").fill("30")
    notes = form.get_by_label("Notes")
    notes.fill("the low end came back")
    notes.evaluate("notes => notes.setSelectionRange(4, 7)")
    before_top = notes.evaluate("notes => notes.getBoundingClientRect().top")
    answer()
    expect(control(form, AMP, "Gain")).to_have_value(before)
    assert placement(form) == "open"
    expect(gear_in_chain(form, MICROPHONE).get_by_label("Angle")).to_have_value("30")
    expect(notes).to_have_value("the low end came back")
    expect(notes).to_be_focused()
    assert notes.evaluate("notes => [notes.selectionStart, notes.selectionEnd]") == [4, 7]
    assert notes.evaluate("notes => notes.getBoundingClientRect().top") == pytest.approx(before_top, abs=1)
    expect(form.get_by_text("Kept as you type")).to_be_visible()  # what was given back is kept as well
    form.reload()
    expect(form.get_by_label("Notes")).to_have_value("the low end came back")
    expect(gear_in_chain(form, MICROPHONE).get_by_label("Angle")).to_have_value("30")


def test_what_went_with_the_request_is_as_the_answer_says(form: Page) -> None:
    before = turned(form)
    press(form, "Undo")
    expect(control(form, AMP, "Gain")).to_have_value(before)
    line = form.get_by_label("Jot", exact=True)
    line.fill("gain 3, zither 2")
    answer = hold_back(form, "**/sources/*/passes", "POST")
    press(form, "Apply")
    answer()
    expect(control(form, AMP, "Gain")).to_have_value("3")
    expect(line).to_have_value("zither 2")


def test_a_line_that_is_typed_on_stays(form: Page) -> None:
    line = form.get_by_label("Jot", exact=True)
    line.fill("gain 3")
    answer = hold_back(form, "**/sources/*/passes", "POST")
    line.press("Enter")
    line.fill("bass 2")
    answer()
    expect(control(form, AMP, "Gain")).to_have_value("3")
    expect(line).to_have_value("bass 2")
    expect(line).to_be_focused()


def test_a_fold_stays_open_over_what_is_pressed_elsewhere_and_closes_when_it_is_done_with(form: Page) -> None:
    gear_in_chain(form, MICROPHONE).get_by_text("Placement").click()
    form.get_by_text("A note on the session").click()
    form.get_by_label("Note", exact=True).last.fill("the tide is coming in")
    press(form, "Save the note")
    expect(form.get_by_label("Note", exact=True).last).to_be_hidden()
    assert placement(form) == "open"
    assert form.locator("details.note-form textarea").input_value() == ""


def test_a_ledger_that_looks_again_leaves_ticks_folds_and_what_is_typed(
    visit: Visit, app: RunningApp, logged: LoggedSession
) -> None:
    page = visit(app)
    for _ in range(2):
        page.goto(f"{logged.source}/passes/new")
        press(page, "Save the pass")
        expect(page.get_by_role("heading", level=1)).to_contain_text("Pass ")
    page.goto(f"{logged.source}?column=open")
    first, second = page.get_by_role("checkbox", name=re.compile("Compare pass")).all()[:2]
    first.check()
    page.locator("#ledger").evaluate("ledger => { ledger.dataset.old = 'yes'; }")
    answer = hold_back(page, "**/sources/*/ledger?*", "GET")
    page.evaluate(f"void ({REFRESH})(document.querySelector('#ledger').dataset.address)")
    second.check()
    page.get_by_label(f"Bass, {AMP}").fill("7.7")
    answer()
    expect(page.locator("#ledger[data-old]")).to_have_count(0)
    expect(first).to_be_checked()
    expect(second).to_be_checked()
    expect(page.get_by_label(f"Bass, {AMP}")).to_have_value("7.7")
    page.get_by_label("More for this pass").click()
    page.get_by_role("button", name="Throw it away").click()
    expect(page.locator("#open-column")).to_have_count(0)


def test_a_refused_upload_leaves_what_was_typed_beside_it(
    visit: Visit, app: RunningApp, logged: LoggedSession
) -> None:
    page = visit(app, expected={422})
    page.goto(logged.pass_one)
    unfold(page, "Attach a print")
    unfold(page, "This one stays")
    answer = hold_back(page, "**/passes/*/prints", "POST")
    press(page, "Attach")
    reason = page.get_by_label("Why", exact=False).first
    reason.fill("it sits under the organ")
    answer()
    expect(page.get_by_role("main").locator("[aria-invalid=true]").first).to_be_visible()
    expect(reason).to_have_value("it sits under the organ")


def test_a_press_is_not_missed_when_a_complaint_comes_under_it(form: Page) -> None:
    """What a field is told moves what stands below it: not while something there is being pressed."""
    answer = hold_back(form, "**/controls/*/read**", "GET")
    control(form, AMP, "Gain").fill("quite loud")
    fold = gear_in_chain(form, MICROPHONE).get_by_text("Placement")
    fold.scroll_into_view_if_needed()
    fold.hover()
    form.mouse.down()
    answer()
    form.wait_for_timeout(300)
    form.mouse.up()
    expect(control(form, AMP, "Gain")).to_have_attribute("aria-invalid", "true")
    assert placement(form) == "open"
