"""A photo as numbers: decoded within bounds, in the pixels it is stored in, with the focal length it tells of itself."""

import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

if TYPE_CHECKING:
    from PIL import Image

PIXEL_LIMIT = 100_000_000
WORKED_ON_PIXELS = 13_500_000
"""A phone's 12 megapixels are read whole; what is larger is halved while it is decoded."""
LEAST_SIDE_PX = 200
USUAL_FOCAL_35MM = 26.0
"""The main camera of most phones; taken where the file does not tell."""

_EXIF_BLOCK, _FOCAL_LENGTH_IN_35MM = 0x8769, 0xA405  # Exif (JEITA CP-3451)
_ORIENTATION = 0x0112
_TURNS = {
    2: "FLIP_LEFT_RIGHT",
    3: "ROTATE_180",
    4: "FLIP_TOP_BOTTOM",
    5: "TRANSPOSE",
    6: "ROTATE_270",
    7: "TRANSVERSE",
    8: "ROTATE_90",
}
_FILM_DIAGONAL_MM = 43.267

Pixels = npt.NDArray[np.uint8]


class UnreadablePhoto(ValueError):
    """The file cannot be read as a photo; the message is a sentence."""


@dataclass(frozen=True)
class Picture:
    """pixels: rows × columns × (red, green, blue), as stored. scale: of these pixels to those of the file."""

    pixels: Pixels
    scale: float
    focal_px: float
    focal_is_told: bool


def open_picture(path: Path, focal_35mm: float | None = None, *, upright: bool = False) -> Picture:
    """In the pixels as stored, or `upright` as its file asks to be shown. `focal_35mm` stands in for what the file does not tell of
    its lens. Raises UnreadablePhoto with a sentence, OSError where there is no such file."""
    from PIL import Image

    Image.MAX_IMAGE_PIXELS = PIXEL_LIMIT
    with path.open("rb") as file, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            if file.read(12)[4:8] == b"ftyp":
                _read_heic()
            file.seek(0)
            with Image.open(file) as image:
                stored = image.size
                _hold_bounds(path, stored)
                told = _focal_of(image) or focal_35mm
                factor = 1
                while stored[0] * stored[1] > WORKED_ON_PIXELS * factor * factor:
                    factor *= 2
                image.draft("RGB", (stored[0] // factor, stored[1] // factor))
                decoded = image.convert("RGB")
                if decoded.width > stored[0] // factor + 1:
                    decoded = decoded.reduce(round(decoded.width * factor / stored[0]))
                scale = decoded.width / stored[0]
                if upright:
                    decoded = _turned(image, decoded)
                pixels = np.asarray(decoded)
        except UnreadablePhoto:
            raise
        except Image.DecompressionBombError as error:
            raise _too_large(path) from error
        except MemoryError as error:
            raise UnreadablePhoto(
                f"There is not enough memory to read {path.name}. Save a smaller copy."
            ) from error
        except Exception as error:  # a decoder given damaged bytes may raise anything
            raise UnreadablePhoto(
                f"{path.name} cannot be read as a photo: it is damaged, or not a JPEG, PNG, WebP or HEIC."
            ) from error
    diagonal = float(np.hypot(pixels.shape[0], pixels.shape[1]))
    return Picture(
        pixels=pixels,
        scale=scale,
        focal_px=(told or USUAL_FOCAL_35MM) / _FILM_DIAGONAL_MM * diagonal,
        focal_is_told=told is not None,
    )


def _turned(stored: "Image.Image", decoded: "Image.Image") -> "Image.Image":
    from PIL.Image import Transpose

    turn = _TURNS.get(stored.getexif().get(_ORIENTATION, 1))
    return decoded if turn is None else decoded.transpose(Transpose[turn])


def told_focal(path: Path) -> float | None:
    """The focal length as of a 35 mm film, where the file tells of it."""
    from PIL import Image

    with path.open("rb") as file:
        try:
            if file.read(12)[4:8] == b"ftyp":
                _read_heic()
            file.seek(0)
            with Image.open(file) as image:
                return _focal_of(image)
        except Exception:  # what cannot be read tells nothing
            return None


def _focal_of(image: "Image.Image") -> float | None:
    focal = image.getexif().get_ifd(_EXIF_BLOCK).get(_FOCAL_LENGTH_IN_35MM)
    return float(focal) if isinstance(focal, int | float) and 8 <= focal <= 400 else None


def _hold_bounds(path: Path, size: tuple[int, int]) -> None:
    if size[0] * size[1] > PIXEL_LIMIT:
        raise _too_large(path)
    if min(size) < LEAST_SIDE_PX:
        raise UnreadablePhoto(
            f"{path.name} is only {size[0]} × {size[1]} pixels: too small to read a knob in."
        )


def _read_heic() -> None:
    try:
        import pillow_heif
    except ImportError as error:
        raise UnreadablePhoto("HEIC cannot be read here. Save the photo as a JPEG.") from error
    pillow_heif.register_heif_opener(depth_images=False, aux_images=False)


def _too_large(path: Path) -> UnreadablePhoto:
    return UnreadablePhoto(
        f"{path.name} has more than {PIXEL_LIMIT // 1_000_000} million pixels. Save a smaller copy and use that."
    )
