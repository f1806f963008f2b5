"""How well photos of panels are read, on rendered ones whose truth is known.

    python -m tests.bench.panels FOLDER --set development|calibration|unseen [--panels N] [--photos N]
    python -m tests.bench.panels FOLDER --weigh

The first renders a set into FOLDER (what is there already stays), reads it and prints tables: by kind of knob and difficulty, and
the share that was right against the confidence that was stated. The second fits the weights of `app/panels/confidence.py` on
what was read of the development and calibration sets. The unseen set has other fonts, textures and proportions, and its numbers
are to be looked at once a version is done, not while it is made.
"""

import argparse
import os
import pickle
import resource
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import cv2
import numpy as np
from numpy.typing import NDArray

from app.panels.confidence import BY_HAND, evidence_of
from app.panels.knob_angle import KnobReading
from app.panels.picture import open_picture
from app.panels.read import prepare, read_photo
from app.panels.reference import load_reference
from tests.panels.rendered.invented import ON_TOP
from tests.panels.rendered.photographed import Photo
from tests.panels.rendered.sets import (
    CALIBRATION,
    DEVELOPMENT,
    UNSEEN_SET,
    Set,
    take,
    write_jpeg,
    write_panel,
)

SETS = {"development": DEVELOPMENT, "calibration": CALIBRATION, "unseen": UNSEEN_SET}
WRONG_DEGREES = 10.0
WRONG_SHARE = 1 / 30


@dataclass(frozen=True)
class Row:
    """One control in one photo: what it is, what was said of it, and by how much that is off (degrees, or share or state)."""

    panel: int
    photo: int
    difficulty: str
    key: str
    kind: str
    make: str
    covered: float
    inliers: int
    found: bool
    state: str
    off: float | None
    confidence: float
    knob: KnobReading | None

    @property
    def is_wrong(self) -> bool:
        limit = WRONG_DEGREES if self.kind == "knob" else WRONG_SHARE if self.kind == "fader" else 0.5
        return self.off is not None and self.off > limit


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("folder", type=Path)
    parser.add_argument("--set", choices=SETS, default="development")
    parser.add_argument("--panels", type=int)
    parser.add_argument("--photos", type=int, default=8, help="of each panel, ordinary and hard in turn")
    parser.add_argument("--weigh", action="store_true")
    told = parser.parse_args()
    cv2.setNumThreads(1)
    if told.weigh:
        weigh([row for name in ("development", "calibration") for row in _kept(told.folder / f"{name}.rows")])
        return
    chosen = SETS[told.set]
    numbers = range(chosen.first, chosen.first + (told.panels or chosen.panels))
    rows: list[Row] = []
    spent: list[float] = []
    foreign = 0
    for number in numbers:
        folder = _rendered(told.folder, chosen, number, told.photos)
        panel = prepare(load_reference(folder / "panel.json"))
        for at in range(told.photos):
            began = time.process_time()
            reading = read_photo(panel, open_picture(folder / f"{at}.jpg"))
            spent.append(time.process_time() - began)
            rows += _rows(number, at, folder, reading.inliers, reading.panel_found, reading.controls)
        if number > chosen.first:
            before = _rendered(told.folder, chosen, number - 1, told.photos)
            foreign += read_photo(panel, open_picture(before / "0.jpg")).panel_found
        (told.folder / f"{told.set}.rows").write_bytes(pickle.dumps(rows))
        print(f"\r{number - chosen.first + 1} of {len(numbers)} panels", end="", file=sys.stderr, flush=True)
    print(file=sys.stderr)
    tabulate(rows)
    print(f"\nphotos of another panel: {len(numbers) - 1}, taken for this one: {foreign}")
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(
        f"processor time a photo: median {np.median(spent):.2f} s, most {max(spent):.2f} s; memory at most {peak:.0f} MB"
    )


def _rendered(folder: Path, chosen: Set, number: int, photos: int) -> Path:
    own = folder / str(number)
    if (own / "truth").exists():
        return own
    labelled = write_panel(number, chosen.manner, own)
    taken: list[tuple[str, Photo]] = []
    for at in range(photos):
        difficulty = "hard" if at % 2 else "ordinary"
        photo = take(labelled.panel, at, difficulty)
        write_jpeg(own / f"{at}.jpg", photo)
        taken.append((difficulty, photo))
    makes = {body.key: (body.kind, body.make) for body in labelled.panel.bodies}
    (own / "truth").write_bytes(
        pickle.dumps((makes, [(difficulty, photo.truths) for difficulty, photo in taken]))
    )
    return own


def _rows(number: int, at: int, folder: Path, inliers: int, found: bool, controls: object) -> Iterator[Row]:
    makes, taken = pickle.loads((folder / "truth").read_bytes())
    difficulty, truths = taken[at]
    for control in controls:  # type: ignore[attr-defined]
        kind, make = makes[control.key]
        truth = truths[control.key]
        off = None
        if control.degrees is not None:
            off = abs((control.degrees - truth.stands_at + 180) % 360 - 180)
        elif control.position is not None:
            off = abs(control.position - truth.stands_at)
        yield Row(
            panel=number,
            photo=at,
            difficulty=difficulty,
            key=control.key,
            kind=kind,
            make=make,
            covered=truth.covered,
            inliers=inliers,
            found=found,
            state=control.state,
            off=off,
            confidence=control.confidence,
            knob=control.knob,
        )


def tabulate(rows: list[Row]) -> None:
    photos = {(row.panel, row.photo): row for row in rows}
    for difficulty in ("ordinary", "hard"):
        of_these = [row for row in photos.values() if row.difficulty == difficulty]
        found = sum(row.found for row in of_these)
        print(
            f"{difficulty}: {len(of_these)} photos, panel found in {found} ({found / max(len(of_these), 1):.1%})"
        )
    print(
        f"\n{'made like':<12}{'photos':<10}{'controls':>8}{'read':>8}{'<3°':>7}{'<5°':>7}{'sure, wrong':>13}"
    )
    groups = [("mark on top", ON_TOP), *((make, (make,)) for make in (*ON_TOP, "notch", "skirt", "side"))]
    for name, makes in groups:
        for difficulty in ("ordinary", "hard"):
            _line(
                name, difficulty, [row for row in rows if row.make in makes and row.difficulty == difficulty]
            )
    for kind in ("switch", "slide", "lamp", "fader"):
        for difficulty in ("ordinary", "hard"):
            _line(
                kind, difficulty, [row for row in rows if row.kind == kind and row.difficulty == difficulty]
            )
    print("\nstated confidence, knobs with the mark on top: share that was within 10°")
    edges = (0, 0.5, 0.8, 0.9, 0.95, 0.98, 0.99, 1.01)
    for low, high in pairwise(edges):
        within = [
            row for row in rows if row.make in ON_TOP and row.off is not None and low <= row.confidence < high
        ]
        if within:
            right = sum(not row.is_wrong for row in within)
            print(f"  {low:.2f} to {min(high, 1):.2f}: {right / len(within):6.1%} of {len(within)}")


def _line(name: str, difficulty: str, rows: list[Row]) -> None:
    if not rows:
        return
    read = [row for row in rows if row.state == "read"]
    wrong = sum(row.is_wrong for row in read)
    near = [sum((row.off or 0) < limit for row in read) / max(len(read), 1) for limit in (3, 5)]
    angles = f"{near[0]:>7.1%}{near[1]:>7.1%}" if rows[0].kind == "knob" else " " * 14
    print(
        f"{name:<12}{difficulty:<10}{len(rows):>8}{len(read) / len(rows):>8.1%}{angles}{wrong:>6} ({wrong / len(rows):.2%})"
    )


def weigh(rows: list[Row]) -> None:
    """Logistic regression with a light pull towards nought, on knobs that may be read at all."""
    knobs = [row for row in rows if row.knob is not None and row.make not in BY_HAND]
    evidence = [evidence_of(row.knob, row.inliers) for row in knobs if row.knob is not None]
    names = list(evidence[0])
    given = np.array([[1.0, *(each[name] for name in names)] for each in evidence])
    right = np.array([not row.is_wrong for row in knobs], np.float64)
    weights = _fitted(given, right)
    print(f"{len(knobs)} knobs, {int(len(right) - right.sum())} of them more than 10° off")
    print(f"_OFFSET = {weights[0]:.2f}")
    print("_WEIGHTS = {")
    for name, weight in zip(names, weights[1:], strict=True):
        print(f'    "{name}": {weight:.2f},')
    print("}")


def _fitted(given: NDArray[np.float64], right: NDArray[np.float64]) -> NDArray[np.float64]:
    weights = np.zeros(given.shape[1])
    pull = np.diag([1e-3, *([2.0] * (given.shape[1] - 1))])
    for _ in range(50):
        chance = 1 / (1 + np.exp(-given @ weights))
        slope = given.T @ (chance - right) + pull @ weights
        bend = (given * (chance * (1 - chance))[:, None]).T @ given + pull
        weights = weights - np.linalg.solve(bend, slope)
    return weights


def _kept(path: Path) -> list[Row]:
    rows: list[Row] = pickle.loads(path.read_bytes()) if path.exists() else []
    return rows


if __name__ == "__main__":
    main()
