"""What the knobs do here: from the passes of one source through one chain, what each control did to the sound.

Every figure of a pass (third-octave levels at equal loudness, loudness, crest) is taken to be a constant plus, for each
control, its effect times its position. Effects are estimated together by ridge regression (Hoerl and Kennard 1970),
whose penalty says beforehand that an effect is of the order of `USUAL_EFFECT_DB` over a whole travel; what straight
lines leave over is the noise that the uncertainties come from, with Student's t for the few passes there are. Common
practice of statistics; that a control works evenly over its travel is an assumption, and where it does not, the
uncertainty grows. Pure Python: tens of controls and passes take milliseconds.
"""

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from app.trade.linear_algebra import Matrix, gram, inverse, product

USUAL_EFFECT_DB = 12.0
LEAST_NOISE_DB = 0.15
"""No two prints are alike to less than this, however well a line fits the few there are."""
STOOD_STILL = 0.005
LEAST_TRAVEL = 0.1
LEAST_PASSES_ELSEWHERE = 2
LEAST_FREEDOM = 2
TOGETHER = 0.9
"""A control is not independent when the others tell this share of where it stood (the coefficient of determination)."""
PARTNER = 0.3
_RIDGE_OF_NOTHING = 1e-9

# Student's t, two-sided 95 %, for 1 to 30 degrees of freedom.
# fmt: off
_T95 = (
    12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228, 2.201, 2.179, 2.160, 2.145, 2.131,
    2.120, 2.110, 2.101, 2.093, 2.086, 2.080, 2.074, 2.069, 2.064, 2.060, 2.056, 2.052, 2.048, 2.045, 2.042,
)
# fmt: on


@dataclass(frozen=True, slots=True)
class HeardPass:
    """One pass as it was set and as it measured.

    `positions` holds each control's fraction of travel, 0 to 1 (a switch of two positions: 0 or 1; a selector of
    more has no order and does not belong here). `bands_dbfs` are third-octave levels, the same bands for all passes.
    """

    positions: Mapping[str, float]
    bands_dbfs: tuple[float | None, ...]
    loudness_lufs: float
    crest_db: float | None = None


@dataclass(frozen=True, slots=True)
class Effect:
    """Change over the whole travel, in dB, and what it may be off by with 95 % confidence."""

    db: float
    plus_minus_db: float

    @property
    def is_sure(self) -> bool:
        """Whether it is an effect at all."""
        return abs(self.db) > self.plus_minus_db


@dataclass(frozen=True, slots=True)
class ControlEffect:
    """What one control did. A band is None where some pass has no level there. `lowest` and `highest` are where it
    stood: beyond, nothing is known. `elsewhere` counts the passes in which it did not stand where it mostly stood."""

    control: str
    lowest: float
    highest: float
    elsewhere: int
    bands: tuple[Effect | None, ...]
    level: Effect
    crest: Effect | None


@dataclass(frozen=True, slots=True)
class NotEnough:
    """Controls of which the passes do not tell what they did, and the reason in a sentence."""

    controls: tuple[str, ...]
    reason: str


@dataclass(frozen=True, slots=True)
class KnobEffects:
    passes: int
    known: tuple[ControlEffect, ...]
    not_enough: tuple[NotEnough, ...]


def knob_effects(passes: Sequence[HeardPass]) -> KnobEffects:
    """The effects that the passes support; for every other control that any pass has, why not."""
    shared = _shared_controls(passes)
    partial = sorted({control for heard in passes for control in heard.positions} - set(shared))
    not_enough = [NotEnough((control,), "It is not part of every pass.") for control in partial]
    columns = {control: [heard.positions[control] for heard in passes] for control in shared}
    moved = [control for control in shared if _travel(columns[control]) > STOOD_STILL]
    still = [control for control in shared if control not in moved]
    not_enough += [
        NotEnough((control,), "Not enough data: it stood still in every pass.") for control in still
    ]
    freedom = len(passes) - 1 - len(moved)
    if not moved:
        return KnobEffects(len(passes), (), tuple(not_enough))
    if freedom < LEAST_FREEDOM:
        not_enough.append(NotEnough(tuple(moved), _too_few(len(passes), len(moved))))
        return KnobEffects(len(passes), (), tuple(not_enough))
    hardly = [entry for control in moved if (entry := _hardly_moved(control, columns[control]))]
    together = _moved_together(columns, moved)
    not_enough += [*hardly, *together]
    refused = {control for entry in not_enough for control in entry.controls}
    targets = _targets(passes)
    fit = _Fit([columns[control] for control in moved], freedom)
    fit.learn([target for target in targets if target is not None])
    by_target = [None if target is None else fit.effects(target) for target in targets]
    known = tuple(
        _effect(
            control, columns[control], [None if effects is None else effects[index] for effects in by_target]
        )
        for index, control in enumerate(moved)
        if control not in refused
    )
    return KnobEffects(len(passes), known, tuple(not_enough))


def student_t95(freedom: int) -> float:
    """Student's t for a two-sided 95 % interval; above 30 degrees of freedom to within 0.002."""
    return _T95[freedom - 1] if freedom <= len(_T95) else 1.95996 + 2.4 / freedom


def _shared_controls(passes: Sequence[HeardPass]) -> list[str]:
    if not passes:
        return []
    return [control for control in passes[0].positions if all(control in heard.positions for heard in passes)]


def _travel(positions: Sequence[float]) -> float:
    return max(positions) - min(positions)


def _too_few(passes: int, moved: int) -> str:
    controls = "1 control was" if moved == 1 else f"{moved} controls were"
    more = LEAST_FREEDOM + 1 + moved - passes
    return (
        f"Not enough data: {controls} moved over {passes} {'pass' if passes == 1 else 'passes'}. With {more} more "
        f"{'pass' if more == 1 else 'passes'} that {'moves' if more == 1 else 'move'} no other control, it can be told."
    )


def _hardly_moved(control: str, positions: Sequence[float]) -> NotEnough | None:
    if _travel(positions) < LEAST_TRAVEL:
        return NotEnough((control,), "Not enough data: it was moved by less than a tenth of its travel.")
    if _elsewhere(positions) < LEAST_PASSES_ELSEWHERE:
        return NotEnough((control,), "Not enough data: it stood elsewhere in one pass only.")
    return None


def _elsewhere(positions: Sequence[float]) -> int:
    usual = Counter(round(position, 2) for position in positions).most_common(1)[0][1]
    return len(positions) - usual


def _moved_together(columns: Mapping[str, Sequence[float]], moved: Sequence[str]) -> list[NotEnough]:
    """Controls that the others tell the position of, each with those that do."""
    scaled = [_standardised(columns[control]) for control in moved]
    correlation = gram(scaled)
    for index in range(len(moved)):
        correlation[index][index] += _RIDGE_OF_NOTHING
    precision = inverse(correlation)
    groups: list[set[int]] = []
    for index, row in enumerate(precision):
        if 1 - 1 / row[index] < TOGETHER:
            continue
        partners = {at for at, value in enumerate(row) if at != index and abs(value / row[index]) > PARTNER}
        group = {index, *partners}
        for other in [other for other in groups if other & group]:
            groups.remove(other)
            group |= other
        groups.append(group)
    return [
        NotEnough(
            tuple(moved[at] for at in sorted(group)),
            "Not enough data: they were moved together, so which of them did it cannot be told. Move one of them alone "
            "in two passes.",
        )
        for group in groups
    ]


def _standardised(values: Sequence[float]) -> list[float]:
    mean = math.fsum(values) / len(values)
    away = [value - mean for value in values]
    size = math.sqrt(math.fsum(value * value for value in away))
    return [value / size for value in away]


def _targets(passes: Sequence[HeardPass]) -> list[list[float] | None]:
    """Level, crest, then each band at equal loudness; None where some pass does not know it."""
    level = [heard.loudness_lufs for heard in passes]
    crest = [heard.crest_db for heard in passes]
    bands = [
        [None if db is None else db - heard.loudness_lufs for db, heard in zip(column, passes, strict=True)]
        for column in zip(*(heard.bands_dbfs for heard in passes), strict=True)
    ]
    complete: list[list[float] | None] = [level]
    for target in (crest, *bands):
        known = [value for value in target if value is not None]
        complete.append(known if len(known) == len(target) else None)
    return complete


class _Fit:
    """One design for all targets: controls in the columns, passes in the rows."""

    def __init__(self, columns: Sequence[Sequence[float]], freedom: int) -> None:
        means = [math.fsum(column) / len(column) for column in columns]
        self._columns = [
            [value - mean for value in column] for column, mean in zip(columns, means, strict=True)
        ]
        self._freedom = freedom
        self._gram = gram(self._columns)
        self._inverse: Matrix = []

    def learn(self, targets: Sequence[Sequence[float]]) -> None:
        """The penalty, from how much noise the targets have in the middle: its ratio to the usual effect."""
        self._invert(_RIDGE_OF_NOTHING)
        variances = sorted(self._solve(target)[1] for target in targets)
        self._invert(variances[len(variances) // 2] / USUAL_EFFECT_DB**2)

    def effects(self, target: Sequence[float]) -> list[Effect]:
        coefficients, variance = self._solve(target)
        t = student_t95(self._freedom)
        return [
            Effect(value, t * math.sqrt(variance * self._inverse[index][index]))
            for index, value in enumerate(coefficients)
        ]

    def _invert(self, penalty: float) -> None:
        penalised = [
            [value + (penalty if at == index else 0.0) for at, value in enumerate(row)]
            for index, row in enumerate(self._gram)
        ]
        self._inverse = inverse(penalised)

    def _solve(self, target: Sequence[float]) -> tuple[list[float], float]:
        """Coefficients, and the variance of what they leave over."""
        mean = math.fsum(target) / len(target)
        away = [value - mean for value in target]
        coefficients = product(self._inverse, product(self._columns, away))
        fitted = product(list(zip(*self._columns, strict=True)), coefficients)
        left = math.fsum((value - line) ** 2 for value, line in zip(away, fitted, strict=True))
        return coefficients, max(left / self._freedom, LEAST_NOISE_DB**2)


def _effect(control: str, positions: Sequence[float], effects: Sequence[Effect | None]) -> ControlEffect:
    """`effects` in the order of `_targets`."""
    level, crest, *bands = effects
    assert level is not None  # every pass has a loudness
    return ControlEffect(
        control=control,
        lowest=min(positions),
        highest=max(positions),
        elsewhere=_elsewhere(positions),
        bands=tuple(bands),
        level=level,
        crest=crest,
    )
