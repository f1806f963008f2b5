"""How long backups, a check, a restore and a full copy take on a large library, and how large they are.

    python tests/bench/backups.py --folder DIR [--files N] [--mb N]

The library is that of `pages.py` (built in DIR if it is not there); N files of invented noise are put beside it.
"""

import argparse
import random
import shutil
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent))
sys.path.insert(0, str(Path(__file__).parent.parent.parent))
sys.path.insert(0, str(Path(__file__).parent))

import io

from pages import build

from app import database_file
from app.desk.files.check import check_library
from app.desk.processes.backing_up import back_up_apart
from app.desk.safekeeping.backups import list_backups, look_at_backups
from app.desk.safekeeping.full_copies import copy_everything
from app.desk.safekeeping.restoring import put_back
from app.library import Library


@contextmanager
def timed(what: str) -> Iterator[None]:
    begun = time.perf_counter()
    yield
    print(f"{what:<54}{time.perf_counter() - begun:8.2f} s", flush=True)


def main() -> None:
    options = argparse.ArgumentParser(description="Times backups on a large library.")
    options.add_argument("--folder", type=Path, required=True)
    options.add_argument("--files", type=int, default=200)
    options.add_argument("--mb", type=int, default=5, help="of each file")
    given = options.parse_args()
    folder: Path = given.folder
    if not (folder / "dialback.db").exists():
        with timed("building the library"):
            build(folder)
    library = Library.open(folder)
    chance = random.Random(1)
    while len(library.files.names()) < given.files:
        library.files.take_in(io.BytesIO(chance.randbytes(given.mb * 1_000_000)))
    size = sum(library.files.path(name).stat().st_size for name in library.files.names())
    print(
        f"database {library.database.stat().st_size / 1e6:.0f} MB, {given.files} files of {size / 1e6:.0f} MB"
    )
    with timed("a backup, checked"):
        copy = library.backup()
    with timed("a backup by itself: gently, in a process of its own"):
        back_up_apart(library.database, copy.with_name("gently.db"))
    with timed("the list of the command, each held against the present"):
        list_backups(folder)
    with timed("the backups page, first look"):
        look_at_backups(folder)
    with timed("the backups page, again"):
        look_at_backups(folder)
    elsewhere = folder.with_name(f"{folder.name} copy")
    shutil.rmtree(elsewhere, ignore_errors=True)
    with timed("a full copy"):
        copy_everything(folder, elsewhere)
    with timed("a full copy, nothing new"):
        copy_everything(folder, elsewhere)
    with timed("a full copy, nothing new, all read again"):
        copy_everything(folder, elsewhere, verify=True)
    library.close()
    with timed("a check"):
        check_library(folder)
    with timed("a restore"):
        done = put_back(folder, copy.name)
    assert done.aside is not None
    print(f"a backup is {copy.stat().st_size / 1e6:.0f} MB")
    for path in (copy, copy.with_name("gently.db")):
        path.unlink()
    shutil.rmtree(folder / database_file.ASIDE)
    shutil.rmtree(elsewhere)


if __name__ == "__main__":
    main()
