"""The level along a signal's way: one row for each place, its level, its maximum, and the headroom between."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor
from xml.etree.ElementTree import Element

from app.drawings import svg
from app.drawings.lettering import shorten, width_of
from app.drawings.svg import Drawing
from app.drawings.wording import decibels
from app.trade.level_plan import LevelPoint

_LETTERS = 12.0
_ROW = 34.0
_ROW_NARROW = 46.0
_HEAD = 26.0
_TOP = 8.0
_BOTTOM = 40.0


@dataclass(frozen=True)
class LevelRun:
    """A way of the signal and the level at each of its places, in order."""

    name: str
    points: tuple[LevelPoint, ...]


def level_diagram(runs: Sequence[LevelRun], *, width: int = 720) -> Drawing:
    """Rows from top to bottom in the signal's order; levels in dBu to the right.

    A dot is the level, a bar across is the most the place takes, the stroke between them the headroom; where the level
    passes the maximum the stroke is heavy and says by how much.
    """
    width = max(width, 260)
    kept = [run for run in runs if run.points]
    finding = _finding(kept)
    if not kept:
        root = svg.sheet(width, 40)
        svg.label(root, (width / 2, 25), "No level known along the chain yet", size=_LETTERS, anchor="middle")
        return svg.finished(root, finding)
    is_narrow = width < 480
    row = _ROW_NARROW if is_narrow else _ROW
    rows = sum(len(run.points) for run in kept)
    names = [point.name for run in kept for point in run.points]
    left = 10.0 if is_narrow else min(width * 0.3, max(width_of(name, _LETTERS) for name in names)) + 26
    room = 10.0 + width_of("headroom 100.0 dB", _LETTERS - 1)
    height = _TOP + rows * row + len(kept) * _HEAD + _BOTTOM
    scale = _Scale(left, width - room, *_ends(kept))
    root = svg.sheet(width, height)
    root.set("class", "level-diagram")
    _draw_axis(root, scale, _TOP, height - _BOTTOM)
    y = _TOP
    for run in kept:
        svg.label(
            root, (0 if is_narrow else 4, y + 17), shorten(run.name, width - 8, _LETTERS),
            size=_LETTERS, full=run.name, font_weight="700",
        )  # fmt: skip
        y += _HEAD
        middles = [y + row * (index + (0.7 if is_narrow else 0.5)) for index in range(len(run.points))]
        way = [(scale.x(p.level_dbu), at) for p, at in zip(run.points, middles, strict=True)]
        if len(way) > 1:
            svg.polyline(root, way, weight=1, opacity="0.55", stroke_dasharray="2 3")
        for point, middle in zip(run.points, middles, strict=True):
            _draw_point(root, scale, point, middle, width, is_narrow)
        y += row * len(run.points)
    return svg.finished(root, finding)


@dataclass(frozen=True)
class _Scale:
    left: float
    right: float
    low_dbu: float
    high_dbu: float

    def x(self, level_dbu: float) -> float:
        return self.left + (self.right - self.left) * (level_dbu - self.low_dbu) / (
            self.high_dbu - self.low_dbu
        )


def _ends(runs: Sequence[LevelRun]) -> tuple[float, float]:
    levels = [point.level_dbu for run in runs for point in run.points]
    levels += [point.max_dbu for run in runs for point in run.points if point.max_dbu is not None]
    low, high = floor((min(levels) - 3) / 10) * 10, ceil((max(levels) + 3) / 10) * 10
    return float(low), float(max(high, low + 20))


def _draw_axis(root: Element, scale: _Scale, top: float, bottom: float) -> None:
    axis = svg.group(root, class_="axes")
    step = next(step for step in (10, 20, 40, 80) if (scale.high_dbu - scale.low_dbu) / step <= 8)
    level = ceil(scale.low_dbu / step) * step
    while level <= scale.high_dbu:
        x = scale.x(level)
        svg.line(axis, (x, top), (x, bottom), weight=1, opacity="0.5" if level == 0 else "0.16")
        svg.label(axis, (x, bottom + 15), f"{level:g}".replace("-", "−"), size=_LETTERS - 1, anchor="middle")
        level += step
    svg.label(
        axis, ((scale.left + scale.right) / 2, bottom + 32), "Peak level in dBu", size=_LETTERS - 1, anchor="middle"
    )  # fmt: skip


def _draw_point(
    root: Element, scale: _Scale, point: LevelPoint, y: float, width: float, is_narrow: bool
) -> None:
    drawn = svg.group(root, class_="level")
    x = scale.x(point.level_dbu)
    is_over = point.headroom_db is not None and point.headroom_db < 0
    if is_narrow:
        svg.label(
            drawn, (10, y - 13), shorten(point.name, width - 12, _LETTERS), size=_LETTERS, full=point.name
        )
    else:
        name = shorten(point.name, scale.left - 18, _LETTERS)
        svg.label(drawn, (14, y + 4), name, size=_LETTERS, full=point.name)
    svg.line(drawn, (scale.left, y), (x, y), weight=1, opacity="0.3")
    if point.max_dbu is not None:
        most = scale.x(point.max_dbu)
        svg.line(
            drawn, (x, y), (most, y), weight=4.5 if is_over else 1.6, class_="flag" if is_over else "room"
        )
        svg.line(drawn, (most, y - 9), (most, y + 9), weight=2.4)
    svg.dot(drawn, (x, y), 4.5)
    svg.label(
        drawn, (scale.right + 10, y - 1), f"{decibels(point.level_dbu, signed=True)} dBu", size=_LETTERS
    )
    if point.headroom_db is not None:
        said = "over by" if is_over else "headroom"
        words = f"{said} {decibels(abs(point.headroom_db))} dB"
        label = svg.label(drawn, (scale.right + 10, y + 12), words, size=_LETTERS - 1)
        if is_over:
            label.set("class", "flag")
            label.set("font-weight", "700")


def _finding(runs: Sequence[LevelRun]) -> str:
    if not runs:
        return "Level diagram: no level known yet."
    said = []
    for run in runs:
        places = []
        for point in run.points:
            words = f"{point.name} {decibels(point.level_dbu, signed=True)} dBu"
            if point.headroom_db is not None:
                over = point.headroom_db < 0
                words += f" ({'over by' if over else 'headroom'} {decibels(abs(point.headroom_db))} dB)"
            places.append(words)
        said.append(f"{run.name}: {', '.join(places)}.")
    return f"Level diagram, peaks. {' '.join(said)}"
