"""The parallel route, from source and returns to a blend that is heard, kept, handed on and exported."""

import io
import re
import shutil
import zipfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
import scipy.signal
import soundfile
from small_session import attach

from app.desk.bundles.rows import read_document
from app.desk.listening import auditions
from app.desk.listening.aligned_copies import CopyOptions, make_aligned_copies
from app.desk.listening.auditions import want_auditions
from app.desk.listening.blends import keep_blend, keep_suggested, kept_blends, lane_gains, read_blend_sheet
from app.desk.listening.listening import gains_of_part, keep_balance, read_listening
from app.desk.measuring import measurements
from app.desk.passes import passes
from app.desk.passes.pass_sheets import read_pass
from app.desk.passes.passes import PassEntry
from app.desk.processes import measuring
from app.desk.projects import projects, sources
from app.desk.projects.projects import ProjectEntry
from app.desk.projects.sources import SourceEntry
from app.library import Library
from app.records import Pass, SourceTrack

RATE = 48_000
SECONDS = 12
LATE = 231
FURTHER = 96


@dataclass(frozen=True)
class Parallel:
    """A DI and its two returns, 231 samples late: the near one as it was sent, the far one 96 samples after it, half
    as loud and upside down."""

    library: Library
    pass_id: int
    near: int
    far: int
    played: np.ndarray


def music() -> np.ndarray:
    noise = np.random.default_rng(11).standard_normal(SECONDS * RATE)
    low = scipy.signal.lfilter([0.02], [1, -0.97], noise)
    at = np.arange(len(low)) / RATE
    return np.round(low * np.exp(-(at % 0.4) * 5) / 8 * 2**23) / 2**23


def late(samples: np.ndarray, by: int) -> np.ndarray:
    return np.concatenate((np.zeros(by), samples))


def audio(samples: np.ndarray) -> bytes:
    made = io.BytesIO()
    soundfile.write(made, samples, RATE, subtype="PCM_24", format="WAV")
    return made.getvalue()


@pytest.fixture(scope="module")
def parallel_folder(
    empty_folder: Path, tmp_path_factory: pytest.TempPathFactory
) -> tuple[Path, tuple[int, int, int]]:
    """The library's folder, to be copied, and the pass with its two prints, measured and made ready to be heard."""
    folder = tmp_path_factory.mktemp("parallel") / "library"
    library = Library(shutil.copytree(empty_folder, folder))
    project = projects.create_project(library, ProjectEntry("Boathouse"))
    source = sources.create_source(
        library, project, SourceEntry("bass DI"), ("bass.wav", io.BytesIO(audio(music())))
    )
    made = passes.log_pass(library, source, PassEntry())
    attach(library, made, audio(late(music(), LATE)), "near.wav", label="near")
    attach(library, made, audio(-0.5 * late(music(), LATE + FURTHER)), "far.wav", label="far")
    near, far = (item.print_id for item in read_pass(library, made).prints)
    while (waiting := measurements.claim(library)) is not None:
        measuring.measure(library, waiting)
    make_ready(library, made)
    library.close()
    return folder, (made, near, far)


@pytest.fixture
def parallel(library: Library, parallel_folder: tuple[Path, tuple[int, int, int]]) -> Parallel:
    library.close()
    shutil.copytree(parallel_folder[0], library.folder, dirs_exist_ok=True)
    return Parallel(library, *parallel_folder[1], music())


def make_ready(library: Library, pass_id: int) -> None:
    want_auditions(library, [pass_id], with_source=True)
    while (waiting := auditions.claim(library)) is not None:
        measuring.build(library, waiting)


def keep(parallel: Parallel) -> None:
    keep_blend(
        parallel.library,
        parallel.pass_id,
        {None: ("-3", "", False), parallel.near: ("", "", False), parallel.far: ("2", "", False)},
    )


def test_several_prints_are_blended_without_the_source_until_it_is_taken_in(parallel: Parallel) -> None:
    blend = read_blend_sheet(parallel.library, parallel.pass_id)
    assert [(row.words, row.is_in) for row in blend.rows] == [
        ("bass DI, dry", False),
        ("near", True),
        ("far", True),
    ]
    assert blend.late is None
    keep(parallel)
    assert all(row.is_in for row in read_blend_sheet(parallel.library, parallel.pass_id).rows)


def test_one_print_is_blended_with_its_source(parallel: Parallel) -> None:
    source = read_pass(parallel.library, parallel.pass_id).source_id
    made = passes.log_pass(parallel.library, source, PassEntry())
    attach(parallel.library, made, audio(0.5 * late(music(), LATE)), "one.wav", label="one")
    while (waiting := measurements.claim(parallel.library)) is not None:
        measuring.measure(parallel.library, waiting)
    make_ready(parallel.library, made)
    blend = read_blend_sheet(parallel.library, made)
    assert [row.is_in for row in blend.rows] == [True, True]
    assert blend.figures is not None
    assert blend.figures.as_it_is.over_louder_db == pytest.approx(20 * np.log10(1.5), abs=0.05)


def test_a_pass_is_heard_as_the_blend_that_is_kept_with_it(parallel: Parallel) -> None:
    """Lined up and righted, the far one doubles the near one, which is as loud as the source."""
    keep_blend(
        parallel.library,
        parallel.pass_id,
        {parallel.near: ("", "", False), parallel.far: ("6.02", f"-{FURTHER}", True)},
    )
    want_auditions(parallel.library, [parallel.pass_id])
    while (waiting := auditions.claim(parallel.library)) is not None:
        measuring.build(parallel.library, waiting)
    _, lane = read_listening(parallel.library, [parallel.pass_id]).lanes
    assert lane.words == "Pass 1, as blended"
    assert [(one.balance_db, one.nudge_s * RATE, one.inverted) for one in lane.prints] == [
        (0.0, 0.0, False),
        (6.02, -FURTHER, True),
    ]
    gains = gains_of_part(parallel.library, [parallel.pass_id], 0.0, SECONDS)
    assert gains[lane.id] - gains["source"] == pytest.approx(-6.02, abs=0.1)
    keep_balance(parallel.library, parallel.far, 3.0)
    assert kept_blends(parallel.library, [parallel.pass_id])[parallel.pass_id][parallel.far].gain_db == 3.0


def test_a_source_that_is_blended_with_its_prints_sounds_behind_them_in_the_pass_s_lane(
    parallel: Parallel,
) -> None:
    keep(parallel)
    _, lane = read_listening(parallel.library, [parallel.pass_id]).lanes
    assert [(one.print_id, one.balance_db) for one in lane.prints] == [
        (parallel.near, 0.0),
        (parallel.far, 2.0),
        (None, -3.0),
    ]
    assert gains_of_part(parallel.library, [parallel.pass_id], 0.0, SECONDS)[lane.id] < -3.0


def test_what_the_sum_with_the_source_does_is_told_in_words(parallel: Parallel) -> None:
    """Notches of two paths 96 and 231 samples apart at 48 kHz: k/τ upside down, (2k+1)/2τ the same way up."""
    keep(parallel)
    blend = read_blend_sheet(parallel.library, parallel.pass_id)
    dry_near, dry_far, _, low_end = blend.said
    assert dry_near == "“bass DI, dry” and “near” arrive together, the same way up."
    assert dry_far.startswith(
        "“far” arrives 96 samples (2.00 ms) after “bass DI, dry”, upside down: notches at 500 Hz, 1 kHz, 1.5 kHz"
    )
    assert "more than “near” alone" in low_end
    assert blend.late is not None
    assert blend.late.samples == LATE
    assert blend.late_said[0].startswith(
        "“near” arrives 231 samples (4.81 ms) after “bass DI, dry”: notches at 104 Hz, 312 Hz, 519 Hz and on, at most"
    )


def test_a_sum_that_cancels_says_that_the_low_end_thins_out(parallel: Parallel) -> None:
    keep_blend(parallel.library, parallel.pass_id, {None: ("-1", "", True), parallel.near: ("", "", False)})
    together, low_end = read_blend_sheet(parallel.library, parallel.pass_id).said
    assert "upside down to one another: what they share cancels" in together
    thinner_db = -20 * np.log10(1 - 10 ** (-1 / 20))
    assert low_end.startswith(f"Below 200 Hz the sum has {thinner_db:.1f} dB less than “near” alone")


def test_the_blend_lined_up_is_heard_as_loud_as_the_rest(parallel: Parallel) -> None:
    keep(parallel)
    gains = lane_gains(parallel.library, parallel.pass_id)
    assert set(gains) == {
        "blend",
        "suggested",
        "late",
        "alone-source",
        f"alone-{parallel.near}",
        f"alone-{parallel.far}",
    }
    whole = 10 ** (-3 / 20) + 1 + 0.5 * 10 ** (2 / 20)
    assert gains["alone-source"] - gains["suggested"] == pytest.approx(20 * np.log10(whole), abs=0.1)


def test_a_blend_with_the_source_is_kept_said_handed_on_and_its_copies_null_against_it(
    parallel: Parallel,
) -> None:
    keep(parallel)
    keep_suggested(parallel.library, parallel.pass_id)
    assert read_pass(parallel.library, parallel.pass_id).blend == (
        "bass DI, dry: −3.0 dB",
        "near: as recorded",
        "far: +2.0 dB, nudge 96 samples earlier, flip its polarity",
        "all prints 231 samples (4.81 ms) earlier than they were recorded, to meet the source",
    )
    with parallel.library.reading() as session:
        project = session.get_one(Pass, parallel.pass_id)
        document = read_document(session, session.get_one(SourceTrack, project.source_id).project_id)
    (handed_on,) = document.passes
    assert handed_on.blend_source is not None
    assert handed_on.blend_source.gain_db == -3
    blends = kept_blends(parallel.library, [parallel.pass_id])
    made = make_aligned_copies(parallel.library, [parallel.pass_id], CopyOptions(blends=blends))
    with zipfile.ZipFile(io.BytesIO(b"".join(made.chunks))) as archive:
        copies = [
            soundfile.read(io.BytesIO(archive.read(f"Boathouse bass DI p1 {word}.wav")))[0]
            for word in ("dry", "near", "far")
        ]
        report = archive.read("what was done.txt").decode()
    faders = [float(db) for db in re.findall(r"fader at (\S+) dB", report)]
    assert faders == [-3, 0, 2]
    summed = sum(10 ** (db / 20) * copy for db, copy in zip(faders, copies, strict=True))
    expected = (10 ** (-3 / 20) + 1 + 0.5 * 10 ** (2 / 20)) * parallel.played
    inside = slice(0, -FURTHER)
    null_db = 20 * np.log10(np.abs(summed - expected)[inside].max() / np.abs(expected).max())
    assert null_db < -100
