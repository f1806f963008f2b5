"""Compare two to eight passes in one grid."""

from collections.abc import Iterator, Sequence
from math import floor

from sqlmodel import col

from app.desk.passes.differences import AUDIBLE_FLOOR_DB, is_above_floor, pairs_of_prints
from app.desk.passes.pass_sheets import PassSheet, PrintSheet, read_pass_sheets
from app.desk.refusals import NotThere, Refusal
from app.drawings.loudness import LoudnessCurve
from app.drawings.spectra import Band, Curve
from app.drawings.waveform import Fault
from app.drawings.waveforms import Laid
from app.library import Readable
from app.records import Pass
from app.signal.figures import PrintFigures
from app.trade.levels import power_sum_db

FEWEST, MOST = 2, 8


def read_compared(library: Readable, pass_ids: Sequence[int]) -> list[PassSheet]:
    """The chosen passes, oldest first. Raises Refusal unless they are two to eight passes of one source."""
    wanted = list(dict.fromkeys(pass_ids))
    if not FEWEST <= len(wanted) <= MOST:
        raise Refusal({"": f"Choose {FEWEST} to {MOST} passes to compare; {len(wanted)} were chosen."})
    with library.reading() as session:
        found = read_pass_sheets(session, col(Pass.id).in_(wanted), with_overviews=True)
    if len(found) < len(wanted):
        raise NotThere("pass")
    if len({sheet.source_id for sheet in found}) > 1:
        raise Refusal(
            {
                "": "These passes are of different sources, so their prints cannot be compared. Choose passes of one source."
            }
        )
    return found


Shown = tuple[PassSheet, PrintSheet, PrintFigures]


def shown_prints(base: PassSheet, passes: Sequence[PassSheet], *, every_print: bool = False) -> list[Shown]:
    """Every measured print, or one of each pass: of the base the first, of the others the one of the same microphone, else
    their first."""
    measured = list(_measured(passes))
    if every_print:
        return measured
    first = next((item for sheet, item, _ in measured if sheet.pass_id == base.pass_id), None)
    found = []
    for sheet in passes:
        counterparts = {other.print_id for one, other in pairs_of_prints(base, sheet) if one is first}
        own = [each for each in measured if each[0] is sheet]
        found += sorted(own, key=lambda each: each[1].print_id not in counterparts)[:1]
    return found


def loudness_curves(prints: Sequence[Shown]) -> list[LoudnessCurve]:
    """Short-term loudness, on the source's time line."""
    found = []
    for sheet, item, figures in prints:
        points = [(_in_source_s(figures, point.at_s), point.lufs) for point in figures.overview.loudness]
        found.append(LoudnessCurve(_name(sheet, item), points))
    return found


def laid_waveforms(prints: Sequence[Shown], length_s: float) -> list[Laid]:
    """The prints from the source's first sample on, where they are heard; their faults at their places there."""
    found = []
    for sheet, item, figures in prints:
        faults = [Fault(_in_source_s(figures, run.at_s), "clips") for run in figures.faults.clipped_runs[:40]]
        faults += [
            Fault(_in_source_s(figures, dropout.at_s), dropout.kind)
            for dropout in figures.faults.dropouts[:40]
        ]
        found.append(Laid(_name(sheet, item), _moved(figures, length_s), faults))
    return found


def _moved(figures: PrintFigures, length_s: float) -> list[tuple[float, float] | None]:
    """As many columns over `length_s` from the source's time zero, None where the print holds nothing."""
    columns, duration_s = figures.overview.columns, figures.file.duration_s
    count = len(columns)
    moved = []
    for k in range(count):
        at_s = (k + 0.5) / count * length_s
        held_s = at_s if figures.alignment is None else figures.alignment.in_print_s(at_s)
        index = -1 if held_s is None or duration_s <= 0 else floor(held_s / duration_s * count)
        moved.append(columns[index] if 0 <= index < count else None)
    return moved


def _in_source_s(figures: PrintFigures, print_s: float) -> float:
    return print_s if figures.alignment is None else figures.alignment.in_source_s(print_s)


def length_of(prints: Sequence[Shown]) -> float:
    """The longest print's, in seconds."""
    return max((figures.file.duration_s for _, _, figures in prints), default=0.0)


def curves(passes: Sequence[PassSheet]) -> list[Curve]:
    """The one-third-octave spectrum of every measured print."""
    return [_curve(_name(sheet, item), figures) for sheet, item, figures in _measured(passes)]


def _curve(name: str, figures: PrintFigures, *, without_noise: bool = False) -> Curve:
    return Curve(
        name,
        [
            (
                band.nominal_hz,
                band.mid_hz,
                band.level_dbfs if is_above_floor(band) or not without_noise else None,
            )
            for band in figures.bands
        ],
    )


def curves_against(base: PassSheet, passes: Sequence[PassSheet], *, every_print: bool = False) -> list[Curve]:
    """What each pass holds more or less of than the base, equally loud, in dB by third octave: first the zero line, then
    the first print of each pass, or every one, that the base has a print of too. Empty where there is none."""
    found: list[Curve] = []
    for sheet in passes:
        if sheet.pass_id == base.pass_id:
            continue
        tones = tones_against(base, sheet)
        named = [
            Curve(_name(sheet, item), tones[item.print_id].bands)
            for item in sheet.prints
            if item.print_id in tones
        ]
        found += named if every_print else named[:1]
    return _from_zero(base, found)


def pair_curves(before: PassSheet, after: PassSheet) -> list[Curve]:
    """What a pass holds more or less of than another, in dB by third octave: first the zero line, named after the
    other, then a curve for each microphone that was measured on both. Empty where there is none.

    Each print is first brought to the level of its counterpart. Bands that both of them hold only far below the
    pair's loudest, or one of them no louder than its own noise, are left out: there is nothing to compare.
    """
    return _from_zero(before, list(tones_against(before, after).values()))


def _from_zero(base: PassSheet, found: list[Curve]) -> list[Curve]:
    """Differences behind the zero line, which is named after what they are measured from; nothing without any."""
    if not found:
        return []
    bands = {nominal: mid for curve in found for nominal, mid, _ in curve.bands}
    zero = Curve(f"Pass {base.number}", [(nominal, bands[nominal], 0.0) for nominal in sorted(bands)])
    return [zero, *found]


def tones_against(base: PassSheet, sheet: PassSheet) -> dict[int, Curve]:
    """For each print of a pass that was measured, what it holds more or less of than the base's print of the same
    microphone."""
    return {
        other.print_id: _minus(
            _curve(other.name, new, without_noise=True),
            _curve(one.name, old, without_noise=True),
            _power_db(_curve(other.name, new)) - _power_db(_curve(one.name, old)),
        )
        for one, other in pairs_of_prints(base, sheet)
        if (old := one.measured.figures) is not None and (new := other.measured.figures) is not None
    }


def base_of(passes: Sequence[PassSheet], chosen: int | None) -> PassSheet | None:
    """The pass that the others' prints are held against: the chosen one, else the keeper, else the oldest that was
    measured. None where fewer than two were."""
    measured = [sheet for sheet in passes if any(item.measured.figures is not None for item in sheet.prints)]
    if len(measured) < 2:
        return None
    named = (sheet for sheet in measured if sheet.pass_id == chosen)
    kept = (sheet for sheet in reversed(measured) if sheet.is_keeper)
    return next(named, next(kept, measured[0]))


def _minus(after: Curve, before: Curve, by_db: float) -> Curve:
    """One spectrum less another, once all bands of each hold the same power together."""
    levels = {nominal: level for nominal, _, level in before.bands}
    known = [level for _, _, level in (*before.bands, *after.bands) if level is not None]
    floor_db = max(known, default=0.0) - AUDIBLE_FLOOR_DB
    bands: list[Band] = []
    for nominal, mid, level in after.bands:
        was = levels.get(nominal)
        if level is None or was is None or max(level, was) <= floor_db:
            bands.append((nominal, mid, None))
        else:
            bands.append((nominal, mid, level - was - by_db))
    return Curve(after.name, bands)


def _power_db(curve: Curve) -> float:
    return power_sum_db(level for _, _, level in curve.bands if level is not None)


def _measured(passes: Sequence[PassSheet]) -> Iterator[Shown]:
    for sheet in passes:
        for item in sheet.prints:
            if item.measured.figures is not None:
                yield sheet, item, item.measured.figures


def _name(sheet: PassSheet, item: PrintSheet) -> str:
    is_alone = len(sheet.prints) == 1 and item.name == item.file_name
    return f"Pass {sheet.number}" + ("" if is_alone else f", {item.name}")
