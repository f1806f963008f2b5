"""The invented session's gear: models of kinds of gear, of no maker's product.

A pass is rendered by `render_pass` from the positions its controls stand at, so that two passes of the invented
session sound and measure as differently as their settings say. Positions are fractions of travel, 0 to 1. Every
function takes and returns one channel of float64 samples in full-scale units.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import soxr
from numpy.typing import NDArray
from scipy import fft
from scipy import signal as dsp

Samples = NDArray[np.float64]

SPEED_OF_SOUND_M_S = 343.2  # ISO 9613-1, 20 °C
_OVERSAMPLING = 4
_FRACTION_TAPS = 64
_SPRING_LIMIT_HZ = 4_200.0
_ACOUSTIC_CENTRE_MM = 100.0  # a cone is no point: it spreads as if from a hand's breadth behind the grille


@dataclass(frozen=True)
class Fuzz:
    fuzz: float
    bias: float
    volume: float


@dataclass(frozen=True)
class Amp:
    gain: float
    bass: float = 0.5
    middle: float = 0.5
    treble: float = 0.5
    reverb: float = 0.0
    volume: float = 0.5


@dataclass(frozen=True)
class Echo:
    time_ms: float
    repeats: float
    mix: float


@dataclass(frozen=True)
class Cabinet:
    """resonance_hz: where the box booms; high_limit_hz: where the speaker gives up; presence_db: peak below that."""

    resonance_hz: float
    high_limit_hz: float
    presence_db: float


ONE_BY_TWELVE = Cabinet(resonance_hz=105.0, high_limit_hz=5_200.0, presence_db=5.0)


@dataclass(frozen=True)
class Rig:
    """What a pass goes through before it is picked up. send_db: level out of the re-amp box against the source."""

    amp: Amp | None
    cabinet: Cabinet | None = None
    fuzz: Fuzz | None = None
    echo: Echo | None = None
    send_db: float = 0.0


@dataclass(frozen=True)
class Return:
    """How a pass comes back: by a microphone, or by a DI box where distance_mm is None.

    distance_mm: from the grille; offset_mm: from the middle of the cone; pressure_gradient: 0 for an omni, 0.5 for a
    cardioid, 1 for a figure of eight; latency_samples: what the converters and the DAW left uncompensated.
    """

    distance_mm: float | None = None
    offset_mm: float = 0.0
    pressure_gradient: float = 0.5
    room: float = 0.0
    gain_db: float = 0.0
    latency_samples: float = 0.0
    inverted: bool = False
    noise_dbfs: float = -80.0
    hum_dbfs: float | None = None
    mains_hz: float = 50.0


def render_pass(
    source: Samples, rig: Rig, returns: Sequence[Return], *, sample_rate_hz: int, seed: int
) -> tuple[Samples, ...]:
    """One trip of a source through the gear: one print for each return, each as long as the source."""
    sound = source * _ratio(rig.send_db)
    if rig.fuzz is not None:
        sound = fuzz(sound, rig.fuzz, sample_rate_hz)
    if rig.echo is not None:
        sound = echo(sound, rig.echo, sample_rate_hz)
    if rig.amp is not None:
        sound = amplified(sound, rig.amp, sample_rate_hz)
    if rig.cabinet is not None:
        sound = through_cabinet(sound, rig.cabinet, sample_rate_hz)
    return tuple(
        picked_up(sound, way, sample_rate_hz=sample_rate_hz, seed=seed + 100 * number)
        for number, way in enumerate(returns)
    )


def soft_clip(samples: Samples, drive_db: float, asymmetry: float) -> Samples:
    """tanh(g x + a) - tanh(a), oversampled four times; small signals come out at the gain they went in with."""
    bias = math.tanh(asymmetry)
    drive = _ratio(drive_db)

    def curve(x: NDArray[np.float32]) -> NDArray[np.float32]:
        return np.asarray((np.tanh(drive * x + asymmetry) - bias) / (1 - bias**2), dtype=np.float32)

    return _shaped(samples, curve)


def hard_clip(samples: Samples, drive_db: float, low: float, high: float) -> Samples:
    """Clipped between -low and +high, oversampled four times."""
    drive = _ratio(drive_db)
    return _shaped(samples, lambda x: np.clip(drive * x, -low, high))


def fuzz(samples: Samples, settings: Fuzz, sample_rate_hz: int) -> Samples:
    """Two unequal hard clippers. A starved bias clips one side early, and little comes through when notes die."""
    low = 0.12 + 0.88 * settings.bias
    pushed = soft_clip(_high_passed(samples, 45.0, sample_rate_hz), 8.0 + 26.0 * settings.fuzz, 0.2)
    starved = pushed - np.clip(pushed, -0.25 * (1 - settings.bias), 0.25 * (1 - settings.bias))
    squared = hard_clip(starved, 6.0 + 12.0 * settings.fuzz, low, 1.0)
    return (
        0.5
        * _taper(settings.volume)
        * _low_passed(_high_passed(squared, 30.0, sample_rate_hz), 6_500.0, sample_rate_hz)
    )


def echo(samples: Samples, settings: Echo, sample_rate_hz: int) -> Samples:
    """A delay pedal: each repeat quieter by the repeats control (0.9 at its end) and darker than the one before."""
    delay = round(settings.time_ms / 1000 * sample_rate_hz)
    out, repeat = samples.copy(), samples
    for _ in range(8):
        repeat = _low_passed(delayed(repeat, delay), 3_400.0, sample_rate_hz)
        out += settings.mix * repeat
        repeat = 0.9 * settings.repeats * repeat
    return out


def amplified(samples: Samples, settings: Amp, sample_rate_hz: int) -> Samples:
    """A valve combo's way: a first stage, tone controls, springs, an output stage that rounds off when it is up."""
    first = soft_clip(_high_passed(samples, 25.0, sample_rate_hz), 2.0 + 38.0 * settings.gain, 0.35)
    toned = tone_controls(_high_passed(first, 12.0, sample_rate_hz), settings, sample_rate_hz)
    if settings.reverb > 0:
        toned = toned + 0.9 * settings.reverb**1.5 * spring(toned, sample_rate_hz)
    return 0.5 * soft_clip(toned * _taper(settings.volume), 3.0, 0.05)


def tone_controls(samples: Samples, settings: Amp, sample_rate_hz: int) -> Samples:
    """Bass, middle and treble, each +-12 dB over its travel and flat at the middle."""
    sections = [
        _low_shelf(120.0, 24.0 * (settings.bass - 0.5), sample_rate_hz),
        _peak(520.0, 24.0 * (settings.middle - 0.5), 0.7, sample_rate_hz),
        _high_shelf(2_400.0, 24.0 * (settings.treble - 0.5), sample_rate_hz),
    ]
    return _filtered(np.array(sections), samples)


def through_cabinet(samples: Samples, cabinet: Cabinet, sample_rate_hz: int) -> Samples:
    """A closed box in outline: a boom, a presence peak, steep ends."""
    high_pass = dsp.butter(2, 0.75 * cabinet.resonance_hz, "highpass", fs=sample_rate_hz, output="sos")
    low_pass = dsp.butter(4, cabinet.high_limit_hz, fs=sample_rate_hz, output="sos")
    peaks = [
        _peak(cabinet.resonance_hz, 5.0, 1.6, sample_rate_hz),
        _peak(430.0, -3.5, 1.0, sample_rate_hz),
        _peak(0.52 * cabinet.high_limit_hz, cabinet.presence_db, 1.8, sample_rate_hz),
    ]
    return _filtered(np.concatenate([high_pass, peaks, low_pass]), samples)


def picked_up(samples: Samples, way: Return, *, sample_rate_hz: int, seed: int) -> Samples:
    """What a return prints: the microphone's view of the sound, late, at its gain, over hum and noise."""
    delay_samples = way.latency_samples
    if way.distance_mm is not None:
        samples = at_microphone(samples, way, sample_rate_hz, seed)
        delay_samples += flight_samples(way.distance_mm, sample_rate_hz)
    print_ = delayed(samples, delay_samples) * _ratio(way.gain_db) * (-1.0 if way.inverted else 1.0)
    print_ += noise(print_.size, way.noise_dbfs, seed)
    if way.hum_dbfs is not None:
        print_ += hum(print_.size, way.mains_hz, way.hum_dbfs, sample_rate_hz)
    return print_


def at_microphone(samples: Samples, way: Return, sample_rate_hz: int, seed: int) -> Samples:
    """Level by distance, bass by nearness, treble by where the microphone looks, and the room behind it all.

    Nearness: a gradient microphone at r from a point source reads 1 + gradient * c / (r s) of the pressure (a
    spherical wave, closed form); below 40 Hz that rise ends, as it does in real microphones.
    """
    if way.distance_mm is None:
        return samples
    away_mm = way.distance_mm + _ACOUSTIC_CENTRE_MM
    corner_rad_s = way.pressure_gradient * SPEED_OF_SOUND_M_S / (away_mm / 1000) + 2 * np.pi * 40
    near = dsp.bilinear([1.0, corner_rad_s], [1.0, 2 * np.pi * 40], sample_rate_hz)
    direct = np.asarray(dsp.lfilter(*near, samples)) * (_ACOUSTIC_CENTRE_MM / away_mm)
    direct = _filtered(np.array([_high_shelf(2_000.0, -0.09 * way.offset_mm, sample_rate_hz)]), direct)
    if way.room <= 0:
        return direct
    return direct + 0.25 * way.room * _in_boathouse(samples, sample_rate_hz, seed)


def _in_boathouse(samples: Samples, sample_rate_hz: int, seed: int) -> Samples:
    """A wooden room's tail: seeded noise that falls 60 dB in 0.7 s and starts 9 ms after the direct sound."""
    time_s = np.arange(round(0.7 * sample_rate_hz)) / sample_rate_hz
    tail = np.random.default_rng(seed + 7).standard_normal(time_s.size) * 10 ** (-3 * time_s / 0.7)
    tail[: round(0.009 * sample_rate_hz)] = 0.0
    tail = _low_passed(tail / np.sqrt(np.sum(tail**2)), 4_500.0, sample_rate_hz)
    return np.asarray(dsp.oaconvolve(samples, tail)[: samples.size])


def flight_samples(distance_mm: float, sample_rate_hz: int) -> float:
    """How late sound arrives after `distance_mm` of air."""
    return distance_mm / 1000 / SPEED_OF_SOUND_M_S * sample_rate_hz


def spring(samples: Samples, sample_rate_hz: int) -> Samples:
    """Echoes that chirp: each trip through the spring takes 37 ms at the bottom and longer towards 4.2 kHz.

    The echoes are a geometric series, summed in closed form: r e^-j(phase) / (1 - r e^-j(phase)), and the phase is the
    integral of the delay over frequency.
    """
    length = fft.next_fast_len(samples.size + 2 * sample_rate_hz, real=True)
    spectrum = fft.rfft(samples, length)
    frequency = fft.rfftfreq(length, 1 / sample_rate_hz)
    share = np.minimum(frequency / _SPRING_LIMIT_HZ, 1.0)
    trip = 0.62 * np.exp(-2j * np.pi * (0.037 * frequency + 0.012 * _SPRING_LIMIT_HZ * share**4))
    band = 1 / (1 + (frequency / _SPRING_LIMIT_HZ) ** 8) * (frequency / (frequency + 90.0))
    wet = fft.irfft(spectrum * band * trip / (1 - trip), length)
    return np.asarray(wet[: samples.size])


def delayed(samples: Samples, delay_samples: float) -> Samples:
    """Late by any number of samples of at least 0, same length; fractions by a Kaiser-windowed sinc of 64 taps."""
    if delay_samples < 0:
        raise ValueError("A sound cannot arrive before it was sent: the delay must be 0 samples or more.")
    whole = int(np.floor(delay_samples))
    fraction = delay_samples - whole
    if fraction:
        centre = _FRACTION_TAPS // 2
        away = np.arange(2 * centre + 1) - centre - fraction
        window = np.i0(9.0 * np.sqrt(np.clip(1 - (away / (centre + 1)) ** 2, 0, 1))) / np.i0(9.0)
        kernel = np.sinc(away) * window
        samples = np.convolve(samples, kernel / kernel.sum())[centre : centre + samples.size]
    return np.concatenate([np.zeros(whole), samples])[: samples.size]


def noise(length: int, level_dbfs: float, seed: int) -> Samples:
    """White noise of the stated rms level (dB re full scale, a full-scale square wave is 0)."""
    hiss = np.random.default_rng(seed).standard_normal(length)
    return np.asarray(hiss * (_ratio(level_dbfs) / np.sqrt(np.mean(hiss**2))))


def hum(length: int, mains_hz: float, level_dbfs: float, sample_rate_hz: int) -> Samples:
    """Mains and four harmonics, the stated rms level together."""
    shares_db = np.array([0.0, -4.0, -7.0, -13.0, -16.0])
    cycles = mains_hz * np.arange(length) / sample_rate_hz
    lines = sum(_ratio(share) * np.sin(2 * np.pi * (k + 1) * cycles + k) for k, share in enumerate(shares_db))
    return np.asarray(lines * (_ratio(level_dbfs) / np.sqrt(np.sum(10 ** (shares_db / 10)) / 2)))


def cut_short(samples: Samples, length_s: float, sample_rate_hz: int) -> Samples:
    return samples[: round(length_s * sample_rate_hz)]


def converted(samples: Samples) -> Samples:
    """What a converter makes of a signal: past full scale it is flat."""
    return np.clip(samples, -1.0, 1.0)


def _shaped(samples: Samples, curve: Callable[[NDArray[np.float32]], NDArray[np.float32]]) -> Samples:
    """A memoryless curve at four times the rate, so that its harmonics do not fold back.

    In single precision, whose rounding lies 140 dB down: this is where a pass spends its time.
    """
    fine = soxr.resample(samples.astype(np.float32), 1, _OVERSAMPLING)
    shaped = soxr.resample(curve(fine), _OVERSAMPLING, 1).astype(np.float64)
    return np.concatenate([shaped, np.zeros(max(0, samples.size - shaped.size))])[: samples.size]


def _taper(position: float) -> float:
    """An audio-taper volume control: 0 at the bottom, 1 a little past the middle, 3 at the top."""
    return 3.0 * float(position**1.8)


def _ratio(level_db: float) -> float:
    return float(10.0 ** (level_db / 20.0))


def _filtered(sections: NDArray[np.float64], samples: Samples) -> Samples:
    return np.asarray(dsp.sosfilt(sections, samples), dtype=np.float64)


def _high_passed(samples: Samples, corner_hz: float, sample_rate_hz: int) -> Samples:
    return _filtered(dsp.butter(1, corner_hz, "highpass", fs=sample_rate_hz, output="sos"), samples)


def _low_passed(samples: Samples, corner_hz: float, sample_rate_hz: int) -> Samples:
    return _filtered(dsp.butter(2, corner_hz, fs=sample_rate_hz, output="sos"), samples)


# Second-order sections after the W3C note "Audio EQ Cookbook" (R. Bristow-Johnson); shelves of slope 1.


def _peak(centre_hz: float, gain_db: float, q: float, sample_rate_hz: int) -> NDArray[np.float64]:
    a = 10 ** (gain_db / 40)
    w = 2 * np.pi * centre_hz / sample_rate_hz
    alpha = np.sin(w) / (2 * q)
    b = [1 + alpha * a, -2 * np.cos(w), 1 - alpha * a]
    return _section(b, [1 + alpha / a, -2 * np.cos(w), 1 - alpha / a])


def _low_shelf(corner_hz: float, gain_db: float, sample_rate_hz: int) -> NDArray[np.float64]:
    a = 10 ** (gain_db / 40)
    w = 2 * np.pi * corner_hz / sample_rate_hz
    cos, beta = np.cos(w), np.sqrt(2 * a) * np.sin(w)
    b = [
        a * (a + 1 - (a - 1) * cos + beta),
        2 * a * (a - 1 - (a + 1) * cos),
        a * (a + 1 - (a - 1) * cos - beta),
    ]
    return _section(
        b, [a + 1 + (a - 1) * cos + beta, -2 * (a - 1 + (a + 1) * cos), a + 1 + (a - 1) * cos - beta]
    )


def _high_shelf(corner_hz: float, gain_db: float, sample_rate_hz: int) -> NDArray[np.float64]:
    a = 10 ** (gain_db / 40)
    w = 2 * np.pi * corner_hz / sample_rate_hz
    cos, beta = np.cos(w), np.sqrt(2 * a) * np.sin(w)
    b = [
        a * (a + 1 + (a - 1) * cos + beta),
        -2 * a * (a - 1 + (a + 1) * cos),
        a * (a + 1 + (a - 1) * cos - beta),
    ]
    return _section(
        b, [a + 1 - (a - 1) * cos + beta, 2 * (a - 1 - (a + 1) * cos), a + 1 - (a - 1) * cos - beta]
    )


def _section(numerator: Sequence[float], denominator: Sequence[float]) -> NDArray[np.float64]:
    return np.array([*numerator, *denominator], dtype=np.float64) / denominator[0]
