"""What can be wrong with a library folder, in sentences for the person.

LibraryError
├── LibraryInUse     another Dialback serves it
├── LibraryFull      no room on its disk; nothing of the transaction was kept
├── LibraryBusy      another program held the database for too long; nothing of the transaction was kept
├── LibraryAway      its folder was deleted, unmounted or replaced while it was open
├── LibraryDamaged   the database contradicts itself; what can still be read is read, nothing is written
├── LibraryTooNew    written by a newer Dialback
├── LibraryLost      there are files and backups of a library, and no database
└── LibraryBroken    the database cannot be opened
"""

import shlex
from pathlib import Path


class LibraryError(Exception):
    """Something about the library folder that the person has to know; the message is a full sentence."""


class LibraryInUse(LibraryError):
    pass


class LibraryFull(LibraryError):
    pass


class LibraryBusy(LibraryError):
    pass


class LibraryAway(LibraryError):
    pass


class LibraryDamaged(LibraryError):
    pass


class LibraryTooNew(LibraryError):
    pass


class LibraryLost(LibraryError):
    pass


class LibraryBroken(LibraryError):
    pass


def command(verb: str, folder: Path, *more: str) -> str:
    """A command as it can be typed, such as “dialback restore --library DIR”."""
    return shlex.join(["dialback", verb, *more, "--library", str(folder)])


def unusable(folder: Path, error: OSError) -> LibraryBroken:
    return LibraryBroken(
        f"The library folder {folder} cannot be made or written to: {error.strerror}. "
        "Name another with --library."
    )
