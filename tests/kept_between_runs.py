"""What is dear to make and follows from code alone is kept between test runs, in the user's cache folder, under a hash of that
code: another line in it, another release of a library it computes with, and it is made anew.
"""

import hashlib
import json
import os
import platform
import shutil
import time
from collections.abc import Callable, Iterable
from importlib.metadata import version
from pathlib import Path
from typing import Any

from filelock import FileLock
from platformdirs import user_cache_path

COMPUTED_WITH = ("numpy", "scipy", "soundfile", "soxr", "pillow", "sqlalchemy")
KEPT_UNUSED_S = 3 * 24 * 3600


def kept(name: str, code: Iterable[Path], make: Callable[[Path], None], *, day: str = "") -> Path:
    """The folder that `make` filled, now or in a run before; whichever worker comes first makes it, the others wait. It is
    read and never written. What holds the time at which it was made is good for that `day`."""
    shelf = user_cache_path("dialback-tests", appauthor=False) / name
    shelf.mkdir(parents=True, exist_ok=True)
    folder = shelf / _digest(code, day)
    with FileLock(shelf / "making.lock"):
        if not folder.exists():
            half = shelf / "half"
            shutil.rmtree(half, ignore_errors=True)
            half.mkdir()
            make(half)
            half.rename(folder)
        os.utime(folder)
        _throw_away_old(shelf)
    return folder


def kept_document(name: str, code: Iterable[Path], compute: Callable[[], Any]) -> Any:
    """The same for what fits into one JSON document."""

    def write(folder: Path) -> None:
        (folder / "document.json").write_text(json.dumps(compute(), allow_nan=False))

    return json.loads((kept(name, code, write) / "document.json").read_text())


def _digest(code: Iterable[Path], day: str) -> str:
    digest = hashlib.sha256()
    for besides in (day, platform.python_version(), platform.machine(), *map(version, COMPUTED_WITH)):
        digest.update(f"{besides}\n".encode())
    places = list(code)
    assert all(place.exists() for place in places), "code that moved would be left out of the hash"
    files = (file for place in places for file in ([place] if place.is_file() else place.rglob("*.py")))
    for path in sorted(files):
        digest.update(f"{path.name}\n".encode() + path.read_bytes())
    return digest.hexdigest()[:24]


def _throw_away_old(shelf: Path) -> None:
    for folder in shelf.iterdir():
        if folder.is_dir() and folder.stat().st_mtime < time.time() - KEPT_UNUSED_S:
            shutil.rmtree(folder, ignore_errors=True)
