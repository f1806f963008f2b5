"""What was prepared of a panel is read back as it was, and made anew where it cannot be."""

import os
from pathlib import Path

import numpy as np

from app.panels import kept_panels
from app.panels.reference import MarkedControl, PanelReference, ReferencePhoto
from app.panels.registration import Features, Laid


def reference(folder: Path) -> PanelReference:
    path = folder / "photo.jpg"
    if not path.exists():
        path.write_bytes(b"pixels")
    control = MarkedControl("gain", "knob", "line", (2, 2), (3, 2), None, 0.0, (-150, 150))
    return PanelReference((ReferencePhoto(path, ((0, 0), (9, 0), (9, 9), (0, 9)), (control,)),))


def laid() -> Laid:
    chance = np.random.default_rng(7)
    features = Features(
        chance.uniform(0, 900, (40, 2)).astype(np.float32), chance.uniform(0, 1, (40, 128)).astype(np.float32)
    )
    return Laid(features, np.full((60, 80), 90, np.uint8), np.full((60, 80), 255, np.uint8))


def test_it_comes_back_as_it_was(tmp_path: Path) -> None:
    path = kept_panels.place_of(reference(tmp_path), tmp_path)
    assert kept_panels.load(path, 1) is None
    kept_panels.store(path, [np.eye(3)], [laid()], ["It was dim."])
    found = kept_panels.load(path, 1)
    assert found is not None
    placed, (back,), reasons = found
    assert np.array_equal(placed[0], np.eye(3))
    assert np.array_equal(back.features.points, laid().features.points)
    assert np.allclose(back.features.descriptors, laid().features.descriptors, atol=1e-3)
    assert reasons == ["It was dim."]
    assert list(tmp_path.glob("*.part")) == []


def test_it_is_kept_by_the_photo_and_the_marks(tmp_path: Path) -> None:
    before = kept_panels.place_of(reference(tmp_path), tmp_path)
    assert kept_panels.place_of(reference(tmp_path), tmp_path) == before
    os.utime(tmp_path / "photo.jpg", ns=(1, 1))
    assert kept_panels.place_of(reference(tmp_path), tmp_path) != before


def test_what_is_damaged_or_cannot_be_written_counts_for_nothing(tmp_path: Path) -> None:
    path = kept_panels.place_of(reference(tmp_path), tmp_path)
    kept_panels.store(path, [np.eye(3)], [laid()], [])
    assert kept_panels.load(path, 2) is None, "of fewer photos"
    path.write_bytes(path.read_bytes()[:2000])
    assert kept_panels.load(path, 1) is None
    kept_panels.store(tmp_path / "no such folder" / "panel.npz", [np.eye(3)], [laid()], [])
