import gc
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

import hypothesis
import level_session
import machine
import pytest
from kept_between_runs import kept
from level_session import LevelSession
from page_client import client_of
from small_session import SmallSession, fill
from starlette.testclient import TestClient
from xdist.scheduler import LoadScopeScheduling

from app.config import ROOT
from app.library import Library

# Servers and measuring processes are started by the dozen here: only the first of them shall compile the app.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

# How long an example takes is the machine's business, not the product's.
hypothesis.settings.register_profile(
    "any machine", deadline=None, suppress_health_check=[hypothesis.HealthCheck.too_slow]
)
hypothesis.settings.load_profile("any machine")


MADE_ONCE = (
    (
        "browser/test_every_page_in_both_lights.py",
        "browser/test_recall_walk.py",
    ),
)
"""Files whose tests need the same dear thing, the served invented session: one worker makes it for all of them."""
INVENTED_BY = (
    *(
        ROOT / "app" / room
        for room in (
            "config.py",
            "database_file.py",
            "library.py",
            "demo",
            "desk",
            "drawings",
            "records",
            "signal",
            "trade",
        )
    ),
    ROOT / "migrations",
)
FILL = """
import sys
from pathlib import Path
from app.demo.session import fill
from app.library import Library
fill(Library.open(Path(sys.argv[1])))
print([name for name in ("numpy", "scipy", "soundfile", "PIL") if name in sys.modules])
"""
MEASURE = """
import sys
from pathlib import Path
from app.desk.processes.measuring import work_through
from app.library import Library
work_through(Library(Path(sys.argv[1])))
"""


class InTheirPlaces(LoadScopeScheduling):  # type: ignore[misc]
    """The tests of a file, or of files that share what is dear to make, go to one worker."""

    def _split_scope(self, nodeid: str) -> str:
        file = nodeid.partition("::")[0]
        together = next((files for files in MADE_ONCE if file.endswith(files)), None)
        return file if together is None else together[0]


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--write-outcomes", action="store_true", help="freeze the outcomes on the corpus anew")


def pytest_configure(config: pytest.Config) -> None:
    """Before any worker starts."""
    if not hasattr(config, "workerinput"):
        machine.keep_libraries_in_memory()
        machine.prepare(whole_run=config.args_source is not pytest.Config.ArgsSource.ARGS)


LONG_BY_THEMSELVES = (
    "tests/test_the_wheel.py",
    "tests/web/test_accidents.py",
    "tests/web/test_every_page.py",
    "tests/web/test_hostile_forms.py",
    "tests/web/test_queries_of_pages.py",
)
"""Files that would be begun last, and keep one worker busy when the others have nothing left to do."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    items.sort(key=lambda item: not item.path.as_posix().endswith(LONG_BY_THEMSELVES))


def pytest_collection_finish() -> None:
    """What is loaded by now stays, so it is not looked through for garbage again and again; and garbage is looked for less
    often than a program must that has no end."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(20_000, 20, 20)


def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> InTheirPlaces:
    return InTheirPlaces(config, log)


@pytest.fixture(scope="session")
def invented_folder() -> tuple[Path, str]:
    """A library folder with the invented session, to be copied; and which numerics the filling process had loaded."""

    def make(folder: Path) -> None:
        (folder / "loaded").write_text(_in_a_process(FILL, folder / "library"))

    made = kept("invented", INVENTED_BY, make, day=_today())
    return made / "library", (made / "loaded").read_text()


@pytest.fixture(scope="session")
def measured_folder(invented_folder: tuple[Path, str]) -> Path:
    """The same once everything in it is measured."""

    def make(folder: Path) -> None:
        shutil.copytree(invented_folder[0], folder / "library")
        _in_a_process(MEASURE, folder / "library")

    return kept("invented, measured", INVENTED_BY, make, day=_today()) / "library"


def _today() -> str:
    return datetime.now().date().isoformat()


def _in_a_process(code: str, library: Path) -> str:
    command = [sys.executable, "-c", code, str(library)]
    return subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True).stdout.strip()


@pytest.fixture(scope="session")
def empty_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A library folder as a first start makes it, to be copied."""
    folder = tmp_path_factory.mktemp("empty") / "library"
    Library.open(folder).close()
    return folder


@pytest.fixture(scope="session")
def filled_folder(empty_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, SmallSession]:
    """A library folder with one of everything in it, to be copied."""
    folder = tmp_path_factory.mktemp("filled") / "library"
    shutil.copytree(empty_folder, folder)
    library = Library(folder)
    session = fill(library)
    library.close()
    return folder, session


@pytest.fixture(scope="session")
def levels_folder(empty_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, LevelSession]:
    """A library folder with one pass whose levels can all be known, to be copied."""
    folder = tmp_path_factory.mktemp("levels") / "library"
    shutil.copytree(empty_folder, folder)
    library = Library(folder)
    session = level_session.fill(library)
    library.close()
    return folder, session


@pytest.fixture
def logged(library: Library, levels_folder: tuple[Path, LevelSession]) -> LevelSession:
    """The pass of `level_session`, put into `library`."""
    library.close()
    shutil.copytree(levels_folder[0], library.folder, dirs_exist_ok=True)
    return levels_folder[1]


@pytest.fixture
def library(empty_folder: Path, tmp_path: Path) -> Iterator[Library]:
    """An empty library on the disk."""
    yield from _copied(empty_folder, tmp_path)


@pytest.fixture
def filled(filled_folder: tuple[Path, SmallSession], tmp_path: Path) -> Iterator[Library]:
    """A library with one of everything; `session` has the ids."""
    yield from _copied(filled_folder[0], tmp_path)


@pytest.fixture
def session(filled_folder: tuple[Path, SmallSession]) -> SmallSession:
    return filled_folder[1]


@pytest.fixture
def client(library: Library) -> Iterator[TestClient]:
    """A browser on the empty library. Nothing is measured: the app's lifespan is not entered."""
    with_library = client_of(library)
    yield with_library
    with_library.close()


@pytest.fixture
def filled_client(filled: Library) -> Iterator[TestClient]:
    with_library = client_of(filled)
    yield with_library
    with_library.close()


def _copied(folder: Path, tmp_path: Path) -> Iterator[Library]:
    copy = tmp_path / "library"
    shutil.copytree(folder, copy)
    opened = Library(copy)
    yield opened
    opened.close()
