"""Setting a control by mouse, wheel, touch, keys and by typing what one reads."""

import re
from contextlib import closing
from dataclasses import dataclass

import pytest
from already_logged import shelve
from person import begin_anew, box_of, control, mark_of, press, readings_of
from playwright.sync_api import Locator, Page, expect
from running_app import RunningApp
from small_session import bring_in, step_of
from watched_browser import PHONE_PX, Visit

from app.desk.passes import passes
from app.desk.passes.passes import PassEntry
from app.desk.projects import projects
from app.desk.projects.projects import ProjectEntry
from app.library import Library

AMP = "Turning amp"
DELAY = "Turning delay"


@pytest.fixture(scope="module")
def form_address(app: RunningApp) -> str:
    """The next-pass form of a source whose last pass holds an amp and a delay, with the amp's gain at 5."""
    with closing(Library(app.library)) as library:
        amp, delay = shelve(library, "single_channel_amp", AMP), shelve(library, "delay", DELAY)
        project = projects.create_project(library, ProjectEntry("Turning"))
        source = bring_in(library, project, "no file needed")
        chain = (step_of(library, amp, {"Gain": "5", "Bright": "off"}), step_of(library, delay))
        logged = passes.log_pass(library, source, PassEntry(steps=chain))
    return f"/sources/{source}/passes/new?like={logged}"


def opened(page: Page, address: str) -> Locator:
    """The amp's gain, once it can be taken hold of."""
    if page.locator("form[data-draft] .is-changed").count():
        expect(
            page.get_by_text("Kept as you type")
        ).to_be_visible()  # else it may arrive after the page is left
    page.goto(address)
    begin_anew(page)
    gain = control(page, AMP, "Gain")
    expect(gain.locator("xpath=..")).to_have_class("control is-live")
    return gain


def test_dragging_the_mark_up_turns_a_knob_up_and_down_turns_it_down(
    visit: Visit, app: RunningApp, form_address: str
) -> None:
    page = visit(app)
    gain = opened(page, form_address)
    drag(page, mark_of(gain), up_px=40)
    turned_up = float(gain.input_value())
    assert turned_up > 6
    expect(readings_of(gain)).to_contain_text(gain.input_value())
    drag(page, mark_of(gain), up_px=-400)
    expect(gain).to_have_value("0.0")
    expect(readings_of(gain)).to_have_text("0.0 · 7:00 · 0 %")
    press(page, "Save the pass")
    expect(page.get_by_role("heading", level=1)).to_contain_text("Pass")
    expect(page.get_by_role("main")).to_contain_text("0.0")


def test_dragging_further_aside_turns_finer(visit: Visit, app: RunningApp, form_address: str) -> None:
    page = visit(app)
    gain = opened(page, form_address)
    drag(page, mark_of(gain), up_px=60, aside_px=240)
    fine = float(gain.input_value())
    gain = opened(page, form_address)
    drag(page, mark_of(gain), up_px=60)
    assert 5 < fine < float(gain.input_value())


def test_the_wheel_turns_the_control_that_has_the_focus_and_scrolls_the_page_elsewhere(
    visit: Visit, app: RunningApp, form_address: str
) -> None:
    page = visit(app)
    gain = opened(page, form_address)
    mark_of(gain).hover()
    page.mouse.wheel(0, 120)
    page.wait_for_function("window.scrollY > 0")
    expect(gain).to_have_value("5")

    gain = opened(page, form_address)
    gain.focus()
    mark_of(gain).hover()
    page.mouse.wheel(0, -120)
    expect(gain).not_to_have_value("5")
    assert float(gain.input_value()) > 5
    page.mouse.wheel(0, 120)
    expect(gain).to_have_value("5.0")
    assert page.evaluate("window.scrollY") == 0


def test_a_touched_dial_comes_up_from_below_and_a_finger_turns_it_without_scrolling_the_page(
    visit: Visit, app: RunningApp, form_address: str
) -> None:
    page = visit(app, width=PHONE_PX, touch=True)
    gain = opened(page, form_address)
    gain.scroll_into_view_if_needed()
    before = page.evaluate("window.scrollY")
    mark_of(gain).tap()
    box = box_of(mark_of(gain))
    assert box["width"] >= 200
    assert box["y"] + box["height"] < page.viewport_size["height"]  # type: ignore[index]
    expect(gain).to_have_value("5")
    finger = Finger(page)
    finger.drag(mark_of(gain), up_px=60)
    assert float(gain.input_value()) > 6
    assert page.evaluate("window.scrollY") == before
    expect(gain).not_to_be_focused()  # no keyboard pops up over the dial
    page.get_by_role("button", name="A step up").tap()
    page.get_by_role("button", name="Done").tap()
    assert box_of(mark_of(gain))["width"] < 60


def test_a_finger_beside_the_mark_scrolls_the_page(visit: Visit, app: RunningApp, form_address: str) -> None:
    page = visit(app, width=PHONE_PX, touch=True)
    gain = opened(page, form_address)
    heading = page.get_by_role("heading", name=AMP)
    Finger(page).drag(heading, up_px=120)
    page.wait_for_function("window.scrollY > 0")
    expect(gain).to_have_value("5")


def test_a_tap_flips_a_switch(visit: Visit, app: RunningApp, form_address: str) -> None:
    page = visit(app, width=PHONE_PX, touch=True)
    opened(page, form_address)
    bright = control(page, AMP, "Bright")
    expect(bright).to_have_value("off")
    mark_of(bright).tap()
    expect(bright).to_have_value("on")
    mark_of(bright).tap()
    expect(bright).to_have_value("off")


def test_arrow_keys_step_a_knob_through_its_detents(visit: Visit, app: RunningApp, form_address: str) -> None:
    page = visit(app)
    gain = opened(page, form_address)
    gain.focus()
    gain.press("ArrowUp")
    expect(gain).to_have_value("5.1")
    gain.press("Shift+ArrowDown")
    expect(gain).to_have_value("4.6")
    gain.press("PageUp")
    expect(gain).to_have_value("5.6")
    gain.press("Control+a")
    gain.press("End")
    expect(gain).to_have_value("10.0")
    gain.press("Control+a")
    gain.press("Home")
    expect(gain).to_have_value("0.0")


@pytest.mark.parametrize(
    ("name", "typed", "readings"),
    [
        ("Gain", "half past 2", "7.5 · 2:30 · 75 %"),
        ("Gain", "noon", "5.0 · 12:00 · 50 %"),
        ("Gain", "max", "10.0 · 5:00 · 100 %"),
        ("Gain", "30 %", "3.0 · 10:00 · 30 %"),
        ("Time", "noon", "150 ms · 12:00 · 50 %"),
        ("Time", "700", "700 ms · 5:00 · 100 %"),
        ("Repeats", "2:30", "2:30 · 75 %"),
    ],
)
def test_what_is_typed_is_kept_and_shown_on_every_scale(
    visit: Visit, app: RunningApp, form_address: str, name: str, typed: str, readings: str
) -> None:
    page = visit(app)
    opened(page, form_address)
    field = control(page, AMP if name == "Gain" else DELAY, name).first
    field.fill(typed)
    field.press("Tab")
    expect(readings_of(field)).to_have_text(readings)
    expect(field).to_have_value(typed)


def test_a_reading_that_no_scale_knows_gets_a_sentence_at_its_field_and_loses_nothing(
    visit: Visit, app: RunningApp, form_address: str
) -> None:
    page = visit(app, expected={422})
    gain = opened(page, form_address)
    gain.fill("quite loud")
    gain.press("Tab")
    said = page.get_by_role("alert").filter(has_text="quite loud")
    expect(said).to_be_visible()
    expect(gain).to_have_attribute("aria-invalid", "true")
    expect(gain).to_have_accessible_description(re.compile("^“quite loud” is not a reading"))
    control(page, AMP, "Bass").fill("9:00")
    page.get_by_label("Notes").fill("the cone is dusty")
    press(page, "Save the pass")
    summary = page.get_by_role("alert").filter(has=page.get_by_role("heading", name="One thing to put right"))
    expect(summary).to_be_visible()
    summary.get_by_role("link").click()
    expect(gain).to_be_focused()
    expect(gain).to_have_value("quite loud")
    expect(control(page, AMP, "Bass")).to_have_value("9:00")
    expect(page.get_by_label("Notes")).to_have_value("the cone is dusty")
    gain.fill("8")
    gain.press("Tab")
    expect(gain).not_to_have_attribute("aria-invalid", "true")
    press(page, "Save the pass")
    expect(page.get_by_role("main")).to_contain_text("the cone is dusty")


def drag(page: Page, mark: Locator, *, up_px: float, aside_px: float = 0.0) -> None:
    box = box_of(mark)
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    if aside_px:
        page.mouse.move(x + aside_px, y, steps=3)
    page.mouse.move(x + aside_px, y - up_px, steps=12)
    page.mouse.up()


@dataclass(frozen=True)
class Finger:
    """Touches as the browser gets them from a screen, which Playwright's own touch screen cannot drag."""

    page: Page

    def drag(self, locator: Locator, *, up_px: float) -> None:
        box = box_of(locator)
        x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
        session = self.page.context.new_cdp_session(self.page)

        def touch(kind: str, *points: tuple[float, float]) -> None:
            session.send(
                "Input.dispatchTouchEvent",
                {"type": kind, "touchPoints": [{"x": x, "y": y} for x, y in points]},
            )

        touch("touchStart", (x, y))
        for step in range(1, 13):
            touch("touchMove", (x, y - up_px * step / 12))
        touch("touchEnd")
        session.detach()
