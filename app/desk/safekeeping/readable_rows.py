"""What can still be read of a damaged database, copied row by row into a whole one of the same form."""

import contextlib
import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from app import database_file
from app.desk.files.tables import readable_rows, table_names

MOST_ROUNDS = 20


@dataclass
class Rows:
    """How many rows of each table came over, and which tables are damaged or had rows that fit nothing any more."""

    copied: dict[str, int] = field(default_factory=dict)
    hurt: list[str] = field(default_factory=list)


def readable_form(database: Path) -> str | None:
    """The form of a damaged database, None where not even that can be read."""
    try:
        with database_file.read_only(database, in_use=True) as connection:
            return database_file.form_of(connection)
    except (sqlite3.DatabaseError, TypeError):
        return None


def copy_readable(damaged: Path, whole: Path) -> Rows:
    """`whole` is empty and of the same form."""
    rows = Rows()
    with (
        database_file.read_only(damaged, in_use=True) as source,
        contextlib.closing(sqlite3.connect(whole)) as target,
    ):
        target.execute("PRAGMA foreign_keys = OFF")
        try:
            tables = set(table_names(source))
        except sqlite3.DatabaseError:
            return rows
        for table in table_names(target):
            if table in tables:
                _copy_table(source, target, table, rows)
        _drop_dangling(target, rows)
        _go_on_counting(source, target)
        target.commit()
    return rows


def _copy_table(source: sqlite3.Connection, target: sqlite3.Connection, table: str, rows: Rows) -> None:
    names = [f'"{row[1]}"' for row in target.execute(f'PRAGMA table_info("{table}")')]
    places = ", ".join("?" for _ in names)
    copied = 0
    for row in readable_rows(source, table, ", ".join(names)):
        if isinstance(row, sqlite3.DatabaseError):
            rows.hurt.append(table)
            continue
        try:
            target.execute(f'INSERT INTO "{table}" ({", ".join(names)}) VALUES ({places})', row)
            copied += 1
        except sqlite3.IntegrityError:  # damage made two rows of one, or emptied what must not be empty
            rows.hurt.append(table)
    rows.copied[table] = copied


def _go_on_counting(source: sqlite3.Connection, target: sqlite3.Connection) -> None:
    """A number that was given away is not given away again, though its row is gone. Where that can no longer be read,
    what is remembered of drafts that are gone goes too, for theirs are the numbers that are asked for later."""
    try:
        given = source.execute("SELECT name, seq FROM sqlite_sequence").fetchall()
    except sqlite3.DatabaseError:
        if "received_jotting" in table_names(target):
            target.execute("DELETE FROM received_jotting WHERE key LIKE 'draft %'")
        return
    known = dict(target.execute("SELECT name, seq FROM sqlite_sequence"))
    tables = set(table_names(target))
    for name, seq in given:
        if name in known:
            target.execute("UPDATE sqlite_sequence SET seq = ? WHERE name = ?", (max(seq, known[name]), name))
        elif name in tables:
            target.execute("INSERT INTO sqlite_sequence (name, seq) VALUES (?, ?)", (name, seq))


def _drop_dangling(target: sqlite3.Connection, rows: Rows) -> None:
    """A link to a row that is lost is emptied where it may be; else the row goes with it, and so on."""
    for _ in range(MOST_ROUNDS):
        broken = target.execute("PRAGMA foreign_key_check").fetchall()
        if not broken:
            return
        for table, row_id, _, key in broken:
            rows.hurt.append(table)
            column = _optional_columns(target, table).get(key)
            if column is None:
                rows.copied[table] -= target.execute(
                    f'DELETE FROM "{table}" WHERE rowid = ?', (row_id,)
                ).rowcount
            else:
                target.execute(f'UPDATE "{table}" SET "{column}" = NULL WHERE rowid = ?', (row_id,))


def _optional_columns(target: sqlite3.Connection, table: str) -> Mapping[int, str]:
    """The columns of links that may be empty, by the number of the link."""
    needed = {row[1] for row in target.execute(f'PRAGMA table_info("{table}")') if row[3] or row[5]}
    return {
        row[0]: row[3]
        for row in target.execute(f'PRAGMA foreign_key_list("{table}")')
        if row[3] not in needed
    }
