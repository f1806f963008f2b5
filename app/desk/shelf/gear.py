"""The shelf: the person's own gear, each piece with a versioned control layout."""

import hashlib
import uuid
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import zip_longest

from sqlalchemy import bindparam, func, select
from sqlalchemy.orm import Session
from sqlmodel import col

from app.desk import wording
from app.desk.refusals import Complaints, EditedMeanwhile, NotThere, Refusal
from app.desk.rows import row_of
from app.desk.shelf import control_entries
from app.desk.shelf.control_entries import ControlEntry
from app.library import Library, Readable
from app.records import ChainStep, Control, ControlLayout, Gear
from app.records.base import now
from app.trade.gear_facts import GearFacts, facts_from_json, facts_to_json, learnt_in_words
from app.trade.gear_kinds import GEAR_KINDS
from app.trade.ports import port_to_json
from app.trade.scales import (
    ControlSpec,
    spec_from_json,
    spec_to_json,
)
from app.trade.starting_layouts import STARTING_LAYOUTS, starting_layout

CONTROLS_LIMIT = 200


@dataclass(frozen=True)
class GearEntry:
    """A piece of gear's form as typed. `seen` names what was saved when the form was shown, empty for a new piece;
    `start` is the layout that a new piece started from, whose ports and facts it gets as long as it stays of its kind."""

    name: str = ""
    kind: str = "pedal"
    notes: str = ""
    controls: tuple[ControlEntry, ...] = ()
    seen: str = ""
    start: str = ""


@dataclass(frozen=True)
class ShelfLine:
    gear_id: int
    name: str
    kind: str
    is_retired: bool


@dataclass(frozen=True)
class GearUse:
    """How many controls its newest layout has, and in how many chains a piece of gear stands."""

    controls: int
    passes: int


@dataclass(frozen=True)
class LayoutControl:
    control_id: int
    key: str
    spec: ControlSpec


@dataclass(frozen=True)
class LayoutVersion:
    """`learnt` is what was said of the piece itself with this version, otherwise than before."""

    layout_id: int
    version: int
    gear_name: str
    kind: str
    controls: tuple[LayoutControl, ...]
    passes: int
    created_at: datetime
    learnt: tuple[str, ...] = ()


@dataclass(frozen=True)
class GearSheet:
    gear_id: int
    name: str
    kind: str
    notes: str
    is_retired: bool
    versions: tuple[LayoutVersion, ...]

    @property
    def newest(self) -> LayoutVersion:
        return self.versions[0]

    @property
    def passes(self) -> int:
        return sum(version.passes for version in self.versions)


def list_gear(library: Readable) -> list[ShelfLine]:
    """The shelf in the order of the kinds, then by name; retired gear last."""
    with library.reading() as session:
        rows = session.execute(select(col(Gear.id), col(Gear.name), col(Gear.kind), col(Gear.retired_at)))
        lines = [
            ShelfLine(gear_id, name, kind, retired_at is not None) for gear_id, name, kind, retired_at in rows
        ]
    return sorted(
        lines, key=lambda line: (line.is_retired, GEAR_KINDS.index(line.kind), line.name.casefold())
    )


def uses_of_gear(library: Readable) -> dict[int, GearUse]:
    """By the gear's id."""
    controls = (
        select(func.count(col(Control.id)))
        .join(ControlLayout)
        .where(col(ControlLayout.gear_id) == col(Gear.id))
        .group_by(col(ControlLayout.id))
        .order_by(col(ControlLayout.version).desc())
        .limit(1)
        .correlate(Gear)
        .scalar_subquery()
    )
    passes = (
        select(func.count()).where(col(ChainStep.gear_id) == col(Gear.id)).correlate(Gear).scalar_subquery()
    )
    with library.reading() as session:
        rows = session.execute(select(col(Gear.id), controls, passes))
        return {gear_id: GearUse(counted or 0, used) for gear_id, counted, used in rows}


def read_gear(library: Readable, gear_id: int) -> GearSheet:
    with library.reading() as session:
        gear = find_gear(session, gear_id)
        layouts = session.scalars(
            select(ControlLayout)
            .where(col(ControlLayout.gear_id) == gear_id)
            .order_by(col(ControlLayout.version).desc())
        ).all()
        used = dict(
            session.execute(
                select(col(ChainStep.layout_id), func.count())
                .where(col(ChainStep.layout_id).in_([layout.id for layout in layouts]))
                .group_by(col(ChainStep.layout_id))
            ).all()
        )
        controls = read_controls(session, [layout.id for layout in layouts])
        versions = tuple(
            LayoutVersion(
                layout.id,
                layout.version,
                layout.gear_name,
                layout.kind,
                controls.get(layout.id, ()),
                used.get(layout.id, 0),
                layout.created_at,
                () if before is None else learnt_in_words(_facts(before), _facts(layout)),
            )
            for layout, before in zip_longest(layouts, layouts[1:])
        )
        return GearSheet(gear_id, gear.name, gear.kind, gear.notes, gear.retired_at is not None, versions)


def _facts(layout: ControlLayout) -> GearFacts:
    return facts_from_json(layout.facts)


def read_controls(session: Session, layout_ids: Iterable[int]) -> dict[int, tuple[LayoutControl, ...]]:
    """The controls of each layout, in the panel's order."""
    found: dict[int, list[LayoutControl]] = {}
    for layout_id, control_id, key, spec in session.execute(_CONTROLS, {"layout_ids": list(layout_ids)}):
        found.setdefault(layout_id, []).append(LayoutControl(control_id, key, spec_from_json(spec)))
    return {layout_id: tuple(controls) for layout_id, controls in found.items()}


_CONTROLS = (
    select(col(Control.layout_id), col(Control.id), col(Control.key), col(Control.spec))
    .where(col(Control.layout_id).in_(bindparam("layout_ids", expanding=True)))
    .order_by(col(Control.layout_id), col(Control.position))
)
"""Built once, for nearly every page reads it."""


def read_control(library: Readable, control_id: int) -> ControlSpec:
    with library.reading() as session:
        control = row_of(session, Control, control_id, "control")
        return spec_from_json(control.spec)


def read_layout(library: Readable, layout_id: int) -> tuple[LayoutControl, ...]:
    with library.reading() as session:
        if session.get(ControlLayout, layout_id) is None:
            raise NotThere("control layout")
        return read_controls(session, [layout_id]).get(layout_id, ())


def starting_entry(key: str) -> GearEntry:
    """A form filled from one of the starting layouts."""
    try:
        layout = starting_layout(key)
    except ValueError as error:
        raise NotThere("starting layout") from error
    return GearEntry(
        layout.label,
        layout.kind,
        "",
        tuple(control_entries.entry_of("", c) for c in layout.controls),
        start=layout.key,
    )


def gear_entry(library: Readable, gear_id: int) -> GearEntry:
    sheet = read_gear(library, gear_id)
    controls = tuple(control_entries.entry_of(control.key, control.spec) for control in sheet.newest.controls)
    seen = _state_of(sheet.name, sheet.kind, sheet.notes, sheet.newest.controls)
    return GearEntry(sheet.name, sheet.kind, sheet.notes, controls, seen)


def _state_of(name: str, kind: str, notes: str, controls: Iterable[LayoutControl]) -> str:
    """A name for what is saved of a piece of gear, which changes with any of it."""
    said = (name, kind, notes, [(control.key, control.spec) for control in controls])
    return hashlib.sha256(repr(said).encode()).hexdigest()


def add_gear(library: Library, entry: GearEntry) -> int:
    _checked(entry)  # before the library is kept from others
    with library.writing() as session:
        return put_on_shelf(session, entry)


def put_on_shelf(session: Session, entry: GearEntry) -> int:
    """A new piece of gear. Raises Refusal."""
    name, kind, notes, specs = _checked(entry)
    gear = Gear(kind=kind, name=name, notes=notes)
    session.add(gear)
    session.flush()
    layout = ControlLayout(gear_id=gear.id, version=1, gear_name=name, kind=kind)
    start = next((known for known in STARTING_LAYOUTS if known.key == entry.start), None)
    if start is not None and start.kind == kind:
        layout.facts = facts_to_json(start.facts)
        layout.ports = None if start.ports is None else [port_to_json(port) for port in start.ports]
    session.add(layout)
    session.flush()
    _write_controls(session, layout, specs)
    return gear.id


def edit_gear(library: Library, gear_id: int, entry: GearEntry) -> None:
    """Change a piece of gear. Its past passes keep the layout version they were logged with; a version that no pass
    has used yet is changed itself, any other is followed by a new one. Raises EditedMeanwhile when it was saved since
    the form was shown."""
    name, kind, notes, specs = _checked(entry)
    with library.writing() as session:
        gear = find_gear(session, gear_id)
        newest = newest_layout(session, gear_id)
        before = read_controls(session, [newest.id]).get(newest.id, ())
        saved = _state_of(gear.name, gear.kind, gear.notes, before)
        if entry.seen and entry.seen != saved:
            raise EditedMeanwhile("piece of gear", saved)
        gear.name, gear.kind, gear.notes = name, kind, notes
        if (newest.gear_name, newest.kind) == (name, kind) and [(c.key, c.spec) for c in before] == specs:
            return
        layout = layout_to_change(session, gear, newest)
        layout.gear_name, layout.kind = name, kind
        _write_controls(session, layout, specs)


def correct_control(library: Library, gear_id: int, control: ControlEntry) -> None:
    """Put one control of a piece of gear right, or add one that is new, as `edit_gear` would. Raises Refusal with the
    control's own fields."""
    entry = gear_entry(library, gear_id)
    at = next(
        (at for at, known in enumerate(entry.controls) if known.key == control.key and control.key), None
    )
    if at is None:
        at, controls = len(entry.controls), (*entry.controls, control)
    else:
        controls = (*entry.controls[:at], control, *entry.controls[at + 1 :])
    try:
        edit_gear(library, gear_id, replace(entry, controls=controls))
    except Refusal as refusal:
        of_row = f"controls-{at}-"
        raise Refusal(
            {field.removeprefix(of_row): said for field, said in refusal.sentences.items()}
        ) from None


def remove_control(library: Library, gear_id: int, key: str) -> None:
    entry = gear_entry(library, gear_id)
    kept = tuple(control for control in entry.controls if control.key != key)
    edit_gear(library, gear_id, replace(entry, controls=kept))


def rename_gear(library: Library, gear_id: int, name: str) -> None:
    """Raises Refusal at "name"."""
    edit_gear(library, gear_id, replace(gear_entry(library, gear_id), name=name))


def retire_gear(library: Library, gear_id: int, *, retired: bool) -> None:
    """Put a piece of gear aside (sold, lent, broken) or take it back; its passes are untouched."""
    with library.writing() as session:
        find_gear(session, gear_id).retired_at = now() if retired else None


def delete_gear(library: Library, gear_id: int) -> None:
    """Only gear that no pass has used can be deleted."""
    with library.writing() as session:
        gear = find_gear(session, gear_id)
        used = session.scalar(select(func.count()).where(col(ChainStep.gear_id) == gear_id))
        if used:
            raise Refusal(
                {
                    "": f"{gear.name} stands in {used} logged {'pass' if used == 1 else 'passes'}, which would lose "
                    "their settings. Retire it instead: it leaves the shelf and stays in the log."
                }
            )
        session.delete(gear)


def find_gear(session: Session, gear_id: int) -> Gear:
    return row_of(session, Gear, gear_id, "piece of gear")


def newest_layouts(session: Session, gear_ids: Iterable[int]) -> dict[int, ControlLayout]:
    """For each piece of gear the layout a new pass is logged with."""
    layouts = session.scalars(_LAYOUTS, {"gear_ids": list(gear_ids)})
    return {layout.gear_id: layout for layout in layouts}


_LAYOUTS = (
    select(ControlLayout)
    .where(col(ControlLayout.gear_id).in_(bindparam("gear_ids", expanding=True)))
    .order_by(col(ControlLayout.version))
)


def newest_layout(session: Session, gear_id: int) -> ControlLayout:
    return newest_layouts(session, [gear_id])[gear_id]


def layout_to_change(session: Session, gear: Gear, newest: ControlLayout) -> ControlLayout:
    """The layout that a change goes into: the newest itself while no pass has used it, else a copy of it as the next
    version."""
    used = select(col(ChainStep.id)).where(col(ChainStep.layout_id) == newest.id).limit(1)
    if session.scalars(used).first() is None:
        return newest
    layout = ControlLayout(
        gear_id=gear.id,
        version=newest.version + 1,
        gear_name=newest.gear_name,
        kind=newest.kind,
        ports=newest.ports,
        facts=newest.facts,
    )
    session.add(layout)
    session.flush()
    before = read_controls(session, [newest.id]).get(newest.id, ())
    _write_controls(session, layout, [(control.key, control.spec) for control in before])
    return layout


def _write_controls(session: Session, layout: ControlLayout, specs: list[tuple[str, ControlSpec]]) -> None:
    """Make the layout's controls be `specs`. Those that stay keep their ids: a pass may be being written down with
    them in another tab at this moment."""
    session.flush()
    there = {
        row.key: row for row in session.scalars(select(Control).where(col(Control.layout_id) == layout.id))
    }
    for position, (key, spec) in enumerate(specs):
        row = there.pop(key, None)
        if row is None:
            session.add(_control(layout.id, key, position, spec))
        else:
            row.position, row.name, row.spec = position, spec.name, spec_to_json(spec)
    for row in there.values():
        session.delete(row)


def _control(layout_id: int, key: str, position: int, spec: ControlSpec) -> Control:
    return Control(
        layout_id=layout_id,
        key=key or uuid.uuid4().hex,
        position=position,
        name=spec.name,
        spec=spec_to_json(spec),
    )


def _checked(entry: GearEntry) -> tuple[str, str, str, list[tuple[str, ControlSpec]]]:
    complaints = Complaints()
    name = wording.line(complaints, "name", "The name", entry.name, required=True)
    notes = wording.notes(complaints, "notes", "The notes", entry.notes)
    if entry.kind not in GEAR_KINDS:
        complaints.add("kind", "Choose a kind of gear from the list.")
    if len(entry.controls) > CONTROLS_LIMIT:
        complaints.add("", f"A piece of gear has at most {CONTROLS_LIMIT} controls.")
    specs: list[tuple[str, ControlSpec]] = []
    names: set[str] = set()
    for index, control in enumerate(entry.controls[:CONTROLS_LIMIT]):
        at = f"controls-{index}"
        before = len(complaints.sentences)
        spec = control_entries.read_entry(complaints, at, control)
        if spec is None:
            if len(complaints.sentences) == before:
                complaints.add(f"{at}-name", "This control cannot be kept as it is described.")
            continue
        if spec.name.casefold() in names:
            complaints.add(f"{at}-name", f"Two controls are called {spec.name}. Give one another name.")
        names.add(spec.name.casefold())
        known = control.key not in [key for key, _ in specs]
        specs.append((control.key if known else "", spec))
    complaints.refuse_if_any()
    return name, entry.kind, notes, specs
