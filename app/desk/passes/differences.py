"""What differs between two passes, in one line: what was turned, what was moved, and what the prints say of it."""

from collections.abc import Sequence
from dataclasses import dataclass

from app.desk.passes.pass_sheets import PassSheet, PrintSheet, StepSheet
from app.signal.figures import BandLevel
from app.trade.distances import LengthUnit
from app.trade.levels import power_sum_db
from app.trade.placements import changes

REGIONS = ((40, 160), (200, 500), (630, 1600), (2000, 5000), (6300, 16000))
"""Ranges of third-octave bands that are spoken of together (ours)."""

NOTABLE_DB = 1.0
AUDIBLE_FLOOR_DB = 60.0
"""Bands further than this below the loudest of both prints are left out: there is nothing to compare but noise."""


@dataclass(frozen=True)
class Difference:
    """From one pass to another: the settings in words, and the prints in words where both were measured."""

    before: PassSheet
    after: PassSheet
    settings: tuple[str, ...]
    prints: tuple[str, ...]


def differences(passes: Sequence[PassSheet], *, unit: LengthUnit = "mm") -> list[Difference]:
    """Each pass against the first."""
    first, *others = passes
    return [difference(first, other, unit=unit) for other in others]


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


def regions_of(before: Sequence[BandLevel], after: Sequence[BandLevel]) -> list[tuple[int, int, float]]:
    """By region (low and high nominal Hz) the mean level difference in dB, once the overall level is matched. Only
    bands that both prints hold well above their floor count."""
    pairs = [
        (one.nominal_hz, other.level_dbfs - one.level_dbfs, max(one.level_dbfs, other.level_dbfs))
        for one, other in zip(before, after, strict=False)
        if one.level_dbfs is not None and other.level_dbfs is not None
    ]
    if not pairs:
        return []
    loudest = max(level for _, _, level in pairs)
    heard = [(hz, change) for hz, change, level in pairs if level > loudest - AUDIBLE_FLOOR_DB]
    level_before, level_after = (
        power_sum_db(band.level_dbfs for band in bands if band.level_dbfs is not None)
        for bands in (before, after)
    )
    level_db = level_after - level_before
    found = []
    for low, high in REGIONS:
        inside = [change for hz, change in heard if low <= hz <= high]
        if inside:
            found.append((low, high, sum(inside) / len(inside) - level_db))
    return found


def tone_in_words(before: Sequence[BandLevel], after: Sequence[BandLevel]) -> str:
    notable = [item for item in regions_of(before, after) if abs(item[2]) >= NOTABLE_DB]
    tone = ", ".join(f"{_range(low, high)} {_signed(change)} dB" for low, high, change in notable)
    return tone or f"no third-octave region differs by {NOTABLE_DB:g} dB once equally loud"


def _changed(before: StepSheet, after: StepSheet, unit: LengthUnit) -> list[str]:
    old = {line.key: line for line in before.settings}
    said = []
    for line in after.settings:
        was = old.get(line.key)
        if was is not None and not was.is_same(line):
            said.append(f"{line.name} {was.reading or 'not noted'} → {line.reading or 'not noted'}")
    if before.placement is not None and after.placement is not None:
        said += [f"{after.gear_name} {change}" for change in changes(before.placement, after.placement, unit)]
    return said


def _of_prints(before: PassSheet, after: PassSheet) -> list[str]:
    said = []
    for one, other in pairs_of_prints(before, after):
        if one.measured.figures is None or other.measured.figures is None:
            continue
        tone = tone_in_words(one.measured.figures.bands, other.measured.figures.bands)
        name = "" if other.name == other.file_name else f"{other.name}: "
        said.append(name + tone)
    return said


def pairs_of_prints(before: PassSheet, after: PassSheet) -> list[tuple[PrintSheet, PrintSheet]]:
    """Prints of the same microphone or return, the first of several, or the only print of each."""
    if len(before.prints) == 1 and len(after.prints) == 1:
        return [(before.prints[0], after.prints[0])]
    old, new = ({item.name: item for item in reversed(sheet.prints)} for sheet in (before, after))
    return [(old[item.name], item) for item in after.prints if item is new[item.name] and item.name in old]


def _range(low: int, high: int) -> str:
    if low >= 1000:
        return f"{low / 1000:g}–{high / 1000:g} kHz"
    return f"{low} Hz–{high / 1000:g} kHz" if high >= 1000 else f"{low}–{high} Hz"


def _signed(value: float) -> str:
    return f"{value:+.1f}".replace("-", "−")
