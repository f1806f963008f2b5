"""Photos made fit to be shown, in a process of its own: what a decoder does with a hostile or huge picture, it does there.

The process is asked picture by picture, one at a time, and ends when none came for a while. Who has added a photo waits
for it, so it is not held back as measuring is.
"""

import atexit
import subprocess
import threading
from pathlib import Path

from app.desk import child_processes
from app.desk.child_processes import ChildFailed
from app.desk.files.pictures import CleanPicture, UnusablePicture

MODULE = "app.desk.processes.cleaning_pictures"
SILENT_FOR_S = 120.0
IDLE_FOR_S = 20.0

_one_at_a_time = threading.Lock()
_child: subprocess.Popen[bytes] | None = None
_rest: threading.Timer | None = None


def cleaned_picture(path: Path) -> CleanPicture:
    """Raises UnusablePicture when the file is no usable photo."""
    with _one_at_a_time:
        try:
            return _asked(path)
        except (ChildFailed, OSError) as error:
            _end()
            raise UnusablePicture(
                "This picture could not be read: it is damaged, or takes more memory than a photo may. Save a smaller "
                "copy and use that."
            ) from error
        finally:
            _end_after_a_rest()


def _asked(path: Path) -> CleanPicture:
    child = _running()
    assert child.stdin is not None
    assert child.stdout is not None
    child.stdin.write(f"{path.absolute()}\n".encode())
    child.stdin.flush()
    said, body = child_processes.listen(MODULE, child, child.stdout, SILENT_FOR_S)
    if "refused" in said:
        raise UnusablePicture(str(said["refused"]))
    shown = int(said["shown"])
    return CleanPicture(said["width"], said["height"], body[:shown], body[shown:], said["media_type"])


def _running() -> subprocess.Popen[bytes]:
    global _child
    if _child is None or _child.poll() is not None:
        _end()
        _child = child_processes.start(MODULE)
    return _child


def _end_after_a_rest() -> None:
    global _rest
    if _rest is not None:
        _rest.cancel()
    _rest = threading.Timer(IDLE_FOR_S, _end_if_idle)
    _rest.daemon = True
    _rest.start()


def _end_if_idle() -> None:
    if _one_at_a_time.acquire(blocking=False):
        try:
            _end()
        finally:
            _one_at_a_time.release()


def _end() -> None:
    global _child
    if _child is None:
        return
    child_processes.end(_child)
    _child = None


atexit.register(_end)
