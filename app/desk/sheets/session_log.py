"""The session log of a project: every pass of every source."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from itertools import groupby

from sqlalchemy import select
from sqlmodel import col

from app.desk.listening.blind import said_of_sources
from app.desk.passes.notes import NoteLine, read_notes_of_project
from app.desk.passes.pass_sheets import PassSheet, read_pass_sheets
from app.desk.projects.projects import ProjectSheet, read_project
from app.desk.recall.plan import LetStand, let_stand_in
from app.library import Readable
from app.records import HookUpPlan, SourceTrack
from app.trade.hook_up_plan import plan_from_json


@dataclass(frozen=True)
class Plugged:
    """How a pass was plugged in and at what levels, in words. What stands as it did is not said again: `as_before` tells
    of which pass it is ("Hook-up and levels as pass 1.")."""

    hook_up: str
    levels: str
    as_before: str


def plugged(passes: Iterable[PassSheet]) -> tuple[Plugged, ...]:
    found: list[Plugged] = []
    hook_up, levels = ("", 0), ("", 0)
    for sheet in passes:
        same: dict[int, list[str]] = {}
        new = {"hook-up": sheet.hook_up, "levels": sheet.levels}
        for what, (words, number) in (("hook-up", hook_up), ("levels", levels)):
            if words and new[what] == words:
                same.setdefault(number, []).append(what)
                new[what] = ""
        hook_up = (new["hook-up"], sheet.number) if new["hook-up"] else hook_up
        levels = (new["levels"], sheet.number) if new["levels"] else levels
        said = "; ".join(f"{' and '.join(names)} as pass {number}" for number, names in same.items())
        found.append(Plugged(new["hook-up"], new["levels"], f"{said[0].upper()}{said[1:]}." if said else ""))
    return tuple(found)


@dataclass(frozen=True)
class SourceLog:
    source_id: int
    name: str
    instrument: str
    passes: tuple[PassSheet, ...]
    heard_blind: tuple[str, ...] = ()

    @property
    def plugged(self) -> tuple[Plugged, ...]:
        """Of each pass, in their order."""
        return plugged(self.passes)


@dataclass(frozen=True)
class SessionLog:
    """`let_stand` holds, by pass, what the hook-up's checks found and the person let stand; `notes` what was noted of
    it, under 0 what was noted of the project. Private notes are not in it."""

    project: ProjectSheet
    sources: tuple[SourceLog, ...]
    let_stand: Mapping[int, tuple[LetStand, ...]] = field(default_factory=dict)
    notes: Mapping[int, tuple[NoteLine, ...]] = field(default_factory=dict)


def read_session_log(library: Readable, project_id: int, *, with_overviews: bool = False) -> SessionLog:
    """All sources in the order they came in, also those without a pass; passes by number. Waveforms are drawn of the
    overviews."""
    project = read_project(library, project_id)
    with library.reading() as session:
        sheets = read_pass_sheets(
            session, SourceTrack.project_id == project_id, with_overviews=with_overviews
        )
        ids = [sheet.pass_id for sheet in sheets]
        plans = session.scalars(select(HookUpPlan).where(col(HookUpPlan.pass_id).in_(ids)))
        notes: dict[int, list[NoteLine]] = {}
        for note in read_notes_of_project(session, project_id, with_private=False):
            notes.setdefault(note.pass_id or 0, []).append(note)
        dismissed_in = {row.pass_id: row.plan for row in plans if row.plan.get("dismissals")}
    said = said_of_sources(library, [line.source_id for line in project.sources])
    passes = {
        source_id: tuple(group) for source_id, group in groupby(sheets, key=lambda sheet: sheet.source_id)
    }
    return SessionLog(
        project,
        tuple(
            SourceLog(
                line.source_id,
                line.name,
                line.instrument,
                passes.get(line.source_id, ()),
                said.get(line.source_id, ()),
            )
            for line in project.sources
        ),
        {
            sheet.pass_id: found
            for sheet in sheets
            if sheet.pass_id in dismissed_in
            and (found := let_stand_in(sheet, plan_from_json(dismissed_in[sheet.pass_id])))
        },
        {pass_id: tuple(lines) for pass_id, lines in notes.items()},
    )
