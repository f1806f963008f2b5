"""Read a photo of a panel: find the panel, then each of its controls; what cannot be told is said, with its reason."""

import logging
import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

import cv2
import numpy as np
import numpy.typing as npt

from app.panels import kept_panels
from app.panels.camera import Array, aspect_of, canvas_size, from_corners, lens_of, place
from app.panels.confidence import LEAST_RADIUS_PX, SURE, chance_of, chance_of_state, is_sure, sigma_of
from app.panels.knob_angle import KnobReading, MarkedKnob, read_knob
from app.panels.picture import Picture, open_picture
from app.panels.reference import MarkedControl, PanelReference, ReferencePhoto
from app.panels.registration import (
    Grey,
    Laid,
    Registered,
    SearchedPhoto,
    features_of,
    find_panel,
    grey_of,
)
from app.panels.states import KEPT_REACH, read_fader, read_state
from app.panels.view import View, on_panel

log = logging.getLogger(__name__)

State = Literal["read", "look", "unseen"]

NOT_IN_IT = "The panel was not recognised in this photo: another one, or too little of it in sight."
MASKED_RADII = 1.45
CROP_PX = 96


@dataclass(frozen=True)
class ControlReading:
    key: str
    state: State
    degrees: float | None = None
    sigma_degrees: float | None = None
    position: float | None = None
    confidence: float = 0.0
    crop: npt.NDArray[np.uint8] | None = None
    """From straight above, 96 px a side, red, green, blue; None where it was not in the photo."""
    knob: KnobReading | None = None


@dataclass(frozen=True)
class PanelReading:
    panel_found: bool
    inliers: int
    controls: tuple[ControlReading, ...]
    reasons: tuple[str, ...] = field(default=())


@dataclass(frozen=True)
class PreparedPanel:
    """A panel's references, opened and laid over one canvas."""

    size: tuple[int, int]
    views: tuple[View, ...]
    laid: tuple[Laid, ...]
    marked: dict[str, list[tuple[View, MarkedControl]]]
    reasons: tuple[str, ...]
    learnt: dict[str, list[tuple[float, npt.NDArray[np.uint8]]]] = field(default_factory=dict)


def prepare(reference: PanelReference, folder: Path | None = None) -> PreparedPanel:
    """In `folder` is kept what was computed. Raises UnreadablePhoto or OSError when a reference's own picture cannot be read."""
    cv2.setNumThreads(1)
    pictures = [open_picture(photo.path, photo.focal_35mm) for photo in reference.photos]
    first = np.array(reference.photos[0].corners) * pictures[0].scale
    size = canvas_size(aspect_of(first, _lens(pictures[0])))
    kept_at = None if folder is None else kept_panels.place_of(reference, folder)
    kept = None if kept_at is None else kept_panels.load(kept_at, len(pictures))
    placed, laid, reasons = kept or _laid(reference, pictures, size)
    if kept is None and kept_at is not None:
        kept_panels.store(kept_at, placed, laid, reasons)
    views: list[View] = []
    marked: dict[str, list[tuple[View, MarkedControl]]] = {}
    for photo, picture, to_pixels in zip(reference.photos, pictures, placed, strict=True):
        view = View(picture.pixels, _lens(picture), place(to_pixels, _lens(picture)))
        for control in photo.controls:
            marked.setdefault(control.key, []).append((view, _scaled(control, picture.scale)))
        views.append(view)
    learnt: dict[str, list[tuple[float, npt.NDArray[np.uint8]]]] = {}
    for state in reference.states:
        crop = cv2.imread(str(state.path), cv2.IMREAD_COLOR)
        if crop is None:
            reasons.append(f"The picture by which a state of {state.key} was learnt cannot be read.")
        else:
            learnt.setdefault(state.key, []).append((state.stands_at, np.asarray(crop[..., ::-1], np.uint8)))
    return PreparedPanel(size, tuple(views), tuple(laid), marked, tuple(reasons), learnt)


def _laid(
    reference: PanelReference, pictures: Sequence[Picture], size: tuple[int, int]
) -> tuple[list[Array], list[Laid], list[str]]:
    """Where the canvas lies in each reference, each laid flat, and what there is to say of them."""
    placed: list[Array] = []
    laid: list[Laid] = []
    reasons: list[str] = []
    for number, (photo, picture) in enumerate(zip(reference.photos, pictures, strict=True), 1):
        to_pixels = from_corners(np.array(photo.corners) * picture.scale, size)
        grey = grey_of(picture.pixels)
        if laid:
            found = find_panel(laid, size, SearchedPhoto(grey))
            if found is not None:
                to_pixels = found.to_pixels
            else:
                reasons.append(
                    f"Reference photo {number} was not recognised as the same panel by its print; only its corners place it."
                )
        view = View(picture.pixels, _lens(picture), place(to_pixels, _lens(picture)))
        placed.append(to_pixels)
        laid.append(_laid_flat(view, photo, picture.scale, grey, size))
    return placed, laid, reasons


def read_photo(panel: PreparedPanel, picture: Picture) -> PanelReading:
    cv2.setNumThreads(1)
    photo = SearchedPhoto(grey_of(picture.pixels))
    found = find_panel(list(panel.laid), panel.size, photo)
    return not_found(panel, photo) if found is None else read_found(panel, picture, found)


def not_found(panel: PreparedPanel, photo: SearchedPhoto, why: str = "") -> PanelReading:
    """`why` where it is known already."""
    unseen = tuple(ControlReading(key, "unseen") for key in panel.marked)
    return PanelReading(False, 0, unseen, (*panel.reasons, why or _why_not(panel, photo.grey)))


def read_found(panel: PreparedPanel, picture: Picture, found: Registered) -> PanelReading:
    lens = _lens(picture)
    view = View(picture.pixels, lens, place(found.to_pixels, lens), found)
    reasons = list(panel.reasons)
    if not picture.focal_is_told:
        reasons.append(
            "The photo does not tell its focal length (it was edited or sent by a messenger): readings are less sure."
        )
    controls = []
    for key, marked in panel.marked.items():
        try:
            learnt = panel.learnt.get(key, [])
            controls.append(_read_control(key, marked, learnt, view, found.inliers, reasons))
        except (cv2.error, np.linalg.LinAlgError, ValueError, FloatingPointError):
            log.exception("%s was not read.", key)
            reasons.append(f"{key} could not be read in this photo; the others were.")
            controls.append(ControlReading(key, "unseen"))
    return PanelReading(True, found.inliers, tuple(controls), tuple(reasons))


def _read_control(
    key: str,
    marked: list[tuple[View, MarkedControl]],
    learnt: list[tuple[float, npt.NDArray[np.uint8]]],
    view: View,
    inliers: int,
    reasons: list[str],
) -> ControlReading:
    control = marked[0][1]
    if control.kind == "knob":
        return _read_knob(key, [MarkedKnob(*each) for each in marked], view, inliers, reasons)
    reading = read_fader(marked, view) if control.kind == "fader" else read_state(marked, view, learnt)
    if reading is None:
        reasons.append(f"{key} is outside of the photo.")
        return ControlReading(key, "unseen")
    chance = chance_of_state(control.kind, reading)
    if control.kind != "fader" and reading.states_known < 2:
        reasons.append(
            f"{key} is known in one state only: a second reference with the other state, or a confirmed reading of it, lets it be read."
        )
    # The bat of a toggle leans out of the panel and looks different from every side.
    sure = chance >= SURE and control.kind != "switch"
    crop = _crop_of(view, control, marked[0][0], 0.0)
    return ControlReading(
        key, "read" if sure else "look", position=reading.position, confidence=chance, crop=crop
    )


def _read_knob(
    key: str, marked: list[MarkedKnob], view: View, inliers: int, reasons: list[str]
) -> ControlReading:
    reading = read_knob(marked, view)
    if reading is None:
        reasons.append(f"{key} is outside of the photo.")
        return ControlReading(key, "unseen")
    mark = marked[0].control.mark
    chance = chance_of(reading, inliers)
    if reading.radius_px < LEAST_RADIUS_PX:
        reasons.append(f"{key} is {reading.radius_px:.0f} pixels in radius: move closer.")
    state: State = "read" if is_sure(reading, mark, chance) else "look"
    crop = _square(view, reading.centre, reading.radius * 1.25, reading.height)
    return ControlReading(key, state, reading.degrees, sigma_of(reading), None, chance, crop, reading)


def _crop_of(view: View, control: MarkedControl, own: View, height: float) -> npt.NDArray[np.uint8]:
    centre = on_panel(own.placement, control.centre, height)
    edge = on_panel(own.placement, control.edge, height)
    return _square(view, centre, float(np.hypot(*(edge - centre))) * KEPT_REACH, height)


def _square(view: View, centre: Array, reach: float, height: float) -> npt.NDArray[np.uint8]:
    unit = 2 * reach / CROP_PX
    lay = view.placement.plane(height) @ np.array(
        [[unit, 0, centre[0] - reach], [0, unit, centre[1] - reach], [0, 0, 1.0]]
    )
    moved = (
        np.array([[1, 0, view.stray(centre, 120.0)[0]], [0, 1, view.stray(centre, 120.0)[1]], [0, 0, 1.0]])
        @ lay
    )
    flags = cv2.INTER_AREA | cv2.WARP_INVERSE_MAP
    return np.asarray(cv2.warpPerspective(view.pixels, moved, (CROP_PX, CROP_PX), flags=flags), np.uint8)


def _laid_flat(view: View, photo: ReferencePhoto, scale: float, grey: Grey, size: tuple[int, int]) -> Laid:
    """Of the panel laid flat, everywhere but on what moves."""
    flat = cv2.warpPerspective(grey, np.linalg.inv(view.placement.to_pixels), size, flags=cv2.INTER_AREA)
    mask = np.full((size[1], size[0]), 255, np.uint8)
    for control in (_scaled(control, scale) for control in photo.controls):
        centre, edge = (on_panel(view.placement, place, 0.0) for place in (control.centre, control.edge))
        reach = float(np.hypot(*(edge - centre)))
        if control.ends is not None:
            ends = [on_panel(view.placement, end, 0.0) for end in control.ends]
            wide = round(0.3 * float(np.hypot(*(ends[1] - ends[0]))))
            cv2.line(mask, _whole(ends[0]), _whole(ends[1]), 0, max(1, wide))
        else:
            cv2.circle(mask, _whole(centre), max(1, round(MASKED_RADII * reach)), 0, -1)
    kept = np.asarray(flat, np.uint8)
    return Laid(features_of(kept, 4000, mask), kept, mask)


def _whole(point: Array) -> Sequence[int]:
    return round(float(point[0])), round(float(point[1]))


def _why_not(panel: PreparedPanel, grey: Grey) -> str:
    """What is wrong with a photo in which the panel was not found."""
    if float(np.percentile(grey, 95)) < 25:
        return "The photo is nearly black. Put a light beside the panel."
    mirrored = SearchedPhoto(np.ascontiguousarray(grey[:, ::-1]))
    if find_panel(list(panel.laid), panel.size, mirrored, mirrored.sides_px()[:1]) is not None:
        return "The photo is mirrored, as front cameras make them. Take it with the camera at the back."
    small = cv2.resize(
        grey, (600, max(1, round(600 * grey.shape[0] / grey.shape[1]))), interpolation=cv2.INTER_AREA
    )
    if float(cv2.Laplacian(small, cv2.CV_32F).std()) < 4:
        return "The photo is blurred. Hold the phone still, or lean it on something."
    return NOT_IN_IT


def _lens(picture: Picture) -> Array:
    return lens_of(picture.focal_px, picture.pixels.shape[1], picture.pixels.shape[0])


def _scaled(control: MarkedControl, scale: float) -> MarkedControl:
    def at(point: tuple[float, float]) -> tuple[float, float]:
        return point[0] * scale, point[1] * scale

    ends = None if control.ends is None else (at(control.ends[0]), at(control.ends[1]))
    return MarkedControl(
        control.key,
        control.kind,
        control.mark,
        at(control.centre),
        at(control.edge),
        ends,
        control.stands_at,
        control.travel_degrees,
    )


def document_of(reading: PanelReading) -> dict[str, object]:
    """The answer of `dialback read-photo --json`."""

    def rounded(value: float | None, digits: int) -> float | None:
        return None if value is None or not math.isfinite(value) else round(value, digits)

    return {
        "panel_found": reading.panel_found,
        "inliers": reading.inliers,
        "controls": [
            {
                "key": control.key,
                "state": control.state,
                "degrees": rounded(control.degrees, 1),
                "sigma_degrees": rounded(control.sigma_degrees, 1),
                "position": rounded(control.position, 3),
                "confidence": round(control.confidence, 4),
            }
            for control in reading.controls
        ],
        "reasons": list(reading.reasons),
    }
