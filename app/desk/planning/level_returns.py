"""What each microphone and DI box of a pass gives back."""

import re
from collections.abc import Sequence
from dataclasses import replace

from app.desk.passes.pass_sheets import PassSheet, SettingSheet, StepSheet
from app.desk.planning.level_rig import (
    MEASURED_PEAK,
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
from app.drawings.level_diagram import LevelRun
from app.trade.gear_facts import GearFacts
from app.trade.hook_up import Device, Joint
from app.trade.level_inputs import (
    GearInputs,
)
from app.trade.level_plan import (
    WANTED_RETURN_DBFS,
    Figure,
    ReturnLevel,
    Stage,
    di_return,
    level_diagram,
    microphone_return,
    return_warnings,
)
from app.trade.microphones import microphone_output_dbu
from app.trade.typical_levels import CREST, DI_LOSS, FULL_SCALE, PICKUP_PEAK, RETURN_GAIN, SOUND_LEVEL
from app.trade.typical_levels import sensitivity as typical_sensitivity

NOT_LOGGED = "not logged"


def return_parts(rig: Rig) -> tuple[tuple[LevelPart, ...], tuple[LevelRun, ...]]:
    """What each microphone and each DI box gives back."""
    parts, runs = [], []
    for device in rig.devices:
        if device.kind not in ("microphone", "di_box"):
            continue
        step, typed = rig.steps[device.key], rig.inputs.of(device.key)
        way = rig.way_back(device)
        gain, limits = _gain(rig, step, typed, way)
        if way:
            gain = rig.stood_in(gain, RETURN_GAIN)
        full_scale = rig.stood_in(rig.full_scale("input", "the input's level at 0 dBFS"), FULL_SCALE)
        target = first_known(rig.inputs.wanted_return_dbfs, WANTED_RETURN_DBFS) or 0.0
        if device.kind == "microphone":
            given, level = _microphone(rig, step, typed, gain.value, full_scale.value, target)
        else:
            given, level = _di_box(rig, step, typed, gain.value, full_scale.value, target)
        figures = [level.output_dbu, level.peak_dbfs, level.headroom_db, level.gain_for_target_db]
        parts.append(
            LevelPart(
                f"What comes back from {device.name}",
                (*given, gain, full_scale),
                (*figures, *_measured_peaks(rig.sheet, step)),
                (level.peak_dbfs, level.gain_for_target_db),
                return_warnings(level, *limits),
                device.key,
                device.name,
                device.kind,
            )
        )
        run = _return_run(rig, device, way, level, gain, full_scale)
        if run is not None:
            runs.append(run)
    return tuple(parts), tuple(runs)


def _microphone(
    rig: Rig,
    step: StepSheet,
    typed: GearInputs,
    gain: float | None,
    full_scale: float | None,
    target: float,
) -> tuple[tuple[Given, ...], ReturnLevel]:
    facts, key = step.facts, str(step.gear_id)
    sensitivity = Given(
        "the microphone's sensitivity",
        facts.sensitivity_mv_per_pa,
        "mV/Pa",
        rig.source_of(key, "sensitivity_mv_per_pa", facts.sensitivity_mv_per_pa),
        "ports",
        gear_id=step.gear_id,
    )
    planned = rig.sound_levels.get(key)
    name = gear_field("sound_level_db_spl", key)
    sound = Given(
        "the sound level",
        planned,
        "dB SPL",
        "the hook-up's plan" if planned is not None else "neither typed nor in the hook-up",
        "here",
        name,
    )
    sound = rig.stood_in(typed_else(typed.sound_level_db_spl, sound, name), SOUND_LEVEL)
    crest = rig.stood_in(_crest(rig, step), CREST)
    needs_phantom = any(port.phantom == "needs" for port in step.ports)
    sensitivity = rig.stood_in(sensitivity, typical_sensitivity(facts.ribbon, needs_phantom=needs_phantom))
    level = microphone_return(
        sensitivity.value, sound.value, gain, full_scale, target_peak_dbfs=target, crest_db=crest.value
    )
    return (sensitivity, sound, crest), level


def _di_box(
    rig: Rig,
    step: StepSheet,
    typed: GearInputs,
    gain: float | None,
    full_scale: float | None,
    target: float,
) -> tuple[tuple[Given, ...], ReturnLevel]:
    name = gear_field("input_peak_dbu", str(step.gear_id))
    peak = Given("the level at the DI box", None, "dBu", NOT_LOGGED, "here", name)
    peak = rig.stood_in(typed_else(typed.input_peak_dbu, peak, name), PICKUP_PEAK)
    loss = loss_of(rig, step, "the DI box's loss", DI_LOSS)
    level = di_return(peak.value, loss.value, gain, full_scale, target_peak_dbfs=target)
    return (peak, loss), level


def _crest(rig: Rig, step: StepSheet) -> Given:
    """The crest factor of what is played: typed, else measured on this microphone's print."""
    measured = next(
        (
            item
            for item in rig.sheet.prints
            if item.step_id == step.step_id
            and item.measured.figures is not None
            and item.measured.figures.level.crest_db is not None
        ),
        None,
    )
    given = Given("the crest factor", None, "dB", "no measured print of this microphone", "here", "crest_db")
    if measured is not None and measured.measured.figures is not None:
        value = measured.measured.figures.level.crest_db
        given = replace(given, value=value, origin=f"measured on {measured.label or measured.file_name}")
    return typed_else(rig.inputs.crest_db, given, "crest_db")


def _measured_peaks(sheet: PassSheet, step: StepSheet) -> tuple[Figure, ...]:
    """What the prints of this microphone or box really peak at, to hold beside the plan."""
    return tuple(
        Figure(
            MEASURED_PEAK,
            item.measured.figures.level.sample_peak_dbfs,
            "dBFS",
            f"sample peak of {item.file_name}",
        )
        for item in sheet.prints
        if item.step_id == step.step_id
        and item.measured.figures is not None
        and item.measured.figures.level.sample_peak_dbfs is not None
    )


def _gain(
    rig: Rig, step: StepSheet, typed: GearInputs, way: Sequence[Joint]
) -> tuple[Given, tuple[float | None, float | None]]:
    """Everything between a microphone or box and the converter, and the lowest and highest gain it can be set to."""
    name = gear_field("gain_db", str(step.gear_id))
    given = Given("the gain", None, "dB", NOT_LOGGED, "here", name)
    preamps = [joint for joint in way if joint.target.kind == "preamp"]
    first = preamps[0].target if preamps else rig.interface
    facts = GearFacts() if first is None else rig.facts(first)
    limits = (facts.lowest_gain_db, facts.highest_gain_db)
    if typed.gain_db is not None:
        return replace(given, value=typed.gain_db, origin="typed below"), limits
    if not way:
        return replace(given, origin="its cable does not lead to the interface", place="hook_up"), limits
    total, said = 0.0, []
    placement = step.placement
    if placement is not None and placement.pad_db:
        total -= abs(placement.pad_db)
        said.append(f"pad {db_text(-abs(placement.pad_db))}")
    for joint in way:
        channel = _channel(joint, "" if placement is None else placement.preamp)
        lines = rig.steps[joint.target.key].settings
        gains = _of_channel([line for line in lines if line.spec.job == "gain"], channel)
        pads = _of_channel([line for line in lines if line.spec.job == "pad"], channel)
        value = db_of(gains[0]) if len(gains) == 1 else None
        if value is None and placement is not None and joint is way[0]:
            value = db_in(placement.gain)
        if value is None and joint is not way[0]:
            continue  # what comes after the first stage adds gain only where some is noted
        if value is None:
            several = f"{joint.target.name} has several gains; note the channel with the placement"
            none = f"{joint.target.name} says no gain in dB"
            return replace(given, origin=several if len(gains) > 1 else none), limits
        total += value - sum(abs(pad) for line in pads if (pad := db_of(line)) is not None)
        said.append(f"{joint.target.name} {db_text(value)}")
    return replace(given, value=total, origin=", ".join(said)), limits


def _channel(joint: Joint, placement_says: str) -> str:
    """The number of the preamp's channel: from the words noted with the placement, else from the socket."""
    found = re.search(r"\d+", placement_says)
    if found is not None:
        return found[0]
    return "" if joint.into.number is None else str(joint.into.number)


def _of_channel(lines: Sequence[SettingSheet], channel: str) -> list[SettingSheet]:
    """Of several controls of the same sort, those that carry this channel's number."""
    if len(lines) < 2:
        return list(lines)
    return [line for line in lines if channel and re.findall(r"\d+", line.name)[-1:] == [channel]] or list(
        lines
    )


def _return_run(
    rig: Rig, device: Device, way: Sequence[Joint], level: ReturnLevel, gain: Given, full_scale: Given
) -> LevelRun | None:
    """The level from a microphone or box to the converter, as far as it is known."""
    if level.output_dbu.value is None:
        return None
    facts = rig.facts(device)
    most = None
    if facts.sensitivity_mv_per_pa is not None and facts.max_spl_db is not None:
        most = microphone_output_dbu(facts.sensitivity_mv_per_pa, facts.max_spl_db)
    stages = [Stage(f"{device.name}, output", 0.0, most)]
    stages += [
        Stage(f"{joint.target.name}, input", 0.0, joint.into.max_dbu)
        for joint in way
        if joint.target.kind == "preamp"
    ]
    if gain.value is not None:
        stages[-1] = replace(stages[-1], gain_db=gain.value)
        stages.append(Stage("Converter", 0.0, full_scale.value))
    return LevelRun(device.name, level_diagram(level.output_dbu.value, stages)[:-1])
