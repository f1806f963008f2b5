"""A picture of the panel, taken with a phone beside the amp: what it says stands in the pass after two taps, and beside the dials when it
is set up again."""

from pathlib import Path

import pytest
from already_logged import AMP, LoggedSession
from person import control, press, unfold
from playwright.sync_api import CDPSession, Page, expect
from running_app import RunningApp
from test_every_page_in_both_lights import look_at
from watched_browser import PHONE_PX, Visit

from app.demo import panel

READ_WITHIN_MS = 60_000
KNOBS = ("Gain", "Bass", "Middle", "Treble")
NOW = {"Gain": 60.0, "Treble": -90.0}  # degrees: 7 and 2 of a knob from 0 to 10


@pytest.fixture
def pictures(tmp_path: Path) -> tuple[Path, Path]:
    """A panel as it is marked, and as it stands now, from a little aside."""
    marked, now = tmp_path / "marked.png", tmp_path / "now.png"
    marked.write_bytes(panel.draw_panel({}))
    now.write_bytes(panel.draw_panel(NOW, from_aside=True))
    return marked, now


def drag_with_a_finger(page: Page, finger: CDPSession, *places: tuple[float, float]) -> None:
    """From place to place, in pixels of the drawn panel."""
    box = page.locator("[data-marks] svg").first.bounding_box()
    assert box is not None
    points = [
        {"x": box["x"] + x * box["width"] / panel.SIZE[0], "y": box["y"] + y * box["height"] / panel.SIZE[1]}
        for x, y in places
    ]
    finger.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": points[:1]})
    for point in points[1:]:
        finger.send("Input.dispatchTouchEvent", {"type": "touchMove", "touchPoints": [point]})
    finger.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})


def test_a_picture_becomes_the_settings_of_a_pass(
    visit: Visit, app: RunningApp, logged: LoggedSession, pictures: tuple[Path, Path]
) -> None:
    marked, now = pictures
    page = visit(app, width=PHONE_PX, touch=True)
    page.goto("/gear")
    page.get_by_role("link", name=AMP).first.click()
    unfold(page, "Add a photo")
    page.locator("input[name=photo]").set_input_files(marked)
    press(page, "Add the photo")
    page.get_by_role("link", name="Mark to read from").first.click()
    finger = page.context.new_cdp_session(page)
    for corner in panel.corners():
        drag_with_a_finger(page, finger, corner)
    for name in KNOBS:
        row = page.locator("fieldset.panel-row").filter(has_text=name)
        row.get_by_role("radio").check()
        page.locator("[data-marks]").scroll_into_view_if_needed()
        x, y = panel.centre_of(name)
        drag_with_a_finger(page, finger, (x, y), (x + panel.RADIUS / 2, y), (x + panel.RADIUS, y))
        row.get_by_label("Stands here at").fill("50 %")
    press(page, "Save the marks")
    expect(page.get_by_role("link", name="Marked to be read from").first).to_be_visible()

    page.goto(f"{logged.source}/passes/new")
    page.locator("label input[data-photos-of]").first.set_input_files(now)
    lines = page.locator("#photo-readings .read-line")
    expect(lines).to_have_count(len(KNOBS), timeout=READ_WITHIN_MS)
    expect(page.locator("#photo-readings .notice")).to_have_count(0, timeout=READ_WITHIN_MS)
    said = {line.locator("label").inner_text(): line.locator("input").input_value() for line in lines.all()}
    assert said["Gain"] == "7"
    assert said["Treble"] == "2"
    assert look_at(page) == []
    lines.filter(has_text="Gain").locator("input").fill("6.5")  # nudged
    page.locator("#photo-readings").get_by_role("button", name="Take the").click()
    expect(control(page, AMP, "Gain")).to_have_value("6.5")
    expect(control(page, AMP, "Treble")).to_have_value("2")
    press(page, "Save the pass")
    crops = page.get_by_role("img", name="as it was photographed")
    expect(crops.first).to_be_visible()
    assert crops.first.evaluate("image => image.decode().then(() => image.naturalWidth)") == 96

    page.get_by_role("link", name="Recall", exact=True).first.click()
    page.get_by_role("button", name="Begin a recall").click()
    page.get_by_role("button", name="List").click()
    page.get_by_role("link", name=AMP).first.click()
    page.get_by_role("link", name="Camera").click()
    page.locator("input[name=camera]").set_input_files(now)
    page.get_by_role("button", name="Read the picture").click()
    off = page.locator("#camera-seen .read-line").filter(has_text="Gain")
    expect(off).to_contain_text("to the left, 6.5 not 7", timeout=READ_WITHIN_MS)
    assert look_at(page) == []
    page.get_by_role("button", name="Tick the").click()
    expect(page.locator("#camera-seen .read-line").filter(has_text="Treble")).to_contain_text("ticked")
    expect(off).not_to_contain_text("ticked")
