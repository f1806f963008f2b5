"""A pass's form as a flat set of fields, each of which can be changed by itself: what desk and phone write into one
draft is merged field by field.

    title, notes, hook_up, levels          in words
    control-{gear_id}-{control_id}         a reading
    placement-{gear_id}-{field}            a microphone's place
    branch-{gear_id}                       the parallel branch
"""

from collections.abc import Mapping
from dataclasses import asdict, fields, replace
from typing import Any

from app.desk.passes.passes import PassEntry, StepEntry, reading_field
from app.desk.passes.placements import PlacementEntry
from app.trade.distances import LengthUnit, NotAMeasure, read_offset_mm

WORDS = ("title", "notes", "hook_up", "levels")
LENGTHS = ("distance", "offset", "height")
PLACEMENT_FIELDS = tuple(field.name for field in fields(PlacementEntry))


def fields_of(entry: PassEntry) -> dict[str, str]:
    """Every field with something in it."""
    found = {name: getattr(entry, name) for name in WORDS}
    for step in entry.steps:
        found[f"branch-{step.gear_id}"] = step.branch
        for control_id, reading in step.readings.items():
            found[reading_field(step.gear_id, control_id)] = reading
        if step.placement is not None:
            found |= {
                f"placement-{step.gear_id}-{name}": text for name, text in asdict(step.placement).items()
            }
    return {name: text for name, text in found.items() if text}


def difference(before: PassEntry, after: PassEntry) -> dict[str, str]:
    """The fields by which `after` differs, each with what stands there now."""
    was, now = fields_of(before), fields_of(after)
    return {name: now.get(name, "") for name in was | now if was.get(name, "") != now.get(name, "")}


def with_fields(entry: PassEntry, changes: Mapping[str, str]) -> PassEntry:
    """The entry with some fields changed. Fields of gear that does not stand in its chain are left aside."""
    words: dict[str, Any] = {name: changes[name] for name in WORDS if name in changes}
    steps = tuple(_with_fields(step, changes) for step in entry.steps)
    return replace(entry, **words, steps=steps)


def _with_fields(step: StepEntry, changes: Mapping[str, str]) -> StepEntry:
    at_control = f"control-{step.gear_id}-"
    readings = dict(step.readings)
    for name, text in changes.items():
        number = name.removeprefix(at_control)
        if name.startswith(at_control) and number.isascii() and number.isdigit() and len(number) < 15:
            readings[int(number)] = text
    at_placement = f"placement-{step.gear_id}-"
    placement = step.placement
    if placement is not None:
        said = {
            name: changes[at_placement + name] for name in PLACEMENT_FIELDS if at_placement + name in changes
        }
        placement = replace(placement, **said)
    branch = changes.get(f"branch-{step.gear_id}", step.branch)
    return replace(step, branch=branch, readings=readings, placement=placement)


def in_a_unit(name: str, text: str, unit: LengthUnit) -> str:
    """A bare length with the unit of the one who wrote it: the other device may read in inches."""
    if not name.startswith("placement-") or not name.endswith(LENGTHS) or not text.strip():
        return text
    try:
        is_bare = read_offset_mm(text, "mm") != read_offset_mm(text, "in")
    except NotAMeasure:
        return text
    return f"{text.strip()} {unit}" if is_bare else text


def to_json(entry: PassEntry) -> dict[str, Any]:
    return asdict(entry)


def from_json(kept: Mapping[str, Any]) -> PassEntry:
    steps = tuple(
        StepEntry(
            step["gear_id"],
            step["layout_id"],
            step["branch"],
            {int(control_id): text for control_id, text in step["readings"].items()},
            None if step["placement"] is None else PlacementEntry(**step["placement"]),
        )
        for step in kept["steps"]
    )
    return PassEntry(**{**kept, "steps": steps})


PLACEMENT_WORDS = {"low_cut": "low cut"}


def change_words(changes: Mapping[str, str], control_names: Mapping[int, str]) -> str:
    """What a change does, shortly: “Treble 6.5”, “distance 30 mm”, “3 fields”."""
    if len(changes) != 1:
        return f"{len(changes)} fields"
    ((name, text),) = changes.items()
    place, _, rest = name.partition("-")
    if place == "control":
        what = control_names.get(int(rest.partition("-")[2]), "setting")
    elif place == "placement":
        field = rest.partition("-")[2]
        what = PLACEMENT_WORDS.get(field, field)
    else:
        return {"hook_up": "hook-up"}.get(place, place)
    return f"{what} {text}" if text else f"{what} emptied"
