"""Delays that move: vibrato and the like, followed in short windows.

A delay that swings to and fro piles up at the ends of its swing, so the highest peak of a long correlation is an end,
not the middle. Here the lag is followed from window to window along the smoothest strong path (dynamic programming),
and the arrival is the middle of the path.
"""

from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from app.signal.alignment.segments import Stretch
from app.signal.audio.transforms import fast_length, irfft, rfft

# Set by hand on vibratos of the corpus and earlier ones; not measured singly.
WINDOW_S = 0.04
"""A fifth of a turn at 5 Hz, in which the lag hardly moves."""
REACH_S = 0.006
"""To either side: four times the swing that FASTEST_S_PER_S allows for."""
FASTEST_S_PER_S = 0.045
"""How fast a lag may move: ±1.5 ms at 5 Hz (2π · 5 · 0.0015 is 0.047)."""


@dataclass(frozen=True, slots=True)
class Movement:
    """The path of the lag about the given one, in samples."""

    middle: float
    swing: float
    """Half the distance between the 10th and 90th percentile."""
    gain: float
    """Strength along the path over the strength at the best lag that stays put."""
    strength: float
    """Mean correlation along the path, 0 to 1."""
    windows: int
    reach: int

    @property
    def moves(self) -> bool:
        """Whether following the lag pays so much that it must be moving."""
        return self.gain > 1.5 and self.strength > 0.25 and 3 < self.swing < 0.6 * self.reach


def follow(stretches: list[Stretch], lags: NDArray[np.float64], rate: int) -> Movement | None:
    """Follows the lag through all stretches; `lags` are the expected ones, relative to each stretch's base."""
    window, reach = round(WINDOW_S * rate), round(REACH_S * rate)
    length = len(stretches[0].source)
    radius = (len(stretches[0].printed) - length) // 2
    starts = np.arange(0, length - window + 1, window // 2)
    if len(starts) < 4:
        return None
    hann = np.hanning(window + 2)[1:-1].astype(np.float32)
    size = fast_length(window + 2 * reach)
    curves, loud = [], []
    for stretch, lag in zip(stretches, lags.tolist(), strict=True):
        first = radius + round(lag) - reach
        if first < 0 or first + length + 2 * reach > len(stretch.printed):
            continue
        a = sliding_window_view(stretch.source, window)[starts] * hann
        b = sliding_window_view(stretch.printed[first : first + length + 2 * reach], window + 2 * reach)[
            starts
        ]
        spectrum_a, spectrum_b = rfft(a, size), rfft(b, size)
        cross = np.conj(spectrum_a) * spectrum_b
        magnitude = np.abs(spectrum_a) * np.abs(spectrum_b)
        floor = 1e-2 * magnitude.max(axis=1, keepdims=True) + 1e-20
        cross *= (magnitude + floor) ** -0.6
        lowest = int(np.ceil(60 * size / rate))
        cross[:, :lowest] = 0
        curve = irfft(cross, size)[:, : 2 * reach + 1]
        curve /= np.abs(cross).sum(axis=1, keepdims=True) * (2 / size) + 1e-20
        curves.append(curve)
        loud.append(np.einsum("ij,ij->i", a, a))
    if not curves:
        return None
    best: Movement | None = None
    stacked, weights = np.array(curves), np.sqrt(np.array(loud))
    weights /= weights.max() + 1e-20
    move = max(1, round(FASTEST_S_PER_S * rate * WINDOW_S / 2))
    for sign in (1, -1):
        movement = _path(sign * stacked, weights, reach, move)
        if best is None or movement.strength > best.strength:
            best = movement
    return best


def _path(curves: NDArray[np.float32], weights: NDArray[np.float64], reach: int, move: int) -> Movement:
    """The strongest path through (stretches, windows, lags), lags changing by at most `move` a window."""
    weighted = (curves * weights[:, :, None]).astype(np.float32)
    count = weighted.shape[1]
    scores = [weighted[:, 0]]
    for step in range(1, count):
        scores.append(weighted[:, step] + _highest_near(scores[-1], move))
    rows = np.arange(len(weighted))
    lag = np.argmax(scores[-1], axis=1)
    path = np.empty((len(weighted), count), dtype=np.int64)
    path[:, -1] = lag
    for step in range(count - 2, -1, -1):
        offsets = np.clip(lag[:, None] + np.arange(-move, move + 1), 0, 2 * reach)
        lag = offsets[rows, np.argmax(scores[step][rows[:, None], offsets], axis=1)]
        path[:, step] = lag
    strengths = np.take_along_axis(curves, path[:, :, None], axis=2)[:, :, 0]
    total = float(weights.sum())
    strength = float((strengths * weights).sum()) / total
    still = float(weighted.sum(axis=(0, 1)).max()) / total
    votes = (weights * np.clip(strengths, 0, None)).ravel()
    places = path.ravel() - reach
    order = np.argsort(places)
    share = np.cumsum(votes[order]) / votes.sum()
    low, high = (float(places[order][np.searchsorted(share, part)]) for part in (0.1, 0.9))
    return Movement(
        middle=float((votes * places).sum() / votes.sum()),
        swing=(high - low) / 2,
        gain=strength / max(still, 1e-6),
        strength=strength,
        windows=path.size,
        reach=reach,
    )


def _highest_near(scores: NDArray[np.float32], move: int) -> NDArray[np.float32]:
    """Running maximum over ±move lags."""
    padded = np.pad(scores, ((0, 0), (move, move)), constant_values=-np.inf)
    return np.asarray(sliding_window_view(padded, 2 * move + 1, axis=1).max(axis=2), dtype=np.float32)
