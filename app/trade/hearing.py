"""Sound level and time: the share of a day's exposure, by the occupational criteria of NIOSH, OSHA and the EU.

This is arithmetic on limits made for a working population, not a medical or legal judgement; local rules come first.

Sources: NIOSH publication 98-126 (1998); OSHA 29 CFR 1910.95 and its appendix A; Directive 2003/10/EC article 3;
L_EX,8h as in ISO 1999 and ISO 9612.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from math import inf, log2, log10

from app.trade.levels import power_sum_db
from app.trade.sound_pressure import spl_db


@dataclass(frozen=True)
class Criterion:
    """Eight hours at `criterion_dba` are the whole dose; `exchange_db` more halve the time allowed."""

    key: str
    label: str
    criterion_dba: float
    exchange_db: float
    source: str


NIOSH = Criterion("niosh", "NIOSH", 85.0, 3.0, "NIOSH publication 98-126 (1998)")
OSHA = Criterion("osha", "OSHA", 90.0, 5.0, "29 CFR 1910.95, appendix A")
CRITERIA = (NIOSH, OSHA)

OSHA_ACTION_DOSE_PERCENT = 50.0  # 29 CFR 1910.95(c)
CEILING_DBA = 140.0  # NIOSH 98-126, from memory: no exposure above it


@dataclass(frozen=True)
class EuropeanLimit:
    """An action or limit value of Directive 2003/10/EC, article 3."""

    label: str
    daily_dba: float
    peak_pa: float

    @property
    def peak_db(self) -> float:
        return spl_db(self.peak_pa)


EU_LIMITS = (
    EuropeanLimit("lower action value", 80.0, 112.0),
    EuropeanLimit("upper action value", 85.0, 140.0),
    EuropeanLimit("exposure limit, protectors counted", 87.0, 200.0),
)


@dataclass(frozen=True)
class Exposure:
    """A stretch of time at one A-weighted level."""

    level_dba: float
    hours: float

    def __post_init__(self) -> None:
        if not 0.0 <= self.level_dba <= 194.0:
            raise ValueError("A sound level lies between 0 and 194 dBA.")
        if not 0.0 <= self.hours <= 24.0:
            raise ValueError("A day's exposure lasts between 0 and 24 hours.")


def allowed_hours(criterion: Criterion, level_dba: float) -> float:
    """Hours at `level_dba` that make up the whole dose: 8 / 2^((L - criterion) / exchange)."""
    return float(8.0 / 2.0 ** ((level_dba - criterion.criterion_dba) / criterion.exchange_db))


def dose_percent(criterion: Criterion, exposures: Iterable[Exposure]) -> float:
    """The day's dose in percent: 100 times the sum of time spent over time allowed."""
    return 100.0 * sum(spell.hours / allowed_hours(criterion, spell.level_dba) for spell in exposures)


def time_weighted_average_dba(criterion: Criterion, dose: float) -> float:
    """The steady eight-hour level with the same dose (percent); minus infinity for no dose.

    NIOSH writes 85 + 10 log10(D/100), OSHA 90 + 16.61 log10(D/100). OSHA's factor is 5 / log10(2) = 16.6096; NIOSH's 10
    stands for 3 / log10(2) = 9.97 and is used as published.
    """
    if dose <= 0.0:
        return -inf
    if criterion.exchange_db == 3.0:
        return criterion.criterion_dba + 10.0 * log10(dose / 100.0)
    return criterion.criterion_dba + criterion.exchange_db * log2(dose / 100.0)


def daily_exposure_dba(exposures: Iterable[Exposure]) -> float:
    """L_EX,8h, the EU's measure: the energy of the day spread over eight hours; minus infinity for none."""
    return power_sum_db(
        spell.level_dba + 10.0 * log10(spell.hours / 8.0) for spell in exposures if spell.hours > 0.0
    )


def remaining_hours(criterion: Criterion, exposures: Iterable[Exposure], level_dba: float) -> float:
    """Hours left at `level_dba` before the dose is full; 0 when it already is."""
    left = 1.0 - dose_percent(criterion, exposures) / 100.0
    return max(0.0, left) * allowed_hours(criterion, level_dba)


def show_hours(hours: float) -> str:
    """A duration in words: "2 h 31 min", "47 min 37 s", "28 s"."""
    seconds = round(hours * 3600)
    if seconds >= 24 * 3600:
        return "more than a day"
    parts = ((seconds // 3600, "h"), (seconds % 3600 // 60, "min"), (seconds % 60, "s"))
    shown = [f"{count} {unit}" for count, unit in parts if count]
    return " ".join(shown[:2]) if shown else "0 s"
