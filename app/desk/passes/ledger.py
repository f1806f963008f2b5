"""The settings ledger: rows are controls, grouped by gear in chain order; columns are passes, newest on the right.

The same grid is the source page, the compare page (a choice of columns) and the session log (all of them).
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from statistics import fmean, median
from typing import Literal

from app.desk.passes.pass_sheets import PassSheet, SettingSheet, StepSheet
from app.signal.figures import PrintFigures
from app.trade.distances import LengthUnit
from app.trade.placements import Placement, describe
from app.trade.scales import ControlSpec

NOTABLE = 1.0
"""From so many LU, dB or samples on, the measure furthest from the others is inked."""

Change = Literal["first", "same", "changed", "absent", "unset"]


@dataclass(frozen=True)
class Cell:
    """A reading in its column. `change` compares it with the nearest earlier column where it was noted."""

    reading: str
    change: Change
    spec: ControlSpec | None = None
    position: float | None = None
    approximate: bool = False


@dataclass(frozen=True)
class Row:
    label: str
    cells: tuple[Cell, ...]

    @property
    def differs(self) -> bool:
        """Whether the columns do not all say the same."""
        changes = {cell.change for cell in self.cells}
        return bool(changes - {"first", "same"}) and changes != {"unset"}


@dataclass(frozen=True)
class GearRows:
    gear_id: int
    name: str
    kind: str
    rows: tuple[Row, ...]

    @property
    def differs(self) -> bool:
        return any(row.differs for row in self.rows)


@dataclass(frozen=True)
class MeasureCell:
    """A measure of one pass: a line for each of its prints. `is_furthest` marks the one that lies furthest from the
    middle of its row."""

    lines: tuple[str, ...]
    is_fault: bool = False
    is_coming: bool = False
    is_furthest: bool = False


@dataclass(frozen=True)
class MeasureRow:
    label: str
    unit: str
    cells: tuple[MeasureCell, ...]


@dataclass(frozen=True)
class Ledger:
    passes: tuple[PassSheet, ...]
    gear: tuple[GearRows, ...]
    measures: tuple[MeasureRow, ...] = ()

    @property
    def is_being_measured(self) -> bool:
        return any(sheet.is_being_measured for sheet in self.passes)


def build_ledger(passes: Sequence[PassSheet], *, unit: LengthUnit = "mm") -> Ledger:
    """The grid of these passes, in the order given."""
    gear = tuple(_gear_rows(gear_id, passes, unit) for gear_id in _chain_order(passes))
    return Ledger(tuple(passes), gear, tuple(_measure_rows(passes)))


def _chain_order(passes: Sequence[PassSheet]) -> list[int]:
    """The gear of all passes, merged so that each pass's own order is kept where the passes agree; the newest pass
    leads, and gear that only older passes had stands behind what it followed there."""
    order: list[int] = []
    for sheet in reversed(passes):
        place = 0
        for step in sheet.steps:
            if step.gear_id in order:
                place = order.index(step.gear_id) + 1
            else:
                order.insert(place, step.gear_id)
                place += 1
    return order


def _gear_rows(gear_id: int, passes: Sequence[PassSheet], unit: LengthUnit) -> GearRows:
    steps = [next((step for step in sheet.steps if step.gear_id == gear_id), None) for sheet in passes]
    newest = next(step for step in reversed(steps) if step is not None)
    rows = [_control_row(key, steps) for key in _control_order(steps)]
    if any(step is not None and step.branch for step in steps):
        rows.insert(0, _words_row("branch", steps, [None if step is None else step.branch for step in steps]))
    if any(step is not None and step.placement is not None for step in steps):
        said = [None if step is None else _placement_words(step.placement, unit) for step in steps]
        rows.append(_words_row("placement", steps, said))
    return GearRows(gear_id, newest.gear_name, newest.kind, tuple(rows))


def _control_order(steps: Sequence[StepSheet | None]) -> list[str]:
    """The keys of all controls, the newest layout's order first."""
    keys: dict[str, None] = {}
    for step in reversed(steps):
        if step is not None:
            keys.update(dict.fromkeys(line.key for line in step.settings))
    return list(keys)


def _control_row(key: str, steps: Sequence[StepSheet | None]) -> Row:
    lines = [
        None if step is None else next((line for line in step.settings if line.key == key), None)
        for step in steps
    ]
    label = next(line.name for line in reversed(lines) if line is not None)
    cells: list[Cell] = []
    before: SettingSheet | None = None
    for line in lines:
        if line is None:
            cells.append(Cell("", "absent"))
            continue
        renamed = "" if line.name == label else f" ({line.name})"
        cells.append(
            Cell(
                line.reading + renamed if line.is_set else "",
                _change(before, line),
                line.spec,
                line.position,
                line.approximate,
            )
        )
        before = line if line.is_set else before
    return Row(label, tuple(cells))


def _change(before: SettingSheet | None, line: SettingSheet) -> Change:
    if not line.is_set:
        return "unset"
    if before is None:
        return "first"
    return "same" if before.is_same(line) else "changed"


def _words_row(label: str, steps: Sequence[StepSheet | None], said: Sequence[str | None]) -> Row:
    cells: list[Cell] = []
    before: str | None = None
    for step, words in zip(steps, said, strict=True):
        if step is None or words is None:
            cells.append(Cell("", "absent"))
            continue
        if not words:
            cells.append(Cell("", "unset"))
            continue
        cells.append(Cell(words, "first" if before is None else "same" if before == words else "changed"))
        before = words
    return Row(label, tuple(cells))


def _placement_words(placement: Placement | None, unit: LengthUnit) -> str:
    return "" if placement is None else describe(placement, unit)


def _measure_rows(passes: Sequence[PassSheet]) -> list[MeasureRow]:
    rows = [
        ("loudness", "LUFS", [_per_print(sheet, _in_tenths(_loudness_lufs)) for sheet in passes]),
        ("true peak", "dBTP", [_per_print(sheet, _in_tenths(_true_peak_dbtp)) for sheet in passes]),
        ("delay", "samples", [_per_print(sheet, _in_tenths(_delay_samples)) for sheet in passes]),
        ("polarity", "", [_per_print(sheet, _polarity) for sheet in passes]),
        ("findings", "", [_findings(sheet) for sheet in passes]),
    ]
    if not any(sheet.prints for sheet in passes):
        return []
    numbers = {"loudness": _loudness_lufs, "true peak": _true_peak_dbtp, "delay": _delay_samples}
    return [
        MeasureRow(
            label, unit, _with_furthest(cells, passes, numbers[label]) if label in numbers else tuple(cells)
        )
        for label, unit, cells in rows
    ]


def _with_furthest(
    cells: list[MeasureCell], passes: Sequence[PassSheet], number: Callable[[PrintFigures], float | None]
) -> tuple[MeasureCell, ...]:
    """The cells, the one furthest from the median marked where it lies off by NOTABLE or more."""
    means = [_mean(sheet, number) for sheet in passes]
    known = [value for value in means if value is not None]
    if len(known) < 2:
        return tuple(cells)
    middle = median(known)
    off = [0.0 if value is None else abs(value - middle) for value in means]
    if max(off) < NOTABLE:
        return tuple(cells)
    furthest = off.index(max(off))
    return tuple(replace(cell, is_furthest=index == furthest) for index, cell in enumerate(cells))


def _mean(sheet: PassSheet, number: Callable[[PrintFigures], float | None]) -> float | None:
    values = [number(item.measured.figures) for item in sheet.prints if item.measured.figures is not None]
    known = [value for value in values if value is not None]
    return fmean(known) if known else None


def _per_print(sheet: PassSheet, measure: Callable[[PrintFigures], str]) -> MeasureCell:
    lines = []
    for item in sheet.prints:
        figures = item.measured.figures
        if figures is not None:
            lines.append(measure(figures))
        else:
            lines.append("…" if item.measured.is_coming else "–")
    return MeasureCell(tuple(lines), is_coming=sheet.is_being_measured)


def _loudness_lufs(figures: PrintFigures) -> float | None:
    return figures.level.integrated_lufs


def _true_peak_dbtp(figures: PrintFigures) -> float | None:
    return figures.level.true_peak_dbtp


def _delay_samples(figures: PrintFigures) -> float | None:
    return None if figures.alignment is None else figures.alignment.delay_samples


def _polarity(figures: PrintFigures) -> str:
    return "–" if figures.alignment is None else figures.alignment.polarity


def tenths(value: float | None) -> str:
    """A figure to a tenth; a dash where it is not known. Adding zero turns −0.0 into 0.0."""
    return "–" if value is None else f"{round(value, 1) + 0.0:.1f}".replace("-", "−")


def _in_tenths(number: Callable[[PrintFigures], float | None]) -> Callable[[PrintFigures], str]:
    return lambda figures: tenths(number(figures))


def _findings(sheet: PassSheet) -> MeasureCell:
    """All that was found, in words; "none" only where a print was measured, "no print" where there is none."""
    if not sheet.prints:
        return MeasureCell(("no print",))
    lines = []
    is_fault = False
    for item in sheet.prints:
        if item.measured.state == "failed":
            lines.append(item.measured.reason)
            is_fault = True
        elif item.measured.figures is None:
            lines.append("being measured" if item.measured.is_coming else "not measured")
        else:
            found = item.measured.findings
            is_fault = is_fault or any(finding.severity == "fault" for finding in found)
            lines.append("; ".join(finding.sentence for finding in found) or "none")
    return MeasureCell(tuple(lines), is_fault, sheet.is_being_measured)
