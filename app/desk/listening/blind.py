"""Listening without knowing: blind choices among passes, and A–B–X tests of whether two can be told apart at all."""

import secrets
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session
from sqlmodel import col

from app.desk import wording
from app.desk.passes.compare import read_compared
from app.desk.refusals import Complaints, Refusal
from app.desk.rows import row_of
from app.library import Library, Readable
from app.records import BlindChoice, HearingTest, Pass
from app.records.base import now
from app.trade.blind import fewest_right, in_words

LETTERS = "ABCDEFGH"
TRIALS = (8, 10, 12, 16, 20, 24)


@dataclass(frozen=True)
class BlindLane:
    """A pass under its letter, with what was said of it."""

    letter: str
    pass_id: int
    number: int
    note: str
    rank: str


@dataclass(frozen=True)
class BlindSheet:
    blind_id: int
    source_id: int
    lanes: tuple[BlindLane, ...]
    begun_at: datetime
    revealed_at: datetime | None

    @property
    def best(self) -> BlindLane | None:
        """The one ranked first, if one was."""
        return next((lane for lane in self.lanes if lane.rank == "1"), None)


@dataclass(frozen=True)
class TestSheet:
    """`result` is in words, once every trial is answered; before that nothing is told."""

    test_id: int
    source_id: int
    pass_a: int
    number_a: int
    pass_b: int
    number_b: int
    trials: int
    answered: int
    result: str | None
    begun_at: datetime

    @property
    def needed(self) -> int | None:
        """How many right answers say that a difference is heard; None where the test is too short to say so."""
        return fewest_right(self.trials)


def begin_blind(library: Library, pass_ids: Sequence[int]) -> int:
    """Deal the passes out under letters. Returns the blind choice's id."""
    passes = read_compared(library, pass_ids)
    order = [sheet.pass_id for sheet in passes]
    secrets.SystemRandom().shuffle(order)
    with library.writing() as session:
        row = BlindChoice(source_id=passes[0].source_id, pass_ids=order)
        session.add(row)
        session.flush()
        return row.id


def read_blind(library: Readable, blind_id: int) -> BlindSheet:
    with library.reading() as session:
        return _blind_sheets(session, [_find_blind(session, blind_id)])[0]


def reveal(library: Library, blind_id: int, notes: Mapping[str, str], ranks: Mapping[str, str]) -> None:
    """Keep what was said under the letters, and name them. What was said cannot be changed afterwards."""
    with library.writing() as session:
        row = _find_blind(session, blind_id)
        if row.revealed_at is not None:
            raise Refusal({"": "These letters were named already; what was said before that stands."})
        complaints = Complaints()
        said = []
        letters = LETTERS[: len(row.pass_ids)]
        given = [ranks[letter] for letter in letters if ranks.get(letter)]
        for letter in letters:
            rank = ranks.get(letter, "")
            note = wording.line(complaints, f"note-{letter}", "The note", notes.get(letter, ""))
            if rank and rank not in {str(n) for n in range(1, len(letters) + 1)}:
                complaints.add(f"rank-{letter}", "Choose a rank from the list.")
            elif rank and given.count(rank) > 1:
                complaints.add(f"rank-{letter}", f"Two letters have rank {rank}. Give each rank once.")
            said.append({"note": note, "rank": rank})
        complaints.refuse_if_any()
        row.said, row.revealed_at = said, now()


def read_blind_choices(library: Readable, source_ids: Collection[int]) -> list[BlindSheet]:
    """The blind choices of sources that were brought to their end, oldest first."""
    with library.reading() as session:
        rows = session.scalars(
            select(BlindChoice)
            .where(col(BlindChoice.source_id).in_(source_ids), col(BlindChoice.revealed_at).is_not(None))
            .order_by(col(BlindChoice.id))
        ).all()
        return _blind_sheets(session, rows)


def begin_test(library: Library, pass_a: int, pass_b: int, trials: int) -> int:
    """Fix the number of trials and draw every X. Returns the test's id."""
    passes = read_compared(library, (pass_a, pass_b))
    if trials not in TRIALS:
        raise Refusal({"trials": "Choose the number of trials from the list before you start."})
    with library.writing() as session:
        row = HearingTest(
            source_id=passes[0].source_id,
            pass_a=pass_a,
            pass_b=pass_b,
            trials=trials,
            xs=[secrets.choice("AB") for _ in range(trials)],
        )
        session.add(row)
        session.flush()
        return row.id


def read_test(library: Readable, test_id: int) -> TestSheet:
    with library.reading() as session:
        return _test_sheets(session, [_find_test(session, test_id)])[0]


def pass_of_x(library: Readable, test_id: int) -> int:
    """The pass that X is in the trial that is open now."""
    with library.reading() as session:
        row = _find_test(session, test_id)
        trial = min(len(row.answers), row.trials - 1)
        return row.pass_a if row.xs[trial] == "A" else row.pass_b


def answer(library: Library, test_id: int, trial: int, said: str) -> None:
    """Answer the open trial with "A" or "B". An answer that comes twice counts once."""
    if said not in ("A", "B"):
        raise Refusal({"": "Answer A or B."})
    with library.writing() as session:
        row = _find_test(session, test_id)
        if trial == len(row.answers) and trial < row.trials:
            row.answers = [*row.answers, said]


def read_tests(library: Readable, source_ids: Collection[int]) -> list[TestSheet]:
    """The tests of sources that were brought to their end, oldest first."""
    with library.reading() as session:
        rows = session.scalars(
            select(HearingTest)
            .where(col(HearingTest.source_id).in_(source_ids))
            .order_by(col(HearingTest.id))
        ).all()
        return _test_sheets(session, [row for row in rows if len(row.answers) == row.trials])


def said_of_sources(library: Readable, source_ids: Collection[int]) -> dict[int, tuple[str, ...]]:
    """By source its blind choices and tests as the session log says them; a source without any is left out."""
    said: dict[int, list[str]] = {}
    for blind in read_blind_choices(library, source_ids):
        lanes = [
            f"pass {lane.number}"
            + (f" ranked {lane.rank}" if lane.rank else "")
            + (f", {lane.note}" if lane.note else "")
            for lane in blind.lanes
        ]
        said.setdefault(blind.source_id, []).append(f"Blind choice: {'; '.join(lanes)}.")
    for test in read_tests(library, source_ids):
        words = f"A–B–X between pass {test.number_a} and pass {test.number_b}: {test.result}"
        said.setdefault(test.source_id, []).append(words)
    return {source_id: tuple(lines) for source_id, lines in said.items()}


def _find_blind(session: Session, blind_id: int) -> BlindChoice:
    return row_of(session, BlindChoice, blind_id, "blind choice")


def _find_test(session: Session, test_id: int) -> HearingTest:
    return row_of(session, HearingTest, test_id, "hearing test")


def _blind_sheets(session: Session, rows: Sequence[BlindChoice]) -> list[BlindSheet]:
    numbers = _numbers(session, {pass_id for row in rows for pass_id in row.pass_ids})
    return [_blind_sheet(row, numbers) for row in rows]


def _blind_sheet(row: BlindChoice, numbers: Mapping[int, int]) -> BlindSheet:
    said = row.said or [{"note": "", "rank": ""} for _ in row.pass_ids]
    return BlindSheet(
        row.id,
        row.source_id,
        tuple(
            BlindLane(letter, pass_id, numbers.get(pass_id, 0), each["note"], each["rank"])
            for letter, pass_id, each in zip(LETTERS, row.pass_ids, said, strict=False)
        ),
        row.begun_at,
        row.revealed_at,
    )


def _test_sheets(session: Session, rows: Sequence[HearingTest]) -> list[TestSheet]:
    numbers = _numbers(session, {pass_id for row in rows for pass_id in (row.pass_a, row.pass_b)})
    return [_test_sheet(row, numbers) for row in rows]


def _test_sheet(row: HearingTest, numbers: Mapping[int, int]) -> TestSheet:
    right = sum(said == x for said, x in zip(row.answers, row.xs, strict=False))
    done = len(row.answers) == row.trials
    return TestSheet(
        row.id,
        row.source_id,
        row.pass_a,
        numbers.get(row.pass_a, 0),
        row.pass_b,
        numbers.get(row.pass_b, 0),
        row.trials,
        len(row.answers),
        in_words(right, row.trials) if done else None,
        row.begun_at,
    )


def _numbers(session: Session, pass_ids: Collection[int]) -> dict[int, int]:
    if not pass_ids:
        return {}
    rows = session.execute(select(col(Pass.id), col(Pass.number)).where(col(Pass.id).in_(pass_ids)))
    return dict(rows.all())
