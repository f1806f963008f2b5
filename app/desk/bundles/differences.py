"""What differs between a row as it is here and as it is in a bundle, in words, so that a choice is no blind one."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from app.desk.bundles.document import Document, PassRow, Row, StepRow

NOTHING = "nothing"
LONGEST = 80
WORDS = {
    "hook_up": "hook-up",
    "hook_up_plan": "hook-up plan",
    "level_inputs": "planned levels",
    "balance_db": "balance in dB",
    "delay_by_hand_samples": "delay by hand, in samples",
    "blend_source": "the source in the blend",
    "recorded_with": "recorded with",
    "print_name_pattern": "name of prints",
    "pass_uid": "its pass",
    "source_uid": "its source",
    "gear_uid": "its gear",
}


@dataclass(frozen=True)
class Difference:
    """`here` and `there` are empty where it would take too many words."""

    what: str
    here: str
    there: str

    @property
    def sentence(self) -> str:
        if not self.here and not self.there:
            return f"{self.what} differs"
        return f"{self.what}: {self.here or NOTHING} here, {self.there or NOTHING} there"


def differences(here: Row, there: Row, document: Document) -> tuple[Difference, ...]:
    """Field by field; of a pass's chain control by control, where the same gear stands in it."""
    left_out = {"uid", *type(there).NOT_COMPARED}
    found: list[Difference] = []
    for field in type(there).model_fields:
        mine, theirs = getattr(here, field, None), getattr(there, field)
        if field in left_out or mine == theirs:
            continue
        if field == "steps" and isinstance(here, PassRow) and isinstance(there, PassRow):
            found += _of_chains(here, there, document)
        else:
            found.append(Difference(_words(field), _shown(mine), _shown(theirs)))
    return tuple(found)


def _of_chains(here: PassRow, there: PassRow, document: Document) -> Iterator[Difference]:
    gear = {row.uid: row.name for row in document.gear}
    names = {
        (layout.uid, control.key): str(control.spec.get("name", control.key))
        for layout in document.layouts
        for control in layout.controls
    }
    chains = [[step.gear_uid for step in row.steps] for row in (here, there)]
    if chains[0] != chains[1]:
        yield Difference(
            "chain", *(_clipped(", ".join(gear.get(uid, "other gear") for uid in chain)) for chain in chains)
        )
        return
    for mine, theirs in zip(here.steps, there.steps, strict=True):
        name = gear.get(theirs.gear_uid, "gear")
        readings = [{line.control: line.reading for line in step.settings} for step in (mine, theirs)]
        for key in dict.fromkeys((*readings[0], *readings[1])):
            if readings[0].get(key) != readings[1].get(key):
                control = names.get((theirs.layout_uid, key), names.get((mine.layout_uid, key), key))
                yield Difference(f"{name}, {control}", *(one.get(key, "") for one in readings))
        yield from _of_placements(name, mine, theirs)


def _of_placements(name: str, mine: StepRow, theirs: StepRow) -> Iterator[Difference]:
    placed: list[Mapping[str, Any]] = [
        {} if step.placement is None else step.placement.model_dump() for step in (mine, theirs)
    ]
    for field in dict.fromkeys((*placed[0], *placed[1])):
        here, there = (_shown(one.get(field)) for one in placed)
        if here != there:
            yield Difference(f"{name}, {_words(field)}", here, there)


def _words(field: str) -> str:
    for ending, unit in (("_mm", " in mm"), ("_deg", " in degrees"), ("_db", " in dB"), ("_hz", " in Hz")):
        if field.endswith(ending):
            return field.removesuffix(ending).replace("_", " ") + unit
    return WORDS.get(field, field.replace("_", " "))


def _shown(value: object) -> str:
    if isinstance(value, str | int | float):
        return _clipped(f"{value:g}" if isinstance(value, float) else str(value))
    if isinstance(value, list) and all(isinstance(item, str) for item in value):
        return _clipped(", ".join(value))
    return ""


def _clipped(words: str) -> str:
    words = " ".join(words.split())
    return words if len(words) <= LONGEST else f"{words[: LONGEST - 1]}…"
