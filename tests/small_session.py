"""A small invented session that fills a library with one of everything, and the audio files tests bring in.

Everything here is invented: gear is called by what it is, and the sound is a tone.
"""

import io
import math
import os
import struct
from array import array
from dataclasses import dataclass, replace
from pathlib import Path

from PIL import Image

from app.desk.arrivals import watched_folders
from app.desk.arrivals.lookout import Lookout
from app.desk.arrivals.watched_folders import FolderEntry
from app.desk.files import stored_files
from app.desk.listening import blind
from app.desk.measuring import measurements
from app.desk.passes import drafts, keepers, passes
from app.desk.passes.pass_sheets import SettingSheet, StepSheet, read_pass
from app.desk.passes.passes import PassEntry, StepEntry
from app.desk.passes.placements import PlacementEntry
from app.desk.photos import photos
from app.desk.prints import prints
from app.desk.projects import projects, sources
from app.desk.projects.projects import ProjectEntry
from app.desk.projects.sources import SourceEntry
from app.desk.recall import references, runs, tries
from app.desk.shelf import gear
from app.desk.shelf.control_entries import ControlEntry
from app.desk.shelf.gear import GearEntry
from app.library import Library
from app.records import Arrival, ReferenceSignal, SettingCrop
from app.signal.figures import (
    AlignmentFigures,
    BandLevel,
    ClippedRun,
    Dropout,
    FaultFigures,
    FileFigures,
    Hum,
    LevelFigures,
    LoudnessPoint,
    Overview,
    PrintFigures,
    to_json,
)
from app.signal.reference.plan import plan_reference, plan_to_json
from app.trade.distances import LengthUnit

PCM, FLOAT = 1, 3


def wav(
    data: bytes,
    *,
    bits: int = 16,
    channels: int = 1,
    sample_rate: int = 48_000,
    encoding: int = PCM,
    promised_bytes: int | None = None,
) -> bytes:
    """A WAV file of these sample bytes; `promised_bytes` is what its header says there are, if not the truth."""
    size = len(data) if promised_bytes is None else promised_bytes
    block = channels * bits // 8
    layout = struct.pack("<HHIIHH", encoding, channels, sample_rate, sample_rate * block, block, bits)
    chunks = b"fmt " + struct.pack("<I", len(layout)) + layout + b"data" + struct.pack("<I", size) + data
    return b"RIFF" + struct.pack("<I", 4 + len(chunks) - len(data) + size) + b"WAVE" + chunks


def tone(seconds: float = 1.0, *, hz: float = 220.0, level: float = 0.3, sample_rate: int = 48_000) -> bytes:
    """A mono 16-bit WAV file of a tone that dies away, as a plucked note does."""
    count = int(seconds * sample_rate)
    samples = array(
        "h",
        (
            int(32_000 * level * math.exp(-2 * at / count) * math.sin(2 * math.pi * hz * at / sample_rate))
            for at in range(count)
        ),
    )
    return wav(samples.tobytes(), sample_rate=sample_rate)


def picture(width: int = 64, height: int = 48, *, shade: int = 90) -> bytes:
    made = io.BytesIO()
    Image.new("RGB", (width, height), (shade, 120, 60)).save(made, "JPEG")
    return made.getvalue()


def figures(
    *,
    lufs: float | None = -18.3,
    delay_samples: float | None = 37.0,
    clipped: tuple[float, ...] = (),
    aligned: bool = True,
    ends_early_s: float | None = None,
) -> PrintFigures:
    """Figures as the measuring room would write them down."""
    alignment = AlignmentFigures(
        delay_samples, None if delay_samples is None else delay_samples / 48, "inverted", 0.97, 0.0, True
    )
    return PrintFigures(
        file=FileFigures(48_000, 1, 48_000, 1.0, "WAV", "PCM_16"),
        level=LevelFigures(lufs, 3.0, -15.0, -16.0, -3.2, -3.4, -20.0, 16.6, 0.0),
        bands=tuple(
            BandLevel(round(1000 * 10 ** (x / 10)), 1000 * 10 ** (x / 10), -40.0 - x) for x in range(-17, 14)
        ),
        faults=FaultFigures(
            silent=False,
            clipped_runs=tuple(ClippedRun(at, 4) for at in clipped),
            dropouts=(Dropout(0.4, "gap", 64),) if clipped else (),
            hum=Hum(50.0, -61.0, 0.9) if clipped else None,
            noise_floor_dbfs=-80.0,
            starts_late_s=0.0,
            ends_early_s=ends_early_s,
        ),
        alignment=alignment if aligned else None,
        overview=Overview(((-0.2, 0.2), (-0.1, 0.1), (0.0, 0.0)), (LoudnessPoint(1.5, lufs),)),
        notes=("An invented note.",),
    )


AMP_CONTROLS = (
    ControlEntry(name="Gain"),
    ControlEntry(name="Tone", scale="clock"),
    ControlEntry(name="Mix", scale="percent"),
    ControlEntry(name="Trim", scale="range", low="-15", high="15", unit="dB"),
    ControlEntry(name="Time", scale="marks", unit="ms", marks="20 at 7:00, 120 at noon, 600 at 5:00"),
    ControlEntry(
        name="Level", form="fader", scale="marks", unit="dB", marks="-60 at 0 %, 0 at 75 %, 10 at 100 %"
    ),
    ControlEntry(name="Input", form="selector", positions="high, low, link"),
    ControlEntry(name="Bright", form="switch", positions="off, on"),
    ControlEntry(name="Mains", form="number", unit="V"),
    ControlEntry(name="Remark", form="text"),
)
AMP_READINGS = {
    "Gain": "6.5",
    "Tone": "half past 2",
    "Mix": "40 %",
    "Trim": "-3 dB",
    "Time": "120 ms",
    "Level": "-10 dB",
    "Input": "low",
    "Bright": "on",
    "Mains": "231 V",
    "Remark": "valves warm",
}


@dataclass(frozen=True)
class SmallSession:
    """The ids of what `fill` made. Passes 1 to 3 are of `bass`; pass 1 knows the amp as it was before it was edited."""

    project: int
    bass: int
    organ: int
    box: int
    amp: int
    fuzz: int
    cabinet: int
    near_mic: int
    unused: int
    retired: int
    interface: int
    passes: tuple[int, int, int]
    prints: tuple[int, int, int]
    keeper: int
    photos: tuple[int, int, int]
    blind: int
    test: int
    folder: int
    arrival: int
    recall: int
    tried: int
    reference: int
    reference_print: int
    draft: int


def put_on_shelf(library: Library, name: str, kind: str, *controls: ControlEntry) -> int:
    return gear.add_gear(library, GearEntry(name, kind, "", controls))


def step_of(library: Library, gear_id: int, readings: dict[str, str] | None = None) -> StepEntry:
    """A step at the gear's newest layout, its readings given by the controls' names."""
    newest = gear.read_gear(library, gear_id).newest
    ids = {control.spec.name: control.control_id for control in newest.controls}
    typed = {ids[name]: text for name, text in (readings or {}).items()}
    placement = PlacementEntry() if newest.kind == "microphone" else None
    return StepEntry(gear_id, newest.layout_id, readings=typed, placement=placement)


def turned(library: Library, entry: PassEntry, gear_id: int, **readings: str) -> PassEntry:
    """The entry with some controls of one piece of gear set anew, by name."""
    steps = []
    for step in entry.steps:
        if step.gear_id == gear_id:
            ids = {c.spec.name: c.control_id for c in gear.read_layout(library, step.layout_id)}
            step = replace(
                step, readings=step.readings | {ids[name]: text for name, text in readings.items()}
            )
        steps.append(step)
    return replace(entry, steps=tuple(steps))


def correct(library: Library, pass_id: int, entry: PassEntry, *, unit: LengthUnit = "mm") -> None:
    """Save a logged pass as changed, without going through a jotting."""
    with library.writing() as session:
        passes.write_edit(session, pass_id, entry, unit)


def bring_in(library: Library, project_id: int, name: str, audio: bytes | None = None) -> int:
    given = None if audio is None else (f"{name}.wav", io.BytesIO(audio))
    return sources.create_source(library, project_id, SourceEntry(name), given)


def attach(
    library: Library, pass_id: int, audio: bytes, name: str = "print.wav", **of: int | str | None
) -> int:
    return prints.attach_print(library, pass_id, name, io.BytesIO(audio), **of)  # type: ignore[arg-type]


def measured(library: Library, made: PrintFigures | None, reason: str = "") -> None:
    """Finish the oldest waiting measurement, as the measuring process would."""
    waiting = measurements.claim(library)
    assert waiting is not None
    measurements.finish(library, waiting.id, None if made is None else to_json(made), reason)


def confirm_by_picture(library: Library, pass_id: int, content: bytes) -> tuple[StepSheet, SettingSheet]:
    """Have the first noted setting of a pass confirmed by a picture."""
    steps = read_pass(library, pass_id).steps
    step, line = next((step, line) for step in steps for line in step.settings if line.is_set)
    taken = library.files.take_in(io.BytesIO(content))
    with library.writing() as session:
        file_id = stored_files.record(session, taken, "image/jpeg")
        session.add(
            SettingCrop(
                step_id=step.step_id, control_id=line.control_id, reading=line.reading, file_id=file_id
            )
        )
    return step, line


def fill(library: Library) -> SmallSession:
    box = put_on_shelf(library, "re-amp box", "reamp_box", ControlEntry(name="Trim", scale="clock"))
    fuzz = put_on_shelf(library, "silicon fuzz", "pedal", ControlEntry(name="Fuzz", scale="clock"))
    amp = put_on_shelf(library, "15-watt valve combo", "amp", *AMP_CONTROLS)
    cabinet = put_on_shelf(library, "1×12 cabinet", "cabinet")
    near_mic = put_on_shelf(library, "small ribbon microphone", "microphone")
    unused = put_on_shelf(library, "spare DI box", "di_box")
    retired = put_on_shelf(library, "sold chorus", "pedal")
    interface = put_on_shelf(library, "eight-in interface", "interface")
    gear.retire_gear(library, retired, retired=True)

    project = projects.create_project(
        library, ProjectEntry("Boathouse", "Invented Trio", "48000", "Rain on tin.")
    )
    projects.create_project(library, ProjectEntry("Nothing yet"))
    bass = bring_in(library, project, "bass DI", tone(0.5))
    measured(library, figures(aligned=False))
    organ = bring_in(library, project, "organ line")

    entry = PassEntry(
        "first try",
        "Kept it quiet.\nNeighbours.",
        "Output 3 to the box.",
        "Box trim at noon.",
        (
            step_of(library, box, {"Trim": "noon"}),
            step_of(library, fuzz, {"Fuzz": "10 o'clock"}),
            step_of(library, amp, AMP_READINGS),
            step_of(library, cabinet),
            replace(
                step_of(library, near_mic),
                placement=PlacementEntry(
                    "left", "30", "40", "15", "600", "figure-8", "-10", "80", "first", "6", "on a towel"
                ),
            ),
        ),
    )
    first = passes.log_pass(library, bass, entry)
    renamed = gear.gear_entry(library, amp)
    gear.edit_gear(
        library,
        amp,
        replace(renamed, controls=(replace(renamed.controls[0], name="Drive"), *renamed.controls[1:])),
    )
    following = passes.entry_for_next(library, bass)
    second = passes.log_pass(library, bass, turned(library, following, amp, Drive="7", Bright="off"))
    third_entry = passes.without_step(passes.entry_for_next(library, bass), 1)
    branched = tuple(
        replace(step, branch="A") if step.gear_id in (amp, cabinet) else step for step in third_entry.steps
    )
    third = passes.log_pass(library, bass, replace(third_entry, title="no fuzz", steps=branched))

    mic_step = step_id_of(library, first, near_mic)
    made = (
        attach(library, first, tone(0.5, hz=221), "near.wav", step_id=mic_step, label="near"),
        attach(library, second, tone(0.5, hz=222), "far.wav"),
        attach(library, third, tone(0.5, hz=223), "odd.wav"),
    )
    measured(library, figures(clipped=(63.2, 64.0), ends_early_s=4.2))
    measured(library, None, "“odd.wav” could not be read.")
    keeper = keepers.mark_keeper(library, first, part="left", reason="The low end sits.")
    assert keeper == bass
    shots = (
        photos.add_photo(library, "amp.jpg", io.BytesIO(picture(shade=10)), pass_id=first, caption="the amp"),
        photos.add_photo(library, "mic.jpg", io.BytesIO(picture(shade=20)), pass_id=first, step_id=mic_step),
        photos.add_photo(library, "fuzz.jpg", io.BytesIO(picture(shade=30)), gear_id=fuzz, caption="inside"),
    )
    mark = read_pass(library, first).keepers[0].keeper_id
    return SmallSession(
        project,
        bass,
        organ,
        box,
        amp,
        fuzz,
        cabinet,
        near_mic,
        unused,
        retired,
        interface,
        (first, second, third),
        made,
        mark,
        shots,
        blind.begin_blind(library, (first, second)),
        blind.begin_test(library, first, second, 8),
        *watch(library, project),
        *try_again(library, first),
        *print_reference(library, project, first),
        drafts.open_draft(library, bass).draft_id,
    )


def watch(library: Library, project_id: int) -> tuple[int, int]:
    """A folder beside the library that is watched, with a recording of before, and two that arrived since. Returns
    the folder's id and the first arrival's."""
    takes = library.folder.with_name("takes")
    takes.mkdir()
    put_long_ago(takes / "before.wav", tone(0.1, hz=231))
    folder_id = watched_folders.add_folder(library, project_id, FolderEntry(str(takes)))
    put_long_ago(takes / "take 1.wav", tone(0.2, hz=232))
    put_long_ago(takes / "take 2.wav", tone(0.3, hz=233))
    seconds = iter(range(0, 100, 3))
    lookout = Lookout(library, clock=lambda: next(seconds))
    lookout.look()
    lookout.look()
    with library.reading() as reading:
        rows = reading.query(Arrival).filter_by(folder_id=folder_id, state="offered").all()
    return folder_id, min(row.id for row in rows)


def put_long_ago(path: Path, audio: bytes) -> None:
    path.write_bytes(audio)
    os.utime(path, (1.6e9, 1.6e9))


def try_again(library: Library, pass_id: int) -> tuple[int, int]:
    """A recall of a pass and a try of it that is still being compared: their ids."""
    recall = runs.begin(library, pass_id)
    printed = io.BytesIO(tone(0.5, hz=225))
    return recall, tries.add_try(library, recall, "try.wav", printed, original_print_id=None)


def print_reference(library: Library, project_id: int, pass_id: int) -> tuple[int, int]:
    """A reference signal and what came back of it through a pass, still to be measured: their ids. Its file is a tone,
    for making the real one takes a second."""
    plan = plan_to_json(plan_reference(48_000))
    taken = library.files.take_in(io.BytesIO(tone(0.5, hz=226)))
    with library.writing() as session:
        file_id = stored_files.record(session, taken, "audio/wav")
        signal = ReferenceSignal(project_id=project_id, file_id=file_id, plan=plan)
        session.add(signal)
        session.flush()
        reference_id = signal.id
    came_back = io.BytesIO(tone(0.5, hz=227))
    return reference_id, references.attach_reference(library, pass_id, reference_id, "back.wav", came_back)


def step_id_of(library: Library, pass_id: int, gear_id: int) -> int:
    return next(step.step_id for step in read_pass(library, pass_id).steps if step.gear_id == gear_id)
