"""Processes that the server starts for work it does not do itself, and how the two talk.

A child is a module with `if __name__ == "__main__": carry_out(work)`. It is told its order as one line of JSON on its
standard input, which then stays open: where it closes, the parent has ended or wants no more, and the child ends, on
every system. It answers in messages, each one line of JSON on its standard output:

    {"bytes": n}          n bytes of what it makes follow the line
    {"refused": "…"}      the work cannot be done; a sentence for the person
    {"done": true}        all is said; an output that ends without it broke off

Whoever reads slowly slows the child down, as any pipe does: nothing piles up. A child that says nothing for too long
while it is listened to is ended. Its standard error is the server's log.
"""

import contextlib
import json
import logging
import os
import signal
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator, Mapping
from typing import IO, Any

from app.config import ROOT

BODY_BYTES = 1 << 18
LONGEST_LINE = 1 << 16
AWAITED_NICE = 10
LOWEST_NICE = 19
IDLE_PRIORITY_CLASS = 0x40
"""Of Windows: runs only when nothing else would (SetPriorityClass, processthreadsapi.h)."""

log = logging.getLogger(__name__)


class ChildRefused(Exception):
    """The work cannot be done; the message is a sentence for the person."""


class ChildFailed(Exception):
    """A child ended, or had to be ended, before it had said all."""


def start(
    module: str,
    *arguments: str,
    bufsize: int = -1,
    environment: Mapping[str, str] | None = None,
) -> subprocess.Popen[bytes]:
    """A child at the lowest priority, with pipes to its standard input and from its output."""
    return subprocess.Popen(
        [sys.executable, "-m", module, *arguments],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        bufsize=bufsize,
        cwd=ROOT,
        env=None if environment is None else {**os.environ, **environment},
        creationflags=IDLE_PRIORITY_CLASS if sys.platform == "win32" else 0,
    )


def made_by(
    module: str,
    order: Mapping[str, Any],
    *,
    silent_for_s: float,
    environment: Mapping[str, str] | None = None,
) -> Iterator[bytes]:
    """What a child makes of an order, bit by bit. Closing the iterator ends the child. Raises ChildRefused and
    ChildFailed."""
    child = start(module, environment=environment)
    assert child.stdin is not None
    assert child.stdout is not None
    try:
        _tell(child.stdin, order)
        while True:
            message, body = listen(module, child, child.stdout, silent_for_s)
            if "refused" in message:
                raise ChildRefused(str(message["refused"]))
            if "done" in message:
                return
            yield body
    finally:
        end(child)


def end(child: subprocess.Popen[bytes]) -> None:
    """End a child in the middle of whatever it does, and give its pipes back."""
    child.kill()
    child.wait()
    for pipe in (child.stdin, child.stdout):
        if pipe is not None:
            with contextlib.suppress(OSError):  # it ended before it had read what it was told
                pipe.close()


def _tell(stdin: IO[bytes], order: Mapping[str, Any]) -> None:
    try:
        stdin.write(json.dumps(order).encode() + b"\n")
        stdin.flush()
    except OSError:
        return  # it ended at once; listening to it says so


def listen(
    module: str, child: subprocess.Popen[bytes], stdout: IO[bytes], silent_for_s: float
) -> tuple[dict[str, Any], bytes]:
    """The next message, with the bytes that follow it. Raises ChildFailed."""
    is_late = threading.Event()

    def give_up() -> None:
        is_late.set()
        child.kill()

    clock = threading.Timer(silent_for_s, give_up)
    clock.daemon = True
    clock.start()
    try:
        line = stdout.readline(LONGEST_LINE)
        message: dict[str, Any] = json.loads(line) if line.endswith(b"\n") else {}
        wanted = int(message.get("bytes", 0))
        body = stdout.read(wanted) if wanted else b""
    finally:
        clock.cancel()
    if is_late.is_set():
        raise ChildFailed(f"{module} said nothing for {silent_for_s:g} s and was ended.")
    if not message or len(body) < wanted:
        raise ChildFailed(f"{module} ended with {child.wait()} before it was done.")
    return message, body


class Out:
    """What a child makes, on its way to the parent. It is written to like a file that cannot be sought in."""

    def __init__(self, pipe: IO[bytes]) -> None:
        self._pipe = pipe
        self._waiting = bytearray()

    def write(self, made: bytes) -> int:
        self._waiting += made
        if len(self._waiting) >= BODY_BYTES:
            self.flush()
        return len(made)

    def flush(self) -> None:
        if self._waiting:
            self.say(bytes=len(self._waiting))
            self._pipe.write(self._waiting)
            self._pipe.flush()
            self._waiting.clear()

    def answer(self, body: bytes, **message: Any) -> None:
        """A message with the bytes that belong to it."""
        self.say(bytes=len(body), **message)
        self._pipe.write(body)
        self._pipe.flush()

    def say(self, **message: Any) -> None:
        self._pipe.write(json.dumps(message).encode() + b"\n")
        self._pipe.flush()


def carry_out(work: Callable[[dict[str, Any], Out], None], *refusing: type[Exception]) -> None:
    """A child's whole life: one order, carried out. The exceptions of `refusing` are sentences for the person."""
    stand_back()
    out = Out(own_output())
    order = json.loads(sys.stdin.buffer.readline())
    end_with_parent()
    try:
        work(order, out)
        out.flush()
    except refusing as refused:
        out.say(refused=str(refused))
        return
    out.say(done=True)


def own_output() -> IO[bytes]:
    """The standard output for messages alone: what libraries print goes to the log instead."""
    pipe = os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())
    return pipe


def end_with_parent(heard: Callable[[], None] = lambda: None) -> None:
    """From here on this process ends when its standard input does, in the middle of whatever it does. `heard` is called
    when the parent says something more."""

    def watch() -> None:
        while os.read(sys.stdin.fileno(), 4096):
            heard()
        os._exit(1)

    threading.Thread(target=watch, name="parent", daemon=True).start()


@contextlib.contextmanager
def no_longer_than(seconds: float) -> Iterator[None]:
    """This process ends when what is done within takes longer, as it may never come to an end."""

    def end() -> None:
        log.error("This took more than %g s and was ended.", seconds)
        os._exit(1)

    clock = threading.Timer(seconds, end)
    clock.daemon = True
    clock.start()
    try:
        yield
    finally:
        clock.cancel()


def keep_within(memory_bytes: int) -> None:
    """For a child whose work somebody waits for: a little behind the server, with so much memory and no more."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is the server's; this process ends with it
    if sys.platform == "win32":
        return
    import resource

    os.nice(AWAITED_NICE)
    resource.setrlimit(resource.RLIMIT_AS, (memory_bytes, memory_bytes))


def stand_back() -> None:
    """The lowest priority, that a DAW on the same computer is never starved. On Windows it was started with it."""
    if sys.platform == "win32":
        return
    os.nice(LOWEST_NICE)  # goes no further than the lowest there is
    if hasattr(os, "sched_setscheduler"):
        os.sched_setscheduler(0, os.SCHED_IDLE, os.sched_param(0))
