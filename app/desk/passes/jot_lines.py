"""The jot line of a draft: what it would set, and setting it."""

from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session
from sqlmodel import col

from app.desk.passes import drafts
from app.desk.passes.draft_fields import fields_of
from app.desk.passes.field_names import PlacementField, ReadingField
from app.desk.passes.passes import PassEntry
from app.desk.shelf.gear import read_controls
from app.library import Library, Readable
from app.records import ControlLayout
from app.trade.distances import LengthUnit
from app.trade.gear_kinds import kind_word
from app.trade.jotting import MEASURES, JotControl, JotGear, Puzzling, Understood, read_line


@dataclass(frozen=True)
class SettingLine:
    """What a line sets, beside what stands there now."""

    gear: str
    what: str
    before: str
    reading: str


@dataclass(frozen=True)
class JotSheet:
    line: str
    sets: tuple[SettingLine, ...] = ()
    puzzling: tuple[Puzzling, ...] = ()
    left_over: str = ""


def understand(library: Readable, draft_id: int, line: str, *, unit: LengthUnit = "mm") -> JotSheet:
    """What a line would set in a draft, as it stands there now."""
    entry = drafts.read_draft(library, draft_id).entry
    with library.reading() as session:
        read = read_line(line, _chain(session, entry), unit)
    standing = fields_of(entry)
    sets = tuple(_line_of(part, standing.get(part.field, "")) for part in read.understood)
    return JotSheet(line, sets, read.puzzling, read.left_over)


def take_line(
    library: Library, draft_id: int, key: str, line: str, *, unit: LengthUnit = "mm"
) -> tuple[drafts.Jotted, str]:
    """Set in the draft what the line says, as one step of undo. Returns what was left over of it."""
    entry = drafts.read_draft(library, draft_id).entry
    with library.reading() as session:
        read = read_line(line, _chain(session, entry), unit)
    changes = {part.field: part.reading for part in read.understood}
    return drafts.jot(library, draft_id, key, changes, unit=unit), read.left_over


def _line_of(part: Understood, before: str) -> SettingLine:
    return SettingLine(part.gear, part.what, before, part.reading)


def _chain(session: Session, entry: PassEntry) -> tuple[JotGear, ...]:
    layout_ids = [step.layout_id for step in entry.steps]
    controls = read_controls(session, layout_ids)
    layouts = {
        layout.id: layout
        for layout in session.scalars(select(ControlLayout).where(col(ControlLayout.id).in_(layout_ids)))
    }
    return tuple(
        JotGear(
            layouts[step.layout_id].gear_name,
            kind_word(layouts[step.layout_id].kind),
            tuple(
                JotControl(str(ReadingField(step.gear_id, control.control_id)), control.spec)
                for control in controls.get(step.layout_id, ())
            ),
            {}
            if step.placement is None
            else {measure: str(PlacementField(step.gear_id, measure)) for measure in MEASURES},
        )
        for step in entry.steps
        if step.layout_id in layouts
    )
