"""A session whose every word is as long and as odd as it may be, made at the pages."""

from dataclasses import dataclass
from pathlib import Path

from made_audio import Sounds
from person import add_to_chain, attach_prints, gear_in_chain, press, prints_of, unfold
from PIL import Image
from playwright.sync_api import Page, expect
from running_app import RunningApp

LONG = "Ünendlich🎸🥁" + "W" * 187  # without a place to break
KNOB = LONG[:80]  # the longest name a control takes
MARKUP = "<b>&amp;\"'</b>"


@dataclass(frozen=True)
class HostileSession:
    project: str
    source: str
    gear: str
    pass_one: str
    pass_two: str


@dataclass(frozen=True)
class InventedApp:
    """The demo's invented session, wholly measured, with a hostile session beside it."""

    app: RunningApp
    hostile: HostileSession


def log_a_hostile_session(page: Page, sounds: Sounds, folder: Path) -> HostileSession:
    gear = _gear(page, LONG, "Single-channel amp", "Amp")
    microphone = LONG[::-1]
    _gear(page, microphone, "Microphone", "Microphone")

    page.goto("/projects/new")
    page.get_by_label("Title").fill(LONG)
    page.get_by_label("Artist").fill(LONG)
    page.get_by_label("Notes").fill(f"{LONG * 3}\n{MARKUP}")
    press(page, "Save")
    expect(page.get_by_role("heading", level=1)).to_have_text(LONG)
    project = page.url

    page.get_by_role("link", name="Bring in a source track").click()
    file = folder / f"{'w' * 200}.wav"
    file.write_bytes(sounds.source.read_bytes())
    page.get_by_label("Audio file").set_input_files(file)
    for label in ("Name", "Instrument", "Recorded with", "Gain", "Tuning"):
        page.get_by_label(label, exact=True).fill(LONG)
    page.get_by_label("Notes").fill(LONG * 3)
    press(page, "Save")
    expect(page.get_by_role("heading", level=1)).to_have_text(LONG)
    source = page.url

    page.goto(f"{page.url}/passes/new")
    add_to_chain(page, LONG, "amp")
    add_to_chain(page, microphone, "microphone")
    amp = gear_in_chain(page, LONG)
    amp.get_by_label(KNOB).fill("noon")
    amp.get_by_label("Remark").fill(LONG)
    placement = gear_in_chain(page, microphone)
    for label in ("Speaker", "Preamp", "Note"):
        placement.get_by_label(label, exact=True).fill(LONG)
    placement.get_by_label("Distance from the grille").fill("25 mm")
    for label in ("Title", "Notes", "Hook-up", "Levels"):
        page.get_by_label(label, exact=True).fill(LONG)
    press(page, "Save the pass")
    expect(page.get_by_role("heading", level=1)).to_have_text(f"Pass 1: {LONG}")
    pass_one = page.url

    attach_prints(page, file, label=LONG)
    expect(prints_of(page)).to_have_count(1)
    picture = folder / "long.jpg"
    Image.new("RGB", (1200, 300), "#556677").save(picture)
    unfold(page, "Add a photo")
    page.get_by_label("Photo", exact=True).set_input_files(picture)
    page.get_by_label("Caption").fill(LONG)
    press(page, "Add the photo")
    expect(page.get_by_role("img", name=LONG, exact=True)).to_be_visible()
    unfold(page, "This one stays")
    page.get_by_label("Why this one stays").fill(LONG)
    page.get_by_label("Part", exact=True).fill(LONG)
    press(page, "Mark as keeper")
    expect(page.locator("#keeper")).to_contain_text(f"Keeper: {LONG}")

    page.get_by_role("link", name="Next pass from this").click()
    gear_in_chain(page, LONG).get_by_label(KNOB).fill("2:30")
    press(page, "Save the pass")
    expect(page.get_by_role("heading", level=1)).to_have_text("Pass 2")
    return HostileSession(project, source, gear, pass_one, page.url)


def _gear(page: Page, name: str, layout: str, kind: str) -> str:
    """A piece of gear called `name`, with a first knob of a long name on an amp."""
    page.goto("/gear/new")
    page.get_by_role("link", name=layout, exact=True).click()
    page.get_by_label("Name", exact=True).first.fill(name)
    page.get_by_label("Notes").fill(LONG)
    if kind == "Amp":
        page.get_by_role("group", name="Gain").get_by_label("Name").fill(KNOB)
    press(page, "Save")
    expect(page.get_by_role("heading", level=1)).to_have_text(name)
    return page.url
