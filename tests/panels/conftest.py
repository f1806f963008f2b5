"""One invented panel with its references, and photos of it and of another: rendered once for the code that renders them."""

import json
import pickle
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
import pytest

from app.config import ROOT
from app.panels.picture import open_picture
from app.panels.read import PanelReading, prepare, read_photo
from app.panels.reference import load_reference, reference_of
from tests.kept_between_runs import kept
from tests.panels.rendered.invented import DEVELOPED_ON, invent
from tests.panels.rendered.photographed import Photo
from tests.panels.rendered.sets import LabelledPanel, take, write_jpeg, write_panel

SIZE = (1000, 750)
PANEL, ANOTHER = 2_001, 2_002


RENDERED_BY = (ROOT / "tests" / "panels" / "rendered", Path(__file__))
READ_BY = (ROOT / "app" / "panels", ROOT / "app" / "desk" / "processes" / "reading_panels.py", *RENDERED_BY)
READ = ("ordinary", "hard", "foreign", "mirrored", "black", "blurred", "cropped", "screenshot")
ALONE = "ordinary, against one reference"


@dataclass(frozen=True)
class Pictures:
    folder: Path
    labelled: LabelledPanel
    ordinary: Photo
    hard: Photo


@pytest.fixture(scope="session")
def pictures() -> Pictures:
    """The folder is read and never written."""
    folder = kept("panel", RENDERED_BY, _render)
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
    cv2.imwrite(str(folder / "screenshot.png"), _shown_on_a_phone(ordinary.picture))
    (folder / "truth").write_bytes(pickle.dumps((labelled, ordinary, hard)))


def _shown_on_a_phone(picture: np.ndarray) -> np.ndarray:
    """A photo as a phone's screen shows it: scaled, between black bars, letters above and beneath."""
    screen = np.zeros((2400, 1080, 3), np.uint8)
    height, width = picture.shape[:2]
    shown = cv2.resize(picture, (1080, round(1080 * height / width)), interpolation=cv2.INTER_AREA)
    top = (screen.shape[0] - shown.shape[0]) // 2
    screen[top : top + shown.shape[0]] = shown
    for at, words in ((90, "21:14"), (220, "the panel"), (2250, "share   edit   delete")):
        cv2.putText(screen, words, (60, at), cv2.FONT_HERSHEY_SIMPLEX, 2.0, (255, 255, 255), 4)
    return screen


@pytest.fixture(scope="session")
def readings(pictures: Pictures) -> dict[str, PanelReading]:
    """What is read of each picture, and of the ordinary one against a single reference; read once for the code that reads."""

    def read(folder: Path) -> None:
        panel = prepare(load_reference(pictures.labelled.description))
        found = {name: read_photo(panel, open_picture(_picture_of(pictures.folder, name))) for name in READ}
        document = json.loads(pictures.labelled.description.read_text())
        alone = reference_of({"photos": document["photos"][:1]}, pictures.folder)
        found[ALONE] = read_photo(prepare(alone), open_picture(pictures.folder / "ordinary.jpg"))
        (folder / "readings").write_bytes(pickle.dumps(found))

    kept_there: dict[str, PanelReading] = pickle.loads(
        (kept("panel, read", READ_BY, read) / "readings").read_bytes()
    )
    return kept_there


def _picture_of(folder: Path, name: str) -> Path:
    return next(
        folder / f"{name}{ending}" for ending in (".jpg", ".png") if (folder / f"{name}{ending}").exists()
    )
