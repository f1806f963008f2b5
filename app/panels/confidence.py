"""How sure a reading is, as the chance that it is within ten degrees; and from where on it may be proposed as sure.

The weights are those of a logistic regression on rendered photos of invented panels, other panels than those that the reader is tried
on. They were fitted when the reader still made some mistakes (11 in 267): today's are too few to tell right from wrong by. That a
single reference is worth less is set by hand.
"""

import math

import numpy as np

from app.panels.knob_angle import KnobReading
from app.panels.states import StateReading

LEAST_RADIUS_PX = 25.0
"""A smaller knob is shown, not read: “move closer”."""
BY_HAND = {"side", "skirt", "notch"}
"""A mark on the side goes out of sight, a skirt's numerals repeat all round, and light fills a notch: such knobs are only ever
looked at."""
SURE = 0.95
FADER_WITHIN = 1 / 30
"""Of its way: a fader is right within this. Seen so much along its way that the height of its cap alone moves it further, it is
looked at."""
_LEAST_CONTRAST = 0.012
_MOST_APART_DEGREES = 12.0
"""Where ring and sector, or the references, point to different angles, no sum of other evidence makes it sure."""

_OFFSET = 1.51
_WEIGHTS = {
    "peak": 0.93,
    "margin": 0.27,
    "sector": 1.14,
    "apart": -0.49,
    "references_apart": -0.53,
    "references_peak": -0.63,
    "one_reference": -0.6,
    "stays": 0.17,
    "small": -0.08,
    "contrast": 0.48,
    "clipped": -0.68,
    "inliers": 0.64,
}


def evidence_of(knob: KnobReading, inliers: int) -> dict[str, float]:
    """What the chance is made of, each about as large as one."""
    return {
        "peak": 4 * (knob.peak - 0.6),
        "margin": 4 * min(knob.margin, 0.6) - 1,
        "sector": 4 * (knob.sector_peak - 0.6),
        "apart": min(knob.apart, 20) / 10,
        "references_apart": min(knob.references_apart, 20) / 10,
        "references_peak": 4 * (knob.references_peak - 0.7),
        "one_reference": float(knob.references == 1),
        "stays": min(knob.stays, 20) / 10,
        "small": 30 / max(knob.radius_px, 10),
        "contrast": math.log(max(knob.contrast, 0.01) / 0.15),
        "clipped": 5 * knob.clipped,
        "inliers": math.log(max(inliers, 10) / 100),
    }


def chance_of(knob: KnobReading, inliers: int) -> float:
    evidence = evidence_of(knob, inliers)
    return _logistic(_OFFSET + sum(_WEIGHTS[name] * value for name, value in evidence.items()))


def sigma_of(knob: KnobReading) -> float:
    """Standard deviation in degrees, from what ring, sector and references say apart from each other and how many pixels tell."""
    apart = np.hypot(min(knob.apart, 20), min(knob.references_apart, 20)) / 2
    return float(np.hypot(0.7 + 25 / max(knob.radius_px, 5), apart))


def is_sure(knob: KnobReading, mark: str, chance: float) -> bool:
    agrees = max(knob.apart, knob.references_apart) < _MOST_APART_DEGREES
    is_plain = knob.radius_px >= LEAST_RADIUS_PX and knob.contrast >= _LEAST_CONTRAST
    return mark not in BY_HAND and agrees and is_plain and chance >= SURE


def chance_of_state(kind: str, reading: StateReading) -> float:
    if kind == "lamp":
        return _logistic(8 * reading.margin - 1) if reading.states_known > 1 else 0.5
    if kind == "fader":
        chance = _logistic(10 * (reading.likeness - 0.6) + 8 * (reading.margin - 0.1))
        return chance if reading.apart <= FADER_WITHIN else min(chance, 0.5)
    if reading.states_known < 2:
        return 0.5
    return _logistic(6 * (reading.likeness - 0.5) + 14 * (reading.margin - 0.12))


def _logistic(value: float) -> float:
    return 1 / (1 + math.exp(-max(-30.0, min(30.0, value))))
