"""A photo of an invented panel: knobs as solid bodies, a phone's lens, lamp light, what goes wrong when it is late.

A body is a stack of thin slices, each the panel's plane moved towards the camera; so its sides come into sight and its top
moves against the print as those of a real one do. Light, shadow and glare stay where they are while the knob turns.
Nothing of this is taken from the reader: the camera's formulas are written out here once more.
"""

from dataclasses import dataclass, replace
from typing import Any

import cv2
import numpy as np
import numpy.typing as npt

from tests.panels.rendered.invented import TRAVEL, Body, Image, Panel, letter

Array = npt.NDArray[np.float64]
FULL_FRAME_WIDTH_MM = 36.0
SLICES = 9
FINE = 7.0  # pixels per millimetre in which a slice is drawn


@dataclass(frozen=True)
class View:
    """Where the phone stood and what the light was. Angles in degrees, `fills` is the panel's share of the frame."""

    yaw: float = 0.0
    pitch: float = 0.0
    roll: float = 0.0
    fills: float = 0.8
    aside: tuple[float, float] = (0.0, 0.0)
    focal_35mm: float = 26.0
    distortion: float = 0.0
    lamp: float = 0.4  # direction of the light, radians
    gradient: float = 0.3
    exposure: float = 1.0
    warmth: float = 0.0
    noise: float = 0.006
    defocus: float = 0.6
    shake: float = 0.0
    shake_way: float = 0.0
    flash: float = 0.0
    hand: bool = False
    cable: bool = False
    quality: int = 90
    number: int = 0


@dataclass(frozen=True)
class Truth:
    key: str
    stands_at: float
    centre: tuple[float, float]  # of the top, in pixels of the photo
    edge: tuple[float, float]
    ends: tuple[tuple[float, float], tuple[float, float]]
    radius_px: float
    covered: float


@dataclass(frozen=True)
class Photo:
    picture: npt.NDArray[np.uint8]
    corners: tuple[tuple[float, float], ...]
    truths: dict[str, Truth]
    view: View


def ordinary(chance: np.random.Generator, number: int) -> View:
    yaw, pitch = _tilt(chance, 0, 25)
    return View(
        yaw=yaw,
        pitch=pitch,
        roll=float(chance.uniform(-12, 12)),
        fills=float(chance.uniform(0.72, 0.95)),
        aside=(float(chance.uniform(-0.04, 0.04)), float(chance.uniform(-0.05, 0.05))),
        distortion=float(chance.uniform(-0.015, 0.015)),
        lamp=float(chance.uniform(0, 2 * np.pi)),
        gradient=float(chance.uniform(0, 0.5)),
        exposure=float(chance.uniform(0.75, 1.15)),
        warmth=float(chance.uniform(-0.06, 0.15)),
        noise=float(chance.uniform(0.003, 0.012)),
        defocus=float(chance.uniform(0.4, 1.0)),
        quality=int(chance.integers(80, 95)),
        number=number,
    )


def hard(chance: np.random.Generator, number: int) -> View:
    view = ordinary(chance, number)
    yaw, pitch = _tilt(chance, 15, 35)
    dim = chance.random() < 0.5
    return replace(
        view,
        yaw=yaw,
        pitch=pitch,
        roll=float(chance.uniform(-35, 35)),
        fills=float(chance.uniform(0.5, 0.85)),
        gradient=float(chance.uniform(0.3, 0.9)),
        exposure=float(chance.uniform(0.3, 0.6)) if dim else view.exposure,
        noise=float(chance.uniform(0.015, 0.035)) if dim else view.noise,
        defocus=float(chance.uniform(0.6, 2.2)),
        shake=float(chance.uniform(0, 7)) if chance.random() < 0.5 else 0.0,
        shake_way=float(chance.uniform(0, np.pi)),
        flash=float(chance.uniform(0.3, 0.9)) if chance.random() < 0.3 else 0.0,
        hand=bool(chance.random() < 0.3),
        cable=bool(chance.random() < 0.3),
        quality=int(chance.integers(55, 88)),
    )


def _tilt(chance: np.random.Generator, least: float, most: float) -> tuple[float, float]:
    tilt, way = chance.uniform(least, most), chance.uniform(0, 2 * np.pi)
    return float(tilt * np.cos(way)), float(tilt * np.sin(way))


def set_by_chance(chance: np.random.Generator, panel: Panel) -> dict[str, float]:
    """Where everything stands: degrees, a state's number, or a share of a fader's way."""
    stands: dict[str, float] = {}
    for body in panel.bodies:
        if body.kind == "knob":
            stands[body.key] = float(chance.uniform(*TRAVEL))
        elif body.kind == "fader":
            stands[body.key] = float(chance.uniform(0.03, 0.97))
        else:
            stands[body.key] = float(chance.integers(2))
    return stands


class _Camera:
    def __init__(self, panel: Panel, view: View, size: tuple[int, int]) -> None:
        wide, high = size
        focal = view.focal_35mm / FULL_FRAME_WIDTH_MM * max(size)
        self.lens = np.array([[focal, 0, wide / 2], [0, focal, high / 2], [0, 0, 1.0]])
        yaw, pitch, roll = np.radians([view.yaw, view.pitch, view.roll])
        about_y = np.array([[np.cos(yaw), 0, np.sin(yaw)], [0, 1, 0], [-np.sin(yaw), 0, np.cos(yaw)]])
        about_x = np.array([[1, 0, 0], [0, np.cos(pitch), -np.sin(pitch)], [0, np.sin(pitch), np.cos(pitch)]])
        about_z = np.array([[np.cos(roll), -np.sin(roll), 0], [np.sin(roll), np.cos(roll), 0], [0, 0, 1.0]])
        self.turn = about_z @ about_x @ about_y
        away = focal * max(panel.width / (wide * view.fills), panel.height / (high * view.fills))
        shift = np.array([view.aside[0] * panel.width, view.aside[1] * panel.height, away])
        middle = np.array([panel.width / 2, panel.height / 2, 0.0])
        self.place = shift - self.turn @ middle
        self.size, self.bend = size, view.distortion

    def plane(self, z: float) -> Array:
        """From millimetres on the plane `z` above the panel to pixels, before the lens bends them."""
        columns = np.column_stack([self.turn[:, 0], self.turn[:, 1], self.place - z * self.turn[:, 2]])
        return self.lens @ columns

    def see(self, x: float, y: float, z: float) -> Array:
        """A point's pixel, as the lens bends it."""
        seen = self.plane(z) @ (x, y, 1.0)
        return self.bent(seen[:2] / seen[2])

    def bent(self, point: Array) -> Array:
        middle = np.array(self.size) / 2
        offset = (point - middle) / middle.max()
        return middle + (point - middle) * (1 + self.bend * float(offset @ offset))


def photograph(
    panel: Panel, stands: dict[str, float], view: View, size: tuple[int, int] = (2000, 1500)
) -> Photo:
    chance = np.random.default_rng(7_000_000 + view.number)
    camera = _Camera(panel, view, size)
    wide, high = size
    table = cv2.resize(
        chance.uniform(0.15, 0.5, (9, 12, 3)).astype(np.float32), size, interpolation=cv2.INTER_CUBIC
    )
    picture: Image = table + cv2.resize(
        chance.normal(0, 0.03, (high // 4, wide // 4, 1)).astype(np.float32), size
    ).reshape(high, wide, 1)
    _lay(
        picture,
        _shaded(panel, view),
        np.ones(panel.texture.shape[:2], np.float32),
        camera.plane(0),
        1 / panel.scale,
    )
    for body in sorted(panel.bodies, key=lambda body: -float(camera.plane(0)[2] @ (body.x, body.y, 1))):
        _stand(picture, body, stands[body.key], camera, view)
    picture *= _light(view, size)
    if view.flash:
        spot = np.array([chance.uniform(0.25, 0.75) * wide, chance.uniform(0.3, 0.7) * high])
        picture += view.flash * _blob(size, spot, wide * chance.uniform(0.06, 0.14))[..., None]
    if view.hand:
        spot = np.array([chance.uniform(0.1, 0.9) * wide, chance.uniform(0.6, 1.0) * high])
        picture *= (1 - 0.6 * np.clip(2.2 * _blob(size, spot, wide * 0.18), 0, 1))[..., None]
    cover = np.zeros((high, wide), np.uint8)
    if view.cable:
        _cable(chance, picture, cover, size)
    picture = _through_lens(picture, camera)
    cover = _through_lens(cover, camera) if view.cable else cover
    truths = {body.key: _truth(body, stands[body.key], camera, cover) for body in panel.bodies}
    corners = tuple(
        tuple(map(float, camera.see(x, y, 0)))
        for x, y in ((0, 0), (panel.width, 0), (panel.width, panel.height), (0, panel.height))
    )
    return Photo(_taken(chance, picture, view), corners, truths, view)  # type: ignore[arg-type]


def _shaded(panel: Panel, view: View) -> Image:
    """The panel with the shadows that its bodies throw, away from the lamp."""
    high, wide = panel.texture.shape[:2]
    small = 4
    shadow = np.zeros((high // small, wide // small), np.float32)
    scale = panel.scale / small
    for body in panel.bodies:
        reach = body.height * 0.6
        way = -np.array([np.cos(view.lamp), np.sin(view.lamp)])
        for share in np.linspace(0, 1, 6):
            at = (np.array([body.x, body.y]) + way * reach * share) * scale
            cv2.circle(shadow, (round(at[0]), round(at[1])), max(1, round(body.radius * scale)), 1.0, -1)
    shadow = cv2.GaussianBlur(shadow, (0, 0), 1.6 * scale)
    return panel.texture * (1 - 0.55 * cv2.resize(shadow, (wide, high)))[..., None]


def _lay(
    picture: Image, colour: Image, alpha: Image, plane: Array, unit: float, at: Any = (0.0, 0.0)
) -> None:
    """Lay a flat piece whose pixels measure `unit` millimetres, first pixel at `at`, on a plane of the scene."""
    high, wide = alpha.shape
    to_pixels = plane @ np.array([[unit, 0, at[0]], [0, unit, at[1]], [0, 0, 1]])
    corners = cv2.perspectiveTransform(
        np.array([[[0, 0], [wide, 0], [wide, high], [0, high]]], np.float64), to_pixels
    )[0]
    left, top = np.maximum(np.floor(corners.min(0)).astype(int) - 1, 0)
    right = min(int(np.ceil(corners[:, 0].max())) + 1, picture.shape[1])
    bottom = min(int(np.ceil(corners[:, 1].max())) + 1, picture.shape[0])
    if right <= left or bottom <= top:
        return
    moved = np.array([[1, 0, -left], [0, 1, -top], [0, 0, 1.0]]) @ to_pixels
    shrink = np.sqrt(abs(np.linalg.det(moved[:2, :2] / moved[2, 2])))
    if shrink < 0.5:
        colour, alpha = (cv2.GaussianBlur(each, (0, 0), 0.4 / shrink) for each in (colour, alpha))
    size = (int(right - left), int(bottom - top))
    warped = cv2.warpPerspective(colour, moved, size, flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    mask = cv2.warpPerspective(alpha, moved, size, flags=cv2.INTER_LINEAR)[..., None]
    region = picture[top:bottom, left:right]
    region += mask * (warped - region)


def _stand(picture: Image, body: Body, stands_at: float, camera: _Camera, view: View) -> None:
    if body.kind == "fader":
        _cap(picture, body, stands_at, camera, view)
    elif body.kind in ("switch", "slide"):
        _lever(picture, body, stands_at, camera, view)
    elif body.kind == "lamp":
        _lamp(picture, body, stands_at, camera)
    else:
        _knob(picture, body, stands_at, camera, view)


def _knob(picture: Image, body: Body, degrees: float, camera: _Camera, view: View) -> None:
    reach = body.radius * 1.5
    side = int(2 * reach * FINE)
    rows, columns = (np.mgrid[0:side, 0:side].astype(np.float32) + 0.5) / FINE - reach
    rho = np.hypot(rows, columns) / body.radius
    turn = np.arctan2(columns, -rows) - np.radians(degrees)  # from the mark, clockwise
    facing = np.arctan2(rows, columns) - view.lamp
    at = (body.x - reach, body.y - reach)
    ground = np.asarray(body.colour, np.float32)
    if body.make == "skirt":
        _skirt(picture, body, degrees, camera, rho, turn, at)
    base = 0.12 if body.make == "skirt" else 0.0
    inner = 0.62 if body.make == "skirt" else 1.0
    for share in np.linspace(base, 1, SLICES):
        outline = inner * (1 - (1 - body.taper) * share) * _outline(body, turn, share)
        alpha = np.clip((outline - rho) * body.radius * FINE + 0.5, 0, 1)
        light = (0.55 + 0.45 * np.cos(facing)) * (0.6 + 0.4 * share)
        colour = ground * light[..., None]
        if body.make in ("side", "chicken", "line", "knurled") and share > 0.25:
            marked = (
                (np.abs(np.sin(turn)) * rho < body.mark_width * 0.6)
                & (np.cos(turn) > 0)
                & (rho > 0.5 * outline)
            )
            if body.make == "side":
                colour = np.where(marked[..., None], np.asarray(body.mark_colour) * light[..., None], colour)
        if share == 1:
            colour = _top(body, rho / np.maximum(outline, 1e-3), rho, turn, facing)
        _lay(
            picture,
            colour.astype(np.float32),
            alpha.astype(np.float32),
            camera.plane(body.height * share),
            1 / FINE,
            at,
        )


def _outline(body: Body, turn: Image, share: float) -> Any:
    if body.make == "chicken":
        broad = 0.52 * (1 - 0.1 * share)
        along = 1.05 * np.maximum(np.cos(turn), 0) ** 6
        back = 0.72 * np.maximum(-np.cos(turn), 0) ** 4
        return np.maximum(broad, np.maximum(along, back) + 0 * turn) / 1.0
    if body.make == "knurled":
        return 1 - 0.05 * (0.5 + 0.5 * np.cos(body.teeth * turn))
    if body.make == "notch":
        away = np.abs((turn + np.pi) % (2 * np.pi) - np.pi)
        return np.where(away < body.mark_width * 1.2, 0.8, 1.0)
    return 1.0


def _top(body: Body, share: Any, rho: Any, turn: Any, facing: Any) -> Any:
    ground = np.asarray(body.colour, np.float32)
    light = 0.92 + 0.12 * np.cos(facing) * share
    if body.make == "metal":
        light = light * (1 + 0.35 * np.cos(2 * facing) ** 3)
    edge = np.clip((share - 0.9) * 10, 0, 1)
    light = light * (1 + 0.25 * edge * np.cos(facing))
    colour = ground * light[..., None]
    across, along = np.sin(turn) * share, np.cos(turn) * share
    half = body.mark_width / 2
    soft = body.radius * FINE
    if body.make == "dot" or (body.make == "metal" and body.teeth % 3 == 0):
        mark = np.clip((half * 1.5 - np.hypot(across, along - 0.68)) * soft, 0, 1)
    elif body.make == "arrow":
        inside = np.minimum((0.95 - along) * 0.6, along - 0.35)
        mark = np.clip((np.minimum(inside, (0.97 - along) * 0.35 - np.abs(across))) * soft, 0, 1)
    elif body.make in ("side", "notch"):
        mark = np.zeros_like(share)
    else:
        start = max(body.mark_from, 0.05)
        mark = np.clip(
            np.minimum(half - np.abs(across), np.minimum(along - start, 0.96 - along)) * soft, 0, 1
        )
    colour = colour + mark[..., None] * (np.asarray(body.mark_colour, np.float32) * light[..., None] - colour)
    gleam = body.gloss * np.exp(-((rho * np.cos(facing) - 0.45) ** 2 + (rho * np.sin(facing)) ** 2) / 0.05)
    return colour + 0.35 * gleam[..., None]


def _skirt(picture: Image, body: Body, degrees: float, camera: _Camera, rho: Any, turn: Any, at: Any) -> None:
    """A flat skirt with ticks and numerals all round; its zero stands opposite to the mark's own reading."""
    colour = np.asarray(body.colour, np.float32) * np.ones((*rho.shape, 1), np.float32)
    ink = tuple(map(float, body.mark_colour))
    middle, scale = rho.shape[0] / 2, body.radius * FINE
    colour = np.ascontiguousarray(colour)
    for place in range(11):
        way = np.radians(degrees + place * 30)
        out = np.array([np.sin(way), -np.cos(way)])
        ends = [tuple(np.round(middle + out * scale * share).astype(int).tolist()) for share in (0.9, 0.99)]
        cv2.line(colour, ends[0], ends[1], ink, max(2, round(0.04 * scale)), cv2.LINE_AA)
        spot = np.round(middle + out * scale * 0.77 + (-0.06 * scale, 0.06 * scale)).astype(int).tolist()
        letter(colour, str(place), tuple(spot), body.font, 0.008 * scale, ink, 2)
    alpha = np.clip((1.0 - rho) * scale + 0.5, 0, 1).astype(np.float32)
    for share in (0.04, 0.08, 0.12):
        _lay(picture, colour, alpha, camera.plane(body.height * share), 1 / FINE, at)


def _cap(picture: Image, body: Body, stands_at: float, camera: _Camera, view: View) -> None:
    wide, high = body.radius * 2, body.radius * 1.3
    y = body.y + body.length * (0.5 - stands_at)
    for share in np.linspace(0, 1, 6):
        piece = np.ones((round(high * FINE), round(wide * FINE), 3), np.float32) * np.asarray(body.colour)
        piece *= 0.6 + 0.4 * share
        if share == 1:
            middle = piece.shape[0] // 2
            piece[middle - 5 : middle + 5] = body.mark_colour
        alpha = np.ones(piece.shape[:2], np.float32)
        _lay(
            picture,
            piece.astype(np.float32),
            alpha,
            camera.plane(body.height * share),
            1 / FINE,
            (body.x - wide / 2, y - high / 2),
        )


def _lever(picture: Image, body: Body, stands_at: float, camera: _Camera, view: View) -> None:
    way = -1.0 if stands_at else 1.0
    if body.kind == "slide":
        well = np.full((round(14 * FINE), round(6 * FINE), 3), 0.02, np.float32)
        _lay(
            picture,
            well,
            np.ones(well.shape[:2], np.float32),
            camera.plane(0.0),
            1 / FINE,
            (body.x - 3, body.y - 7),
        )
        thumb = np.ones((round(6.5 * FINE), round(5.4 * FINE), 3), np.float32) * np.asarray(
            body.mark_colour, np.float32
        )
        thumb[:: max(2, round(FINE))] *= 0.6
        place = (body.x - 2.7, body.y - 3.25 + way * 3.4)
        _lay(picture, thumb, np.ones(thumb.shape[:2], np.float32), camera.plane(1.2), 1 / FINE, place)
        return
    _disc(picture, camera, body.x, body.y, 0.5, body.radius, (0.5, 0.5, 0.52))
    for share in np.linspace(0, 1, 14):
        y = body.y + way * share * body.height * 0.42
        tone = 0.45 + 0.45 * share
        _disc(
            picture, camera, body.x, y, 1 + share * body.height * 0.9, 1.5 + share * 0.8, (tone, tone, tone)
        )


def _lamp(picture: Image, body: Body, stands_at: float, camera: _Camera) -> None:
    lit = (0.25, 0.3, 1.3) if stands_at else (0.04, 0.04, 0.22)
    _disc(picture, camera, body.x, body.y, 0.4, body.radius, (0.4, 0.4, 0.4))
    _disc(picture, camera, body.x, body.y, body.height, body.radius * 0.8, lit)


def _disc(picture: Image, camera: _Camera, x: float, y: float, z: float, radius: float, colour: Any) -> None:
    side = int((2 * radius + 1) * FINE)
    rows, columns = (np.mgrid[0:side, 0:side] + 0.5) / FINE - side / FINE / 2
    alpha = np.clip((radius - np.hypot(rows, columns)) * FINE + 0.5, 0, 1).astype(np.float32)
    piece = np.ones((side, side, 3), np.float32) * np.asarray(colour, np.float32)
    _lay(picture, piece, alpha, camera.plane(z), 1 / FINE, (x - side / FINE / 2, y - side / FINE / 2))


def _light(view: View, size: tuple[int, int]) -> Image:
    wide, high = size
    across = np.arange(wide, dtype=np.float32)[None] / wide - 0.5
    down = np.arange(high, dtype=np.float32)[:, None] / high - 0.5
    lit = 1 + view.gradient * np.float32(np.cos(view.lamp)) * across - 0.35 * across**2
    lit = lit + view.gradient * np.float32(np.sin(view.lamp)) * down - 0.35 * down**2
    tint = np.array([1 - view.warmth, 1, 1 + view.warmth], np.float32) * np.float32(view.exposure)
    return np.asarray(lit[..., None] * tint, np.float32)


def _blob(size: tuple[int, int], spot: Array, spread: float) -> Image:
    wide, high = size
    across = np.exp(-((np.arange(wide, dtype=np.float32) - spot[0]) ** 2) / (2 * spread**2))
    down = np.exp(-((np.arange(high, dtype=np.float32) - spot[1]) ** 2) / (2 * spread**2))
    return np.outer(down, across).astype(np.float32)


def _cable(chance: np.random.Generator, picture: Image, cover: Any, size: tuple[int, int]) -> None:
    wide, high = size
    xs = np.linspace(0, wide, 40)
    bend = np.polynomial.Polynomial(chance.uniform(-0.5, 0.5, 4))
    ys = high * (chance.uniform(0.25, 0.8) + 0.35 * bend(np.linspace(-1, 1, 40)))
    points = np.column_stack([xs, ys]).round().astype(np.int32)
    thick = round(wide * chance.uniform(0.012, 0.025))
    cv2.polylines(picture, [points], False, (0.03, 0.03, 0.03), thick, cv2.LINE_AA)
    cv2.polylines(picture, [points - thick // 5], False, (0.2, 0.2, 0.2), max(1, thick // 6), cv2.LINE_AA)
    cv2.polylines(cover, [points], False, 255, thick)


def _through_lens(picture: Any, camera: _Camera) -> Any:
    wide, high = camera.size
    middle = np.array([wide, high], np.float32) / 2
    rows, columns = np.mgrid[0:high, 0:wide].astype(np.float32)
    x, y = columns - middle[0], rows - middle[1]
    square = (x**2 + y**2) / middle.max() ** 2
    straight = 1 - camera.bend * square * (
        1 - 2 * camera.bend * square
    )  # the inverse of 1 + k r², to second order
    return cv2.remap(picture, middle[0] + x * straight, middle[1] + y * straight, cv2.INTER_LINEAR)


def _truth(body: Body, stands_at: float, camera: _Camera, cover: Any) -> Truth:
    top = body.height if body.kind in ("knob", "fader") else 0.0
    if body.make == "skirt":
        top = 0.12 * body.height
    wide = 1.0 if body.make in ("skirt", "chicken") else body.taper
    reach = body.radius * (wide if body.kind == "knob" else {"switch": 2.6, "slide": 1.2}.get(body.kind, 1.5))
    centre = camera.see(body.x, body.y, top)
    edge = camera.see(body.x + reach, body.y, top)
    ends = [camera.see(body.x, body.y + half * body.length, top) for half in (0.5, -0.5)]
    radius = float(np.hypot(*(edge - centre)))
    inside = np.zeros_like(cover)
    cv2.circle(inside, tuple(np.round(centre).astype(int).tolist()), round(radius), 255, -1)
    area = max(int((inside > 0).sum()), 1)
    return Truth(
        key=body.key,
        stands_at=stands_at,
        centre=tuple(map(float, centre)),  # type: ignore[arg-type]
        edge=tuple(map(float, edge)),  # type: ignore[arg-type]
        ends=tuple(tuple(map(float, end)) for end in ends),  # type: ignore[arg-type]
        radius_px=radius,
        covered=float(((cover > 100) & (inside > 0)).sum()) / area,
    )


def _taken(chance: np.random.Generator, picture: Image, view: View) -> npt.NDArray[np.uint8]:
    picture = cv2.GaussianBlur(picture, (0, 0), view.defocus)
    if view.shake >= 1:
        long = int(np.ceil(view.shake)) | 1
        kernel = np.zeros((long, long), np.float32)
        reach = np.array([np.cos(view.shake_way), np.sin(view.shake_way)]) * view.shake / 2
        one, other = ((long // 2 + sign * reach).round().astype(int).tolist() for sign in (-1, 1))
        cv2.line(kernel, tuple(one), tuple(other), 1.0, 1)
        picture = cv2.filter2D(picture, -1, kernel / kernel.sum())
    noise = chance.standard_normal((*picture.shape[:2], 1), dtype=np.float32)
    picture = np.clip(picture, 0, None) + view.noise * noise * (0.4 + np.sqrt(np.clip(picture, 0, 1)))
    bright = cv2.pow(np.clip(picture * np.float32(1 / max(view.exposure, 0.6)), 0, 1), 1 / 2.2)
    stored = cv2.imencode(".jpg", (bright * 255).astype(np.uint8), [cv2.IMWRITE_JPEG_QUALITY, view.quality])[
        1
    ]
    return cv2.imdecode(stored, cv2.IMREAD_COLOR)  # type: ignore[return-value]
