"""Photos as phones take them, made fit to be shown: upright, of a sensible size, nothing but pixels.

A photo of an amp's panel is read again months later, so it must stand the right way up: a mirrored one
turns clockwise into anticlockwise. What leaves this module is a new JPEG made from the pixels alone; the
place, the time, the phone and its owner's name stay behind in the original file.

The type is judged by the bytes, never by the name. The server never decodes: `cleaned_pictures.py` has it done in a
process of its own, which alone imports Pillow.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from PIL import Image, ImageCms

PIXEL_LIMITS = {  # JPEG shrinks while it is decoded, PNG goes row by row; the others need several bytes a pixel
    "image/jpeg": 100_000_000,
    "image/png": 100_000_000,
    "image/webp": 50_000_000,
    "image/heic": 50_000_000,
}
SHOWN_SIDE_PX = 2560
THUMBNAIL_SIDE_PX = 320

_SHOWN_QUALITY = 88
_THUMBNAIL_QUALITY = 80
_STRIP_ROWS = 256
_SNIFFED_BYTES = 4096
_ORIENTATION_TAG = 0x0112  # Exif (JEITA CP-3451)

_FORMATS = {"image/jpeg": "JPEG", "image/png": "PNG", "image/webp": "WEBP", "image/heic": "HEIF"}
_HEIC_BRANDS = {b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"hevm", b"hevs", b"mif1", b"msf1"}
_AVIF_BRANDS = {b"avif", b"avis"}
_REFUSED_SIGNATURES = (
    (b"GIF8", "a GIF"),
    (b"BM", "a BMP"),
    (b"II*\0", "a TIFF or a camera's raw file"),
    (b"MM\0*", "a TIFF or a camera's raw file"),
    (b"%PDF", "a PDF"),
    (b"\0\0\0\x0cjP  ", "a JPEG 2000"),
    (b"\xff\x0a", "a JPEG XL"),
    (b"\0\0\0\x0cJXL ", "a JPEG XL"),
)
_TAKEN = "Use a JPEG, PNG, WebP or HEIC."


class UnusablePicture(ValueError):
    """The file cannot be shown as a photo; the message is a sentence for the person who chose it."""


@dataclass(frozen=True)
class CleanPicture:
    """A photo ready to be served: two JPEGs in sRGB without any metadata.

    width, height: pixels of `shown`, the right way up.
    shown: JPEG, at most 2560 pixels on the long side.
    thumbnail: JPEG, at most 320 pixels on the long side.
    media_type_found: what the original file really is, whatever its name says.
    """

    width: int
    height: int
    shown: bytes
    thumbnail: bytes
    media_type_found: str


def clean_picture(path: Path) -> CleanPicture:
    """Read a photo and make the two pictures that are shown of it.

    Raises UnusablePicture when the file is no usable photo, OSError when it cannot be opened at all.
    """
    with path.open("rb") as file:
        media_type = _media_type(file.read(_SNIFFED_BYTES))
        file.seek(0)
        upright = _upright(file, media_type)
    shown = _within(upright, SHOWN_SIDE_PX)
    return CleanPicture(
        width=shown.width,
        height=shown.height,
        shown=_jpeg(shown, _SHOWN_QUALITY),
        thumbnail=_jpeg(_within(shown, THUMBNAIL_SIDE_PX), _THUMBNAIL_QUALITY),
        media_type_found=media_type,
    )


def is_picture(path: Path) -> bool:
    """Whether a file is of a kind that is taken in as a photo, by its first bytes. Raises OSError."""
    with path.open("rb") as file:
        head = file.read(_SNIFFED_BYTES)
    try:
        _media_type(head)
    except UnusablePicture:
        return False
    return True


def _media_type(head: bytes) -> str:
    if not head:
        raise UnusablePicture("This file is empty. Copy the photo from the phone again and choose that copy.")
    if head.startswith(b"\xff\xd8\xff"):
        return "image/jpeg"
    if head.startswith(b"\x89PNG\r\n\x1a\n"):
        return "image/png"
    if head[:4] == b"RIFF" and head[8:12] == b"WEBP":
        return "image/webp"
    if head[4:8] == b"ftyp":
        return _media_type_of_brands(head)
    for signature, what in _REFUSED_SIGNATURES:
        if head.startswith(signature):
            raise UnusablePicture(f"This is {what}, which is not taken in as a photo. {_TAKEN}")
    if b"<svg" in head.lower():
        raise UnusablePicture(
            "This is an SVG drawing, which can carry a program, so it is not taken in. "
            "Export it as PNG and use that."
        )
    raise UnusablePicture(f"This file is not a picture. {_TAKEN}")


def _media_type_of_brands(head: bytes) -> str:
    """Tell HEIC from its relatives by the brands in the `ftyp` box (ISO/IEC 14496-12, 23008-12)."""
    box = head[8 : max(16, int.from_bytes(head[:4], "big"))]
    brands = {box[at : at + 4] for at in range(0, len(box), 4) if at != 4}  # bytes 4 to 7: minor version
    if brands & _AVIF_BRANDS:
        raise UnusablePicture(f"This is an AVIF, which is not taken in as a photo. {_TAKEN}")
    if brands & _HEIC_BRANDS:
        return "image/heic"
    raise UnusablePicture(f"This is a film or a sound in an MP4 container, not a photo. {_TAKEN}")


def _upright(file: io.BufferedReader, media_type: str) -> Image.Image:
    """Decode, shrink towards the shown size, bring to sRGB on white, turn the right way up."""
    from PIL import Image

    _prepare_pillow()
    limit = PIXEL_LIMITS[media_type]
    too_large = UnusablePicture(
        f"This picture has more than {limit // 1_000_000} million pixels. Save a smaller copy and use that."
    )
    try:
        image = Image.open(file, formats=[_FORMATS[media_type]])
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as error:
        raise too_large from error
    except Exception as error:  # a decoder given damaged bytes may raise anything
        raise _damaged(media_type) from error
    if image.width * image.height > limit:
        raise too_large
    try:
        scale = min(1.0, SHOWN_SIDE_PX / max(image.size))
        image.draft(None, (max(1, round(image.width * scale)), max(1, round(image.height * scale))))
        image.load()
        on_white = _shrunk_on_white(image)
    except MemoryError as error:
        raise UnusablePicture(
            "There is not enough memory to read this picture. Save a smaller copy and use that."
        ) from error
    except Exception as error:
        raise _damaged(media_type) from error
    turn = _turn(image)
    return on_white if turn is None else on_white.transpose(turn)


def _damaged(media_type: str) -> UnusablePicture:
    kind = media_type.removeprefix("image/").upper().replace("WEBP", "WebP")
    return UnusablePicture(
        f"This {kind} is cut short or damaged. Copy the photo from the phone again and choose that copy."
    )


@lru_cache(maxsize=1)
def _prepare_pillow() -> None:
    import pillow_heif
    from PIL import Image

    pillow_heif.register_heif_opener(depth_images=False, aux_images=False)
    Image.MAX_IMAGE_PIXELS = max(PIXEL_LIMITS.values())


def _shrunk_on_white(image: Image.Image) -> Image.Image:
    """Reduce a decoded picture by a whole factor, strip by strip, so that no full-size copy is ever made."""
    from PIL import Image

    factor = max(1, max(image.size) // (2 * SHOWN_SIDE_PX))
    size = (-(-image.width // factor), -(-image.height // factor))
    to_srgb = _transform_to_srgb(image)
    on_white = Image.new("RGB", size, "white")
    for top, strip in _strips(image, _STRIP_ROWS * factor):
        on_white.paste(_on_white(strip, to_srgb).reduce(factor), (0, top // factor))
    return on_white


def _strips(image: Image.Image, rows: int) -> Iterator[tuple[int, Image.Image]]:
    for top in range(0, image.height, rows):
        yield top, image.crop((0, top, image.width, min(image.height, top + rows)))


def _on_white(strip: Image.Image, to_srgb: ImageCms.ImageCmsTransform | None) -> Image.Image:
    from PIL import Image

    if strip.mode.startswith("I"):  # 16-bit grey; a plain conversion would clip instead of scale
        strip.info.pop("transparency", None)
        strip = strip.point(lambda value: value * (1 / 257)).convert("L")
    colour = to_srgb.apply(strip.convert(to_srgb.input_mode)) if to_srgb else strip.convert("RGB")
    if not strip.has_transparency_data:
        return colour
    alpha = strip.convert("RGBA").getchannel("A")
    on_white = Image.new("RGB", strip.size, "white")
    on_white.paste(colour, mask=alpha)
    return on_white


def _transform_to_srgb(image: Image.Image) -> ImageCms.ImageCmsTransform | None:
    """The way from the picture's own colour profile to sRGB, or None where there is none that can be read."""
    profile_bytes = image.info.get("icc_profile")
    if not profile_bytes:
        return None
    from PIL import ImageCms

    try:
        profile = ImageCms.ImageCmsProfile(io.BytesIO(profile_bytes))
        space = profile.profile.xcolor_space.strip()
        mode = {"RGB": "RGB", "GRAY": "L", "CMYK": "CMYK"}[space]
        if (mode == "CMYK") != (image.mode == "CMYK") or (mode == "L" and image.mode.startswith(("R", "P"))):
            return None  # the profile is another picture's
        return ImageCms.buildTransform(profile, ImageCms.createProfile("sRGB"), mode, "RGB")
    except (ImageCms.PyCMSError, KeyError, OSError):
        return None


def _turn(image: Image.Image) -> Image.Transpose | None:
    """What brings the stored pixels to the right way up (Exif, JEITA CP-3451, tag Orientation)."""
    from PIL.Image import Transpose

    try:
        orientation = image.getexif().get(_ORIENTATION_TAG, 1)
    except Exception:  # an unreadable Exif block says nothing about the pixels
        return None
    turns: dict[object, Image.Transpose] = {
        2: Transpose.FLIP_LEFT_RIGHT,
        3: Transpose.ROTATE_180,
        4: Transpose.FLIP_TOP_BOTTOM,
        5: Transpose.TRANSPOSE,
        6: Transpose.ROTATE_270,
        7: Transpose.TRANSVERSE,
        8: Transpose.ROTATE_90,
    }
    return turns.get(orientation)


def _within(image: Image.Image, side_px: int) -> Image.Image:
    from PIL.Image import Resampling

    scale = side_px / max(image.size)
    if scale >= 1:
        return image
    size = (max(1, round(image.width * scale)), max(1, round(image.height * scale)))
    return image.resize(size, Resampling.LANCZOS, reducing_gap=3.0)


def _jpeg(image: Image.Image, quality: int) -> bytes:
    written = io.BytesIO()
    image.save(written, "JPEG", quality=quality, progressive=True)
    return written.getvalue()
