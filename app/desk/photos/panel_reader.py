"""Photos of panels are read in a process of their own, which is asked photo by photo and ends when none came for a while.

Who has taken a photo waits for it: the process is started by the server, as the one that cleans pictures is, and not by the
measuring process, below whose priority nothing can be started that is above it.
"""

import json
import logging
import subprocess
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from typing import Any

from sqlalchemy.orm import Session

from app.desk import child_processes
from app.desk.child_processes import ChildFailed
from app.desk.files.stored_files import MISSING, FileAway, path_of
from app.desk.measuring import examinations
from app.library import Library
from app.library_errors import LibraryError
from app.records import Examination, StoredFile

MODULE = "app.desk.processes.reading_panels"
SILENT_FOR_S = 120.0
IDLE_FOR_S = 20.0
ONE_CORE = dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"), "1")
BROKE_OFF = "Reading this photo broke off, which is a fault of Dialback; its log says more."
log = logging.getLogger(__name__)


class PanelReader:
    """Reads what waits to be read, in a thread that lasts for as long as something does and a little longer."""

    def __init__(self, library: Library, news: Callable[[str], None] = lambda noun: None) -> None:
        """`news` is told from the thread, whenever a photo was read for a piece of gear."""
        self._library = library
        self._news = news
        self._woken = threading.Event()
        self._state = threading.Lock()
        self._thread: threading.Thread | None = None
        self._is_stopped = False
        self._child: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """What was being read when the last server ended waits again."""
        examinations.resume_panels(self._library)
        if examinations.panels_wait(self._library):
            self.wake()

    def wake(self) -> None:
        """Say that a photo waits to be read."""
        with self._state:
            self._woken.set()
            if self._thread is None and not self._is_stopped:
                self._thread = threading.Thread(target=self._run, name="panels", daemon=True)
                self._thread.start()

    def stop(self) -> None:
        with self._state:
            self._is_stopped = True
            self._woken.set()
            thread = self._thread
        self._end()
        if thread is not None:
            thread.join()

    def _run(self) -> None:
        while True:
            with self._state:
                if self._is_stopped:
                    break
                self._woken.clear()
            try:
                self.work_through()
            except LibraryError as error:
                log.error("%s", error)
            if not self._woken.wait(IDLE_FOR_S):
                with self._state:
                    if not self._woken.is_set():
                        self._thread = None
                        break
        self._end()

    def work_through(self) -> None:
        """All that waits, photo by photo."""
        while not self._is_stopped and (rows := examinations.claim_panels(self._library)):
            self._read(rows)

    def _read(self, rows: Sequence[Examination]) -> None:
        left = {row.id: row for row in rows}
        try:
            for row_id, answer, reason in self._answers(rows):
                left.pop(row_id, None)
                self._finish(row_id, answer, reason)
        except (ChildFailed, OSError) as error:
            self._end()
            if self._is_stopped:
                examinations.put_panels_back(self._library, list(left), counted=False)
                return
            log.error("A photo was not read to its end: %s", error)
            examinations.put_panels_back(self._library, list(left), counted=True)
            self._news("examination")
        else:
            for row_id in left:
                self._finish(row_id, None, BROKE_OFF)

    def _finish(self, row_id: int, answer: dict[str, Any] | None, reason: str) -> None:
        examinations.finish(self._library, row_id, answer, reason)
        self._news("examination")

    def _answers(self, rows: Sequence[Examination]) -> Iterator[tuple[int, dict[str, Any] | None, str]]:
        panels, original = [], ""
        with self._library.reading() as session:
            for row in rows:
                try:
                    original = self._path(session, row.file_id)
                    panels.append(
                        {
                            "row": row.id,
                            "photos": self._references(session, row),
                            "states": self._states(session, row),
                        }
                    )
                except FileAway as away:
                    yield row.id, None, str(away)
        if not panels:
            return
        order = {"original": original, "panels": panels, "kept": str(self._library.features)}
        child = self._running()
        assert child.stdin is not None
        assert child.stdout is not None
        child.stdin.write(json.dumps(order).encode() + b"\n")
        child.stdin.flush()
        while True:
            said, body = child_processes.listen(MODULE, child, child.stdout, SILENT_FOR_S)
            if "done" in said:
                return
            answer = None if "refused" in said else json.loads(body)
            yield int(said["row"]), answer, str(said.get("refused", ""))

    def _references(self, session: Session, row: Examination) -> list[dict[str, Any]]:
        return [
            {
                **photo,
                "path": self._path(session, photo["shown_file_id"]),
                "original": self._path(session, photo["original_file_id"]),
            }
            for photo in row.wanted["panel"]["photos"]
        ]

    def _states(self, session: Session, row: Examination) -> list[dict[str, Any]]:
        """What was learnt of switches, as far as its pictures are there: without them the photo is read all the same."""
        states = []
        for state in row.wanted["panel"].get("states", ()):
            with suppress(FileAway):
                path = self._path(session, state["file_id"])
                states.append({"key": state["key"], "stands_at": state["stands_at"], "path": path})
        return states

    def _path(self, session: Session, file_id: int) -> str:
        row = session.get(StoredFile, file_id)
        if row is None:
            raise FileAway(MISSING)
        return str(path_of(self._library, row.sha256))

    def _running(self) -> subprocess.Popen[bytes]:
        with self._state:
            if self._is_stopped:
                raise ChildFailed("The server ends.")
            if self._child is None or self._child.poll() is not None:
                self._close()
                self._child = child_processes.start(MODULE, environment=ONE_CORE)
            return self._child

    def _end(self) -> None:
        with self._state:
            self._close()

    def _close(self) -> None:
        child, self._child = self._child, None
        if child is not None:
            child_processes.end(child)
