"""What a stored file is called by the person, where a sentence of a lower floor calls it by the hash it is stored under."""

import re

from sqlalchemy import text

from app.library import Readable

_HASH = re.compile(r"[0-9a-f]{64}")
_NAMED = ("print", "source_track", "recall_try", "reference_print")
_NAME = " UNION ALL ".join(
    f'SELECT file_name FROM "{table}" JOIN stored_file ON stored_file.id = file_id '
    "WHERE sha256 = :sha256 AND file_name != ''"
    for table in _NAMED
)


def with_file_names(library: Readable, sentence: str) -> str:
    return _HASH.sub(lambda found: _name_of(library, found[0]), sentence)


def _name_of(library: Readable, sha256: str) -> str:
    with library.reading() as session:
        name = session.scalar(text(f"{_NAME} LIMIT 1"), {"sha256": sha256})
    return "the file" if name is None else str(name)
