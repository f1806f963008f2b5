"""Children are started, spoken with and ended in one way. The children here are real ones, of a few lines."""

import json
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from app.config import ROOT
from app.desk import child_processes
from app.desk.child_processes import ChildFailed, ChildRefused, made_by

CHILD = """
import os, sys, time
from app.desk.child_processes import carry_out

def work(order, out):
    print("what a library prints is no message")
    if order["do"] == "refuse":
        raise ValueError("This cannot be made.")
    if order["do"] == "die":
        os._exit(7)
    if order["do"] == "sleep":
        time.sleep(60)
    if order["do"] == "pid":
        out.write(f"{os.getpid()} {os.getpriority(os.PRIO_PROCESS, 0)}".encode())
        out.flush()
        time.sleep(60)
    out.write(bytes(order["length"]))

carry_out(work, ValueError)
"""


@pytest.fixture(autouse=True)
def child(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "child_of_a_test.py").write_text(CHILD)
    monkeypatch.setenv("PYTHONPATH", os.pathsep.join((str(tmp_path), str(ROOT))))


def told(**order: object) -> bytes:
    return b"".join(made_by("child_of_a_test", order, silent_for_s=30))


@pytest.mark.parametrize("length", [0, 1, 3 * child_processes.BODY_BYTES + 5])
def test_what_a_child_makes_arrives_whole(length: int) -> None:
    assert told(do="make", length=length) == bytes(length)


def test_a_refusal_is_the_childs_own_sentence() -> None:
    with pytest.raises(ChildRefused, match=r"^This cannot be made\.$"):
        told(do="refuse")


def test_a_child_that_dies_is_no_child_that_is_done() -> None:
    with pytest.raises(ChildFailed, match="ended with 7"):
        told(do="die")


def test_a_child_that_says_nothing_for_too_long_is_ended() -> None:
    began = time.monotonic()
    with pytest.raises(ChildFailed, match="said nothing"):
        list(made_by("child_of_a_test", {"do": "sleep"}, silent_for_s=0.5))
    assert time.monotonic() - began < 30


def test_a_child_runs_at_the_lowest_priority_and_ends_when_nobody_wants_the_rest() -> None:
    made = made_by("child_of_a_test", {"do": "pid"}, silent_for_s=30)
    pid, nice = map(int, next(made).split())
    assert nice == child_processes.LOWEST_NICE
    made.close()  # type: ignore[attr-defined]
    with pytest.raises(ProcessLookupError):
        os.kill(pid, 0)


def test_a_child_ends_in_the_middle_of_its_work_when_its_parents_pipe_closes() -> None:
    parent = subprocess.Popen([sys.executable, "-m", "child_of_a_test"], stdin=subprocess.PIPE, cwd=ROOT)
    assert parent.stdin is not None
    parent.stdin.write(json.dumps({"do": "sleep"}).encode() + b"\n")
    parent.stdin.flush()
    assert parent.poll() is None
    parent.stdin.close()  # as the system does with a parent's pipes
    assert parent.wait(timeout=30) == 1


def test_work_that_never_ends_is_ended_with_its_process() -> None:
    stuck = (
        "import time\n"
        "from app.desk.child_processes import no_longer_than\n"
        "with no_longer_than(60): print('in time', flush=True)\n"
        "with no_longer_than(0.2): time.sleep(60)"
    )
    done = subprocess.run(
        [sys.executable, "-c", stuck], cwd=ROOT, capture_output=True, text=True, timeout=30, check=False
    )
    assert (done.returncode, done.stdout) == (1, "in time\n")
    assert "more than 0.2 s" in done.stderr
