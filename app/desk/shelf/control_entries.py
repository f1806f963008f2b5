"""A control's row of the layout form, and the control it says."""

import re
from dataclasses import dataclass

from app.desk import wording
from app.desk.refusals import Complaints
from app.trade.control_jobs import JOBS, job_by_name
from app.trade.readings import UnknownReading, read, show
from app.trade.scales import (
    FORMS,
    ClockScale,
    ControlSpec,
    MarkScale,
    PercentScale,
    RangeScale,
    Scale,
)
from app.trade.travel import Travel

AS_NAMED = "as_named"


@dataclass(frozen=True)
class ControlEntry:
    """One control's row of the layout form as typed. `key` is empty for a control that is new; its `job` is then that
    of its name, unless another is chosen."""

    key: str = ""
    name: str = ""
    form: str = "knob"
    scale: str = "range"
    low: str = "0"
    high: str = "10"
    unit: str = ""
    marks: str = ""
    positions: str = ""
    travel_start: str = "7:00"
    travel_end: str = "5:00"
    job: str = AS_NAMED


def read_entry(complaints: Complaints, at: str, entry: ControlEntry) -> ControlSpec | None:
    name = wording.line(complaints, f"{at}-name", "The control's name", entry.name, required=True)
    if entry.form not in FORMS:
        complaints.add(f"{at}-form", "Choose what the control is from the list.")
        return None
    scale: Scale | None = None
    travel = Travel()
    if entry.form == "knob":
        travel = _travel(complaints, at, entry)
    if entry.form in ("knob", "fader"):
        scale = _scale(complaints, at, entry, travel)
        if scale is None:
            return None
    positions: tuple[str, ...] = ()
    if entry.form in ("selector", "switch"):
        positions = tuple(part.strip() for part in entry.positions.split(",") if part.strip())
        if len(positions) < 2:
            complaints.add(f"{at}-positions", "Write its positions with commas between, such as: off, on.")
            return None
    if not name:
        return None
    try:
        return ControlSpec(
            name,
            entry.form,
            scale,
            travel,
            positions,
            entry.unit.strip() if entry.form == "number" else "",
            entry.job if entry.job in JOBS else job_by_name(name),
        )
    except ValueError as error:
        complaints.add(f"{at}-name", str(error))
        return None


def read_so_far(entries: tuple[ControlEntry, ...]) -> tuple[ControlSpec, ...]:
    """The controls of the rows that say one already, for a drawing of them."""
    specs = (read_entry(Complaints(), "", entry) for entry in entries)
    return tuple(spec for spec in specs if spec is not None)


def _travel(complaints: Complaints, at: str, entry: ControlEntry) -> Travel:
    """A knob's travel from the two clock positions where it stops."""
    clock = ControlSpec("travel", "knob", ClockScale(), Travel(-170, 170))
    ends = []
    for name, text in (("travel_start", entry.travel_start), ("travel_end", entry.travel_end)):
        try:
            position = read(clock, text).position
        except UnknownReading:
            position = None
        if position is None:
            complaints.add(f"{at}-{name}", "Write where the knob stops as on a clock, such as 7:00 or 5:00.")
            return Travel()
        ends.append(round(clock.travel.start_deg + position * clock.travel.sweep_deg, 3))
    try:
        return Travel(*ends)
    except ValueError as error:
        complaints.add(f"{at}-travel_start", str(error))
        return Travel()


def _scale(complaints: Complaints, at: str, entry: ControlEntry, travel: Travel) -> Scale | None:
    unit = entry.unit.strip()
    try:
        match entry.scale:
            case "clock":
                return ClockScale()
            case "percent":
                return PercentScale()
            case "range":
                return _range(complaints, at, entry, unit)
            case "marks":
                return _marks(complaints, at, entry, unit, travel)
    except ValueError as error:
        complaints.add(f"{at}-scale", str(error))
        return None
    complaints.add(f"{at}-scale", "Choose the scale from the list.")
    return None


def _range(complaints: Complaints, at: str, entry: ControlEntry, unit: str) -> RangeScale | None:
    ends = []
    for name, text in (("low", entry.low), ("high", entry.high)):
        number = _number(text)
        if number is None:
            complaints.add(
                f"{at}-{name}", "Write the number printed at this end of the scale, such as 0 or -15."
            )
            return None
        ends.append(number)
    return RangeScale(ends[0], ends[1], unit)


def _marks(
    complaints: Complaints, at: str, entry: ControlEntry, unit: str, travel: Travel
) -> MarkScale | None:
    """Marks as typed: “20 at 7:00, 120 at noon, 600 at 5:00”; on a fader “… at 30 %”."""
    is_knob = entry.form == "knob"
    place = _mark_place(is_knob, travel)
    marks = []
    for part in re.split(r"[,;\n]+", entry.marks):
        if not part.strip():
            continue
        value, _, where = part.partition(" at ")
        number = _number(value.strip().removesuffix(unit))
        try:
            position = read(place, where.strip()).position
        except UnknownReading:
            position = None
        if position is None or number is None:
            example = "20 at 7:00, 120 at noon, 600 at 5:00" if is_knob else "0 at 0 %, -10 at 60 %"
            complaints.add(f"{at}-marks", f"“{part.strip()}” is not a mark. Write them such as: {example}.")
            return None
        marks.append((number, round(position, 6)))
    return MarkScale(unit, tuple(marks))


def _mark_place(is_knob: bool, travel: Travel) -> ControlSpec:
    """The control on which a mark's place is read: a knob as a clock, a fader in percent."""
    if is_knob:
        return ControlSpec("mark", "knob", ClockScale(), travel)
    return ControlSpec("mark", "fader", PercentScale())


def _number(text: str) -> float | None:
    try:
        return read(ControlSpec("number", "number"), text.strip()).value
    except UnknownReading:
        return None


def entry_of(key: str, spec: ControlSpec) -> ControlEntry:
    """The form's row for a control, which `read_entry` reads back as the same."""
    clock = ControlSpec("travel", "knob", ClockScale(), Travel(-170, 170))

    def at_clock(angle_deg: float) -> str:
        return _exactly(clock, (angle_deg - clock.travel.start_deg) / clock.travel.sweep_deg)

    values: dict[str, str] = {"unit": spec.unit, "positions": ", ".join(spec.positions)}
    match spec.scale:
        case ClockScale():
            values |= {"scale": "clock"}
        case PercentScale():
            values |= {"scale": "percent"}
        case RangeScale(low, high, unit):
            values |= {"scale": "range", "low": f"{low:.10g}", "high": f"{high:.10g}", "unit": unit}
        case MarkScale(unit, marks):
            place = _mark_place(spec.form == "knob", spec.travel)
            written = ", ".join(f"{value:.10g} at {_exactly(place, position)}" for value, position in marks)
            values |= {"scale": "marks", "unit": unit, "marks": written}
    return ControlEntry(
        key=key,
        name=spec.name,
        form=spec.form,
        job=spec.job,
        travel_start=at_clock(spec.travel.start_deg),
        travel_end=at_clock(spec.travel.end_deg),
        **values,
    )


def _exactly(place: ControlSpec, position: float) -> str:
    """A position as its scale shows it where that reads back the same, else as a percentage of the travel."""
    shown = show(place, position)
    read_back = read(place, shown).position
    near = read_back is not None and abs(read_back - position) < 1e-6
    return shown if near else f"{position * 100:.10g} %"
