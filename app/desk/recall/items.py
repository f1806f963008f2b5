"""What there is to do when a pass is set up again: item by item, in the order of the chain."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from app.desk.passes.pass_sheets import PhotoSheet, SettingSheet, StepSheet
from app.desk.recall.keys import control_key, placement_key, step_key
from app.desk.recall.settings_now import LastLogged
from app.desk.shelf.gear import LayoutControl
from app.trade.distances import LengthUnit
from app.trade.placements import changes, describe
from app.trade.readings import read
from app.trade.scales import ControlSpec
from app.trade.substitutes import Answer, Stood, answers

NOT_CARRIED = "by ear"


@dataclass(frozen=True)
class Marked:
    """What the person said of an item: done, or what keeps it from being as it was."""

    done: bool = False
    deviation: str = ""
    marked_at: datetime | None = None


@dataclass(frozen=True)
class Item:
    """One thing to set. `key` is that of its mark. Where `spec` is given, the control is drawn at `position`. `note`
    says how it carried over to a substitute. `now` is how it was logged last, None where that is not known; `differs`
    whether it has to be touched, as far as the log knows. `crop_id` is the file of what a photo showed of it then."""

    key: str
    name: str
    reading: str
    marked: Marked
    spec: ControlSpec | None = None
    position: float | None = None
    note: str = ""
    now: str | None = None
    differs: bool = True
    crop_id: int | None = None


@dataclass(frozen=True)
class Substitute:
    """What stands in for a step's gear: another piece, or the same with its layout as it is now."""

    gear_id: int
    layout_id: int
    name: str
    controls: tuple[LayoutControl, ...]
    is_same_gear: bool


@dataclass(frozen=True)
class GearToSet:
    """A step of the chain to be set. `trouble` says that it is retired or was changed since; `untold` are controls
    that the log says nothing of."""

    step: StepSheet
    items: tuple[Item, ...]
    photos: tuple[PhotoSheet, ...]
    trouble: str
    substitute: Substitute | None
    untold: tuple[str, ...]
    last: LastLogged | None

    @property
    def name(self) -> str:
        return self.step.gear_name if self.substitute is None else self.substitute.name

    @property
    def done(self) -> int:
        return sum(item.marked.done for item in self.items)


def items_of_step(
    step: StepSheet,
    substitute: Substitute | None,
    last: LastLogged | None,
    marks: Mapping[str, Marked],
    unit: LengthUnit,
) -> tuple[Item, ...]:
    """Its noted controls, its placement; of gear that has neither, that it is there."""
    noted = [line for line in step.settings if line.is_set]
    if substitute is None:
        items = [_as_logged(step, line, last, marks) for line in noted]
    else:
        found = _answers(step, substitute)
        items = [_carried(step, line, answer, last, marks) for line, answer in zip(noted, found, strict=True)]
    if step.placement is not None and (words := describe(step.placement, unit)):
        items.append(_placement(step, words, last, marks, unit))
    if not items:
        key = step_key(step.step_id)
        items.append(
            Item(key, "In its place", "in the chain", marks.get(key, Marked()), differs=last is None)
        )
    return tuple(items)


def untold_by(step: StepSheet, substitute: Substitute | None) -> tuple[str, ...]:
    """Controls that nothing logged answers for: those nobody noted, or those of the substitute that the piece had not."""
    if substitute is None:
        return tuple(line.name for line in step.settings if not line.is_set and line.spec.form != "text")
    told = {answer.key for answer in _answers(step, substitute)}
    return tuple(control.spec.name for control in substitute.controls if control.key not in told)


def _answers(step: StepSheet, substitute: Substitute) -> list[Answer]:
    stood = [
        Stood(line.key, line.spec, line.reading, line.position, line.value)
        for line in step.settings
        if line.is_set
    ]
    return answers(stood, [(control.key, control.spec) for control in substitute.controls])


def _as_logged(
    step: StepSheet, line: SettingSheet, last: LastLogged | None, marks: Mapping[str, Marked]
) -> Item:
    key = control_key(step.step_id, line.control_id)
    now = None if last is None else last.setting(line.key)
    return Item(
        key,
        line.name,
        line.reading,
        marks.get(key, Marked()),
        line.spec,
        line.position,
        now=None if now is None else now.reading,
        differs=now is None or not now.is_same(line),
        crop_id=line.crop_id,
    )


def _carried(
    step: StepSheet,
    line: SettingSheet,
    answer: Answer,
    last: LastLogged | None,
    marks: Mapping[str, Marked],
) -> Item:
    key = control_key(step.step_id, line.control_id)
    carried = answer.carried
    was = f"Was {line.name} {line.reading}."
    if answer.spec is None or answer.key is None or carried.way == "not":
        name = line.name if answer.spec is None else answer.spec.name
        return Item(key, name, NOT_CARRIED, marks.get(key, Marked()), note=f"{was} {carried.note}")
    now = None if last is None else last.setting(answer.key)
    value = read(answer.spec, carried.reading).value if answer.spec.form == "number" else None
    stands = SettingSheet(0, answer.key, answer.spec, carried.reading, carried.position, value, False)
    is_plain = carried.way == "as it was" and answer.spec.name == line.name
    return Item(
        key,
        answer.spec.name,
        carried.reading,
        marks.get(key, Marked()),
        answer.spec,
        carried.position,
        "" if is_plain else f"{was} {carried.note}".strip(),
        now=None if now is None else now.reading,
        differs=now is None or not now.is_same(stands),
    )


def _placement(
    step: StepSheet, words: str, last: LastLogged | None, marks: Mapping[str, Marked], unit: LengthUnit
) -> Item:
    assert step.placement is not None
    key = placement_key(step.step_id)
    before = None if last is None else last.step.placement
    moved = () if before is None else tuple(changes(before, step.placement, unit))
    return Item(
        key,
        "Placement",
        words,
        marks.get(key, Marked()),
        now=None if before is None else describe(before, unit),
        differs=before is None or bool(moved),
    )


def names_in_words(names: Iterable[str], *, most: int = 6) -> str:
    """ "Gain, Tone and Level"; of very many the first and how many more."""
    listed = list(names)
    if len(listed) > most:
        return f"{', '.join(listed[:most])} and {len(listed) - most} more"
    return " and ".join(filter(None, [", ".join(listed[:-1]), listed[-1] if listed else ""]))
