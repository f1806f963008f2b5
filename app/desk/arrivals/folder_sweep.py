"""A look through a folder: which files there are, how large, and when they were written last. Nothing is opened."""

import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

MOST_FILES = 50_000


@dataclass(frozen=True)
class Stamp:
    """How a file looked. The same stamp means the same bytes, as far as one can tell without reading them."""

    bytes: int
    modified_ns: int


class TooManyFiles(Exception):
    pass


def sweep(folder: Path) -> dict[str, Stamp]:
    """Every file by its path within the folder, with slashes; hidden ones, links, and names that are no text are
    passed over, and subfolders that cannot be read. Raises OSError where the folder itself cannot be read, and
    TooManyFiles."""
    found: dict[str, Stamp] = {}
    for path, stamp in _files(folder, ""):
        found[path] = stamp
        if len(found) > MOST_FILES:
            raise TooManyFiles
    return found


def _files(folder: Path, within: str) -> Iterator[tuple[str, Stamp]]:
    subfolders = []
    with os.scandir(folder / within) as entries:
        for entry in entries:
            if entry.name.startswith((".", "$")) or not _is_text(entry.name):
                continue
            try:
                if entry.is_dir(follow_symlinks=False):
                    subfolders.append(f"{within}{entry.name}/")
                elif entry.is_file(follow_symlinks=False):
                    seen = entry.stat(follow_symlinks=False)
                    yield f"{within}{entry.name}", Stamp(seen.st_size, seen.st_mtime_ns)
            except OSError:  # gone between being listed and being looked at
                continue
    for subfolder in subfolders:
        try:
            yield from _files(folder, subfolder)
        except OSError:
            continue


def _is_text(name: str) -> bool:
    try:
        name.encode()
    except UnicodeEncodeError:
        return False
    return True
