"""A pass's form as a flat set of fields (field_names.py), each of which can be changed by itself: what desk and phone
write into one draft is merged field by field."""

from collections.abc import Mapping
from dataclasses import asdict, replace
from typing import Any

from app.desk.passes.field_names import (
    MEASURES,
    WORDS,
    BranchField,
    PlacementField,
    ReadingField,
    StepField,
    WordsField,
    parse,
)
from app.desk.passes.passes import PassEntry, StepEntry
from app.signal.stored_json import read_stored
from app.trade.distances import LengthUnit, NotAMeasure, read_offset_mm

LENGTHS = ("distance", "offset", "height")


def fields_of(entry: PassEntry) -> dict[str, str]:
    """Every field with something in it."""
    found = {name: getattr(entry, name) for name in WORDS}
    for step in entry.steps:
        found[str(BranchField(step.gear_id))] = step.branch
        for control_id, reading in step.readings.items():
            found[str(ReadingField(step.gear_id, control_id))] = reading
        if step.placement is not None:
            found |= {
                str(PlacementField(step.gear_id, measure)): getattr(step.placement, measure)
                for measure in MEASURES
            }
    return {name: text for name, text in found.items() if text}


def difference(before: PassEntry, after: PassEntry) -> dict[str, str]:
    """The fields by which `after` differs, each with what stands there now."""
    was, now = fields_of(before), fields_of(after)
    return {name: now.get(name, "") for name in was | now if was.get(name, "") != now.get(name, "")}


def with_fields(entry: PassEntry, changes: Mapping[str, str]) -> PassEntry:
    """The entry with some fields changed. Fields of gear that does not stand in its chain are left aside."""
    words: dict[str, Any] = {}
    steps = entry.steps
    for name, text in changes.items():
        field = parse(name)
        if isinstance(field, WordsField):
            words[field.words] = text
        elif field is not None:
            steps = tuple(
                _with_field(step, field, text) if step.gear_id == field.gear_id else step for step in steps
            )
    return replace(entry, **words, steps=steps)


def _with_field(step: StepEntry, field: StepField, text: str) -> StepEntry:
    match field:
        case ReadingField(_, control_id):
            return replace(step, readings=step.readings | {control_id: text})
        case BranchField():
            return replace(step, branch=text)
        case PlacementField(_, measure) if step.placement is not None:
            placed: dict[str, Any] = {measure: text}
            return replace(step, placement=replace(step.placement, **placed))
    return step


def in_a_unit(name: str, text: str, unit: LengthUnit) -> str:
    """A bare length with the unit of the one who wrote it: the other device may read in inches."""
    field = parse(name)
    if not isinstance(field, PlacementField) or field.measure not in LENGTHS or not text.strip():
        return text
    try:
        is_bare = read_offset_mm(text, "mm") != read_offset_mm(text, "in")
    except NotAMeasure:
        return text
    return f"{text.strip()} {unit}" if is_bare else text


def to_json(entry: PassEntry) -> dict[str, Any]:
    return asdict(entry)


def from_json(kept: Mapping[str, Any]) -> PassEntry:
    return read_stored(PassEntry, kept)


def change_words(changes: Mapping[str, str], control_names: Mapping[int, str]) -> str:
    """What a change does, shortly: “Treble 6.5”, “distance 30 mm”, “3 fields”."""
    if len(changes) != 1:
        return f"{len(changes)} fields"
    ((name, text),) = changes.items()
    match parse(name):
        case ReadingField(_, control_id):
            what = control_names.get(control_id, "setting")
        case PlacementField(_, measure):
            what = measure.replace("_", " ")
        case BranchField():
            return "branch"
        case _:
            return name.replace("_", "-")
    return f"{what} {text}" if text else f"{what} emptied"
