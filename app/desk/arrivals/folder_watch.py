"""The thread of the server that keeps the lookout going while folders are watched.

The operating system says when something in a folder changes (through watchfiles); since a network folder does not, and
notices can be lost, every folder is also looked at now and then, at a pace that costs next to nothing.
"""

import logging
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from app.desk.arrivals.lookout import Looked, Lookout
from app.library import Library
from app.library_errors import LibraryError

SHORTEST_PAUSE_S = 2.0
UNTOLD_PAUSE_S, LONGEST_PAUSE_S = 5.0, 60.0
SHARE_OF_A_CORE = 0.005
"""What looking without being told may cost, at most."""
STEP_MS = 500

log = logging.getLogger(__name__)


class FolderWatch:
    """`taken_in` is called when files were taken in, as the measuring process has work; `noted` when anything was noted
    that a page shows, such as a file that grows or a folder that cannot be reached; `photographed` with each draft that got a
    photo, which waits to be read."""

    def __init__(
        self,
        library: Library,
        taken_in: Callable[[], None],
        noted: Callable[[], None],
        photographed: Callable[[int], None],
    ) -> None:
        self._taken_in, self._noted, self._photographed = taken_in, noted, photographed
        self._over = threading.Event()
        self._nudge = threading.Event()
        self._lookout = Lookout(library, is_over=self._over.is_set)
        self._telling: tuple[list[str] | None, Iterator[bool]] = (None, iter(()))
        self._thread = threading.Thread(target=self._run, name="folders", daemon=True)

    def start(self) -> None:
        self._thread.start()

    def look_soon(self) -> None:
        """Say that a folder was added, or that a file was asked for."""
        self._nudge.set()

    def stop(self) -> None:
        self._over.set()
        self._nudge.set()
        if self._thread.is_alive():
            self._thread.join(timeout=2 * STEP_MS / 1000)

    def _run(self) -> None:
        while not self._over.is_set():
            began = time.thread_time()
            looked = self._look()
            if not looked.folders:
                self._nudge.wait()
            else:
                self._wait(looked, 0.0 if looked.settled else time.thread_time() - began)
            self._nudge.clear()

    def _look(self) -> Looked:
        try:
            looked = self._lookout.look()
        except LibraryError as error:
            log.warning("%s", error)
            return Looked(("",), on_its_way=False, settled=0, is_news=False)
        except Exception:
            log.exception("Looking through the recording folders failed; it is tried again.")
            return Looked(("",), on_its_way=False, settled=0, is_news=False)
        if looked.settled:
            self._taken_in()
        if looked.is_news:
            self._noted()
        for draft_id in looked.photographed:
            self._photographed(draft_id)
        return looked

    def _wait(self, looked: Looked, cost_s: float) -> None:
        """Until the next look is due: soon when something is on its way or the system tells of a change, else later,
        the later the more processor time the last look cost."""
        now = time.monotonic()
        soonest = now + SHORTEST_PAUSE_S
        untold = min(max(UNTOLD_PAUSE_S, cost_s / SHARE_OF_A_CORE), LONGEST_PAUSE_S)
        latest = soonest if looked.on_its_way else now + untold
        told = False
        for is_told in self._changes_in([path for path in looked.folders if path and Path(path).is_dir()]):
            told = told or is_told
            if time.monotonic() >= (soonest if told else latest):
                return

    def _changes_in(self, folders: list[str]) -> Iterator[bool]:
        """Kept from look to look, so that nothing is missed between two, unless there was a nudge or the folders are
        others now."""
        if self._telling[0] != folders:
            self._telling = (folders, self._changes(folders))
        while (told := next(self._telling[1], None)) is not None:
            yield told
        self._telling = (None, iter(()))

    def _changes(self, folders: list[str]) -> Iterator[bool]:
        """Now and then, whether the system told of a change since the last time; ends when there is a nudge. The first
        time it says yes, for what happened before it listened."""
        if folders:
            yield from self._told_of(folders)
        while not self._nudge.wait(SHORTEST_PAUSE_S):
            yield False

    def _told_of(self, folders: list[str]) -> Iterator[bool]:
        from watchfiles import watch  # not before a folder is watched

        is_first = True
        try:
            for changes in watch(
                *folders,
                watch_filter=None,
                debounce=int(1000 * SHORTEST_PAUSE_S),
                step=STEP_MS,
                stop_event=self._nudge,
                rust_timeout=int(1000 * SHORTEST_PAUSE_S),
                yield_on_timeout=True,
                raise_interrupt=False,
                poll_delay_ms=int(1000 * SHORTEST_PAUSE_S),
                ignore_permission_denied=True,
            ):
                yield bool(changes) or is_first
                is_first = False
        except OSError as error:
            log.info(
                "The system tells of no changes here (%s); the folders are looked at now and then.", error
            )
