"""Which control would explain what a recall is off by, as far as the logged passes tell (`app.trade.knob_effects`)."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from app.trade.knob_effects import ControlEffect, Effect, KnobEffects

USUAL_SPREAD_DB = 0.5
"""What a figure of two prints of unchanged settings may differ by, where nobody has printed them twice."""
LEAST_DIFFERENCE_DB = 1.0
LEAST_SHARE = 0.7
AHEAD = 0.1
SURE = 2.5
"""Standard errors that the turn must be away from none."""
TRAVEL_SLACK = 0.05
LEAST_SURE = 3
BEYOND_CHANCE = 3.0
"""Of thirty figures that a control leaves alone, one or two look changed by chance: so it must surely change some, or
one by this many times its uncertainty."""


@dataclass(frozen=True, slots=True)
class Explanation:
    """The recall sounds as if `control` stood `turn` of its travel higher (below 0: lower) than in the original.

    `plus_minus` is the turn's 95 % uncertainty, `share` how much of the difference it accounts for, 0 to 1.
    """

    control: str
    turn: float
    plus_minus: float
    share: float


@dataclass(frozen=True, slots=True)
class _Pair:
    effect: Effect
    difference_db: float


def explanation(
    effects: KnobEffects,
    bands_db: Sequence[float | None],
    *,
    level_db: float | None = None,
    crest_db: float | None = None,
    original: Mapping[str, float] | None = None,
    spread_db: float = USUAL_SPREAD_DB,
) -> Explanation | None:
    """The one control that explains the difference, recalled minus original, bands at equal loudness.

    None unless the difference is worth a word, one known control accounts for most of it with a turn that is surely not
    none and stays within its travel (given where it stood in the `original`), and no other does about as well.
    """
    known = [db for db in (*bands_db, level_db) if db is not None]
    if max((abs(db) for db in known), default=0.0) < LEAST_DIFFERENCE_DB:
        return None
    found = sorted(
        (
            turned
            for control in effects.known
            if (turned := _turn(control, _pairs(control, bands_db, level_db, crest_db), spread_db))
            is not None
        ),
        key=lambda turned: -turned.share,
    )
    if not found or found[0].share < LEAST_SHARE:
        return None
    best = found[0]
    if len(found) > 1 and found[1].share > best.share - AHEAD:
        return None
    if abs(best.turn) < SURE / 1.96 * best.plus_minus or not _fits(best, original):
        return None
    return best


def _pairs(
    control: ControlEffect, bands_db: Sequence[float | None], level_db: float | None, crest_db: float | None
) -> list[_Pair]:
    effects = (*control.bands, control.level, control.crest)
    differences = (*bands_db, level_db, crest_db)
    return [
        _Pair(effect, difference)
        for effect, difference in zip(effects, differences, strict=True)
        if effect is not None and difference is not None
    ]


def _turn(control: ControlEffect, pairs: Sequence[_Pair], spread_db: float) -> Explanation | None:
    """The turn that fits best, weighing each figure by the spread and by what is not known of the effect."""
    if not _surely_does_something(pairs) or not any(pair.difference_db for pair in pairs):
        return None
    turn = 0.0
    for _ in range(4):
        weights = [1 / (spread_db**2 + (pair.effect.plus_minus_db / 1.96 * turn) ** 2) for pair in pairs]
        strength = math.fsum(weight * pair.effect.db**2 for weight, pair in zip(weights, pairs, strict=True))
        turn = (
            math.fsum(w * p.effect.db * p.difference_db for w, p in zip(weights, pairs, strict=True))
            / strength
        )
    whole = math.fsum(w * p.difference_db**2 for w, p in zip(weights, pairs, strict=True))
    left = math.fsum(
        w * (p.difference_db - p.effect.db * turn) ** 2 for w, p in zip(weights, pairs, strict=True)
    )
    excess = max(1.0, left / max(1, len(pairs) - 1))
    return Explanation(control.control, turn, 1.96 * math.sqrt(excess / strength), 1 - left / whole)


def _surely_does_something(pairs: Sequence[_Pair]) -> bool:
    effects = [pair.effect for pair in pairs]
    several = sum(effect.is_sure for effect in effects) >= LEAST_SURE
    return several or any(abs(effect.db) > BEYOND_CHANCE * effect.plus_minus_db for effect in effects)


def _fits(turned: Explanation, original: Mapping[str, float] | None) -> bool:
    if abs(turned.turn) > 1:
        return False
    stood = None if original is None else original.get(turned.control)
    return stood is None or -TRAVEL_SLACK <= stood + turned.turn <= 1 + TRAVEL_SLACK
