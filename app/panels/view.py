"""A panel as one photo shows it: pixels, lens, placement. What is read of it is sampled from here."""

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from app.panels.camera import Array, Placement
from app.panels.registration import Registered

Samples = npt.NDArray[np.float32]

DARKEST = 0.03
"""Added before the logarithm, so that noise in what is black stays small."""


@dataclass(frozen=True)
class View:
    pixels: npt.NDArray[np.uint8]
    lens: Array
    placement: Placement
    registered: Registered | None = None
    """None of a reference whose own corners place it."""

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
        margin = 3 * soften_px + 3
        left, top = np.clip(np.floor(seen.min(0) - margin), 0, (wide - 2, high - 2)).astype(int)
        right, bottom = np.clip(np.ceil(seen.max(0) + margin), (left + 2, top + 2), (wide, high)).astype(int)
        crop = self.pixels[top:bottom, left:right].astype(np.float32)
        if soften_px > 0.3:
            crop = np.asarray(cv2.GaussianBlur(crop, (0, 0), soften_px), np.float32).reshape(crop.shape)
        at = (seen - (left, top)).astype(np.float32).reshape(*points.shape[:-1], 2)
        taken = cv2.remap(crop, at[..., 0], at[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        logs = np.log(taken / 255 + DARKEST)
        return np.stack([logs.mean(-1), logs[..., 0] - logs[..., 1], logs[..., 2] - logs[..., 1]], -1).astype(
            np.float32
        )


def on_panel(placement: Placement, pixel: tuple[float, float], height: float) -> Array:
    return placement.under(np.array(pixel), height)
