"""Sets of labelled photos: two references of each panel as a person would mark them, and photos to be read."""

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from tests.panels.rendered.invented import DEVELOPED_ON, ON_TOP, TRAVEL, UNSEEN, Manner, Panel, invent
from tests.panels.rendered.photographed import Photo, View, hard, ordinary, photograph, set_by_chance

TAPPED_OFF = 0.012
"""How far off a control is tapped, as a share of its radius, with a magnifier under the finger."""
MARKS = {"chicken": "arrow"}


@dataclass(frozen=True)
class Set:
    first: int
    panels: int
    manner: Manner


DEVELOPMENT = Set(0, 24, DEVELOPED_ON)
CALIBRATION = Set(1_000, 40, DEVELOPED_ON)
UNSEEN_SET = Set(50_000, 40, UNSEEN)


@dataclass(frozen=True)
class LabelledPanel:
    panel: Panel
    description: Path
    references: tuple[Photo, Photo]


def write_panel(
    number: int, manner: Manner, folder: Path, size: tuple[int, int] = (2000, 1500)
) -> LabelledPanel:
    """The panel's two references and its PANEL.json in a folder of its own."""
    panel = invent(number, manner)
    chance = np.random.default_rng(3_000_000 + number)
    folder.mkdir(parents=True, exist_ok=True)
    photos, described = [], []
    way = float(chance.uniform(0, 2 * np.pi))
    for at, tilt in enumerate((chance.uniform(0, 7), chance.uniform(17, 23))):
        base = ordinary(chance, number * 100 + 90 + at)
        view = View(
            **{
                **base.__dict__,
                "yaw": float(tilt * np.cos(way)),
                "pitch": float(tilt * np.sin(way)),
                "fills": float(chance.uniform(0.85, 0.95)),
                "aside": (0.0, 0.0),
            }
        )
        stands = set_by_chance(chance, panel)
        if at == 1:  # the other state of what has two
            for body in panel.bodies:
                if body.kind in ("switch", "slide", "lamp"):
                    stands[body.key] = 1 - described[0]["stands"][body.key]
        photo = photograph(panel, stands, view, size)
        name = f"reference_{at}.jpg"
        write_jpeg(folder / name, photo)
        photos.append(photo)
        described.append({"stands": stands, "photo": as_marked(panel, photo, name, chance)})
    path = folder / "panel.json"
    path.write_text(json.dumps({"photos": [each["photo"] for each in described]}))
    return LabelledPanel(panel, path, (photos[0], photos[1]))


def as_marked(panel: Panel, photo: Photo, name: str, chance: np.random.Generator) -> dict[str, Any]:
    controls = []
    for body in panel.bodies:
        truth = photo.truths[body.key]
        off = TAPPED_OFF * truth.radius_px

        def tapped(point: tuple[float, float], off: float = off) -> list[float]:
            return [point[0] + float(chance.normal(0, off)), point[1] + float(chance.normal(0, off))]

        control: dict[str, Any] = {"key": body.key, "kind": body.kind, "stands_at": truth.stands_at}
        control |= {"ends": [tapped(end) for end in truth.ends]} if body.kind == "fader" else {}
        control |= (
            {"centre": tapped(truth.centre), "edge": tapped(truth.edge)} if body.kind != "fader" else {}
        )
        if body.kind == "knob":
            control |= {"mark": MARKS.get(body.make, body.make), "travel_degrees": list(TRAVEL)}
        controls.append(control)
    wide = 0.0012 * photo.picture.shape[1]
    corners = [
        [x + float(chance.normal(0, wide)), y + float(chance.normal(0, wide))] for x, y in photo.corners
    ]
    return {"path": name, "corners": corners, "controls": controls}


def take(panel: Panel, number: int, kind: str, size: tuple[int, int] = (2000, 1500)) -> Photo:
    """Photo `number` of a panel, ordinary or hard, everything set anew."""
    chance = np.random.default_rng(5_000_000 + panel.number * 100 + number)
    view: Callable[[np.random.Generator, int], View] = {"ordinary": ordinary, "hard": hard}[kind]
    return photograph(panel, set_by_chance(chance, panel), view(chance, panel.number * 100 + number), size)


def write_jpeg(path: Path, photo: Photo) -> None:
    """As a phone writes it: with an Exif block that tells the focal length (JEITA CP-3451, tag 0xA405)."""
    stored = cv2.imencode(".jpg", photo.picture, [cv2.IMWRITE_JPEG_QUALITY, 92])[1].tobytes()
    focal = round(photo.view.focal_35mm).to_bytes(2, "big")
    tiff = b"MM\0*\0\0\0\x08" + b"\0\x01\x87\x69\0\x04\0\0\0\x01\0\0\0\x1a" + b"\0\0\0\0"
    tiff += b"\0\x01\xa4\x05\0\x03\0\0\0\x01" + focal + b"\0\0" + b"\0\0\0\0"
    block = b"Exif\0\0" + tiff
    path.write_bytes(stored[:2] + b"\xff\xe1" + (len(block) + 2).to_bytes(2, "big") + block + stored[2:])


def is_on_top(panel: Panel, key: str) -> bool:
    return next(body.make for body in panel.bodies if body.key == key) in ON_TOP
