"""Modelled gear for the corpus. Each piece is a function of the signal that can also run as its linear part alone,
so that a chain's true arrival can be read from its own impulse response.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft, signal

Audio = NDArray[np.float64]
RATE = 48000


@dataclass(frozen=True)
class Piece:
    name: str
    play: Callable[[Audio], Audio]
    linear: Callable[[Audio], Audio]
    """The piece with its non-linear or moving part taken out; the identity where nothing is left."""


def _same(x: Audio) -> Audio:
    return x


def _filter(name: str, b: Audio, a: Audio) -> Piece:
    def play(x: Audio) -> Audio:
        return np.asarray(signal.lfilter(b, a, x))

    return Piece(name, play, play)


def _sections(name: str, sos: Audio) -> Piece:
    def play(x: Audio) -> Audio:
        return np.asarray(signal.sosfilt(sos, x))

    return Piece(name, play, play)


def high_pass(hz: float, order: int = 1) -> Piece:
    return _sections(f"high-pass {hz:g}", signal.butter(order, hz, "high", fs=RATE, output="sos"))


def low_pass(hz: float, order: int = 2) -> Piece:
    return _sections(f"low-pass {hz:g}", signal.butter(order, hz, "low", fs=RATE, output="sos"))


def peaking(hz: float, gain_db: float, q: float = 1.0) -> Piece:
    a = 10 ** (gain_db / 40)
    w = 2 * np.pi * hz / RATE
    alpha = np.sin(w) / (2 * q)
    b = np.array([1 + alpha * a, -2 * np.cos(w), 1 - alpha * a])
    c = np.array([1 + alpha / a, -2 * np.cos(w), 1 - alpha / a])
    return _filter(f"{gain_db:+g} dB at {hz:g}", b / c[0], c / c[0])


def inverter() -> Piece:
    return Piece("inverter", lambda x: -x, lambda x: -x)


def fir(name: str, taps: Audio, lead: int = 0) -> Piece:
    """A FIR filter; `lead` samples of its own latency are taken out."""

    def play(x: Audio) -> Audio:
        y = signal.oaconvolve(x, taps)
        return np.asarray(y[lead : lead + len(x)])

    return Piece(name, play, play)


def cabinet(seed: int, *, linear_phase: bool = False, top_hz: float = 5000) -> Piece:
    """A loudspeaker and microphone: band-limited, with bumps and dips of its own."""
    rng = np.random.default_rng(seed)
    hz = np.fft.rfftfreq(4096, 1 / RATE)
    octave = np.log2(np.maximum(hz, 1) / 1000)
    knots = np.linspace(-5, 5, 26)
    bumps = np.interp(octave, knots, 4 * rng.standard_normal(len(knots)))
    shape = bumps - 10 * np.log10(1 + (75 / np.maximum(hz, 1)) ** 4) - 10 * np.log10(1 + (hz / top_hz) ** 8)
    gain = 10 ** (np.maximum(shape, -70) / 20)
    if linear_phase:
        taps = np.fft.fftshift(np.fft.irfft(gain))[2048 - 1024 : 2048 + 1025] * np.hanning(2049)
        return fir(f"linear-phase cabinet {seed}", taps, 1024)
    cepstrum = np.fft.irfft(np.log(gain))
    cepstrum[1:2048] *= 2
    cepstrum[2049:] = 0
    taps = np.fft.irfft(np.exp(np.fft.rfft(cepstrum)))[:2048]
    for _ in range(4):
        at = int(rng.integers(20, 400))
        echo = 0.25 * rng.standard_normal() * np.exp(-at / 200)
        taps[at:] += echo * taps[:-at]
    return fir(f"cabinet {seed}", taps)


def room(seed: int, seconds: float, wet: float) -> Piece:
    """A direct sound and a decaying tail, `wet` times its energy."""
    rng = np.random.default_rng(seed)
    count = round(seconds * RATE)
    tail = rng.standard_normal(count) * 10 ** (-3 * np.arange(count) / count)
    tail[:240] = 0
    taps = tail / np.sqrt(np.sum(tail**2)) * wet
    taps[0] = 1
    return fir(f"reverb {seconds:g} s", taps)


def echo(delay_s: float, feedback: float, wet: float) -> Piece:
    taps = np.zeros(round(delay_s * RATE) * 5 + 1)
    taps[0] = 1
    for n in range(1, 6):
        taps[n * round(delay_s * RATE)] = wet * feedback ** (n - 1)
    return fir("echo", taps)


def _driven(name: str, curve: Callable[[Audio], Audio]) -> Piece:
    """A memoryless curve, four times oversampled so that it does not alias, with no latency."""

    def play(x: Audio) -> Audio:
        up = signal.resample_poly(x, 4, 1)
        return np.asarray(signal.resample_poly(curve(up), 1, 4)[: len(x)])

    return Piece(name, play, _same)


def overdrive(gain: float, bias: float = 0.2) -> Piece:
    return _driven(f"overdrive ×{gain:g}", lambda x: np.tanh(gain * x + bias) - np.tanh(bias))


def fuzz(gain: float, bias: float = 0.05) -> Piece:
    return _driven(f"fuzz ×{gain:g}", lambda x: 0.5 * np.clip(gain * x + bias, -1, 1) - 0.5 * min(1.0, bias))


def octave_up() -> Piece:
    """A full-wave rectifier: no polarity is left."""
    return _driven("octave up", lambda x: np.abs(x) - 0.05)


def octave_down(dry: float) -> Piece:
    """A divider: the low-passed signal, turned over at every other rising zero crossing."""
    smooth = signal.butter(2, 400, "low", fs=RATE, output="sos")

    def play(x: Audio) -> Audio:
        low = signal.sosfilt(smooth, x)
        state = np.zeros(len(x))
        rising = (
            np.flatnonzero((low[1:] > 0.002) & (np.maximum.accumulate(low)[:-1] > 0) & (low[:-1] <= 0.002))
            + 1
        )
        state[rising] = 1
        flip = 1 - 2 * (np.cumsum(state) % 2)
        return np.asarray(dry * x + low * flip)

    def linear(x: Audio) -> Audio:
        return np.asarray(dry * x + signal.sosfilt(smooth, x))

    return Piece(f"octave down, {dry:g} dry", play, linear)


def gate(threshold: float, seconds: float = 0.02) -> Piece:
    def play(x: Audio) -> Audio:
        level = signal.lfilter(
            [1 - np.exp(-1 / (seconds * RATE))], [1, -np.exp(-1 / (seconds * RATE))], np.abs(x)
        )
        open_ = (level > threshold).astype(float)
        smooth = signal.lfilter([1 - np.exp(-1 / (0.004 * RATE))], [1, -np.exp(-1 / (0.004 * RATE))], open_)
        return np.asarray(x * smooth)

    return Piece("gate", play, _same)


def compressor(threshold: float, ratio: float, seconds: float = 0.08) -> Piece:
    def play(x: Audio) -> Audio:
        pole = np.exp(-1 / (seconds * RATE))
        level = signal.lfilter([1 - pole], [1, -pole], np.abs(x)) + 1e-6
        gain = np.minimum(1.0, (level / threshold) ** (1 / ratio - 1))
        return np.asarray(x * gain)

    return Piece(f"compressor {ratio:g}:1", play, _same)


def _at(x: Audio, position: Audio) -> Audio:
    """x at fractional positions, by cubic (Catmull-Rom) interpolation."""
    position = np.clip(position, 1, len(x) - 3)
    n = position.astype(int)
    f = position - n
    p0, p1, p2, p3 = x[n - 1], x[n], x[n + 1], x[n + 2]
    return p1 + 0.5 * f * (p2 - p0 + f * (2 * p0 - 5 * p1 + 4 * p2 - p3 + f * (3 * (p1 - p2) + p3 - p0)))


def chorus(depth_ms: float, rate_hz: float, wet: float) -> Piece:
    def play(x: Audio) -> Audio:
        t = np.arange(len(x))
        moved = (8 + depth_ms * np.sin(2 * np.pi * rate_hz * t / RATE)) * RATE / 1000
        return np.asarray(x + wet * _at(x, t - moved))

    return Piece("chorus", play, _same)


def vibrato(depth_ms: float, rate_hz: float) -> Piece:
    """All of the signal moves; the arrival meant is the middle of the movement, 5 ms."""
    middle = round(0.005 * RATE)

    def play(x: Audio) -> Audio:
        t = np.arange(len(x))
        moved = middle + depth_ms * np.sin(2 * np.pi * rate_hz * t / RATE) * RATE / 1000
        return np.asarray(_at(x, t - moved))

    def linear(x: Audio) -> Audio:
        return np.concatenate((np.zeros(middle), x[:-middle]))

    return Piece(f"vibrato ±{depth_ms:g} ms", play, linear)


def tremolo(depth: float, rate_hz: float) -> Piece:
    def play(x: Audio) -> Audio:
        return np.asarray(
            x * (1 - depth * (0.5 + 0.5 * np.sin(2 * np.pi * rate_hz * np.arange(len(x)) / RATE)))
        )

    return Piece("tremolo", play, _same)


def wah(rate_hz: float = 1.5) -> Piece:
    """A resonant band-pass that sweeps 400 Hz to 2 kHz, as a moving mix of fixed ones, with some of the signal."""
    bank = [
        signal.butter(1, (hz * 0.8, hz * 1.25), "band", fs=RATE, output="sos")
        for hz in (400, 700, 1200, 2000)
    ]

    def play(x: Audio) -> Audio:
        place = 1.5 + 1.5 * np.sin(2 * np.pi * rate_hz * np.arange(len(x)) / RATE)
        out = 0.1 * x
        for n, sos in enumerate(bank):
            out = out + np.maximum(0, 1 - np.abs(place - n)) * signal.sosfilt(sos, x)
        return np.asarray(out)

    return Piece("wah", play, _same)


def phaser(rate_hz: float = 0.6) -> Piece:
    """Dry and a moving mix of two all-pass chains."""

    def allpass(x: Audio, hz: float) -> Audio:
        c = (np.tan(np.pi * hz / RATE) - 1) / (np.tan(np.pi * hz / RATE) + 1)
        for _ in range(4):
            x = np.asarray(signal.lfilter([c, 1], [1, c], x))
        return x

    def play(x: Audio) -> Audio:
        move = 0.5 + 0.5 * np.sin(2 * np.pi * rate_hz * np.arange(len(x)) / RATE)
        return np.asarray(x + 0.7 * (move * allpass(x, 500) + (1 - move) * allpass(x, 1500)))

    return Piece("phaser", play, _same)


def crusher(bits: int) -> Piece:
    return Piece(f"{bits} bits", lambda x: np.round(x * 2**bits) / 2**bits, _same)


def hiss(level_db: float, seed: int) -> Piece:
    def play(x: Audio) -> Audio:
        return x + np.random.default_rng(seed).standard_normal(len(x)) * 10 ** (level_db / 20)

    return Piece(f"hiss {level_db:g}", play, _same)


def mains(level_db: float, hz: float) -> Piece:
    """Hum: its lines at level, -6 and -10 dB below, each a sine of that peak level."""

    def play(x: Audio) -> Audio:
        t = np.arange(len(x)) / RATE
        lines = [(1, 0.0), (2, -6.0), (3, -10.0)]
        return x + sum(10 ** ((level_db + db) / 20) * np.sin(2 * np.pi * hz * k * t + k) for k, db in lines)

    return Piece(f"hum {level_db:g}", play, _same)


def delayed(x: Audio, samples: float) -> Audio:
    """x later by a fraction of a sample (exact by phase), same length."""
    size = fft.next_fast_len(len(x) + 4096, real=True)
    turns = np.exp(-2j * np.pi * np.fft.rfftfreq(size) * samples)
    return np.asarray(fft.irfft(fft.rfft(x, size) * turns, size)[: len(x)])


def arrival(chain: list[Piece]) -> tuple[float, int]:
    """Where the chain's linear impulse response peaks, in samples, and its sign there."""
    impulse = np.zeros(8192)
    impulse[1024] = 1
    for piece in chain:
        impulse = piece.linear(impulse)
    fine = np.fft.irfft(np.fft.rfft(impulse), 16 * len(impulse)) * 16
    peak = int(np.argmax(np.abs(fine)))
    return peak / 16 - 1024, 1 if fine[peak] > 0 else -1


def drifted(x: Audio, ppm: float) -> Audio:
    """x as a clock slower by `ppm` would have it: every event at t comes at t·(1 + ppm/1e6). Windowed-sinc exact."""
    position = np.arange(len(x)) / (1 + ppm * 1e-6)
    n = np.floor(position).astype(int)
    out = np.zeros(len(x))
    padded = np.concatenate((np.zeros(16), x, np.zeros(17)))
    for tap in range(-15, 17):
        distance = position - n - tap
        window = np.cos(np.pi * distance / 33) ** 2
        out += padded[np.minimum(n + tap + 16, len(padded) - 1)] * np.sinc(distance) * window
    return out
