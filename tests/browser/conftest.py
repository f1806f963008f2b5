"""A real Chromium on a running Dialback. Every page a test opens is watched: see watched_browser."""

import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from already_logged import InventedApp, LoggedSession, log_a_hostile_session, log_a_session
from local_chromium import NoChromium, launch
from made_audio import Sounds, make_sounds
from playwright.sync_api import Browser, Page, expect, sync_playwright
from running_app import RunningApp, running, wait_until_measured
from small_session import watch
from watched_browser import DESK_PX, PATIENCE_MS, PHONE_PX, Visit, Window, Windows

from app.library import Library


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    expect.set_options(timeout=PATIENCE_MS)
    with sync_playwright() as playwright:
        try:
            browser = launch(playwright)
        except NoChromium as missing:
            pytest.fail(str(missing), pytrace=False)
        yield browser
        browser.close()


@pytest.fixture(scope="session")
def windows(chromium: Browser) -> Iterator[Windows]:
    made = Windows(chromium)
    yield made
    made.close()


@pytest.fixture
def visit(windows: Windows) -> Iterator[Visit]:
    """Opens a page of an app as in a browser of its own; at the end, nothing may have gone wrong in any of them."""
    taken: list[Window] = []

    def open_page(
        app: RunningApp,
        *,
        width: int = DESK_PX,
        javascript: bool = True,
        touch: bool = False,
        expected: set[int | str] | None = None,
    ) -> Page:
        window = windows.take(app, width=width, javascript=javascript, touch=touch)
        window.watch.expected = expected or set()
        taken.append(window)
        return window.page

    yield open_page
    problems = [problem for window in taken for problem in windows.give_back(window)]
    assert not problems, "\n".join(problems)


@pytest.fixture(scope="session")
def app_with_a_session(
    sounds: Sounds, empty_folder: Path, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[tuple[RunningApp, LoggedSession]]:
    folder = tmp_path_factory.mktemp("shared")
    library = Library(shutil.copytree(empty_folder, folder / "library"))
    made = log_a_session(library, sounds)
    library.close()
    with running(folder / "library", folder / "log.txt") as started:
        yield started, made


@pytest.fixture(scope="session")
def app(app_with_a_session: tuple[RunningApp, LoggedSession]) -> RunningApp:
    """A running app for tests that bring what they need; several share its library."""
    return app_with_a_session[0]


@pytest.fixture
def logged(app_with_a_session: tuple[RunningApp, LoggedSession]) -> LoggedSession:
    """A source with one pass of three pieces of gear. What a test before this one left in a draft is gone with it, and so is
    what its page sent while it was closed: a draft's number is never used again."""
    app, made = app_with_a_session
    with closing(sqlite3.connect(app.library / "dialback.db")) as database, database:
        database.execute("PRAGMA foreign_keys = ON")
        database.execute("DELETE FROM draft")
    return made


@pytest.fixture
def empty_app(tmp_path: Path) -> Iterator[RunningApp]:
    """A running app on an empty library of this test alone."""
    with running(tmp_path / "library", tmp_path / "log.txt") as started:
        yield started


@pytest.fixture(scope="session")
def sounds(tmp_path_factory: pytest.TempPathFactory) -> Sounds:
    return make_sounds(tmp_path_factory.mktemp("sounds"))


@pytest.fixture(params=[DESK_PX, PHONE_PX], ids=["at 1280 px", "at 375 px"])
def width(request: pytest.FixtureRequest) -> int:
    chosen: int = request.param
    return chosen


@pytest.fixture(scope="session")
def invented(
    sounds: Sounds, measured_folder: Path, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[InventedApp]:
    folder = tmp_path_factory.mktemp("shown")
    library = Library.open(shutil.copytree(measured_folder, folder / "library"))
    watch(library, 1)
    hostile = log_a_hostile_session(library, sounds)
    library.close()
    with running(folder / "library", folder / "log.txt") as started:
        wait_until_measured(started)
        yield InventedApp(started, hostile)
