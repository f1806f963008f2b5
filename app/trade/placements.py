"""Where a microphone stands at a cabinet, in words and as differences between two passes."""

from collections.abc import Callable
from dataclasses import dataclass, fields, replace

from app.trade.distances import LengthUnit, show_angle, show_db, show_distance, show_hz


@dataclass(frozen=True)
class Placement:
    """One microphone on one pass; whatever was not noted is None or empty.

    `distance_mm` from the grille, `offset_mm` from the centre of the cone outwards, `angle_deg` off the speaker's axis,
    `height_mm` above the floor. `pattern` is the polar pattern, `preamp` what it runs into, `gain` the reading there.
    """

    speaker: str = ""
    distance_mm: float | None = None
    offset_mm: float | None = None
    angle_deg: float | None = None
    height_mm: float | None = None
    pattern: str = ""
    pad_db: float | None = None
    low_cut_hz: float | None = None
    preamp: str = ""
    gain: str = ""
    note: str = ""


_LABELS = {
    "speaker": "speaker",
    "distance_mm": "distance",
    "offset_mm": "offset",
    "angle_deg": "angle",
    "height_mm": "height",
    "pattern": "pattern",
    "pad_db": "pad",
    "low_cut_hz": "low cut",
    "preamp": "preamp",
    "gain": "gain",
    "note": "note",
}


def describe(placement: Placement, unit: LengthUnit) -> str:
    """The placement in one short line: "left speaker, 30 mm from the grille, 40 mm off centre, 30° off axis"."""
    said = (
        placement.speaker,
        _say(placement.distance_mm, lambda mm: f"{show_distance(mm, unit)} from the grille"),
        _say(
            placement.offset_mm, lambda mm: f"{show_distance(mm, unit)} off centre" if mm else "at the centre"
        ),
        _say(placement.angle_deg, show_angle),
        _say(placement.height_mm, lambda mm: f"{show_distance(mm, unit)} above the floor"),
        placement.pattern,
        _say(placement.pad_db, lambda db: f"pad {show_db(db)}" if db else "no pad"),
        _say(placement.low_cut_hz, lambda hz: f"low cut {show_hz(hz)}"),
        " ".join(word for word in ("into", placement.preamp) if placement.preamp),
        f"gain {placement.gain}" if placement.gain else "",
        placement.note,
    )
    return ", ".join(words for words in said if words)


def changes(before: Placement, after: Placement, unit: LengthUnit) -> list[str]:
    """What moved from one placement to the next, one entry each: "distance 30 mm → 45 mm", "angle not noted → 15°"."""
    return [
        f"{_LABELS[field.name]} {_value(before, field.name, unit)} → {_value(after, field.name, unit)}"
        for field in fields(Placement)
        if getattr(before, field.name) != getattr(after, field.name)
    ]


def moves(before: Placement, after: Placement, unit: LengthUnit) -> list[str]:
    """The changes of what was noted before and after: what is only noted now has not been moved."""
    noted = {
        field.name: getattr(before, field.name)
        for field in fields(Placement)
        if getattr(before, field.name) in (None, "") or getattr(after, field.name) in (None, "")
    }
    return changes(before, replace(after, **noted), unit)


def _say(value: float | None, words: Callable[[float], str]) -> str:
    return "" if value is None else words(value)


def _value(placement: Placement, name: str, unit: LengthUnit) -> str:
    value = getattr(placement, name)
    if value is None or value == "":
        return "not noted"
    match name:
        case "distance_mm" | "offset_mm" | "height_mm":
            return show_distance(value, unit)
        case "angle_deg":
            return f"{value:g}°".replace("-", "−")
        case "pad_db":
            return show_db(value)
        case "low_cut_hz":
            return show_hz(value)
        case _:
            return str(value)
