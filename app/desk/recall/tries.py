"""Tries of a recall: some seconds printed again, compared with the original print of the same passage, and judged."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import BinaryIO

from sqlalchemy import select
from sqlalchemy.orm import Session
from sqlmodel import col

from app.desk import wording
from app.desk.arrivals import filing
from app.desk.files import stored_files
from app.desk.measuring import examinations
from app.desk.passes.pass_sheets import PassSheet, PrintSheet, read_pass_sheets
from app.desk.prints.prints import AudioFile, audio_of
from app.desk.prints.repeats import NO_REPEATS, SpreadSheet, read_spreads
from app.desk.recall.runs import find_recall
from app.desk.refusals import Complaints, Refusal
from app.desk.rows import row_of
from app.library import Library, Readable
from app.records import Pass, Print, Recall, RecallTry, SourceTrack, WorkState
from app.signal.comparison.tolerances import Tolerances, tolerances
from app.signal.comparison.verdict import judged
from app.signal.figures import MatchFigures

NO_ORIGINAL = (
    "This pass has no print, so there is nothing to compare with. Attach the original print to it first."
)
NO_SOURCE = "The source has no audio file, and a print is found in time by its source. Bring that in first."


@dataclass(frozen=True)
class TrySheet:
    """One try. `figures` are judged with what is known of the spread; None until they are there, or where `reason` says
    why there are none."""

    try_id: int
    number: int
    file_name: str
    note: str
    created_at: datetime
    original: str
    original_print_id: int | None
    state: WorkState
    reason: str
    figures: MatchFigures | None
    within: Tolerances | None

    @property
    def is_coming(self) -> bool:
        return self.state.is_coming

    @property
    def volumes(self) -> tuple[float, float]:
        """Factors for the original and the try that make them equally loud, neither raised."""
        louder_db = 0.0 if self.figures is None else self.figures.level_difference_db or 0.0
        return min(1.0, 10 ** (louder_db / 20)), min(1.0, 10 ** (-louder_db / 20))

    @property
    def begins_s(self) -> tuple[float, float]:
        """Where in the original and in the try the same moment of the source stands."""
        late_s = 0.0 if self.figures is None else (self.figures.delay_difference_ms or 0.0) / 1000
        return max(0.0, -late_s), max(0.0, late_s)


@dataclass(frozen=True)
class TriesSheet:
    """All tries of a recall, the oldest first. `originals` are the prints that a try can be compared with, `chosen` the
    one that comes first to mind, `spread` what is known of repeats of it."""

    recall_id: int
    sheet: PassSheet
    originals: tuple[PrintSheet, ...]
    chosen: PrintSheet | None
    spread: SpreadSheet
    tries: tuple[TrySheet, ...]
    missing: str

    @property
    def is_coming(self) -> bool:
        return any(attempt.is_coming for attempt in self.tries)

    @property
    def last(self) -> TrySheet | None:
        """The newest try that has its verdict."""
        return next((attempt for attempt in reversed(self.tries) if attempt.figures is not None), None)

    def alike(self, attempt: TrySheet) -> list[TrySheet]:
        """The tries up to this one that were compared with the same original and have their figures."""
        return [
            earlier
            for earlier in self.tries
            if earlier.figures is not None
            and earlier.original_print_id == attempt.original_print_id
            and earlier.number <= attempt.number
        ]


def add_try(
    library: Library,
    recall_id: int,
    file_name: str,
    stream: BinaryIO,
    *,
    original_print_id: int | None,
    note: str = "",
) -> int:
    """Take a print in as a try and have it compared. Returns the try's id."""
    complaints = Complaints()
    note = wording.line(complaints, "try-note", "The note", note)
    complaints.refuse_if_any()
    with library.reading() as session:
        _original_of(session, recall_id, original_print_id)
    name = wording.file_name(file_name)
    media_type = stored_files.refuse_unless_audio("file", name, stream)
    taken = stored_files.take_in(library, "file", stream)
    with library.writing() as session:
        file_id = stored_files.record(session, taken, media_type)
        return write_try(session, recall_id, original_print_id, file_id, name, note)


def take_arrival(
    library: Library, recall_id: int, arrival_id: int, *, original_print_id: int | None = None, note: str = ""
) -> int:
    """What arrived in the folder that the DAW records into is a try. Returns the try's id."""
    complaints = Complaints()
    note = wording.line(complaints, "try-note", "The note", note)
    complaints.refuse_if_any()
    with library.writing() as session:
        recall = find_recall(session, recall_id)
        number = session.get_one(Pass, recall.pass_id).number
        file_id, name = filing.give_away(session, arrival_id, f"A try of a recall of pass {number}.")
        return write_try(session, recall_id, original_print_id, file_id, name, note)


def write_try(
    session: Session,
    recall_id: int,
    original_print_id: int | None,
    file_id: int,
    file_name: str,
    note: str = "",
) -> int:
    original, source_file_id = _original_of(session, recall_id, original_print_id)
    row = RecallTry(
        recall_id=recall_id, original_print_id=original.id, file_id=file_id, file_name=file_name, note=note
    )
    session.add(row)
    examinations.want_matched(session, (file_id, original.file_id, source_file_id))
    session.flush()
    return row.id


def read_tries(library: Readable, recall_id: int) -> TriesSheet:
    with library.reading() as session:
        pass_id = find_recall(session, recall_id).pass_id
        (sheet,) = read_pass_sheets(session, col(Pass.id) == pass_id)
    return tries_of(library, recall_id, sheet)


def tries_of(library: Readable, recall_id: int, sheet: PassSheet) -> TriesSheet:
    """Those of a recall of the pass that `sheet` is of."""
    with library.reading() as session:
        originals = tuple(item for item in sheet.prints if item.repeat_of is None)
        rows = session.scalars(
            select(RecallTry).where(col(RecallTry.recall_id) == recall_id).order_by(col(RecallTry.id))
        ).all()
        spreads = read_spreads(session, [item.print_id for item in originals])
        tries = _tries(session, sheet, rows, spreads).get(recall_id, ())
        last = rows[-1].original_print_id if rows else None
        chosen = next((item for item in originals if item.print_id == last), next(iter(originals), None))
        return TriesSheet(
            recall_id,
            sheet,
            originals,
            chosen,
            NO_REPEATS if chosen is None else spreads.get(chosen.print_id, NO_REPEATS),
            tries,
            NO_SOURCE if sheet.source_file_id is None else NO_ORIGINAL if not originals else "",
        )


def last_verdicts(library: Readable, sheet: PassSheet) -> dict[int, str]:
    """By recall of a pass, what the newest try that was compared came to, in a word."""
    with library.reading() as session:
        rows = session.scalars(
            select(RecallTry)
            .join(Recall, col(RecallTry.recall_id) == col(Recall.id))
            .where(col(Recall.pass_id) == sheet.pass_id)
            .order_by(col(RecallTry.id))
        ).all()
        spreads = read_spreads(session, [item.print_id for item in sheet.prints if item.repeat_of is None])
        tries = _tries(session, sheet, rows, spreads)
    verdicts: dict[int, str] = {}
    for recall_id, of_recall in tries.items():
        judged_in = [each.figures.verdict for each in of_recall if each.figures is not None]
        if judged_in and (last := judged_in[-1]) is not None:
            verdicts[recall_id] = last
    return verdicts


def examine_again(library: Library, try_id: int) -> int:
    """Give a comparison that failed another try. Returns the recall."""
    with library.writing() as session:
        row = find_try(session, try_id)
        original, source_file_id = _original_of(session, row.recall_id, row.original_print_id)
        examinations.want_matched(session, (row.file_id, original.file_id, source_file_id))
        return row.recall_id


def delete_try(library: Library, try_id: int) -> int:
    """Returns the recall it was of."""
    with library.writing() as session:
        row = find_try(session, try_id)
        session.delete(row)
        return row.recall_id


def read_try(library: Readable, try_id: int) -> RecallTry:
    with library.reading() as session:
        return find_try(session, try_id)


def audio_of_try(library: Readable, try_id: int) -> AudioFile:
    with library.reading() as session:
        row = find_try(session, try_id)
        return audio_of(session, row.file_id, row.file_name)


def find_try(session: Session, try_id: int) -> RecallTry:
    return row_of(session, RecallTry, try_id, "try")


def _original_of(session: Session, recall_id: int, print_id: int | None) -> tuple[Print, int]:
    """The print to compare with, and the source's file. Without a choice, that of the last try, else the pass's first."""
    recall = find_recall(session, recall_id)
    source = session.get_one(SourceTrack, session.get_one(Pass, recall.pass_id).source_id)
    if source.file_id is None:
        raise Refusal({"file": NO_SOURCE})
    prints = session.scalars(
        select(Print).where(col(Print.pass_id) == recall.pass_id).order_by(col(Print.id))
    ).all()
    if print_id is None:
        last = session.scalar(
            select(col(RecallTry.original_print_id))
            .where(col(RecallTry.recall_id) == recall_id)
            .order_by(col(RecallTry.id).desc())
            .limit(1)
        )
        print_id = (
            last if any(item.id == last for item in prints) else next((item.id for item in prints), None)
        )
    chosen = next((item for item in prints if item.id == print_id), None)
    if chosen is None:
        raise Refusal(
            {"file": NO_ORIGINAL} if not prints else {"original": "Choose the print to compare with."}
        )
    return chosen, source.file_id


def _tries(
    session: Session, sheet: PassSheet, listed: Sequence[RecallTry], spreads: dict[int, SpreadSheet]
) -> dict[int, tuple[TrySheet, ...]]:
    """By recall, those of a pass that are listed, oldest first."""
    of_print = {item.print_id: item for item in sheet.prints}
    asked = {
        row.id: (row.file_id, of_print[row.original_print_id].file_id, sheet.source_file_id)
        for row in listed
        if row.original_print_id in of_print and sheet.source_file_id is not None
    }
    examined = examinations.read_matched(session, list(asked.values()))
    sheets: dict[int, tuple[TrySheet, ...]] = {}
    for row in listed:
        before = sheets.get(row.recall_id, ())
        examination = examined[asked[row.id]] if row.id in asked else None
        original = of_print.get(row.original_print_id or 0)
        spread = spreads.get(row.original_print_id or 0, NO_REPEATS).spread
        figures = (
            None if examination is None or examination.answer is None else judged(examination.answer, spread)
        )
        sheets[row.recall_id] = (
            *before,
            TrySheet(
                row.id,
                len(before) + 1,
                row.file_name,
                row.note,
                row.created_at,
                "" if original is None else original.label or original.file_name,
                row.original_print_id,
                WorkState.NOT_ASKED if examination is None else examination.state,
                "The print it was compared with is not on the pass any more."
                if examination is None
                else examination.reason,
                figures,
                None if figures is None else tolerances(figures, spread),
            ),
        )
    return sheets
