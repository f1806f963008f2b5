"""The inbox of a project: what arrived from its watched folders and where it could go."""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Literal

from sqlalchemy import ColumnElement, Select, func, select
from sqlalchemy.orm import Session
from sqlmodel import col

from app.desk.arrivals import filing, printing
from app.desk.arrivals.printing import WaitingPass
from app.desk.measuring import examinations, queued_work
from app.desk.measuring.examinations import Examined
from app.desk.passes import passes
from app.desk.projects.projects import find_project
from app.library import Library, Readable
from app.records import Arrival, Pass, Print, Recall, SourceTrack, WatchedFolder
from app.signal.figures import Identification, RankedSource

SHOWN = 50
LATELY = 10
LEFT_SHOWN = 500
OPEN: ColumnElement[bool] = (col(Arrival.state) == "offered") | (
    (col(Arrival.state) == "taken") & col(Arrival.print_id).is_(None)
)
"""As `filing.is_open` says of one row."""
LEFT: ColumnElement[bool] = (col(Arrival.state) == "left") & col(Arrival.missing_since).is_(None)


@dataclass(frozen=True)
class ArrivalLine:
    """One file that arrived. `delay_samples` is what was found when it was recognised; `pass_id` and `pass_number`
    say where it was filed."""

    arrival_id: int
    path: str
    bytes: int
    written_at: datetime
    reason: str
    is_missing: bool
    is_finished: bool
    duration_s: float | None = None
    delay_samples: float | None = None
    pass_id: int | None = None
    pass_number: int | None = None
    source_name: str = ""


@dataclass(frozen=True)
class PassChoice:
    pass_id: int
    number: int
    title: str
    prints: int


@dataclass(frozen=True)
class OpenRecall:
    """A recall that is not finished: what arrives may be a try of it."""

    recall_id: int
    pass_number: int
    title: str
    begun_at: datetime


@dataclass(frozen=True)
class SourceChoice:
    """A source, its passes and the open recalls of them, the newest first."""

    source_id: int
    name: str
    passes: tuple[PassChoice, ...]
    recalls: tuple[OpenRecall, ...] = ()

    @property
    def is_new_likelier(self) -> bool:
        """Every pass has its prints already."""
        return all(one.prints for one in self.passes)

    @property
    def likely_pass(self) -> PassChoice | None:
        """The newest that has no print yet, else the newest."""
        without = [one for one in self.passes if not one.prints]
        return next(iter((*without, *self.passes)), None)


@dataclass(frozen=True)
class Offer:
    """Files recorded at once (mostly one), and what they were recognised as. `state` is coming, found (then `source` is
    the one), none (of this project's sources), failed or unasked; `reason` is a sentence where there is something to
    say."""

    arrival_id: int
    files: tuple[ArrivalLine, ...]
    state: str
    reason: str = ""
    source: SourceChoice | None = None

    @property
    def recalls(self) -> tuple[OpenRecall, ...]:
        """What one file, recognised as a print of this source, may be a try of."""
        return self.source.recalls if self.source is not None and len(self.files) == 1 else ()

    @property
    def likeliest(self) -> Literal["try", "pass", "new"]:
        if self.recalls:
            return "try"
        return "new" if self.source is not None and self.source.is_new_likelier else "pass"


@dataclass(frozen=True)
class InboxSheet:
    """`more` offers are not shown yet; `left` counts the files that were left alone."""

    project_id: int
    project_title: str
    is_watched: bool
    problems: tuple[tuple[str, str], ...]
    waiting: WaitingPass | None
    is_held_back: bool
    offers: tuple[Offer, ...]
    more: int
    growing: tuple[ArrivalLine, ...]
    failed: tuple[ArrivalLine, ...]
    lately: tuple[ArrivalLine, ...]
    left: int

    @property
    def token(self) -> str:
        """Another one as soon as anything here is other than it was."""
        return hashlib.sha256(repr(self).encode()).hexdigest()[:16]


def read_inbox(library: Readable, project_id: int) -> InboxSheet:
    with library.reading() as session:
        project = find_project(session, project_id)
        folders = session.scalars(
            select(WatchedFolder).where(col(WatchedFolder.project_id) == project_id)
        ).all()
        waiting = printing.waiting_pass(session, project_id)
        offers, more = _offers(session, project_id)
        return InboxSheet(
            project_id,
            project.title,
            bool(folders),
            tuple((folder.path, folder.problem) for folder in folders if folder.problem),
            waiting,
            queued_work.is_held_back(session),
            offers,
            more,
            _lines(session, project_id, "growing"),
            _lines(session, project_id, "failed"),
            _lately(session, project_id),
            _count(session, project_id, LEFT),
        )


def count_open(library: Readable, project_id: int) -> int | None:
    """How many files stand on the inbox; None where no folder is watched."""
    with library.reading() as session:
        watched = select(col(WatchedFolder.id)).where(col(WatchedFolder.project_id) == project_id)
        if session.scalar(watched.limit(1)) is None:
            return None
        return _count(session, project_id, OPEN)


def open_arrivals(library: Readable, project_id: int) -> tuple[ArrivalLine, ...]:
    """The files on the inbox, the newest first."""
    with library.reading() as session:
        rows = session.scalars(
            _of_project(project_id).where(OPEN).order_by(col(Arrival.modified_ns).desc()).limit(LATELY)
        )
        return tuple(_line(row) for row in rows)


def read_left(library: Readable, project_id: int) -> tuple[tuple[ArrivalLine, ...], int]:
    """The files that were left alone, the newest first, and how many there are in all."""
    with library.reading() as session:
        find_project(session, project_id)
        rows = session.scalars(
            _of_project(project_id)
            .where(LEFT)
            .order_by(col(Arrival.modified_ns).desc(), col(Arrival.id))
            .limit(LEFT_SHOWN)
        )
        return tuple(_line(row) for row in rows), _count(session, project_id, LEFT)


def read_offer(library: Readable, arrival_id: int) -> tuple[int, Offer, tuple[SourceChoice, ...]]:
    """One offer, with every place it could go: its project and all sources. Raises Refusal where it is filed."""
    with library.reading() as session:
        row = filing.find_arrival(session, arrival_id)
        project_id = session.get_one(WatchedFolder, row.folder_id).project_id
        sources = sources_of(session, project_id)
        together = filing.together_with(session, row)
        (offer,) = _as_offers(session, together, sources)
        return project_id, offer, tuple(sources)


def file_as_new_pass(library: Library, arrival_id: int, source_id: int) -> int:
    """A new pass like the source's last one, with an arrival as its prints. Returns the pass."""
    with library.reading() as session:
        filing.together_with(session, filing.find_arrival(session, arrival_id))  # refuses what is filed
    pass_id = passes.log_pass(library, source_id, passes.entry_for_next(library, source_id))
    filing.file_under(library, arrival_id, pass_id)
    return pass_id


def leave_all(library: Library, project_id: int) -> None:
    """Nothing of what stands on the inbox is wanted."""
    with library.reading() as session:
        find_project(session, project_id)
        open_ids = session.scalars(
            _of_project(project_id).where(OPEN).with_only_columns(col(Arrival.id))
        ).all()
    for arrival_id in open_ids:
        with library.reading() as session:
            if not filing.is_open(filing.find_arrival(session, arrival_id)):
                continue  # left with another that was recorded at once
        filing.leave(library, arrival_id)


def _offers(session: Session, project_id: int) -> tuple[tuple[Offer, ...], int]:
    rows = session.scalars(
        _of_project(project_id).where(OPEN).order_by(col(Arrival.modified_ns).desc(), col(Arrival.path))
    ).all()
    groups: dict[str, list[Arrival]] = {}
    for row in rows:
        groups.setdefault(row.together or f"alone {row.id}", []).append(row)
    shown = [row for group in list(groups.values())[:SHOWN] for row in group]
    offers = _as_offers(session, shown, sources_of(session, project_id) if shown else [])
    return tuple(offers), max(0, len(groups) - SHOWN)


def _as_offers(session: Session, rows: Sequence[Arrival], sources: Sequence[SourceChoice]) -> list[Offer]:
    examined = examinations.read_identified(session, [row.file_id for row in rows if row.file_id is not None])
    by_file = _source_by_file(session, sources)
    groups: dict[str, list[Arrival]] = {}
    for row in rows:
        groups.setdefault(row.together or f"alone {row.id}", []).append(row)
    return [_offer(sorted(group, key=lambda row: row.path), examined, by_file) for group in groups.values()]


def _offer(
    rows: Sequence[Arrival],
    examined: dict[int, Examined[Identification]],
    by_file: dict[str, SourceChoice],
) -> Offer:
    """Files recorded at once are of one source: that of the one recognised best."""
    answers = [examined.get(row.file_id or 0, Examined("none")) for row in rows]
    best = [_best(one, by_file) for one in answers]
    lines = tuple(
        _line(row, delay_samples=None if ranked is None else ranked.delay_samples)
        for row, ranked in zip(rows, best, strict=True)
    )
    first = rows[0].id
    known = [ranked for ranked in best if ranked is not None]
    if known:
        winner = max(known, key=lambda ranked: ranked.score)
        return Offer(first, lines, "found", source=by_file[winner.source])
    if any(one.is_coming for one in answers):
        return Offer(first, lines, "coming")
    failed = [one.reason for one in answers if one.state == "failed"]
    if failed:
        return Offer(first, lines, "failed", failed[0])
    return Offer(first, lines, "none" if all(one.state == "done" for one in answers) else "unasked")


def _best(found: Examined[Identification], by_file: dict[str, SourceChoice]) -> RankedSource | None:
    answer = found.answer
    if answer is None or answer.best is None or answer.best not in by_file:
        return None
    return next(ranked for ranked in answer.ranking if ranked.source == answer.best)


def sources_of(session: Session, project_id: int) -> list[SourceChoice]:
    """A project's sources, with the passes and open recalls of each."""
    counted = (
        select(
            col(Pass.source_id), col(Pass.id), col(Pass.number), col(Pass.title), func.count(col(Print.id))
        )
        .join(SourceTrack, col(SourceTrack.id) == col(Pass.source_id))
        .outerjoin(Print, col(Print.pass_id) == col(Pass.id))
        .where(col(SourceTrack.project_id) == project_id)
        .group_by(col(Pass.id))
        .order_by(col(Pass.number).desc())
    )
    of_source: dict[int, list[PassChoice]] = {}
    for source_id, pass_id, number, title, prints in session.execute(counted):
        of_source.setdefault(source_id, []).append(PassChoice(pass_id, number, title, prints))
    sources = select(col(SourceTrack.id), col(SourceTrack.name)).where(
        col(SourceTrack.project_id) == project_id
    )
    recalls = _open_recalls(session, project_id)
    return [
        SourceChoice(source_id, name, tuple(of_source.get(source_id, ())), tuple(recalls.get(source_id, ())))
        for source_id, name in session.execute(sources.order_by(col(SourceTrack.id)))
    ]


def _open_recalls(session: Session, project_id: int) -> dict[int, list[OpenRecall]]:
    """By source: those of passes that have a print to compare a try with."""
    printed = select(col(Print.id)).where(col(Print.pass_id) == col(Pass.id)).exists()
    rows = session.execute(
        select(col(Pass.source_id), col(Recall.id), col(Pass.number), col(Pass.title), col(Recall.begun_at))
        .join(Pass, col(Pass.id) == col(Recall.pass_id))
        .join(SourceTrack, col(SourceTrack.id) == col(Pass.source_id))
        .where(
            col(SourceTrack.project_id) == project_id,
            col(SourceTrack.file_id).is_not(None),
            col(Recall.finished_at).is_(None),
            printed,
        )
        .order_by(col(Recall.id).desc())
    )
    found: dict[int, list[OpenRecall]] = {}
    for source_id, recall_id, number, title, begun_at in rows:
        found.setdefault(source_id, []).append(OpenRecall(recall_id, number, title, begun_at))
    return found


def recognised(
    session: Session, file_ids: Sequence[int], sources: Sequence[SourceChoice]
) -> dict[int, SourceChoice]:
    """By file the source that it is a print of, where that was asked and found."""
    by_file = _source_by_file(session, sources)
    examined = examinations.read_identified(session, file_ids)
    best = {file_id: _best(answer, by_file) for file_id, answer in examined.items()}
    return {file_id: by_file[ranked.source] for file_id, ranked in best.items() if ranked is not None}


def _source_by_file(session: Session, sources: Sequence[SourceChoice]) -> dict[str, SourceChoice]:
    """By the file's id in letters, as an identification names its sources."""
    files = dict(
        session.execute(
            select(col(SourceTrack.id), col(SourceTrack.file_id)).where(
                col(SourceTrack.id).in_([one.source_id for one in sources])
            )
        ).all()
    )
    return {str(files[one.source_id]): one for one in reversed(sources) if files.get(one.source_id)}


def _lines(session: Session, project_id: int, state: str) -> tuple[ArrivalLine, ...]:
    rows = session.scalars(
        _of_project(project_id).where(col(Arrival.state) == state).order_by(col(Arrival.path)).limit(SHOWN)
    )
    return tuple(_line(row) for row in rows)


def _lately(session: Session, project_id: int) -> tuple[ArrivalLine, ...]:
    rows = session.execute(
        select(Arrival, col(Pass.id), col(Pass.number), col(SourceTrack.name))
        .join(WatchedFolder, col(WatchedFolder.id) == col(Arrival.folder_id))
        .join(Print, col(Print.id) == col(Arrival.print_id))
        .join(Pass, col(Pass.id) == col(Print.pass_id))
        .join(SourceTrack, col(SourceTrack.id) == col(Pass.source_id))
        .where(col(WatchedFolder.project_id) == project_id)
        .order_by(col(Print.id).desc())
        .limit(LATELY)
    )
    return tuple(
        _line(row, pass_id=pass_id, pass_number=number, source_name=name)
        for row, pass_id, number, name in rows
    )


def _line(row: Arrival, **more: float | str | None) -> ArrivalLine:
    found = filing.found_of(row)
    return ArrivalLine(
        row.id,
        row.path,
        row.bytes,
        datetime.fromtimestamp(row.modified_ns // 1_000_000_000, UTC),
        row.reason,
        row.missing_since is not None,
        found.is_finished,
        found.duration_s,
        **more,  # type: ignore[arg-type]
    )


def _of_project(project_id: int) -> Select[Arrival]:
    return select(Arrival).join(WatchedFolder).where(col(WatchedFolder.project_id) == project_id)


def _count(session: Session, project_id: int, which: ColumnElement[bool]) -> int:
    return (
        session.scalar(
            select(func.count())
            .select_from(Arrival)
            .join(WatchedFolder)
            .where(col(WatchedFolder.project_id) == project_id, which)
        )
        or 0
    )
