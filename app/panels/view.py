"""A panel as one photo shows it: pixels, lens, placement. What is read of it is sampled from here."""

from dataclasses import dataclass, field
from typing import Any

import cv2
import numpy as np
import numpy.typing as npt

from app.panels.camera import Array, Placement
from app.panels.registration import Registered

Samples = npt.NDArray[np.float32]

_SPARE = 0.2
"""By what share of its size a part that is blurred goes beyond what was asked for."""
_ALIKE = 0.06
"""Blurs that differ by no more than this share are taken for one another."""
_REDUCED_FROM = 1.5
"""A part is made smaller first where its blur goes that many pixels for each that is left."""
DARKEST = 0.03
"""Added before the logarithm, so that noise in what is black stays small."""


@dataclass(frozen=True)
class View:
    pixels: npt.NDArray[np.uint8]
    lens: Array
    placement: Placement
    registered: Registered | None = None
    """None of a reference whose own corners place it."""
    _softened: "list[_Softened]" = field(default_factory=list, compare=False, repr=False)
    """The last one: a control is sampled a dozen times, on planes that lie next to each other."""

    def pixels_per_unit(self, point: Array, height: float) -> float:
        seen = self.placement.see(point, height)
        return float(
            np.mean(
                [
                    np.hypot(*(self.placement.see(point + step, height) - seen))
                    for step in (np.array([1.0, 0]), np.array([0, 1.0]))
                ]
            )
        )

    def stray(self, point: Array, reach: float) -> Array:
        return np.zeros(2) if self.registered is None else self.registered.strays(point, reach)

    def log_colour(self, points: Array, height: float, stray: Array, soften_px: float) -> Samples | None:
        """Brightness and two differences of colour, in natural logarithms, at points (…, 2) of the plane at `height`.

        None where more than a tenth of them lie outside of the photo.
        """
        flat = points.reshape(-1, 2)
        raised = np.column_stack([flat, np.ones(len(flat))]) @ self.placement.plane(height).T
        seen = raised[:, :2] / raised[:, 2:] + stray
        high, wide = self.pixels.shape[:2]
        outside = ((seen < 0) | (seen > (wide - 1, high - 1))).any(1)
        if outside.mean() > 0.1:
            return None
        soft = self._soft_around(seen.min(0), seen.max(0), soften_px)
        at = ((seen - soft.corner + 0.5) / soft.reduced - 0.5).astype(np.float32)
        at = at.reshape(*points.shape[:-1], 2)
        taken = cv2.remap(
            soft.pixels, at[..., 0], at[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
        )
        return log_colour_of(taken)

    def _soft_around(self, least: Array, most: Array, soften_px: float) -> "_Softened":
        """A part of the photo, blurred, that holds these pixels."""
        if self._softened and self._softened[-1].serves(least, most, soften_px):
            return self._softened[-1]
        high, wide = self.pixels.shape[:2]
        margin = 3 * soften_px + 3 + _SPARE * float((most - least).max())
        left, top = np.clip(np.floor(least - margin), 0, (wide - 2, high - 2)).astype(int)
        right, bottom = np.clip(np.ceil(most + margin), (left + 2, top + 2), (wide, high)).astype(int)
        crop = self.pixels[top:bottom, left:right]
        reduced = max(1, int(soften_px / _REDUCED_FROM))
        left_over = np.sqrt(max(0.0, soften_px**2 - (reduced**2 - 1) / 12)) / reduced
        if reduced > 1:
            whole = (crop.shape[0] // reduced * reduced, crop.shape[1] // reduced * reduced)
            size = (whole[1] // reduced, whole[0] // reduced)
            crop = np.asarray(
                cv2.resize(crop[: whole[0], : whole[1]], size, interpolation=cv2.INTER_AREA), np.uint8
            )
        pixels = crop.astype(np.float32)
        if left_over > 0.3:
            pixels = np.asarray(cv2.GaussianBlur(pixels, (0, 0), left_over), np.float32)
        pixels = pixels.reshape(*crop.shape[:2], 3)
        kept = 3 * soften_px + 3
        inner = (
            np.where(np.array([left, top]) > 0, np.array([left, top]) + kept, 0),
            np.where(
                np.array([right, bottom]) < (wide, high), np.array([right, bottom]) - kept, (wide, high)
            ),
        )
        self._softened[:] = [_Softened(pixels, np.array([left, top]), reduced, soften_px, *inner)]
        return self._softened[-1]


@dataclass(frozen=True)
class _Softened:
    """Part of a photo, blurred and by `reduced` smaller. It holds whatever lies between least and most."""

    pixels: Samples
    corner: npt.NDArray[np.int_]
    reduced: int
    soften_px: float
    least: Array
    most: Array

    def serves(self, least: Array, most: Array, soften_px: float) -> bool:
        alike = (
            abs(soften_px - self.soften_px) <= _ALIKE * self.soften_px
            or max(soften_px, self.soften_px) <= 0.3
        )
        return bool(alike and (least >= self.least).all() and (most <= self.most).all())


def on_panel(placement: Placement, pixel: tuple[float, float], height: float) -> Array:
    return placement.under(np.array(pixel), height)


def log_colour_of(pixels: npt.NDArray[Any]) -> Samples:
    """Brightness and two differences of colour of red, green and blue up to 255, in natural logarithms."""
    logs = np.log(pixels / 255 + DARKEST)
    return np.stack([logs.mean(-1), logs[..., 0] - logs[..., 1], logs[..., 2] - logs[..., 1]], -1).astype(
        np.float32
    )
