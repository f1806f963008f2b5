"""Copies of prints drop into a DAW where their source lies; the originals stay as they are."""

import hashlib
import io
import re
import struct
import subprocess
import zipfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from small_session import attach, figures

from app.desk.files.copy_names import WORDS, names, refuse_unless_pattern
from app.desk.listening import aligned_copies
from app.desk.listening.aligned_copies import CopyOptions, CopyOrder, make_aligned_copies
from app.desk.measuring import measurements
from app.desk.passes import passes
from app.desk.passes.pass_sheets import read_pass
from app.desk.passes.passes import PassEntry
from app.desk.processes import copying
from app.desk.projects import projects, sources
from app.desk.projects.projects import ProjectEntry
from app.desk.projects.sources import SourceEntry
from app.desk.refusals import Refusal
from app.library import Library
from app.records import StoredFile
from app.signal.figures import AlignmentFigures, FileFigures, Polarity, to_json
from app.signal.listening.blend_figures import BlendSetting

RATE = 48_000
SECONDS = 3
DELAY = 255
Audio = NDArray[np.float64]


@dataclass(frozen=True)
class Takes:
    library: Library
    first: int
    second: int
    played: Audio


def played() -> Audio:
    at = np.arange(SECONDS * RATE) / RATE
    return np.round(0.3 * np.sin(2 * np.pi * 220 * at) * np.exp(-(at % 0.5) * 3) * 2**23) / 2**23


def audio(samples: Audio, rate: int = RATE, subtype: str = "PCM_24") -> bytes:
    made = io.BytesIO()
    soundfile.write(made, samples, rate, subtype=subtype, format="WAV")
    return made.getvalue()


def with_time_reference(wav: bytes, samples: int) -> bytes:
    """The same file with a bext chunk before its others."""
    body = bytearray(602)
    body[338:346] = struct.pack("<Q", samples)
    chunk = b"bext" + struct.pack("<I", 602) + body
    return b"RIFF" + struct.pack("<I", len(wav) - 8 + len(chunk)) + b"WAVE" + chunk + wav[12:]


def measure_all(
    library: Library, delay_samples: float = DELAY, polarities: Sequence[Polarity] = ("inverted",)
) -> None:
    """The files as they are; `polarities` are said of the prints in turn, the last of all that follow."""
    said = list(polarities)
    while (waiting := measurements.claim(library)) is not None:
        with library.reading() as session:
            path = library.files.path(session.get_one(StoredFile, waiting.file_id).sha256)
        info = soundfile.info(path)
        file = FileFigures(info.samplerate, info.channels, info.frames, info.duration, "WAV", info.subtype)
        delay = delay_samples * info.samplerate / RATE
        polarity = said[0]
        if waiting.source_file_id and len(said) > 1:
            del said[0]
        aligned = AlignmentFigures(delay, 0.0, polarity, 0.97, 0.0, True)
        made = replace(figures(), file=file, alignment=aligned if waiting.source_file_id else None)
        measurements.finish(library, waiting.id, to_json(made))


@pytest.fixture
def takes(library: Library) -> Takes:
    """Two passes of a source that lies at 1 h in its DAW: near and room microphones, upside down and 255 samples
    late; then one louder print that plays a second longer than the source."""
    project = projects.create_project(library, ProjectEntry("Boathouse", "Invented Trio"))
    di = with_time_reference(audio(played()), 3600 * RATE)
    source = sources.create_source(library, project, SourceEntry("bass DI"), ("bass.wav", io.BytesIO(di)))
    first = passes.log_pass(library, source, PassEntry("warm"))
    second = passes.log_pass(library, source, PassEntry())
    late = np.concatenate((np.zeros(DELAY), played()))
    attach(library, first, audio(-0.5 * late), "near.wav", label="near")
    attach(library, first, audio(-0.1 * np.column_stack((late, late))), "room.wav", label="room")
    attach(library, second, audio(-np.concatenate((late, 0.01 * np.ones(RATE)))), "only.wav")
    measure_all(library)
    return Takes(library, first, second, played())


@pytest.fixture
def in_process(monkeypatch: pytest.MonkeyPatch) -> None:
    """Saves the time of starting the copying process."""

    def run(orders: Sequence[CopyOrder], match_loudness: bool) -> Iterator[bytes]:
        made = io.BytesIO()
        copying.write_copies(orders, match_loudness, made)
        yield made.getvalue()

    monkeypatch.setattr(aligned_copies, "_run", run)


def unpacked(takes: Takes, pass_ids: Sequence[int], options: CopyOptions) -> dict[str, bytes]:
    made = make_aligned_copies(takes.library, pass_ids, options)
    with zipfile.ZipFile(io.BytesIO(b"".join(made.chunks))) as archive:
        assert archive.testzip() is None
        return {name: archive.read(name) for name in archive.namelist()}


def samples_of(copy: bytes) -> Audio:
    return soundfile.read(io.BytesIO(copy))[0]  # type: ignore[no-any-return]


def test_the_copying_process_streams_a_zip_of_copies_that_null_against_the_source(takes: Takes) -> None:
    found = unpacked(takes, [takes.first], CopyOptions())
    near = samples_of(found["Boathouse bass DI p1 near.wav"])
    room = samples_of(found["Boathouse bass DI p1 room.wav"])
    assert np.abs(near - 0.5 * takes.played).max() <= 2**-23
    assert np.abs(room - 0.1 * takes.played[:, None]).max() <= 2**-23
    assert "255 samples earlier, polarity turned over" in found["what was done.txt"].decode()


def test_a_file_that_cannot_be_read_is_told_before_the_first_byte(takes: Takes) -> None:
    print_sheet = read_pass(takes.library, takes.second).prints[0]
    takes.library.files.path(print_sheet.sha256).write_bytes(b"words, not samples")
    with pytest.raises(Refusal, match="text, not audio"):
        make_aligned_copies(takes.library, [takes.second], CopyOptions())


def test_the_process_ends_when_nobody_wants_the_rest(takes: Takes, monkeypatch: pytest.MonkeyPatch) -> None:
    started: list[subprocess.Popen[bytes]] = []
    real = subprocess.Popen

    def remembered(*args: object, **kwargs: object) -> subprocess.Popen[bytes]:
        started.append(real(*args, **kwargs))  # type: ignore[call-overload]
        return started[-1]

    monkeypatch.setattr(subprocess, "Popen", remembered)
    made = make_aligned_copies(takes.library, [takes.first], CopyOptions())
    next(made.chunks)
    made.chunks.close()  # type: ignore[attr-defined]
    assert started[0].poll() is not None


@pytest.mark.usefixtures("in_process")
def test_the_originals_keep_every_byte(takes: Takes) -> None:
    def hashes() -> set[str]:
        return {
            hashlib.sha256(takes.library.files.path(name).read_bytes()).hexdigest()
            for name in takes.library.files.names()
        }

    unpacked(takes, [takes.first, takes.second], CopyOptions(match_loudness=True))
    assert hashes() == takes.library.files.names()


@pytest.mark.usefixtures("in_process")
def test_polarity_may_stay_as_it_was(takes: Takes) -> None:
    found = unpacked(takes, [takes.first], CopyOptions(right_polarity=False))
    near = samples_of(found["Boathouse bass DI p1 near.wav"])
    assert np.abs(near + 0.5 * takes.played).max() <= 2**-23
    assert "polarity as it was" in found["what was done.txt"].decode()


def two_microphones(takes: Takes, second: Audio, polarities: Sequence[Polarity]) -> dict[str, bytes]:
    """The copies of a pass with a near microphone and a ribbon, of which this is measured."""
    made = passes.log_pass(takes.library, read_pass(takes.library, takes.first).source_id, PassEntry())
    attach(takes.library, made, audio(0.4 * takes.played), "near.wav", label="near")
    attach(takes.library, made, audio(second), "ribbon.wav", label="ribbon")
    measure_all(takes.library, 0.0, polarities)
    return unpacked(takes, [made], CopyOptions())


@pytest.mark.usefixtures("in_process")
def test_each_microphone_is_righted_by_what_its_own_page_says(takes: Takes) -> None:
    found = two_microphones(takes, -0.3 * takes.played, ("same", "inverted"))
    both = [samples_of(found[f"Boathouse bass DI p3 {name}.wav"]) for name in ("near", "ribbon")]
    assert np.abs(sum(both) - 0.7 * takes.played).max() <= 2**-22


@pytest.mark.usefixtures("in_process")
@pytest.mark.parametrize("sign", [1, -1])
def test_a_polarity_that_is_unclear_alone_is_settled_by_the_other_print(takes: Takes, sign: int) -> None:
    found = two_microphones(takes, sign * 0.3 * takes.played, ("same", "unclear"))
    ribbon = samples_of(found["Boathouse bass DI p3 ribbon.wav"])
    assert np.abs(ribbon - 0.3 * takes.played).max() <= 2**-22
    what = "polarity as it was" if sign > 0 else "polarity turned over"
    said = f"{what}: unclear against the source but clear against Boathouse bass DI p3 near.wav"
    assert said in found["what was done.txt"].decode()


@pytest.mark.usefixtures("in_process")
def test_where_nothing_tells_the_polarity_the_copys_name_and_the_report_say_so(takes: Takes) -> None:
    noise = 0.1 * np.random.default_rng(7).standard_normal(len(takes.played))
    found = two_microphones(takes, noise, ("same", "unclear"))
    assert "Boathouse bass DI p3 ribbon polarity unclear.wav" in found
    assert "polarity as it was: which way up it is could not be told" in found["what was done.txt"].decode()


@pytest.mark.usefixtures("in_process")
def test_prints_that_are_all_unclear_agree_with_one_another_at_least(takes: Takes) -> None:
    found = two_microphones(takes, -0.3 * takes.played, ("unclear",))
    both = [samples_of(copy) for name, copy in found.items() if name.endswith("polarity unclear.wav")]
    assert np.abs(np.abs(sum(both)) - 0.7 * np.abs(takes.played)).max() <= 2**-22


@pytest.mark.usefixtures("in_process")
def test_a_copy_ends_with_the_source_or_with_its_print(takes: Takes) -> None:
    name = "Boathouse bass DI p2.wav"
    trimmed = samples_of(unpacked(takes, [takes.second], CopyOptions())[name])
    whole = samples_of(unpacked(takes, [takes.second], CopyOptions(trim_to_source=False))[name])
    assert len(trimmed) == SECONDS * RATE
    assert len(whole) == (SECONDS + 1) * RATE
    np.testing.assert_array_equal(whole[: len(trimmed)], trimmed)
    assert whole[-1] == pytest.approx(0.01, abs=1e-6)


@pytest.mark.usefixtures("in_process")
def test_copies_carry_the_time_at_which_their_source_lies(takes: Takes, tmp_path: Path) -> None:
    path = tmp_path / "near.wav"
    path.write_bytes(unpacked(takes, [takes.first], CopyOptions())["Boathouse bass DI p1 near.wav"])
    command = [
        "ffprobe",
        "-v",
        "error",
        "-of",
        "default=nk=0:nw=1",
        "-show_entries",
        "format_tags",
        str(path),
    ]
    tags = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    assert f"TAG:time_reference={3600 * RATE}" in tags
    assert "TAG:comment=Boathouse / bass DI / pass 1 / near" in tags
    assert "TAG:coding_history=A=PCM,F=48000,W=24,M=mono,T=Dialback; 255 samples earlier;" in tags


def ffmpeg_lufs(copy: bytes, folder: Path) -> float:
    path = folder / "heard.wav"
    path.write_bytes(copy)
    command = ["ffmpeg", "-nostats", "-i", str(path), "-af", "ebur128=framelog=verbose:dualmono=true"]
    said = subprocess.run([*command, "-f", "null", "-"], capture_output=True, text=True, check=True).stderr
    return float(re.findall(r"I:\s+(-?[\d.]+) LUFS", said)[-1])


@pytest.mark.usefixtures("in_process")
def test_matched_copies_are_equally_loud_to_ffmpeg_and_say_how_loud_they_are(
    takes: Takes, tmp_path: Path
) -> None:
    found = unpacked(takes, [takes.first, takes.second], CopyOptions(match_loudness=True))
    copies = [copy for name, copy in found.items() if name.endswith(".wav")]
    read = [ffmpeg_lufs(copy, tmp_path) for copy in copies]
    assert max(read) - min(read) <= 0.1 + 1e-9
    body = copies[1].index(b"bext") + 8
    (hundredths,) = struct.unpack("<h", copies[1][body + 412 : body + 414])
    assert hundredths / 100 == pytest.approx(read[1], abs=0.1)  # the stereo one, as its file reads


@pytest.mark.usefixtures("in_process")
def test_a_chosen_blend_goes_into_the_copies(takes: Takes) -> None:
    """As a whole it is turned over until its first print is right way up."""
    near, room = (item.print_id for item in read_pass(takes.library, takes.first).prints)
    blend = {near: BlendSetting(), room: BlendSetting(-6.0, -100.0, True)}
    found = unpacked(takes, [takes.first], CopyOptions(blends={takes.first: blend}))
    copy = samples_of(found["Boathouse bass DI p1 room.wav"])[:, 0]
    assert np.abs(copy[:-100] + 0.1 * takes.played[100:]).max() <= 2**-23
    assert np.abs(samples_of(found["Boathouse bass DI p1 near.wav"]) - 0.5 * takes.played).max() <= 2**-23
    said = found["what was done.txt"].decode()
    assert "fader at 0 dB" in said
    assert "fader at -6.00 dB" in said


def faders(report: bytes) -> list[float]:
    return [float(db) for db in re.findall(r"fader at (\S+) dB", report.decode())]


@pytest.mark.usefixtures("in_process")
@pytest.mark.parametrize("match_loudness", [False, True])
def test_the_source_beside_its_prints_is_a_copy_and_all_sum_to_the_blend_at_their_faders(
    takes: Takes, match_loudness: bool
) -> None:
    near, room = (item.print_id for item in read_pass(takes.library, takes.first).prints)
    blend = {
        None: BlendSetting(-3.0, 40.0),
        near: BlendSetting(-6.0, 0.0, True),
        room: BlendSetting(2.0, 10.0, True),
    }
    options = CopyOptions(match_loudness=match_loudness, blends={takes.first: blend})
    found = unpacked(takes, [takes.first], options)
    names = [f"Boathouse bass DI p1 {word}.wav" for word in ("dry", "near", "room")]
    assert [name for name in found if name.endswith(".wav")] == names
    copies = [samples_of(found[name]) for name in names]
    levels = [10 ** (db / 20) for db in faders(found["what was done.txt"])]
    mono = [copy if copy.ndim == 1 else copy[:, 0] for copy in copies]
    made = sum(level * copy for level, copy in zip(levels, mono, strict=True))

    def gained(db: float, samples: Audio, later: int) -> Audio:
        moved = np.concatenate((np.zeros(later), samples))[: len(samples)]
        return np.asarray(10 ** (db / 20) * moved)

    played = takes.played
    expected = gained(-3, played, 40) + gained(-6, 0.5 * played, 0) + gained(2, 0.1 * played, 10)
    scale = float(made @ expected / (expected @ expected))
    assert np.abs(made - scale * expected).max() < 2e-3 * np.abs(expected).max()
    if not match_loudness:
        assert scale == pytest.approx(1, abs=1e-5)


@pytest.mark.usefixtures("in_process")
def test_a_print_at_another_rate_comes_out_at_the_sources(library: Library) -> None:
    project = projects.create_project(library, ProjectEntry("Boathouse"))
    source = sources.create_source(
        library, project, SourceEntry("bass DI"), ("bass.wav", io.BytesIO(audio(played())))
    )
    made = passes.log_pass(library, source, PassEntry())
    at = np.arange(round((SECONDS + 0.1) * 44_100)) / 44_100
    attach(library, made, audio(0.3 * np.sin(2 * np.pi * 220 * (at - 0.01)), 44_100), "other rate.wav")
    measure_all(library, delay_samples=0.01 * RATE)
    found = unpacked(Takes(library, made, made, played()), [made], CopyOptions(right_polarity=False))
    copy = found["Boathouse bass DI p1.wav"]
    assert soundfile.info(io.BytesIO(copy)).samplerate == RATE
    expected = 0.3 * np.sin(2 * np.pi * 220 * np.arange(SECONDS * RATE) / RATE)
    assert np.abs(samples_of(copy) - expected)[500:].max() < 1e-4
    assert "brought from 44100 to 48000 Hz" in found["what was done.txt"].decode()


@pytest.mark.usefixtures("in_process")
def test_copies_above_full_scale_are_lowered_alike_and_say_so(takes: Takes) -> None:
    made = passes.log_pass(takes.library, read_pass(takes.library, takes.first).source_id, PassEntry())
    late = np.concatenate((np.zeros(DELAY), 7 * played()))
    attach(takes.library, made, audio(late, subtype="FLOAT"), "hot.wav", label="hot")
    attach(takes.library, made, audio(0.1 * late, subtype="FLOAT"), "mild.wav", label="mild")
    measure_all(takes.library)
    found = unpacked(takes, [made], CopyOptions(right_polarity=False))
    hot, mild = (samples_of(found[f"Boathouse bass DI p3 {word}.wav"]) for word in ("hot", "mild"))
    assert 0.97 < np.abs(hot).max() <= 1
    np.testing.assert_allclose(mild, 0.1 * hot, atol=2**-22)
    assert "level -" in found["what was done.txt"].decode()


def test_a_print_that_is_not_measured_yet_is_told(takes: Takes) -> None:
    attach(takes.library, takes.second, audio(0.1 * played()), "new.wav")
    with pytest.raises(Refusal, match=r"“new.wav” of pass 2 cannot be copied. It is still being measured"):
        make_aligned_copies(takes.library, [takes.second], CopyOptions())


def test_a_missing_file_and_a_pass_without_prints_are_told(takes: Takes) -> None:
    empty = passes.log_pass(takes.library, read_pass(takes.library, takes.first).source_id, PassEntry())
    with pytest.raises(Refusal, match="no print to copy"):
        make_aligned_copies(takes.library, [empty], CopyOptions())
    takes.library.files.path(read_pass(takes.library, takes.second).prints[0].sha256).unlink()
    with pytest.raises(Refusal, match="missing from the library"):
        make_aligned_copies(takes.library, [takes.second], CopyOptions())


FILLED = {
    "project": "Boathouse",
    "artist": "Invented Trio",
    "source": "bass DI",
    "pass": "2",
    "title": "no fuzz",
    "print": "near",
    "file": "near",
}


@pytest.mark.parametrize(
    ("pattern", "name"),
    [
        ("{project} {source} p{pass} {print}", "Boathouse bass DI p2 near.wav"),
        ("{Source}_{ PASS }", "bass DI_2.wav"),
        ("take/{title}: {file}?", "take-no fuzz- near-.wav"),
        ("  ..{source}.. ", "bass DI.wav"),
        ("NUL", "_NUL.wav"),
        ("same for all", "same for all.wav"),
    ],
)
def test_a_pattern_makes_a_name_that_every_system_takes(pattern: str, name: str) -> None:
    assert names(pattern, [FILLED], ".wav") == [name]


@pytest.mark.parametrize(
    ("pattern", "said"),
    [
        ("{project} {colour}", r"no \{colour\}"),
        ("{}", r"no \{\}"),
        ("{project", "no partner"),
        ("{{pass}}", "no partner"),
        ("   ", "empty"),
    ],
)
def test_what_a_pattern_cannot_say_is_told_with_the_words_there_are(pattern: str, said: str) -> None:
    with pytest.raises(Refusal, match=said) as refused:
        refuse_unless_pattern(pattern)
    assert set(refused.value.sentences) == {"pattern"}


def test_equal_names_are_told_apart_even_where_capitals_do_not_count() -> None:
    found = names("{title}", [{**FILLED, "title": title} for title in ("a", "A", "a")], ".wav")
    assert found == ["a.wav", "A (2).wav", "a (3).wav"]


@given(words=st.lists(st.text(max_size=300), min_size=len(WORDS), max_size=len(WORDS)))
def test_no_words_make_a_name_that_leaves_its_folder(words: list[str]) -> None:
    filled = dict(zip(WORDS, words, strict=True))
    (name,) = names(" ".join(f"{{{word}}}" for word in WORDS), [filled], ".wav")
    assert not set(name) & set('/\\:*?"<>|\0\n')
    assert name not in (".wav", "..wav")
    assert len(name.encode()) <= 190
