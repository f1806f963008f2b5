"""Two printed reference signals, the original's and the recall's, told apart into level, tone and drive.

Plain arithmetic, without numpy. The separation is ours: a chain's distortion says how hard it is driven, so the curves
of distortion over what was sent are moved until they lie on one another; what remains of the level came after the
distortion, and what remains of the response, its median taken out, is tone.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from statistics import median

from app.signal.comparison.tolerances import (
    ARRIVAL_SAMPLES,
    CLOSE_BAND_DB,
    CLOSE_DRIVE_DB,
    CLOSE_LEVEL_DB,
    HEARD_BELOW_LOUDEST_DB,
    MATCH_BAND_DB,
    MATCH_DRIVE_DB,
    MATCH_LEVEL_DB,
    NOISE_DB,
    band_range,
    runs_beyond,
    worst_of,
)
from app.signal.figures import BandDifference, Polarity, Verdict
from app.signal.reference.figures import ReferenceFigures, StepFigures

LARGEST_DRIVE_DB = 24.0
"""Four of the plan's steps of 6 dB: with more apart, fewer than LEAST_POINTS of its seven would meet."""
DRIVE_GRID_DB = 0.1
"""As finely as the figure is shown."""
LEAST_CURVE_DB = 3.0
"""A distortion that hardly grows with level cannot tell how hard the chain is driven."""
LEAST_POINTS = 3
"""Two lie on a line whatever they are."""
OTHER_MANNER_DB = 4.0
"""Curves that lie further apart, moved as well as may be, are of another kind of distortion. Set by hand; not measured."""

Curve = list[tuple[float, float]]


@dataclass(frozen=True, slots=True)
class ReferenceMatch:
    """Every difference is recalled minus original; None is not known.

    `drive_db`: the recall distorts as the original did with so much more sent. `level_db` is what remains of the level
    once that is allowed for. `tone` is the difference of the responses less its median, so that a control that moves a
    few bands leaves the others alone; `manner_db` how far the distortions still lie apart (rms over orders and steps)
    where drive fits best: large, and it is another distortion, whose drive cannot be compared.
    """

    verdict: Verdict | None
    level_db: float | None
    drive_db: float | None
    manner_db: float | None
    tone: tuple[BandDifference, ...]
    delay_difference_samples: float | None
    polarity: Polarity
    noise_difference_db: float | None
    findings: tuple[str, ...]


def compare_references(original: ReferenceFigures, recalled: ReferenceFigures) -> ReferenceMatch:
    """Compares two prints of reference signals, best of one plan; other levels serve as far as they overlap."""
    differences = _response_differences(original, recalled)
    whole_db = median(band.difference_db for band in differences) if differences else None
    tone = tuple(BandDifference(band.mid_hz, band.difference_db - (whole_db or 0.0)) for band in differences)
    drive_db, manner_db = _drive(original.steps, recalled.steps)
    if manner_db is not None and manner_db > OTHER_MANNER_DB:
        drive_db = None
    match = ReferenceMatch(
        verdict=None,
        level_db=_level(original, recalled, drive_db, tone, whole_db),
        drive_db=drive_db,
        manner_db=manner_db,
        tone=tone,
        delay_difference_samples=_delay(original, recalled),
        polarity=_polarity(original, recalled),
        noise_difference_db=_noise(original, recalled, whole_db),
        findings=(),
    )
    findings = _findings(match, _drive_unknown(original.steps, recalled.steps))
    return replace(match, verdict=_verdict(match), findings=tuple(findings))


def _response_differences(original: ReferenceFigures, recalled: ReferenceFigures) -> list[BandDifference]:
    """Of the bands that both know and that are heard in one of them."""
    before = {band.mid_hz: band.gain_db for band in original.response}
    pairs = [
        (band.mid_hz, before[band.mid_hz], band.gain_db)
        for band in recalled.response
        if before.get(band.mid_hz) is not None and band.gain_db is not None
    ]
    shared = [(mid, old, new) for mid, old, new in pairs if old is not None and new is not None]
    if not shared:
        return []
    loudest = [max(row[at] for row in shared) - HEARD_BELOW_LOUDEST_DB for at in (1, 2)]
    return [
        BandDifference(mid, new - old) for mid, old, new in shared if old > loudest[0] or new > loudest[1]
    ]


def _curves(steps: Sequence[StepFigures]) -> list[Curve]:
    """Over what was sent: orders 2 to 5 and the distortion as a whole, in dB, and the change of gain."""
    curves: list[Curve] = [
        [(step.sent_dbfs, db) for step in steps if (db := step.orders_db[index]) is not None]
        for index in range(4)
    ]
    curves.append([(s.sent_dbfs, 20 * math.log10(s.thd_percent)) for s in steps if s.thd_percent])
    return curves


def _drive(
    original: Sequence[StepFigures], recalled: Sequence[StepFigures]
) -> tuple[float | None, float | None]:
    """How far the original's curves must be moved to lie on the recall's, and how well they do then."""
    before, now = _curves(original), _curves(recalled)
    curves = [
        (old, new)
        for old, new in zip(before, now, strict=True)
        if len(old) >= 2 and len(new) >= 2 and _reach(old) > LEAST_CURVE_DB
    ]
    if not curves:
        return None, None
    best: tuple[float, float] | None = None
    count = round(LARGEST_DRIVE_DB / DRIVE_GRID_DB)
    for number in sorted(range(-count, count + 1), key=abs):
        shift = number * DRIVE_GRID_DB
        apart = [
            db - there
            for old, new in curves
            for sent, db in new
            if (there := _interpolated(old, sent + shift)) is not None
        ]
        if len(apart) < LEAST_POINTS:
            continue
        error = math.sqrt(sum(value * value for value in apart) / len(apart))
        if best is None or error < best[1] - 1e-9:
            best = shift, error
    return (None, None) if best is None else best


def _reach(curve: Curve) -> float:
    levels = [db for _, db in curve]
    return max(levels) - min(levels)


def _interpolated(curve: Curve, at: float) -> float | None:
    """Between the points of a curve; None beyond its ends."""
    for (left, low), (right, high) in pairwise(curve):
        if left - 1e-9 <= at <= right + 1e-9:
            return low + (high - low) * (at - left) / (right - left)
    return None


def _level(
    original: ReferenceFigures,
    recalled: ReferenceFigures,
    drive_db: float | None,
    tone: Sequence[BandDifference],
    whole_db: float | None,
) -> float | None:
    """The steps' levels against those of the original with so much more drive, less what tone does at their frequency;
    where nothing is known of drive, the median difference of the responses."""
    if drive_db is None:
        return whole_db
    before = [
        (step.sent_dbfs, step.returned_dbfs) for step in original.steps if step.returned_dbfs is not None
    ]
    apart = [
        step.returned_dbfs - there
        for step in recalled.steps
        if step.returned_dbfs is not None
        and (there := _interpolated(before, step.sent_dbfs + drive_db)) is not None
    ]
    near = [band for band in tone if abs(math.log(band.mid_hz / original.tone_hz)) < 0.12]
    return sum(apart) / len(apart) - (near[0].difference_db if near else 0.0) if apart else None


def _delay(original: ReferenceFigures, recalled: ReferenceFigures) -> float | None:
    if original.delay_ms is None or recalled.delay_ms is None:
        return None
    return (recalled.delay_ms - original.delay_ms) * recalled.sample_rate / 1000


def _polarity(original: ReferenceFigures, recalled: ReferenceFigures) -> Polarity:
    if "unclear" in (original.polarity, recalled.polarity):
        return "unclear"
    return "same" if original.polarity == recalled.polarity else "inverted"


def _noise(original: ReferenceFigures, recalled: ReferenceFigures, whole_db: float | None) -> float | None:
    """At equal level."""
    if original.noise_floor_dbfs is None or recalled.noise_floor_dbfs is None or whole_db is None:
        return None
    return recalled.noise_floor_dbfs - original.noise_floor_dbfs - whole_db


def _verdict(match: ReferenceMatch) -> Verdict | None:
    """As `app.signal.comparison.verdict`, drive counting in dB sent; another manner of distortion is different. The arrival
    is told and does not weigh."""
    if not match.tone:
        return None
    measures = [
        (match.level_db, MATCH_LEVEL_DB, CLOSE_LEVEL_DB),
        (match.drive_db, MATCH_DRIVE_DB, CLOSE_DRIVE_DB),
        *((band.difference_db, MATCH_BAND_DB, CLOSE_BAND_DB) for band in match.tone),
    ]
    measured = [
        (abs(value), match_db, close_db) for value, match_db, close_db in measures if value is not None
    ]
    if (
        match.polarity == "inverted"
        or _other_manner(match)
        or any(value > close_db for value, _, close_db in measured)
    ):
        return "different"
    return "close" if any(value > match_db for value, match_db, _ in measured) else "match"


def _late(match: ReferenceMatch) -> bool:
    return (
        match.delay_difference_samples is not None and abs(match.delay_difference_samples) > ARRIVAL_SAMPLES
    )


def _other_manner(match: ReferenceMatch) -> bool:
    return match.manner_db is not None and match.manner_db > OTHER_MANNER_DB


def _findings(match: ReferenceMatch, drive_unknown: str) -> list[str]:
    if not match.tone:
        return ["The two have no response in common, so they cannot be compared."]
    sentences: list[str] = []
    if _other_manner(match):
        sentences.append(
            "The recall distorts in another manner, not only more or less: see that no pedal or amp was changed."
        )
    elif match.drive_db is None:
        sentences.append(drive_unknown)
    elif abs(match.drive_db) > MATCH_DRIVE_DB:
        more = "more" if match.drive_db > 0 else "less"
        sentences.append(
            f"Drive: it distorts as the original would with {abs(match.drive_db):.1f} dB {more} sent. Look at the send "
            "level and the gains ahead of the distortion first."
        )
    if match.level_db is not None and abs(match.level_db) > MATCH_LEVEL_DB:
        where = "louder" if match.level_db > 0 else "quieter"
        behind = "" if match.drive_db is None else " behind the distortion"
        sentences.append(f"Level: {abs(match.level_db):.1f} dB {where}{behind}.")
    sentences += [_tone(run) for run in runs_beyond(match.tone, [MATCH_BAND_DB] * len(match.tone))]
    if match.polarity == "inverted":
        sentences.append("Polarity: upside down against the original.")
    if _late(match):
        samples = match.delay_difference_samples or 0.0
        sentences.append(f"Delay: {abs(samples):.1f} samples {'later' if samples > 0 else 'earlier'}.")
    if match.noise_difference_db is not None and match.noise_difference_db > NOISE_DB:
        sentences.append(f"Noise: {match.noise_difference_db:.0f} dB more at equal level.")
    return sentences or ["Level, tone and drive agree."]


def _drive_unknown(original: Sequence[StepFigures], recalled: Sequence[StepFigures]) -> str:
    before, now = (any(step.thd_percent for step in steps) for steps in (original, recalled))
    if before != now:
        return f"Only the {'original' if before else 'recall'} distorts enough to be measured."
    return "The distortion does not tell how hard they are driven, so drive and level cannot be told apart."


def _tone(run: Sequence[BandDifference]) -> str:
    worst = worst_of(run)
    return f"Tone: {abs(worst):.1f} dB {'more' if worst > 0 else 'less'} {band_range(run)}."
