"""What stands in a library before the browser comes, written as the pages would have it written: only the session walks make
everything at the pages."""

import io
from dataclasses import dataclass, replace
from pathlib import Path

from made_audio import Sounds
from PIL import Image
from running_app import RunningApp
from small_session import attach, step_of, turned

from app.desk.passes import keepers, passes
from app.desk.passes.passes import PassEntry
from app.desk.passes.placements import PlacementEntry
from app.desk.photos import photos
from app.desk.projects import projects, sources
from app.desk.projects.projects import ProjectEntry
from app.desk.projects.sources import SourceEntry
from app.desk.shelf import gear
from app.library import Library

BOX = "Little re-amp box"
AMP = "Shed combo"
MICROPHONE = "Shed microphone"
LONG = "Ünendlich🎸🥁" + "W" * 187  # without a place to break
KNOB = LONG[:80]  # the longest name a control takes
MARKUP = "<b>&amp;\"'</b>"


@dataclass(frozen=True)
class LoggedSession:
    """Addresses of what `log_a_session` wrote; `pass_one` has no print."""

    project: str
    source: str
    pass_one: str


@dataclass(frozen=True)
class HostileSession:
    """Addresses of what `log_a_hostile_session` wrote."""

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


def shelve(library: Library, start: str, name: str) -> int:
    """A piece of gear with the controls of a layout to start from, unchanged."""
    return gear.add_gear(library, replace(gear.starting_entry(start), name=name))


def log_a_session(library: Library, sounds: Sounds) -> LoggedSession:
    box = shelve(library, "reamp_box", BOX)
    amp = shelve(library, "single_channel_amp", AMP)
    microphone = shelve(library, "microphone", MICROPHONE)
    project = projects.create_project(library, ProjectEntry("Shed session", "Invented people", "48000"))
    track = SourceEntry("Shed bass", "invented four-string bass")
    source = sources.create_source(library, project, track, _upload(sounds.source))
    turned = {"Gain": "5", "Bass": "4", "Middle": "6.5", "Treble": "half past 2"}
    steps = (
        step_of(library, box),
        step_of(library, amp, turned),
        replace(step_of(library, microphone), placement=PlacementEntry(distance="25 mm")),
    )
    pass_one = passes.log_pass(library, source, PassEntry("first try", steps=steps))
    return LoggedSession(f"/projects/{project}", f"/sources/{source}", f"/passes/{pass_one}")


def log_a_hostile_session(library: Library, sounds: Sounds) -> HostileSession:
    """A session whose every word is as long and as odd as it may be."""
    layout = gear.starting_entry("single_channel_amp")
    first, *others = layout.controls
    assert (first.name, others[0].name) == ("Input", "Gain")
    controls = (first, replace(others[0], name=KNOB), *others[1:])
    amp = gear.add_gear(library, replace(layout, name=LONG, notes=LONG, controls=controls))
    microphone = gear.add_gear(
        library, replace(gear.starting_entry("microphone"), name=LONG[::-1], notes=LONG)
    )
    project = projects.create_project(library, ProjectEntry(LONG, LONG, "48000", f"{LONG * 3}\n{MARKUP}"))
    file = f"{'w' * 200}.wav", sounds.source.read_bytes()
    track = SourceEntry(LONG, LONG, LONG, LONG, LONG, LONG * 3)
    source = sources.create_source(library, project, track, (file[0], io.BytesIO(file[1])))

    placed = PlacementEntry(speaker=LONG, distance="25 mm", preamp=LONG, note=LONG)
    steps = (
        step_of(library, amp, {KNOB: "noon", "Remark": LONG}),
        replace(step_of(library, microphone), placement=placed),
    )
    pass_one = passes.log_pass(library, source, PassEntry(LONG, LONG, LONG, LONG, steps))
    attach(library, pass_one, file[1], file[0], label=LONG)
    picture = io.BytesIO()
    Image.new("RGB", (1200, 300), "#556677").save(picture, "JPEG")
    picture.seek(0)
    photos.add_photo(library, "long.jpg", picture, pass_id=pass_one, caption=LONG)
    keepers.mark_keeper(library, pass_one, part=LONG, reason=LONG)
    following = passes.entry_for_next(library, source)
    pass_two = passes.log_pass(library, source, turned(library, following, amp, **{KNOB: "2:30"}))
    return HostileSession(
        f"/projects/{project}",
        f"/sources/{source}",
        f"/gear/{amp}",
        f"/passes/{pass_one}",
        f"/passes/{pass_two}",
    )


def _upload(path: Path) -> tuple[str, io.BytesIO]:
    return path.name, io.BytesIO(path.read_bytes())
