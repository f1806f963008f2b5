"""What a database holds, whatever its form, and what one holds that another lacks."""

import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from app import database_file

COUNTED = (("project", "project"), ("pass", "pass"), ("print", "print"), ("note", "note"))
"""What one is told of, by table and noun."""
DATED = ("project", "source_track", "pass", "print", "photo", "keeper_mark", "note", "recall", "gear")
"""Tables in which a person writes."""
FEW = 3


@dataclass(frozen=True)
class Holdings:
    """`counts` are by table; `last_entry` is when a person wrote last."""

    form: str
    counts: Mapping[str, int]
    last_entry: datetime | None

    @property
    def projects(self) -> int:
        return self.counts["project"]

    @property
    def passes(self) -> int:
        return self.counts["pass"]


@dataclass(frozen=True)
class Lacking:
    """What one database holds and another does not: rows by table, projects by title, and passes that were edited
    since."""

    counts: Mapping[str, int]
    titles: tuple[str, ...]
    edited: int


@dataclass(frozen=True)
class Contents:
    """The rows of a database by what tells them apart: their uid, which goes with them everywhere, and their number
    here, which forms from before there were uids have alone."""

    holdings: Holdings
    uids: Mapping[str, frozenset[str]]
    numbers: Mapping[str, frozenset[int]]
    titles: Mapping[str | int, str]
    edited: Mapping[str | int, str]


def read_holdings(connection: sqlite3.Connection) -> Holdings:
    """Raises sqlite3.DatabaseError where it cannot be read, and TypeError or ValueError where it is no library's."""
    form = database_file.form_of(connection)
    if form is None:
        raise ValueError("it holds no library")
    columns = {table: _columns(connection, table) for table in {*DATED, *(name for name, _ in COUNTED)}}
    counts = {
        table: connection.execute(f'SELECT count(*) FROM "{table}"').fetchone()[0] if columns[table] else 0
        for table, _ in COUNTED
    }
    return Holdings(form, counts, _last_entry(connection, columns))


def read_contents(connection: sqlite3.Connection) -> Contents:
    """Raises as `read_holdings` does."""
    holdings = read_holdings(connection)
    uids: dict[str, frozenset[str]] = {}
    numbers: dict[str, frozenset[int]] = {}
    for table, _ in COUNTED:
        there = _columns(connection, table)
        numbers[table] = frozenset(_all(connection, f'SELECT id FROM "{table}"') if "id" in there else ())
        uids[table] = frozenset(_all(connection, f'SELECT uid FROM "{table}"') if "uid" in there else ())
    key = "uid" if "uid" in _columns(connection, "pass") else "id"
    return Contents(
        holdings,
        uids,
        numbers,
        dict(connection.execute(f"SELECT {key}, title FROM project").fetchall()),
        dict(connection.execute(f'SELECT {key}, edited_at FROM "pass"').fetchall()),
    )


def lacking(present: Contents, other: Contents) -> Lacking:
    """What is in `present` and not in `other`."""
    missing = {table: _missing(present, other, table) for table, _ in COUNTED}
    both = present.edited.keys() & other.edited.keys()
    return Lacking(
        {table: len(rows) for table, rows in missing.items()},
        tuple(sorted(present.titles[row] for row in missing["project"] if row in present.titles)),
        sum(present.edited[row] > other.edited[row] for row in both),
    )


def _missing(present: Contents, other: Contents, table: str) -> frozenset[str] | frozenset[int]:
    if present.uids[table] and other.uids[table]:
        return present.uids[table] - other.uids[table]
    return present.numbers[table] - other.numbers[table]


def in_words(holdings: Holdings) -> str:
    """Such as “2 projects, 31 passes, 40 prints, last entry 2026-01-02 03:04”."""
    said = ", ".join(_counted(holdings.counts[table], noun) for table, noun in COUNTED if table != "note")
    return f"{said}, last entry {when(holdings.last_entry)}"


def compared_in_words(lacking: Lacking, besides: Lacking) -> str:
    """Such as “lacks 1 project (Boathouse), 3 passes; 2 passes were edited since; has besides 1 project (Mill)”."""
    said = [f"lacks {_rows_in_words(lacking)}"] if any(lacking.counts.values()) else []
    if lacking.edited:
        said.append(
            f"{_counted(lacking.edited, 'pass')} {'was' if lacking.edited == 1 else 'were'} edited since"
        )
    if any(besides.counts.values()):
        said.append(f"has besides {_rows_in_words(besides)}")
    return "; ".join(said) or "holds the same"


def _rows_in_words(missing: Lacking) -> str:
    return ", ".join(
        _counted(count, noun) + (_named(missing.titles) if table == "project" else "")
        for table, noun in COUNTED
        if (count := missing.counts[table])
    )


def when(moment: datetime | None) -> str:
    return "never" if moment is None else f"{moment.astimezone():%Y-%m-%d %H:%M}"


def _named(titles: tuple[str, ...]) -> str:
    more = f" and {len(titles) - FEW} more" if len(titles) > FEW else ""
    return f" ({', '.join(titles[:FEW])}{more})" if titles else ""


def _counted(count: int, noun: str) -> str:
    plural = f"{noun}es" if noun.endswith("s") else f"{noun}s"
    return f"{count} {noun if count == 1 else plural}"


def _columns(connection: sqlite3.Connection, table: str) -> set[str]:
    return {row[1] for row in connection.execute(f'PRAGMA table_info("{table}")')}


def _all(connection: sqlite3.Connection, query: str) -> list[Any]:
    return [value for (value,) in connection.execute(query)]


def _last_entry(connection: sqlite3.Connection, columns: Mapping[str, set[str]]) -> datetime | None:
    dates = []
    for table in DATED:
        for column in {"created_at", "edited_at"} & columns[table]:
            dates += connection.execute(f'SELECT max("{column}") FROM "{table}"').fetchone()
    found = max((date for date in dates if date), default=None)
    return None if found is None else datetime.fromisoformat(found).replace(tzinfo=UTC)
