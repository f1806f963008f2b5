"""The corpus is made once for a test run and measured once."""

from pathlib import Path

import pytest

from app.signal.figures import PrintFigures
from app.signal.measure import measure_print
from tests.corpus.cases import Made, all_cases, make, source_tracks
from tests.corpus.sources import Audio


@pytest.fixture(scope="session")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("corpus")


@pytest.fixture(scope="session")
def tracks(folder: Path) -> dict[str, Audio]:
    return source_tracks(folder)


@pytest.fixture(scope="session")
def prints(tracks: dict[str, Audio], folder: Path) -> list[Made]:
    return [make(case, index, tracks, folder) for index, case in enumerate(all_cases())]


@pytest.fixture(scope="session")
def figures(prints: list[Made]) -> list[PrintFigures]:
    return [measure_print(made.print_path, made.source_path) for made in prints]
