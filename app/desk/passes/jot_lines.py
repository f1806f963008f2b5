"""The jot line of a draft: what it would set, and setting it.

Where no gear stands in the chain yet, what is jotted is kept as words: a line of the notes, as it was typed. Once gear
stands there, the notes are read like jot lines, and what they say of controls that are not set yet can be set; the
notes stay as they are.
"""

from dataclasses import dataclass, replace

from sqlalchemy import select
from sqlalchemy.orm import Session
from sqlmodel import col

from app.desk.passes import drafts
from app.desk.passes.draft_fields import fields_of, with_fields
from app.desk.passes.field_names import PlacementField, ReadingField
from app.desk.passes.passes import PassEntry
from app.desk.shelf.gear import read_controls
from app.library import Library, Readable
from app.records import ControlLayout
from app.trade.distances import LengthUnit
from app.trade.gear_kinds import kind_word
from app.trade.jotting import MEASURES, JotControl, JotGear, Puzzling, Understood, read_line

NOTES_LINES = 6  # of the notes, so many lines are read for settings
JOTTED_LIMIT = 200  # characters of such a line; a longer one is prose


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
    is_words: bool = False
    """Whether the line would be kept in the notes, for there is no gear yet that it could set."""


def understand(library: Readable, draft_id: int, line: str, *, unit: LengthUnit = "mm") -> JotSheet:
    """What a line would set in a draft, as it stands there now."""
    entry = drafts.read_draft(library, draft_id).entry
    if not entry.steps:
        return JotSheet(line, is_words=bool(line.strip()))
    with library.reading() as session:
        read = read_line(line, _chain(session, entry), unit)
    standing = fields_of(entry)
    sets = tuple(_line_of(part, standing.get(part.field, "")) for part in read.understood)
    return JotSheet(line, sets, read.puzzling, read.left_over)


def take_line(
    library: Library, draft_id: int, key: str, line: str, *, unit: LengthUnit = "mm"
) -> tuple[drafts.Jotted, str]:
    """Set in the draft what the line says, as one step of undo; while its chain is empty, keep the line as words.
    Returns what was left over of it."""
    entry = drafts.read_draft(library, draft_id).entry
    if not entry.steps:
        return keep_as_words(library, draft_id, key, line, unit=unit), ""
    with library.reading() as session:
        read = read_line(line, _chain(session, entry), unit)
    changes = {part.field: part.reading for part in read.understood}
    return drafts.jot(library, draft_id, key, changes, unit=unit), read.left_over


def keep_as_words(
    library: Library, draft_id: int, key: str, line: str, *, unit: LengthUnit = "mm"
) -> drafts.Jotted:
    """Put a line into the draft's notes as it was typed, once."""
    words = line.strip()

    def written(session: Session, entry: PassEntry) -> PassEntry:
        if not words or words in (note.strip() for note in entry.notes.splitlines()):
            return entry
        return replace(entry, notes=f"{entry.notes.rstrip()}\n{words}".lstrip())

    return drafts.change_entry(library, draft_id, key, written, lambda session: "kept as words", unit)


def understand_notes(
    library: Readable, entry: PassEntry, *, unit: LengthUnit = "mm"
) -> tuple[SettingLine, ...]:
    """What the notes say of controls and places that nothing is set at yet."""
    with library.reading() as session:
        return tuple(_line_of(part, "") for part in _said_in_notes(session, entry, unit))


def take_notes(library: Library, draft_id: int, key: str, *, unit: LengthUnit = "mm") -> drafts.Jotted:
    """Set what the notes say and nothing is set at yet, as one step of undo. The notes stay as they are."""

    def settings(session: Session, entry: PassEntry) -> PassEntry:
        said = _said_in_notes(session, entry, unit)
        return with_fields(entry, {part.field: part.reading for part in said})

    return drafts.change_entry(library, draft_id, key, settings, lambda session: "set as the notes say", unit)


def _said_in_notes(session: Session, entry: PassEntry, unit: LengthUnit) -> tuple[Understood, ...]:
    """What is said twice counts as it was said last. A line that is puzzling for the most part is prose."""
    lines = [line for line in entry.notes.splitlines() if line.strip() and len(line) <= JOTTED_LIMIT]
    if not lines or not entry.steps:
        return ()
    chain, standing = _chain(session, entry), fields_of(entry)
    read = [read_line(line, chain, unit) for line in lines[:NOTES_LINES]]
    said = {
        part.field: part
        for line in read
        if len(line.understood) >= len(line.puzzling)
        for part in line.understood
        if not standing.get(part.field)
    }
    return tuple(said.values())


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
