"""A real server in a process of its own, for what only a real one can show."""

import os
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from app.config import ROOT

RUN = "from app.cli import main; main()"


@contextmanager
def serving(folder: Path, *arguments: str, **environment: str) -> Iterator[tuple[str, subprocess.Popen[str]]]:
    """A running server on a free port: its address and its process."""
    process = subprocess.Popen(
        [sys.executable, "-c", RUN, "--library", str(folder), "--no-browser", "--port", "0", *arguments],
        cwd=ROOT,
        env=os.environ | environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None
    assert process.stderr is not None
    try:
        line = process.stdout.readline()
        assert line.startswith("Dialback is at http://127.0.0.1:"), process.stderr.read()
        yield line.split()[3], process
    finally:
        process.kill()
        process.wait()
        process.stdout.close()
        process.stderr.close()


def get(address: str) -> tuple[int, str]:
    for _ in range(200):
        try:
            with urllib.request.urlopen(address, timeout=10) as answer:
                return answer.status, answer.read().decode()
        except urllib.error.HTTPError as error:
            return error.code, error.read().decode()
        except (urllib.error.URLError, ConnectionError):
            time.sleep(0.05)
    raise AssertionError(f"{address} never answered")
