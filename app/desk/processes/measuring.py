"""The measuring process: `python -m app.desk.processes.measuring FOLDER`. It measures, makes auditions,
and answers examinations.

It runs at the lowest priority and in one thread, so that a DAW on the same machine is never starved: it takes what
time is left over, on whichever core is idle.
"""

import contextlib
import logging
import os
import signal
import sys
import threading
from collections.abc import Callable
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

from app.desk import child_processes
from app.desk.arrivals import moving
from app.desk.files.file_names import with_file_names
from app.desk.files.stored_files import MISSING, FileAway, path_of
from app.desk.listening import auditions
from app.desk.listening.measured_together import folder_of
from app.desk.measuring import examinations, measurements
from app.library import Library, Readable
from app.library_errors import LibraryAway, LibraryDamaged
from app.records import Audition, Examination, Measurement, StoredFile
from app.signal.figures import print_figures_from_json

ONE_CORE = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")
LONGEST_WORK_S = 2 * 3600.0
"""Three hours of sound take some two minutes on an idle core; a computer in a session may leave a fiftieth of one. What takes
longer than this is stuck: the process ends, is started again, and after a few tries leaves that work alone."""
UNREADABLE = "The library's folder could not be read or written ({}). Make room on its disk, or look whether it is there."
OUR_FAULT = "Dialback failed at this file, which is a fault of its own; its log says more."
log = logging.getLogger("dialback.measuring")


def run(folder: Path, finished: Callable[[str], None], damaged: Callable[[str], None]) -> None:
    """Until the library can be written to no more; the server's end ends it at any time."""
    library = Library(folder)
    try:
        _run(library, finished)
    except LibraryDamaged as error:
        log.error("%s", error)
        damaged(library.damage)
    except LibraryAway as error:
        log.error("%s", error)


def _run(library: Library, finished: Callable[[str], None]) -> None:
    measurements.resume(library)
    auditions.resume(library)
    examinations.resume(library)
    woken = threading.Event()
    child_processes.end_with_parent(
        woken.set
    )  # an orphan must not go on beside the process of the next server
    while True:
        woken.clear()
        work_through(library, finished)
        woken.wait()


def work_through(library: Library, finished: Callable[[str], None] = lambda noun: None) -> None:
    """All that waits, in turn, so that no kind of work waits for all of another."""
    taking = {"measurement": _measure_next, "audition": _build_next, "examination": _examine_next}
    is_more = True
    while is_more:
        is_more = False
        for noun, take_next in taking.items():
            with child_processes.no_longer_than(LONGEST_WORK_S):
                was_there = take_next(library)
            if was_there:
                is_more = True
                finished(noun)


def _measure_next(library: Library) -> bool:
    waiting = measurements.claim(library)
    if waiting is not None:
        measure(library, waiting)
    return waiting is not None


def _build_next(library: Library) -> bool:
    waiting = auditions.claim(library)
    if waiting is not None:
        build(library, waiting)
        auditions.throw_away_old(library)
    return waiting is not None


def _examine_next(library: Library) -> bool:
    waiting = examinations.claim(library)
    if waiting is not None:
        examine(library, waiting)
    return waiting is not None


def measure(library: Library, waiting: Measurement) -> None:
    """Carry out one claimed measurement."""
    figures, reason = _tried(library, f"Measurement {waiting.id}", lambda: _measured(library, waiting))
    measurements.finish(library, waiting.id, figures, reason)
    if figures is not None and waiting.source_file_id is not None:
        measured = print_figures_from_json(figures)
        moving.place_by_sound(library, waiting.file_id, waiting.source_file_id, measured.alignment)


def build(library: Library, waiting: Audition) -> None:
    """Make one claimed audition."""
    figures, reason = _tried(library, f"Audition {waiting.key}", lambda: _built(library, waiting))
    auditions.finish(library, waiting, figures, reason)


def examine(library: Library, waiting: Examination) -> None:
    """Answer one claimed examination."""
    answer, reason = _tried(
        library, f"Examination {waiting.id}", lambda: EXAMINING[waiting.kind](library, waiting)
    )
    examinations.finish(library, waiting.id, answer, reason)


def _tried(
    library: Readable, name: str, work: Callable[[], dict[str, Any]]
) -> tuple[dict[str, Any] | None, str]:
    """What came of some work, or the sentence that says why nothing did."""
    from app.signal.audio.reading import UnreadableAudio

    try:
        return work(), ""
    except (UnreadableAudio, FileAway) as error:
        return None, with_file_names(library, str(error))
    except FileNotFoundError:
        return None, MISSING
    except OSError as error:
        log.exception("%s failed.", name)
        return None, UNREADABLE.format(error.strerror)
    except Exception:
        log.exception("%s failed.", name)
        return None, OUR_FAULT


def _measured(library: Library, waiting: Measurement) -> dict[str, Any]:
    from app.signal.figures import to_json
    from app.signal.measure import measure_print

    path = _path(library, waiting.file_id)
    source = None if waiting.source_file_id is None else _path(library, waiting.source_file_id)
    return to_json(measure_print(path, source, features_folder=library.features))


def _built(library: Library, waiting: Audition) -> dict[str, Any]:
    from app.signal.listening.audition import build_audition, build_together
    from app.signal.listening.figures import Moved

    folder = folder_of(library, waiting.key)
    if waiting.kind == "together":
        build_together(auditions.members_of(library, waiting), folder)
        return {}
    wanted = dict(waiting.wanted)
    path = path_of(library, wanted.pop("sha256"))
    moved = tuple(Moved(**one) for one in wanted.pop("moved", ()))
    return asdict(build_audition(path, folder, moved=moved, **wanted))


def _identified(library: Library, waiting: Examination) -> dict[str, Any]:
    """The sources are named by their files' ids."""
    from app.signal.alignment.identify import identify
    from app.signal.figures import to_json

    names = {str(_path(library, file_id)): str(file_id) for file_id in waiting.wanted["source_file_ids"]}
    found = identify(
        _path(library, waiting.file_id), [Path(path) for path in names], features_folder=library.features
    )
    ranking = tuple(replace(ranked, source=names[ranked.source]) for ranked in found.ranking)
    best = None if found.best is None else names[found.best]
    return to_json(replace(found, best=best, ranking=ranking))


def _matched(library: Library, waiting: Examination) -> dict[str, Any]:
    from app.signal.comparison.match import match
    from app.signal.figures import to_json

    assert waiting.other_file_id is not None
    assert waiting.source_file_id is not None
    recalled, original, source = (
        _path(library, file_id)
        for file_id in (waiting.file_id, waiting.other_file_id, waiting.source_file_id)
    )
    return to_json(match(original, recalled, source, features_folder=library.features))


def _reference(library: Library, waiting: Examination) -> dict[str, Any]:
    from app.signal.reference.figures import reference_to_json
    from app.signal.reference.measure import measure_reference
    from app.signal.reference.plan import plan_from_json

    plan = plan_from_json(waiting.wanted)
    return reference_to_json(measure_reference(_path(library, waiting.file_id), plan))


EXAMINING: dict[str, Callable[[Library, Examination], dict[str, Any]]] = {
    "identify": _identified,
    "match": _matched,
    "reference": _reference,
}
"""How each kind of examination is answered, as the document of its answer."""


def _path(library: Readable, file_id: int) -> Path:
    with library.reading() as session:
        row = session.get_one(StoredFile, file_id)  # work goes with its file
        return path_of(library, row.sha256)


def _stand_back() -> None:
    for name in ONE_CORE:
        os.environ[name] = "1"
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is the server's; this process ends with it
    child_processes.stand_back()


def _tellers() -> tuple[Callable[[str], None], Callable[[str], None]]:
    out = child_processes.Out(child_processes.own_output())

    def say(**message: str) -> None:
        with contextlib.suppress(OSError):  # the server has just ended: the loop above sees so
            out.say(**message)

    return lambda noun: say(finished=noun), lambda damage: say(damage=damage)


if __name__ == "__main__":
    logging.basicConfig(level=logging.INFO, format="%(name)s: %(message)s")
    _stand_back()
    run(Path(sys.argv[1]), *_tellers())
