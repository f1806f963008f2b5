"""The full-text index over everything a person writes, kept by the session itself as rows are flushed.

One entry is one field of one row. Its rowid is made of the row's id and the field's place in WRITTEN, so an entry
is replaced without a search, and what it belongs to is read back from the rowid alone. Entries of deleted rows go
by trigger, because most rows go with the project, source or pass they are part of, unseen by any session.
"""

from dataclasses import dataclass

from sqlalchemy import Connection, event, text
from sqlalchemy.orm import Session, UOWTransaction

from app.records.passes import Setting


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
    WrittenField("sound_level", "note", "note on a sound level"),
    WrittenField("note", "words", "note"),
    WrittenField("recall", "note", "note on a recall"),
    WrittenField("recall_try", "note", "note on a recall's print"),
    WrittenField("setting", "reading", "reading"),
    WrittenField("control_layout", "gear_name", "gear, as it was called"),
    WrittenField("pass", "chain_name", "chain kept as"),
)

PLACES = 256
"""An entry's rowid is its row's id times this, and the place of its field in WRITTEN."""
_NOUNS = tuple(dict.fromkeys(written.noun for written in WRITTEN))


def _places_of(noun: str) -> list[int]:
    return [place for place, written in enumerate(WRITTEN) if written.noun == noun]


def _key_of(noun: str) -> str:
    return "step_id" if noun in ("mic_placement", "setting") else "id"


_FREE_TEXTS = "SELECT group_concat(reading, ' · ') FROM setting WHERE step_id = :key AND position IS NULL AND value IS NULL"
"""Of the settings of a step, those that are words are one entry together; numbers are found as facts."""


FORGETTING: tuple[str, ...] = tuple(
    f'CREATE TEMP TRIGGER IF NOT EXISTS forget_{noun} AFTER DELETE ON "{noun}" BEGIN '
    "DELETE FROM written_words WHERE rowid IN "
    f"({', '.join(f'OLD.{_key_of(noun)} * {PLACES} + {place}' for place in _places_of(noun))}); END"
    for noun in _NOUNS
)
"""For each connection. Temporary, since a migration that rebuilds a table would drop lasting triggers with it."""


def write_anew(connection: Connection) -> None:
    """Write the whole index by statements alone, as after rows were put in without a session."""
    connection.execute(text("DELETE FROM written_words"))
    for place, written in enumerate(WRITTEN):
        if written.noun == "setting":
            connection.execute(
                text(
                    f"INSERT INTO written_words(rowid, words) SELECT step_id * {PLACES} + {place}, "
                    "group_concat(reading, ' · ') FROM setting WHERE position IS NULL AND value IS NULL "
                    "AND reading <> '' GROUP BY step_id"
                )
            )
            continue
        key = "step_id" if written.noun == "mic_placement" else "id"
        connection.execute(
            text(
                f"INSERT INTO written_words(rowid, words) SELECT {key} * {PLACES} + {place}, "
                f'"{written.field}" FROM "{written.noun}" WHERE "{written.field}" <> \'\''
            )
        )


def entry_of(rowid: int) -> tuple[WrittenField, int]:
    """The field and the row's id that an index entry stands for."""
    row_id, place = divmod(rowid, PLACES)
    return WRITTEN[place], row_id


def _write(connection: Connection, row: object) -> None:
    noun = getattr(row, "__tablename__", "")
    for place in _places_of(noun):
        key = getattr(row, _key_of(noun))
        rowid = key * PLACES + place
        if isinstance(row, Setting):
            if row.position is not None or row.value is not None:
                continue
            words = connection.execute(text(_FREE_TEXTS), {"key": key}).scalar()
        else:
            words = getattr(row, WRITTEN[place].field)
        connection.execute(text("DELETE FROM written_words WHERE rowid = :rowid"), {"rowid": rowid})
        if words:
            connection.execute(
                text("INSERT INTO written_words(rowid, words) VALUES (:rowid, :words)"),
                {"rowid": rowid, "words": words},
            )


@event.listens_for(Session, "after_flush")
def _follow_the_flush(session: Session, context: UOWTransaction) -> None:
    connection = session.connection()
    for row in (*session.new, *session.dirty):
        _write(connection, row)
