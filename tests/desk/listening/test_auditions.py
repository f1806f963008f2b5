"""Prints are made ready for listening once, from rows that survive whatever ends the process that makes them."""

import io
import json
from collections.abc import Callable
from dataclasses import asdict, dataclass, replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest
import soundfile
from small_session import attach, figures, tone, wav
from sqlalchemy import select
from sqlmodel import col

from app.desk.listening import auditions
from app.desk.listening.auditions import Lane, read_auditions, segment_path, want_auditions
from app.desk.listening.blending import nudge_of
from app.desk.listening.loudness_of_part import read_hop_powers
from app.desk.listening.measured_together import read_measured_together
from app.desk.measuring import measurements, queued_work
from app.desk.passes import passes
from app.desk.passes.leads import Lead
from app.desk.passes.pass_sheets import read_pass
from app.desk.passes.passes import PassEntry
from app.desk.processes import measuring
from app.desk.projects import projects, sources
from app.desk.projects.projects import ProjectEntry
from app.desk.projects.sources import SourceEntry
from app.desk.refusals import NotThere, Refusal
from app.library import Library
from app.records import Audition, Measurement, StoredFile
from app.records.base import now
from app.signal.figures import AlignmentFigures, FileFigures, PrintFigures, to_json
from app.signal.listening.blend_figures import BlendSetting, sum_of

RATE = 48_000
SECONDS = 12


@dataclass(frozen=True)
class Heard:
    """A source of 12 s and its passes: one with two prints, one with a stereo print at another rate, one without."""

    library: Library
    source: int
    passes: tuple[int, int, int]

    @property
    def two_prints(self) -> int:
        return self.passes[0]


def audio(samples: np.ndarray, rate: int = RATE) -> bytes:
    made = io.BytesIO()
    soundfile.write(made, samples, rate, subtype="PCM_24", format="WAV")
    return made.getvalue()


def played(seconds: float = SECONDS, rate: int = RATE) -> np.ndarray:
    at = np.arange(round(seconds * rate)) / rate
    return 0.2 * np.sin(2 * np.pi * 220 * at) * np.exp(-(at % 0.5) * 4)


def measure_all(library: Library, delay_samples: float = 100.0, **said: object) -> None:
    """Finish every waiting measurement with the file's true format and a given alignment."""
    while (waiting := measurements.claim(library)) is not None:
        with library.reading() as session:
            path = library.files.path(session.get_one(StoredFile, waiting.file_id).sha256)
        info = soundfile.info(path)
        file = FileFigures(info.samplerate, info.channels, info.frames, info.duration, "WAV", info.subtype)
        aligned = AlignmentFigures(delay_samples, 0.0, "inverted", 0.97, 0.0, True)
        made = replace(figures(), file=file, alignment=aligned if waiting.source_file_id else None)
        measurements.finish(library, waiting.id, to_json(replace(made, **said)))  # type: ignore[arg-type]


def build_all(library: Library) -> int:
    built = 0
    while (waiting := auditions.claim(library)) is not None:
        measuring.build(library, waiting)
        built += 1
    return built


@pytest.fixture
def heard(library: Library) -> Heard:
    project = projects.create_project(library, ProjectEntry("Boathouse"))
    source = sources.create_source(
        library, project, SourceEntry("bass DI"), ("bass.wav", io.BytesIO(audio(played())))
    )
    made = tuple(passes.log_pass(library, source, PassEntry(title)) for title in ("two", "other", "none"))
    late = np.concatenate((np.zeros(100), played()))
    attach(library, made[0], audio(0.5 * late), "near.wav", label="near")
    attach(library, made[0], audio(-0.25 * late), "room.wav", label="room")
    attach(library, made[1], audio(np.column_stack((played(8, 44_100),) * 2), 44_100), "wide.wav")
    return Heard(library, source, made)  # type: ignore[arg-type]


def lanes(heard: Heard) -> list[Lane]:
    return read_auditions(heard.library, heard.passes)


def ready(heard: Heard) -> list[Lane]:
    measure_all(heard.library)
    want_auditions(heard.library, heard.passes)
    build_all(heard.library)
    return lanes(heard)


def test_lanes_are_the_source_and_then_the_passes_by_number(heard: Heard) -> None:
    found = lanes(heard)
    assert [(lane.pass_id, lane.number) for lane in found] == [
        (None, None),
        *((pass_id, number) for number, pass_id in enumerate(heard.passes, 1)),
    ]


def test_a_print_that_is_not_measured_yet_is_coming_and_nothing_is_asked_for(heard: Heard) -> None:
    assert want_auditions(heard.library, heard.passes) == 0
    assert [lane.state for lane in lanes(heard)] == ["coming", "coming", "coming", "failed"]
    assert "still being measured" in lanes(heard)[1].prints[0].reason


def test_whatever_is_missing_is_asked_for_once(heard: Heard) -> None:
    measure_all(heard.library)
    assert want_auditions(heard.library, heard.passes) == 5  # the source, three prints, two prints together
    assert want_auditions(heard.library, heard.passes) == 0
    assert build_all(heard.library) == 5
    assert want_auditions(heard.library, heard.passes) == 0


def test_a_lane_says_what_there_is_to_hear(heard: Heard) -> None:
    source, two, other, none = ready(heard)
    assert [lane.state for lane in (source, two, other, none)] == ["done", "done", "done", "failed"]
    assert none.reason == "Nothing is attached yet."
    assert {lane.sample_rate for lane in (source, two, other)} == {RATE}
    assert {lane.duration_s for lane in (source, two, other)} == {SECONDS}
    assert [item.label for item in two.heard] == ["near", "room"]
    assert [item.segments for item in two.heard] == [2, 2]
    assert two.heard[0].delay_s == pytest.approx(100 / RATE)
    assert two.heard[0].polarity == "inverted"
    assert [lane.heard[0].channels for lane in (source, two, other)] == [1, 1, 2]


def test_prints_are_laid_on_the_sources_time_line_to_the_sample(heard: Heard) -> None:
    source, two, *_ = ready(heard)
    (itself,) = source.heard

    def samples(key: str | None) -> np.ndarray:
        assert key is not None
        parts = [soundfile.read(segment_path(heard.library, key, number))[0] for number in range(2)]
        return np.concatenate(parts)

    reference = samples(itself.key)
    np.testing.assert_array_equal(reference, soundfile.read(io.BytesIO(audio(played())))[0])
    np.testing.assert_allclose(samples(two.heard[0].key), 0.5 * reference, atol=2**-22)
    np.testing.assert_allclose(samples(two.heard[1].key), -0.25 * reference, atol=2**-22)


def test_a_pass_names_the_loudness_of_its_prints_together(heard: Heard) -> None:
    _, two, other, none = ready(heard)
    assert two.loudness_key not in (None, two.heard[0].key)
    assert other.loudness_key == other.heard[0].key
    assert none.loudness_key is None
    powers = read_hop_powers(heard.library, two.loudness_key or "")
    assert len(powers.peaks) == 2
    assert len(powers.powers) == 3
    assert len(powers.powers[0]) == 10 * SECONDS
    own, cross, room = (sum(row) for row in powers.powers)
    assert cross / own == pytest.approx(-0.5, rel=1e-3)
    assert room / own == pytest.approx(0.25, rel=1e-3)


def test_a_delay_that_is_whole_as_far_as_it_is_known_copies_samples(heard: Heard) -> None:
    measure_all(heard.library, delay_samples=100.004)
    want_auditions(heard.library, heard.passes)
    build_all(heard.library)
    item = lanes(heard)[1].heard[0]
    assert item.figures is not None
    assert item.figures.is_exact
    assert item.figures.delay_samples == 100


@pytest.mark.parametrize(
    ("drift_ppm", "expected"), [(0.5, (100.14, 0.0)), (25.0, (100.0, 25.0)), (0.0, (100.0, 0.0))]
)
def test_a_drift_counts_when_it_would_be_a_sample_by_the_end(
    drift_ppm: float, expected: tuple[float, float]
) -> None:
    lead = Lead(100.0 / RATE, 100.0, drift_ppm)
    delay, drift = auditions._place(lead, RATE, SECONDS)
    assert (delay, drift) == (pytest.approx(expected[0], abs=0.005), expected[1])


def test_a_print_that_lies_nowhere_known_begins_with_the_source_and_says_so(heard: Heard) -> None:
    measure_all(heard.library, alignment=AlignmentFigures(None, None, "unclear", 0.8, None, False))
    want_auditions(heard.library, heard.passes)
    build_all(heard.library)
    item = lanes(heard)[1].heard[0]
    assert item.delay_s is None
    assert "is not known" in item.astray


def test_without_a_source_file_prints_are_heard_from_their_own_beginning(library: Library) -> None:
    project = projects.create_project(library, ProjectEntry("Boathouse", sample_rate="44100"))
    source = sources.create_source(library, project, SourceEntry("planned"))
    made = passes.log_pass(library, source, PassEntry())
    attach(library, made, tone(1.5), "a.wav")
    measure_all(library)
    want_auditions(library, [made])
    build_all(library)
    nothing, lane = read_auditions(library, [made])
    assert nothing.reason == "The source has no audio yet."
    assert (lane.sample_rate, lane.duration_s) == (44_100, 1.5)
    assert "no source to line it up with" in lane.heard[0].astray


def damage_print(heard: Heard, number: int, harm: Callable[[Path], object]) -> None:
    sheet = read_pass(heard.library, heard.two_prints)
    harm(heard.library.files.path(sheet.prints[number].sha256))


@pytest.mark.parametrize(
    ("harm", "sentence"),
    [(Path.unlink, "missing from the library"), (lambda path: path.write_bytes(b"no audio"), "not audio")],
)
def test_a_print_that_cannot_be_read_goes_out_with_a_reason_and_the_others_stay(
    heard: Heard, harm: Callable[[Path], object], sentence: str
) -> None:
    measure_all(heard.library)
    damage_print(heard, 1, harm)
    for _ in range(2):  # as a page that waits asks again
        want_auditions(heard.library, heard.passes)
        build_all(heard.library)
    _, two, other, _ = lanes(heard)
    assert [item.state for item in two.prints] == ["done", "failed"]
    assert sentence in two.reason
    assert two.state == "done"
    assert two.loudness_key == two.heard[0].key
    assert other.state == "done"


def test_a_print_whose_measuring_failed_goes_out_with_that_reason(heard: Heard) -> None:
    waiting = measurements.claim(heard.library)
    assert waiting is not None
    measure_all(heard.library)
    with heard.library.reading() as session:
        row = session.query(Measurement).order_by(col(Measurement.id)).all()[1]
    measurements.finish(heard.library, waiting.id, to_json(_source_figures()))
    measurements.finish(heard.library, row.id, None, "“near.wav” holds text.")
    want_auditions(heard.library, heard.passes)
    build_all(heard.library)
    two = lanes(heard)[1]
    assert [item.state for item in two.prints] == ["failed", "done"]
    assert two.reason == "“near.wav” holds text."


def _source_figures() -> PrintFigures:
    return replace(
        figures(aligned=False), file=FileFigures(RATE, 1, RATE * SECONDS, SECONDS, "WAV", "PCM_24")
    )


def test_what_failed_gets_another_try_when_asked(heard: Heard) -> None:
    measure_all(heard.library)
    saved: list[tuple[Path, bytes]] = []

    def lose(path: Path) -> None:
        saved.append((path, path.read_bytes()))
        path.unlink()

    damage_print(heard, 1, lose)
    want_auditions(heard.library, heard.passes)
    build_all(heard.library)
    saved[0][0].write_bytes(saved[0][1])
    auditions.make_again(heard.library, heard.passes)
    for _ in range(2):
        build_all(heard.library)
        want_auditions(heard.library, heard.passes)
    assert lanes(heard)[1].state == "done"
    assert len(lanes(heard)[1].heard) == 2


def test_files_that_were_thrown_away_or_damaged_are_made_again(heard: Heard) -> None:
    _, two, *_ = ready(heard)
    key = two.heard[0].key or ""
    segment_path(heard.library, key, 1).write_bytes(b"cut")
    _, two, other, _ = lanes(heard)
    assert two.prints[0].state == "absent"
    assert two.state == "coming"
    assert other.state == "done"
    assert want_auditions(heard.library, heard.passes) == 1
    assert build_all(heard.library) == 1
    assert lanes(heard)[1].state == "done"


def test_what_was_running_when_the_process_ended_is_made_again_and_the_third_end_is_the_last(
    heard: Heard,
) -> None:
    measure_all(heard.library)
    want_auditions(heard.library, heard.passes)
    for tries in range(1, queued_work.TRIES + 1):
        claimed = auditions.claim(heard.library)
        assert claimed is not None
        assert claimed.tries == tries
        auditions.resume(heard.library)
    assert lanes(heard)[0].state == "failed"
    assert "3 times" in lanes(heard)[0].reason


def test_resuming_removes_what_no_row_knows_and_nothing_else(heard: Heard) -> None:
    _, two, *_ = ready(heard)
    left_over = heard.library.auditions / "unfinished-abc"
    left_over.mkdir()
    (left_over / "000.flac").write_bytes(b"half")
    auditions.resume(heard.library)
    assert not left_over.exists()
    assert lanes(heard)[1] == two


def test_the_ones_used_longest_ago_are_thrown_away_and_those_in_use_stay(heard: Heard) -> None:
    ready(heard)
    with heard.library.writing() as session:
        rows = session.query(Audition).order_by(col(Audition.id)).all()
        for row, age in zip(rows, (5, 2, 9, 0, 0), strict=True):
            row.used_at = now() - timedelta(hours=age)
    sizes = [row.bytes for row in rows]
    assert auditions.throw_away_old(heard.library, sum(sizes)) == 0
    assert auditions.throw_away_old(heard.library, sum(sizes) - sizes[2] - 1) == 2
    kept = {folder.name for folder in heard.library.auditions.iterdir()}
    assert kept == {rows[1].key, rows[3].key, rows[4].key}
    assert auditions.throw_away_old(heard.library, 0) == 1
    assert want_auditions(heard.library, heard.passes) == 3
    build_all(heard.library)
    assert [lane.state for lane in lanes(heard)] == ["done", "done", "done", "failed"]


def test_asking_notes_the_use(heard: Heard) -> None:
    other = ready(heard)[2]
    with heard.library.writing() as session:
        for row in session.query(Audition).all():
            row.used_at = now() - timedelta(days=3)
    want_auditions(heard.library, [heard.two_prints])
    with heard.library.reading() as session:
        unused = [row.key for row in session.query(Audition) if now() - row.used_at > timedelta(hours=1)]
    assert unused == [other.heard[0].key]


@pytest.mark.parametrize("key", ["../../dialback.db", "", "0" * 32, "0" * 31 + "/"])
def test_only_segments_that_are_there_are_served(heard: Heard, key: str) -> None:
    with pytest.raises(NotThere):
        segment_path(heard.library, key, 0)


def test_a_stretch_beyond_the_end_is_not_there(heard: Heard) -> None:
    key = ready(heard)[0].heard[0].key or ""
    assert segment_path(heard.library, key, 1).is_file()
    for number in (2, -1):
        with pytest.raises(NotThere):
            segment_path(heard.library, key, number)


def test_passes_of_different_sources_and_unknown_ones_are_refused(heard: Heard) -> None:
    project = projects.create_project(heard.library, ProjectEntry("Other"))
    other = sources.create_source(heard.library, project, SourceEntry("organ"))
    foreign = passes.log_pass(heard.library, other, PassEntry())
    with pytest.raises(Refusal, match="different sources"):
        read_auditions(heard.library, [heard.two_prints, foreign])
    with pytest.raises(NotThere):
        read_auditions(heard.library, [9999])


def test_a_full_disk_is_told_and_leaves_nothing(heard: Heard, monkeypatch: pytest.MonkeyPatch) -> None:
    from app.signal.listening import audition

    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    measure_all(heard.library)
    want_auditions(heard.library, heard.passes)
    monkeypatch.setattr(audition, "_write_segment", full)
    build_all(heard.library)
    assert list(heard.library.auditions.iterdir()) == []
    assert "No space left on device" in lanes(heard)[0].reason


def test_loudness_data_holds_no_number_that_json_does_not_know(heard: Heard) -> None:
    _, two, *_ = ready(heard)

    def refuse(name: str) -> None:
        raise AssertionError(f"{name} was written")

    path = heard.library.auditions / (two.loudness_key or "") / "loudness.json"
    json.loads(path.read_text(), parse_constant=refuse)


def test_a_print_of_ten_channels_is_heard_as_their_mean_and_says_so(heard: Heard) -> None:
    attach(heard.library, heard.passes[2], wav(b"\x00\x10" * 10 * RATE, channels=10), "many.wav")
    item = ready(heard)[3].heard[0]
    assert item.channels == 1
    assert "10 channels" in item.reason


def test_what_the_prints_of_a_pass_do_together_is_ready_with_them(heard: Heard) -> None:
    _, two, other, _ = ready(heard)
    measured = read_measured_together(heard.library, two.loudness_key or "")
    (alike,) = sum_of(measured.spectra, [BlendSetting(), BlendSetting()]).correlations
    assert alike == pytest.approx(-1, abs=0.01)
    with pytest.raises(NotThere):
        read_measured_together(heard.library, other.loudness_key or "")


def test_with_the_source_it_sounds_first_in_each_passs_lane_and_is_measured_with_the_prints(
    heard: Heard,
) -> None:
    measure_all(heard.library)
    assert (
        want_auditions(heard.library, heard.passes, with_source=True) == 6
    )  # two togethers, the other's too
    build_all(heard.library)
    _, two, other, none = read_auditions(heard.library, heard.passes, with_source=True)
    assert [item.print_id is None for item in two.heard] == [True, False, False]
    assert [item.print_id is None for item in other.heard] == [True, False]
    assert len(read_measured_together(heard.library, other.loudness_key or "").spectra.powers) == 2
    assert [item.print_id for item in none.prints] == [None]


def test_each_print_is_righted_by_its_own_polarity_and_an_unclear_one_by_the_others(heard: Heard) -> None:
    """The room is upside down to the near print; the one's polarity is known, the other's is unclear alone."""
    unclear_alone = AlignmentFigures(100.0, 0.0, "unclear", 0.97, 0.0, True)
    _, room = read_pass(heard.library, heard.two_prints).prints
    measure_all(heard.library)
    with heard.library.writing() as session:
        row = session.scalars(
            select(Measurement).where(
                col(Measurement.file_id) == room.file_id, col(Measurement.source_file_id).is_not(None)
            )
        ).one()
        row.figures = {**(row.figures or {}), "alignment": asdict(unclear_alone)}
    want_auditions(heard.library, heard.passes)
    assert [item.polarity for item in lanes(heard)[1].prints] == ["inverted", "unclear"]
    build_all(heard.library)
    assert [item.polarity for item in lanes(heard)[1].prints] == ["inverted", "same"]


def test_prints_that_are_all_unclear_are_heard_as_they_are_copied(heard: Heard) -> None:
    """The room is upside down to the near print, and nothing says which of them is the right way up: the copies turn the
    second over to agree with the first, and so does the player, with the source beside them or without."""
    measure_all(heard.library, alignment=AlignmentFigures(100.0, 0.0, "unclear", 0.97, 0.0, True))
    for with_source in (False, True):
        want_auditions(heard.library, heard.passes, with_source=with_source)
        build_all(heard.library)
        lane = read_auditions(heard.library, heard.passes, with_source=with_source)[1]
        told = [(item.polarity, item.is_turned) for item in lane.prints if item.print_id is not None]
        assert told == [("unclear", False), ("unclear", True)]


def test_a_nudge_is_told_in_samples_milliseconds_and_air() -> None:
    """343.2 m/s at 20 °C (ISO 9613-1)."""
    nudge = nudge_of(-255, 48_000)
    assert nudge.ms == pytest.approx(-5.3125)
    assert nudge.cm == pytest.approx(-182.3, abs=0.1)
