"""The inbox of a project: what arrived from its watched folders and where it could go."""

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import Any, Literal

from sqlalchemy import ColumnElement, Select, func, or_, select, union_all
from sqlalchemy.orm import Session
from sqlmodel import col

from app.desk.arrivals import filing, printing
from app.desk.arrivals.photo_filing import SAME_PICTURE, TAKEN
from app.desk.arrivals.printing import WaitingPass
from app.desk.measuring import examinations, findings, measurements, queued_work
from app.desk.measuring.examinations import Examined
from app.desk.passes import passes
from app.desk.passes.drafts import in_work
from app.desk.prints.microphones import returns_of
from app.desk.projects.projects import find_project
from app.library import Library, Readable
from app.records import (
    Arrival,
    Draft,
    DraftPhoto,
    Pass,
    Photo,
    Print,
    Recall,
    SourceTrack,
    StoredFile,
    WatchedFolder,
    WorkState,
)
from app.records.base import now
from app.signal.figures import FileFigures, Identification, RankedSource
from app.trade.named_returns import PrintFile, Return, guess_returns

SHOWN = 50
LATELY = 10
LEFT_SHOWN = 500
KNOWN_SHOWN, AN_HOUR = 3, timedelta(hours=1)
OPEN: ColumnElement[bool] = (col(Arrival.state) == "offered") | (
    (col(Arrival.state) == "taken") & col(Arrival.print_id).is_(None)
)
"""As `filing.is_open` says of one row."""
PICTURE: ColumnElement[bool] = col(Arrival.file_id).in_(
    select(col(StoredFile.id)).where(col(StoredFile.media_type).startswith("image/"))
)
LEFT: ColumnElement[bool] = (col(Arrival.state) == "left") & col(Arrival.missing_since).is_(None)


@dataclass(frozen=True)
class ArrivalLine:
    """One file that arrived. `delay_samples` is what was found when it was recognised, `remarks` what its header and its
    channels tell before anything is measured, `of` the gear that it came back from, as its name tells. `filed` says
    where it was filed."""

    arrival_id: int
    path: str
    bytes: int
    written_at: datetime
    reason: str
    is_missing: bool
    is_finished: bool
    duration_s: float | None = None
    delay_samples: float | None = None
    remarks: tuple[str, ...] = ()
    of: int | None = None
    filed: "FiledPrint | None" = None
    is_picture: bool = False


@dataclass(frozen=True)
class FiledPrint:
    """The print that an arrival became, and what of its pass's chain it can be of."""

    print_id: int
    pass_id: int
    pass_number: int
    source_name: str
    step_id: int | None
    returns: tuple[Return, ...]


@dataclass(frozen=True)
class FiledPhoto:
    """A picture that became a photo; `pass_id` is None while its pass is being jotted."""

    path: str
    source_id: int
    source_name: str
    pass_id: int | None
    pass_number: int | None


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
    """A source, its passes and the open recalls of them, the newest first. `returns` is what a print of its likely pass
    can be of."""

    source_id: int
    name: str
    passes: tuple[PassChoice, ...]
    recalls: tuple[OpenRecall, ...] = ()
    returns: tuple[Return, ...] = ()

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
    the one), none (of this project's sources), failed or unasked, or picture (then `source` is the one that was worked on last);
    `reason` is a sentence where there is something to say."""

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
    """`more` offers are not shown yet; `known` came in lately and are no new audio; `left` counts the files that were left
    alone."""

    project_id: int
    project_title: str
    is_watched: bool
    problems: tuple[tuple[str, str], ...]
    waiting: WaitingPass | None
    is_held_back: bool
    offers: tuple[Offer, ...]
    more: int
    known: tuple[ArrivalLine, ...]
    growing: tuple[ArrivalLine, ...]
    failed: tuple[ArrivalLine, ...]
    lately: tuple[ArrivalLine, ...]
    photographed: tuple[FiledPhoto, ...]
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
            _known_lately(session, project_id),
            _lines(session, project_id, "growing"),
            _lines(session, project_id, "failed"),
            _lately(session, project_id),
            _photographed(session, project_id),
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
    """The recordings on the inbox, the newest first."""
    with library.reading() as session:
        rows = session.scalars(
            _of_project(project_id)
            .where(OPEN, ~PICTURE)
            .order_by(col(Arrival.modified_ns).desc())
            .limit(LATELY)
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


def file_as_new_pass(
    library: Library, arrival_id: int, source_id: int, gear_of: Mapping[int, int | None] | None = None
) -> int:
    """A new pass like the source's last one, with an arrival as its prints. Returns the pass."""
    with library.reading() as session:
        filing.together_with(session, filing.find_arrival(session, arrival_id))  # refuses what is filed
    pass_id = passes.log_pass(library, source_id, passes.entry_for_next(library, source_id))
    filing.file_under(library, arrival_id, pass_id, gear_of)
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
    formats = _formats(session, rows, sources)
    groups: dict[str, list[Arrival]] = {}
    for row in rows:
        groups.setdefault(row.together or f"alone {row.id}", []).append(row)
    return [
        _offer(sorted(group, key=lambda row: row.path), examined, by_file, formats)
        for group in groups.values()
    ]


@dataclass(frozen=True)
class _Formats:
    """What arrivals are held against: the project's rate, and by source its file as it was measured. `titles` says
    nothing of a microphone. `in_work` is the source that a picture is most likely of."""

    project_rate: int
    of_source: Mapping[int, FileFigures]
    titles: str
    in_work: SourceChoice | None = None


def _formats(session: Session, rows: Sequence[Arrival], sources: Sequence[SourceChoice]) -> _Formats:
    if not rows:
        return _Formats(0, {}, "")
    project = find_project(session, session.get_one(WatchedFolder, rows[0].folder_id).project_id)
    found = session.execute(
        select(col(SourceTrack.id), col(SourceTrack.file_id)).where(
            col(SourceTrack.id).in_([one.source_id for one in sources]), col(SourceTrack.file_id).is_not(None)
        )
    ).all()
    pairs: dict[int, tuple[int, int | None]] = {
        source_id: (file_id, None) for source_id, file_id in found if file_id is not None
    }
    measured = measurements.read_measured(session, set(pairs.values()), with_overview=False)
    figures = {source_id: measured[pair].figures for source_id, pair in pairs.items()}
    return _Formats(
        project.sample_rate,
        {source_id: one.file for source_id, one in figures.items() if one is not None},
        project.title,
        _in_work(session, project.id, sources)
        if any(filing.found_of(row).is_picture for row in rows)
        else None,
    )


def _in_work(session: Session, project_id: int, sources: Sequence[SourceChoice]) -> SourceChoice | None:
    """The source whose next pass was jotted last, else that of the newest pass, else the first."""
    drafts = in_work(session, project_id)
    if drafts:
        return next(one for one in sources if one.source_id == drafts[0].source_id)
    return max(sources, key=lambda one: max((each.pass_id for each in one.passes), default=0), default=None)


def _offer(
    rows: Sequence[Arrival],
    examined: dict[int, Examined[Identification]],
    by_file: dict[str, SourceChoice],
    formats: _Formats,
) -> Offer:
    """Files recorded at once are of one source: that of the one recognised best."""
    answers = [examined.get(row.file_id or 0, Examined(WorkState.NOT_ASKED)) for row in rows]
    best = [_best(one, by_file) for one in answers]
    known = [ranked for ranked in best if ranked is not None]
    source = by_file[max(known, key=lambda ranked: ranked.score).source] if known else None
    against = None if source is None else formats.of_source.get(source.source_id)
    lines = tuple(
        _line(
            row,
            delay_samples=None if ranked is None else ranked.delay_samples,
            remarks=_remarks(row, formats.project_rate, against),
            of=of,
        )
        for row, ranked, of in zip(rows, best, _gear_of(rows, source, formats.titles), strict=True)
    )
    first = rows[0].id
    if filing.found_of(rows[0]).is_picture:
        return Offer(first, lines, "picture", source=formats.in_work)
    if source is not None:
        return Offer(first, lines, "found", source=source)
    if any(one.is_coming for one in answers):
        return Offer(first, lines, "coming")
    failed = [one.reason for one in answers if one.state == WorkState.FAILED]
    if failed:
        return Offer(first, lines, "failed", failed[0])
    return Offer(first, lines, "none" if all(one.state == WorkState.DONE for one in answers) else "unasked")


def _gear_of(rows: Sequence[Arrival], source: SourceChoice | None, titles: str) -> list[int | None]:
    """The gear that each of several files seems to have come back from on the source's likely pass."""
    if source is None or not source.returns:
        return [None] * len(rows)
    files = [PrintFile(row.path, filing.found_of(row).channels) for row in rows]
    gear_of_step = {one.step_id: one.gear_id for one in source.returns}
    guesses = guess_returns(files, source.returns, besides=f"{titles} {source.name}")
    return [None if guess is None else gear_of_step[guess.step_id] for guess in guesses]


def _remarks(row: Arrival, project_rate: int, source: FileFigures | None) -> tuple[str, ...]:
    found = filing.found_of(row)
    said = findings.at_arrival(found.sample_rate, found.channels, found.alike, source, project_rate)
    return tuple(finding.sentence for finding in said)


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
    found = [
        SourceChoice(source_id, name, tuple(of_source.get(source_id, ())), tuple(recalls.get(source_id, ())))
        for source_id, name in session.execute(sources.order_by(col(SourceTrack.id)))
    ]
    likely = {one.source_id: one.likely_pass.pass_id for one in found if one.likely_pass is not None}
    returns = returns_of(session, likely.values())
    return [replace(one, returns=tuple(returns.get(likely.get(one.source_id, 0), ()))) for one in found]


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
        select(Arrival, Print, col(Pass.number), col(SourceTrack.name))
        .join(WatchedFolder, col(WatchedFolder.id) == col(Arrival.folder_id))
        .join(Print, col(Print.id) == col(Arrival.print_id))
        .join(Pass, col(Pass.id) == col(Print.pass_id))
        .join(SourceTrack, col(SourceTrack.id) == col(Pass.source_id))
        .where(col(WatchedFolder.project_id) == project_id)
        .order_by(col(Print.id).desc())
        .limit(LATELY)
    ).all()
    returns = returns_of(session, {item.pass_id for _, item, _, _ in rows})
    return tuple(
        _line(
            row,
            filed=FiledPrint(
                item.id, item.pass_id, number, name, item.step_id, tuple(returns.get(item.pass_id, ()))
            ),
        )
        for row, item, number, name in rows
    )


def _photographed(session: Session, project_id: int) -> tuple[FiledPhoto, ...]:
    """Pictures that arrived and are photos now, the newest first, each with the pass or the draft that has it."""
    of_pass = select(col(Photo.original_file_id), col(Pass.source_id), col(Pass.id), col(Pass.number)).join(
        Pass, col(Pass.id) == col(Photo.pass_id)
    )
    of_draft = (
        select(col(DraftPhoto.original_file_id), col(Draft.source_id), col(Pass.id), col(Pass.number))
        .join(Draft, col(Draft.id) == col(DraftPhoto.draft_id))
        .outerjoin(Pass, col(Pass.id) == col(Draft.pass_id))
    )
    placed = union_all(of_pass, of_draft).subquery()
    file_id, source_id, pass_id, number = placed.c
    rows = session.execute(
        select(col(Arrival.path), source_id, col(SourceTrack.name), pass_id, number)
        .join(WatchedFolder, col(WatchedFolder.id) == col(Arrival.folder_id))
        .join(placed, file_id == col(Arrival.file_id))
        .join(SourceTrack, col(SourceTrack.id) == source_id)
        .where(
            col(WatchedFolder.project_id) == project_id,
            col(SourceTrack.project_id) == project_id,
            col(Arrival.reason) == TAKEN,
        )
        .order_by(col(Arrival.id).desc())
        .limit(LATELY)
    )
    return tuple(FiledPhoto(*row) for row in rows)


def _known_lately(session: Session, project_id: int) -> tuple[ArrivalLine, ...]:
    """What came in within the hour and holds the same as another file: a pass may wait for another one."""
    rows = session.scalars(
        _of_project(project_id)
        .where(
            LEFT,
            or_(*(col(Arrival.reason).startswith(same) for same in (filing.SAME_AUDIO, SAME_PICTURE))),
            col(Arrival.seen_at) > now() - AN_HOUR,
        )
        .order_by(col(Arrival.id).desc())
        .limit(KNOWN_SHOWN)
    )
    return tuple(_line(row) for row in rows)


def _line(row: Arrival, **more: Any) -> ArrivalLine:
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
        is_picture=found.is_picture,
        **more,
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
