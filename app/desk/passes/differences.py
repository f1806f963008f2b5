"""What differs between two passes, in one line: what was turned, what was moved, and what the prints say of it."""

from collections.abc import Sequence
from dataclasses import dataclass

from app.desk.passes.alike_prints import alike_prints
from app.desk.passes.pass_sheets import PassSheet, PrintSheet, StepSheet
from app.drawings.wording import decibels, hertz
from app.signal.figures import BandLevel
from app.trade.distances import LengthUnit
from app.trade.levels import power_sum_db
from app.trade.placements import moves

REGIONS = ((40, 160), (200, 500), (630, 1600), (2000, 5000), (6300, 16000))
"""Ranges of third-octave bands that are spoken of together (ours)."""

NOTABLE_DB = 1.0
AUDIBLE_FLOOR_DB = 60.0
"""Bands further than this below the loudest of both prints are left out: there is nothing to compare but noise."""

OVER_FLOOR_DB = 3.0
"""A band in which the noise is half of the power or more says nothing of the tone."""


@dataclass(frozen=True)
class Difference:
    """From one pass to another: the settings in words, and the prints in words where both were measured."""

    before: PassSheet
    after: PassSheet
    settings: tuple[str, ...]
    prints: tuple[str, ...]


def difference(before: PassSheet, after: PassSheet, *, unit: LengthUnit = "mm") -> Difference:
    steps_before = {step.gear_id: step for step in before.steps}
    steps_after = {step.gear_id: step for step in after.steps}
    settings = [f"without {step.gear_name}" for key, step in steps_before.items() if key not in steps_after]
    for key, step in steps_after.items():
        if key not in steps_before:
            settings.append(f"with {step.gear_name}")
        else:
            settings += _changed(steps_before[key], step, unit)
    return Difference(before, after, tuple(settings), tuple(_of_prints(before, after)))


def is_above_floor(band: BandLevel) -> bool:
    """Whether more than noise is in a band: its level is at least twice the power that is there while nobody plays."""
    return band.level_dbfs is not None and (
        band.floor_dbfs is None or band.level_dbfs - band.floor_dbfs >= OVER_FLOOR_DB
    )


def regions_of(before: Sequence[BandLevel], after: Sequence[BandLevel]) -> list[tuple[int, int, float]]:
    """By region (low and high nominal Hz) the mean level difference in dB, once the overall level is matched. Only
    bands that both prints hold well above their floor count."""
    bands = _bands_apart(before, after)
    found = []
    for low, high in REGIONS:
        inside = [change for hz, change in bands if low <= hz <= high]
        if inside:
            found.append((low, high, sum(inside) / len(inside)))
    return found


def _bands_apart(before: Sequence[BandLevel], after: Sequence[BandLevel]) -> list[tuple[float, float]]:
    """By band (nominal Hz) the level difference in dB, once the overall level is matched."""
    level_before, level_after = (
        power_sum_db(band.level_dbfs for band in bands if band.level_dbfs is not None)
        for bands in (before, after)
    )
    return [
        (one.nominal_hz, other.level_dbfs - one.level_dbfs - (level_after - level_before))
        for one, other in _heard(before, after)
        if is_above_floor(one) and is_above_floor(other)
        if one.level_dbfs is not None and other.level_dbfs is not None
    ]


def left_out(before: Sequence[BandLevel], after: Sequence[BandLevel]) -> list[tuple[float, float]]:
    """Neighbouring bands (lowest and highest nominal Hz) that are left out because one of the prints holds no more than its
    noise there."""
    found: list[tuple[float, float]] = []
    is_going_on = False
    for one, other in _heard(before, after):
        is_noise = not (is_above_floor(one) and is_above_floor(other))
        if is_noise and is_going_on:
            found[-1] = (found[-1][0], one.nominal_hz)
        elif is_noise:
            found.append((one.nominal_hz, one.nominal_hz))
        is_going_on = is_noise
    return found


def _heard(before: Sequence[BandLevel], after: Sequence[BandLevel]) -> list[tuple[BandLevel, BandLevel]]:
    """The bands that are not far below the loudest of both."""
    pairs = [
        (one, other, max(one.level_dbfs, other.level_dbfs))
        for one, other in zip(before, after, strict=False)
        if one.level_dbfs is not None and other.level_dbfs is not None
    ]
    loudest = max((level for _, _, level in pairs), default=0.0)
    return [(one, other) for one, other, level in pairs if level > loudest - AUDIBLE_FLOOR_DB]


def tone_in_words(before: Sequence[BandLevel], after: Sequence[BandLevel]) -> str:
    regions = regions_of(before, after)
    notable = [item for item in regions if abs(item[2]) >= NOTABLE_DB]
    tone = ", ".join(f"{_range(low, high)} {_signed(change)} dB" for low, high, change in notable)
    noise = ", ".join(_range(low, high) for low, high in left_out(before, after))
    said = tone or _nothing_wide(_bands_apart(before, after))
    return f"{said} ({noise} left out: no more than noise)" if noise else said


def _nothing_wide(bands: Sequence[tuple[float, float]]) -> str:
    """Where no region differs notably: the single band that is furthest off, as the curve shows it, or that none is."""
    hz, furthest = max(bands, key=lambda band: abs(band[1]), default=(0.0, 0.0))
    if round(abs(furthest), 1) < NOTABLE_DB:
        return f"no third-octave band differs by {NOTABLE_DB:g} dB once equally loud"
    return f"no wider region differs by {NOTABLE_DB:g} dB once equally loud, a single band at most {_signed(furthest)} dB at {hertz(hz)}"


def _changed(before: StepSheet, after: StepSheet, unit: LengthUnit) -> list[str]:
    """What was turned or moved, of what is noted on both: what is only noted now is no turn."""
    old = {line.key: line for line in before.settings}
    said = []
    for line in after.settings:
        was = old.get(line.key)
        if was is not None and was.is_set and line.is_set and not was.is_same(line):
            said.append(f"{line.name} {was.reading} → {line.reading}")
    if before.branch and after.branch and before.branch != after.branch:
        said.append(f"{after.gear_name} branch {before.branch} → {after.branch}")
    if before.placement is not None and after.placement is not None:
        said += [f"{after.gear_name} {move}" for move in moves(before.placement, after.placement, unit)]
    return said


def _of_prints(before: PassSheet, after: PassSheet) -> list[str]:
    said = []
    for one, other in pairs_of_prints(before, after):
        if one.measured.figures is None or other.measured.figures is None:
            continue
        tone = tone_in_words(one.measured.figures.bands, other.measured.figures.bands)
        name = "" if other.name == other.file_name else f"{other.name}: "
        said.append(name + tone)
    return [*said, *_balance(pairs_of_prints(before, after))]


def _balance(pairs: Sequence[tuple[PrintSheet, PrintSheet]]) -> list[str]:
    """What became louder or softer against the first microphone: each is compared once it is equally loud, so their balance
    is said by itself."""
    louder = [
        (other.name, new - old)
        for one, other in pairs
        if (old := _loudness(one)) is not None and (new := _loudness(other)) is not None
    ]
    if len(louder) < 2:
        return []
    (first, by), *others = louder
    return [
        f"{name} {_signed(change - by)} LU against {first}"
        for name, change in others
        if abs(change - by) >= NOTABLE_DB
    ]


def _loudness(item: PrintSheet) -> float | None:
    return None if item.measured.figures is None else item.measured.figures.level.integrated_lufs


def pairs_of_prints(before: PassSheet, after: PassSheet) -> list[tuple[PrintSheet, PrintSheet]]:
    """Prints of the same microphone or return, the first of several, or the only print of each."""
    if len(before.prints) == 1 and len(after.prints) == 1:
        return [(before.prints[0], after.prints[0])]
    firsts = [
        list({(item.gear_id, item.name): item for item in reversed(sheet.prints)}.values())[::-1]
        for sheet in (before, after)
    ]
    return [(old, new) for old, new in alike_prints(firsts) if old is not None and new is not None]


def _range(low: float, high: float) -> str:
    if low == high:
        return hertz(low)
    if low >= 1000:
        return f"{low / 1000:g}–{high / 1000:g} kHz"
    return f"{low:g} Hz–{high / 1000:g} kHz" if high >= 1000 else f"{low:g}–{high:g} Hz"


def _signed(value: float) -> str:
    return decibels(value, signed=True)
