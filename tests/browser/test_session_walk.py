"""The first session, from an empty folder to a kept pass that can be set up again, as a person would do it on a phone; each page
on the way is looked at in a window of a desk as well."""

import csv
import io
import re
from contextlib import closing
from pathlib import Path

import pytest
from already_logged import shelve
from made_audio import DELAY_SAMPLES, LENGTH_S, Sounds
from person import (
    add_to_chain,
    attach_prints,
    bring_in_source,
    control,
    gear_in_chain,
    press,
    print_row,
    prints_of,
    put_on_shelf,
    row_of,
    unfold,
)
from PIL import Image
from playwright.sync_api import Download, Page, expect
from pypdf import PdfReader
from running_app import RunningApp
from watched_browser import DESK_PX, HEIGHT_PX, PHONE_PX, Visit, overflow_px

from app.library import Library

GEAR = (
    ("reamp_box", "Grey re-amp box", "re-amp box"),
    ("fuzz", "Green fuzz", "pedal"),
    ("single_channel_amp", "Small valve combo", "amp"),
    ("microphone", "Close microphone", "microphone"),
    ("microphone", "Far microphone", "microphone"),
)


def test_a_whole_session(visit: Visit, empty_app: RunningApp, sounds: Sounds, tmp_path: Path) -> None:
    page = visit(empty_app, width=PHONE_PX, touch=True)
    page.goto("/")
    expect(page.get_by_role("heading", name="Nothing logged yet")).to_be_visible()
    page.get_by_role("link", name="New project").click()
    page.get_by_label("Title").fill("Boathouse EP")
    page.get_by_label("Artist").fill("An invented trio")
    page.get_by_label("Sample rate").select_option(label="48 kHz")
    press(page, "Save")
    expect(page.get_by_role("heading", level=1)).to_have_text("Boathouse EP")
    no_overflow(page)

    bring_in_source(page, sounds.source, "Slack line, bass")
    source_address = page.url
    page.locator(".desk-strip > summary").click()
    measures = page.locator("#measures")
    expect(measures.get_by_text("Loudness", exact=True)).to_be_visible()  # without a reload
    expect(measures).to_contain_text(f"{LENGTH_S:.2f} s")
    expect(measures).to_contain_text("48 kHz, 1 channel")
    no_overflow(page)

    put_on_shelf(page, "Fuzz", "Green fuzz")
    give_the_fuzz_another_knob(page)
    with closing(Library(empty_app.library)) as library:
        for start, name, _ in GEAR:
            if name != "Green fuzz":
                shelve(library, start, name)

    page.goto(source_address)
    page.goto(f"{page.url}/passes/new")
    for _, name, kind in GEAR:
        add_to_chain(page, name, kind)
    names = page.get_by_role("main").get_by_role("heading", level=2)
    expect(names.nth(1)).to_contain_text("Green fuzz")
    set_the_first_pass(page)
    no_overflow(page)
    press(page, "Save the pass")
    expect(page.get_by_role("heading", level=1)).to_have_text("Pass 1: as it stands")
    chain = page.get_by_role("main")
    for words in ("half past 2", "noon", "25 mm from the grille", "figure-eight"):
        expect(chain).to_contain_text(words)
    no_overflow(page)

    page.goto(source_address)
    page.goto(f"{page.url}/passes/new")
    gain = control(page, "Small valve combo", "Gain")
    expect(gain).to_have_value("6.5")
    gain.fill("4")
    page.get_by_label("Title").fill("less gain")
    press(page, "Save the pass")

    attach_prints(page, sounds.close, sounds.far)
    prints = page.locator("#prints")
    expect(prints_of(page)).to_have_count(2)
    expect(prints.get_by_role("cell", name="samples")).to_have_count(2)
    no_overflow(page)
    whole = print_row(page, "close microphone.wav")
    delay = re.search(r"([\d.]+)\ssamples", whole.inner_text())
    assert delay is not None
    assert float(delay[1]) == pytest.approx(DELAY_SAMPLES, abs=1)
    spoilt = print_row(page, "far microphone.wav")
    expect(spoilt.get_by_text("upside down against the source")).to_be_visible()

    add_a_photo(page, tmp_path)
    pass_address = page.url.partition("#")[0]

    page.goto(source_address)
    expect(page.get_by_role("heading", level=1)).to_have_text("Slack line, bass")
    chip, cell = page.locator(".chip", has_text="Gain"), row_of(page, "Gain").locator("td").last
    expect(chip).to_contain_text("6.5 → 4")
    no_overflow(page)
    page.set_viewport_size({"width": DESK_PX, "height": HEIGHT_PX})
    expect(cell).to_contain_text("was 6.5")
    expect(chip).to_be_hidden()
    page.set_viewport_size({"width": PHONE_PX, "height": HEIGHT_PX})
    expect(cell).to_be_hidden()

    page.get_by_label("Compare pass 1").filter(visible=True).check()
    page.get_by_label("Compare pass 2").filter(visible=True).check()
    page.get_by_role("button", name="Compare 2").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Compare passes 1, 2")
    page.get_by_role("link", name="All", exact=True).click()
    expect(row_of(page, "Bass")).to_be_visible()
    page.get_by_role("link", name="Changes", exact=True).click()
    expect(row_of(page, "Gain")).to_be_visible()
    expect(row_of(page, "Bass")).to_have_count(0)
    no_overflow(page)
    page.get_by_role("link", name=re.compile("Mark as keeper.*pass 2")).click()
    unfold(page, "This one stays")
    page.get_by_label("Why this one stays").fill("the low string answers")
    page.get_by_label("Part").fill("left")
    press(page, "Mark as keeper")
    expect(page.locator("#keeper")).to_contain_text("Keeper: left – the low string answers")

    page.goto(pass_address)
    unfold(page, "More")
    page.get_by_role("link", name="Recall sheet").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Recall sheet: Slack line, bass, pass 2")
    sheet = page.get_by_role("main")
    for words in ("Small valve combo", "half past 2", "2:30 · 75 %", "25 mm from the grille", "left"):
        expect(sheet).to_contain_text(words)
    no_overflow(page)
    paper = pdf_text(download(page, "PDF"))
    for words in ("Slack line, bass", "Small valve combo", "half past 2", "the low string answers"):
        assert words in paper

    page.goto("/projects")
    page.get_by_role("link", name="Boathouse EP").click()
    page.get_by_role("link", name="Session log").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Session log: Boathouse EP")
    no_overflow(page)
    assert "less gain" in pdf_text(download(page, "PDF"))
    table = download(page, "CSV")
    rows = list(csv.reader(io.StringIO(Path(table.path()).read_text(encoding="utf-8-sig"))))
    assert len({len(row) for row in rows}) == 1
    assert any("half past 2" in row for row in rows)

    find(page, "answers")
    hit = page.get_by_role("listitem").filter(has_text="the low string answers")
    expect(hit).to_contain_text("keeper")
    no_overflow(page)
    hit.get_by_role("link").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Pass 2: less gain")


def give_the_fuzz_another_knob(page: Page) -> None:
    page.goto("/gear")
    page.get_by_role("link", name="Green fuzz").click()
    unfold(page, "More")
    page.get_by_role("link", name="Edit").click()
    press(page, "Add a control")
    row = page.get_by_role("group", name="New control")
    row.get_by_label("Name").fill("Bias")
    row.get_by_label("What it is").select_option(label="Knob")
    row.get_by_label("Scale").select_option(label="Clock positions")
    press(page, "Save")
    expect(row_of(page, "Bias")).to_be_visible()


def set_the_first_pass(page: Page) -> None:
    control(page, "Grey re-amp box", "Level").fill("max")
    control(page, "Green fuzz", "Fuzz").fill("half past 2")
    control(page, "Green fuzz", "Bias").fill("noon")
    control(page, "Green fuzz", "Effect").select_option("on")
    for knob, reading in (("Gain", "6.5"), ("Bass", "5"), ("Treble", "70 %"), ("Master", "4")):
        control(page, "Small valve combo", knob).fill(reading)
    close = gear_in_chain(page, "Close microphone")
    close.get_by_label("Distance from the grille").fill("25 mm")
    close.get_by_label("Off the centre").fill("40")
    close.get_by_label("Speaker").fill("1×12")
    far = gear_in_chain(page, "Far microphone")
    far.get_by_label("Distance from the grille").fill("1.2 m")
    far.get_by_label("Pattern").last.fill("figure-eight")
    page.get_by_label("Title").fill("as it stands")
    page.get_by_label("Notes").fill("Door open, the amp on two planks.")


def add_a_photo(page: Page, folder: Path) -> None:
    picture = folder / "combo.jpg"
    Image.new("RGB", (640, 480), "#887755").save(picture)
    unfold(page, "Add a photo")
    page.get_by_label("Photo", exact=True).set_input_files(picture)
    page.get_by_label("Caption").fill("both microphones at the combo")
    press(page, "Add the photo")
    shown = page.get_by_role("img", name="both microphones at the combo")
    expect(shown).to_be_visible()
    shown.scroll_into_view_if_needed()
    expect(shown).to_have_js_property("complete", True)
    assert shown.evaluate("picture => picture.naturalWidth") > 0


def find(page: Page, words: str) -> None:
    page.get_by_role("link", name="Find", exact=True).click()
    box = page.get_by_role("searchbox", name="Words")
    box.fill(words)
    box.press("Enter")


def download(page: Page, link: str) -> Download:
    with page.expect_download() as downloading:
        page.get_by_role("link", name=link, exact=True).click()
    return downloading.value


def pdf_text(made: Download) -> str:
    text = " ".join(page.extract_text() for page in PdfReader(made.path()).pages)
    return re.sub(r"\s+", " ", text)


def no_overflow(page: Page) -> None:
    for width in (DESK_PX, PHONE_PX):
        page.set_viewport_size({"width": width, "height": HEIGHT_PX})
        assert overflow_px(page) <= 0, f"{page.url} is wider than {width} px"
