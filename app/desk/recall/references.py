"""Reference signals of a project, and what came back of them through the chain of a pass or of its recall."""

import io
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, BinaryIO

from sqlalchemy import select
from sqlalchemy.orm import Session
from sqlmodel import col

from app.desk import child_processes, wording
from app.desk.files import stored_files
from app.desk.measuring import examinations
from app.desk.measuring.examinations import Examined
from app.desk.passes.pass_sheets import PassSheet, read_pass_sheets
from app.desk.passes.passes import find_pass
from app.desk.projects.projects import find_project
from app.desk.recall.runs import find_recall
from app.desk.refusals import Complaints, NotThere, Refusal
from app.desk.rows import row_of
from app.desk.typed_figures import read_figure
from app.drawings.wording import hertz
from app.library import Library, Readable
from app.records import Pass, Project, ReferencePrint, ReferenceSignal, SourceTrack, StoredFile
from app.signal.reference.compare import ReferenceMatch, compare_references
from app.signal.reference.figures import ReferenceFigures
from app.signal.reference.plan import (
    USUAL_LEVEL_DBFS,
    ReferencePlan,
    plan_from_json,
    plan_reference,
    plan_to_json,
)
from app.trade.readings import read_number

EXCERPT_S = 10.0
SILENT_FOR_S = 300.0


@dataclass(frozen=True)
class ReferenceEntry:
    """The form as typed. `source` is the id of the source whose bars are taken along, empty for none."""

    level: str = f"{USUAL_LEVEL_DBFS:g}".replace("-", "−")
    source: str = ""
    excerpt_from: str = "0"
    excerpt: str = f"{EXCERPT_S:g}"


@dataclass(frozen=True)
class SignalSheet:
    """A reference signal that was made. `file_name` is the name it is downloaded under."""

    reference_id: int
    project_id: int
    plan: ReferencePlan
    sha256: str
    file_name: str
    created_at: datetime

    @property
    def words(self) -> str:
        """“−12 dBFS, 24.3 s, with 10 s of the source”."""
        level = f"{self.plan.level_dbfs:g} dBFS".replace("-", "−")
        excerpt = "" if self.plan.excerpt is None else f", with {self.plan.excerpt.length_s:g} s of a source"
        return f"{level}, {self.plan.length_s:.1f} s, {hertz(self.plan.sample_rate)}{excerpt}"


@dataclass(frozen=True)
class ReferencePrintSheet:
    """A reference signal as it came back; `recall_id` None: through the pass as it was logged."""

    print_id: int
    reference_id: int
    recall_id: int | None
    file_name: str
    created_at: datetime
    examined: Examined[ReferenceFigures]


@dataclass(frozen=True)
class ReferencesSheet:
    """What is known of a pass's chain by reference signals, the newest print last; of a recall, `recalled` as well, and
    how the newest of the two compare."""

    sheet: PassSheet
    recall_id: int | None
    signals: tuple[SignalSheet, ...]
    originals: tuple[ReferencePrintSheet, ...]
    recalled: tuple[ReferencePrintSheet, ...]

    @property
    def is_coming(self) -> bool:
        return any(item.examined.is_coming for item in (*self.originals, *self.recalled))

    @property
    def compared(self) -> tuple[ReferencePrintSheet, ReferencePrintSheet, ReferenceMatch] | None:
        """The newest recalled print against the newest original, of the same signal where there is one."""
        recalled = next(
            (item for item in reversed(self.recalled) if item.examined.answer is not None),
            None,
        )
        answered = [item for item in self.originals if item.examined.answer is not None]
        if recalled is None or recalled.examined.answer is None or not answered:
            return None
        same = [item for item in answered if item.reference_id == recalled.reference_id]
        original = (same or answered)[-1]
        assert original.examined.answer is not None
        return original, recalled, compare_references(original.examined.answer, recalled.examined.answer)


def make_reference(library: Library, project_id: int, entry: ReferenceEntry) -> int:
    """Make a reference signal at the project's rate, in a process of its own. Returns its id. Raises Refusal."""
    complaints = Complaints()
    level = read_figure(complaints, "level", entry.level, _decibels, required=True)
    source_id = (
        int(entry.source)
        if entry.source.isascii() and entry.source.isdigit() and len(entry.source) < 15
        else None
    )
    length, start = None, None
    if source_id is not None:
        length = read_figure(complaints, "excerpt", entry.excerpt, _seconds, required=True)
        start = read_figure(complaints, "excerpt_from", entry.excerpt_from, _seconds, required=True)
    complaints.refuse_if_any()
    assert level is not None
    with library.reading() as session:
        rate = find_project(session, project_id).sample_rate
        source = None if source_id is None else _source_file(session, project_id, source_id)
    try:
        path = None if source is None else stored_files.path_of(library, source)
    except stored_files.FileAway as away:
        raise Refusal({"source": str(away)}) from None
    try:
        plan = plan_reference(rate, level_dbfs=level, excerpt_s=length, excerpt_from_s=start or 0.0)
    except ValueError as refused:
        raise Refusal({"level" if "level" in str(refused) else "excerpt": str(refused)}) from None
    made = _made({"plan": plan_to_json(plan), "source": None if path is None else str(path)})
    taken = stored_files.take_in(library, "level", io.BytesIO(made))
    with library.writing() as session:
        find_project(session, project_id)
        file_id = stored_files.record(session, taken, "audio/wav")
        row = ReferenceSignal(project_id=project_id, file_id=file_id, plan=plan_to_json(plan))
        session.add(row)
        session.flush()
        return row.id


def list_signals(library: Readable, project_id: int) -> tuple[SignalSheet, ...]:
    """The newest first."""
    with library.reading() as session:
        find_project(session, project_id)
        return _signals(session, project_id)


def read_signal(library: Readable, reference_id: int) -> SignalSheet:
    with library.reading() as session:
        row = _find_signal(session, reference_id)
        return next(
            signal for signal in _signals(session, row.project_id) if signal.reference_id == reference_id
        )


def delete_signal(library: Library, reference_id: int) -> int:
    """Its prints leave the log with it. Returns the project."""
    with library.writing() as session:
        row = _find_signal(session, reference_id)
        session.delete(row)
        return row.project_id


def attach_reference(
    library: Library,
    pass_id: int,
    reference_id: int | None,
    file_name: str,
    stream: BinaryIO,
    *,
    recall_id: int | None = None,
) -> int:
    """Take in what came back of a reference signal through a pass's chain, or a recall of it, and have it measured."""
    with library.reading() as session:
        _signal_of_pass(session, pass_id, reference_id)
    name = wording.file_name(file_name)
    media_type = stored_files.refuse_unless_audio("file", name, stream)
    taken = stored_files.take_in(library, "file", stream)
    with library.writing() as session:
        signal = _signal_of_pass(session, pass_id, reference_id)
        if recall_id is not None and find_recall(session, recall_id).pass_id != pass_id:
            raise NotThere("recall of this pass")
        file_id = stored_files.record(session, taken, media_type)
        row = ReferencePrint(
            reference_id=signal.id,
            pass_id=pass_id,
            recall_id=recall_id,
            file_id=file_id,
            file_name=name,
        )
        session.add(row)
        examinations.want_reference(session, file_id, signal.plan)
        session.flush()
        return row.id


def delete_reference_print(library: Library, print_id: int) -> tuple[int, int | None]:
    """Returns the pass it was of, and the recall."""
    with library.writing() as session:
        row = _find_print(session, print_id)
        session.delete(row)
        return row.pass_id, row.recall_id


def read_reference_print(library: Readable, print_id: int) -> ReferencePrint:
    with library.reading() as session:
        return _find_print(session, print_id)


def read_references(library: Readable, pass_id: int, recall_id: int | None = None) -> ReferencesSheet:
    with library.reading() as session:
        find_pass(session, pass_id)
        (sheet,) = read_pass_sheets(session, col(Pass.id) == pass_id)
        rows = session.scalars(
            select(ReferencePrint)
            .where(col(ReferencePrint.pass_id) == pass_id)
            .order_by(col(ReferencePrint.id))
        ).all()
        prints = _prints(session, rows)
        return ReferencesSheet(
            sheet,
            recall_id,
            _signals(session, sheet.project_id),
            tuple(one for one in prints if one.recall_id is None),
            tuple(one for one in prints if one.recall_id is not None and one.recall_id == recall_id),
        )


def _prints(session: Session, rows: Sequence[ReferencePrint]) -> list[ReferencePrintSheet]:
    examined = examinations.read_references(session, [row.file_id for row in rows])
    return [
        ReferencePrintSheet(
            row.id, row.reference_id, row.recall_id, row.file_name, row.created_at, examined[row.file_id]
        )
        for row in rows
    ]


def _signals(session: Session, project_id: int) -> tuple[SignalSheet, ...]:
    rows = session.execute(
        select(ReferenceSignal, col(StoredFile.sha256), col(Project.title))
        .join(StoredFile, col(ReferenceSignal.file_id) == col(StoredFile.id))
        .join(Project, col(ReferenceSignal.project_id) == col(Project.id))
        .where(col(ReferenceSignal.project_id) == project_id)
        .order_by(col(ReferenceSignal.id).desc())
    )
    return tuple(
        SignalSheet(
            row.id,
            row.project_id,
            plan_from_json(row.plan),
            sha256,
            f"reference signal {row.id}, {title}.wav",
            row.created_at,
        )
        for row, sha256, title in rows
    )


def _signal_of_pass(session: Session, pass_id: int, reference_id: int | None) -> ReferenceSignal:
    source = session.get_one(SourceTrack, find_pass(session, pass_id).source_id)
    row = None if reference_id is None else session.get(ReferenceSignal, reference_id)
    if row is None or row.project_id != source.project_id:
        raise Refusal({"reference": "Choose the reference signal that was printed."})
    return row


def _find_signal(session: Session, reference_id: int) -> ReferenceSignal:
    return row_of(session, ReferenceSignal, reference_id, "reference signal")


def _find_print(session: Session, print_id: int) -> ReferencePrint:
    return row_of(session, ReferencePrint, print_id, "print of a reference signal")


def _source_file(session: Session, project_id: int, source_id: int) -> str:
    source = session.get(SourceTrack, source_id)
    if source is None or source.project_id != project_id or source.file_id is None:
        raise Refusal({"source": "Choose a source of this project that has audio."})
    return session.get_one(StoredFile, source.file_id).sha256


def _made(order: dict[str, Any]) -> bytes:
    made = child_processes.made_by("app.desk.processes.making_references", order, silent_for_s=SILENT_FOR_S)
    try:
        return b"".join(made)
    except child_processes.ChildRefused as refused:
        raise Refusal({"excerpt": str(refused)}) from None


def _decibels(text: str) -> float | None:
    return read_number(text, "dB" if "fs" not in text.casefold() else "dBFS")


def _seconds(text: str) -> float | None:
    return read_number(text, "s")
