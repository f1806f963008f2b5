"""Measurements as rows that survive a restart, and the one low-priority process that carries them out.

The server asks for a measurement by writing a row and waking the process; it never measures, and so never loads
numpy or scipy. The process reads rows until none waits, then sleeps until it is woken; it ends when the server
does, because its standard input closes.
"""

import contextlib
import json
import logging
import subprocess
import threading
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import Any

from sqlalchemy import JSON, Select, bindparam, exists, func, select, type_coerce
from sqlalchemy.orm import Session
from sqlmodel import col

from app.desk import child_processes
from app.desk.measuring import findings, queued_work
from app.desk.measuring.findings import Finding
from app.library import Library
from app.library_errors import LibraryError
from app.records import MeasuredFinding, Measurement, Pass, Print, SoundShape, SourceTrack, WorkState
from app.signal.comparison.band_shape import packed, shape_of
from app.signal.figures import ALGORITHM_VERSION, PrintFigures, print_figures_from_json

SHORTEST_PAUSE_S, LONGEST_PAUSE_S = 1.0, 60.0
log = logging.getLogger(__name__)


@dataclass(frozen=True)
class Measured:
    """Where the measuring of a file stands, with its figures once they are there."""

    state: WorkState
    reason: str = ""
    figures: PrintFigures | None = None
    findings: tuple[Finding, ...] = ()

    @property
    def is_coming(self) -> bool:
        return self.state.is_coming

    def placed_by_hand(self, delay_samples: float) -> "Measured":
        """The same, lying against its source where a person says."""
        if self.figures is None or self.figures.alignment is None:
            return self
        placed = self.figures.alignment.at(delay_samples, self.figures.file.sample_rate)
        figures = replace(self.figures, alignment=placed)
        return replace(self, figures=figures, findings=(*self.findings, findings.by_hand(delay_samples)))


NO_OVERVIEW: dict[str, Any] = {"overview": {"columns": [], "loudness": []}}
NOT_ASKED = Measured(WorkState.NOT_ASKED)
HELD_BACK = "It is measured once the pass that is being printed has its print."


def want(session: Session, *pairs: tuple[int, int | None]) -> None:
    """Have files measured, each alone (None) or against its source's file, unless that is done or waiting already."""
    there = select(col(Measurement.file_id), col(Measurement.source_file_id)).where(
        col(Measurement.file_id).in_({file_id for file_id, _ in pairs}),
        col(Measurement.algorithm_version) == ALGORITHM_VERSION,
    )
    known = {(file_id, source_file_id) for file_id, source_file_id in session.execute(there)}
    _ask(session, (pair for pair in pairs if pair not in known))


def _ask(session: Session, pairs: Iterable[tuple[int, int | None]]) -> None:
    session.add_all(
        Measurement(file_id=file_id, source_file_id=source_file_id, algorithm_version=ALGORITHM_VERSION)
        for file_id, source_file_id in dict.fromkeys(pairs)
    )


def measure_again(library: Library, file_id: int, source_file_id: int | None) -> None:
    """Give a failed measurement another try."""
    with library.writing() as session:
        queued_work.try_again(session, Measurement, *_is(file_id, source_file_id))


def read_measured(
    session: Session, pairs: set[tuple[int, int | None]], *, with_overview: bool = True
) -> dict[tuple[int, int | None], Measured]:
    """For each (file, source file) what is known of it. The overview is nine tenths of all that is stored, so a page
    of many passes leaves it out; it then reads as empty."""
    found = dict.fromkeys(pairs, NOT_ASKED)
    held_back = HELD_BACK if queued_work.is_held_back(session) else ""
    files = [file_id for file_id, _ in pairs]
    query = _WITH_OVERVIEW if with_overview else _WITHOUT_OVERVIEW
    of_files = {"file_ids": files, "version": ALGORITHM_VERSION}
    for file_id, source_file_id, state, reason, stored in session.execute(query, of_files):
        if (file_id, source_file_id) in found:
            found[file_id, source_file_id] = _measured(state, reason or held_back, stored)
    return found


def _stored(figures: Any) -> Select[Any]:
    return select(
        col(Measurement.file_id),
        col(Measurement.source_file_id),
        col(Measurement.state),
        col(Measurement.reason),
        figures,
    ).where(
        col(Measurement.file_id).in_(bindparam("file_ids", expanding=True)),
        col(Measurement.algorithm_version) == bindparam("version"),
    )


_WITH_OVERVIEW = _stored(col(Measurement.figures))
_WITHOUT_OVERVIEW = _stored(type_coerce(func.json_remove(col(Measurement.figures), "$.overview"), JSON))


def _measured(state: WorkState, reason: str, stored: dict[str, Any] | None) -> Measured:
    if state != WorkState.DONE or stored is None:
        return Measured(state, reason)
    figures = print_figures_from_json(NO_OVERVIEW | stored)
    return Measured(state, reason, figures, findings.find(figures))


def _is(file_id: int, source_file_id: int | None) -> tuple[Any, ...]:
    return (
        col(Measurement.file_id) == file_id,
        col(Measurement.source_file_id).is_not_distinct_from(source_file_id),
        col(Measurement.algorithm_version) == ALGORITHM_VERSION,
    )


def resume(library: Library) -> None:
    """After a start: what was running when the last process ended waits again, unless it ended it too often; and
    whatever only an older algorithm has measured is asked for anew."""
    with library.writing() as session:
        queued_work.put_back(session, Measurement, "Measuring this file")
        measured = exists().where(
            col(Measurement.file_id) == col(Print.file_id),
            col(Measurement.source_file_id).is_not_distinct_from(col(SourceTrack.file_id)),
            col(Measurement.algorithm_version) == ALGORITHM_VERSION,
        )
        prints = select(col(Print.file_id), col(SourceTrack.file_id)).join(
            Pass, col(Pass.id) == col(Print.pass_id)
        )
        asked = prints.join(SourceTrack).where(~measured).distinct()
        pairs = [(file_id, source_file_id) for file_id, source_file_id in session.execute(asked)]
        alone = exists().where(
            col(Measurement.file_id) == col(SourceTrack.file_id),
            col(Measurement.source_file_id).is_(None),
            col(Measurement.algorithm_version) == ALGORITHM_VERSION,
        )
        sources = select(col(SourceTrack.file_id)).where(~alone).distinct()
        pairs += [(file_id, None) for file_id in session.scalars(sources) if file_id is not None]
        _ask(session, pairs)


def claim(library: Library) -> Measurement | None:
    """Take the oldest waiting measurement, now running."""
    return queued_work.claim(library, Measurement)


def finish(library: Library, measurement_id: int, figures: dict[str, Any] | None, reason: str = "") -> None:
    """Write down what came out: figures, or the reason there are none."""
    with library.writing() as session:
        queued_work.finish(session, Measurement, measurement_id, figures, reason)
        row = session.get(Measurement, measurement_id)
        if row is not None and figures is not None:
            keep_learnt(session, row, print_figures_from_json(figures))


def keep_learnt(session: Session, row: Measurement, figures: PrintFigures) -> None:
    """What a search needs of a measured file: how it sounds and what was found about it."""
    _keep_shape(session, row.file_id, figures)
    session.flush()
    for kind in {finding.kind for finding in findings.find(figures)}:
        session.merge(MeasuredFinding(measurement_id=row.id, kind=kind))


def _keep_shape(session: Session, file_id: int, figures: PrintFigures) -> None:
    shape = shape_of(figures.bands)
    if shape is not None:
        session.merge(
            SoundShape(file_id=file_id, integrated_lufs=figures.level.integrated_lufs, shape=packed(shape))
        )


class MeasuringProcess:
    """The server's handle on the process; starts it again should it die while the server runs."""

    def __init__(self, library: Library, news: Callable[[str], None] = lambda noun: None) -> None:
        """`news` is told from a thread of its own, whenever work is finished, what kind it was."""
        self._library = library
        self._news = news
        self._child: subprocess.Popen[bytes] | None = None
        self._stopping = threading.Event()
        self._beginning = threading.Lock()
        self._watcher = threading.Thread(target=self._watch, name="measuring", daemon=True)

    def start(self) -> None:
        self._begin()
        self._watcher.start()

    def wake(self) -> None:
        """Say that a measurement waits."""
        child = self._child
        if child is None or child.stdin is None:
            return
        try:
            child.stdin.write(b"\n")
        except OSError:
            log.info("The measuring process is just being started again; it looks for work by itself.")

    def stop(self) -> None:
        with self._beginning:
            self._stopping.set()
        child = self._child
        if child is None:
            return
        child.kill()
        self._watcher.join()  # it reads what the child still says
        child_processes.end(child)
        with contextlib.suppress(LibraryError):
            queued_work.let_go(self._library)

    def _begin(self) -> None:
        with self._beginning:
            if not self._stopping.is_set():
                # Unbuffered: a wake that meets a dead process must not be left over to break its closing.
                self._child = child_processes.start(
                    "app.desk.processes.measuring",
                    str(self._library.folder.absolute()),
                    bufsize=0,
                )

    def _watch(self) -> None:
        pause_s = SHORTEST_PAUSE_S
        while (child := self._child) is not None:
            began = time.monotonic()
            self._pass_on(child)
            code = child.wait()
            if time.monotonic() - began > LONGEST_PAUSE_S:
                pause_s = SHORTEST_PAUSE_S
            if self._stopping.wait(timeout=pause_s):
                return
            pause_s = min(2 * pause_s, LONGEST_PAUSE_S)
            if self._library.trouble:  # it would only end again
                continue
            log.warning("The measuring process ended with %s; it is started again.", code)
            child_processes.end(child)
            self._begin()

    def _pass_on(self, child: subprocess.Popen[bytes]) -> None:
        """What the process says it has finished, or what damage it met, until it ends."""
        assert child.stdout is not None
        for line in child.stdout:
            if line.endswith(b"\n"):  # a kill may cut the last one short
                message = json.loads(line)
                if "finished" in message:
                    self._news(str(message["finished"]))
                else:
                    self._library.damage = self._library.damage or str(message["damage"])
