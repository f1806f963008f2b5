"""How hard the instrument drove, and what to send so that the amp sees the same."""

from collections.abc import Sequence
from dataclasses import replace
from math import sqrt

from app.desk.passes.pass_sheets import StepSheet
from app.desk.planning.level_rig import (
    Given,
    LevelPart,
    Rig,
    db_in,
    db_of,
    db_text,
    first_known,
    gear_field,
    loss_of,
    typed_else,
)
from app.desk.projects.sources import SourceSheet
from app.drawings.level_diagram import LevelRun
from app.trade.hook_up import Device
from app.trade.level_plan import (
    KNOB_READING_UNCERTAINTY_DB,
    DiPath,
    Drive,
    SendPath,
    SendPlan,
    Stage,
    at_the_amp,
    how_hard_it_drove,
    level_diagram,
    what_to_send,
)
from app.trade.levels import parallel_ohm
from app.trade.typical_levels import (
    BOX_LOSS,
    BOX_OUTPUT,
    BOX_TRIM,
    FULL_SCALE,
    INSTRUMENT_INPUT,
    PICKUP_PEAK,
    SOURCE_PEAK,
    SOURCE_RMS,
    Typical,
)


def recording_part(rig: Rig, source: SourceSheet) -> tuple[LevelPart, Drive, float | None]:
    """How hard the instrument drove, and the source's peak level."""
    inputs = rig.inputs
    figures = source.measured.figures
    peak = rms = None
    if figures is not None:
        peak = first_known(figures.level.true_peak_dbtp, figures.level.sample_peak_dbfs)
        rms = figures.level.rms_dbfs
    unmeasured = "its file is being measured" if source.measured.is_coming else "its file is not measured"
    measured = "measured of its file"
    source_peak, source_rms = (
        rig.stood_in(
            Given(label, value, "dBFS", measured if value is not None else unmeasured, "source"), typical
        )
        for label, value, typical in (
            ("the source's peak level", peak, SOURCE_PEAK),
            ("the source's rms level", rms, SOURCE_RMS),
        )
    )
    peak, rms = source_peak.value, source_rms.value
    full_scale = typed_else(
        inputs.recording_full_scale_dbu,
        rig.full_scale("input", "the input's level at 0 dBFS", "recording_full_scale_dbu"),
        "recording_full_scale_dbu",
    )
    said = db_in(source.entry.gain)
    gain = typed_else(
        inputs.recording_gain_db,
        Given(
            "the preamp gain",
            said,
            "dB",
            f"the source's page: {source.entry.gain}" if said is not None else "no dB noted with the source",
            "here",
            "recording_gain_db",
        ),
        "recording_gain_db",
    )
    loss = Given(
        "the DI box's loss",
        inputs.recording_box_loss_db,
        "dB",
        "typed below" if inputs.recording_box_loss_db is not None else "0 for an instrument input",
        "here",
        "recording_box_loss_db",
    )
    full_scale, gain, loss = _as_of_a_pickup(rig, peak, full_scale, gain, loss)
    doubt = first_known(inputs.recording_gain_uncertainty_db, KNOB_READING_UNCERTAINTY_DB)
    drive = how_hard_it_drove(
        peak,
        rms,
        DiPath(full_scale.value, gain.value, loss.value, gain_uncertainty_db=doubt or 0.0),
    )
    givens = (
        source_peak,
        source_rms,
        full_scale,
        gain,
        loss,
    )
    answers = (drive.peak_dbu, drive.peak_volts, drive.rms_dbu, drive.rms_volts)
    noted = (drive.peak_dbu, drive.peak_volts, drive.rms_dbu)
    return LevelPart("How hard the instrument drove", givens, answers, noted), drive, peak


def _as_of_a_pickup(
    rig: Rig, peak: float | None, full_scale: Given, gain: Given, loss: Given
) -> tuple[Given, Given, Given]:
    """Level at 0 dBFS, gain and loss, as they would be for a source whose peak is that of a passive pickup, where they
    are not known. Gain and loss are guessed together with the level by that one peak, so it alone is in doubt."""
    typical = PICKUP_PEAK
    full_scale = rig.stood_in(full_scale, FULL_SCALE)
    at_full_scale = full_scale.value
    if not rig.with_typical or peak is None or at_full_scale is None:
        return full_scale, gain, loss
    if gain.value is not None and loss.value is not None:
        return full_scale, gain, loss
    within = typical.within_db
    if full_scale.within_db is not None:
        full_scale = replace(full_scale, within_db=0.0)
    if gain.value is None:
        if loss.value is None:
            loss = rig.stood_in(loss, Typical(0.0, 0.0, "an instrument input; common practice"))
        balance = peak + at_full_scale + (loss.value or 0.0) - typical.value
        return full_scale, rig.stood_in(gain, replace(typical, value=balance)), loss
    balance = typical.value - peak - at_full_scale + gain.value
    return full_scale, gain, rig.stood_in(loss, Typical(balance, within, typical.source))


def send_parts(
    rig: Rig, recording: LevelPart, drive: Drive, peak: float | None
) -> tuple[tuple[LevelPart, ...], tuple[LevelRun, ...]]:
    """What to send, box by box."""
    parts, runs = [], []
    source_peak = recording.givens[0]
    for box in rig.of_kind("reamp_box"):
        step = rig.steps[box.key]
        full_scale = rig.stood_in(_output_full_scale(rig), FULL_SCALE)
        loss = loss_of(rig, step, "the re-amp box's loss", BOX_LOSS)
        trim = _box_trim(rig, step)
        source_ohm, behind_ohm, behind = _impedances(rig, box)
        source_ohm = rig.stood_in(source_ohm, BOX_OUTPUT)
        behind_ohm = rig.stood_in(behind_ohm, INSTRUMENT_INPUT)
        sockets_in = [joint.into.max_dbu for joint in rig.into(box) if joint.into.max_dbu is not None]
        limits = [joint.into.max_dbu for joint in rig.out_of(box) if joint.into.max_dbu is not None]
        path = SendPath(
            full_scale.value,
            loss.value,
            trim.value,
            source_ohm.value,
            behind_ohm.value,
            min(sockets_in, default=None),
            min(limits, default=None),
        )
        target = Given(
            "the instrument's peak level",
            drive.peak_dbu.value,
            "dBu",
            "worked out above" if drive.peak_dbu.value is not None else "still open above; or type a peak",
            "here",
            "wanted_peak_dbu",
        )
        if drive.peak_dbu.value is not None and any(
            given.within_db is not None for given in recording.givens
        ):
            target = replace(target, origin="typical, as above", within_db=_within(recording.givens))
        target = typed_else(rig.inputs.wanted_peak_dbu, target, "wanted_peak_dbu")
        plan = what_to_send(target.value, peak, path)
        daw_trim = rig.inputs.daw_trim_db
        stood = rig.stood_in(trim, BOX_TRIM)  # what to send is worked out for any trim; what is seen is not
        seen = at_the_amp(peak, daw_trim or 0.0, replace(path, box_trim_db=stood.value))
        stands = "as it is" if daw_trim is None else f"at {db_text(daw_trim)}"
        seen = replace(seen, label=f"Peak behind the box with the DAW {stands}")
        daw = replace(plan.daw_trim_db, label="DAW trim to send with")
        box_trim = replace(plan.box_trim_db, label="Box trim that goes with it")
        parts.append(
            LevelPart(
                f"What to send through {box.name}" + (f" into {behind}" if behind else ""),
                (source_peak, target, full_scale, loss, stood, source_ohm, behind_ohm),
                (daw, box_trim, replace(plan.at_amp_dbu, label="Peak behind the box then"), seen),
                (daw, box_trim, seen),
                plan.warnings,
                box.key,
                box.name,
                box.kind,
            )
        )
        run = _send_run(box, behind, peak, first_known(daw_trim, plan.daw_trim_db.value), path, plan)
        if run is not None:
            runs.append(run)
    return tuple(parts), tuple(runs)


def _within(givens: Sequence[Given]) -> float:
    return sqrt(sum((given.within_db or 0.0) ** 2 for given in givens))


def _send_run(
    box: Device, behind: str, peak: float | None, daw_trim: float | None, path: SendPath, plan: SendPlan
) -> LevelRun | None:
    """The level along the send, as far as it is known."""
    if peak is None or path.output_full_scale_dbu is None:
        return None
    start = peak + (daw_trim or 0.0) + path.output_full_scale_dbu
    stages = [
        Stage("Interface output", 0.0, path.output_full_scale_dbu),
        Stage(f"{box.name}, input", 0.0, path.box_max_input_dbu),
    ]
    trim = first_known(path.box_trim_db, plan.box_trim_db.value)
    seen = at_the_amp(peak, daw_trim or 0.0, replace(path, box_trim_db=trim))
    if seen.value is not None:
        stages[-1] = replace(stages[-1], gain_db=seen.value - start)
        stages.append(Stage(f"{behind or 'behind the box'}, input", 0.0, path.amp_max_input_dbu))
    return LevelRun("Send", level_diagram(start, stages)[:-1])


def _output_full_scale(rig: Rig) -> Given:
    """The output's level at 0 dBFS, with what the interface's output level control takes away."""
    given = rig.full_scale("output", "the output's level at 0 dBFS")
    if rig.interface is None or given.value is None:
        return given
    turned = next(
        (
            (line, value)
            for line in rig.steps[rig.interface.key].settings
            if line.spec.job == "output_level" and (value := db_of(line)) is not None
        ),
        None,
    )
    if turned is None:
        return given
    line, value = turned
    return replace(
        given,
        value=given.value + value,
        origin=f"{given.origin}, {given.text} with {line.name.lower()} at {db_text(value)}",
    )


def _box_trim(rig: Rig, step: StepSheet) -> Given:
    """Where a re-amp box's trim stands: typed, or set on a control that is printed in dB; 0 for a box without one."""
    label, name = "where the box's trim stands", gear_field("trim_db", str(step.gear_id))
    trims = [
        line
        for line in step.settings
        if line.spec.form in ("knob", "fader", "number") and line.spec.job != "pad"
    ]
    known = [(line, value) for line in trims if (value := db_of(line)) is not None]
    given = Given(label, None, "dB", "its control is not printed in dB", "here", name)
    if known:
        line, value = known[0]
        given = replace(given, value=value, origin=f"{line.name} on this pass")
    elif not trims:
        given = replace(given, value=0.0, origin=f"{step.gear_name} has no trim")
    return typed_else(rig.inputs.of(str(step.gear_id)).trim_db, given, name)


def _impedances(rig: Rig, box: Device) -> tuple[Given, Given, str]:
    """The box's output impedance, that of what it feeds (side by side where that is several), and its name."""
    joints = rig.out_of(box)
    outs = [joint.out for joint in joints] or [port for port in box.ports if port.direction == "out"]
    out = next((port for port in outs if port.impedance_ohm is not None), None)
    source = None if out is None else out.impedance_ohm
    loads = [joint.into.impedance_ohm for joint in joints]
    known = [ohm for ohm in loads if ohm is not None]
    behind = parallel_ohm(*known) if known and len(known) == len(loads) else None
    open_at = next((joint.target for joint in joints if joint.into.impedance_ohm is None), None)
    names = " and ".join(dict.fromkeys(joint.target.name for joint in joints))
    box_given = Given(
        "the re-amp box's output impedance",
        source,
        "Ω",
        rig.source_of(box.key, "" if out is None else f"{out.key} impedance_ohm", source),
        "ports",
        gear_id=int(box.key),
    )
    label = "the input impedance behind the box"
    if not joints:
        return box_given, Given(label, None, "Ω", "nothing is plugged into the box's output", "hook_up"), ""
    if open_at is not None:
        origin = f"not known of {open_at.name}"
        return box_given, Given(label, None, "Ω", origin, "ports", gear_id=int(open_at.key)), names
    origin = " and ".join(
        dict.fromkeys(
            rig.source_of(joint.target.key, f"{joint.into.key} impedance_ohm", behind) for joint in joints
        )
    )
    return box_given, Given(label, behind, "Ω", origin, "ports", gear_id=int(joints[0].target.key)), names
