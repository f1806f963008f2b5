"""Short-term loudness over time, several prints laid over each other."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor, isfinite
from xml.etree.ElementTree import SubElement

from app.drawings import svg
from app.drawings.named_lines import BESIDE, LETTERS, Point, draw_line, draw_names, room_beneath
from app.drawings.read_out import Column, with_read_out
from app.drawings.svg import Drawing
from app.drawings.time_axis import draw_time, in_step
from app.drawings.wording import clock_time, decibels, figure

DRAWN_RANGE_LU = 40.0  # what lies further under the loudest moment is a rest


@dataclass(frozen=True)
class LoudnessCurve:
    """A named print: (seconds on the source's time line, LUFS or None), rising in time."""

    name: str
    points: Sequence[tuple[float, float | None]]


@dataclass(frozen=True)
class _Plot:
    left: float
    top: float
    width: float
    height: float


def loudness(
    curves: Sequence[LoudnessCurve], length_s: float, *, width: int = 720, height: int = 220
) -> Drawing:
    """Short-term loudness (EBU Tech 3341: three seconds) in LUFS over `length_s` seconds. A rest leaves a gap."""
    width, height = max(width, 240), max(height, 140)
    known = [lufs for curve in curves for _, lufs in curve.points if lufs is not None and isfinite(lufs)]
    finding = _finding(curves)
    names = [curve.name for curve in curves]
    root = svg.sheet(width, height + room_beneath(names, width))
    root.set("class", "loudness")
    if not known or not length_s > 0:
        svg.label(root, (width / 2, height / 2), "No loudness to draw", size=LETTERS, anchor="middle")
        return svg.finished(root, finding)
    plot = _Plot(42, 20, width - 42 - BESIDE, height - 48)
    high = ceil(max(known) / 5) * 5
    low = max(floor(min(known) / 5) * 5, high - DRAWN_RANGE_LU)

    def y(lufs: float) -> float:
        return plot.top + plot.height * (high - lufs) / max(5.0, high - low)

    svg.label(root, (plot.left - 8, plot.top - 9), "LUFS", size=LETTERS - 1, anchor="end")
    step = 5 if high - low <= 25 else 10
    for k in range(round((high - low) / step) + 1):
        level = high - k * step
        svg.line(root, (plot.left, y(level)), (plot.left + plot.width, y(level)), weight=1, opacity="0.16")
        svg.label(root, (plot.left - 8, y(level) + 4), figure(level), size=LETTERS - 1, anchor="end")
    draw_time(root, length_s, plot.left, plot.left + plot.width, plot.top + plot.height)
    in_step(root, length_s, plot.left, plot.left + plot.width, (plot.top, plot.top + plot.height))
    ends: list[Point | None] = []
    for index, curve in enumerate(curves):
        drawn = svg.group(root, class_="curve", stroke_linejoin="round")
        SubElement(drawn, "title").text = svg.written(curve.name)
        end: Point | None = None
        for run in _runs(curve, low, length_s):
            points = [(plot.left + plot.width * at / length_s, y(lufs)) for at, lufs in run]
            draw_line(drawn, points, index)
            end = points[-1]
        ends.append(end)
    draw_names(root, plot, names, ends, height)
    with_read_out(root, names, _columns(curves, plot, length_s))
    return svg.finished(root, finding)


def _columns(curves: Sequence[LoudnessCurve], plot: _Plot, length_s: float) -> list[Column]:
    """A column each second, with the nearest moment of each curve within half a second of it."""
    columns: list[Column] = []
    for second in range(floor(length_s) + 1):
        values = []
        for curve in curves:
            near = [(abs(at - second), lufs) for at, lufs in curve.points if abs(at - second) <= 0.5]
            lufs = min(near, key=lambda each: each[0])[1] if near else None
            values.append("–" if lufs is None else f"{decibels(lufs)} LUFS")
        columns.append((plot.left + plot.width * second / length_s, clock_time(second), values))
    return columns


def _runs(curve: LoudnessCurve, low: float, length_s: float) -> list[list[Point]]:
    """The curve as runs without gaps, of what lies on the paper."""
    runs: list[list[Point]] = [[]]
    for at_s, lufs in curve.points:
        if lufs is not None and isfinite(lufs) and lufs >= low and 0 <= at_s <= length_s:
            runs[-1].append((at_s, lufs))
        elif runs[-1]:
            runs.append([])
    return [run for run in runs if run]


def _finding(curves: Sequence[LoudnessCurve]) -> str:
    said = []
    for curve in curves:
        known = [lufs for _, lufs in curve.points if lufs is not None]
        if known:
            said.append(f"{curve.name}: from {decibels(min(known))} to {decibels(max(known))} LUFS.")
        else:
            said.append(f"{curve.name}: no loudness.")
    return "Short-term loudness over time. " + " ".join(said)
