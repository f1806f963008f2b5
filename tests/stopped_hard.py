"""A library as a hard stop leaves it: what was written last still lies in the `-wal` beside the database."""

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from app.database_file import PARTS
from app.library import Library


@contextmanager
def stopped_hard(library: Library, folder: Path) -> Iterator[Path]:
    """A copy of the whole folder of an open library, taken as it stands on the disk."""
    shutil.copytree(library.folder, folder, ignore=shutil.ignore_patterns(*PARTS))
    for part in PARTS:
        if (library.folder / part).exists():
            shutil.copyfile(library.folder / part, folder / part)
    assert (folder / "dialback.db-wal").stat().st_size > 0, "there is something to play back"
    yield folder
