"""Panels that nobody ever built, invented from a number: what stands where, how it is made, what is printed on it."""

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
import numpy.typing as npt

Image = npt.NDArray[np.float32]

ON_TOP = ("line", "dot", "arrow", "chicken", "metal", "knurled")
OTHERS = ("notch", "skirt", "side")
TRAVEL = (-150.0, 150.0)


@dataclass(frozen=True)
class Manner:
    """How a family of panels is drawn. Those that a reader is tried on are not those it was made on."""

    fonts: tuple[int, ...]
    textures: tuple[str, ...]
    slenderness: tuple[float, float]  # height of a knob in radii
    taper: tuple[float, float]
    teeth: tuple[int, int]
    letters: str


DEVELOPED_ON = Manner(
    fonts=(cv2.FONT_HERSHEY_SIMPLEX, cv2.FONT_HERSHEY_DUPLEX, cv2.FONT_HERSHEY_PLAIN),
    textures=("plain", "brushed", "grain"),
    slenderness=(0.6, 1.35),
    taper=(0.82, 1.0),
    teeth=(24, 40),
    letters="ABDEGILNORSTU",
)
UNSEEN = Manner(
    fonts=(cv2.FONT_HERSHEY_TRIPLEX, cv2.FONT_HERSHEY_COMPLEX_SMALL, cv2.FONT_HERSHEY_SCRIPT_SIMPLEX),
    textures=("weave", "speckled", "swirled"),
    slenderness=(0.45, 1.2),
    taper=(0.7, 0.92),
    teeth=(14, 22),
    letters="CFHJKMPQVWXYZ",
)


@dataclass(frozen=True)
class Body:
    """One control as a solid thing. Lengths in millimetres; colours as blue, green, red from 0 to 1."""

    key: str
    kind: str  # knob, switch, slide, fader, lamp
    make: str  # of a knob what it is made like, else the kind
    x: float
    y: float
    radius: float
    height: float
    taper: float
    colour: tuple[float, float, float]
    mark_colour: tuple[float, float, float]
    mark_width: float  # of the radius
    mark_from: float  # of the radius
    teeth: int
    gloss: float
    font: int
    length: float = 0.0  # of a fader's slot


@dataclass(frozen=True)
class Panel:
    number: int
    width: float
    height: float
    scale: float  # pixels of the texture per millimetre
    texture: Image
    bodies: tuple[Body, ...]


def invent(number: int, manner: Manner) -> Panel:
    chance = np.random.default_rng(900_000 + number)
    columns, rows = [(4, 1), (5, 1), (6, 1), (3, 2), (4, 2), (2, 2), (2, 3)][int(chance.integers(7))]
    spacing = float(chance.uniform(32, 46))
    width, height = spacing * columns + 16, spacing * 1.25 * rows + 18
    dark = bool(chance.random() < 0.55)
    ground = chance.uniform(0.06, 0.22, 3) if dark else chance.uniform(0.45, 0.85, 3)
    ink = np.full(3, 0.88) if dark else np.full(3, 0.08)
    scale = 2000 / max(width, height)
    texture = _ground(chance, manner, ground, round(width * scale), round(height * scale))
    bodies: list[Body] = []
    made = str(chance.choice(ON_TOP)) if chance.random() < 0.7 else str(chance.choice(OTHERS))
    radius = spacing * float(chance.uniform(0.24, 0.34))
    slender = float(chance.uniform(*manner.slenderness))
    for row in range(rows):
        for column in range(columns):
            x = 8 + spacing * (column + 0.5)
            y = 12 + spacing * 1.25 * (row + 0.45)
            key = f"{row}{column}"
            what = chance.random()
            kind = "knob" if what < 0.86 else str(chance.choice(["switch", "slide", "lamp", "fader"]))
            if kind == "knob" and chance.random() < 0.3:
                made = str(chance.choice(ON_TOP)) if chance.random() < 0.75 else str(chance.choice(OTHERS))
                radius = spacing * float(chance.uniform(0.24, 0.34))
                slender = float(chance.uniform(*manner.slenderness))
            bodies.append(_body(chance, manner, key, kind, made, x, y, radius, slender, spacing))
            _print_around(chance, manner, texture, bodies[-1], ink, scale, spacing)
    _title(chance, manner, texture, ink, scale)
    for x, y in ((5, 5), (width - 5, 5), (5, height - 5), (width - 5, height - 5)):
        _screw(chance, texture, x * scale, y * scale, 2.6 * scale)
    _wear(chance, texture)
    return Panel(number, width, height, scale, texture, tuple(bodies))


def _body(
    chance: np.random.Generator,
    manner: Manner,
    key: str,
    kind: str,
    made: str,
    x: float,
    y: float,
    radius: float,
    slender: float,
    spacing: float,
) -> Body:
    dark = chance.random() < 0.7
    colour = chance.uniform(0.03, 0.14, 3) if dark else chance.uniform(0.35, 0.85, 3)
    mark = chance.uniform(0.75, 0.95, 3) if dark else chance.uniform(0.02, 0.12, 3)
    if dark and chance.random() < 0.08:  # black on black
        mark = colour + chance.uniform(0.05, 0.1)
    if made == "metal":
        colour = np.full(3, chance.uniform(0.5, 0.7)) * chance.uniform(0.95, 1.05, 3)
        mark = np.full(3, chance.uniform(0.03, 0.12))
    if kind != "knob":
        radius = {"switch": 4.5, "slide": 7.0, "lamp": 3.5, "fader": 4.0}[kind]
        slender = {"switch": 2.4, "slide": 0.2, "lamp": 0.5, "fader": 1.5}[kind]
        made = kind
    return Body(
        key=key,
        kind=kind,
        make=made,
        x=x,
        y=y,
        radius=radius,
        height=radius * slender,
        taper=float(chance.uniform(*manner.taper)),
        colour=tuple(map(float, colour)),  # type: ignore[arg-type]
        mark_colour=tuple(map(float, mark)),  # type: ignore[arg-type]
        mark_width=float(chance.uniform(0.1, 0.18)),
        mark_from=float(chance.uniform(0.05, 0.5)),
        teeth=int(chance.integers(manner.teeth[0], manner.teeth[1] + 1)),
        gloss=float(chance.uniform(0, 0.5)),
        font=int(chance.choice(manner.fonts)),
        length=spacing * 0.75,
    )


def _ground(
    chance: np.random.Generator, manner: Manner, colour: npt.NDArray[np.float64], width: int, height: int
) -> Image:
    kind = str(chance.choice(manner.textures))
    noise = chance.standard_normal((height, width)).astype(np.float32)
    rows, columns = np.mgrid[0:height, 0:width].astype(np.float32)
    pattern = {
        "plain": lambda: cv2.GaussianBlur(noise, (0, 0), 1.2) * 0.3,
        "brushed": lambda: cv2.GaussianBlur(noise, (0, 0), sigmaX=30, sigmaY=0.7) * 2.0,
        "grain": lambda: cv2.GaussianBlur(noise, (0, 0), 2.5) * 2.0,
        "weave": lambda: np.sin(rows / 2.6) * np.sin(columns / 2.6) * 0.5 + noise * 0.15,
        "speckled": lambda: (cv2.GaussianBlur(noise, (0, 0), 1.4) > 0.55) * 1.6,
        "swirled": lambda: (
            np.sin(np.hypot(rows - height * 0.4, columns - width * 0.6) / 3.0) * 0.5 + noise * 0.2
        ),
    }[kind]()
    ground = np.ones((height, width, 3)) * colour
    return (ground * (1 + 0.07 * np.asarray(pattern)[..., None])).astype(np.float32)


def _print_around(
    chance: np.random.Generator,
    manner: Manner,
    texture: Image,
    body: Body,
    ink: npt.NDArray[np.float64],
    scale: float,
    spacing: float,
) -> None:
    at = np.array([body.x, body.y]) * scale
    colour = tuple(map(float, ink))
    if body.kind == "knob":
        reach = body.radius * 1.18
        long = body.radius * float(chance.uniform(0.12, 0.3))
        count = int(chance.choice([7, 11, 11, 13, 0]))
        for tick in np.linspace(*TRAVEL, count) if count else []:
            way = np.array([np.sin(np.radians(tick)), -np.cos(np.radians(tick))])
            ends = [at + way * (reach + more) * scale for more in (0, long)]
            _line(texture, ends[0], ends[1], colour, max(1, round(0.5 * scale)))
    if body.kind == "fader":
        for tick in np.linspace(-0.5, 0.5, 11):
            left = at + np.array([5.5, tick * body.length]) * scale
            _line(texture, left, left + np.array([3, 0]) * scale, colour, max(1, round(0.4 * scale)))
        _line(
            texture,
            at - np.array([0, body.length / 2]) * scale,
            at + np.array([0, body.length / 2]) * scale,
            (0.01, 0.01, 0.01),
            round(1.6 * scale),
        )
    word = "".join(chance.choice(list(manner.letters), int(chance.integers(3, 7))))
    _write(texture, word, at + np.array([0, spacing * 0.56]) * scale, body.font, 3.2 * scale, colour)


def _title(
    chance: np.random.Generator, manner: Manner, texture: Image, ink: npt.NDArray[np.float64], scale: float
) -> None:
    height, width = texture.shape[:2]
    colour = tuple(map(float, ink))
    for _ in range(int(chance.integers(1, 3))):
        word = " ".join(
            "".join(chance.choice(list(manner.letters), 5)) for _ in range(int(chance.integers(1, 3)))
        )
        at = np.array([width * chance.uniform(0.25, 0.75), height - 4.5 * scale])
        _write(texture, word, at, int(chance.choice(manner.fonts)), 4.2 * scale, colour)
    if chance.random() < 0.6:
        inset = round(2.2 * scale)
        cv2.rectangle(
            texture, (inset, inset), (width - inset, height - inset), colour, max(1, round(0.5 * scale))
        )


def letter(
    texture: Image, word: str, where: tuple[int, int], font: int, size: float, colour: Any, thick: int
) -> None:
    mask = np.zeros(texture.shape[:2], np.uint8)
    cv2.putText(mask, word, where, font, size, 255, thick, cv2.LINE_AA)
    inside = mask > 0
    share = mask[inside].astype(np.float32)[:, None] / 255
    texture[inside] += share * (np.asarray(colour, np.float32) - texture[inside])


def _write(
    texture: Image, word: str, at: npt.NDArray[np.float64], font: int, tall: float, colour: Any
) -> None:
    (wide, high), _ = cv2.getTextSize(word, font, 1.0, 2)
    size = tall / max(high, 1)
    where = (round(at[0] - wide * size / 2), round(at[1] + tall / 2))
    letter(texture, word, where, font, size, colour, max(1, round(tall / 9)))


def _line(texture: Image, one: Any, other: Any, colour: Any, thick: int) -> None:
    points = [tuple(round(float(v)) for v in end) for end in (one, other)]
    cv2.line(texture, points[0], points[1], colour, thick, cv2.LINE_AA)


def _screw(chance: np.random.Generator, texture: Image, x: float, y: float, radius: float) -> None:
    centre = (round(x), round(y))
    cv2.circle(texture, centre, round(radius), (0.55, 0.55, 0.55), -1, cv2.LINE_AA)
    turn = float(chance.uniform(0, np.pi))
    for way in (turn, turn + np.pi / 2):
        reach = np.array([np.cos(way), np.sin(way)]) * radius * 0.7
        _line(
            texture,
            np.array([x, y]) - reach,
            np.array([x, y]) + reach,
            (0.1, 0.1, 0.1),
            max(2, round(radius / 4)),
        )


def _wear(chance: np.random.Generator, texture: Image) -> None:
    height, width = texture.shape[:2]
    for _ in range(int(chance.integers(0, 14))):
        start = chance.uniform(0, 1, 2) * (width, height)
        end = start + chance.normal(0, 0.06 * width, 2)
        tone = float(chance.uniform(0.3, 0.6))
        _line(texture, start, end, (tone, tone, tone), 1)
