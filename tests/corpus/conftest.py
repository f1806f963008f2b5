"""The corpus, and what the measuring room finds on it, measured once for the code that measures it: see kept_between_runs."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from app.config import ROOT
from app.signal.figures import PrintFigures, print_figures_from_json, to_json
from app.signal.measure import measure_print
from tests.corpus.cases import Made, all_cases, make
from tests.corpus.made import MADE_BY, corpus_folder, tracks_in
from tests.corpus.sources import Audio
from tests.kept_between_runs import kept_document

MEASURED_BY = (ROOT / "app/signal",)
Once = Callable[[str, str, Callable[[], Any]], Any]


@pytest.fixture(scope="session")
def folder() -> Path:
    return corpus_folder()


@pytest.fixture
def write_outcomes(request: pytest.FixtureRequest) -> bool:
    return bool(request.config.getoption("--write-outcomes"))


@pytest.fixture(scope="session")
def tracks(folder: Path) -> dict[str, Audio]:
    return tracks_in(folder)


@pytest.fixture(scope="session")
def prints(tracks: dict[str, Audio], folder: Path) -> list[Made]:
    return [make(case, index, tracks, folder) for index, case in enumerate(all_cases())]


@pytest.fixture(scope="session")
def once() -> Once:
    """What the measuring room finds on the corpus, computed once for the code of both and of the test that asks."""

    def found(name: str, asked_by: str, compute: Callable[[], Any]) -> Any:
        code = (*MADE_BY, *MEASURED_BY, Path(asked_by))
        return kept_document(f"corpus, {name}", code, compute)

    return found


@pytest.fixture(scope="session")
def figures(prints: list[Made], once: Once) -> list[PrintFigures]:
    def measured() -> list[dict[str, Any]]:
        return [to_json(measure_print(made.print_path, made.source_path)) for made in prints]

    return [print_figures_from_json(document) for document in once("measured", __file__, measured)]
