"""What a stored file is called by the person, where a sentence of a lower floor calls it by the hash it is stored under."""

import re
from collections.abc import Callable, Collection
from typing import Any

from sqlalchemy import text

from app.library import Readable

_HASH = re.compile(r"[0-9a-f]{64}")
_NAMED = ("print", "source_track", "recall_try", "reference_print")


def with_file_names(library: Readable, sentence: str) -> str:
    def called(sha256: str) -> str:
        with library.reading() as session:
            return (
                name_of(sha256, lambda query, values: session.execute(text(query), values).first())
                or "the file"
            )

    return _HASH.sub(lambda found: called(found[0]), sentence)


def name_of(
    sha256: str, first_of: Callable[[str, dict[str, str]], Any], tables: Collection[str] = _NAMED
) -> str | None:
    """What the person calls a stored file; `first_of` answers a query with its first row, and `tables` are those that
    the database has."""
    queries = [
        f'SELECT file_name FROM "{table}" JOIN stored_file ON stored_file.id = file_id '
        "WHERE sha256 = :sha256 AND file_name != ''"
        for table in _NAMED
        if table in tables
    ]
    found = first_of(f"{' UNION ALL '.join(queries)} LIMIT 1", {"sha256": sha256}) if queries else None
    return None if found is None else str(found[0])
