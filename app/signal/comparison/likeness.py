"""What two prints, laid beside one another, differ by: plain arithmetic on the sums of `beside`.

Each difference comes with its standard error, from how it varies from stretch to stretch: what a chorus or a tremolo does to
one passage at one time and to another at the next is told from what somebody set.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from app.signal.audio.parabola import parabola_peak
from app.signal.comparison.beside import FRAMES_A_STRETCH, Beside, Power
from app.signal.comparison.tolerances import HEARD_BELOW_LOUDEST_DB
from app.signal.figures import BandDifference
from app.signal.levels.bands import band_matrix, band_mids_hz
from app.signal.levels.loudness import RELATIVE_GATE_LU, k_weighting

# Set by hand; not measured singly.
NULL_REACH_S, NULL_STEPS = 0.0005, 97
"""How far from the arrival the deepest null is looked for: a filter turns phases by about so much."""
INDEPENDENT_FRAMES = 5
"""Of the ten frames of a stretch, which overlap by half: so many tell something of their own."""
QUIET_SHARE, FEWEST_QUIET = 0.03, 8
"""So many of the frames, the quietest in both prints, are taken for noise; a third of a second at least."""
RESTING_DB = 25.0
"""How far these lie below the average before they are taken for noise."""
LOWEST_HZ = 30.0
"""Below, a chain's coupling capacitors and rumble speak, not the part."""
DRIVE_FLOOR = 10**-3.5
"""What a linear filter explains to -35 dB is explained: frames of 80 ms tell no better."""
STILL_DB = -10.0
"""Prints whose waves agree so far differ by noise where they do not agree, and not by movement."""
IDLE_SHARE, LEAST_NOISE = 0.5, 1e-10
"""A band is idle that is noise by so large a share; less than -100 dBFS of it is nobody's concern."""
FEWEST_FRAMES = 6.0
"""Fewer frames than this, each counted by its energy, say nothing of a band."""
CLEAR_OF_NOISE = 2.0
"""How many times the noise of both prints a band must hold: 3 dB."""
STUDENT = 3.0
SAME_GAIN_DB = 0.35
"""Bands whose differences lie this near to one another agree about the gain."""


@dataclass(frozen=True, slots=True)
class Estimate:
    """A difference in dB and its standard error."""

    db: float
    error_db: float


@dataclass(frozen=True, slots=True)
class Null:
    """What is left of the recall once the original was taken away, with one gain and one delay, in dB of the recall; and the
    same where any filter is allowed."""

    depth_db: float
    sign: int
    filtered_db: float


def steadied(beside: Beside) -> Beside:
    """The recall moved by what is left of its delay and drift, from the phases of all stretches: the alignment tells drift to
    about one ppm, a deep null needs it finer."""
    for _ in range(2):
        bins = beside.bins_hz * 2 * np.pi
        mean = beside.cross.sum(axis=0)
        turned = beside.cross * np.conj(mean / (beside.original.sum(axis=0) + 1e-30))
        weight = (turned.real * bins**2).sum(axis=1)
        sure = weight > 0.1 * float(np.median(np.maximum(weight, 0))) + 1e-30
        if sure.sum() < 4:
            return beside
        lags = -(turned.imag * bins).sum(axis=1)[sure] / weight[sure]
        times = beside.times_s - beside.times_s[sure].mean()
        near = np.abs(lags - np.median(lags)) < 5e-5
        if near.sum() < 4:
            return beside
        line = np.polyfit(times[sure][near], lags[near], 1, w=np.sqrt(weight[sure][near]))
        moved = beside.shifted(np.polyval(line, times))
        if _deepest(moved)[0] > _deepest(beside)[0]:
            return beside
        beside = moved
    return beside


def null_of(beside: Beside) -> Null:
    left, sign = _deepest(beside)
    power, share = beside.recalled.sum(axis=0), _unexplained(beside.original, beside.recalled, beside.cross)
    filtered = float(power @ share) / (float(power.sum()) + 1e-30)
    return Null(_db(left), sign, _db(filtered))


def _deepest(beside: Beside) -> tuple[float, int]:
    """The least share that is left of the recall, and the sign of the gain there."""
    cross = beside.cross.sum(axis=0)
    lags = np.linspace(-NULL_REACH_S, NULL_REACH_S, NULL_STEPS)
    step = float(lags[1] - lags[0])

    def along(lag: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.asarray((np.exp(2j * np.pi * lag[:, None] * beside.bins_hz) @ cross).real)

    fits = along(lags)
    best = int(np.argmax(np.abs(fits)))
    lag = float(lags[best])
    for _ in range(4):
        three = along(np.array([lag - step, lag, lag + step]))
        offset, _ = parabola_peak(*np.abs(three).tolist())
        lag += min(max(offset, -1.0), 1.0) * step
        step /= 4
    fit = float(along(np.array([lag]))[0])
    power = float(beside.original.sum()) * float(beside.recalled.sum())
    return max(1 - fit**2 / (power + 1e-60), 1e-9), 1 if fit >= 0 else -1


def _unexplained(first: Power, second: Power, cross: NDArray[np.complex128]) -> Power:
    """The share of the second's power that no linear filter of the first gives, of each bin, chance removed (N,).

    Magnitude-squared coherence (Bendat and Piersol): of K independent frames chance alone explains 1/K.
    """
    a, b = first.sum(axis=0) + 1e-30, second.sum(axis=0) + 1e-30
    coherence = np.abs(cross.sum(axis=0)) ** 2 / (a * b)
    independent = INDEPENDENT_FRAMES * a**2 / ((first**2).sum(axis=0) + 1e-60)
    chance = 1 / np.maximum(independent, 1.5)
    return np.asarray(np.clip((1 - coherence) / (1 - chance), 0.0, 1.0))


def level_difference(beside: Beside) -> Estimate | None:
    """K-weighted, over the stretches that lie above BS.1770's relative gate in both together; None in silence."""
    weights = _k_weights(beside.bins_hz)
    a, b = beside.original @ weights, beside.recalled @ weights
    both = np.sqrt(a * b)
    if float(a.max()) < 1e-16 or float(b.max()) < 1e-16 or not both.max() > 0:
        return None
    gated = both > both.mean() * 10 ** (RELATIVE_GATE_LU / 10)
    return _ratio(a[gated], b[gated])


def _k_weights(hz: NDArray[np.float64]) -> NDArray[np.float64]:
    """BS.1770's weighting as power gains; of the filters at 192 kHz, where bilinear ones bend no frequency that is heard."""
    turn = np.exp(-2j * np.pi * hz / 192_000)
    gains = np.ones(len(hz))
    for b, a in k_weighting(192_000):
        gains *= np.abs(np.polyval(b[::-1], turn) / np.polyval(a[::-1], turn)) ** 2
    return gains


def _ratio(a: Power, b: Power) -> Estimate:
    """What b is over a in all, with the error that the variation between stretches leaves. Where few stretches hold all the
    energy they also say little of how much they vary: Student's t, at three standard errors, is wider by about 3 / (n - 1)."""
    total_a, total_b = float(a.sum()) + 1e-30, float(b.sum()) + 1e-30
    apart = b / total_b - a / total_a
    weight = a / total_a + b / total_b
    freedom = max(float(weight.sum() ** 2 / ((weight**2).sum() + 1e-30)) - 1, 0.5)
    error = 4.34 * float(np.sqrt((apart**2).sum() * (1 + 1 / freedom))) * (1 + STUDENT / freedom)
    return Estimate(10 * float(np.log10(total_b / total_a)), error)


def crest_difference(beside: Beside) -> Estimate | None:
    """How much further peaks stand above the average, stretch by stretch, each weighed by its energy."""
    power = np.stack([beside.original.sum(axis=1), beside.recalled.sum(axis=1)])
    both = np.sqrt(power[0] * power[1])
    kept = (both > both.max() * 10**-2) & (beside.peaks.min(axis=1) > 1e-9)
    if not kept.any():
        return None
    apart = 20 * np.log10(beside.peaks[kept, 1] / beside.peaks[kept, 0])
    apart -= 10 * np.log10(power[1, kept] / power[0, kept])
    weight = both[kept] / both[kept].sum()
    mean = float(apart @ weight)
    freedom = max(1 / float((weight**2).sum()) - 1, 0.5)
    spread = float((weight**2 * (apart - mean) ** 2).sum())
    return Estimate(mean, float(np.sqrt(spread * (1 + 1 / freedom))) * (1 + STUDENT / freedom))


def drive_difference(beside: Beside) -> Estimate | None:
    """Change of what the source does not explain linearly, in dB. Both prints are weighed by the original's spectrum, so a
    filter behind the distortion changes nothing of it; noise is left out. None without the source."""
    if beside.source is None:
        return None
    heard = beside.bins_hz > LOWEST_HZ
    noise = _noise_shares(beside)

    def of(kept: NDArray[np.bool_]) -> float:
        part = beside.only(kept)
        assert part.source is not None
        weight = part.original.sum(axis=0) * heard
        weight /= weight.sum() + 1e-30
        before = _unexplained(part.source.power, part.original, part.source.original)
        now = _unexplained(part.source.power, part.recalled, part.source.recalled)
        shares = [
            float(weight @ np.maximum(share - of_noise, 0))
            for share, of_noise in ((before, noise[0]), (now, noise[1]))
        ]
        return 10 * float(np.log10((shares[1] + DRIVE_FLOOR) / (shares[0] + DRIVE_FLOOR)))

    whole = of(np.ones(len(beside), dtype=bool))
    groups = min(6, len(beside) // 4)
    if groups < 3:
        return Estimate(whole, 0.0)
    turn = np.arange(len(beside)) % groups
    without = np.array([of(turn != group) for group in range(groups)])
    return Estimate(whole, float(np.sqrt((groups - 1) / groups * ((without - without.mean()) ** 2).sum())))


def _noise_shares(beside: Beside) -> tuple[Power, Power]:
    """The share of each bin's power that is noise, in original and recall."""
    shares = noise_of_bands(beside)
    mids, matrix = _bands(beside)
    total = (beside.frames[0].sum(axis=0), beside.frames[1].sum(axis=0))
    one, other = (
        matrix @ (noise / (power + 1e-30))[: len(mids)] for noise, power in zip(shares, total, strict=True)
    )
    return np.minimum(one, 1.0), np.minimum(other, 1.0)


def _bands(beside: Beside) -> tuple[list[float], NDArray[np.float32]]:
    bins = len(beside.bins_hz)
    mids = band_mids_hz(2 * float(beside.bins_hz[-1]))
    return mids, band_matrix(mids, bins, float(beside.bins_hz[1]))


def noise_of_bands(beside: Beside) -> tuple[Power, Power]:
    """What of each band is noise in original and recall, summed over all frames as `frames` are: never more than what both do
    not share, and than what is there while least is played."""
    _, matrix = _bands(beside)
    bands = beside.frames[0].shape[1]
    lone = _unexplained(beside.original, beside.recalled, beside.cross)
    quiet = [np.quantile(frames, 0.05, axis=0) * len(frames) * 1.3 for frames in beside.frames]
    found = []
    for power, floor, frames in zip((beside.original, beside.recalled), quiet, beside.frames, strict=True):
        of_bins = power.sum(axis=0)
        share = (of_bins * lone) @ matrix / (of_bins @ matrix + 1e-30)
        padded = np.concatenate((share, np.ones(max(0, bands - len(share)))))[:bands]
        found.append(np.minimum(floor, padded * frames.sum(axis=0)))
    return found[0], found[1]


def band_differences(beside: Beside, level_db: float) -> tuple[BandDifference, ...]:
    """Band by band, recalled minus original, less the difference in loudness: bands that are heard, clear of the noise of
    both prints, and held by enough frames."""
    noise = noise_of_bands(beside)
    mids = band_mids_hz(2 * float(beside.bins_hz[-1]))
    gain = 10 ** (-level_db / 10)
    stretches = [
        frames.reshape(-1, FRAMES_A_STRETCH, frames.shape[1]).sum(axis=1) for frames in beside.frames
    ]
    a, b = stretches[0], stretches[1] * gain
    total = np.stack([a.sum(axis=0), b.sum(axis=0)])
    floor = np.stack([noise[0], noise[1] * gain])
    signal = np.maximum(total - floor, 0)
    loudest = float(signal.max()) + 1e-30
    found = []
    for band, mid in enumerate(mids[: a.shape[1]]):
        highest = float(signal[:, band].max())
        if mid < LOWEST_HZ or highest < loudest * 10 ** (-HEARD_BELOW_LOUDEST_DB / 10):
            continue
        if highest < CLEAR_OF_NOISE * float(floor[:, band].max()):
            continue
        both = beside.frames[0][:, band] + beside.frames[1][:, band] * gain
        held = float(both.sum() ** 2 / ((both**2).sum() + 1e-60))
        if held < FEWEST_FRAMES:
            continue
        left = np.maximum(signal[:, band], np.maximum(floor[:, band] / CLEAR_OF_NOISE, 1e-9 * loudest))
        db = 10 * float(np.log10(left[1] / left[0]))
        error = _ratio(a[:, band], b[:, band]).error_db
        share = 10 * float(np.log10(highest / loudest))
        found.append(BandDifference(mid, db, error, share, held))
    return tuple(found)


def common_gain(bands: tuple[BandDifference, ...], level_db: float) -> tuple[float, float]:
    """The gain in dB on which most bands agree, and the share of the bands that do: a filter moves some, a gain all."""
    if not bands:
        return level_db, 0.0
    raw = np.array([band.difference_db for band in bands]) + level_db
    near = np.abs(raw[:, None] - raw[None, :]) < SAME_GAIN_DB
    votes = near.sum(axis=1) - 1e-3 * np.abs(raw)
    agree = near[int(np.argmax(votes))]
    return float(np.mean(raw[agree])), float(agree.mean())


def noise_difference(beside: Beside, level_db: float, null: Null) -> float | None:
    """Change of the noise, once equally loud: of the quietest moments, the same ones in both, or of the bands that hold nothing
    but noise, whichever changed more, for in moments that are quiet a note may still ring; None where neither is there."""
    found = [_at_rest(beside), _in_idle_bands(beside, null)]
    return max((db - level_db for db in found if db is not None), key=abs, default=None)


def _at_rest(beside: Beside) -> float | None:
    a, b = (frames.sum(axis=1) for frames in beside.frames)
    quiet = np.argsort(a / a.mean() + b / b.mean())[: max(FEWEST_QUIET, round(QUIET_SHARE * len(a)))]
    floors = float(a[quiet].mean()), float(b[quiet].mean())
    means = float(a.mean()), float(b.mean())
    resting = any(mean > floor * 10 ** (RESTING_DB / 10) for floor, mean in zip(floors, means, strict=True))
    return 10 * float(np.log10(floors[1] / floors[0])) if resting and min(floors) > 1e-14 else None


def _in_idle_bands(beside: Beside, null: Null) -> float | None:
    """Only of waves that agree: what moves by itself is no noise."""
    if null.filtered_db > STILL_DB:
        return None
    total = [frames.mean(axis=0) for frames in beside.frames]
    idle = np.all(
        [
            noise > IDLE_SHARE * frames.sum(axis=0)
            for noise, frames in zip(noise_of_bands(beside), beside.frames, strict=True)
        ],
        axis=0,
    )
    idle &= (np.minimum(*total) > 1e-14) & (np.maximum(*total) > LEAST_NOISE)
    if idle.sum() < 2:
        return None
    return float(np.median(10 * np.log10(total[1][idle] / total[0][idle])))


def _db(share: float) -> float:
    return 10 * float(np.log10(max(share, 1e-12)))
