"""The combo's panel of the invented session, drawn with its knobs where they are wanted, and saying so."""

from __future__ import annotations

import io
import math
import random
from collections.abc import Mapping
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from PIL.ImageDraw import ImageDraw

SIZE = (1600, 900)
PANEL = (80, 200, 1520, 700)
KNOBS = ("Gain", "Bass", "Middle", "Treble", "Reverb", "Master")
RADIUS = 66
_BOARD, _PLATE, _INK, _PRINT = (196, 176, 146), (58, 66, 74), (24, 22, 20), (232, 226, 208)
# From a little to the left and from above: where the corners of the drawing come to lie.
_ASIDE = ((60, 90), (1545, 30), (1500, 860), (110, 800))


def centre_of(name: str) -> tuple[float, float]:
    left, top, right, bottom = PANEL
    column = KNOBS.index(name)
    return left + (right - left) * (column + 0.5) / len(KNOBS), (top + bottom) / 2 + 20


def corners() -> tuple[tuple[float, float], ...]:
    left, top, right, bottom = PANEL
    return (left, top), (right, top), (right, bottom), (left, bottom)


def draw_panel(degrees: Mapping[str, float], *, from_aside: bool = False) -> bytes:
    """The panel from the front, or from a little aside as a phone is held, as PNG. Knobs that are not named stand at noon."""
    from PIL import Image, ImageDraw, ImageFont

    picture = Image.new("RGB", SIZE, _BOARD)
    pen = ImageDraw.Draw(picture)
    chance = random.Random(15)
    _draw_wear(pen, chance, (0, 0, *SIZE), _INK, 900)
    pen.rounded_rectangle(PANEL, radius=18, fill=_PLATE, outline=_INK, width=6)
    _draw_wear(pen, chance, PANEL, (92, 98, 104), 1600)
    for x, y in ((110, 230), (1490, 230), (110, 670), (1490, 670)):
        pen.ellipse((x - 14, y - 14, x + 14, y + 14), fill=(150, 150, 146), outline=_INK, width=3)
        pen.line((x - 10, y - 7 + x % 5, x + 10, y + 7 - x % 5), fill=_INK, width=4)
    pen.text((150, 218), "FIFTEEN WATTS · INVENTED", fill=_PRINT, font=ImageFont.load_default(40))
    pen.text((860, 226), "drawn for the demo, not photographed", fill=_PRINT, font=ImageFont.load_default(30))
    for name in KNOBS:
        _draw_knob(pen, name, degrees.get(name, 0.0))
    if from_aside:
        picture = picture.transform(
            SIZE,
            Image.Transform.PERSPECTIVE,
            _perspective(),
            Image.Resampling.BICUBIC,
            fillcolor=_BOARD,
        )
    written = io.BytesIO()
    picture.save(written, "PNG")
    return written.getvalue()


def _draw_wear(
    pen: ImageDraw,
    chance: random.Random,
    box: tuple[int, int, int, int],
    ink: tuple[int, int, int],
    marks: int,
) -> None:
    left, top, right, bottom = box
    for _ in range(marks):
        x, y = chance.uniform(left, right), chance.uniform(top, bottom)
        pen.line(
            (x, y, x + chance.uniform(-9, 9), y + chance.uniform(-3, 3)),
            fill=ink,
            width=chance.choice((1, 1, 2)),
        )


def _draw_knob(pen: ImageDraw, name: str, degrees: float) -> None:
    from PIL import ImageFont

    x, y = centre_of(name)
    for step in range(11):
        angle = math.radians(-150 + 30 * step)
        near, far, word = RADIUS + 10, RADIUS + 22, RADIUS + 38
        pen.line(
            (
                x + near * math.sin(angle),
                y - near * math.cos(angle),
                x + far * math.sin(angle),
                y - far * math.cos(angle),
            ),
            fill=_PRINT,
            width=4,
        )
        at = (x + word * math.sin(angle), y - word * math.cos(angle))
        pen.text(at, str(step), fill=_PRINT, font=ImageFont.load_default(22), anchor="mm")
    pen.text((x, y + 148), name.upper(), fill=_PRINT, font=ImageFont.load_default(34), anchor="mm")
    pen.ellipse(
        (x - RADIUS, y - RADIUS, x + RADIUS, y + RADIUS), fill=(30, 29, 31), outline=(12, 12, 12), width=4
    )
    turned = math.radians(degrees)
    across, along = math.sin(turned), -math.cos(turned)
    pen.line(
        (x + 14 * across, y + 14 * along, x + (RADIUS - 4) * across, y + (RADIUS - 4) * along),
        fill=(240, 236, 222),
        width=10,
    )


def _perspective() -> list[float]:
    """From where a pixel comes to lie to where it was: x = (a u + b v + c) / (g u + h v + 1), y likewise."""
    import numpy as np

    wide, high = SIZE
    was = ((0, 0), (wide, 0), (wide, high), (0, high))
    rows, values = [], []
    for (u, v), (x, y) in zip(_ASIDE, was, strict=True):
        rows.append([u, v, 1, 0, 0, 0, -u * x, -v * x])
        rows.append([0, 0, 0, u, v, 1, -u * y, -v * y])
        values += [x, y]
    return [float(each) for each in np.linalg.solve(np.array(rows, float), np.array(values, float))]
