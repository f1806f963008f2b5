"""The full-text index over everything a person writes, kept by the session itself as rows are flushed.

One entry is one field of one row. Its rowid is made of the row's id and the field's place in WRITTEN, so an entry
is replaced without a search, and what it belongs to is read back from the rowid alone.
"""

from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, event, text
from sqlalchemy.orm import Session, UOWTransaction
from sqlmodel import SQLModel

from app.records.gear import Control, Gear
from app.records.keeper_mark import KeeperMark
from app.records.mic_placement import MicPlacement
from app.records.passes import Pass
from app.records.photo import Photo
from app.records.prints import Print
from app.records.project import Project
from app.records.source_track import SourceTrack


@dataclass(frozen=True)
class WrittenField:
    noun: str
    field: str
    label: str


# Only ever append: the places stand in every library's rowids.
WRITTEN: tuple[WrittenField, ...] = (
    WrittenField("project", "title", "project title"),
    WrittenField("project", "artist", "artist"),
    WrittenField("project", "notes", "project notes"),
    WrittenField("source_track", "name", "source track"),
    WrittenField("source_track", "instrument", "instrument"),
    WrittenField("source_track", "recorded_with", "recorded with"),
    WrittenField("source_track", "tuning", "tuning"),
    WrittenField("source_track", "notes", "source notes"),
    WrittenField("source_track", "file_name", "source file"),
    WrittenField("gear", "name", "gear"),
    WrittenField("gear", "notes", "gear notes"),
    WrittenField("control", "name", "control"),
    WrittenField("pass", "title", "pass title"),
    WrittenField("pass", "notes", "pass notes"),
    WrittenField("pass", "hook_up", "hook-up notes"),
    WrittenField("pass", "levels", "level notes"),
    WrittenField("mic_placement", "speaker", "mic placement"),
    WrittenField("mic_placement", "preamp", "preamp of a mic"),
    WrittenField("mic_placement", "note", "placement note"),
    WrittenField("print", "label", "print"),
    WrittenField("print", "file_name", "print file"),
    WrittenField("keeper_mark", "part", "keeper's part"),
    WrittenField("keeper_mark", "reason", "keeper's reason"),
    WrittenField("photo", "caption", "photo caption"),
)

_PLACES = 256
_TABLES: dict[str, type[SQLModel]] = {
    "project": Project,
    "source_track": SourceTrack,
    "gear": Gear,
    "control": Control,
    "pass": Pass,
    "mic_placement": MicPlacement,
    "print": Print,
    "keeper_mark": KeeperMark,
    "photo": Photo,
}


def entry_of(rowid: int) -> tuple[WrittenField, int]:
    """The field and the row's id that an index entry stands for."""
    row_id, place = divmod(rowid, _PLACES)
    return WRITTEN[place], row_id


def _row_id(row: Any) -> int:
    return int(row.step_id if isinstance(row, MicPlacement) else row.id)


def _places_of(row: object) -> list[int]:
    noun = getattr(row, "__tablename__", "")
    return [place for place, written in enumerate(WRITTEN) if written.noun == noun]


def _forget(connection: Connection, row: object) -> None:
    for place in _places_of(row):
        connection.execute(
            text("DELETE FROM written_words WHERE rowid = :rowid"), {"rowid": _row_id(row) * _PLACES + place}
        )


def _write(connection: Connection, row: object) -> None:
    _forget(connection, row)
    for place in _places_of(row):
        words = getattr(row, WRITTEN[place].field)
        if words:
            connection.execute(
                text("INSERT INTO written_words(rowid, words) VALUES (:rowid, :words)"),
                {"rowid": _row_id(row) * _PLACES + place, "words": words},
            )


@event.listens_for(Session, "after_flush")
def _follow_the_flush(session: Session, context: UOWTransaction) -> None:
    connection = session.connection()
    for row in session.deleted:
        _forget(connection, row)
    for row in (*session.new, *session.dirty):
        _write(connection, row)


def rebuild(connection: Connection) -> None:
    """Write the whole index anew, as after rows were put in without a session."""
    connection.execute(text("DELETE FROM written_words"))
    for place, written in enumerate(WRITTEN):
        table = _TABLES[written.noun].__table__  # type: ignore[attr-defined]
        (key,) = table.primary_key.columns if written.noun != "mic_placement" else (table.c.step_id,)
        connection.execute(
            text(
                f'INSERT INTO written_words(rowid, words) SELECT "{key.name}" * {_PLACES} + {place}, '
                f'"{written.field}" FROM "{table.name}" WHERE "{written.field}" <> \'\''
            )
        )
