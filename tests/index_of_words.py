"""The index over everything written, made without the session: what the one that is kept row by row must equal."""

from sqlalchemy import Connection, text

from app.records import PLACES, WRITTEN


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
