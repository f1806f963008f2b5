"""Recalls: a pass is set up again, item by item, over hours or weeks, at the desk or with a phone beside the amp."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from sqlalchemy import delete, func, select
from sqlalchemy.orm import Session
from sqlmodel import col

from app.desk import wording
from app.desk.passes.pass_sheets import (
    PassSheet,
    PhotoSheet,
    StepSheet,
    read_pass_sheets,
    read_photos_of_gear,
)
from app.desk.passes.passes import find_pass
from app.desk.recall import items
from app.desk.recall.items import GearToSet, Item, Marked, Substitute, names_in_words
from app.desk.recall.keys import HOOK_UP, LEVELS, cable_key, keys_of_step
from app.desk.recall.plan import RecallPlan, cautions_of, read_recall_plan
from app.desk.recall.settings_now import read_settings_now
from app.desk.receipts import answer_before, receive
from app.desk.refusals import Complaints, NotThere, Refusal
from app.desk.rows import row_of
from app.desk.shelf.gear import LayoutControl, ShelfLine, list_gear, newest_layouts, read_controls
from app.library import Library, Readable
from app.records import (
    ChainStep,
    ControlLayout,
    Gear,
    Pass,
    Recall,
    RecallMark,
    RecallSubstitute,
    RecallTry,
    SourceTrack,
)
from app.records.base import now
from app.trade.cautions import Caution
from app.trade.distances import LengthUnit
from app.trade.hook_up import ConnectionRow

FINISHED = "This recall is finished. Open it again to change what it says."
CONTROLS_NAMED = 8


@dataclass(frozen=True)
class RecallLine:
    """One recall of a pass, in a list."""

    recall_id: int
    begun_at: datetime
    finished_at: datetime | None
    note: str
    deviations: int
    tries: int


@dataclass(frozen=True)
class OpenRecall:
    """A recall that somebody is at, among those of a project."""

    recall_id: int
    number: int
    source_name: str
    begun_at: datetime


@dataclass(frozen=True)
class CableToPlug:
    row: ConnectionRow
    item: Item


@dataclass(frozen=True)
class RecallSheet:
    """A recall, whole. `hook_up` and `levels` come first, then the gear in the order of the chain; where the hook-up was
    planned, it is done once its `cables` are. Once it is finished, what differs is what differed then. `photos` are those of the pass as a whole."""

    recall_id: int
    begun_at: datetime
    finished_at: datetime | None
    note: str
    sheet: PassSheet
    plan: RecallPlan | None
    hook_up: Item
    cables: tuple[CableToPlug, ...]
    levels: Item
    gear: tuple[GearToSet, ...]
    photos: tuple[PhotoSheet, ...]
    before_power: tuple[Caution, ...]
    at_microphone: tuple[Caution, ...]
    shelf: tuple[ShelfLine, ...]

    @property
    def items(self) -> tuple[Item, ...]:
        return (*self.hook_up_items, self.levels, *(item for gear in self.gear for item in gear.items))

    @property
    def hook_up_items(self) -> tuple[Item, ...]:
        """Its cables; where none were planned, the hook-up as it was noted."""
        return tuple(cable.item for cable in self.cables) or (self.hook_up,)

    @property
    def done(self) -> int:
        return sum(item.marked.done for item in self.items)

    @property
    def is_finished(self) -> bool:
        return self.finished_at is not None

    @property
    def deviations(self) -> tuple[tuple[str, str], ...]:
        """What could not be as it was, with where: ("15-watt valve combo, Gain", "the knob stops at 9")."""
        named = [(HOOK_UP.capitalize(), self.hook_up), (LEVELS.capitalize(), self.levels)]
        named += [(f"{gear.name}, {item.name}", item) for gear in self.gear for item in gear.items]
        return tuple((name, item.marked.deviation) for name, item in named if item.marked.deviation)

    @property
    def to_touch(self) -> str:
        """How far the gear is from this pass, as it was logged last, in a sentence or two."""
        return summary_of(self.gear)


def begin(library: Library, pass_id: int) -> int:
    with library.writing() as session:
        find_pass(session, pass_id)
        row = Recall(pass_id=pass_id)
        session.add(row)
        session.flush()
        return row.id


def list_recalls(library: Readable, pass_id: int) -> list[RecallLine]:
    """Those of a pass, the newest first."""
    noted = select(func.count()).where(
        col(RecallMark.recall_id) == col(Recall.id), col(RecallMark.deviation) != ""
    )
    tries = select(func.count()).where(col(RecallTry.recall_id) == col(Recall.id))
    columns = [count.correlate(Recall).scalar_subquery() for count in (noted, tries)]
    with library.reading() as session:
        find_pass(session, pass_id)
        rows = session.execute(
            select(Recall, *columns).where(col(Recall.pass_id) == pass_id).order_by(col(Recall.id).desc())
        )
        return [RecallLine(row.id, row.begun_at, row.finished_at, row.note, *counts) for row, *counts in rows]


def list_open_recalls(library: Readable, project_id: int) -> list[OpenRecall]:
    """Those of a project's passes that are not finished, the newest first."""
    with library.reading() as session:
        rows = session.execute(
            select(col(Recall.id), col(Pass.number), col(SourceTrack.name), col(Recall.begun_at))
            .join(Pass, col(Recall.pass_id) == col(Pass.id))
            .join(SourceTrack, col(Pass.source_id) == col(SourceTrack.id))
            .where(col(SourceTrack.project_id) == project_id, col(Recall.finished_at).is_(None))
            .order_by(col(Recall.id).desc())
        )
        return [OpenRecall(*row) for row in rows]


def read_recall(library: Readable, recall_id: int, *, unit: LengthUnit = "mm") -> RecallSheet:
    with library.reading() as session:
        row = find_recall(session, recall_id)
        (sheet,) = read_pass_sheets(session, col(Pass.id) == row.pass_id, with_overviews=True)
        marks = marks_of(session, recall_id)
        gear = _gear(session, recall_id, sheet, marks, unit, before=row.finished_at)
    plan = read_recall_plan(library, sheet)
    cables = _cables(plan, marks)
    hook_up = Item(HOOK_UP, "Hook-up", "", marks.get(HOOK_UP, Marked()))
    if cables:
        is_done = all(cable.item.marked.done for cable in cables)
        hook_up = replace(hook_up, marked=replace(hook_up.marked, done=is_done))
    return RecallSheet(
        recall_id,
        row.begun_at,
        row.finished_at,
        row.note,
        sheet,
        plan,
        hook_up,
        cables,
        Item(LEVELS, "Levels", "", marks.get(LEVELS, Marked())),
        gear,
        tuple(photo for photo in sheet.photos if photo.step_id is None),
        cautions_of(sheet, ("hook_up", "power_up", "repatching")),
        cautions_of(sheet, ("microphone", "listening")),
        tuple(line for line in list_gear(library) if not line.is_retired),
    )


def read_gear_to_set(
    library: Readable, sheet: PassSheet, *, unit: LengthUnit = "mm"
) -> tuple[GearToSet, ...]:
    """What a recall of a pass would have to touch, before one is begun."""
    with library.reading() as session:
        return _gear(session, 0, sheet, {}, unit)


def now_of(gear: Iterable[GearToSet]) -> dict[str, str]:
    """Where what differs stands now, as it was logged last, by the item's key."""
    return {
        item.key: item.now for each in gear for item in each.items if item.differs and item.now is not None
    }


def summary_of(gear: Iterable[GearToSet]) -> str:
    """ "Only 4 differ from how this gear was last logged: fuzz: Fuzz; combo: Gain, Tone and Mid." """
    listed = list(gear)
    known = [(each, item) for each in listed for item in each.items if item.now is not None]
    moved = [(each, item) for each, item in known if item.differs]
    unknown = sum(item.now is None and item.spec is not None for each in listed for item in each.items)
    if not known:
        return "How this gear stands now is not logged, so everything is to be set."
    if not moved:
        said = "Nothing differs from how this gear was last logged."
    else:
        by_gear: dict[str, list[str]] = {}
        for each, item in moved:
            by_gear.setdefault(each.name, []).append(item.name)
        where = "; ".join(
            f"{name}: {names_in_words(names, most=CONTROLS_NAMED)}" for name, names in by_gear.items()
        )
        some = 2 * len(moved) <= len(known)
        number = f"{'Only ' if some else ''}{len(moved)} of {len(known)}"
        said = f"{number} {'differs' if len(moved) == 1 else 'differ'} from how this gear was last logged: {where}."
    return said + (f" Of {unknown} more it is not known." if unknown else "")


def mark(
    library: Library,
    recall_id: int,
    items: Mapping[str, bool],
    deviations: Mapping[str, str],
    *,
    key: str = "",
) -> None:
    """Check items off (or not any more), and note what keeps items from being as they were. An empty deviation takes
    one back. What a page's queue sends twice, by its `key`, counts once: it may have been taken back in between. Raises
    Refusal; then nothing is kept."""
    complaints = Complaints()
    kept = {
        key: wording.line(complaints, f"deviation-{key}", "What is noted here", words)
        for key, words in deviations.items()
    }
    complaints.refuse_if_any()
    has_cables = HOOK_UP in items or any(key.startswith(cable_key("")) for key in items)
    cables = {cable.item.key for cable in read_recall(library, recall_id).cables} if has_cables else set()
    if HOOK_UP in items:
        items = {**items, **dict.fromkeys(cables, items[HOOK_UP])}
    with library.writing() as session:
        if answer_before(session, key) is not None:
            return
        row = _open_recall(session, recall_id)
        receive(session, key, {"recall_id": recall_id})
        known = _known_items(session, row.pass_id) | cables
        there = {
            one.item: one
            for one in session.scalars(select(RecallMark).where(col(RecallMark.recall_id) == recall_id))
        }
        for key in (items.keys() | kept.keys()) & known:
            one = there.get(key) or RecallMark(recall_id=recall_id, item=key)
            done, deviation = items.get(key, one.done), kept.get(key, one.deviation)
            if key in items or (done, deviation) != (one.done, one.deviation):
                one.done, one.deviation, one.marked_at = done, deviation, now()
                session.add(one)


def mark_step(library: Library, recall_id: int, step_id: int, *, done: bool) -> None:
    """Everything of one piece of gear at once."""
    sheet = read_recall(library, recall_id)
    keys = [item.key for gear in sheet.gear if gear.step.step_id == step_id for item in gear.items]
    mark(library, recall_id, dict.fromkeys(keys, done), {})


def substitute(library: Library, recall_id: int, step_id: int, gear_id: int | None) -> None:
    """Let a piece of gear, at its newest layout, stand in for that of a step; None: as it was logged after all. What
    was checked off of the step is open again, for it is another piece."""
    with library.writing() as session:
        row = _open_recall(session, recall_id)
        step = session.get(ChainStep, step_id)
        if step is None or step.pass_id != row.pass_id:
            raise NotThere("piece of gear in this chain")
        layout = None if gear_id is None else newest_layouts(session, [gear_id]).get(gear_id)
        if gear_id is not None and layout is None:
            raise Refusal(
                {f"substitute-{step_id}": "That piece is not on the shelf any more. Choose another."}
            )
        session.execute(
            delete(RecallSubstitute).where(
                col(RecallSubstitute.recall_id) == recall_id, col(RecallSubstitute.step_id) == step_id
            )
        )
        if layout is not None and layout.id != step.layout_id:
            session.add(
                RecallSubstitute(
                    recall_id=recall_id, step_id=step_id, gear_id=layout.gear_id, layout_id=layout.id
                )
            )
        (sheet,) = read_pass_sheets(session, col(Pass.id) == row.pass_id)
        keys = [keys_of_step(one) for one in sheet.steps if one.step_id == step_id]
        session.execute(
            delete(RecallMark).where(
                col(RecallMark.recall_id) == recall_id, col(RecallMark.item).in_(set().union(*keys))
            )
        )


def finish(library: Library, recall_id: int, note: str) -> None:
    complaints = Complaints()
    note = wording.notes(complaints, "note", "The notes", note)
    complaints.refuse_if_any()
    with library.writing() as session:
        row = find_recall(session, recall_id)
        row.note, row.finished_at = note, row.finished_at or now()


def open_again(library: Library, recall_id: int) -> None:
    with library.writing() as session:
        find_recall(session, recall_id).finished_at = None


def delete_recall(library: Library, recall_id: int) -> int:
    """Returns the pass it was of."""
    with library.writing() as session:
        row = find_recall(session, recall_id)
        session.delete(row)
        return row.pass_id


def pass_of(library: Readable, recall_id: int) -> int:
    with library.reading() as session:
        return find_recall(session, recall_id).pass_id


def find_recall(session: Session, recall_id: int) -> Recall:
    return row_of(session, Recall, recall_id, "recall")


def _open_recall(session: Session, recall_id: int) -> Recall:
    row = find_recall(session, recall_id)
    if row.finished_at is not None:
        raise Refusal({"": FINISHED})
    return row


def _known_items(session: Session, pass_id: int) -> set[str]:
    (sheet,) = read_pass_sheets(session, col(Pass.id) == pass_id)
    return {HOOK_UP, LEVELS}.union(*(keys_of_step(step) for step in sheet.steps))


def _cables(plan: RecallPlan | None, marks: Mapping[str, Marked]) -> tuple[CableToPlug, ...]:
    """A hook-up that was checked off as a whole says so of each cable that says nothing itself."""
    whole = Marked(done=marks.get(HOOK_UP, Marked()).done)
    cables = []
    for row in plan.connections if plan else ():
        key = cable_key(row.key)
        cables.append(
            CableToPlug(row, Item(key, f"{row.from_text} to {row.to_text}", "", marks.get(key, whole)))
        )
    return tuple(cables)


def marks_of(session: Session, recall_id: int) -> dict[str, Marked]:
    rows = session.scalars(select(RecallMark).where(col(RecallMark.recall_id) == recall_id))
    return {row.item: Marked(row.done, row.deviation, row.marked_at) for row in rows}


def _gear(
    session: Session,
    recall_id: int,
    sheet: PassSheet,
    marks: Mapping[str, Marked],
    unit: LengthUnit,
    *,
    before: datetime | None = None,
) -> tuple[GearToSet, ...]:
    gear_ids = [step.gear_id for step in sheet.steps]
    retired = set(
        session.scalars(
            select(col(Gear.id)).where(col(Gear.id).in_(gear_ids), col(Gear.retired_at).is_not(None))
        )
    )
    newest = newest_layouts(session, gear_ids)
    substitutes = _substitutes(session, recall_id, {step.step_id: step for step in sheet.steps})
    stand_in_ids = {stand_in.gear_id for stand_in in substitutes.values()}
    last = read_settings_now(session, stand_in_ids.union(gear_ids), before=before)
    newest_controls = read_controls(session, [layout.id for layout in newest.values()])
    of_gear = read_photos_of_gear(session, stand_in_ids.union(gear_ids))
    found = []
    for step in sheet.steps:
        stand_in = substitutes.get(step.step_id)
        at_hand = step.gear_id if stand_in is None else stand_in.gear_id
        logged_last = last.get(at_hand)
        changed = _is_changed(step, newest[step.gear_id], newest_controls.get(newest[step.gear_id].id, ()))
        photos = tuple(photo for photo in sheet.photos if photo.step_id == step.step_id)
        found.append(
            GearToSet(
                step,
                items.items_of_step(step, stand_in, logged_last, marks, unit),
                photos + of_gear.get(at_hand, ()),
                _trouble(step, is_retired=step.gear_id in retired, is_changed=changed),
                stand_in,
                items.untold_by(step, stand_in),
                logged_last,
            )
        )
    return tuple(found)


def _substitutes(session: Session, recall_id: int, steps: Mapping[int, StepSheet]) -> dict[int, Substitute]:
    rows = session.execute(
        select(RecallSubstitute, col(ControlLayout.gear_name))
        .join(ControlLayout, col(RecallSubstitute.layout_id) == col(ControlLayout.id))
        .where(col(RecallSubstitute.recall_id) == recall_id)
    ).all()
    controls = read_controls(session, [row.layout_id for row, _ in rows])
    return {
        row.step_id: Substitute(
            row.gear_id,
            row.layout_id,
            name,
            controls.get(row.layout_id, ()),
            row.gear_id == steps[row.step_id].gear_id,
        )
        for row, name in rows
        if row.step_id in steps
    }


def _is_changed(step: StepSheet, newest: ControlLayout, controls: tuple[LayoutControl, ...]) -> bool:
    if newest.id == step.layout_id:
        return False
    logged = [(line.key, line.spec) for line in step.settings]
    return logged != [(control.key, control.spec) for control in controls]


def _trouble(step: StepSheet, *, is_retired: bool, is_changed: bool) -> str:
    if is_retired:
        return f"{step.gear_name} was put aside since. Choose what stands in for it, if it is not at hand."
    if is_changed:
        return (
            f"The controls of {step.gear_name} were written down anew since. Shown is how they were; choose it below to "
            "see them as they are now."
        )
    return ""
