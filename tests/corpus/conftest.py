"""The corpus is made and measured once for a test run, whichever worker needs it first."""

import json
from pathlib import Path

import numpy as np
import pytest
from filelock import FileLock

from app.signal.figures import PrintFigures, print_figures_from_json, to_json
from app.signal.measure import measure_print
from tests.corpus.cases import Made, all_cases, make, source_tracks
from tests.corpus.sources import Audio


@pytest.fixture(scope="session")
def folder(tmp_path_factory: pytest.TempPathFactory, worker_id: str) -> Path:
    """One folder for all workers of this run."""
    base = tmp_path_factory.getbasetemp()
    shared = (base if worker_id == "master" else base.parent) / "corpus"
    shared.mkdir(exist_ok=True)
    return shared


@pytest.fixture(scope="session")
def tracks(folder: Path) -> dict[str, Audio]:
    kept = folder / "tracks.npz"
    with FileLock(folder / "tracks.lock"):
        if not kept.exists():
            np.savez(kept, **source_tracks(folder))
    with np.load(kept) as document:
        return {name: document[name] for name in document.files}


@pytest.fixture(scope="session")
def prints(tracks: dict[str, Audio], folder: Path) -> list[Made]:
    with FileLock(folder / "prints.lock"):
        return [make(case, index, tracks, folder) for index, case in enumerate(all_cases())]


@pytest.fixture(scope="session")
def figures(prints: list[Made], folder: Path) -> list[PrintFigures]:
    kept = folder / "figures.json"
    with FileLock(folder / "figures.lock"):
        if not kept.exists():
            found = [measure_print(made.print_path, made.source_path) for made in prints]
            kept.write_text(json.dumps([to_json(one) for one in found], allow_nan=False))
    return [print_figures_from_json(document) for document in json.loads(kept.read_text())]
