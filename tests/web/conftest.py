"""Pages that are rendered once and looked at many times."""

import shutil
from pathlib import Path

import httpx2
import pytest
from page_client import client_of
from pages_of_the_app import pages_of
from small_session import SmallSession

from app.library import Library


@pytest.fixture(scope="session")
def shown(
    filled_folder: tuple[Path, SmallSession], tmp_path_factory: pytest.TempPathFactory
) -> dict[str, httpx2.Response]:
    """The answer of every page of a library with one of everything, by address. The ids in them hold for every copy of it."""
    folder, session = filled_folder
    library = Library(shutil.copytree(folder, tmp_path_factory.mktemp("shown") / "library"))
    client = client_of(library)
    answers = {path: client.get(path) for path in pages_of(session)}
    client.close()
    library.close()
    return answers
