"""What is known of a panel before it is read: photos of it, its corners, its controls and where they stood.

Pixels are those of the photo as stored, whatever way up its file asks to be shown. Degrees count clockwise from twelve
o'clock, and the corners, clockwise from the panel's own top left, say where twelve o'clock is.
"""

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

KINDS = ("knob", "switch", "slide", "fader", "lamp")
MARKS = ("line", "dot", "arrow", "metal", "knurled", "notch", "skirt", "side")
USUAL_TRAVEL_DEGREES = (-150.0, 150.0)

Point = tuple[float, float]


class UnusableReference(ValueError):
    """The description of a panel cannot be used; the message is a sentence for the person who wrote it."""


@dataclass(frozen=True)
class MarkedControl:
    """One control as it was marked in one photo.

    centre, edge: a knob's top, where it turns and where it ends; of a switch, slide or lamp the middle and the far edge of what changes.
    ends: of a fader, its cap's place at 0 and at 1.
    stands_at: degrees of a knob, 0 to 1 of a fader, a state's number of the others.
    """

    key: str
    kind: str
    mark: str
    centre: Point
    edge: Point
    ends: tuple[Point, Point] | None
    stands_at: float
    travel_degrees: tuple[float, float]


@dataclass(frozen=True)
class ReferencePhoto:
    """focal_35mm: where it is known from elsewhere than from the file, as of a copy without its Exif block."""

    path: Path
    corners: tuple[Point, Point, Point, Point]
    controls: tuple[MarkedControl, ...]
    focal_35mm: float | None = None


@dataclass(frozen=True)
class LearntState:
    """A state of a switch, slide or lamp that was met in a photo and confirmed: its crop from straight above, as `read.py` makes it."""

    key: str
    stands_at: float
    path: Path


@dataclass(frozen=True)
class PanelReference:
    photos: tuple[ReferencePhoto, ...]
    states: tuple[LearntState, ...] = ()


def load_reference(path: Path) -> PanelReference:
    """Read a panel's description. Raises UnusableReference with a sentence, OSError where there is no such file."""
    try:
        document = json.loads(path.read_text(encoding="utf-8"))
    except ValueError as error:
        raise UnusableReference(f"{path.name} is not JSON that can be read ({error}).") from error
    return reference_of(document, path.parent)


def reference_of(document: Any, folder: Path) -> PanelReference:
    """The same from a document that was read already; paths in it are relative to `folder`."""
    photos = document.get("photos") if isinstance(document, dict) else None
    if not isinstance(photos, list) or not photos:
        raise UnusableReference(
            "The panel's description has no photos: it is {“photos”: [{“path”, “corners”, “controls”}]}."
        )
    read = tuple(_photo(photo, f"photo {number}", folder) for number, photo in enumerate(photos, 1))
    kinds: dict[str, str] = {}
    for control in (control for photo in read for control in photo.controls):
        if kinds.setdefault(control.key, control.kind) != control.kind:
            raise UnusableReference(
                f"{control.key} is a {kinds[control.key]} in one photo and a {control.kind} in another."
            )
    return PanelReference(read, tuple(_state(given, kinds, folder) for given in document.get("states", ())))


def _state(given: Any, kinds: dict[str, str], folder: Path) -> LearntState:
    if not isinstance(given, dict) or not isinstance(given.get("path"), str):
        raise UnusableReference("A state that was learnt has no path of its picture.")
    key = str(given.get("key"))
    if kinds.get(key) not in ("switch", "slide", "lamp"):
        raise UnusableReference(
            f"{key} is no switch, slide or lamp that is marked: no state of it can be learnt."
        )
    return LearntState(key, _number(given.get("stands_at"), f"a state of {key}"), folder / given["path"])


def _photo(given: Any, where: str, folder: Path) -> ReferencePhoto:
    if not isinstance(given, dict) or not isinstance(given.get("path"), str):
        raise UnusableReference(f"In {where} the path of its picture is missing.")
    corners = given.get("corners")
    if not isinstance(corners, list) or len(corners) != 4:
        raise UnusableReference(f"In {where} the panel needs four corners, clockwise from its top left.")
    points = tuple(_point(corner, f"a corner in {where}") for corner in corners)
    if not _turns_clockwise(points):
        raise UnusableReference(
            f"In {where} the corners do not go clockwise round the panel. Begin at its top left."
        )
    controls = given.get("controls")
    if not isinstance(controls, list) or not controls:
        raise UnusableReference(f"In {where} no control is marked.")
    read = tuple(_control(control, where) for control in controls)
    if len({control.key for control in read}) < len(read):
        raise UnusableReference(f"In {where} two controls have the same key.")
    focal = given.get("focal_35mm")
    told = None if focal is None else _number(focal, f"the focal length in {where}")
    return ReferencePhoto(folder / given["path"], points, read, told)  # type: ignore[arg-type]


def _control(given: Any, where: str) -> MarkedControl:
    key = given.get("key") if isinstance(given, dict) else None
    if not isinstance(key, str) or not key:
        raise UnusableReference(f"In {where} a control has no key.")
    what = f"{key} in {where}"
    kind, mark = given.get("kind"), given.get("mark") or "line"
    if kind not in KINDS:
        raise UnusableReference(f"{what} is of no kind that can be read. Kinds are {', '.join(KINDS)}.")
    if mark not in MARKS:
        raise UnusableReference(f"{what} has no mark that is known. Marks are {', '.join(MARKS)}.")
    ends = None
    if kind == "fader":
        both = given.get("ends")
        if not isinstance(both, list) or len(both) != 2:
            raise UnusableReference(f"{what} needs its two ends, where it stands at 0 and at 1.")
        ends = (_point(both[0], what), _point(both[1], what))
        stands = _number(given.get("stands_at"), what)
        if not 0 <= stands <= 1:
            raise UnusableReference(f"{what} stands at {stands:g}; a fader stands at 0 to 1.")
        centre = _between(ends, stands)
        edge = _point(given["edge"], what) if "edge" in given else ends[1]
    else:
        centre, edge = _point(given.get("centre"), what), _point(given.get("edge"), what)
        stands = _number(given.get("stands_at"), what)
    if centre == edge:
        raise UnusableReference(f"{what} has its edge at its centre.")
    return MarkedControl(
        key, kind, mark, centre, edge, ends, stands, _travel(given.get("travel_degrees"), what)
    )


def _between(ends: tuple[Point, Point], share: float) -> Point:
    (x0, y0), (x1, y1) = ends
    return x0 + share * (x1 - x0), y0 + share * (y1 - y0)


def _travel(given: Any, what: str) -> tuple[float, float]:
    if given is None:
        return USUAL_TRAVEL_DEGREES
    if not isinstance(given, list) or len(given) != 2:
        raise UnusableReference(f"{what} needs its travel as two angles, from and to.")
    begin, end = (_number(angle, what) for angle in given)
    if not 0 < end - begin <= 360:
        raise UnusableReference(
            f"{what} turns from {begin:g}° to {end:g}°: give the travel clockwise, at most a whole turn."
        )
    return begin, end


def _point(given: Any, what: str) -> Point:
    if not isinstance(given, list | tuple) or len(given) != 2:
        raise UnusableReference(f"{what} has a place that is not [x, y].")
    return _number(given[0], what), _number(given[1], what)


def _number(given: Any, what: str) -> float:
    if isinstance(given, bool) or not isinstance(given, int | float) or not abs(given) < 1e6:
        raise UnusableReference(f"{what} has {given!r} where a number belongs.")
    return float(given)


def _turns_clockwise(points: tuple[Point, ...]) -> bool:
    """Each corner turns to the right (y counts downwards), so the four do not cross either."""
    turns = []
    for at in range(4):
        (x0, y0), (x1, y1), (x2, y2) = (points[(at + step) % 4] for step in range(3))
        turns.append((x1 - x0) * (y2 - y1) - (y1 - y0) * (x2 - x1))
    return all(turn > 0 for turn in turns)
