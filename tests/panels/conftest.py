"""One invented panel with its references, and photos of it and of another: rendered once for the code that renders them."""

import pickle
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
import pytest

from app.config import ROOT
from tests.kept_between_runs import kept
from tests.panels.rendered.invented import DEVELOPED_ON, invent
from tests.panels.rendered.photographed import Photo
from tests.panels.rendered.sets import LabelledPanel, take, write_jpeg, write_panel

SIZE = (1000, 750)
PANEL, ANOTHER = 2_001, 2_002


@dataclass(frozen=True)
class Pictures:
    folder: Path
    labelled: LabelledPanel
    ordinary: Photo
    hard: Photo


@pytest.fixture(scope="session")
def pictures() -> Pictures:
    """The folder is read and never written."""
    rendered_by = (ROOT / "tests" / "panels" / "rendered", Path(__file__))
    folder = kept("panel", rendered_by, _render)
    labelled, ordinary, hard = pickle.loads((folder / "truth").read_bytes())
    here = LabelledPanel(labelled.panel, folder / labelled.description.name, labelled.references)
    return Pictures(folder, here, ordinary, hard)


def _render(folder: Path) -> None:
    cv2.setNumThreads(1)
    labelled = write_panel(PANEL, DEVELOPED_ON, folder, SIZE)
    ordinary, hard = (
        take(labelled.panel, number, kind, SIZE) for number, kind in ((1, "ordinary"), (2, "hard"))
    )
    write_jpeg(folder / "ordinary.jpg", ordinary)
    write_jpeg(folder / "hard.jpg", hard)
    write_jpeg(folder / "foreign.jpg", take(invent(ANOTHER, DEVELOPED_ON), 1, "ordinary", SIZE))
    cv2.imwrite(str(folder / "mirrored.jpg"), np.ascontiguousarray(ordinary.picture[:, ::-1]))
    cv2.imwrite(str(folder / "black.jpg"), np.zeros((800, 1000, 3), np.uint8))
    cv2.imwrite(str(folder / "blurred.jpg"), cv2.GaussianBlur(ordinary.picture, (0, 0), 30))
    cv2.imwrite(str(folder / "cropped.jpg"), ordinary.picture[: SIZE[1] // 2, : SIZE[0] // 3])
    (folder / "truth").write_bytes(pickle.dumps((labelled, ordinary, hard)))
