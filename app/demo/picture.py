"""The picture of the invented session: drawn, because there was nothing to photograph, and saying so."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from PIL.ImageDraw import ImageDraw

SIZE = (1600, 1200)
_PAPER, _INK, _FAINT = (243, 239, 228), (45, 42, 38), (176, 168, 152)


def draw_picture() -> bytes:
    """A pencil-like sketch of a combo with two microphones in front, as PNG."""
    from PIL import Image, ImageDraw, ImageFont

    picture = Image.new("RGB", SIZE, _PAPER)
    pen = ImageDraw.Draw(picture)
    _draw_floor(pen)
    _draw_combo(pen)
    _draw_ribbon(pen)
    _draw_dynamic(pen)
    pen.text((60, 40), "INVENTED", fill=_INK, font=ImageFont.load_default(64))
    letters = ImageFont.load_default(44)
    pen.text((60, 122), "drawn for the demo, not photographed", fill=_INK, font=letters)
    pen.text((900, 470), "ribbon, 300 mm", fill=_INK, font=letters)
    pen.text((880, 1110), "dynamic, 25 mm, 45 mm off centre", fill=_INK, font=letters)
    written = io.BytesIO()
    picture.save(written, "PNG")
    return written.getvalue()


def _draw_floor(pen: ImageDraw) -> None:
    for y in (990, 1060, 1150):
        pen.line(((0, y), (SIZE[0], y - 30)), fill=_FAINT, width=4)


def _draw_combo(pen: ImageDraw) -> None:
    pen.rounded_rectangle((180, 300, 820, 980), radius=24, outline=_INK, width=8)
    pen.line(((180, 430), (820, 430)), fill=_INK, width=6)
    for knob in range(6):
        x = 250 + 100 * knob
        pen.ellipse((x - 28, 337, x + 28, 393), outline=_INK, width=5)
    for x in range(200, 820, 24):
        pen.line(((x, 436), (x, 974)), fill=_FAINT, width=2)
    for radius, width in ((235, 6), (150, 3), (62, 6)):
        pen.ellipse((500 - radius, 705 - radius, 500 + radius, 705 + radius), outline=_INK, width=width)


def _draw_ribbon(pen: ImageDraw) -> None:
    pen.rounded_rectangle((1010, 560, 1080, 800), radius=30, fill=_PAPER, outline=_INK, width=7)
    for y in range(590, 700, 18):
        pen.line(((1022, y), (1068, y)), fill=_INK, width=3)
    pen.line(((1045, 800), (1045, 1070)), fill=_INK, width=9)


def _draw_dynamic(pen: ImageDraw) -> None:
    pen.ellipse((560, 680, 650, 770), fill=_PAPER, outline=_INK, width=7)
    pen.polygon(((640, 700), (860, 790), (845, 835), (620, 765)), fill=_PAPER, outline=_INK, width=7)
    pen.line(((852, 812), (1120, 960)), fill=_INK, width=8)
