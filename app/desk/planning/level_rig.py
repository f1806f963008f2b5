"""What the levels of a pass start from: its chain as it is wired, with the facts, settings and typed figures that say
something in dB."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from typing import Literal

from app.desk.passes.pass_sheets import SettingSheet, StepSheet
from app.desk.planning.hook_up import HookUpSheet
from app.trade.distances import NotAMeasure, read_level_db
from app.trade.gear_facts import GearFacts
from app.trade.hook_up import Device, Joint
from app.trade.level_inputs import LevelInputs
from app.trade.level_plan import Figure, standing_in
from app.trade.typical_levels import Typical

Place = Literal["here", "source", "pass", "hook_up", "ports", "calibrate"]


@dataclass(frozen=True)
class Given:
    """A value that the figures start from. `label` is how a figure names it where it is missing, `origin` says where
    it comes from or why it is not known, `place` where it is entered: a field of the form, or a page of gear. `within_db`
    is how far off a typical value may be that stands in for what is not known; None where it is known."""

    label: str
    value: float | None
    unit: str
    origin: str
    place: Place
    field: str = ""
    gear_id: int | None = None
    within_db: float | None = None

    @property
    def is_open(self) -> bool:
        """Whether it is still to be entered, a typical value standing in for it or not."""
        return self.value is None or self.within_db is not None

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

    @property
    def lines(self) -> tuple[tuple[Figure, ...], ...]:
        """The figures that are there, typical ones among them, a quantity in its units (dBu and volts) together."""
        there = (figure for figure in self.figures if figure.value is not None)
        return tuple(tuple(same) for _, same in groupby(there, key=lambda figure: figure.label))

    @property
    def unknown(self) -> tuple[str, ...]:
        """What cannot be told yet, each named once."""
        return tuple(dict.fromkeys(figure.label for figure in self.figures if figure.value is None))

    def lacking(self, figure: Figure) -> tuple[Given, ...]:
        """What has to be entered before this figure can be worked out."""
        wanted = (*figure.missing, *figure.typical)
        return tuple(given for given in self.givens if given.is_open and given.label in wanted)


def with_typical(known: LevelPart, typical: LevelPart) -> LevelPart:
    """A part with what typical values make of the figures that are open. What it notes and warns of stays what is
    known: a typical value is no reason to turn anything down."""
    within = {given.label: given.within_db or 0.0 for given in typical.givens}
    figures = tuple(
        standing_in(figure, other, [within.get(label, 0.0) for label in figure.missing])
        for figure, other in zip(known.figures, typical.figures, strict=True)
    )
    return replace(
        known, givens=typical.givens, figures=figures, warnings=(*known.warnings, *_off_the_print(figures))
    )


MEASURED_PEAK = "Measured on its print"
PLAINLY_OFF_DB = 6.0
"""A gain read at half of what it was. What is closer may be the part that was played."""


def _off_the_print(figures: Sequence[Figure]) -> tuple[str, ...]:
    """What is said where a print peaks further from the plan than its figures may be off."""
    planned = next(
        (figure for figure in figures if figure.label == "Peak" and figure.value is not None), None
    )
    measured = [item.value for item in figures if item.label == MEASURED_PEAK and item.value is not None]
    if planned is None or planned.value is None or not measured:
        return ()
    off = max(measured) - planned.value
    if abs(off) <= max(PLAINLY_OFF_DB, 2 * (planned.uncertainty or 0.0)):
        return ()
    side = "higher" if off > 0 else "lower"
    return (
        f"The print peaks {abs(off):.0f} dB {side} than this plan says: look at the gains it starts from.",
    )


def gear_field(name: str, gear: str) -> str:
    return f"{name}-{gear}"


class Rig:
    """A pass's hook-up with what was typed, and the questions the levels ask of it."""

    def __init__(self, plan: HookUpSheet, inputs: LevelInputs, *, with_typical: bool = False) -> None:
        self.with_typical = with_typical
        self.sheet = plan.sheet
        self.inputs = inputs
        self.sound_levels = dict(plan.plan.sound_levels)
        self.devices = plan.hook_up.devices
        self.joints = tuple(plan.hook_up.joints())
        self.steps = {str(step.gear_id): step for step in plan.sheet.steps}
        self.interface = next((device for device in self.devices if device.kind == "interface"), None)

    def stood_in(self, given: Given, typical: Typical) -> Given:
        """The given value, with a typical one in its place where it is not known and these are asked for."""
        if given.value is not None or not self.with_typical:
            return given
        return replace(
            given,
            value=typical.value,
            origin=f"typical: {typical.source}; {given.origin}",
            within_db=typical.within_db,
        )

    def facts(self, device: Device) -> GearFacts:
        return self.steps[device.key].facts

    def source_of(self, gear_key: str, fact: str, value: float | None) -> str:
        """Which piece a fact is of, and whether it was known when the pass was logged; or that it is not known."""
        step = self.steps[gear_key]
        if value is None:
            return f"not known of {step.gear_name}"
        return f"{step.gear_name}, noted after this pass" if fact in step.known_since else step.gear_name

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
            place: Place = "here" if typed else "pass"
            return Given(label, None, "dBu", "no interface in this chain", place, typed)
        facts = self.facts(self.interface)
        value = facts.output_full_scale_dbu if side == "output" else facts.input_full_scale_dbu
        origin = self.source_of(self.interface.key, f"{side}_full_scale_dbu", value)
        return Given(label, value, "dBu", origin, "calibrate", gear_id=int(self.interface.key))


def loss_of(rig: Rig, step: StepSheet, label: str, typical: Typical) -> Given:
    """A box's loss, or the typical one, with what its pad takes away on this pass."""
    loss_db = step.facts.loss_db
    origin = rig.source_of(str(step.gear_id), "loss_db", loss_db)
    given = rig.stood_in(Given(label, loss_db, "dB", origin, "ports", gear_id=step.gear_id), typical)
    if given.value is None:
        return given
    pads = [line for line in step.settings if line.spec.job == "pad"]
    known = [value for line in pads if (value := db_of(line)) is not None]
    if known:
        pad = sum(abs(value) for value in known)
        return replace(given, value=given.value + pad, origin=f"{given.origin}, its pad at {db_text(-pad)}")
    return replace(given, origin=f"{given.origin}, pad not noted and counted as out") if pads else given


def db_of(line: SettingSheet) -> float | None:
    """What a setting says in dB; None where it is not set or its control carries no dB."""
    if not line.is_set:
        return None
    if line.spec.positions:
        return db_in(line.step_name)
    unit = line.spec.unit or getattr(line.spec.scale, "unit", "")
    return line.value if unit == "dB" else None


def db_in(text: str) -> float | None:
    """The dB that words such as "+18 dB" say; None for a bare number, which may be a knob's reading."""
    if not text.strip().casefold().endswith("db"):
        return None
    try:
        return read_level_db(text)
    except NotAMeasure:
        return None


def typed_else(typed: float | None, given: Given, name: str) -> Given:
    if typed is None:
        return given
    return replace(
        given, value=typed, origin="typed below", place="here", field=name, gear_id=None, within_db=None
    )


def first_known(*values: float | None) -> float | None:
    return next((value for value in values if value is not None), None)


def db_text(value: float) -> str:
    return f"{value:+.1f} dB".replace("-", "−") if value else "0 dB"
