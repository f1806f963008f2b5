"""The same core walk with JavaScript off: every step is a form or a link."""

from pathlib import Path

from already_logged import AMP, BOX, MICROPHONE
from made_audio import Sounds
from person import (
    add_to_chain,
    attach_prints,
    begin_project,
    bring_in_source,
    control,
    gear_in_chain,
    press,
    prints_of,
    put_on_shelf,
    row_of,
    unfold,
)
from PIL import Image
from playwright.sync_api import Page, expect
from running_app import RunningApp, wait_until_measured
from watched_browser import PHONE_PX, Visit, overflow_px


def test_a_session_works_without_script_on_a_phone(
    visit: Visit, empty_app: RunningApp, sounds: Sounds, tmp_path: Path
) -> None:
    page = visit(empty_app, width=PHONE_PX, javascript=False, expected={422})
    put_on_shelf(page, "Re-amp box", BOX)
    put_on_shelf(page, "Single-channel amp", AMP)
    put_on_shelf(page, "Microphone", MICROPHONE)
    add_a_control(page)
    begin_project(page, "No script", "Invented people")
    bring_in_source(page, sounds.source, "Plain bass")
    source = page.url

    page.get_by_role("link", name="First pass").click()
    for name, kind in ((BOX, "re-amp box"), (AMP, "amp"), (MICROPHONE, "microphone")):
        add_to_chain(page, name, kind)
    control(page, AMP, "Gain").fill("half past two")
    control(page, AMP, "Bass").fill("blue")
    gear_in_chain(page, MICROPHONE).get_by_label("Distance from the grille").fill("1 in")
    press(page, "Save the pass")
    expect(page.get_by_role("heading", name="One thing to put right")).to_be_visible()
    bass = control(page, AMP, "Bass")
    expect(bass).to_have_attribute("aria-invalid", "true")
    expect(bass).to_have_value("blue")
    expect(control(page, AMP, "Gain")).to_have_value("half past two")
    bass.fill("noon")
    press(page, "Save the pass")
    expect(page.get_by_role("heading", level=1)).to_have_text("Pass 1")

    page.goto(source)
    page.get_by_role("link", name="Next pass").click()
    control(page, AMP, "Gain").fill("9:00")
    press(page, "Save the pass")
    expect(page.get_by_role("heading", level=1)).to_have_text("Pass 2")
    attach_prints(page, sounds.close, sounds.far)
    expect(prints_of(page)).to_have_count(2)
    wait_until_measured(empty_app)
    page.reload()
    expect(page.get_by_text("upside down against the source")).to_be_visible()

    picture = tmp_path / "combo.png"
    Image.new("RGB", (64, 48), "#446655").save(picture)
    unfold(page, "Add a photo")
    page.get_by_label("Photo", exact=True).set_input_files(picture)
    page.get_by_label("Caption").fill("the combo")
    press(page, "Add the photo")
    expect(page.get_by_role("img", name="the combo")).to_be_visible()
    unfold(page, "This one stays")
    page.get_by_label("Why this one stays").fill("it is enough")
    press(page, "Mark as keeper")
    expect(page.locator("#keeper")).to_contain_text("it is enough")
    unfold(page, "More")
    page.get_by_role("link", name="Recall sheet").click()
    expect(page.get_by_role("main")).to_contain_text("9:00")

    page.goto(source)
    expect(page.locator(".chip", has_text="Gain")).to_have_text("Gain half past two → 9:00")
    page.get_by_label("Compare pass 1").filter(visible=True).check()
    page.get_by_label("Compare pass 2").filter(visible=True).check()
    press(page, "Compare")
    expect(page.get_by_role("heading", level=1)).to_have_text("Compare passes 1, 2")
    assert overflow_px(page) <= 0

    page.get_by_role("link", name="Find").click()
    page.get_by_role("searchbox", name="Words").fill("enough")
    press(page, "Find")
    expect(page.get_by_role("listitem").filter(has_text="it is enough")).to_be_visible()


def add_a_control(page: Page) -> None:
    """To the gear whose page is open."""
    unfold(page, "More")
    page.get_by_role("link", name="Edit").click()
    press(page, "Add a control")
    row = page.get_by_role("group", name="New control")
    row.get_by_label("Name").fill("Tilt")
    row.get_by_label("What it is").select_option(label="Number with unit")
    press(page, "Save")
    expect(row_of(page, "Tilt")).to_be_visible()
