from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from app.demo import synthesis, tunes
from app.demo.tunes import Note, Stroke, Syllable

RATE_HZ = 48_000
SOURCES = {
    synthesis.bass_line: -9.0,
    synthesis.organ_line: -12.0,
    synthesis.drum_loop: -6.0,
    synthesis.spoken_verse: -10.0,
}


def level_db(samples: NDArray[np.float64]) -> float:
    return float(10 * np.log10(np.mean(samples**2)))


def band_level_db(samples: NDArray[np.float64], low_hz: float, high_hz: float) -> float:
    power = np.abs(np.fft.rfft(samples * np.hanning(samples.size))) ** 2
    frequency = np.fft.rfftfreq(samples.size, 1 / RATE_HZ)
    return float(10 * np.log10(np.sum(power[(frequency >= low_hz) & (frequency < high_hz)])))


def strongest_hz(samples: NDArray[np.float64], low_hz: float, high_hz: float) -> float:
    """The strongest line in a band, by a parabola through a long, zero-padded spectrum."""
    length = 1 << 21
    spectrum = np.log(np.abs(np.fft.rfft(samples * np.hanning(samples.size), length)) + 1e-12)
    low, high = round(low_hz * length / RATE_HZ), round(high_hz * length / RATE_HZ)
    top = low + int(np.argmax(spectrum[low:high]))
    left, middle, right = spectrum[top - 1 : top + 2]
    return float((top + 0.5 * (left - right) / (left - 2 * middle + right)) * RATE_HZ / length)


@pytest.mark.parametrize(("source", "peak_dbfs"), SOURCES.items())
def test_a_source_has_its_stated_peak_a_sensible_length_and_no_offset(
    source: Callable[[], NDArray[np.float64]], peak_dbfs: float
) -> None:
    track = source()
    assert np.all(np.isfinite(track))
    assert 20 * np.log10(np.max(np.abs(track))) == pytest.approx(peak_dbfs, abs=1e-9)
    assert 12 <= track.size / RATE_HZ <= 25
    assert abs(np.mean(track)) < 1e-3
    assert -35 < level_db(track) < -15


@pytest.mark.parametrize("source", SOURCES)
def test_a_seed_always_gives_the_same_track_and_another_seed_another(
    source: Callable[..., NDArray[np.float64]],
) -> None:
    assert np.array_equal(source(seed=5), source(seed=5))
    assert not np.array_equal(source(seed=5), source(seed=6))


@pytest.mark.parametrize("source", SOURCES)
def test_under_the_last_note_lies_a_real_tracks_noise_floor(
    source: Callable[[], NDArray[np.float64]],
) -> None:
    assert level_db(source()[-RATE_HZ // 10 :]) == pytest.approx(synthesis.NOISE_FLOOR_DBFS, abs=1.0)


@pytest.mark.parametrize("rate_hz", [44_100, 96_000])
def test_a_source_lasts_as_long_at_another_rate(rate_hz: int) -> None:
    assert synthesis.bass_line(sample_rate_hz=rate_hz).size / rate_hz == pytest.approx(
        synthesis.bass_line().size / RATE_HZ, abs=1e-4
    )


def test_equal_temperament_doubles_every_twelve_notes_from_440_hz_at_69() -> None:
    assert synthesis.frequency_hz(69) == 440.0
    assert synthesis.frequency_hz(28) == pytest.approx(41.2034, abs=1e-4)  # a bass guitar's lowest string
    assert synthesis.frequency_hz(81) == pytest.approx(880.0)


@pytest.mark.parametrize("midi", [28, 33, 38, 43, 50, 57])
def test_a_plucked_string_sounds_at_its_pitch_within_four_cents(midi: int) -> None:
    pluck = synthesis.plucked_bass([Note(0, 4, midi)], 60, 4, sample_rate_hz=RATE_HZ, seed=3)
    pitch_hz = synthesis.frequency_hz(midi)
    found_hz = strongest_hz(pluck, 0.8 * pitch_hz, 1.25 * pitch_hz)
    assert abs(1200 * np.log2(found_hz / pitch_hz)) < 4


def test_a_plucked_string_fades_and_its_highs_fade_first() -> None:
    pluck = synthesis.plucked_bass([Note(0, 4, 33)], 60, 4, sample_rate_hz=RATE_HZ, seed=3)
    early, late = pluck[RATE_HZ // 10 : RATE_HZ], pluck[2 * RATE_HZ : 3 * RATE_HZ]
    assert level_db(late) < level_db(early) - 3
    lows_fall_db = band_level_db(early, 40, 70) - band_level_db(late, 40, 70)
    highs_fall_db = band_level_db(early, 800, 2_000) - band_level_db(late, 800, 2_000)
    assert highs_fall_db > lows_fall_db + 6


def test_a_firm_stroke_is_louder_and_brighter_than_a_soft_one() -> None:
    soft, firm = (
        synthesis.plucked_bass([Note(0, 1, 38, level)], 60, 1, sample_rate_hz=RATE_HZ, seed=3)
        for level in (0.5, 1.0)
    )
    assert level_db(firm) > level_db(soft) + 3

    def brightness_db(pluck: NDArray[np.float64]) -> float:
        return band_level_db(pluck, 1_500, 4_000) - band_level_db(pluck, 50, 300)

    assert brightness_db(firm) > brightness_db(soft) + 3


def test_an_organ_key_sounds_its_footages() -> None:
    key = synthesis.combo_organ([Note(0, 3, 69)], 60, 3, sample_rate_hz=RATE_HZ, seed=3)
    for line_hz in (220, 440, 880, 1_320):
        beside_db = band_level_db(key, line_hz + 60, line_hz + 90)
        assert band_level_db(key, line_hz - 15, line_hz + 15) > beside_db + 20


def test_each_drum_has_its_own_place_in_the_spectrum() -> None:
    def hit(drum: str) -> NDArray[np.float64]:
        return synthesis.drum_strokes([Stroke(0, drum)], 60, 1, sample_rate_hz=RATE_HZ, seed=3)

    assert 40 < strongest_hz(hit("kick"), 20, 20_000) < 110
    assert 180 < strongest_hz(hit("snare"), 20, 1_000) < 195
    for hat in ("closed hat", "open hat"):
        assert band_level_db(hit(hat), 6_000, 20_000) > band_level_db(hit(hat), 20, 3_000) + 15
    assert level_db(hit("open hat")) > level_db(hit("closed hat")) + 5


def test_no_two_strokes_of_a_drum_are_the_same() -> None:
    """A loop of identical strokes would line up with itself at every bar."""
    twice = synthesis.drum_strokes(
        [Stroke(0, "snare"), Stroke(1, "snare")], 60, 2, sample_rate_hz=RATE_HZ, seed=3
    )
    first, second = twice[:16_000], twice[RATE_HZ - 2_000 : RATE_HZ + 16_000]
    match = np.max(np.abs(np.correlate(second, first, "valid"))) / (
        np.linalg.norm(first) * np.linalg.norm(second)
    )
    assert match < 0.8


def test_vowels_differ_where_their_formants_lie() -> None:
    def spoken(vowel: str) -> NDArray[np.float64]:
        return synthesis.formant_voice([Syllable(0, 1, "", vowel)], 60, 1, sample_rate_hz=RATE_HZ, seed=3)

    open_vowel, closed_vowel = spoken("a"), spoken("i")
    assert band_level_db(open_vowel, 600, 1_200) > band_level_db(open_vowel, 200, 400) + 6
    assert band_level_db(closed_vowel, 200, 400) > band_level_db(closed_vowel, 600, 1_200) + 6
    assert band_level_db(closed_vowel, 2_100, 3_200) > band_level_db(closed_vowel, 1_000, 1_800) + 6


def test_an_s_is_hiss_before_its_vowel() -> None:
    syllable = synthesis.formant_voice([Syllable(0, 1, "s", "o")], 60, 1, sample_rate_hz=RATE_HZ, seed=3)
    consonant, vowel = syllable[500:4_000], syllable[12_000:30_000]
    assert band_level_db(consonant, 4_000, 10_000) > band_level_db(consonant, 100, 1_000)
    assert band_level_db(vowel, 100, 1_000) > band_level_db(vowel, 4_000, 10_000) + 20


@pytest.mark.parametrize(
    ("notes", "beats", "low", "high"),
    [
        (tunes.BASS_TUNE, tunes.BASS_BEATS, 28, 60),
        (tunes.ORGAN_TUNE, tunes.ORGAN_BEATS, 36, 84),
    ],
)
def test_the_tunes_fit_their_bars_and_their_instruments(
    notes: tuple[Note, ...], beats: float, low: int, high: int
) -> None:
    assert all(note.at_beats >= 0 and note.at_beats + note.length_beats <= beats for note in notes)
    assert all(low <= note.midi <= high for note in notes)
