"""The invented session's instruments: synthesised sources that behave like direct recordings.

Every sound is computed here from a seed; nothing is sampled or recorded. Each source is a float64 array of one
channel in full-scale units with a stated sample peak and the low noise floor that a real direct track has, so
that every measure in the demo has something true to say.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy import signal as dsp

from app.demo import tunes
from app.demo.tunes import Note, Stroke, Syllable

Samples = NDArray[np.float64]

SAMPLE_RATE_HZ = 48_000
NOISE_FLOOR_DBFS = -88.0
_TAIL_S = 0.8
_TABLE_SIZE = 8192
_DAMPING_REACH = 6  # taps either side

# Formant frequencies of adult voices, Hz: averages of Peterson and Barney 1952 (from memory, rounded).
_FORMANTS_HZ = {
    "a": (730, 1090, 2440, 3400),
    "e": (530, 1840, 2480, 3500),
    "i": (270, 2290, 3010, 3600),
    "o": (570, 840, 2410, 3300),
    "u": (300, 870, 2240, 3300),
    "m": (250, 1000, 2200, 3000),
}
_FORMANT_BANDWIDTHS_HZ = (80, 100, 140, 220)


def bass_line(*, sample_rate_hz: int = SAMPLE_RATE_HZ, seed: int = 11) -> Samples:
    """A bass guitar's direct track, about 17 s, sample peak -9 dBFS."""
    played = plucked_bass(
        tunes.BASS_TUNE,
        tunes.BASS_BEATS_PER_MINUTE,
        tunes.BASS_BEATS,
        sample_rate_hz=sample_rate_hz,
        seed=seed,
    )
    return _as_direct_track(played, -9.0, seed)


def organ_line(*, sample_rate_hz: int = SAMPLE_RATE_HZ, seed: int = 12) -> Samples:
    """A combo organ's direct track, about 16 s, sample peak -12 dBFS."""
    played = combo_organ(
        tunes.ORGAN_TUNE,
        tunes.ORGAN_BEATS_PER_MINUTE,
        tunes.ORGAN_BEATS,
        sample_rate_hz=sample_rate_hz,
        seed=seed,
    )
    return _as_direct_track(played, -12.0, seed)


def drum_loop(*, sample_rate_hz: int = SAMPLE_RATE_HZ, seed: int = 13) -> Samples:
    """A drum loop mixed to one track, about 15 s, sample peak -6 dBFS."""
    played = drum_strokes(
        tunes.DRUM_LOOP,
        tunes.DRUM_BEATS_PER_MINUTE,
        tunes.DRUM_BEATS,
        sample_rate_hz=sample_rate_hz,
        seed=seed,
    )
    return _as_direct_track(played, -6.0, seed)


def spoken_verse(*, sample_rate_hz: int = SAMPLE_RATE_HZ, seed: int = 14) -> Samples:
    """A voice that speaks syllables of no language, about 14 s, sample peak -10 dBFS."""
    spoken = formant_voice(
        tunes.VERSE, tunes.VERSE_BEATS_PER_MINUTE, tunes.VERSE_BEATS, sample_rate_hz=sample_rate_hz, seed=seed
    )
    return _as_direct_track(spoken, -10.0, seed)


def plucked_bass(
    notes: Sequence[Note], beats_per_minute: float, beats: float, *, sample_rate_hz: int, seed: int
) -> Samples:
    """Plucked strings as recirculating delay lines (Karplus and Strong 1983, tuned as in Jaffe and Smith 1983)."""
    random = np.random.default_rng(seed)
    out = _silence(beats_per_minute, beats, sample_rate_hz)
    beat_s = 60.0 / beats_per_minute
    for note in notes:
        start = _human_start(note.at_beats * beat_s, sample_rate_hz, random)
        length = min(round((note.length_beats * beat_s + 0.12) * sample_rate_hz), out.size - start)
        string = _plucked_string(frequency_hz(note.midi), length, note.level, sample_rate_hz, random)
        out[start : start + length] += string * _released(length, round(0.1 * sample_rate_hz))
    pickup = dsp.butter(2, 4_000, fs=sample_rate_hz, output="sos")
    return _filtered(pickup, out)


def _plucked_string(
    pitch_hz: float, length: int, level: float, sample_rate_hz: int, random: np.random.Generator
) -> Samples:
    """One string: y[n] = x[n] + sum of c[i] y[n-N-i], computed a whole period at a time."""
    period = sample_rate_hz / pitch_hz
    delay = int(period - _DAMPING_REACH - 1)
    loop = np.convolve(_damping(pitch_hz), _lagrange(period - _DAMPING_REACH - delay))

    burst = 0.35 * random.standard_normal(delay)
    burst[0] += np.sqrt(delay)
    softness_hz = 700.0 + 2_600.0 * level**2
    for order, corner_hz in ((1, 180.0), (2, softness_hz)):
        burst = _filtered(dsp.butter(order, corner_hz, fs=sample_rate_hz, output="sos"), burst)
    burst -= np.roll(burst, round(period * random.uniform(0.12, 0.2)))  # where the finger plucks
    string = np.zeros(delay + loop.size - 1 + length)
    first = delay + loop.size - 1
    string[first : first + delay] = level * (burst / np.sqrt(np.mean(burst**2)))[:length]
    for at in range(first + delay, string.size, delay):
        end = min(at + delay, string.size)
        past = string[at - delay - loop.size + 1 : end - delay]
        string[at:end] = np.convolve(past, loop, "valid")
    string = string[first:]
    heard_again = np.concatenate([np.zeros(delay // 7), string])[:length]  # where the pickup listens
    return np.asarray(string - heard_again, dtype=np.float64)


def _damping(pitch_hz: float) -> Samples:
    """A loop filter for one period: the fundamental rings 5 s, 1.5 kHz loses 20 dB/s more, higher ones faster."""
    loss = 10.0 ** (-3.0 / (pitch_hz * 5.0))
    variance = 115.0 / pitch_hz  # of a Gaussian of taps, which at w radians takes exp(-variance w^2 / 2)
    taps = np.exp(-(np.arange(-_DAMPING_REACH, _DAMPING_REACH + 1) ** 2) / (2 * variance))
    return np.asarray(taps * (loss / taps.sum()), dtype=np.float64)


def _lagrange(delay: float) -> Samples:
    """Third-order Lagrange interpolation for a delay of 1 to 2 samples."""
    points = np.arange(4)
    return np.array([np.prod([(delay - m) / (n - m) for m in points if m != n]) for n in points])


def combo_organ(
    notes: Sequence[Note], beats_per_minute: float, beats: float, *, sample_rate_hz: int, seed: int
) -> Samples:
    """A transistor organ: one pulse-like wave at three footages for every key, a common vibrato, a key click."""
    random = np.random.default_rng(seed)
    out = _silence(beats_per_minute, beats, sample_rate_hz)
    beat_s = 60.0 / beats_per_minute
    time_s = np.arange(out.size) / sample_rate_hz
    vibrato_rad = 0.004 / 6.1 * np.sin(2 * np.pi * 6.1 * time_s)  # seconds of lead, times 2 pi f below
    table = _wave([1.0, 0.0, 0.42, 0.0, 0.27, 0.0, 0.16, 0.0, 0.1])
    for note in notes:
        start = _human_start(note.at_beats * beat_s, sample_rate_hz, random)
        length = min(round(note.length_beats * beat_s * sample_rate_hz), out.size - start)
        span = slice(start, start + length)
        cycles = frequency_hz(note.midi) * (time_s[span] + vibrato_rad[span]) + random.uniform()
        tone = 0.8 * _looked_up(table, cycles) + 0.5 * _looked_up(table, 2 * cycles)
        tone += 0.22 * _looked_up(table, 0.5 * cycles)
        click = min(length, round(0.004 * sample_rate_hz))
        tone[:click] += 0.5 * random.standard_normal(click) * np.linspace(1, 0, click)
        out[span] += note.level * tone * _released(length, round(0.008 * sample_rate_hz))
    return _filtered(dsp.butter(1, [70, 6_500], "bandpass", fs=sample_rate_hz, output="sos"), out)


def drum_strokes(
    strokes: Sequence[Stroke], beats_per_minute: float, beats: float, *, sample_rate_hz: int, seed: int
) -> Samples:
    """Kick, snare and hats from swept sines, decaying modes and filtered noise; no two strokes are the same."""
    random = np.random.default_rng(seed)
    out = _silence(beats_per_minute, beats, sample_rate_hz)
    beat_s = 60.0 / beats_per_minute
    drums = {"kick": _kick, "snare": _snare, "closed hat": _closed_hat, "open hat": _open_hat}
    for stroke in strokes:
        start = _human_start(stroke.at_beats * beat_s, sample_rate_hz, random)
        hit = drums[stroke.drum](sample_rate_hz, random)[: out.size - start]
        out[start : start + hit.size] += stroke.level * random.uniform(0.92, 1.05) * hit
    return out


def _kick(sample_rate_hz: int, random: np.random.Generator) -> Samples:
    time_s = np.arange(round(0.5 * sample_rate_hz)) / sample_rate_hz
    sweep_hz = random.uniform(100, 125)
    cycles = 47.0 * time_s + sweep_hz * 0.03 * (1 - np.exp(-time_s / 0.03))
    beater = random.standard_normal(time_s.size) * np.exp(-time_s / 0.004)
    return 1.1 * np.sin(2 * np.pi * cycles) * np.exp(-time_s / 0.13) + 0.15 * beater


def _snare(sample_rate_hz: int, random: np.random.Generator) -> Samples:
    time_s = np.arange(round(0.32 * sample_rate_hz)) / sample_rate_hz
    head = np.sin(2 * np.pi * 187 * time_s) + 0.6 * np.sin(2 * np.pi * 331 * time_s)
    wires = random.standard_normal(time_s.size)
    wires = _filtered(dsp.butter(1, [1_400, 9_000], "bandpass", fs=sample_rate_hz, output="sos"), wires)
    return 0.45 * head * np.exp(-time_s / 0.055) + 0.75 * wires * np.exp(-time_s / 0.085)


def _closed_hat(sample_rate_hz: int, random: np.random.Generator) -> Samples:
    return _hat(0.028, sample_rate_hz, random)


def _open_hat(sample_rate_hz: int, random: np.random.Generator) -> Samples:
    return _hat(0.19, sample_rate_hz, random)


def _hat(decay_s: float, sample_rate_hz: int, random: np.random.Generator) -> Samples:
    time_s = np.arange(round(4 * decay_s * sample_rate_hz)) / sample_rate_hz
    metal = random.standard_normal(time_s.size)
    metal = _filtered(dsp.butter(2, 6_800, "highpass", fs=sample_rate_hz, output="sos"), metal)
    return 0.35 * metal * np.exp(-time_s / decay_s)


def formant_voice(
    syllables: Sequence[Syllable], beats_per_minute: float, beats: float, *, sample_rate_hz: int, seed: int
) -> Samples:
    """A voice as source and filter (Fant 1960): a buzzing glottis and breath through vowel resonances.

    Every vowel's resonances filter the whole track once; the spoken vowel is faded in where it is spoken.
    """
    random = np.random.default_rng(seed)
    out = _silence(beats_per_minute, beats, sample_rate_hz)
    beat_s = 60.0 / beats_per_minute
    spans = [
        (syllable, round(syllable.at_beats * beat_s * sample_rate_hz), _end(syllable, beat_s, sample_rate_hz))
        for syllable in syllables
    ]
    glottis = _glottis(spans, out.size, sample_rate_hz, random)
    hiss = random.standard_normal(out.size)
    for sound in sorted({s.vowel for s in syllables} | {"m"}):
        opening = _opening(sound, spans, out.size, sample_rate_hz)
        if opening.any():
            out += opening * _through_formants(_FORMANTS_HZ[sound], glottis, sample_rate_hz)
    return out + _consonants(spans, hiss, sample_rate_hz)


_Span = tuple[Syllable, int, int]
_CONSONANT_S = {"": 0.0, "s": 0.11, "f": 0.09, "t": 0.05, "k": 0.06, "m": 0.09}


def _end(syllable: Syllable, beat_s: float, sample_rate_hz: int) -> int:
    return round((syllable.at_beats + syllable.length_beats) * beat_s * sample_rate_hz)


def _glottis(
    spans: Sequence[_Span], length: int, sample_rate_hz: int, random: np.random.Generator
) -> Samples:
    """A voiced source of 118 Hz that follows the syllables' pitch, with the waver and breath of a throat."""
    at = [0.0] + [float(start + end) / 2 for _, start, end in spans]
    semitones = [0.0] + [syllable.semitones for syllable, _, _ in spans]
    waver = np.interp(np.arange(length), np.arange(0, length, 600), random.normal(0, 0.12, -(-length // 600)))
    pitch = np.interp(np.arange(length), at, semitones) + waver
    cycles = np.cumsum(118.0 * 2 ** (pitch / 12) / sample_rate_hz)
    # Flatter than a real glottis, because no resonance above the fourth lifts the highs.
    buzz = _looked_up(_wave([k**-0.6 for k in range(1, 81)]), cycles)
    return buzz + 0.05 * random.standard_normal(length)


def _opening(sound: str, spans: Sequence[_Span], length: int, sample_rate_hz: int) -> Samples:
    """0 to 1: how far the mouth is at this sound; rises and falls over 30 ms."""
    opening = np.zeros(length)
    for syllable, start, end in spans:
        onset = start + round(_CONSONANT_S[syllable.consonant] * sample_rate_hz)
        if syllable.vowel == sound:
            opening[onset:end] = 1.0
        if syllable.consonant == sound:
            opening[start:onset] = 0.35
    glide = np.hanning(round(0.06 * sample_rate_hz) | 1)
    return dsp.oaconvolve(opening, glide / glide.sum(), "same").clip(0.0) * (opening.any())


def _through_formants(formants_hz: Sequence[float], source: Samples, sample_rate_hz: int) -> Samples:
    """Resonators in series, each of unity gain at 0 Hz (Klatt 1980, equation 2)."""
    sections = []
    for formant_hz, bandwidth_hz in zip(formants_hz, _FORMANT_BANDWIDTHS_HZ, strict=True):
        radius = np.exp(-np.pi * bandwidth_hz / sample_rate_hz)
        c1 = 2 * radius * np.cos(2 * np.pi * formant_hz / sample_rate_hz)
        c2 = -(radius**2)
        sections.append([1 - c1 - c2, 0.0, 0.0, 1.0, -c1, -c2])
    return _filtered(np.array(sections), source)


def _consonants(spans: Sequence[_Span], hiss: Samples, sample_rate_hz: int) -> Samples:
    bands_hz = {"s": (4_800, 9_500), "f": (1_500, 9_000), "t": (2_800, 8_000), "k": (1_300, 3_200)}
    out = np.zeros_like(hiss)
    for consonant, band_hz in bands_hz.items():
        shape = dsp.butter(1, band_hz, "bandpass", fs=sample_rate_hz, output="sos")
        length = round(_CONSONANT_S[consonant] * sample_rate_hz)
        swell = np.hanning(length) if consonant in "sf" else np.exp(-np.linspace(0, 6, length))
        for syllable, start, _ in spans:
            if syllable.consonant == consonant:
                out[start : start + length] += 1.6 * swell * _filtered(shape, hiss[start : start + length])
    return out


def frequency_hz(midi: float) -> float:
    """Equal temperament, note 69 = 440 Hz (ISO 16)."""
    return float(440.0 * 2.0 ** ((midi - 69.0) / 12.0))


def _silence(beats_per_minute: float, beats: float, sample_rate_hz: int) -> Samples:
    return np.zeros(round((beats * 60.0 / beats_per_minute + _TAIL_S) * sample_rate_hz))


def _human_start(at_s: float, sample_rate_hz: int, random: np.random.Generator) -> int:
    """No player is on the grid: up to 6 ms early or late."""
    return max(0, round((at_s + random.uniform(-0.006, 0.006)) * sample_rate_hz))


def _released(length: int, fade: int) -> Samples:
    envelope = np.ones(length)
    fade = min(fade, length)
    envelope[length - fade :] = 0.5 + 0.5 * np.cos(np.linspace(0, np.pi, fade))
    return envelope


def _wave(harmonics: Sequence[float]) -> Samples:
    cycle = 2 * np.pi * np.arange(_TABLE_SIZE) / _TABLE_SIZE
    return np.asarray(sum(level * np.sin((k + 1) * cycle) for k, level in enumerate(harmonics)))


def _looked_up(table: Samples, cycles: Samples) -> Samples:
    at = (cycles * _TABLE_SIZE).astype(np.int64) & (_TABLE_SIZE - 1)
    return np.take(table, at)


def _filtered(sections: Samples, samples: Samples) -> Samples:
    return np.asarray(dsp.sosfilt(sections, samples), dtype=np.float64)


def _as_direct_track(played: Samples, peak_dbfs: float, seed: int) -> Samples:
    """Scaled to a stated sample peak, with the noise of a converter's input under it."""
    floor = np.random.default_rng(seed + 1_000).standard_normal(played.size)
    track = played / np.max(np.abs(played)) + 10 ** ((NOISE_FLOOR_DBFS - peak_dbfs) / 20) * floor
    return np.asarray(track * (10 ** (peak_dbfs / 20) / np.max(np.abs(track))))
