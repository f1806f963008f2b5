"""What a field that can be jotted is called, the same in a form, a cell, a draft and a refusal.

    title, notes, hook_up, levels          a pass in words
    control-{gear_id}-{control_id}         a reading
    placement-{gear_id}-{measure}          a microphone's place
    branch-{gear_id}                       the parallel branch

Fields are named by the gear, not by its place in the chain: moving gear about changes no field's name.
"""

import re
from dataclasses import dataclass

WORDS = ("title", "notes", "hook_up", "levels")
MEASURES = (
    "speaker",
    "distance",
    "offset",
    "angle",
    "height",
    "pattern",
    "pad",
    "low_cut",
    "preamp",
    "gain",
    "note",
)

_ID = "[1-9][0-9]{0,14}"
GRAMMAR = (
    f"({'|'.join(WORDS)})|control-({_ID})-({_ID})|placement-({_ID})-({'|'.join(MEASURES)})|branch-({_ID})"
)
"""Read alike by Python and by the pages' scripts."""
_NAME = re.compile(GRAMMAR)


@dataclass(frozen=True)
class WordsField:
    words: str

    def __str__(self) -> str:
        return self.words


@dataclass(frozen=True)
class ReadingField:
    gear_id: int
    control_id: int

    def __str__(self) -> str:
        return f"control-{self.gear_id}-{self.control_id}"


@dataclass(frozen=True)
class PlacementField:
    gear_id: int
    measure: str

    def __str__(self) -> str:
        return f"placement-{self.gear_id}-{self.measure}"


@dataclass(frozen=True)
class BranchField:
    gear_id: int

    def __str__(self) -> str:
        return f"branch-{self.gear_id}"


StepField = ReadingField | PlacementField | BranchField
FieldName = WordsField | StepField


def parse(name: str) -> FieldName | None:
    """The field of that name; None where no field is called so."""
    match = _NAME.fullmatch(name)
    if match is None:
        return None
    words, gear, control, placed, measure, branched = match.groups()
    if words:
        return WordsField(words)
    if control:
        return ReadingField(int(gear), int(control))
    return PlacementField(int(placed), measure) if measure else BranchField(int(branched))
