"""Photos of the gear as it stands while a pass is set up again, held against what the pass says: which controls are off, and which
way to turn. Nothing is ticked unasked."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import BinaryIO, Literal

from sqlalchemy import select
from sqlalchemy.orm import Session
from sqlmodel import col

from app.desk.passes.pass_sheets import SettingSheet, StepSheet, read_steps
from app.desk.photos.panel_photos import panels_of
from app.desk.photos.panel_readings import PanelProposals, Proposal, is_same_place, read_panels, want_read
from app.desk.photos.photos import take_in
from app.desk.recall.items import Marked
from app.desk.recall.keys import control_key
from app.desk.recall.runs import FINISHED, find_recall, mark, marks_of
from app.desk.receipts import answer_before, receive
from app.desk.refusals import Refusal
from app.desk.shelf.gear import LayoutControl, read_controls
from app.library import Library, Readable
from app.records import Pass, Recall, RecallPhoto, RecallSubstitute, SourceTrack, WorkState
from app.trade.turning import put_right

Verdict = Literal["off", "look", "right"]
ORDER: tuple[Verdict, ...] = ("off", "look", "right")


@dataclass(frozen=True)
class SeenControl:
    """A control of the pass as the newest photo shows it. `says` is what there is to do, or what it looks like; `wanted` how the
    pass has it. The picture is that of an examination, by `key`."""

    item: str
    name: str
    wanted: str
    verdict: Verdict
    says: str
    is_done: bool
    examination_id: int
    key: str
    has_crop: bool


@dataclass(frozen=True)
class SeenGear:
    name: str
    controls: tuple[SeenControl, ...]
    state: WorkState
    reason: str
    reasons: tuple[str, ...]


@dataclass(frozen=True)
class CameraSheet:
    recall_id: int
    pass_id: int
    pass_number: int
    source_name: str
    is_finished: bool
    photos: int
    can_be_read: bool
    gear: tuple[SeenGear, ...]

    @property
    def is_coming(self) -> bool:
        return any(each.state.is_coming for each in self.gear)

    @property
    def controls(self) -> tuple[SeenControl, ...]:
        return tuple(control for each in self.gear for control in each.controls)

    @property
    def off(self) -> int:
        return sum(control.verdict == "off" for control in self.controls)

    @property
    def to_tick(self) -> tuple[str, ...]:
        """The items that are right and not ticked yet."""
        return tuple(
            control.item for control in self.controls if control.verdict == "right" and not control.is_done
        )


def add_photo(library: Library, recall_id: int, file_name: str, stream: BinaryIO, *, key: str = "") -> bool:
    """Take in a photo and have it read. Returns whether anything in the chain can be read. Raises Refusal."""
    taken = take_in(library, file_name, stream)
    with library.writing() as session:
        row = find_recall(session, recall_id)
        if row.finished_at is not None:
            raise Refusal({"camera": FINISHED})
        if answer_before(session, key) is None:
            session.add(RecallPhoto(recall_id=recall_id, **taken.recorded(session)))
            session.flush()
            receive(session, key, {"recall_id": recall_id})
    with library.writing() as session:
        row = find_recall(session, recall_id)
        steps = _steps(session, row)
        return want_read(session, _photos(session, recall_id)[:1], _layouts(session, steps))


def read_camera(library: Readable, recall_id: int) -> CameraSheet:
    with library.reading() as session:
        row = find_recall(session, recall_id)
        head = session.execute(
            select(col(Pass.number), col(SourceTrack.name))
            .join(SourceTrack, col(Pass.source_id) == col(SourceTrack.id))
            .where(col(Pass.id) == row.pass_id)
        ).one()
        steps = _steps(session, row)
        layouts = _layouts(session, steps)
        wanted = {step.gear_id: {line.control_id: line.reading for line in step.settings} for step in steps}
        photos = _photos(session, recall_id)
        panels = read_panels(session, photos, layouts, wanted)
        can_be_read = bool(panels_of(session, layouts))
        marks = marks_of(session, recall_id)
    newest: dict[int, PanelProposals] = {}
    for panel in panels:
        newest.setdefault(panel.gear_id, panel)
    return CameraSheet(
        recall_id,
        row.pass_id,
        head.number,
        head.name,
        row.finished_at is not None,
        len(photos),
        can_be_read,
        tuple(_seen(step, newest[step.gear_id], marks) for step in steps if step.gear_id in newest),
    )


def tick(library: Library, recall_id: int, do: str) -> None:
    """Tick an item, or all that are right. Only items that a photo speaks of."""
    sheet = read_camera(library, recall_id)
    known = {control.item for control in sheet.controls}
    wanted = sheet.to_tick if do == "right" else [do] if do in known else ()
    if wanted:
        mark(library, recall_id, dict.fromkeys(wanted, True), {})


def _photos(session: Session, recall_id: int) -> list[RecallPhoto]:
    """The newest first: gear was turned meanwhile."""
    query = select(RecallPhoto).where(col(RecallPhoto.recall_id) == recall_id)
    return list(session.scalars(query.order_by(col(RecallPhoto.id).desc())))


def _steps(session: Session, recall: Recall) -> list[StepSheet]:
    """Of what stands there itself; what stands in for something is set by other readings."""
    others = select(col(RecallSubstitute.step_id)).where(col(RecallSubstitute.recall_id) == recall.id)
    stood_in_for = set(session.scalars(others))
    chain = read_steps(session, [recall.pass_id]).get(recall.pass_id, [])
    return [step for step in chain if step.step_id not in stood_in_for]


def _layouts(session: Session, steps: list[StepSheet]) -> dict[int, tuple[LayoutControl, ...]]:
    controls = read_controls(session, [step.layout_id for step in steps])
    return {step.gear_id: controls.get(step.layout_id, ()) for step in steps}


def _seen(step: StepSheet, panel: PanelProposals, marks: Mapping[str, Marked]) -> SeenGear:
    lines = {line.control_id: line for line in step.settings if line.is_set}
    found = [
        _control(step, lines[proposal.control_id], proposal, panel.examination_id, marks)
        for proposal in panel.proposals
        if proposal.control_id in lines and proposal.position is not None
    ]
    found.sort(key=lambda each: ORDER.index(each.verdict))
    return SeenGear(step.gear_name, tuple(found), panel.state, panel.reason, panel.reasons)


def _control(
    step: StepSheet,
    line: SettingSheet,
    seen: Proposal,
    examination_id: int,
    marks: Mapping[str, Marked],
) -> SeenControl:
    key = control_key(step.step_id, line.control_id)
    verdict, says = _verdict(line, seen)
    is_done = marks.get(key, Marked()).done
    return SeenControl(
        key, line.name, line.reading, verdict, says, is_done, examination_id, seen.key, seen.has_crop
    )


def _verdict(line: SettingSheet, seen: Proposal) -> tuple[Verdict, str]:
    if line.position is None or seen.position is None:
        return "look", f"should be {line.reading}"
    is_same = is_same_place(line.position, seen.position, seen.exactly)
    if not seen.is_sure:
        looks = "looks right" if is_same else f"looks like {seen.text}"
        return "look", f"{looks}; should be {line.reading}"
    if is_same:
        return "right", line.reading
    return "off", put_right(line.spec, seen.position, line.position, seen.text, line.reading)
