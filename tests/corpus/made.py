"""The corpus as it is kept between runs, made once for the code that makes it: see kept_between_runs."""

from pathlib import Path

import numpy as np

from app.config import ROOT
from tests.corpus.cases import all_cases, make, source_tracks
from tests.corpus.sources import SOUNDFONT, Audio
from tests.kept_between_runs import kept

MADE_BY = (*(ROOT / "tests/corpus" / name for name in ("cases.py", "gear.py", "sources.py")), SOUNDFONT)


def corpus_folder() -> Path:
    """Read, never written."""
    return kept("corpus", MADE_BY, _make)


def tracks_in(folder: Path) -> dict[str, Audio]:
    with np.load(folder / "tracks.npz") as document:
        return {name: document[name] for name in document.files}


def _make(folder: Path) -> None:
    tracks = source_tracks(folder)
    np.savez(folder / "tracks.npz", **tracks)  # type: ignore[arg-type]
    for index, case in enumerate(all_cases()):
        make(case, index, tracks, folder)
