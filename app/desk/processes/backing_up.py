"""A backup in a process of its own: `python -m app.desk.processes.backing_up`, told which database and where to.

The server makes backups while one works, so they are made at the lowest priority and bit by bit."""

from pathlib import Path
from typing import Any

from app.database_file import back_up
from app.desk import child_processes
from app.desk.child_processes import Out, carry_out
from app.library_errors import LibraryError

SILENT_FOR_S = 3600.0


def back_up_apart(database: Path, target: Path) -> None:
    """Raises ChildRefused with a sentence, and ChildFailed."""
    order = {"database": str(database), "target": str(target)}
    for _ in child_processes.made_by("app.desk.processes.backing_up", order, silent_for_s=SILENT_FOR_S):
        pass


def _back_up(order: dict[str, Any], out: Out) -> None:
    back_up(Path(order["database"]), Path(order["target"]), gently=True)


if __name__ == "__main__":
    carry_out(_back_up, LibraryError)
