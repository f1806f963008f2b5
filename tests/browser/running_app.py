"""Dialback as a person starts it: the command of the README, on a library of the test's own."""

import os
import re
import signal
import sqlite3
import subprocess
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path

import machine

from app.config import ROOT

STOPPED_WITHIN_S = 20
MEASURED_WITHIN_S = 120
STILL_TO_MEASURE = "SELECT count(*) FROM measurement WHERE state IN ('waiting', 'running')"


@dataclass(frozen=True)
class RunningApp:
    address: str
    library: Path


@contextmanager
def running(library: Path, log: Path) -> Iterator[RunningApp]:
    """Start on a free port, yield once the address is printed, and stop with Ctrl-C."""
    command = [machine.UV, "run", "dialback", "--no-browser", "--port", "0", "--library", str(library)]
    with log.open("w") as written:
        process = subprocess.Popen(
            command, cwd=ROOT, stdout=subprocess.PIPE, stderr=written, text=True, start_new_session=True
        )
        try:
            assert process.stdout is not None
            said = process.stdout.readline()
            found = re.search(r"http://127\.0\.0\.1:\d+", said)
            assert found, f"Dialback did not start: {said}{log.read_text()}"
            yield RunningApp(found[0], library)
            assert process.poll() is None, f"Dialback ended by itself: {log.read_text()}"
        finally:
            os.killpg(process.pid, signal.SIGINT)
            try:
                process.communicate(timeout=STOPPED_WITHIN_S)
            except subprocess.TimeoutExpired:
                os.killpg(process.pid, signal.SIGKILL)
                process.communicate()
                raise


def wait_until_measured(app: RunningApp) -> None:
    """Until no file of the library waits for its figures any more."""
    give_up_at = time.monotonic() + MEASURED_WITHIN_S
    with closing(sqlite3.connect(app.library / "dialback.db")) as database:
        while database.execute(STILL_TO_MEASURE).fetchone()[0]:
            assert time.monotonic() < give_up_at, "the measuring process does not come to an end"
            time.sleep(0.2)
