"""Find: one box over everything written, and where the words were found."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from sqlalchemy import select, text
from sqlalchemy.orm import Session
from sqlmodel import col

from app.library import Library
from app.records import (
    ChainStep,
    Control,
    ControlLayout,
    Gear,
    KeeperMark,
    MicPlacement,
    Pass,
    Photo,
    Print,
    Project,
    SourceTrack,
    WrittenField,
    entry_of,
)

MOST = 60
MARK_START, MARK_END = "\x02", "\x03"


@dataclass(frozen=True)
class Excerpt:
    """Where the words were found, cut to their neighbourhood: (text, is one of the words sought)."""

    where: str
    parts: tuple[tuple[str, bool], ...]


@dataclass(frozen=True)
class Hit:
    """One project, source, piece of gear or pass that holds all the words, in one place or another."""

    noun: str
    row_id: int
    title: str
    context: str
    excerpts: tuple[Excerpt, ...]


@dataclass(frozen=True)
class _Owner:
    noun: str
    row_id: int
    title: str
    context: str


def find(library: Library, query: str) -> list[Hit]:
    """The best hits first; an empty list for a query without words. The last word may be unfinished."""
    words = re.findall(r"\w+", query)[:12]
    if not words:
        return []
    match = " ".join(f'"{word}"*' for word in words)
    with library.reading() as session:
        entries = session.execute(
            text(
                "SELECT rowid, snippet(written_words, 0, :start, :end, '…', 16) FROM written_words "
                "WHERE written_words MATCH :match ORDER BY rank LIMIT :most"
            ),
            {"match": match, "start": MARK_START, "end": MARK_END, "most": MOST * 3},
        ).all()
        hits: dict[tuple[str, int], Hit] = {}
        for rowid, snippet in entries:
            written, row_id = entry_of(rowid)
            owner = _owner(session, written, row_id)
            if owner is None:
                continue  # its row went with the project or pass that it was part of
            excerpt = Excerpt(written.label, _parts(snippet))
            hit = hits.get((owner.noun, owner.row_id))
            if hit is None:
                hits[owner.noun, owner.row_id] = Hit(
                    owner.noun, owner.row_id, owner.title, owner.context, (excerpt,)
                )
            elif excerpt not in hit.excerpts:
                hits[owner.noun, owner.row_id] = Hit(
                    hit.noun, hit.row_id, hit.title, hit.context, (*hit.excerpts, excerpt)
                )
    return list(hits.values())[:MOST]


def _parts(snippet: str) -> tuple[tuple[str, bool], ...]:
    parts = []
    for index, piece in enumerate(re.split(f"[{MARK_START}{MARK_END}]", snippet)):
        if piece:
            parts.append((piece, index % 2 == 1))
    return tuple(parts)


def _owner(session: Session, written: WrittenField, row_id: int) -> _Owner | None:
    return _OWNERS[written.noun](session, row_id)


def _of_project(session: Session, project_id: int) -> _Owner | None:
    project = session.get(Project, project_id)
    return None if project is None else _Owner("project", project_id, project.title, project.artist)


def _of_source(session: Session, source_id: int) -> _Owner | None:
    source = session.get(SourceTrack, source_id)
    if source is None:
        return None
    return _Owner("source track", source_id, source.name, session.get_one(Project, source.project_id).title)


def _of_gear(session: Session, gear_id: int) -> _Owner | None:
    gear = session.get(Gear, gear_id)
    return None if gear is None else _Owner("gear", gear_id, gear.name, gear.kind)


def _of_control(session: Session, control_id: int) -> _Owner | None:
    layout = session.scalars(select(ControlLayout).join(Control).where(col(Control.id) == control_id)).first()
    return None if layout is None else _of_gear(session, layout.gear_id)


def _of_pass(session: Session, pass_id: int) -> _Owner | None:
    row = session.get(Pass, pass_id)
    if row is None:
        return None
    source = session.get_one(SourceTrack, row.source_id)
    project = session.get_one(Project, source.project_id)
    title = f"Pass {row.number}" + (f": {row.title}" if row.title else "")
    return _Owner("pass", pass_id, title, f"{source.name}, {project.title}")


def _of_placement(session: Session, step_id: int) -> _Owner | None:
    step = session.get(ChainStep, step_id)
    there = step is not None and session.get(MicPlacement, step_id) is not None
    return _of_pass(session, step.pass_id) if step is not None and there else None


def _of_pass_of(table: Any) -> Callable[[Session, int], _Owner | None]:
    def owner(session: Session, row_id: int) -> _Owner | None:
        row = session.get(table, row_id)
        return None if row is None else _of_pass(session, row.pass_id)

    return owner


def _of_photo(session: Session, photo_id: int) -> _Owner | None:
    photo = session.get(Photo, photo_id)
    if photo is None:
        return None
    if photo.pass_id is not None:
        return _of_pass(session, photo.pass_id)
    return None if photo.gear_id is None else _of_gear(session, photo.gear_id)


_OWNERS: dict[str, Callable[[Session, int], _Owner | None]] = {
    "project": _of_project,
    "source_track": _of_source,
    "gear": _of_gear,
    "control": _of_control,
    "pass": _of_pass,
    "mic_placement": _of_placement,
    "print": _of_pass_of(Print),
    "keeper_mark": _of_pass_of(KeeperMark),
    "photo": _of_photo,
}
