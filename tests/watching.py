"""A project that watches a folder, for tests: the folder, the lookout over it, and a clock of their own."""

import os
from pathlib import Path

from app.desk.arrivals import watched_folders
from app.desk.arrivals.lookout import STILL_S, Looked, Lookout
from app.desk.arrivals.watched_folders import FolderEntry
from app.library import Library
from app.records import Arrival


class Desk:
    """A library whose project watches a folder, and a clock that goes on when it is told to."""

    def __init__(self, library: Library, folder: Path, project: int, keeps: str = "copy") -> None:
        self.library, self.folder = library, folder
        self.folder_id = watched_folders.add_folder(library, project, FolderEntry(str(folder), keeps))
        self.time_s = 0.0
        self.lookout = self.begin_anew()

    def begin_anew(self) -> Lookout:
        """As after a restart of the server: nothing is remembered but what is in the library."""
        self.lookout = Lookout(self.library, clock=lambda: self.time_s)
        return self.lookout

    def look(self, after_s: float = STILL_S) -> Looked:
        self.time_s += after_s
        return self.lookout.look()

    def settle(self) -> None:
        self.look()
        self.look()

    def put(self, name: str, audio: bytes, *, at_s: float | None = None) -> Path:
        path = self.folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(audio)
        if at_s is not None:
            os.utime(path, (at_s, at_s))
        return path

    def rows(self) -> dict[str, Arrival]:
        """The newest row of each path."""
        with self.library.reading() as session:
            found = session.query(Arrival).filter_by(folder_id=self.folder_id).all()
        return {row.path: row for row in found}

    def states(self) -> dict[str, str]:
        return {path: row.state for path, row in self.rows().items()}
