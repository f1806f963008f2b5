"""A microphone's placement between the form and the log."""

from collections.abc import Callable
from dataclasses import dataclass

from app.desk import wording
from app.desk.passes.field_names import PlacementField
from app.desk.refusals import Complaints
from app.trade.distances import (
    LengthUnit,
    NotAMeasure,
    read_angle_deg,
    read_distance_mm,
    read_frequency_hz,
    read_level_db,
    read_offset_mm,
    show_db,
    show_distance,
    show_hz,
)
from app.trade.placements import Placement


@dataclass(frozen=True)
class PlacementEntry:
    """The placement fields of the pass form as typed."""

    speaker: str = ""
    distance: str = ""
    offset: str = ""
    angle: str = ""
    height: str = ""
    pattern: str = ""
    pad: str = ""
    low_cut: str = ""
    preamp: str = ""
    gain: str = ""
    note: str = ""


def entry_of(placement: Placement, unit: LengthUnit) -> PlacementEntry:
    """The form that would save this placement unchanged."""

    def length(mm: float | None) -> str:
        other: LengthUnit = "mm" if unit == "in" else "in"
        if mm is None:
            return ""
        ways = (show_distance(mm, unit), show_distance(mm, other), f"{mm:.10g} mm")
        return _exact(mm, ways, lambda text: read_offset_mm(text, unit))

    angle, pad, low_cut = placement.angle_deg, placement.pad_db, placement.low_cut_hz
    return PlacementEntry(
        placement.speaker,
        length(placement.distance_mm),
        length(placement.offset_mm),
        "" if angle is None else f"{angle:.10g}°",
        length(placement.height_mm),
        placement.pattern,
        "" if pad is None else _exact(pad, (show_db(pad), f"{pad:.10g} dB"), read_level_db),
        ""
        if low_cut is None
        else _exact(low_cut, (show_hz(low_cut), f"{low_cut:.10g} Hz"), read_frequency_hz),
        placement.preamp,
        placement.gain,
        placement.note,
    )


def _exact(value: float, ways: tuple[str, ...], read: Callable[[str], float]) -> str:
    """The first way of writing the value that reads back as the value itself, so that saving anew moves nothing."""
    return next((text for text in ways if abs(read(text) - value) < 1e-3), ways[-1])


def read_entry(complaints: Complaints, gear_id: int, entry: PlacementEntry, unit: LengthUnit) -> Placement:
    """The placement that the typed fields say, with a complaint at the field of each that cannot be."""

    def measure(field: str, text: str, read: Callable[[str], float]) -> float | None:
        if not text.strip():
            return None
        try:
            return read(text)
        except NotAMeasure as error:
            complaints.add(str(PlacementField(gear_id, field)), str(error))
            return None

    def said(field: str, label: str, text: str) -> str:
        return wording.line(complaints, str(PlacementField(gear_id, field)), label, text)

    return Placement(
        speaker=said("speaker", "The speaker", entry.speaker),
        distance_mm=measure("distance", entry.distance, lambda text: read_distance_mm(text, unit)),
        offset_mm=measure("offset", entry.offset, lambda text: read_offset_mm(text, unit)),
        angle_deg=measure("angle", entry.angle, read_angle_deg),
        height_mm=measure("height", entry.height, lambda text: read_distance_mm(text, unit)),
        pattern=said("pattern", "The pattern", entry.pattern),
        pad_db=measure("pad", entry.pad, read_level_db),
        low_cut_hz=measure("low_cut", entry.low_cut, read_frequency_hz),
        preamp=said("preamp", "The preamp", entry.preamp),
        gain=said("gain", "The gain", entry.gain),
        note=said("note", "The note", entry.note),
    )
