"""What a reference signal holds and where: marks, level steps of a tone, an exponential sweep, silences, an excerpt.

Plain values, without numpy. Times are seconds from the signal's start and hold at any sample rate.
"""

import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from app.signal.stored_json import read_stored

PLAN_VERSION = 1
"""Raised whenever a plan of the same numbers would mean another signal."""

# What is sent, and may be asked for. Ours, set by hand; every plan carries its own values, so others may follow.
LOWEST_LEVEL_DBFS, HIGHEST_LEVEL_DBFS = -60.0, -1.0
USUAL_LEVEL_DBFS = -12.0
"""Peak, as of a part that was recorded with room to spare."""
TONE_HZ = 215.0
"""Its harmonics up to the fifth keep 5 Hz or more from every multiple of 50 and 60 Hz, and reach a guitar
loudspeaker's range."""
STEP_DB = 6.0
STEPS = 7
"""36 dB from the softest to the loudest: from a clean chain to a driven one."""
SWEEP_FROM_HZ = 20.0
SWEEP_TO_HZ = 20_000.0
"""What is heard."""
SWEEP_TO_SHARE = 0.45
"""Of the sample rate."""
SWEEP_S = 8.0
"""As long as a session bears: doubling it gains 3 dB over noise (ISO 18233:2006, B.6)."""
SHORTEST_SWEEP_S, LONGEST_SWEEP_S = 3.0, 30.0


# Lengths of its parts: set by hand, each a little longer than what is read of it (`measure`, `find`).
LEAD_S = 1.5
MARK_S = 0.1
STEP_S, STEP_GAP_S = 0.6, 0.1
REST_S = 0.5
TAIL_S = 2.0
EXCERPT_TAIL_S = 1.0
LONGEST_EXCERPT_S = 60.0
GRID_S = 0.04
"""Parts begin at multiples of this, which are whole samples at all usual rates."""


@dataclass(frozen=True, slots=True)
class Part:
    """A stretch of the signal, in seconds from its start."""

    start_s: float
    length_s: float

    @property
    def stop_s(self) -> float:
        return self.start_s + self.length_s


@dataclass(frozen=True, slots=True)
class Step:
    """The tone at one level (peak, dBFS)."""

    start_s: float
    length_s: float
    level_dbfs: float


@dataclass(frozen=True, slots=True)
class ExponentialSweep:
    """sin(2·π·f1·L·(exp(t/L) - 1)), L = T / ln(f2/f1): Farina, AES preprint 5093 (2000); ISO 18233:2006 Annex B.

    f1·L is a whole number, so that a harmonic of the sweep is the sweep itself, L·ln(n) earlier, in phase too
    (synchronised sweep; Novak, Lotton and Simon, JAES 63(10), 2015, from memory).
    """

    start_s: float
    from_hz: float
    to_hz: float
    rate_s: float
    """L: in this time the frequency grows e-fold."""
    level_dbfs: float

    @property
    def length_s(self) -> float:
        return self.rate_s * math.log(self.to_hz / self.from_hz)

    def harmonic_advance_s(self, order: int) -> float:
        """How much earlier than the linear response that of harmonic `order` stands: L·ln(n)."""
        return self.rate_s * math.log(order)


@dataclass(frozen=True, slots=True)
class ReferencePlan:
    """`marks` are two short sweeps that are the same, far apart: they tell two clocks from one. `lead` and `tail` are
    silences, for the noise and for what rings on."""

    sample_rate: int
    level_dbfs: float
    tone_hz: float
    lead: Part
    marks: tuple[Part, Part]
    steps: tuple[Step, ...]
    sweep: ExponentialSweep
    tail: Part
    excerpt: Part | None
    excerpt_from_s: float
    """Where in its source the excerpt begins."""
    length_s: float
    version: int = PLAN_VERSION

    @property
    def headroom_db(self) -> float:
        """What is left to full scale by everything but the excerpt, which keeps the level of its source."""
        return -self.level_dbfs


def sweep_between(
    from_hz: float, to_hz: float, about_s: float, *, start_s: float = 0.0, level_dbfs: float = 0.0
) -> ExponentialSweep:
    """The synchronised sweep nearest to a length of `about_s`."""
    turns = max(1, round(from_hz * about_s / math.log(to_hz / from_hz)))
    return ExponentialSweep(start_s, from_hz, to_hz, turns / from_hz, level_dbfs)


def plan_reference(
    sample_rate: int,
    *,
    level_dbfs: float = USUAL_LEVEL_DBFS,
    sweep_s: float = SWEEP_S,
    tone_hz: float = TONE_HZ,
    excerpt_s: float | None = None,
    excerpt_from_s: float = 0.0,
) -> ReferencePlan:
    """Lays the parts out. `level_dbfs` is the peak of sweep and loudest step. Raises ValueError, a sentence, for what
    cannot be done."""
    if not LOWEST_LEVEL_DBFS <= level_dbfs <= HIGHEST_LEVEL_DBFS:
        raise ValueError(f"The level must lie between {LOWEST_LEVEL_DBFS:g} and {HIGHEST_LEVEL_DBFS:g} dBFS.")
    if not SHORTEST_SWEEP_S <= sweep_s <= LONGEST_SWEEP_S:
        raise ValueError(f"The sweep must last {SHORTEST_SWEEP_S:g} to {LONGEST_SWEEP_S:g} seconds.")
    if excerpt_s is not None and not 0 < excerpt_s <= LONGEST_EXCERPT_S:
        raise ValueError(f"The excerpt must last up to {LONGEST_EXCERPT_S:g} seconds.")
    lead = Part(0.0, _on_grid(LEAD_S))
    first = Part(lead.stop_s, MARK_S)
    at = _on_grid(first.stop_s + REST_S)
    steps = []
    for number in range(STEPS):
        steps.append(Step(at, STEP_S, level_dbfs - STEP_DB * (STEPS - 1 - number)))
        at = _on_grid(at + STEP_S + STEP_GAP_S)
    to_hz = min(SWEEP_TO_HZ, SWEEP_TO_SHARE * sample_rate)
    start_s = _on_grid(at + REST_S)
    sweep = sweep_between(SWEEP_FROM_HZ, to_hz, sweep_s, start_s=start_s, level_dbfs=level_dbfs)
    tail = Part(_on_grid(start_s + sweep.length_s), _on_grid(TAIL_S))
    second = Part(tail.stop_s, MARK_S)
    at = _on_grid(second.stop_s + REST_S)
    excerpt = None
    if excerpt_s is not None:
        excerpt = Part(at, excerpt_s)
        at = _on_grid(excerpt.stop_s + EXCERPT_TAIL_S)
    return ReferencePlan(
        sample_rate=sample_rate,
        level_dbfs=level_dbfs,
        tone_hz=tone_hz,
        lead=lead,
        marks=(first, second),
        steps=tuple(steps),
        sweep=sweep,
        tail=tail,
        excerpt=excerpt,
        excerpt_from_s=excerpt_from_s if excerpt else 0.0,
        length_s=at,
    )


def _on_grid(time_s: float) -> float:
    return round(math.ceil(time_s / GRID_S - 1e-6) * GRID_S, 6)


def plan_to_json(plan: ReferencePlan) -> dict[str, Any]:
    document = asdict(plan)
    return document | {name: list(document[name]) for name in ("marks", "steps")}


def plan_from_json(document: Mapping[str, Any]) -> ReferencePlan:
    """The inverse of `plan_to_json`. Raises KeyError where its version is not said, ValueError for a later one."""
    if document["version"] > PLAN_VERSION:
        raise ValueError("This reference signal was made by a newer Dialback; it can be read by that.")
    return read_stored(ReferencePlan, document)
