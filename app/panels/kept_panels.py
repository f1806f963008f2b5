"""What was prepared of a panel's references, kept on the disk: computing it takes a second for each of them."""

import hashlib
import json
import os
import zipfile
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np

from app.panels.camera import Array
from app.panels.reference import PanelReference
from app.panels.registration import Features, Laid

VERSION = 1
"""Raised when features or marks are made otherwise."""
Kept = tuple[list[Array], list[Laid], list[str]]


def place_of(reference: PanelReference, folder: Path) -> Path:
    """Where it is kept: told by the photos, as they are now, and all that is marked in them."""
    said: list[Any] = [VERSION]
    for photo in reference.photos:
        found = photo.path.stat()
        said.append([asdict(photo), found.st_size, found.st_mtime_ns])
    digest = hashlib.sha256(json.dumps(said, sort_keys=True, default=str).encode()).hexdigest()
    return folder / f"panel-{digest}.npz"


def store(path: Path, placed: list[Array], laid: list[Laid], reasons: list[str]) -> None:
    """A disk that is full keeps nothing, and nothing fails for it."""
    arrays: dict[str, Any] = {"reasons": np.array(reasons, dtype=np.str_)}
    for at, (to_pixels, each) in enumerate(zip(placed, laid, strict=True)):
        arrays |= {
            f"to_pixels_{at}": to_pixels,
            f"points_{at}": each.features.points,
            f"descriptors_{at}": each.features.descriptors.astype(np.float16),
            f"grey_{at}": each.grey,
            f"mask_{at}": each.mask,
        }
    part = path.with_suffix(f".{os.getpid()}.part")
    try:
        with part.open("wb") as file:
            np.savez(file, **arrays)
        part.replace(path)
    except OSError:
        part.unlink(missing_ok=True)


def load(path: Path, photos: int) -> Kept | None:
    """None where nothing is kept, or what is kept is damaged."""
    try:
        with path.open("rb") as file, np.load(file, allow_pickle=False) as kept:
            placed = [np.asarray(kept[f"to_pixels_{at}"], np.float64) for at in range(photos)]
            laid = [
                Laid(
                    Features(
                        np.asarray(kept[f"points_{at}"], np.float32),
                        np.asarray(kept[f"descriptors_{at}"], np.float32),
                    ),
                    np.asarray(kept[f"grey_{at}"], np.uint8),
                    np.asarray(kept[f"mask_{at}"], np.uint8),
                )
                for at in range(photos)
            ]
            return placed, laid, [str(reason) for reason in kept["reasons"]]
    except (OSError, ValueError, KeyError, EOFError, zipfile.BadZipFile):
        return None
