"""The invented session's sounds: `python -m app.demo.sounds`, told the library and its project.

Renders every source and every print from what the passes' sheets say, and brings them in as a person would. A process
of its own, because it needs numpy and the server must not load it.
"""

import io
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
from numpy.typing import NDArray

from app.demo import modelled_gear as gear
from app.demo import panel, synthesis
from app.demo.picture import draw_picture
from app.demo.session import SOURCES, Jotting, PlannedSource
from app.desk.child_processes import Out, carry_out
from app.desk.files.stored_files import path_of
from app.desk.passes.pass_sheets import PassSheet, StepSheet, read_pass
from app.desk.photos.panel_photos import MarkEntry, PanelEntry, mark_panel, read_panel
from app.desk.photos.photos import add_photo
from app.desk.prints.prints import attach_print
from app.desk.projects.sources import edit_source, read_source
from app.desk.recall.references import ReferenceEntry, attach_reference, make_reference, read_signal
from app.desk.recall.runs import list_recalls
from app.desk.recall.tries import add_try
from app.desk.sheets.session_log import SourceLog, read_session_log
from app.library import Library
from app.trade.distances import read_level_db
from app.trade.travel import angle_deg

Samples = NDArray[np.float64]

RATE_HZ = synthesis.SAMPLE_RATE_HZ
_PLAYED = {
    "bass_line": synthesis.bass_line,
    "organ_line": synthesis.organ_line,
    "drum_loop": synthesis.drum_loop,
    "spoken_verse": synthesis.spoken_verse,
}
_GRADIENTS = {"omni": 0.0, "wide cardioid": 0.3, "cardioid": 0.5, "hypercardioid": 0.75, "figure-eight": 1.0}
_ROOM_FULL_AT_MM = 800.0
_NEUTRAL_PREAMP_DB = 30.0
_LINE_INPUT_GAIN_DB = 20.0
REFERENCE_DBFS = "-18"
TRY_S = 10.0
TRIED_AT = "Large dynamic microphone"
TRIES: tuple[tuple[str, Mapping[str, float]], ...] = (
    ("Everything by eye, in a hurry.", {"Gain": 0.6, "Treble": 0.7}),
    ("Gain to where the sheet says.", {"Treble": 0.7}),
    ("Treble too.", {}),
)


def bring_in(library: Library, project_id: int) -> None:
    log = read_session_log(library, project_id)
    for source, planned in zip(log.sources, SOURCES, strict=True):
        bring_in_source(library, source, planned)


def bring_in_source(library: Library, source: SourceLog, planned: PlannedSource) -> None:
    played = _PLAYED[planned.sound]()
    entry = read_source(library, source.source_id).entry
    edit_source(library, source.source_id, entry, (planned.file_name, _wav(played)))
    for sheet, jotting in zip(source.passes, planned.jottings, strict=True):
        for step, print_ in render(sheet, jotting, played):
            name = f"{planned.file_name.split(' ')[0]} pass {sheet.number} {step.gear_name} INVENTED.wav"
            attach_print(
                library, sheet.pass_id, name, _wav(print_), step_id=step.step_id, label=step.gear_name
            )
        if jotting.has_picture:
            _add_picture(library, sheet)
        recalls = list_recalls(library, sheet.pass_id)
        if recalls:
            _picture_the_panel(library, sheet)
        for line in recalls:
            printed = read_pass(library, sheet.pass_id)
            _try_it(library, line.recall_id, printed, jotting, played)
            _send_a_reference(library, line.recall_id, printed, jotting)


def render(
    sheet: PassSheet, jotting: Jotting, played: Samples, *, seed: int = 0
) -> list[tuple[StepSheet, Samples]]:
    """One print for every microphone and DI box of a logged pass, as its settings say; another `seed`, another noise."""
    whole = rig_of(sheet)
    before_the_amp = replace(whole, amp=None, cabinet=None)
    prints: list[tuple[StepSheet, Samples]] = []
    for kind, rig in (("microphone", whole), ("di_box", before_the_amp)):
        steps = [step for step in sheet.steps if step.kind == kind]
        if not steps:
            continue
        ways = [return_of(sheet, step, jotting) for step in steps]
        noise = 1000 * sheet.source_id + 10 * sheet.number + seed
        rendered = gear.render_pass(played, rig, ways, sample_rate_hz=RATE_HZ, seed=noise)
        prints += [
            (step, _with_mishaps(print_, jotting)) for step, print_ in zip(steps, rendered, strict=True)
        ]
    return prints


def _try_it(library: Library, recall_id: int, sheet: PassSheet, jotting: Jotting, played: Samples) -> None:
    """The tries of a recall: its first seconds printed again, with the combo at other settings at first."""
    excerpt = played[: round(TRY_S * RATE_HZ)]
    for number, (note, turned) in enumerate(TRIES, start=1):
        step, print_ = next(
            (step, print_)
            for step, print_ in render(_turned(sheet, turned), jotting, excerpt, seed=7 * number)
            if step.gear_name == TRIED_AT
        )
        original = next(item for item in sheet.prints if item.step_id == step.step_id)
        name = f"recall of pass {sheet.number} try {number} INVENTED.wav"
        add_try(library, recall_id, name, _wav(print_), original_print_id=original.print_id, note=note)


def _send_a_reference(library: Library, recall_id: int, sheet: PassSheet, jotting: Jotting) -> None:
    """A reference signal, printed with the keeper, and again through the recall with the treble not yet right."""
    reference_id = make_reference(library, sheet.project_id, ReferenceEntry(level=REFERENCE_DBFS))
    sent, _ = soundfile.read(path_of(library, read_signal(library, reference_id).sha256))
    for words, turned, at in (("", {}, None), ("recall of ", TRIES[1][1], recall_id)):
        rendered = render(_turned(sheet, turned), jotting, sent, seed=0 if at is None else 5)
        print_ = next(print_ for step, print_ in rendered if step.gear_name == TRIED_AT)
        name = f"reference signal through {words}pass {sheet.number} INVENTED.wav"
        attach_reference(library, sheet.pass_id, reference_id, name, _wav(print_), recall_id=at)


def _turned(sheet: PassSheet, turned: Mapping[str, float]) -> PassSheet:
    """The pass as if the amp's controls had stood elsewhere, by name and fraction of travel."""
    steps = [
        replace(
            step,
            settings=tuple(
                replace(line, position=turned.get(line.name, line.position)) for line in step.settings
            ),
        )
        if step.kind == "amp"
        else step
        for step in sheet.steps
    ]
    return replace(sheet, steps=tuple(steps))


def rig_of(sheet: PassSheet) -> gear.Rig:
    """The modelled rig at the positions that a pass was logged with."""
    fuzz: gear.Fuzz | None = None
    echo: gear.Echo | None = None
    amp: gear.Amp | None = None
    send_db = 0.0
    for step in sheet.steps:
        at = _positions(step)
        if step.kind == "interface":
            send_db += _value(step, "Output level", 0.0)
        elif step.kind == "reamp_box":
            send_db += 24 * (at["Level"] - 0.5)
        elif step.kind == "amp":
            amp = gear.Amp(at["Gain"], at["Bass"], at["Middle"], at["Treble"], at["Reverb"], at["Master"])
        elif step.kind == "pedal" and "Fuzz" in at and at["Effect"] == 1.0:
            bias = next(position for name, position in at.items() if name.startswith("Bias"))
            fuzz = gear.Fuzz(at["Fuzz"], bias, at["Volume"])
        elif step.kind == "pedal" and "Repeats" in at and at["Effect"] == 1.0:
            echo = gear.Echo(_value(step, "Time", 120.0), at["Repeats"], at["Mix"])
    return gear.Rig(amp, gear.ONE_BY_TWELVE, fuzz, echo, send_db)


def return_of(sheet: PassSheet, step: StepSheet, jotting: Jotting) -> gear.Return:
    """The way back through one microphone or DI box."""
    mishap = jotting.mishap
    inverted = mishap.is_turned_over
    if step.placement is None:
        pad_db = read_level_db(next(line.reading for line in step.settings if line.name == "Pad"))
        return gear.Return(
            gain_db=pad_db + _LINE_INPUT_GAIN_DB,
            latency_samples=jotting.latency_samples,
            inverted=inverted,
            hum_dbfs=mishap.hum_dbfs,
        )
    preamp = next(sheet_step for sheet_step in sheet.steps if sheet_step.kind == "preamp")
    channel = step.placement.preamp.removeprefix("channel ")
    distance_mm = step.placement.distance_mm or 0.0
    return gear.Return(
        distance_mm=distance_mm,
        offset_mm=step.placement.offset_mm or 0.0,
        pressure_gradient=_GRADIENTS[step.placement.pattern],
        room=min(1.0, distance_mm / _ROOM_FULL_AT_MM),
        gain_db=_value(preamp, f"Gain {channel}", _NEUTRAL_PREAMP_DB) - _NEUTRAL_PREAMP_DB,
        latency_samples=jotting.latency_samples,
        inverted=inverted,
        hum_dbfs=mishap.hum_dbfs,
    )


def _with_mishaps(print_: Samples, jotting: Jotting) -> Samples:
    print_ = gear.converted(print_)
    if jotting.mishap.ends_early_s:
        print_ = gear.cut_short(print_, print_.size / RATE_HZ - jotting.mishap.ends_early_s, RATE_HZ)
    return print_


def _positions(step: StepSheet) -> dict[str, float]:
    return {line.name: line.position for line in step.settings if line.position is not None}


def _value(step: StepSheet, name: str, default: float) -> float:
    found = next((line.value for line in step.settings if line.name == name), None)
    return default if found is None else found


def _wav(samples: Samples) -> io.BytesIO:
    written = io.BytesIO()
    soundfile.write(written, samples, RATE_HZ, format="WAV", subtype="PCM_24")
    written.seek(0)
    return written


def _add_picture(library: Library, sheet: PassSheet) -> None:
    step = next(step for step in sheet.steps if step.kind == "microphone")
    add_photo(
        library,
        "INVENTED combo and microphones.png",
        io.BytesIO(draw_picture()),
        pass_id=sheet.pass_id,
        step_id=step.step_id,
        caption="INVENTED: drawn, not photographed. Both microphones at the combo.",
    )


def _picture_the_panel(library: Library, sheet: PassSheet) -> None:
    """The combo's panel with its controls marked, and the same as it stood on a pass, to be read."""
    step = next(step for step in sheet.steps if step.kind == "amp")
    wide, high = panel.SIZE

    def percent(x: float, y: float) -> tuple[str, str]:
        return f"{100 * x / wide:.3f}", f"{100 * y / high:.3f}"

    caption = "INVENTED: drawn, not photographed. The combo's panel"
    photo_id = add_photo(
        library,
        "INVENTED panel of the combo.png",
        io.BytesIO(panel.draw_panel({})),
        gear_id=step.gear_id,
        caption=f"{caption}, all at noon.",
    )
    marks = {}
    for control in read_panel(library, photo_id).controls:
        if control.spec.name in panel.KNOBS:
            x, y = panel.centre_of(control.spec.name)
            places = *percent(x, y), *percent(x + panel.RADIUS, y)
            marks[control.control_id] = MarkEntry("line", *places, "50 %")
    corners = tuple(text for corner in panel.corners() for text in percent(*corner))
    mark_panel(library, photo_id, PanelEntry(corners, marks))
    degrees = {
        line.name: angle_deg(line.spec.travel, line.position)
        for line in step.settings
        if line.position is not None
    }
    add_photo(
        library,
        "INVENTED panel of the combo as it stood.png",
        io.BytesIO(panel.draw_panel(degrees, from_aside=True)),
        pass_id=sheet.pass_id,
        caption=f"{caption} as it stood.",
    )


def _bring_in(told: dict[str, Any], out: Out) -> None:
    bring_in(Library(Path(told["library"])), told["project_id"])


if __name__ == "__main__":
    carry_out(_bring_in)
