"""The settings ledger: rows are controls, grouped by gear in chain order; columns are passes, newest on the right.

The same grid is the source page, the compare page (a choice of columns) and the session log (all of them).
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from statistics import fmean, median
from typing import Literal

from app.desk.passes.alike_prints import PrintLine, alike_prints
from app.desk.passes.pass_sheets import PassSheet, PrintSheet, SettingSheet, StepSheet
from app.records import WorkState
from app.signal.figures import PrintFigures
from app.trade.distances import LengthUnit
from app.trade.placements import Placement, describe, moves
from app.trade.scales import ControlSpec

NOTABLE = 1.0
"""From so many LU, dB or samples on, the measure furthest from the others is inked."""

Change = Literal["first", "same", "changed", "absent", "unset"]
Presence = Literal["in", "out", "joined", "left"]


@dataclass(frozen=True)
class Cell:
    """A reading in its column. `change` compares it with the nearest earlier column where it was noted; `was` is what
    stood there, of one that changed. In the open column `field` names the field of the draft that it is. `crop_id` is the file of what
    a photo showed of it."""

    reading: str
    change: Change
    spec: ControlSpec | None = None
    position: float | None = None
    approximate: bool = False
    was: str = ""
    field: str = ""
    crop_id: int | None = None


@dataclass(frozen=True)
class Row:
    """A control's row has its `key`; of the others `says` tells what of the gear they say."""

    key: str
    label: str
    cells: tuple[Cell, ...]
    says: Literal["setting", "branch", "placement"] = "setting"

    @property
    def differs(self) -> bool:
        """Whether the columns do not all say the same."""
        changes = {cell.change for cell in self.cells}
        return bool(changes - {"first", "same"}) and changes != {"unset"}


@dataclass(frozen=True)
class GearRows:
    """`presence` says for each column whether the gear stands in its chain, and where that changed."""

    gear_id: int
    name: str
    kind: str
    rows: tuple[Row, ...]
    presence: tuple[Presence, ...] = ()

    @property
    def differs(self) -> bool:
        return self.comes_or_goes or any(row.differs for row in self.rows)

    @property
    def comes_or_goes(self) -> bool:
        return len(set(self.presence)) > 1

    @property
    def alike(self) -> int:
        """How many of its rows say the same in all columns."""
        return sum(not row.differs for row in self.rows)


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
class PrintCell:
    """A print of one pass. `louder_lu` is its loudness against the nearest earlier column's print of the same row."""

    print: PrintSheet
    louder_lu: float | None = None

    @property
    def figures(self) -> PrintFigures | None:
        return self.print.measured.figures


@dataclass(frozen=True)
class PrintRow:
    """The prints of one microphone or return, a cell a column; empty where a pass has none of it."""

    name: str
    cells: tuple[PrintCell | None, ...]


@dataclass(frozen=True)
class Turned:
    """One change of a column: "Treble 6.5, was 4.5"; of gear that came or went, `reading` is "joined" or "left".
    `field` is that of the draft, in the open column."""

    gear: str
    what: str
    reading: str
    was: str
    field: str = ""


@dataclass(frozen=True)
class Ledger:
    passes: tuple[PassSheet, ...]
    gear: tuple[GearRows, ...]
    measures: tuple[MeasureRow, ...] = ()
    prints: tuple[PrintRow, ...] = ()

    @property
    def is_being_measured(self) -> bool:
        return any(sheet.is_being_measured for sheet in self.passes)

    def changes(self, column: int) -> tuple[Turned, ...]:
        """What was turned, moved, brought in or taken out in a column, against what stood there before."""
        found: list[Turned] = []
        for gear in self.gear:
            if gear.presence[column] in ("joined", "left"):
                found.append(Turned(gear.name, gear.name, gear.presence[column], ""))
            found += [
                Turned(
                    gear.name, row.label, cell.reading, cell.was, cell.field if row.says == "setting" else ""
                )
                for row in gear.rows
                if (cell := row.cells[column]).change == "changed"
            ]
        return tuple(found)


def build_ledger(passes: Sequence[PassSheet], *, unit: LengthUnit = "mm") -> Ledger:
    """The grid of these passes, in the order given."""
    gear = tuple(_gear_rows(gear_id, passes, unit) for gear_id in _chain_order(passes))
    return Ledger(tuple(passes), gear, tuple(_measure_rows(passes)), tuple(_print_rows(passes)))


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
        rows.insert(
            0, _words_row("branch", steps, [None if step is None else step.branch for step in steps], unit)
        )
    if any(step is not None and step.placement is not None for step in steps):
        said = [None if step is None else _placement_words(step.placement, unit) for step in steps]
        rows.append(_words_row("placement", steps, said, unit))
    presence = _presence([step is not None for step in steps])
    return GearRows(gear_id, newest.gear_name, newest.kind, tuple(rows), presence)


def _presence(stands: Sequence[bool]) -> tuple[Presence, ...]:
    found: list[Presence] = []
    for before, here in zip((None, *stands), stands, strict=False):
        if before is None or before == here:
            found.append("in" if here else "out")
        else:
            found.append("joined" if here else "left")
    return tuple(found)


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
                before.reading if before is not None and _change(before, line) == "changed" else "",
                crop_id=line.crop_id,
            )
        )
        before = line if line.is_set else before
    return Row(key, label, tuple(cells))


def _change(before: SettingSheet | None, line: SettingSheet) -> Change:
    if not line.is_set:
        return "unset"
    if before is None:
        return "first"
    return "same" if before.is_same(line) else "changed"


def _words_row(
    label: Literal["branch", "placement"],
    steps: Sequence[StepSheet | None],
    said: Sequence[str | None],
    unit: LengthUnit,
) -> Row:
    cells: list[Cell] = []
    before: str | None = None
    stood: Placement | None = None
    for step, words in zip(steps, said, strict=True):
        if step is None or words is None:
            cells.append(Cell("", "absent"))
            continue
        if not words:
            cells.append(Cell("", "unset"))
            continue
        if before is None or before == words:
            cells.append(Cell(words, "first" if before is None else "same"))
        elif label == "placement" and stood and step.placement and not moves(stood, step.placement, unit):
            cells.append(Cell(words, "first"))  # more of it is noted, nothing was moved
        else:
            cells.append(Cell(words, "changed", was=before))
        before, stood = words, step.placement
    return Row("", label, tuple(cells), label)


def _placement_words(placement: Placement | None, unit: LengthUnit) -> str:
    return "" if placement is None else describe(placement, unit)


def _print_rows(passes: Sequence[PassSheet]) -> list[PrintRow]:
    """A row for each microphone or return; where a pass has several prints of one, its second is in a second row."""
    called = {step.gear_id: step.gear_name for sheet in passes for step in sheet.steps}
    return [
        PrintRow(_row_name(line, called), tuple(_print_cells(line)))
        for line in alike_prints([sheet.prints for sheet in passes])
    ]


def _row_name(line: PrintLine, called: Mapping[int, str]) -> str:
    """What its newest print is called; where that is by its gear, what the gear's own rows are called."""
    newest = next(item for item in reversed(line) if item is not None)
    is_by_gear = newest.gear_id is not None and not newest.is_said
    return called.get(newest.gear_id or 0, newest.name) if is_by_gear else newest.name


def _print_cells(prints: Sequence[PrintSheet | None]) -> Iterator[PrintCell | None]:
    before: float | None = None
    for item in prints:
        if item is None:
            yield None
            continue
        figures = item.measured.figures
        loudness = None if figures is None else figures.level.integrated_lufs
        yield PrintCell(item, None if loudness is None or before is None else loudness - before)
        before = before if loudness is None else loudness


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
        if item.measured.state == WorkState.FAILED:
            lines.append(item.measured.reason)
            is_fault = True
        elif item.measured.figures is None:
            lines.append("being measured" if item.measured.is_coming else "not measured")
        else:
            found = item.measured.findings
            is_fault = is_fault or any(finding.severity == "fault" for finding in found)
            lines.append("; ".join(finding.sentence for finding in found) or "none")
    return MeasureCell(tuple(lines), is_fault, sheet.is_being_measured)
