"""Measurements are rows: they survive whatever ends the measuring process."""

import json
import subprocess
import time
from dataclasses import replace
from typing import Any

import pytest
from small_session import SmallSession, attach, figures, measured, tone

from app.desk.measuring import findings, measurements, queued_work
from app.desk.passes.pass_sheets import read_pass
from app.desk.prints import prints
from app.desk.processes import measuring
from app.library import Library
from app.records import Measurement
from app.signal.figures import ALGORITHM_VERSION, Hum


def rows(library: Library) -> list[Measurement]:
    with library.reading() as reading:
        return list(reading.query(Measurement).order_by(Measurement.id))  # type: ignore[arg-type]


def waiting_of(library: Library) -> Measurement:
    (row,) = [row for row in rows(library) if row.state in ("waiting", "running")]
    return row


def test_the_oldest_that_waits_is_taken_first(filled: Library, session: SmallSession) -> None:
    attach(filled, session.passes[0], tone(0.1, hz=901))
    first, second = measurements.claim(filled), measurements.claim(filled)
    assert first is not None
    assert second is not None
    assert first.id < second.id
    assert first.state == "running"
    assert first.tries == 1
    assert measurements.claim(filled) is None


def test_what_was_running_when_the_process_ended_is_measured_again(filled: Library) -> None:
    measurements.claim(filled)
    assert measurements.claim(filled) is None
    measurements.resume(filled)
    again = measurements.claim(filled)
    assert again is not None
    assert again.tries == 2


def test_orderly_stops_are_nobodys_fault(filled: Library) -> None:
    for _ in range(2 * queued_work.TRIES):
        running = measurements.claim(filled)
        assert running is not None
        assert running.tries == 1
        queued_work.let_go(filled)
        measurements.resume(filled)
        (row,) = [row for row in rows(filled) if row.id == running.id]
        assert (row.state, row.tries) == ("waiting", 0)


def test_an_orderly_stop_in_the_middle_of_a_measurement_leaves_it_waiting(
    filled: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    running = measurements.claim(filled)
    assert running is not None
    monkeypatch.setattr(measurements.child_processes, "start", begin_sleeping)
    process = measurements.MeasuringProcess(filled)
    process.start()
    process.stop()
    (row,) = [row for row in rows(filled) if row.id == running.id]
    assert (row.state, row.tries) == ("waiting", 0)


def begin_sleeping(*_: Any, **__: Any) -> subprocess.Popen[bytes]:
    return subprocess.Popen(["sleep", "60"], stdin=subprocess.PIPE, stdout=subprocess.PIPE)


def test_a_measuring_process_that_meets_damage_says_so_and_the_server_takes_no_more_writes(
    filled: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    said = b'echo \'{"damage": "database disk image is malformed"}\''

    def begin(*_: Any, **__: Any) -> subprocess.Popen[bytes]:
        return subprocess.Popen(["sh", "-c", said], stdin=subprocess.PIPE, stdout=subprocess.PIPE)

    monkeypatch.setattr(measurements.child_processes, "start", begin)
    process = measurements.MeasuringProcess(filled)
    process.start()
    for _ in range(100):
        if filled.damage:
            break
        time.sleep(0.02)
    process.stop()
    assert "malformed" in filled.trouble


def test_a_file_that_ends_the_process_three_times_is_left_alone_with_a_sentence(
    filled: Library, session: SmallSession
) -> None:
    for _ in range(queued_work.TRIES):
        assert measurements.claim(filled) is not None
        measurements.resume(filled)
    assert measurements.claim(filled) is None
    (item,) = read_pass(filled, session.passes[2]).prints
    assert item.measured.state == "failed"
    assert "3 times" in item.measured.reason
    prints.measure_print_again(filled, item.print_id)
    assert waiting_of(filled).tries == 0


def test_resuming_twice_asks_for_nothing_twice(filled: Library) -> None:
    before = len(rows(filled))
    measurements.resume(filled)
    measurements.resume(filled)
    assert len(rows(filled)) == before


def test_a_better_algorithm_measures_everything_again_and_keeps_the_old_figures(
    filled: Library, session: SmallSession, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = rows(filled)
    monkeypatch.setattr(measurements, "ALGORITHM_VERSION", ALGORITHM_VERSION + 1)
    assert read_pass(filled, session.passes[0]).prints[0].measured == measurements.NOT_ASKED
    measurements.resume(filled)
    measurements.resume(filled)
    after = rows(filled)
    assert len(after) == len(before) * 2
    assert {row.id for row in before} < {row.id for row in after}
    assert all(
        item.measured.is_coming for number in session.passes for item in read_pass(filled, number).prints
    )


def test_figures_come_back_as_they_were_written(filled: Library, session: SmallSession) -> None:
    measured(filled, figures(lufs=None, delay_samples=None))
    (item,) = read_pass(filled, session.passes[2]).prints
    assert item.measured.figures == figures(lufs=None, delay_samples=None)


def test_a_number_that_is_not_finite_is_never_written(filled: Library) -> None:
    measured(filled, figures(lufs=float("-inf"), delay_samples=float("nan"), ends_early_s=float("inf")))
    with filled.reading() as reading:
        kept = reading.connection().exec_driver_sql("SELECT figures FROM measurement").fetchall()

    def refuse(name: str) -> None:
        raise AssertionError(f"{name} was written")

    for (document,) in kept:
        json.loads(document, parse_constant=refuse)


def test_an_unreadable_file_fails_with_its_own_sentence(
    filled: Library, session: SmallSession, monkeypatch: pytest.MonkeyPatch
) -> None:
    from app.signal.audio import reading

    def unreadable(*_: Any, **__: Any) -> None:
        raise reading.UnreadableAudio("This file promises more than it holds.")

    assert outcome_of(filled, monkeypatch, unreadable) == ("failed", "This file promises more than it holds.")


def test_a_missing_file_fails_with_a_sentence(filled: Library, monkeypatch: pytest.MonkeyPatch) -> None:
    def missing(*_: Any, **__: Any) -> None:
        raise FileNotFoundError

    state, reason = outcome_of(filled, monkeypatch, missing)
    assert state == "failed"
    assert "missing from the library folder" in reason


def test_a_fault_of_our_own_fails_with_a_sentence_and_the_next_is_measured(
    filled: Library, session: SmallSession, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fault(*_: Any, **__: Any) -> None:
        raise ZeroDivisionError

    state, reason = outcome_of(filled, monkeypatch, fault)
    assert state == "failed"
    assert "a fault of its own" in reason
    attach(filled, session.passes[0], tone(0.1, hz=902))
    assert outcome_of(filled, monkeypatch, lambda *_, **__: figures()) == ("done", "")


def outcome_of(library: Library, monkeypatch: pytest.MonkeyPatch, measure: Any) -> tuple[str, str]:
    from app.signal import measure as module

    monkeypatch.setattr(module, "measure_print", measure)
    claimed = measurements.claim(library)
    assert claimed is not None
    measuring.measure(library, claimed)
    (row,) = [row for row in rows(library) if row.id == claimed.id]
    return row.state, row.reason


@pytest.mark.parametrize(
    ("made", "severity", "sentence"),
    [
        (figures(clipped=(63.4,)), "fault", "clips at 1:03"),
        (figures(clipped=(63.4, 70.0, 71.0)), "fault", "clips in 3 places, first at 1:03"),
        (figures(clipped=(63.4,)), "fault", "a gap of 64 samples at 0:00"),
        (figures(clipped=(63.4,)), "note", "50 Hz mains hum at −61 dBFS"),
        (figures(ends_early_s=4.2), "fault", "ends 4.2 s before the source"),
        (figures(), "note", "upside down against the source (polarity inverted)"),
    ],
)
def test_what_is_notable_is_said_in_words(made: Any, severity: str, sentence: str) -> None:
    assert (severity, sentence) in {(found.severity, found.sentence) for found in findings.find(made)}


@pytest.mark.parametrize(("resting", "said"), [(0.002, 0), (-0.03, 0), (0.02, 1), (None, 1)])
def test_an_offset_that_rests_with_the_notes_is_none(resting: float | None, said: int) -> None:
    made = figures()
    level = replace(made.level, dc_offset=0.03, resting_offset=resting)
    found = findings.find(replace(made, level=level))
    assert [one.kind for one in found].count("offset") == said


@pytest.mark.parametrize(("dc_offset", "said"), [(0.005, 0), (-0.011, 0), (0.012, 1), (-0.02, 1)])
def test_an_offset_is_said_once_it_costs_a_tenth_of_a_decibel(dc_offset: float, said: int) -> None:
    made = figures()
    found = findings.find(replace(made, level=replace(made.level, dc_offset=dc_offset)))
    assert [one.kind for one in found].count("offset") == said


def test_a_hum_is_called_by_the_mains_it_is_of() -> None:
    made = figures()
    found = findings.find(replace(made, faults=replace(made.faults, hum=Hum(59.974333, -63.6, 1.0))))
    assert "60 Hz mains hum at −64 dBFS" in [one.sentence for one in found]


def test_faults_are_said_before_notes() -> None:
    severities = [finding.severity for finding in findings.find(figures(clipped=(1.0,), ends_early_s=2.0))]
    assert severities == sorted(severities)
    assert {"fault", "note"} == set(severities)


def test_a_sound_print_has_nothing_to_say() -> None:
    made = figures(ends_early_s=0.0)
    assert made.alignment is not None
    assert findings.find(replace(made, alignment=replace(made.alignment, polarity="same"))) == ()
