"""Reference signals: made, printed through a pass and a recall of it, measured, compared."""

import io
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray
from small_session import SmallSession, tone
from sqlalchemy import delete

from app.desk.files.stored_files import path_of
from app.desk.measuring import examinations
from app.desk.processes import measuring
from app.desk.recall import references, runs
from app.desk.recall.reference_drawings import draw_references
from app.desk.recall.references import ReferenceEntry, read_references
from app.desk.refusals import NotThere, Refusal
from app.library import Library
from app.records import Examination
from app.signal.reference.make import write_reference_signal
from app.signal.reference.plan import plan_reference

Samples = NDArray[np.float64]


@pytest.fixture(scope="module")
def signal_wav(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Made once; its plan is the usual one."""

    path = tmp_path_factory.mktemp("reference") / "signal.wav"
    write_reference_signal(path, plan_reference(48_000))
    return path


def came_back(signal_wav: Path, chain: Callable[[Samples], Samples]) -> io.BytesIO:
    sent, rate = soundfile.read(signal_wav)
    late = np.concatenate([np.zeros(480), chain(sent)]) + 1e-5 * np.random.default_rng(3).standard_normal(
        len(sent) + 480
    )
    written = io.BytesIO()
    soundfile.write(written, late, rate, format="WAV", subtype="PCM_24")
    written.seek(0)
    return written


def measure_all(library: Library) -> None:
    while (waiting := examinations.claim(library)) is not None:
        measuring.examine(library, waiting)


def test_what_came_back_is_measured_and_a_recall_compared_with_it(
    filled: Library, session: SmallSession, signal_wav: Path
) -> None:
    with filled.writing() as writing:
        writing.execute(delete(Examination))
    first, signal = session.passes[0], session.reference
    references.delete_reference_print(filled, session.reference_print)
    for gain, recall_id in ((0.5, None), (0.5 * 10 ** (-4 / 20), session.recall)):
        back = came_back(signal_wav, lambda sent, gain=gain: gain * sent)  # type: ignore[misc]
        references.attach_reference(filled, first, signal, "back.wav", back, recall_id=recall_id)
    assert read_references(filled, first, session.recall).is_coming
    measure_all(filled)

    sheet = read_references(filled, first, session.recall)
    (original,) = sheet.originals
    figures = original.examined.answer
    assert figures is not None
    assert figures.delay_samples == pytest.approx(480, abs=0.05)
    middle = [band.gain_db for band in figures.response if 100 < band.mid_hz < 5000]
    assert middle == pytest.approx([20 * np.log10(0.5)] * len(middle), abs=0.05)

    compared = sheet.compared
    assert compared is not None
    match = compared[2]
    assert match.verdict == "different"
    assert match.level_db == pytest.approx(-4, abs=0.1)
    assert any("4.0 dB quieter" in sentence for sentence in match.findings)
    drawn = draw_references(sheet, width=720)
    assert drawn is not None
    assert drawn.tone is not None
    assert "all within the tolerance" in drawn.tone.finding
    fine = [point.gain_db for point in figures.fine if 100 < point.hz < 5000]
    assert fine == pytest.approx([20 * np.log10(0.5)] * len(fine), abs=0.1)
    assert "original: highest" in drawn.response.finding
    assert "recall: highest" in drawn.response.finding

    alone = read_references(filled, first)
    assert (len(alone.originals), alone.recalled, alone.compared) == (1, (), None)


def test_a_file_that_is_no_reference_signal_is_said_to_be_none(
    filled: Library, session: SmallSession
) -> None:
    measure_all(filled)
    (one,) = read_references(filled, session.passes[0]).originals
    assert one.examined.answer is not None
    assert one.examined.answer.response == ()
    assert "not found" in one.examined.answer.absent[0].reason
    assert draw_references(read_references(filled, session.passes[0]), width=720) is None


def test_a_signal_is_made_with_bars_of_a_source(filled: Library, session: SmallSession) -> None:
    entry = ReferenceEntry("−20 dB", str(session.bass), "0", "0.4")
    signal = references.read_signal(filled, references.make_reference(filled, session.project, entry))
    samples, rate = soundfile.read(path_of(filled, signal.sha256))
    assert rate == 48_000
    assert len(samples) == round(signal.plan.length_s * rate)
    before = samples[: round(signal.plan.tail.start_s * rate)]
    assert 20 * np.log10(np.abs(before).max()) == pytest.approx(-20, abs=0.05)
    assert signal.plan.excerpt is not None
    start = round(signal.plan.excerpt.start_s * rate)
    assert np.abs(samples[start : start + round(0.4 * rate)]).max() > 0.1
    assert "with 0.4 s of a source" in signal.words


@pytest.mark.parametrize(
    ("entry", "at"),
    [
        (ReferenceEntry(level="0"), "level"),
        (ReferenceEntry(level="loud"), "level"),
        (ReferenceEntry(level=""), "level"),
        (ReferenceEntry(source="1", excerpt="-1"), "excerpt"),
        (ReferenceEntry(source="1", excerpt_from="later"), "excerpt_from"),
        (ReferenceEntry(source="2"), "source"),
        (ReferenceEntry(source="99"), "source"),
    ],
)
def test_what_cannot_be_made_is_said_at_its_field(
    filled: Library, session: SmallSession, entry: ReferenceEntry, at: str
) -> None:
    before = references.list_signals(filled, session.project)
    with pytest.raises(Refusal) as refused:
        references.make_reference(filled, session.project, entry)
    assert list(refused.value.sentences) == [at]
    assert refused.value.sentences[at].endswith(".")
    assert references.list_signals(filled, session.project) == before


def test_a_signal_of_another_project_cannot_have_been_printed(filled: Library, session: SmallSession) -> None:
    with pytest.raises(Refusal) as refused:
        references.attach_reference(filled, session.passes[0], 99, "x.wav", io.BytesIO(tone(0.2)))
    assert set(refused.value.sentences) == {"reference"}


def test_a_recall_of_another_pass_is_refused(filled: Library, session: SmallSession) -> None:
    other = runs.begin(filled, session.passes[1])
    back = io.BytesIO(tone(0.2, hz=500))
    with pytest.raises(NotThere):
        references.attach_reference(
            filled, session.passes[0], session.reference, "x.wav", back, recall_id=other
        )


def test_a_deleted_signal_takes_its_prints_along(filled: Library, session: SmallSession) -> None:
    assert references.delete_signal(filled, session.reference) == session.project
    assert read_references(filled, session.passes[0]).originals == ()
