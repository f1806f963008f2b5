"""The measuring process: `python -m app.desk.measuring_process FOLDER`. It measures, and makes auditions.

It runs at the lowest priority and in one thread, so that a DAW on the same machine is never starved: it takes what
time is left over, on whichever core is idle.
"""

import logging
import os
import signal
import sys
from dataclasses import asdict
from pathlib import Path
from typing import Any

from app.desk import auditions, measuring
from app.library import Library
from app.records import Audition, Measurement, StoredFile

ONE_CORE = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")
log = logging.getLogger("dialback.measuring")


def run(folder: Path) -> None:
    _stand_back()
    library = Library(folder)
    measuring.resume(library)
    auditions.resume(library)
    while True:
        while _measure_next(library) | _build_next(
            library
        ):  # in turn, so that neither waits for all of the other
            pass
        if not os.read(sys.stdin.fileno(), 4096):
            return


def _measure_next(library: Library) -> bool:
    waiting = measuring.claim(library)
    if waiting is not None:
        measure(library, waiting)
    return waiting is not None


def _build_next(library: Library) -> bool:
    waiting = auditions.claim(library)
    if waiting is not None:
        build(library, waiting)
        auditions.throw_away_old(library)
    return waiting is not None


def measure(library: Library, waiting: Measurement) -> None:
    """Carry out one claimed measurement."""
    from app.signal.figures import to_json
    from app.signal.measure import measure_print
    from app.signal.reading import UnreadableAudio

    path = _path(library, waiting.file_id)
    source = None if waiting.source_file_id is None else _path(library, waiting.source_file_id)
    try:
        figures = to_json(measure_print(path, source, features_folder=library.features))
    except UnreadableAudio as error:
        measuring.finish(library, waiting.id, None, str(error))
    except FileNotFoundError:
        measuring.finish(
            library, waiting.id, None, "The file is missing from the library folder. Put it back from a copy."
        )
    except Exception:
        log.exception("Measurement %s of %s failed.", waiting.id, path)
        measuring.finish(
            library,
            waiting.id,
            None,
            "Dialback failed at this file, which is a fault of its own; its log says more.",
        )
    else:
        measuring.finish(library, waiting.id, figures)


def build(library: Library, waiting: Audition) -> None:
    """Make one claimed audition."""
    from app.signal.audition import build_audition, build_together
    from app.signal.reading import UnreadableAudio

    folder = auditions.folder_of(library, waiting.key)
    figures: dict[str, Any] = {}
    try:
        if waiting.kind == "together":
            build_together(auditions.members_of(library, waiting), folder)
        else:
            wanted = dict(waiting.wanted)
            path = library.files.path(wanted.pop("sha256"))
            if not path.exists():
                raise FileNotFoundError(path)
            figures = asdict(build_audition(path, folder, **wanted))
    except UnreadableAudio as error:
        auditions.finish(library, waiting, None, str(error))
    except FileNotFoundError:
        auditions.finish(
            library, waiting, None, "The file is missing from the library folder. Put it back from a copy."
        )
    except OSError as error:
        auditions.finish(
            library,
            waiting,
            None,
            f"It could not be written to the library ({error.strerror}). Make room on the disk.",
        )
    except Exception:
        log.exception("Audition %s failed.", waiting.key)
        auditions.finish(
            library,
            waiting,
            None,
            "Dialback failed at this file, which is a fault of its own; its log says more.",
        )
    else:
        auditions.finish(library, waiting, figures)


def _path(library: Library, file_id: int) -> Path:
    with library.reading() as session:
        row = session.get(StoredFile, file_id)
        assert row is not None  # a measurement goes with its file
        return library.files.path(row.sha256)


def _stand_back() -> None:
    for name in ONE_CORE:
        os.environ[name] = "1"
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is the server's; this process ends with it
    if hasattr(os, "nice"):
        os.nice(19)
    if hasattr(os, "sched_setscheduler"):
        os.sched_setscheduler(0, os.SCHED_IDLE, os.sched_param(0))


if __name__ == "__main__":
    logging.basicConfig(level=logging.INFO, format="%(name)s: %(message)s")
    run(Path(sys.argv[1]))
