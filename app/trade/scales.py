"""What a control is: its form, its printed scale, its travel, and the same as plain JSON values."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import pairwise
from math import isfinite
from typing import Any, Literal, get_args

from app.trade.control_jobs import JOBS, Job, job_by_name
from app.trade.json_values import list_of, mapping_of, number_of, text_of
from app.trade.travel import Travel

Form = Literal["knob", "fader", "selector", "switch", "number", "text"]
FORMS: tuple[Form, ...] = get_args(Form)
SCALED_FORMS: frozenset[Form] = frozenset(("knob", "fader"))
STEPPED_FORMS: frozenset[Form] = frozenset(("selector", "switch"))

NAME_LIMIT = 80
POSITIONS_LIMIT = 100


@dataclass(frozen=True)
class ClockScale:
    """Nothing printed: the pointer is read as the hour hand of a clock."""


@dataclass(frozen=True)
class RangeScale:
    """Evenly printed numbers from `low` at the start of travel to `high` at its end."""

    low: float
    high: float
    unit: str = ""

    def __post_init__(self) -> None:
        _check_unit(self.unit)
        if not (isfinite(self.low) and isfinite(self.high)) or max(abs(self.low), abs(self.high)) > 1e9:
            raise ValueError("A scale's ends are plain numbers below a thousand million.")
        if abs(self.high - self.low) < 1e-6:
            raise ValueError("A scale's two ends must differ.")


@dataclass(frozen=True)
class PercentScale:
    """0 % at the start of travel, 100 % at its end."""


@dataclass(frozen=True)
class MarkScale:
    """Values printed at uneven positions: `marks` holds (value, position fraction) from the start of travel onwards.

    Between two marks a value is interpolated linearly in travel, and is said to be an interpolation. Outside the marks
    nothing is printed, so no value is known there.
    """

    unit: str
    marks: tuple[tuple[float, float], ...]

    def __post_init__(self) -> None:
        _check_unit(self.unit)
        if not 2 <= len(self.marks) <= POSITIONS_LIMIT:
            raise ValueError("A scale of printed marks needs at least two marks.")
        if not all(isfinite(value) and abs(value) <= 1e9 and 0.0 <= at <= 1.0 for value, at in self.marks):
            raise ValueError("Each mark has a value and a position between 0 and 1.")
        if any(after[1] - before[1] < 1e-4 for before, after in pairwise(self.marks)):
            raise ValueError("Marks stand in order of their position, no two at the same place.")
        if self.unit == "%" and (self.marks[0][1], self.marks[-1][1]) != (0.0, 1.0):
            # Beyond the marks only the percentage of travel is left to read, which printed percentages would belie.
            raise ValueError("Printed percentages are marked from one end of the travel to the other.")
        steps = [after[0] - before[0] for before, after in pairwise(self.marks)]
        if not (all(step > 1e-6 for step in steps) or all(step < -1e-6 for step in steps)):
            raise ValueError("The marks' values rise all the way, or fall all the way.")


Scale = ClockScale | RangeScale | PercentScale | MarkScale


@dataclass(frozen=True)
class ControlSpec:
    """One control of a piece of gear.

    A knob or fader has a scale (a fader no clock); a selector or switch has named positions; a number has a unit.
    `job` says what it does where levels or checks have to know.
    Raises ValueError with a sentence where the parts do not fit together.
    """

    name: str
    form: Form
    scale: Scale | None = None
    travel: Travel = field(default_factory=Travel)
    positions: tuple[str, ...] = ()
    unit: str = ""
    job: Job = ""

    def __post_init__(self) -> None:
        if not self.name.strip() or len(self.name) > NAME_LIMIT:
            raise ValueError(f"A control has a name of 1 to {NAME_LIMIT} characters.")
        if self.form not in FORMS:
            raise ValueError(f"A control is one of: {', '.join(FORMS)}.")
        if self.form in SCALED_FORMS and self.scale is None:
            raise ValueError(f"A {self.form} needs a scale.")
        if self.form not in SCALED_FORMS and self.scale is not None:
            raise ValueError(f"A {self.form} has no scale.")
        if self.form == "fader" and isinstance(self.scale, ClockScale):
            raise ValueError("A fader does not turn, so it cannot be read as a clock.")
        _check_positions(self.form, self.positions)
        if self.form != "number" and self.unit:
            raise ValueError("Only a number carries its unit here; a knob's unit belongs to its scale.")
        _check_unit(self.unit)


def spec_to_json(spec: ControlSpec) -> dict[str, Any]:
    """The control as plain JSON values; `spec_from_json` gives the same control back."""
    return {
        "name": spec.name,
        "form": spec.form,
        "scale": None if spec.scale is None else _scale_to_json(spec.scale),
        "travel": {"start_deg": spec.travel.start_deg, "end_deg": spec.travel.end_deg},
        "positions": list(spec.positions),
        "unit": spec.unit,
        "job": spec.job,
    }


def spec_from_json(data: object) -> ControlSpec:
    """A control from plain JSON values. Raises ValueError with a sentence on any shape it does not know. A control
    that was written before jobs were has that of its name."""
    keys = {"name", "form", "scale", "travel", "positions", "unit"}
    has_job = isinstance(data, Mapping) and "job" in data
    fields = mapping_of(data, "A control", keys | {"job"} if has_job else keys)
    travel = mapping_of(fields["travel"], "A travel", {"start_deg", "end_deg"})
    form = text_of(fields["form"], "A control's form")
    if form not in FORMS:
        raise ValueError(f"A control is one of: {', '.join(FORMS)}; not {form!r}.")
    name = text_of(fields["name"], "A control's name")
    job = text_of(fields["job"], "A control's job") if has_job else job_by_name(name)
    if job not in JOBS:
        raise ValueError(
            f"A control's job is one of: {', '.join(filter(None, JOBS))}; or empty, not {job!r}."
        )
    return ControlSpec(
        name=name,
        form=form,
        scale=None if fields["scale"] is None else _scale_from_json(fields["scale"]),
        travel=Travel(number_of(travel["start_deg"], "An angle"), number_of(travel["end_deg"], "An angle")),
        positions=tuple(
            text_of(name, "A position") for name in list_of(fields["positions"], "The positions")
        ),
        unit=text_of(fields["unit"], "A unit"),
        job=job,
    )


def _scale_to_json(scale: Scale) -> dict[str, Any]:
    match scale:
        case ClockScale():
            return {"kind": "clock"}
        case PercentScale():
            return {"kind": "percent"}
        case RangeScale(low, high, unit):
            return {"kind": "range", "low": low, "high": high, "unit": unit}
        case MarkScale(unit, marks):
            return {"kind": "marks", "unit": unit, "marks": [[value, at] for value, at in marks]}


def _scale_from_json(data: object) -> Scale:
    kind = data.get("kind") if isinstance(data, Mapping) else None
    match kind:
        case "clock":
            mapping_of(data, "A clock scale", {"kind"})
            return ClockScale()
        case "percent":
            mapping_of(data, "A percent scale", {"kind"})
            return PercentScale()
        case "range":
            fields = mapping_of(data, "A number scale", {"kind", "low", "high", "unit"})
            low, high = number_of(fields["low"], "A scale's end"), number_of(fields["high"], "A scale's end")
            return RangeScale(low, high, text_of(fields["unit"], "A unit"))
        case "marks":
            fields = mapping_of(data, "A scale of marks", {"kind", "unit", "marks"})
            marks = tuple(_mark(mark) for mark in list_of(fields["marks"], "The marks"))
            return MarkScale(text_of(fields["unit"], "A unit"), marks)
        case _:
            raise ValueError(f"A scale is one of: clock, range, percent, marks; not {kind!r}.")


def _mark(data: object) -> tuple[float, float]:
    pair = list_of(data, "A mark")
    if len(pair) != 2:
        raise ValueError("A mark is a value and a position.")
    return number_of(pair[0], "A mark's value"), number_of(pair[1], "A mark's position")


def _check_unit(unit: str) -> None:
    if len(unit) > 12 or not all(character.isalpha() or character in "%°/" for character in unit):
        raise ValueError("A unit is a short symbol such as dB, ms or Hz.")


def _check_positions(form: Form, positions: tuple[str, ...]) -> None:
    if form not in STEPPED_FORMS:
        if positions:
            raise ValueError(f"A {form} has no named positions.")
        return
    if not 2 <= len(positions) <= POSITIONS_LIMIT:
        raise ValueError(f"A {form} has 2 to {POSITIONS_LIMIT} positions.")
    if any(not name.strip() or len(name) > NAME_LIMIT for name in positions):
        raise ValueError(f"Each position of a {form} has a name of 1 to {NAME_LIMIT} characters.")
    if len({" ".join(name.split()).casefold() for name in positions}) < len(positions):
        raise ValueError(f"No two positions of a {form} bear the same name.")
