"""Controls are marked in a photo of a piece of gear: tap the centre, drag to the edge, say where it stands."""

import io
from pathlib import Path

import pytest
from person import put_on_shelf, unfold
from PIL import Image, ImageDraw
from playwright.sync_api import Page, expect
from running_app import RunningApp
from test_every_page_in_both_lights import look_at
from watched_browser import DESK_PX, PHONE_PX, Visit


@pytest.fixture
def photo(tmp_path: Path) -> Path:
    """A drawn panel with one knob, whose place is known: its middle at half the width and height."""
    drawn = Image.new("RGB", (800, 600), (90, 90, 96))
    pen = ImageDraw.Draw(drawn)
    pen.rectangle((80, 60, 720, 540), fill=(40, 60, 50))
    pen.ellipse((320, 220, 480, 380), fill=(20, 20, 20))
    pen.line((400, 300, 400, 230), fill=(240, 240, 240), width=8)
    made = io.BytesIO()
    drawn.save(made, "JPEG")
    path = tmp_path / "panel.jpg"
    path.write_bytes(made.getvalue())
    return path


def at_the_marks(page: Page, photo: Path) -> None:
    put_on_shelf(page, "Fuzz", "Fuzz to be photographed")
    unfold(page, "Add a photo")
    page.get_by_label("Photo", exact=True).set_input_files(photo)
    page.get_by_role("button", name="Add the photo").click()
    page.get_by_role("link", name="Mark to read from").first.click()
    expect(page.get_by_role("heading", name="Where its controls are")).to_be_visible()


def drag(page: Page, begin: tuple[float, float], end: tuple[float, float]) -> None:
    """From one place to another, in shares of the picture."""
    box = page.locator("[data-marks] svg").first.bounding_box()
    assert box is not None
    places = [(box["x"] + x * box["width"], box["y"] + y * box["height"]) for x, y in (begin, end)]
    page.mouse.move(*places[0])
    page.mouse.down()
    page.mouse.move(*places[1], steps=4)
    page.mouse.up()


@pytest.mark.parametrize("width", [DESK_PX, PHONE_PX])
def test_a_panel_is_marked_by_tapping_and_dragging(
    visit: Visit, app: RunningApp, photo: Path, width: int
) -> None:
    page = visit(app, width=width)
    at_the_marks(page, photo)
    assert look_at(page) == []
    page.set_viewport_size({"width": width, "height": 900})
    for corner in ((0.1, 0.1), (0.9, 0.1), (0.9, 0.9), (0.1, 0.9)):
        drag(page, corner, corner)  # each goes on to the next
    expect(page.locator(".panel-outline")).to_have_count(1)
    first = page.locator("fieldset.panel-row").nth(1)
    expect(first.get_by_role("radio")).to_be_checked()
    drag(page, (0.5, 0.5), (0.6, 0.5))
    expect(first.get_by_label("Stands here at")).to_be_focused()
    places = [float(field.input_value()) for field in first.locator(".panel-places input").all()]
    assert places == pytest.approx([50, 50, 60, 50], abs=0.5)
    page.locator("[data-marks] svg").first.focus()
    page.keyboard.press("Shift+ArrowRight")
    nudged = float(first.locator(".panel-places input").nth(2).input_value())
    assert nudged == pytest.approx(places[2] + 0.75, abs=0.02), "a hundredth of the shorter side"
    first.get_by_label("Stands here at").fill("noon")
    page.get_by_role("button", name="Save the marks").click()
    expect(page.get_by_role("link", name="Marked to be read from").first).to_be_visible()


def test_a_panel_is_marked_without_script(visit: Visit, app: RunningApp, photo: Path) -> None:
    page = visit(app, javascript=False, expected={422})
    at_the_marks(page, photo)
    for at, place in enumerate(("10", "10", "90", "10", "90", "90", "10", "90")):
        page.locator(f"#corner-{at // 2}-{'xy'[at % 2]}").fill(place)
    row = page.locator("fieldset.panel-row").nth(1)
    for field, place in zip(row.locator(".panel-places input").all(), ("50", "50", "60", "50"), strict=True):
        field.fill(place)
    page.get_by_role("button", name="Save the marks").click()
    expect(page.locator(".field-error").first).to_contain_text("stands in this picture")
    row.get_by_label("Stands here at").fill("noon")
    page.get_by_role("button", name="Save the marks").click()
    expect(page.get_by_role("link", name="Marked to be read from").first).to_be_visible()
