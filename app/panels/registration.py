"""Find a panel in a photo: features of its print, screws and texture, matched and fitted twice.

Knobs are left out, for they turn. The first fit is wide (MAGSAC, 4 px); with it the photo is laid over the panel, matched again near
where each feature must be, and fitted at 3 px.
"""

from dataclasses import dataclass, field
from functools import cached_property

import cv2
import numpy as np
import numpy.typing as npt

from app.panels.camera import Array

SEARCHED_SIDES_PX = (1000, 1400)
"""Of the picture that is searched, in turn: most panels are found in the small one, in a third of the time and memory."""
_FEATURES = 6000
LEAST_INLIERS = 14
LEAST_SPREAD = 0.12
"""Share of the panel within the hull of the inliers."""
LEAST_LIKENESS = 0.45
"""Median correlation of patches: another panel with the same screws and ticks comes to 0.1, a hard photo of the same to 0.7."""
_PATCH_PX = 40
_LEAST_PATCH_DEVIATION = 3.0
_RATIO = 0.85
_NEAR_PX = (28.0, 10.0)
_SAME_PX = 3.0
"""Where the second fit moves the panel's corners by no more, its features are moved and not looked for again."""
_AT_ONCE = 500
"""Rows of a comparison of all with all that are held in memory."""

Grey = npt.NDArray[np.uint8]
Floats = npt.NDArray[np.float32]


@dataclass(frozen=True)
class Features:
    points: Floats
    descriptors: Floats


@dataclass(frozen=True)
class Laid:
    """A reference laid flat on the canvas. mask: 255 where nothing moves."""

    features: Features
    grey: Grey
    mask: Grey

    @cached_property
    def without_light(self) -> Floats:
        return _without_light(self.grey)


@dataclass(frozen=True)
class SearchedPhoto:
    """A photo in which panels are looked for. What is computed of it is kept, for the next panel that is."""

    grey: Grey
    _known: dict[int, tuple[float, Features]] = field(default_factory=dict)

    def sides_px(self) -> tuple[int, ...]:
        """Of the copies that are searched in turn; a photo that is small itself is searched once."""
        longer = max(self.grey.shape)
        return tuple(dict.fromkeys(min(side_px, longer) for side_px in SEARCHED_SIDES_PX))

    def features(self, side_px: int) -> tuple[float, Features]:
        """Of a copy with this longer side, and by what it was made smaller."""
        if side_px not in self._known:
            scale = min(1.0, side_px / max(self.grey.shape))
            small = cv2.resize(self.grey, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
            self._known[side_px] = scale, features_of(np.asarray(small, np.uint8), _FEATURES)
        return self._known[side_px]


@dataclass(frozen=True)
class Registered:
    """to_pixels: from the panel's canvas to the photo. inliers: canvas and photo points that agree with it."""

    to_pixels: Array
    on_canvas: Array
    in_photo: Array

    @property
    def inliers(self) -> int:
        return len(self.on_canvas)

    def strays(self, point: Array, reach: float) -> Array:
        """By how many pixels the photo departs from the fit near a point of the canvas: what the lens bends."""
        seen = cv2.perspectiveTransform(self.on_canvas[None].astype(np.float64), self.to_pixels)[0]
        distance = np.hypot(*(self.on_canvas - point).T)
        weight = np.exp(-0.5 * (distance / reach) ** 2)
        total = float(weight.sum())
        if total < 1:
            return np.zeros(2)
        mean: Array = (weight[:, None] * (self.in_photo - seen)).sum(0) / (total + 1)
        return mean


def grey_of(pixels: npt.NDArray[np.uint8]) -> Grey:
    return np.asarray(cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY), np.uint8)


def features_of(grey: Grey, count: int, mask: Grey | None = None) -> Features:
    """RootSIFT after contrast-limited equalisation (Arandjelović and Zisserman, CVPR 2012)."""
    even = cv2.createCLAHE(clipLimit=3.0, tileGridSize=(8, 8)).apply(grey)
    found, described = cv2.SIFT.create(nfeatures=count, contrastThreshold=0.02).detectAndCompute(even, mask)
    if described is None or len(found) == 0:
        return Features(np.zeros((0, 2), np.float32), np.zeros((0, 128), np.float32))
    described = np.sqrt(described / np.maximum(described.sum(1, keepdims=True), 1e-6))
    return Features(np.array([point.pt for point in found], np.float32), described.astype(np.float32))


def find_panel(
    references: list[Laid],
    size: tuple[int, int],
    photo: SearchedPhoto,
    sides_px: tuple[int, ...] | None = None,
) -> Registered | None:
    """Where the canvas lies in the photo, or None where that cannot be told. `sides_px`: of its copies, if not of all."""
    for side_px in photo.sides_px() if sides_px is None else sides_px:
        scale, seen = photo.features(side_px)
        first = _first_fit([laid.features for laid in references], seen, size)
        if first is None:
            continue
        to_pixels = np.diag([1 / scale, 1 / scale, 1.0]) @ first
        refined = _refined([laid.features for laid in references], size, photo.grey, to_pixels)
        if refined is not None and _looks_like_it(references, size, photo.grey, refined.to_pixels):
            return refined
    return None


def _first_fit(references: list[Features], seen: Features, size: tuple[int, int]) -> Array | None:
    ours, theirs = [], []
    for reference in references:
        for one, other in _ratio_matches(reference, seen):
            ours.append(reference.points[one])
            theirs.append(seen.points[other])
    if len(ours) < 8:
        return None
    fitted, kept = cv2.findHomography(
        np.array(ours), np.array(theirs), cv2.USAC_MAGSAC, 4.0, maxIters=5000, confidence=0.999
    )
    if fitted is None or int(kept.sum()) < 8:
        return None
    found = np.asarray(fitted, np.float64)
    return found if _is_sane(found, size) else None


def _ratio_matches(reference: Features, seen: Features) -> list[tuple[int, int]]:
    if len(reference.points) < 2 or len(seen.points) < 2:
        return []
    found: list[tuple[int, int]] = []
    for start in range(0, len(reference.points), _AT_ONCE):
        likeness = reference.descriptors[start : start + _AT_ONCE] @ seen.descriptors.T
        rows = np.arange(len(likeness))
        best = likeness.argmax(1)
        nearest = likeness[rows, best]
        likeness[rows, best] = -1
        near, next_near = (np.sqrt(np.maximum(2 - 2 * each, 0)) for each in (nearest, likeness.max(1)))
        found += [(start + int(row), int(best[row])) for row in np.flatnonzero(near < _RATIO * next_near)]
    return found


def _refined(
    references: list[Features], size: tuple[int, int], grey: Grey, to_pixels: Array
) -> Registered | None:
    flat = cv2.warpPerspective(grey, np.linalg.inv(to_pixels), size, flags=cv2.INTER_AREA)
    seen = features_of(np.asarray(flat, np.uint8), 3000)
    for near in _NEAR_PX:
        ours, theirs = [], []
        for reference in references:
            if not len(reference.points) or not len(seen.points):
                continue
            best, likeness = _nearest_within(reference, seen, near)
            good = likeness > 0.75
            ours.append(reference.points[good])
            theirs.append(seen.points[best[good]])
        none = [np.zeros((0, 2), np.float32)]
        here, there = (np.concatenate(each or none).astype(np.float64) for each in (ours, theirs))
        if len(here) < LEAST_INLIERS:
            return None
        fitted, kept = cv2.findHomography(here, there, cv2.USAC_MAGSAC, 3.0, maxIters=3000, confidence=0.999)
        if fitted is None:
            return None
        to_pixels = to_pixels @ fitted
        to_pixels = to_pixels / to_pixels[2, 2]
        inside = kept.ravel() > 0
        laid_by = to_pixels @ np.linalg.inv(fitted)
        back = np.linalg.inv(np.asarray(fitted, np.float64))
        outline = np.array([[0, 0], [size[0], 0], size, [0, size[1]]], np.float32)
        if float(np.abs(_moved(outline, back) - outline).max()) > _SAME_PX:
            flat = cv2.warpPerspective(grey, np.linalg.inv(to_pixels), size, flags=cv2.INTER_AREA)
            seen = features_of(np.asarray(flat, np.uint8), 3000)
        else:
            seen = Features(_moved(seen.points, back), seen.descriptors)
    here, there = here[inside].astype(np.float64), there[inside].astype(np.float64)
    spread = (
        cv2.contourArea(cv2.convexHull(here.astype(np.float32))) / (size[0] * size[1]) if len(here) > 2 else 0
    )
    distinct = len(np.unique(here.round(), axis=0))
    if distinct < LEAST_INLIERS or spread < LEAST_SPREAD or not _is_sane(to_pixels, size):
        return None
    in_photo = cv2.perspectiveTransform(there[None], laid_by)[0]
    return Registered(to_pixels, here, np.asarray(in_photo, np.float64))


def _moved(points: Floats, homography: Array) -> Floats:
    return np.asarray(cv2.perspectiveTransform(points[None].astype(np.float64), homography)[0], np.float32)


def _nearest_within(reference: Features, seen: Features, near: float) -> tuple[npt.NDArray[np.intp], Floats]:
    """For each feature of the reference the likest one within `near` pixels, and how alike they are; −1 where there is none."""
    best, likeness = [], []
    for start in range(0, len(reference.points), _AT_ONCE):
        here = np.s_[start : start + _AT_ONCE]
        offset = reference.points[here, None, :] - seen.points[None, :, :]
        alike = np.where((offset**2).sum(-1) < near**2, reference.descriptors[here] @ seen.descriptors.T, -1)
        best.append(alike.argmax(1))
        likeness.append(alike.max(1))
    return np.concatenate(best), np.concatenate(likeness).astype(np.float32)


def _looks_like_it(references: list[Laid], size: tuple[int, int], grey: Grey, to_pixels: Array) -> bool:
    """Whether the photo, laid flat, is like a reference patch by patch, and more so than when it is turned over.

    Screws and ticks alone fit many panels, and a mirrored photo of a panel that is laid out evenly.
    """
    flat = np.asarray(
        cv2.warpPerspective(grey, np.linalg.inv(to_pixels), size, flags=cv2.INTER_AREA), np.uint8
    )
    even = _without_light(flat)
    for laid in references:
        likeness = _patch_likeness(laid, even)
        turned = [_patch_likeness(laid, other) for other in (even[:, ::-1], even[::-1], even[::-1, ::-1])]
        if len(likeness) and np.median(likeness) >= LEAST_LIKENESS:
            return all(float(likeness.mean()) > float(other.mean()) for other in turned)
    return False


def _patch_likeness(laid: Laid, seen: Floats) -> Floats:
    kept = laid.without_light
    found = []
    for top in range(0, kept.shape[0] - _PATCH_PX + 1, _PATCH_PX):
        for left in range(0, kept.shape[1] - _PATCH_PX + 1, _PATCH_PX):
            here = np.s_[top : top + _PATCH_PX, left : left + _PATCH_PX]
            one, other = kept[here], seen[here]
            if (laid.mask[here] > 0).mean() < 0.7 or one.std() < _LEAST_PATCH_DEVIATION:
                continue
            one, other = one - one.mean(), other - other.mean()
            found.append(float((one * other).sum() / (np.sqrt((one**2).sum() * (other**2).sum()) + 1e-6)))
    return np.array(found, np.float32)


def _without_light(grey: npt.NDArray[np.uint8]) -> Floats:
    soft = cv2.GaussianBlur(grey.astype(np.float32), (0, 0), 2)
    return np.asarray(soft - cv2.GaussianBlur(soft, (0, 0), 12), np.float32)


def _is_sane(homography: Array, size: tuple[int, int]) -> bool:
    """The panel's outline stays a quadrangle that is not folded, mirrored or a sliver."""
    width, height = size
    corners = np.array([[[0, 0], [width, 0], [width, height], [0, height]]], np.float64)
    depth = homography[2] @ np.column_stack([corners[0], np.ones(4)]).T
    if (depth * np.sign(depth[0]) <= 0).any():
        return False
    seen = cv2.perspectiveTransform(corners, homography)[0].astype(np.float32)
    if not cv2.isContourConvex(seen) or _area(seen) <= 0:
        return False
    sides = np.hypot(*(np.roll(seen, -1, 0) - seen).T)
    opposite = max(sides[0] / sides[2], sides[2] / sides[0], sides[1] / sides[3], sides[3] / sides[1])
    shape = (sides[0] + sides[2]) / (sides[1] + sides[3]) / (width / height)
    return bool(sides.min() > 30 and opposite < 2.2 and 0.45 < shape < 2.2)


def _area(points: Floats) -> float:
    """Twice the signed area: above nought where the corners go clockwise as seen, so not mirrored."""
    x, y = points.T.astype(np.float64)
    return float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum())
