"""The open column: the draft of a source's next pass as the ledger shows it, a column that is not inked yet.

A draft is read into a pass sheet as far as it can be read, so that the one ledger compares it with the pass before; what
cannot be read yet stands as it was typed, with its sentence.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from sqlalchemy import select
from sqlalchemy.orm import Session
from sqlmodel import col

from app.desk.passes import passes, placements
from app.desk.passes.draft_fields import fields_of
from app.desk.passes.drafts import DraftSheet
from app.desk.passes.field_names import BranchField, PlacementField, ReadingField, parse
from app.desk.passes.ledger import GearRows, Ledger, Row, Turned, build_ledger
from app.desk.passes.pass_sheets import PassSheet, SettingSheet, StepSheet
from app.desk.passes.passes import GONE, BegunAs, PassEntry, StepEntry
from app.desk.projects.sources import SourceSheet
from app.desk.refusals import Complaints
from app.desk.shelf.gear import LayoutControl, read_controls
from app.library import Readable
from app.records import ControlLayout
from app.trade.distances import LengthUnit
from app.trade.readings import UnknownReading, read

NOT_LOGGED = 0
"""Stands for the ids that a pass has only once it is logged."""

WORDS = (("title", "Title"), ("notes", "Notes"), ("hook_up", "Hook-up"), ("levels", "Levels"))


@dataclass(frozen=True)
class OpenColumn:
    """`complaints` say by field what keeps the draft from being saved; `before` is the pass it is compared with,
    `begun_as` the pass of another source that a first one is a copy of."""

    draft: DraftSheet
    sheet: PassSheet
    complaints: Mapping[str, str]
    before: PassSheet | None
    begun_as: BegunAs | None = None
    unit: LengthUnit = "mm"

    @property
    def entry(self) -> PassEntry:
        return self.draft.entry

    def step(self, gear_id: int) -> StepEntry | None:
        return next((step for step in self.entry.steps if step.gear_id == gear_id), None)

    def was(self, word: str) -> str:
        """What stood in words on the pass before."""
        return "" if self.before is None else str(getattr(self.before, word))


def read_open_column(
    library: Readable,
    source: SourceSheet,
    draft: DraftSheet,
    before: PassSheet | None,
    *,
    unit: LengthUnit = "mm",
) -> OpenColumn:
    with library.reading() as session:
        number = passes.next_number(session, source.source_id)
        steps = _steps(session, draft.entry, unit)
        complaints = passes.complaints_of(session, draft.entry, unit)
    entry = draft.entry
    sheet = PassSheet(
        pass_id=NOT_LOGGED,
        number=number,
        title=entry.title,
        source_id=source.source_id,
        source_name=source.name,
        source_file_id=None,
        project_id=source.project_id,
        project_title=source.project_title,
        project_sample_rate=0,
        notes=entry.notes,
        hook_up=entry.hook_up,
        levels=entry.levels,
        revision=0,
        created_at=draft.begun_at,
        edited_at=draft.edited_at,
        steps=steps,
        prints=(),
        keepers=(),
        photos=(),
    )
    begun_as = passes.begun_as(library, source.source_id, entry) if before is None else None
    return OpenColumn(draft, sheet, complaints, before, begun_as, unit)


def with_open_column(logged: list[PassSheet], column: OpenColumn, *, unit: LengthUnit = "mm") -> Ledger:
    """The ledger of these passes with the open column at its right end, its cells named by the draft's fields."""
    ledger = build_ledger([*logged, column.sheet], unit=unit)
    gear = tuple(_with_fields(rows, column) for rows in ledger.gear)
    return replace(ledger, gear=gear)


def changed_words(column: OpenColumn) -> tuple[Turned, ...]:
    """What differs in words from the pass before; a title and notes are each pass's own."""
    return tuple(
        Turned("", label, getattr(column.entry, word), column.was(word))
        for word, label in WORDS[2:]
        if getattr(column.entry, word).strip() != column.was(word).strip()
    )


def placement_cell(gear_id: int) -> str:
    """The name of the cell in which all fields of a placement stand."""
    return f"placement-{gear_id}"


def cell_of(field: str) -> str:
    """The name of the cell that shows a field."""
    named = parse(field)
    return placement_cell(named.gear_id) if isinstance(named, PlacementField) else field


def _with_fields(rows: GearRows, column: OpenColumn) -> GearRows:
    step = next((step for step in column.sheet.steps if step.gear_id == rows.gear_id), None)
    entry = column.step(rows.gear_id)
    if step is None or entry is None:
        return rows
    fields = {line.key: str(ReadingField(step.gear_id, line.control_id)) for line in step.settings}
    typed = fields_of(column.entry)

    def opened(row: Row) -> Row:
        field = {"branch": str(BranchField(step.gear_id)), "placement": placement_cell(step.gear_id)}.get(
            row.says, fields.get(row.key, "")
        )
        cell = row.cells[-1]
        if not field or cell.change == "absent" or (row.says == "placement" and entry.placement is None):
            return row
        reading = cell.reading if row.says == "placement" else typed.get(field, "")
        return replace(row, cells=(*row.cells[:-1], replace(cell, reading=reading, field=field)))

    return replace(rows, rows=tuple(opened(row) for row in rows.rows))


def _steps(session: Session, entry: PassEntry, unit: LengthUnit) -> tuple[StepSheet, ...]:
    layout_ids = {step.layout_id for step in entry.steps}
    layouts = {
        layout.id: layout
        for layout in session.scalars(select(ControlLayout).where(col(ControlLayout.id).in_(layout_ids)))
    }
    controls = read_controls(session, layout_ids)
    return tuple(
        _step(step, layouts.get(step.layout_id), controls.get(step.layout_id, ()), unit)
        for step in entry.steps
    )


def _step(
    step: StepEntry, layout: ControlLayout | None, controls: tuple[LayoutControl, ...], unit: LengthUnit
) -> StepSheet:
    placed = step.placement
    return StepSheet(
        step_id=NOT_LOGGED,
        gear_id=step.gear_id,
        layout_id=step.layout_id,
        layout_version=NOT_LOGGED if layout is None else layout.version,
        gear_name=GONE if layout is None else layout.gear_name,
        kind="other" if layout is None else layout.kind,
        branch=step.branch.strip(),
        settings=tuple(_setting(control, step.readings.get(control.control_id, "")) for control in controls),
        placement=None if placed is None else placements.read_entry(Complaints(), step.gear_id, placed, unit),
    )


def _setting(control: LayoutControl, typed: str) -> SettingSheet:
    try:
        reading = read(control.spec, typed)
    except UnknownReading:
        return SettingSheet(control.control_id, control.key, control.spec, typed, None, None, False)
    return SettingSheet(
        control.control_id,
        control.key,
        control.spec,
        reading.text,
        reading.position,
        reading.value,
        reading.approximate,
    )
