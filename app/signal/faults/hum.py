"""Mains hum: lines at 50 or 60 Hz and multiples that keep level and phase while the music comes and goes.

A note may sit on a mains frequency, but it starts, decays and stops. So around every multiple of the mains the signal is
brought down to zero frequency and looked at in windows of 0.3 s: hum is one and the same complex value in all of
them, whatever is added to it. That value is estimated robustly, windows in which little else sounds counting most (the
quiet moments of this one line, which under a bass that never rests are those of other notes). A line counts when enough windows
agree on the value, and when no other frequency nearby does as well: a loop that repeats exactly has steady lines too,
but so has all its neighbourhood. A rhythm of equal hits on a grid of 24 a second, as a machine plays triplets at 90 beats
a minute, is steady at every 24 Hz, so where hum seems to be there, a line must also be better than what lies to both of its
sides at one distance.

The ±1 % search range is that of EN 50160 for 10 s means; 60 Hz by analogy. Thresholds are ours, set so that recorded
loops, rendered parts and synthesised lines without hum raise no alarm.
"""

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from app.signal.audio.parabola import parabola_peak
from app.signal.audio.reading import Samples
from app.signal.audio.transforms import fast_length, fft, irfft, rfft
from app.signal.figures import Hum

# Set by hand as said above; not measured singly, unless a line says where it comes from.
SHORTEST_S, CHUNK_S = 2.0, 16.0
"""The least that is looked at, some six windows; and the most in one piece."""
QUIET_CHUNKS = 8
"""For time: the quietest of a file, two minutes of it."""
SILENCE, SMALLEST = 1e-12, np.float32(1e-16)
"""In power: a chunk below -120 dBFS holds nothing; and what keeps a division from nought."""
MAINS_HZ = (50.0, 60.0)
"""The world's two."""
TOLERANCE = 0.01
"""EN 50160 for 10 s means, as above."""
VOTERS, HARMONICS = 4, 10
"""How many multiples decide on the frequency (higher ones may lie outside their windows' reach), and how many are hum."""
GRID = 201
"""Frequencies tried within the tolerance: 0.005 Hz apart at 50 Hz, which over a chunk is a twelfth of a turn."""
NUDGE_HZ, NUDGES = 0.06, 12
"""Then so many to either side of the clearest multiple, as far as this: 0.005 Hz apart again, of a multiple."""
WINDOW_S, BAND_HZ = 0.3, 10.0
"""Hann windows of 0.3 s, looked at `BAND_HZ` to either side of a multiple, 20 of them a second."""
TURNS = 2048
"""Frequencies of 20 Hz at which windows are explained: 0.01 Hz apart."""
NEIGHBOURHOOD_HZ, ALONE_HZ = 4.0, 0.3
"""A line must be better than all others so near, but for those that are itself."""
COMB_BANDS, COMB_BAND_HZ, COMB_STEP_HZ = 6, 5.0, 0.02
"""The teeth of a rhythm's comb are looked for in so many bands to either side, 32.5 Hz in all: no grid that is played is
finer, and 50 Hz away lies the mains' own comb. How much of a band about its middle is read, where a window still lets it
through; and how finely."""
PASSES = 6
"""Of the reweighting."""
NEAR = 0.5
"""A window agrees on a line's value when it is off by less than half of it."""
LEAST_SHARE, LEAST_RATIO_DB = 0.15, 5.0
"""Of windows that agree, beyond those that would by chance; and of the line over its best neighbour."""
PART_SHARE, PART_RATIO_DB = 0.08, 2.0
"""The same for a further line of hum that is there beyond doubt: its level is added, it proves nothing."""
MANY_PARTS = 3
"""More such lines than this, one of them sure, are hum together."""
ANCHORS = 3
"""One of the first so many multiples must be there: what has only higher ones is a note."""
LOOP_S, LOOP_LIKENESS = 0.25, 0.9
"""The shortest loop looked for, and how alike its turns are at least (normalised autocorrelation)."""
LEAST_LEFT = 0.5
"""A line of which less is left when a loop's turns are taken from each other is not to be told from the loop."""
CLEAR_SHARE, CLEAR_RATIO_DB, LONG_S = 0.5, 12.0, 8.0
"""One line alone is hum only where it is clear, for long enough that a held note would have changed; or where it is the
mains' own:"""
OWN_WITHIN, OWN_SHARE, OWN_EVIDENCE = 0.002, 0.1, 2.5
"""A first line this near to 50 or 60 Hz, where grids run nearly always (ENTSO-E: 0.05 Hz is their standard range, from
memory) and notes do not, needs fewer windows that agree and is so much evidence by itself."""
ENOUGH, ENOUGH_IF_SHORT = 3.0, 4.0
"""Evidence, as log-odds, from which hum is likelier than not; more where the file is shorter than LONG_S."""
LOWEST_DBFS = -85.0
"""Hum that is quieter is not told. Chosen by ear; not measured."""

Complex = NDArray[np.complexfloating[Any, Any]]


@dataclass(frozen=True, slots=True)
class _Bands:
    """The signal around K frequencies, each turned down to zero: a sine of peak level a gives |value| = a.

    `values` are (K, N), `step_s` apart. `explained` (K, TURNS) says how well each frequency, from centre - 10 Hz on,
    explains the quiet windows.
    """

    centres_hz: NDArray[Any]
    step_s: float
    loop_s: float
    values: Complex
    explained: NDArray[Any]

    def at(self, hz: NDArray[np.float64]) -> NDArray[Any]:
        """`explained` at (K, M) frequencies."""
        place = (hz - self.centres_hz[:, None]) * (TURNS * self.step_s) + TURNS / 2
        columns = np.clip(np.rint(place).astype(np.int64), 0, TURNS - 1)
        return np.take_along_axis(self.explained, columns, axis=1)


@dataclass(frozen=True, slots=True)
class _Line:
    """One multiple of the mains: power of its peak value, share of windows that agree, ratio to its best neighbour."""

    order: int
    power: float
    share: float
    ratio_db: float

    def is_sure(self, least_share: float) -> bool:
        return self.share >= least_share and self.ratio_db >= LEAST_RATIO_DB


@dataclass(frozen=True, slots=True)
class _Chunk:
    """The spectrum of a stretch; and after how long its music repeats itself, 0 where it does not."""

    spectrum: Complex
    loop_s: float


class HumSearch:
    """Collects the quietest stretches of the low-rate signal; memory does not grow with the file."""

    def __init__(self, low_rate: float, duration_s: float) -> None:
        self._rate = low_rate
        self._length = round(min(CHUNK_S, max(duration_s - 0.1, SHORTEST_S)) * low_rate)
        self._pending: list[Samples] = []
        self._held = 0
        self._quiet: list[tuple[float, Samples]] = []

    def feed(self, low: Samples) -> None:
        self._pending.append(low)
        self._held += len(low)
        while self._held >= self._length:
            joined = np.concatenate(self._pending)
            self._take(joined[: self._length])
            self._pending = [joined[self._length :]]
            self._held -= self._length

    def _take(self, chunk: Samples) -> None:
        power = float(np.einsum("i,i->", chunk, chunk)) / len(chunk)
        if power < SILENCE:
            return
        self._quiet.append((power, chunk))
        if len(self._quiet) > QUIET_CHUNKS:
            self._quiet.remove(max(self._quiet, key=lambda pair: pair[0]))

    def hum(self) -> Hum | None:
        """The hum found, or None; its level is the rms of the lines found together."""
        if not self._quiet:
            return None
        chunks = [chunk for _, samples in self._quiet for chunk in self._chunks(samples)]
        hums = [hum for mains_hz in MAINS_HZ if (hum := self._hum(chunks, mains_hz)) is not None]
        return max(hums, key=lambda hum: (hum.confidence, hum.level_dbfs), default=None)

    def _chunks(self, samples: Samples) -> list[_Chunk]:
        spectrum = rfft(samples, len(samples))
        loops = _loops(spectrum, len(samples), self._rate)
        return [_Chunk(spectrum, loop / self._rate) for loop in loops]

    def _hum(self, chunks: list[_Chunk], mains_hz: float) -> Hum | None:
        bin_hz = self._rate / self._length
        fundamental = _fundamental(chunks, bin_hz, mains_hz)
        lines = _lines(chunks, bin_hz, fundamental)
        hum = self._hum_of(lines, mains_hz, fundamental)
        return hum and self._hum_of(_without_combs(chunks, bin_hz, fundamental, lines), mains_hz, fundamental)

    def _hum_of(self, lines: list[_Line], mains_hz: float, fundamental: float) -> Hum | None:
        length_s = self._length / self._rate
        nominal = abs(fundamental / mains_hz - 1) <= OWN_WITHIN
        sure = [
            line for line in lines if line.is_sure(OWN_SHARE if nominal and line.order == 1 else LEAST_SHARE)
        ]
        parts = [line for line in lines if line.share >= PART_SHARE and line.ratio_db >= PART_RATIO_DB]
        # 300 Hz is the 6th multiple of 50 and the 5th of 60, so it decides nothing
        own, own_parts = ([line for line in some if (line.order * mains_hz) % 300] for some in (sure, parts))
        together = own_parts if len(own_parts) > MANY_PARTS else own
        clear = any(line.share >= CLEAR_SHARE and line.ratio_db >= CLEAR_RATIO_DB for line in own)
        mains_own = nominal and any(line.order == 1 for line in own)
        if not any(line.order <= ANCHORS for line in own):
            return None
        if len(together) < 2 and not ((clear or mains_own) and length_s >= LONG_S):
            return None
        evidence = OWN_EVIDENCE * mains_own + sum(
            4 * line.share + max(0.0, min(line.ratio_db, 20) - LEAST_RATIO_DB) / 5 for line in together
        )
        enough = ENOUGH if length_s >= LONG_S else ENOUGH_IF_SHORT
        confidence = 1 / (1 + math.exp(enough - evidence))
        level = sum(line.power for line in parts)
        if confidence < 0.5 or level < 10 ** (LOWEST_DBFS / 10):
            return None
        return Hum(
            fundamental, 10 * math.log10(level / 2), round(confidence, 3)
        )  # a line of amplitude a has a²/2


def _fundamental(chunks: list[_Chunk], bin_hz: float, mains_hz: float) -> float:
    """The frequency whose first multiples explain the quiet windows best, and then the clearest of them alone.

    Where only one is there, the others' noise moves the vote by some hundredths of a hertz, which over a chunk is a
    good part of a turn and costs the line tenths of a decibel.
    """
    orders = np.arange(1, VOTERS + 1)
    grid = mains_hz * np.linspace(1 - TOLERANCE, 1 + TOLERANCE, GRID)
    votes = np.zeros((VOTERS, GRID))
    in_hand = [_bands(chunk, bin_hz, orders * mains_hz) for chunk in chunks]
    for bands in in_hand:
        votes += np.log1p(bands.at(orders[:, None] * grid) / (0.08 * bands.values.shape[1]))
    best = int(np.argmax(votes.sum(axis=0)))
    order = int(np.argmax(votes[:, best])) + 1
    finer_hz = order * grid[best] + np.linspace(-NUDGE_HZ, NUDGE_HZ, 2 * NUDGES + 1)
    near = sum(bands.at(np.tile(finer_hz, (VOTERS, 1)))[order - 1] for bands in in_hand)
    exact_hz = float(finer_hz[int(np.argmax(near))]) / order
    return min(max(exact_hz, float(grid[0])), float(grid[-1]))


def _lines(chunks: list[_Chunk], bin_hz: float, fundamental_hz: float) -> list[_Line]:
    """Every multiple that some chunk can tell: median power, mean share and ratio over those chunks."""
    at_hz = fundamental_hz * np.arange(1, HARMONICS + 1)
    read = np.array([_read(_bands(chunk, bin_hz, at_hz), at_hz) for chunk in chunks])
    lines = []
    for order in range(1, HARMONICS + 1):
        told = read[:, :, order - 1][~np.isnan(read[:, 0, order - 1])]
        if len(told):
            lines.append(
                _Line(order, float(np.median(told[:, 0])), *(float(x) for x in told[:, 1:].mean(axis=0)))
            )
    return lines


def _without_combs(
    chunks: list[_Chunk], bin_hz: float, fundamental_hz: float, lines: list[_Line]
) -> list[_Line]:
    """The lines, without those that may be a rhythm's comb."""
    return [
        line
        for line in lines
        if line.share < PART_SHARE
        or line.ratio_db < PART_RATIO_DB
        or _over_comb_db(chunks, bin_hz, line.order * fundamental_hz) >= LEAST_RATIO_DB
    ]


def _over_comb_db(chunks: list[_Chunk], bin_hz: float, hz: float) -> float:
    """How far a line stands above the frequencies at one distance to both its sides that explain the quiet windows best, of
    all chunks together that can tell it."""
    middles = hz + COMB_BAND_HZ * np.arange(-COMB_BANDS, COMB_BANDS + 1)
    at_hz = middles[:, None] + np.arange(-COMB_BAND_HZ / 2, COMB_BAND_HZ / 2 - COMB_STEP_HZ / 2, COMB_STEP_HZ)
    explained = np.zeros(at_hz.size)
    for chunk in chunks:
        if _left(chunk.loop_s, np.array([hz]))[0] >= LEAST_LEFT:
            explained += _bands(chunk, bin_hz, middles).at(at_hz).ravel()
    middle, nearest = len(explained) // 2, round(NEIGHBOURHOOD_HZ / COMB_STEP_HZ)
    teeth = np.minimum(explained[middle + nearest :], explained[middle - nearest : 0 : -1])
    return float(10 * np.log10((explained[middle] + SMALLEST) / (teeth.max() + SMALLEST)))


def _left(loop_s: float, hz: NDArray[Any]) -> NDArray[Any]:
    """How much is left of a line when a loop's turns are taken from each other."""
    return 2 * np.abs(np.sin(np.pi * hz * loop_s)) if loop_s else np.ones(len(hz))


def _loops(spectrum: Complex, count: int, rate: float) -> list[float]:
    """After how many samples the music repeats itself nearly exactly, once, twice and three times; [0] if never.

    The mains' own frequencies are left out, for hum repeats itself too. What one turn cannot tell from the loop, being a
    multiple of its rate or nearly, two or three may.
    """
    music_only = spectrum.copy()
    for hz in (k * mains for mains in MAINS_HZ for k in range(1, HARMONICS + 1)):
        reach = max(2.0, TOLERANCE * hz)
        low, high = (round(edge * count / rate) for edge in (hz - reach, hz + reach))
        music_only[low : high + 1] = 0
    ringing = round(WINDOW_S * rate)
    music = irfft(music_only, count)[ringing:-ringing]
    held = len(music)
    lags = np.arange(round(LOOP_S * rate), held // 2)
    size = fast_length(held + held // 2)
    padded = rfft(music, size)
    products = irfft(padded.real**2 + padded.imag**2, size)[: held // 2 + 1]
    energy = np.concatenate(([0.0], np.cumsum(music * music, dtype=np.float64)))
    likeness = products[lags] / np.sqrt(energy[held - lags] * (energy[-1] - energy[lags]) + 1e-20)
    best = float(likeness.max())
    if best < LOOP_LIKENESS:
        return [0.0]
    lag = int(lags[int(np.argmax(likeness >= best - 0.002))]) - 3
    lag += int(np.argmax(products[lag : lag + 7]))
    turn = lag + parabola_peak(*products[lag - 1 : lag + 2].tolist())[0]
    return [n * turn for n in (1, 2, 3) if n * turn <= count / 2]


def hann_spectrum(bins: NDArray[Any]) -> NDArray[Any]:
    """A Hann window's spectrum so many bins (of its own length) from its middle, where it is 1 (Harris 1978)."""
    with np.errstate(divide="ignore", invalid="ignore"):
        between = np.sinc(bins) / (1 - bins**2)
    return np.where(np.abs(np.abs(bins) - 1) < 1e-6, 0.5, between)


def _bands(chunk: _Chunk, bin_hz: float, centres_hz: NDArray[Any]) -> _Bands:
    """The Hann windows' values, straight from the spectrum; where the chunk is a loop, less those one loop before."""
    half = round(BAND_HZ / bin_hz)
    near = np.arange(-half, half)
    bins = np.rint(centres_hz / bin_hz).astype(np.int64)
    turns = near * (bin_hz * WINDOW_S)
    around = bins[:, None] + near
    parts = chunk.spectrum[around] * (hann_spectrum(turns) * (2 * half / (len(chunk.spectrum) - 1)))
    if chunk.loop_s:
        parts = parts * (1 - np.exp(-2j * np.pi * chunk.loop_s * bin_hz * around))
    step_s = 1 / (2 * half * bin_hz)
    edge = math.ceil(WINDOW_S / 2 / step_s)
    values = np.fft.ifft(np.fft.ifftshift(parts, axes=1))
    values = values[:, edge + math.ceil(chunk.loop_s / step_s) : -edge].astype(np.complex64)
    power = values.real**2 + values.imag**2
    weights = 1 / (power + _quarter(power) + SMALLEST)
    spectra = np.fft.fftshift(fft(weights * values, TURNS), axes=1)
    explained = (spectra.real**2 + spectra.imag**2) / (
        (weights**2 * power).sum(axis=1, keepdims=True) + SMALLEST
    )
    return _Bands(bins * bin_hz, step_s, chunk.loop_s, values, explained)


def _quarter(values: NDArray[Any]) -> NDArray[Any]:
    """The lower quartile of each row."""
    place = values.shape[1] // 4
    return np.partition(values, place, axis=1)[:, place : place + 1]


def _read(bands: _Bands, hz: NDArray[Any]) -> NDArray[np.float64]:
    """(3, K): power, share and ratio of the line at each `hz`; nan where a loop hides it or leaves too little to see it.

    The value of a line is estimated by windows that are far off it counting little (iterated reweighting).
    """
    count = bands.values.shape[1]
    alone_hz = max(ALONE_HZ, 1.5 / (count * bands.step_s)) if count else math.inf
    if alone_hz >= NEIGHBOURHOOD_HZ:
        return np.full((3, len(hz)), np.nan)
    at = np.arange(count) * bands.step_s
    values = bands.values * np.exp(-2j * np.pi * (hz - bands.centres_hz)[:, None] * at).astype(np.complex64)
    off = values.real**2 + values.imag**2
    floor = _quarter(off)
    value = np.zeros((len(hz), 1), dtype=np.complex64)
    for _ in range(PASSES):
        weights = 1 / (off + floor + SMALLEST)
        value = (weights * values).sum(axis=1, keepdims=True) / weights.sum(axis=1, keepdims=True)
        away = values - value
        off = away.real**2 + away.imag**2
        floor = np.maximum(_quarter(off), 0.01 * np.abs(value) ** 2)
    reach = NEAR * np.abs(value)
    agreeing, *by_chance = ((np.abs(values - turn * value) < reach).mean(axis=1) for turn in (1, 1j, -1, -1j))
    away_hz = np.linspace(-NEIGHBOURHOOD_HZ, NEIGHBOURHOOD_HZ, 401)
    away_hz = away_hz[np.abs(away_hz) > alone_hz]
    others = bands.at(hz[:, None] + away_hz).max(axis=1)
    ratio_db = 10 * np.log10(bands.at(hz[:, None])[:, 0] / (others + SMALLEST) + 1e-9)
    left = _left(bands.loop_s, hz)
    left[left < LEAST_LEFT] = np.nan
    power = (np.abs(value[:, 0]) / left) ** 2
    share = agreeing - np.max(by_chance, axis=0) + 0 * left
    return np.array([power, share, ratio_db])
