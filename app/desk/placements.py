"""A microphone's placement between the form and the log."""

from collections.abc import Callable
from dataclasses import dataclass

from app.desk import wording
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
        return "" if mm is None else show_distance(mm, unit)

    return PlacementEntry(
        placement.speaker,
        length(placement.distance_mm),
        length(placement.offset_mm),
        "" if placement.angle_deg is None else f"{placement.angle_deg:g}°",
        length(placement.height_mm),
        placement.pattern,
        "" if placement.pad_db is None else show_db(placement.pad_db),
        "" if placement.low_cut_hz is None else show_hz(placement.low_cut_hz),
        placement.preamp,
        placement.gain,
        placement.note,
    )


def read_entry(complaints: Complaints, at: str, entry: PlacementEntry, unit: LengthUnit) -> Placement:
    """The placement that the typed fields say, with a complaint at `at`-field for each that cannot be."""

    def measure(field: str, text: str, read: Callable[[str], float]) -> float | None:
        if not text.strip():
            return None
        try:
            return read(text)
        except NotAMeasure as error:
            complaints.add(f"{at}-{field}", str(error))
            return None

    def said(field: str, label: str, text: str) -> str:
        return wording.line(complaints, f"{at}-{field}", label, text)

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
