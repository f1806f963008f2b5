"""The levels of a pass: how hard the instrument drove, what to send, what comes back.

Whatever is logged already is filled in: the source's measured level, facts of the chain's gear, settings that say dB.
What a person adds is kept with the pass (`LevelInputs`). Nothing is derived from a knob without printed dB.
"""

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from functools import partial
from typing import Literal

from app.desk.gear import newest_layouts
from app.desk.gear_ports import facts_of, ports_of
from app.desk.hook_up import HookUpSheet, devices_of, read_hook_up
from app.desk.pass_sheets import PassSheet, SettingSheet, StepSheet
from app.desk.passes import find_pass
from app.desk.refusals import Complaints
from app.desk.sources import SourceSheet, read_source
from app.desk.typed_figures import read_figure
from app.drawings.level_diagram import LevelRun
from app.library import Library
from app.records import ControlLayout, HookUpPlan
from app.trade.calibration import read_level_dbu
from app.trade.distances import NotAMeasure, read_level_db
from app.trade.gear_facts import GearFacts
from app.trade.hook_up import Device, Joint
from app.trade.level_inputs import (
    GearInputs,
    LevelInputs,
    check_input,
    inputs_from_json,
    inputs_to_json,
)
from app.trade.level_plan import (
    KNOB_READING_UNCERTAINTY_DB,
    WANTED_RETURN_DBFS,
    DiPath,
    Drive,
    Figure,
    ReturnLevel,
    SendPath,
    SendPlan,
    Stage,
    at_the_amp,
    di_return,
    how_hard_it_drove,
    level_diagram,
    microphone_return,
    return_warnings,
    what_to_send,
)
from app.trade.levels import parallel_ohm
from app.trade.microphones import microphone_output_dbu
from app.trade.readings import read_number

Place = Literal["here", "source", "pass", "hook_up", "ports", "calibrate"]
NOT_LOGGED = "not logged"


@dataclass(frozen=True)
class Given:
    """A value that the figures start from. `label` is how a figure names it where it is missing, `origin` says where
    it comes from or why it is not known, `place` where it is entered: a field of the form, or a page of gear."""

    label: str
    value: float | None
    unit: str
    origin: str
    place: Place
    field: str = ""
    gear_id: int | None = None

    @property
    def text(self) -> str:
        if self.value is None:
            return "not known"
        shown = f"{self.value:,.0f}" if self.unit == "Ω" else f"{self.value:.4g}"
        return f"{shown.replace('-', '−')} {self.unit}"


@dataclass(frozen=True)
class LevelPart:
    """One question about the levels: what it starts from, its answers, and what speaks against them.

    `noted` are the few answers that a recall sheet repeats. A send is that of one re-amp box, a return that of one
    microphone or DI box, named by `gear_key` and `gear_name`.
    """

    heading: str
    givens: tuple[Given, ...]
    figures: tuple[Figure, ...]
    noted: tuple[Figure, ...]
    warnings: tuple[str, ...] = ()
    gear_key: str = ""
    gear_name: str = ""
    kind: str = ""

    def lacking(self, figure: Figure) -> tuple[Given, ...]:
        """What has to be entered before this figure can be worked out."""
        return tuple(given for given in self.givens if given.value is None and given.label in figure.missing)


@dataclass(frozen=True)
class LevelSheet:
    """The levels of a pass. `is_saved` is false while nobody has kept any with it."""

    plan: HookUpSheet
    inputs: LevelInputs
    is_saved: bool
    recording: LevelPart
    sends: tuple[LevelPart, ...]
    returns: tuple[LevelPart, ...]
    runs: tuple[LevelRun, ...]
    has_interface: bool

    @property
    def sheet(self) -> PassSheet:
        return self.plan.sheet


@dataclass(frozen=True)
class LevelsEntry:
    """The levels form as typed; `of_gear` holds what belongs to one piece of gear, by the field's name "what-key"."""

    recording_full_scale_dbu: str = ""
    recording_gain_db: str = ""
    recording_gain_uncertainty_db: str = ""
    recording_box_loss_db: str = ""
    wanted_peak_dbu: str = ""
    daw_trim_db: str = ""
    crest_db: str = ""
    wanted_return_dbfs: str = ""
    of_gear: Mapping[str, str] = field(default_factory=dict)


GEAR_FIELDS = tuple(item.name for item in fields(GearInputs) if item.name != "gear")


def read_levels(library: Library, pass_id: int) -> LevelSheet:
    plan = read_hook_up(library, pass_id)
    source = read_source(library, plan.sheet.source_id)
    with library.reading() as session:
        row = session.get(HookUpPlan, pass_id)
        kept = {} if row is None else row.levels
        newest = newest_layouts(session, [step.gear_id for step in plan.sheet.steps])
        sheet, known_since = _with_what_is_known_since(plan.sheet, newest)
    inputs = inputs_from_json(kept)
    rig = _Rig(replace(plan, sheet=sheet, hook_up=plan.plan.hook_up(devices_of(sheet))), inputs, known_since)
    recording, drive, peak = _recording(rig, source)
    sends, send_runs = _sends(rig, recording, drive, peak)
    returns, return_runs = _returns(rig)
    return LevelSheet(
        plan,
        inputs,
        bool(kept),
        recording,
        sends,
        returns,
        (*send_runs, *return_runs),
        rig.interface is not None,
    )


def entry_of(levels: LevelSheet) -> LevelsEntry:
    """The form that would keep these figures unchanged."""
    inputs = levels.inputs
    typed = {
        name: _typed(name, getattr(inputs, name)) for name in _FIELDS if getattr(inputs, name) is not None
    }
    of_gear = {
        gear_field(name, item.gear): _typed(name, value)
        for item in inputs.gear
        for name in GEAR_FIELDS
        if (value := getattr(item, name)) is not None
    }
    return LevelsEntry(**typed, of_gear=of_gear)


def save_levels(library: Library, pass_id: int, entry: LevelsEntry) -> None:
    """Keep the typed figures with their pass. Those of gear that the form does not show stay as they were."""
    inputs = _checked(entry)
    shown = {at.rpartition("-")[2] for at in entry.of_gear}
    with library.writing() as session:
        find_pass(session, pass_id)
        row = session.get(HookUpPlan, pass_id)
        if row is None:
            row = HookUpPlan(pass_id=pass_id)
            session.add(row)
        others = tuple(item for item in inputs_from_json(row.levels).gear if item.gear not in shown)
        row.levels = inputs_to_json(replace(inputs, gear=(*inputs.gear, *others)))


def gear_field(name: str, gear: str) -> str:
    return f"{name}-{gear}"


def planned_lines(levels: LevelSheet) -> list[tuple[str, str]]:
    """The levels in short lines (what, how much), as a recall sheet has them; what is open is left out."""
    parts: Iterable[LevelPart] = (levels.recording, *levels.sends, *levels.returns)
    return [
        (f"{part.gear_name}: {figure.label}" if part.gear_name else figure.label, figure.text)
        for part in parts
        for figure in part.noted
        if figure.value is not None
    ]


_FIELDS = tuple(item.name for item in fields(LevelInputs) if item.name != "gear")


def _with_what_is_known_since(
    sheet: PassSheet, newest: Mapping[int, ControlLayout]
) -> tuple[PassSheet, frozenset[tuple[int, str]]]:
    """The pass with facts and socket figures that were not known of its gear when it was logged and are today. What
    was known then stays as it was. Also returned: which they are, as (gear, fact)."""
    since: set[tuple[int, str]] = set()
    steps = []
    for step in sheet.steps:
        today = facts_of(newest[step.gear_id])
        ports_today = {port.key: port for port in ports_of(newest[step.gear_id])}
        learnt = {
            item.name: getattr(today, item.name)
            for item in fields(GearFacts)
            if getattr(step.facts, item.name) is None and getattr(today, item.name) is not None
        }
        since |= {(step.gear_id, name) for name in learnt}
        ports = []
        for port in step.ports:
            now = ports_today.get(port.key, port)
            figures = {
                name: getattr(now, name)
                for name in ("impedance_ohm", "max_dbu")
                if getattr(port, name) is None and getattr(now, name) is not None
            }
            since |= {(step.gear_id, f"{port.key} {name}") for name in figures}
            ports.append(replace(port, **figures))
        steps.append(replace(step, facts=replace(step.facts, **learnt), ports=tuple(ports)))
    return replace(sheet, steps=tuple(steps)), frozenset(since)


class _Rig:
    """A pass's hook-up with what was typed, and the questions the levels ask of it. `known_since` names the facts that
    were noted only after the pass, as (gear, fact)."""

    def __init__(
        self, plan: HookUpSheet, inputs: LevelInputs, known_since: frozenset[tuple[int, str]]
    ) -> None:
        self.known_since = known_since
        self.sheet = plan.sheet
        self.inputs = inputs
        self.sound_levels = dict(plan.plan.sound_levels)
        self.devices = plan.hook_up.devices
        self.joints = tuple(plan.hook_up.joints())
        self.steps = {str(step.gear_id): step for step in plan.sheet.steps}
        self.interface = next((device for device in self.devices if device.kind == "interface"), None)

    def facts(self, device: Device) -> GearFacts:
        return self.steps[device.key].facts

    def source_of(self, gear_key: str, fact: str, value: float | None) -> str:
        """Which piece a fact is of, and whether it was known when the pass was logged; or that it is not known."""
        name = self.steps[gear_key].gear_name
        if value is None:
            return f"not known of {name}"
        return f"{name}, noted after this pass" if (int(gear_key), fact) in self.known_since else name

    def of_kind(self, kind: str) -> Iterator[Device]:
        return (device for device in self.devices if device.kind == kind)

    def out_of(self, device: Device) -> tuple[Joint, ...]:
        return tuple(joint for joint in self.joints if joint.source.key == device.key)

    def into(self, device: Device) -> tuple[Joint, ...]:
        return tuple(joint for joint in self.joints if joint.target.key == device.key)

    def way_back(self, device: Device) -> tuple[Joint, ...]:
        """The cables from a microphone or DI box to the interface; empty where they do not lead there."""
        ways: list[tuple[Joint, ...]] = [(joint,) for joint in self.out_of(device)]
        while ways:
            way = ways.pop(0)
            if way[-1].target.kind == "interface":
                return way
            been = {joint.source.key for joint in way}
            if way[-1].target.kind in ("preamp", "other") and way[-1].target.key not in been:
                ways += [(*way, joint) for joint in self.out_of(way[-1].target)]
        return ()

    def full_scale(self, side: Literal["output", "input"], label: str, typed: str = "") -> Given:
        """What an interface of the chain puts out or takes in at 0 dBFS."""
        if self.interface is None:
            return Given(label, None, "dBu", "no interface in this chain", "here" if typed else "pass", typed)
        facts = self.facts(self.interface)
        value = facts.output_full_scale_dbu if side == "output" else facts.input_full_scale_dbu
        origin = self.source_of(self.interface.key, f"{side}_full_scale_dbu", value)
        return Given(label, value, "dBu", origin, "calibrate", gear_id=int(self.interface.key))


def _recording(rig: _Rig, source: SourceSheet) -> tuple[LevelPart, Drive, float | None]:
    """How hard the instrument drove, and the source's peak level."""
    inputs = rig.inputs
    figures = source.measured.figures
    peak = rms = None
    if figures is not None:
        peak = _first_known(figures.level.true_peak_dbtp, figures.level.sample_peak_dbfs)
        rms = figures.level.rms_dbfs
    unmeasured = "its file is being measured" if source.measured.is_coming else "its file is not measured"
    full_scale = _typed_else(
        inputs.recording_full_scale_dbu,
        rig.full_scale("input", "the input's level at 0 dBFS", "recording_full_scale_dbu"),
        "recording_full_scale_dbu",
    )
    said = _db_in(source.entry.gain)
    gain = _typed_else(
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
    doubt = _first_known(inputs.recording_gain_uncertainty_db, KNOB_READING_UNCERTAINTY_DB)
    loss = Given(
        "the DI box's loss",
        inputs.recording_box_loss_db,
        "dB",
        "typed below" if inputs.recording_box_loss_db is not None else "0 for an instrument input",
        "here",
        "recording_box_loss_db",
    )
    drive = how_hard_it_drove(
        peak,
        rms,
        DiPath(full_scale.value, gain.value, loss.value, gain_uncertainty_db=doubt or 0.0),
    )
    measured = "measured of its file"
    givens = (
        Given(
            "the source's peak level", peak, "dBFS", measured if peak is not None else unmeasured, "source"
        ),
        Given("the source's rms level", rms, "dBFS", measured if rms is not None else unmeasured, "source"),
        full_scale,
        gain,
        loss,
    )
    answers = (drive.peak_dbu, drive.peak_volts, drive.rms_dbu, drive.rms_volts)
    noted = (drive.peak_dbu, drive.peak_volts, drive.rms_dbu)
    return LevelPart("How hard the instrument drove", givens, answers, noted), drive, peak


def _sends(
    rig: _Rig, recording: LevelPart, drive: Drive, peak: float | None
) -> tuple[tuple[LevelPart, ...], tuple[LevelRun, ...]]:
    """What to send, box by box."""
    parts, runs = [], []
    source_peak = recording.givens[0]
    for box in rig.of_kind("reamp_box"):
        step = rig.steps[box.key]
        full_scale = _output_full_scale(rig)
        loss = _loss(rig, step, "the re-amp box's loss")
        trim = _box_trim(rig, step)
        source_ohm, behind_ohm, behind = _impedances(rig, box)
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
        target = _typed_else(rig.inputs.wanted_peak_dbu, target, "wanted_peak_dbu")
        plan = what_to_send(target.value, peak, path)
        daw_trim = rig.inputs.daw_trim_db
        seen = at_the_amp(peak, daw_trim or 0.0, path)
        stands = "as it is" if daw_trim is None else f"at {_db(daw_trim)}"
        seen = replace(seen, label=f"Peak behind the box with the DAW {stands}")
        daw = replace(plan.daw_trim_db, label="DAW trim to send with")
        box_trim = replace(plan.box_trim_db, label="Box trim that goes with it")
        parts.append(
            LevelPart(
                f"What to send through {box.name}" + (f" into {behind}" if behind else ""),
                (source_peak, target, full_scale, loss, trim, source_ohm, behind_ohm),
                (daw, box_trim, replace(plan.at_amp_dbu, label="Peak behind the box then"), seen),
                (daw, box_trim, seen),
                plan.warnings,
                box.key,
                box.name,
                box.kind,
            )
        )
        run = _send_run(box, behind, peak, _first_known(daw_trim, plan.daw_trim_db.value), path, plan)
        if run is not None:
            runs.append(run)
    return tuple(parts), tuple(runs)


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
    trim = _first_known(path.box_trim_db, plan.box_trim_db.value)
    seen = at_the_amp(peak, daw_trim or 0.0, replace(path, box_trim_db=trim))
    if seen.value is not None:
        stages[-1] = replace(stages[-1], gain_db=seen.value - start)
        stages.append(Stage(f"{behind or 'behind the box'}, input", 0.0, path.amp_max_input_dbu))
    return LevelRun("Send", level_diagram(start, stages)[:-1])


def _output_full_scale(rig: _Rig) -> Given:
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
        origin=f"{given.origin}, {given.text} with {line.name.lower()} at {_db(value)}",
    )


def _loss(rig: _Rig, step: StepSheet, label: str) -> Given:
    """A box's loss with what its pad takes away on this pass."""
    loss_db = step.facts.loss_db
    origin = rig.source_of(str(step.gear_id), "loss_db", loss_db)
    given = Given(label, loss_db, "dB", origin, "ports", gear_id=step.gear_id)
    if loss_db is None:
        return given
    pads = [line for line in step.settings if line.spec.job == "pad"]
    known = [value for line in pads if (value := db_of(line)) is not None]
    if known:
        pad = sum(abs(value) for value in known)
        return replace(given, value=loss_db + pad, origin=f"{origin}, its pad at {_db(-pad)}")
    return replace(given, origin=f"{origin}, pad not noted and counted as out") if pads else given


def _box_trim(rig: _Rig, step: StepSheet) -> Given:
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
    return _typed_else(rig.inputs.of(str(step.gear_id)).trim_db, given, name)


def _impedances(rig: _Rig, box: Device) -> tuple[Given, Given, str]:
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


def _returns(rig: _Rig) -> tuple[tuple[LevelPart, ...], tuple[LevelRun, ...]]:
    """What each microphone and each DI box gives back."""
    parts, runs = [], []
    for device in rig.devices:
        if device.kind not in ("microphone", "di_box"):
            continue
        step, typed = rig.steps[device.key], rig.inputs.of(device.key)
        way = rig.way_back(device)
        gain, limits = _gain(rig, step, typed, way)
        full_scale = rig.full_scale("input", "the input's level at 0 dBFS")
        target = _first_known(rig.inputs.wanted_return_dbfs, WANTED_RETURN_DBFS) or 0.0
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
    rig: _Rig,
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
    sound = _typed_else(typed.sound_level_db_spl, sound, name)
    crest = _crest(rig, step)
    level = microphone_return(
        sensitivity.value, sound.value, gain, full_scale, target_peak_dbfs=target, crest_db=crest.value
    )
    return (sensitivity, sound, crest), level


def _di_box(
    rig: _Rig,
    step: StepSheet,
    typed: GearInputs,
    gain: float | None,
    full_scale: float | None,
    target: float,
) -> tuple[tuple[Given, ...], ReturnLevel]:
    name = gear_field("input_peak_dbu", str(step.gear_id))
    peak = Given("the level at the DI box", None, "dBu", NOT_LOGGED, "here", name)
    peak = _typed_else(typed.input_peak_dbu, peak, name)
    loss = _loss(rig, step, "the DI box's loss")
    level = di_return(peak.value, loss.value, gain, full_scale, target_peak_dbfs=target)
    return (peak, loss), level


def _crest(rig: _Rig, step: StepSheet) -> Given:
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
    return _typed_else(rig.inputs.crest_db, given, "crest_db")


def _measured_peaks(sheet: PassSheet, step: StepSheet) -> tuple[Figure, ...]:
    """What the prints of this microphone or box really peak at, to hold beside the plan."""
    return tuple(
        Figure(
            "Measured on its print",
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
    rig: _Rig, step: StepSheet, typed: GearInputs, way: Sequence[Joint]
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
        said.append(f"pad {_db(-abs(placement.pad_db))}")
    for joint in way:
        channel = _channel(joint, "" if placement is None else placement.preamp)
        lines = rig.steps[joint.target.key].settings
        gains = _of_channel([line for line in lines if line.spec.job == "gain"], channel)
        pads = _of_channel([line for line in lines if line.spec.job == "pad"], channel)
        value = db_of(gains[0]) if len(gains) == 1 else None
        if value is None and placement is not None and joint is way[0]:
            value = _db_in(placement.gain)
        if value is None and joint is not way[0]:
            continue  # what comes after the first stage adds gain only where some is noted
        if value is None:
            several = f"{joint.target.name} has several gains; note the channel with the placement"
            none = f"{joint.target.name} says no gain in dB"
            return replace(given, origin=several if len(gains) > 1 else none), limits
        total += value - sum(abs(pad) for line in pads if (pad := db_of(line)) is not None)
        said.append(f"{joint.target.name} {_db(value)}")
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
    rig: _Rig, device: Device, way: Sequence[Joint], level: ReturnLevel, gain: Given, full_scale: Given
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


def db_of(line: SettingSheet) -> float | None:
    """What a setting says in dB; None where it is not set or its control carries no dB."""
    if not line.is_set:
        return None
    if line.spec.positions:
        return _db_in(line.step_name)
    unit = line.spec.unit or getattr(line.spec.scale, "unit", "")
    return line.value if unit == "dB" else None


def _db_in(text: str) -> float | None:
    """The dB that words such as "+18 dB" say; None for a bare number, which may be a knob's reading."""
    if not text.strip().casefold().endswith("db"):
        return None
    try:
        return read_level_db(text)
    except NotAMeasure:
        return None


def _typed_else(typed: float | None, given: Given, name: str) -> Given:
    if typed is None:
        return given
    return replace(given, value=typed, origin="typed below", place="here", field=name, gear_id=None)


def _first_known(*values: float | None) -> float | None:
    return next((value for value in values if value is not None), None)


def _db(value: float) -> str:
    return f"{value:+.1f} dB".replace("-", "−") if value else "0 dB"


def _typed(name: str, value: float) -> str:
    unit = (
        "dB SPL"
        if name.endswith("_spl")
        else {"dbu": "dBu", "dbfs": "dBFS"}.get(name.rsplit("_", 1)[-1], "dB")
    )
    return f"{value:.10g} {unit}".replace("-", "−")


def _checked(entry: LevelsEntry) -> LevelInputs:
    complaints = Complaints()
    values = {name: _number(complaints, name, name, getattr(entry, name)) for name in _FIELDS}
    of_gear: dict[str, dict[str, float]] = {}
    for at, text in entry.of_gear.items():
        name, _, gear = at.rpartition("-")
        value = _number(complaints, at, name, text) if name in GEAR_FIELDS and gear else None
        if value is not None:
            of_gear.setdefault(gear, {})[name] = value
    complaints.refuse_if_any()
    return LevelInputs(
        **values, gear=tuple(GearInputs(gear, **known) for gear, known in sorted(of_gear.items()))
    )


def _number(complaints: Complaints, at: str, name: str, text: str) -> float | None:
    """A typed figure in the unit of its field."""
    what = f"a level in {'dBu, dBV or V' if name.endswith('_dbu') else 'dB'}"
    return read_figure(
        complaints, at, text, partial(_read_input, name), what=what, wanted=f"{what}, such as 18 or −6.5"
    )


def _read_input(name: str, text: str) -> float | None:
    if name.endswith("_dbu"):
        value = read_level_dbu(text)
    else:
        for unit in ("dB SPL", "dBFS", "dB"):
            text = re.sub(rf"\s*{unit}$", "", text, flags=re.IGNORECASE)
        value = read_number(text)
    return None if value is None else check_input(name, value)
