"""The stages of a recall: hook-up, levels, each piece of gear, the check by sound. One is worked at a time."""

from dataclasses import dataclass
from typing import Literal

from app.desk.recall.items import GearToSet, Item
from app.desk.recall.keys import HOOK_UP, LEVELS
from app.desk.recall.runs import RecallSheet

CHECK = "check"

Shown = Literal["differences", "open", "all"]
"""Which items are gone through: those that differ from how the gear was logged last, those that are not done, all."""


@dataclass(frozen=True)
class Stage:
    """`items` are those that are gone through; `as_it_is` counts those that are left out."""

    key: str
    name: str
    items: tuple[Item, ...] = ()
    as_it_is: int = 0
    gear: GearToSet | None = None

    @property
    def done(self) -> int:
        return sum(item.marked.done for item in self.items)

    @property
    def total(self) -> int:
        return len(self.items)

    @property
    def is_done(self) -> bool:
        return self.done == self.total

    @property
    def differing(self) -> int:
        return sum(item.differs and item.now is not None for item in self.items)


def stages_of(recall: RecallSheet, shown: Shown) -> tuple[Stage, ...]:
    stages = [
        Stage(HOOK_UP, "Hook-up", recall.hook_up_items),
        Stage(LEVELS, "Levels", (recall.levels,)),
        *(_stage_of(gear, shown) for gear in recall.gear),
    ]
    return (*stages, Stage(CHECK, "Check by sound"))


def stage_at(stages: tuple[Stage, ...], key: str) -> str:
    """The stage that is asked for; else the first that is not done."""
    if key in {stage.key for stage in stages}:
        return key
    return next((stage.key for stage in stages if not stage.is_done), CHECK)


def key_of_gear(step_id: int) -> str:
    return f"gear-{step_id}"


def _stage_of(gear: GearToSet, shown: Shown) -> Stage:
    items = tuple(item for item in gear.items if item.differs or shown != "differences")
    return Stage(key_of_gear(gear.step.step_id), gear.name, items, len(gear.items) - len(items), gear)
