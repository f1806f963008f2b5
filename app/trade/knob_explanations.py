"""Which control would explain what a recall is off by, as far as the logged passes tell (`app.trade.knob_effects`)."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from app.trade.knob_effects import ControlEffect, Effect, KnobEffects
from app.trade.linear_algebra import gram, inverse, product

USUAL_SPREAD_DB = 0.5
"""What a figure of two prints of unchanged settings may differ by, where nobody has printed them twice."""
LEAST_DIFFERENCE_DB = 1.0
LEAST_SHARE, LEAST_SHARE_OF_TWO = 0.7, 0.85
_RIDGE_OF_NOTHING = 1e-12
AHEAD, LEFT_BY_NEXT = 0.1, 1.5
"""An explanation stands out when it explains so much more of the whole than the next best, or the next best leaves over
so many times what it does."""
LEFT_BY_ONE = 2.0
"""Two controls are named where the best single one leaves so many times what they do."""
MOST_IN_TWOS = 12
"""Only the controls that explain most alone are tried in twos, which takes its time."""
SURE = 2.5
"""Standard errors that the turn must be away from none."""
TRAVEL_SLACK = 0.05
LEAST_SURE = 3
BEYOND_CHANCE = 3.0
"""Of thirty figures that a control leaves alone, one or two look changed by chance: so it must surely change some, or
one by this many times its uncertainty."""


@dataclass(frozen=True, slots=True)
class Turn:
    """`control` by `turn` of its travel higher (below 0: lower) than in the original; `plus_minus` is its 95 %
    uncertainty."""

    control: str
    turn: float
    plus_minus: float

    @property
    def is_sure(self) -> bool:
        return abs(self.turn) >= SURE / 1.96 * self.plus_minus


@dataclass(frozen=True, slots=True)
class Explanation:
    """The recall sounds as if these controls, one or two, stood otherwise; that accounts for `share` of the difference,
    0 to 1."""

    turns: tuple[Turn, ...]
    share: float


@dataclass(frozen=True, slots=True)
class _Figure:
    """One difference, and what each of the controls does to it."""

    difference_db: float
    effects: tuple[Effect, ...]


def explanation(
    effects: KnobEffects,
    bands_db: Sequence[float | None],
    *,
    level_db: float | None = None,
    crest_db: float | None = None,
    original: Mapping[str, float] | None = None,
    spread_db: float = USUAL_SPREAD_DB,
) -> Explanation | None:
    """The control, or the two, that explain the difference, recalled minus original, bands at equal loudness.

    None unless the difference is worth a word, known controls account for most of it with turns that are surely not none
    and stay within their travel (given where they stood in the `original`), and no others do about as well.
    """
    known = [db for db in (*bands_db, level_db) if db is not None]
    if max((abs(db) for db in known), default=0.0) < LEAST_DIFFERENCE_DB:
        return None
    differences = (*bands_db, level_db, crest_db)
    telling = [one for one in effects.known if _surely_does_something(one, differences)]
    alone = _ranked([(one,) for one in telling], differences, spread_db)
    likely = {turn.control for found in alone[:MOST_IN_TWOS] for turn in found.turns}
    in_twos = _ranked(
        list(combinations([one for one in telling if one.control in likely], 2)), differences, spread_db
    )
    in_twos = [found for found in in_twos if _holds(found, original)]
    if in_twos and 1 - alone[0].share >= LEFT_BY_ONE * (1 - in_twos[0].share):
        best, least_share = _standing_out(in_twos), LEAST_SHARE_OF_TWO
    else:
        best, least_share = _standing_out(alone), LEAST_SHARE
    if best is None or best.share < least_share or not _holds(best, original):
        return None
    return best


def _ranked(
    choices: Sequence[tuple[ControlEffect, ...]], differences: Sequence[float | None], spread_db: float
) -> list[Explanation]:
    """What each choice of controls explains, the best first."""
    found = [_fitted(controls, differences, spread_db) for controls in choices]
    return sorted(found, key=lambda one: -one.share)


def _standing_out(ranked: Sequence[Explanation]) -> Explanation | None:
    """The best, where no other is about as good."""
    if len(ranked) > 1:
        left, next_left = (1 - one.share for one in ranked[:2])
        if next_left < min(left + AHEAD, LEFT_BY_NEXT * left):
            return None
    return ranked[0] if ranked else None


def _fitted(
    controls: tuple[ControlEffect, ...], differences: Sequence[float | None], spread_db: float
) -> Explanation:
    """The turns that fit best, weighing each figure by the spread and by what is not known of the effects."""
    figures = _figures(controls, differences)
    turns = [0.0] * len(controls)
    for _ in range(4):
        weights = [1 / (spread_db**2 + _unknown(figure, turns)) for figure in figures]
        roots = [math.sqrt(weight) for weight in weights]
        columns = [
            [root * figure.effects[at].db for root, figure in zip(roots, figures, strict=True)]
            for at in range(len(controls))
        ]
        target = [root * figure.difference_db for root, figure in zip(roots, figures, strict=True)]
        normal = gram(columns)
        for at in range(len(controls)):
            normal[at][at] += _RIDGE_OF_NOTHING
        inverted = inverse(normal)
        turns = product(inverted, product(columns, target))
    whole = math.fsum(value * value for value in target)
    left = math.fsum(
        (value - math.fsum(turn * column[at] for turn, column in zip(turns, columns, strict=True))) ** 2
        for at, value in enumerate(target)
    )
    excess = max(1.0, left / max(1, len(figures) - len(controls)))
    return Explanation(
        tuple(
            Turn(control.control, turn, 1.96 * math.sqrt(excess * inverted[at][at]))
            for at, (control, turn) in enumerate(zip(controls, turns, strict=True))
        ),
        1 - left / whole if whole > 0 else 0.0,
    )


def _figures(controls: tuple[ControlEffect, ...], differences: Sequence[float | None]) -> list[_Figure]:
    by_figure = zip(*((*one.bands, one.level, one.crest) for one in controls), strict=True)
    found = []
    for difference, effects in zip(differences, by_figure, strict=True):
        known = tuple(effect for effect in effects if effect is not None)
        if difference is not None and len(known) == len(controls):
            found.append(_Figure(difference, known))
    return found


def _unknown(figure: _Figure, turns: Sequence[float]) -> float:
    """The variance that what is not known of the effects adds."""
    return math.fsum(
        (effect.plus_minus_db / 1.96 * turn) ** 2 for effect, turn in zip(figure.effects, turns, strict=True)
    )


def _surely_does_something(control: ControlEffect, differences: Sequence[float | None]) -> bool:
    effects = [figure.effects[0] for figure in _figures((control,), differences)]
    several = sum(effect.is_sure for effect in effects) >= LEAST_SURE
    return several or any(abs(effect.db) > BEYOND_CHANCE * effect.plus_minus_db for effect in effects)


def _holds(found: Explanation, original: Mapping[str, float] | None) -> bool:
    return all(turn.is_sure and _fits(turn, original) for turn in found.turns)


def _fits(turn: Turn, original: Mapping[str, float] | None) -> bool:
    if abs(turn.turn) > 1:
        return False
    stood = None if original is None else original.get(turn.control)
    return stood is None or -TRAVEL_SLACK <= stood + turn.turn <= 1 + TRAVEL_SLACK
