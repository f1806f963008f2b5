"""Where the camera stood, and so where a plane above the panel is seen.

A point (x, y) of the panel is seen at H (x, y, 1). With the lens K, H is K [r₁ r₂ t] up to a factor; the third direction r₃ =
r₁ × r₂ then tells where the same point is seen when it stands out by h: (H − h·K r₃ e₃ᵀ)(x, y, 1)
(Hartley and Zisserman, Multiple View Geometry, 2nd edition, section 8.1). Lengths on the panel are the canvas's pixels: its longer side is CANVAS_PX.
"""

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

CANVAS_PX = 1000

Array = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Placement:
    """A panel as one camera sees it. to_pixels: H, by which 1 of H's units on the panel is a unit of the camera; rise: −K r₃."""

    to_pixels: Array
    rise: Array

    def plane(self, height: float) -> Array:
        raised = self.to_pixels.copy()
        raised[:, 2] += height * self.rise
        return raised

    def see(self, point: Array, height: float) -> Array:
        return through(self.plane(height), point)

    def under(self, pixel: Array, height: float) -> Array:
        """The point of the plane at `height` that is seen at `pixel`."""
        return through(inverse(self.plane(height)), pixel)


def through(homography: Array, point: Array) -> Array:
    seen = homography @ np.array([point[0], point[1], 1.0])
    result: Array = seen[:2] / seen[2]
    return result


def inverse(homography: Array) -> Array:
    turned: Array = np.linalg.inv(homography).astype(np.float64)
    return turned


def lens_of(focal_px: float, width: int, height: int) -> Array:
    return np.array([[focal_px, 0, width / 2], [0, focal_px, height / 2], [0, 0, 1.0]])


def place(to_pixels: Array, lens: Array) -> Placement:
    """Scale a homography to lengths, and find the direction in which the panel faces."""
    columns = np.linalg.solve(lens, to_pixels)
    one, other, far = columns.T
    length = np.sqrt(np.linalg.norm(one) * np.linalg.norm(other))
    if far[2] < 0:
        length = -length
    one, other = one / length, other / length
    facing = np.cross(one, other)
    facing /= np.linalg.norm(facing)
    return Placement(to_pixels / length, -lens @ facing)


def aspect_of(corners: Array, lens: Array) -> float:
    """Height over width of the rectangle that is seen with these corners."""
    square = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], np.float32)
    columns = np.linalg.solve(lens, cv2.getPerspectiveTransform(square, corners.astype(np.float32)))
    return float(np.linalg.norm(columns[:, 1]) / np.linalg.norm(columns[:, 0]))


def canvas_size(aspect: float) -> tuple[int, int]:
    if aspect <= 1:
        return CANVAS_PX, max(60, round(CANVAS_PX * aspect))
    return max(60, round(CANVAS_PX / aspect)), CANVAS_PX


def from_corners(corners: Array, size: tuple[int, int]) -> Array:
    width, height = size
    canvas = np.array([[0, 0], [width, 0], [width, height], [0, height]], np.float32)
    found: Array = cv2.getPerspectiveTransform(canvas, corners.astype(np.float32)).astype(np.float64)
    return found
