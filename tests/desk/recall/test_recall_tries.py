"""Tries of a recall: taken in, compared, judged with what is known of the spread, logged."""

import io
from dataclasses import replace

import pytest
from small_session import SmallSession, attach, tone

from app.desk.arrivals import inbox
from app.desk.files.check import check_library
from app.desk.measuring import examinations
from app.desk.passes.pass_sheets import read_pass
from app.desk.passes.passes import entry_for_next, log_pass
from app.desk.prints import repeats
from app.desk.recall import runs, tries
from app.desk.recall.tries import NO_ORIGINAL, TriesSheet, last_verdicts, read_tries
from app.desk.recall.try_drawings import draw_tries
from app.desk.refusals import Refusal
from app.library import Library
from app.signal.figures import BandDifference, MatchFigures, to_json

SAME = MatchFigures(
    verdict="match",
    level_difference_db=0.1,
    delay_difference_samples=0.2,
    polarity="same",
    null_depth_db=-31.0,
    bands=tuple(BandDifference(mid, 0.2) for mid in (501.19, 1000.0, 1995.26)),
    findings=("Nothing that matters is off.",),
    crest_difference_db=0.1,
    drive_difference_db=0.2,
    compared_s=9.5,
    delay_difference_ms=0.004,
)
LOUDER = replace(SAME, level_difference_db=0.8)


@pytest.fixture(autouse=True)
def _no_try_yet(filled: Library, session: SmallSession) -> None:
    compared(filled, SAME)
    tries.delete_try(filled, session.tried)


def add(library: Library, recall_id: int, hz: float, original: int | None = None, note: str = "") -> int:
    stream = io.BytesIO(tone(0.5, hz=hz))
    return tries.add_try(library, recall_id, f"try {hz}.wav", stream, original_print_id=original, note=note)


def compared(library: Library, found: MatchFigures | None, reason: str = "") -> None:
    """Answer the oldest waiting comparison, as the measuring process would."""
    while True:
        waiting = examinations.claim(library)
        assert waiting is not None
        if waiting.kind == "match":
            break
    examinations.finish(library, waiting.id, None if found is None else to_json(found), reason)


def verdicts(tries: TriesSheet) -> list[str | None]:
    return [None if one.figures is None else one.figures.verdict for one in tries.tries]


def test_a_try_is_compared_with_the_original_and_judged(filled: Library, session: SmallSession) -> None:
    add(filled, session.recall, 231, note="by eye")
    tries = read_tries(filled, session.recall)
    assert (tries.is_coming, tries.last, tries.tries[0].note) == (True, None, "by eye")
    compared(filled, SAME)
    tries = read_tries(filled, session.recall)
    assert verdicts(tries) == ["match"]
    assert tries.last is not None
    assert tries.last.original == "near"
    assert last_verdicts(filled, read_pass(filled, session.passes[0])) == {session.recall: "match"}


def test_tries_are_numbered_and_the_drawings_show_them_closing_in(
    filled: Library, session: SmallSession
) -> None:
    for hz, found in ((231, replace(SAME, level_difference_db=3.0)), (232, LOUDER), (233, SAME)):
        add(filled, session.recall, hz)
        compared(filled, found)
    tries = read_tries(filled, session.recall)
    assert verdicts(tries) == ["different", "close", "match"]
    drawn = draw_tries(tries, width=720)
    assert drawn is not None
    assert drawn.closing is not None
    assert drawn.closing.finding.startswith(
        "Level, within ±0.5 dB: try 1 +3.0 dB, try 2 +0.8 dB, try 3 +0.1 dB."
    )
    assert "Try 3: all within the tolerance, at most +0.2 dB at 500 Hz." in drawn.bands.finding


def test_both_are_heard_equally_loud_from_the_same_moment(filled: Library, session: SmallSession) -> None:
    add(filled, session.recall, 231)
    compared(filled, replace(SAME, level_difference_db=6.0206, delay_difference_ms=-34_000.0))
    (attempt,) = read_tries(filled, session.recall).tries
    assert attempt.volumes == (1.0, pytest.approx(0.5, abs=1e-4)), "the louder one comes down"
    assert attempt.begins_s == (34.0, 0.0), "a recall that begins 34 s into the source"
    late = replace(attempt, figures=replace(SAME, level_difference_db=-20.0, delay_difference_ms=250.0))
    assert (late.volumes, late.begins_s) == ((pytest.approx(0.1), 1.0), (0.0, 0.25))
    assert tries.audio_of_try(filled, attempt.try_id).file_name == "try 231.wav"


def test_what_prints_of_the_same_settings_differ_by_widens_the_tolerance(
    filled: Library, session: SmallSession
) -> None:
    first = session.prints[0]
    again = attach(filled, session.passes[0], tone(0.5, hz=240), "again.wav")
    repeats.mark_repeat(filled, again, first)
    compared(filled, replace(SAME, level_difference_db=-0.6))
    add(filled, session.recall, 231)
    compared(filled, LOUDER)
    tries = read_tries(filled, session.recall)
    assert verdicts(tries) == ["match"], "0.8 dB is less than twice the 0.6 dB that the chain does by itself"
    assert tries.last is not None
    assert tries.last.within is not None
    assert tries.last.within.level_db == pytest.approx(1.2)
    assert [item.print_id for item in tries.originals] == [first]
    repeats.mark_repeat(filled, again, None)
    assert verdicts(read_tries(filled, session.recall)) == ["close"]


def test_a_repeat_of_a_repeat_repeats_the_first(filled: Library, session: SmallSession) -> None:
    first, pass_id = session.prints[0], session.passes[0]
    second, third = (attach(filled, pass_id, tone(0.5, hz=hz), f"{hz}.wav") for hz in (240, 241))
    repeats.mark_repeat(filled, third, second)
    repeats.mark_repeat(filled, second, first)
    assert [item.repeat_of for item in read_pass(filled, pass_id).prints] == [None, first, first]


@pytest.mark.parametrize("other", ["itself", "of another pass"])
def test_only_another_print_of_the_pass_can_be_repeated(
    filled: Library, session: SmallSession, other: str
) -> None:
    first_id = session.prints[0] if other == "itself" else session.prints[1]
    with pytest.raises(Refusal, match="another print of this pass"):
        repeats.mark_repeat(filled, session.prints[0], first_id)


def test_a_pass_without_a_print_has_nothing_to_compare_with(filled: Library, session: SmallSession) -> None:
    recall_id = runs.begin(filled, log_pass(filled, session.bass, entry_for_next(filled, session.bass)))
    assert read_tries(filled, recall_id).missing == NO_ORIGINAL
    with pytest.raises(Refusal) as refused:
        add(filled, recall_id, 231)
    assert refused.value.sentences == {"file": NO_ORIGINAL}


def test_a_print_of_another_pass_is_no_original(filled: Library, session: SmallSession) -> None:
    with pytest.raises(Refusal) as refused:
        add(filled, session.recall, 231, original=session.prints[1])
    assert set(refused.value.sentences) == {"original"}


def test_what_is_no_audio_is_refused_and_no_try_is_kept(filled: Library, session: SmallSession) -> None:
    with pytest.raises(Refusal, match="not a WAV"):
        tries.add_try(filled, session.recall, "x.wav", io.BytesIO(b"something else"), original_print_id=None)
    assert read_tries(filled, session.recall).tries == ()


def test_a_comparison_that_failed_says_why_and_can_be_tried_again(
    filled: Library, session: SmallSession
) -> None:
    try_id = add(filled, session.recall, 231)
    compared(filled, None, "“try.wav” could not be read.")
    (one,) = read_tries(filled, session.recall).tries
    assert (one.state, one.reason, one.figures) == ("failed", "“try.wav” could not be read.", None)
    assert tries.examine_again(filled, try_id) == session.recall
    assert read_tries(filled, session.recall).is_coming


def test_a_recall_of_something_else_is_different_without_drawings(
    filled: Library, session: SmallSession
) -> None:
    foreign = MatchFigures("different", None, None, "unclear", None, (), ("It does not look like a print.",))
    add(filled, session.recall, 231)
    compared(filled, foreign)
    tries = read_tries(filled, session.recall)
    assert verdicts(tries) == ["different"]
    assert draw_tries(tries, width=720) is None


def test_an_arrival_becomes_a_try_and_leaves_the_inbox(filled: Library, session: SmallSession) -> None:
    def open_ids() -> list[int]:
        return [line.arrival_id for line in inbox.open_arrivals(filled, session.project)]

    assert session.arrival in open_ids()
    tries.take_arrival(filled, session.recall, session.arrival, original_print_id=None)
    assert session.arrival not in open_ids()
    assert read_tries(filled, session.recall).is_coming
    with pytest.raises(Refusal, match="filed or left already"):
        tries.take_arrival(filled, session.recall, session.arrival, original_print_id=None)


def test_a_try_taken_off_leaves_nothing_behind(filled: Library, session: SmallSession) -> None:
    try_id = add(filled, session.recall, 231)
    assert tries.delete_try(filled, try_id) == session.recall
    assert read_tries(filled, session.recall).tries == ()
    assert check_library(filled.folder).problems == ()
