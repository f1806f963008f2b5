"""One piece of gear stands in for another: which of its controls answer to which, and where they must stand.

A position carries over by its name, by a quantity where both controls have one in kindred units (dB, ms, Hz), else by
travel where both move alike. By travel is a place to start from, for two knobs seldom work alike over their way; what
carries in no way is said. Common practice.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from app.trade.readings import NOTE_LIMIT, show
from app.trade.scale_values import plain_text, value_at, with_unit
from app.trade.scales import SCALED_FORMS, STEPPED_FORMS, ControlSpec, MarkScale, PercentScale, RangeScale
from app.trade.travel import TRAVEL_SLACK
from app.trade.written_numbers import NotANumber, read_quantity

Way = Literal["as it was", "by name", "by unit", "by travel", "not"]


@dataclass(frozen=True)
class Stood:
    """A control and how it stood, as logged. `position` is None where it has none, `value` where its scale has none."""

    key: str
    spec: ControlSpec
    reading: str
    position: float | None
    value: float | None


@dataclass(frozen=True)
class Carried:
    """How the control that answers must stand. Where `way` is not, `reading` is empty and `note` says why; by unit, a
    note says so when the other scale ends too soon."""

    way: Way
    reading: str
    position: float | None
    note: str = ""


@dataclass(frozen=True)
class Answer:
    """A control of the gear that is gone, and the one that answers to it on the substitute, if any does."""

    stood: Stood
    key: str | None
    spec: ControlSpec | None
    carried: Carried


def answers(stood: Sequence[Stood], controls: Sequence[tuple[str, ControlSpec]]) -> list[Answer]:
    """Each logged control with the one that answers to it: the same (by key), else of the same name, else the only
    one of the same job. No control answers to two."""
    free = dict(controls)
    found: dict[str, str] = {}
    for alike in (_is_same, _has_name, _does_job):
        for one in stood:
            if one.key in found:
                continue
            keys = [key for key, spec in free.items() if alike(one, key, spec)]
            if len(keys) == 1:
                found[one.key] = keys[0]
                del free[keys[0]]
    specs = dict(controls)
    made = []
    for one in stood:
        key = found.get(one.key)
        if key is None:
            why = "It has no control that answers to this one: come near with what it has, by ear."
            made.append(Answer(one, None, None, Carried("not", "", None, why)))
        else:
            made.append(Answer(one, key, specs[key], carry(one, specs[key])))
    return made


def carry(stood: Stood, to: ControlSpec) -> Carried:
    """Where a control must stand to do what the other did."""
    was = stood.spec
    if (was.form, was.scale, was.travel, was.positions, was.unit) == (
        to.form,
        to.scale,
        to.travel,
        to.positions,
        to.unit,
    ):
        return Carried("as it was", stood.reading, stood.position)
    if to.form in STEPPED_FORMS:
        return _by_name(stood, to)
    if to.form == "text":
        return Carried("by name", stood.reading[:NOTE_LIMIT], None)
    return _by_unit(stood, to) or _by_travel(stood, to)


def _is_same(one: Stood, key: str, spec: ControlSpec) -> bool:
    del spec
    return key == one.key


def _has_name(one: Stood, key: str, spec: ControlSpec) -> bool:
    del key
    return spec.name.casefold() == one.spec.name.casefold()


def _does_job(one: Stood, key: str, spec: ControlSpec) -> bool:
    del key
    return bool(spec.job) and spec.job == one.spec.job


def _by_name(stood: Stood, to: ControlSpec) -> Carried:
    names = [" ".join(name.split()).casefold() for name in to.positions]
    wanted = " ".join(_name_of(stood).split()).casefold()
    if wanted not in names:
        return Carried("not", "", None, f"It has no such position; it has {', '.join(to.positions)}.")
    step = names.index(wanted)
    return Carried("by name", to.positions[step], step / (len(names) - 1))


def _name_of(stood: Stood) -> str:
    """The position's name; of other controls the reading as it was written."""
    if stood.spec.form not in STEPPED_FORMS or stood.position is None:
        return stood.reading
    return stood.spec.positions[round(stood.position * (len(stood.spec.positions) - 1))]


def _by_unit(stood: Stood, to: ControlSpec) -> Carried | None:
    """None where not both have a unit, or these measure different things."""
    value = stood.value
    if value is None and stood.position is not None:
        value = value_at(stood.spec, stood.position)
    unit, wanted = unit_of(stood.spec), unit_of(to)
    if value is None or not unit or not wanted:
        return None
    try:
        carried = read_quantity(f"{value:.10f} {unit}", wanted)
    except NotANumber:
        return None
    if to.form == "number":
        return Carried("by unit", with_unit(plain_text(float(f"{carried:.6g}")), wanted), None)
    at, is_within = _position_of(to, carried)
    reading = show(to, at)
    if is_within:
        return Carried("by unit", reading, at)
    asked = with_unit(plain_text(float(f"{carried:.6g}")), wanted)
    return Carried("by unit", reading, at, f"{asked} lies beyond its scale; its end is the nearest.")


def _by_travel(stood: Stood, to: ControlSpec) -> Carried:
    if stood.spec.form != to.form:
        why = f"A {stood.spec.form} tells nothing of a {to.form}: set it by ear."
        return Carried("not", "", None, why)
    if stood.position is None or to.form not in SCALED_FORMS:
        return Carried("not", "", None, "The two are not in the same unit: set it by ear.")
    note = "By travel: a place to start from, for the two need not work alike."
    return Carried("by travel", show(to, stood.position), stood.position, note)


def unit_of(spec: ControlSpec) -> str:
    """The unit that a control's numbers are in, empty where they have none. Percent of travel is no quantity."""
    match spec.scale:
        case RangeScale(unit=unit) | MarkScale(unit=unit):
            return unit
        case PercentScale():
            return ""
        case _:
            return spec.unit


def _position_of(to: ControlSpec, value: float) -> tuple[float, bool]:
    """The position nearest to a value of the scale, and whether the scale goes that far. Printed values rise or fall
    all the way, so the position is found by halving."""
    low, high = (
        (0.0, 1.0) if not isinstance(to.scale, MarkScale) else (to.scale.marks[0][1], to.scale.marks[-1][1])
    )
    first, last = value_at(to, low), value_at(to, high)
    assert first is not None
    assert last is not None
    slack = TRAVEL_SLACK * abs(last - first)
    if not min(first, last) - slack <= value <= max(first, last) + slack:
        return (low if abs(value - first) < abs(value - last) else high), False
    for _ in range(60):
        middle = (low + high) / 2
        at = value_at(to, middle)
        assert at is not None
        if (at < value) == (first < last):
            low = middle
        else:
            high = middle
    return round((low + high) / 2, 9), True
