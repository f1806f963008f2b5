"""Examinations are rows as measurements are; the measuring process answers them from the files themselves."""

from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from hypothesis import given
from hypothesis import strategies as st
from small_session import SmallSession, attach, bring_in, tone
from sqlalchemy import delete

from app.desk import child_processes
from app.desk.measuring import examinations, queued_work
from app.desk.processes import measuring
from app.library import Library
from app.records import Examination, Print, SourceTrack
from app.signal.figures import (
    BandDifference,
    Identification,
    MatchFigures,
    RankedSource,
    identification_from_json,
    match_figures_from_json,
    to_json,
)

RATE = 48_000


@pytest.fixture(autouse=True)
def _nothing_asked_yet(filled: Library) -> None:
    """What the filling itself asked is set aside."""
    with filled.writing() as session:
        session.execute(delete(Examination))


def plucked(seed: int, *, late: int = 0, gain: float = 0.5) -> bytes:
    """Eight seconds of plucked notes in a rhythm that the seed decides, as a WAV file."""
    rng = np.random.default_rng(seed)
    samples = np.zeros(8 * RATE)
    at = 0.2
    while at < 7.5:
        hz = 55 * 2 ** (rng.integers(0, 24) / 12)
        t = np.arange(int(0.4 * RATE)) / RATE
        note = np.exp(-6 * t) * sum(np.sin(2 * np.pi * hz * n * t) / n for n in range(1, 6))
        start = int(at * RATE)
        room = min(len(note), len(samples) - start)
        samples[start : start + room] += 0.2 * note[:room]
        at += float(rng.uniform(0.12, 0.6))
    delayed = np.concatenate([np.zeros(late), samples])[: len(samples)]
    return wav_of(gain * delayed)


def wav_of(samples: Any) -> bytes:
    import io

    written = io.BytesIO()
    soundfile.write(written, samples, RATE, format="WAV", subtype="PCM_24")
    return written.getvalue()


def file_of(library: Library, noun: type[Any], row_id: int) -> int:
    with library.reading() as session:
        file_id = session.get_one(noun, row_id).file_id
        assert isinstance(file_id, int)
        return file_id


def examined(library: Library) -> Examination:
    """Answer the oldest question, as the measuring process would."""
    waiting = examinations.claim(library)
    assert waiting is not None
    measuring.examine(library, waiting)
    with library.reading() as session:
        return session.get_one(Examination, waiting.id)


def rows(library: Library) -> list[Examination]:
    with library.reading() as session:
        return list(session.query(Examination).order_by(Examination.id))  # type: ignore[arg-type]


def test_a_print_is_identified_among_sources(filled: Library, session: SmallSession) -> None:
    files = [
        file_of(filled, SourceTrack, bring_in(filled, session.project, f"take {seed}", plucked(seed)))
        for seed in (1, 2)
    ]
    arrived = file_of(filled, Print, attach(filled, session.passes[0], plucked(2, late=231, gain=0.3)))
    with filled.writing() as writing:
        examinations.want_identified(writing, arrived, files)
    assert examined(filled).state == "done"
    with filled.reading() as reading:
        found = examinations.read_identified(reading, [arrived])[arrived]
    assert found.answer is not None
    assert found.answer.best == str(files[1])
    assert found.answer.ranking[0].delay_samples == pytest.approx(231, abs=0.5)
    assert found.answer.ranking[1].score < 0.5


def test_a_recalled_print_is_compared_with_the_original(filled: Library, session: SmallSession) -> None:
    source = file_of(filled, SourceTrack, bring_in(filled, session.project, "take", plucked(3)))
    original = file_of(filled, Print, attach(filled, session.passes[0], plucked(3, late=100)))
    recalled = file_of(filled, Print, attach(filled, session.passes[1], plucked(3, late=100, gain=0.25)))
    files = (recalled, original, source)
    with filled.reading() as reading:
        assert examinations.read_matched(reading, [files])[files].state == "none"
    with filled.writing() as writing:
        examinations.want_matched(writing, files)
        examinations.want_matched(writing, files)
    assert len(rows(filled)) == 1, "the same question is not asked twice"
    with filled.reading() as reading:
        assert examinations.read_matched(reading, [files])[files].is_coming
    examined(filled)
    with filled.reading() as reading:
        answer = examinations.read_matched(reading, [files])[files].answer
    assert answer is not None
    assert answer.level_difference_db == pytest.approx(-6.02, abs=0.05)


def test_other_sources_are_another_question(filled: Library, session: SmallSession) -> None:
    arrived = file_of(filled, Print, session.prints[0])
    bass = file_of(filled, SourceTrack, session.bass)
    with filled.writing() as writing:
        examinations.want_identified(writing, arrived, [bass])
        examinations.want_identified(writing, arrived, [bass, arrived])
        examinations.want_identified(writing, arrived, [arrived, bass])
    assert [row.wanted["source_file_ids"] for row in rows(filled)] == [[bass], sorted([bass, arrived])]


def test_a_missing_file_fails_with_a_sentence_and_can_be_asked_again(
    filled: Library, session: SmallSession
) -> None:
    arrived = file_of(filled, Print, attach(filled, session.passes[0], tone(0.1, hz=901)))
    with filled.writing() as writing:
        examinations.want_identified(writing, arrived, [file_of(filled, SourceTrack, session.bass)])
    for path in Path(filled.folder, "files").glob("??/*"):
        path.unlink()
    failed = examined(filled)
    assert failed.state == "failed"
    assert "missing from the library folder" in failed.reason
    with filled.writing() as writing:
        examinations.want_identified(writing, arrived, failed.wanted["source_file_ids"])
    assert [row.state for row in rows(filled)] == ["waiting"]


def test_what_ends_the_process_is_given_up_after_three_tries(filled: Library, session: SmallSession) -> None:
    with filled.writing() as writing:
        examinations.want_identified(writing, file_of(filled, Print, session.prints[0]), [])
    for _ in range(queued_work.TRIES):
        assert examinations.claim(filled) is not None
        assert examinations.claim(filled) is None
        examinations.resume(filled)
    (row,) = rows(filled)
    assert row.state == "failed"
    assert "3 times" in row.reason


def test_a_comparison_of_an_older_algorithm_is_made_anew(
    filled: Library, session: SmallSession, monkeypatch: pytest.MonkeyPatch
) -> None:
    print_file, source = file_of(filled, Print, session.prints[0]), file_of(filled, SourceTrack, session.bass)
    with filled.writing() as writing:
        examinations.want_identified(writing, print_file, [source])
        examinations.want_matched(writing, (print_file, print_file, source))
    while (waiting := examinations.claim(filled)) is not None:
        examinations.finish(filled, waiting.id, {})
    monkeypatch.setattr(examinations, "ALGORITHM_VERSION", examinations.ALGORITHM_VERSION + 1)
    examinations.resume(filled)
    assert {row.kind: row.state for row in rows(filled)} == {"identify": "done", "match": "waiting"}


def test_a_process_whose_server_was_killed_ends(filled: Library) -> None:
    process = child_processes.start("app.desk.processes.measuring", str(filled.folder))
    assert process.stdin is not None
    assert process.stdout is not None
    assert process.stdout.readline(), "it is in the middle of its work"
    assert process.poll() is None
    process.stdin.close()  # as the system does with a server's pipes
    assert process.wait(timeout=60) == 1
    process.stdout.close()


finite = st.floats(allow_nan=False, allow_infinity=False)


@given(
    st.lists(st.tuples(st.text(), finite, st.none() | finite)),
    st.none() | st.text(),
)
def test_an_identification_is_read_back_as_it_was(rows: list[Any], best: str | None) -> None:
    made = Identification(best, tuple(RankedSource(*row) for row in rows), ("A note.",))
    assert identification_from_json(to_json(made)) == made


@given(st.lists(st.tuples(finite, finite)), st.none() | finite, st.sampled_from(["match", "close", None]))
def test_a_comparison_is_read_back_as_it_was(bands: list[Any], level: float | None, verdict: Any) -> None:
    made = MatchFigures(
        verdict, level, level, "same", level, tuple(BandDifference(*band) for band in bands), ("A finding.",)
    )
    assert match_figures_from_json(to_json(made)) == made
