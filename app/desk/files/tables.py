"""The tables of a database that may be damaged, read as far as they can be."""

import sqlite3
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

INTERNAL = ("sqlite_%", "written_words%", "alembic_version")
"""What no person wrote: SQLite's own tables, the index of words and its shadows, the form."""


@dataclass(frozen=True)
class TableRead:
    """How many rows of a table can be read. `trouble` says what stopped reading, empty where nothing did."""

    name: str
    rows: int
    trouble: str = ""


def table_names(connection: sqlite3.Connection) -> list[str]:
    """Raises sqlite3.DatabaseError where even the list of tables cannot be read."""
    others = " AND ".join("name NOT LIKE ?" for _ in INTERNAL)
    query = f"SELECT name FROM sqlite_master WHERE type = 'table' AND {others} ORDER BY name"
    return [name for (name,) in connection.execute(query, INTERNAL)]


def read_table(connection: sqlite3.Connection, table: str) -> TableRead:
    count, trouble = 0, ""
    for row in readable_rows(connection, table, "1"):
        if isinstance(row, sqlite3.DatabaseError):
            trouble = str(row)
        else:
            count += 1
    return TableRead(table, count, trouble)


def readable_rows(
    connection: sqlite3.Connection, table: str, columns: str = "*"
) -> Iterator[Sequence[Any] | sqlite3.DatabaseError]:
    """Every row that can be read: from the first on until damage stops it, then from the last back until damage does
    again. What stopped it comes between."""
    seen: int | None = None
    try:
        for row in connection.execute(f'SELECT rowid, {columns} FROM "{table}" ORDER BY rowid'):
            seen = row[0]
            yield row[1:]
    except sqlite3.DatabaseError as error:
        yield error
    else:
        return
    after = "" if seen is None else f" WHERE rowid > {seen}"
    try:
        for row in connection.execute(f'SELECT rowid, {columns} FROM "{table}"{after} ORDER BY rowid DESC'):
            yield row[1:]
    except sqlite3.DatabaseError:
        return
