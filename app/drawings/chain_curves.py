"""Curves in dB over frequency of what a reference signal told of a chain: its response, its harmonics.

Curves are told apart by dash, weight and the name at their end.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from app.drawings import svg
from app.drawings.frequency_plot import FrequencyPlot, axis_of, draw_axes, plot_on
from app.drawings.named_lines import LETTERS, Point, draw_line, draw_names, room_beneath
from app.drawings.read_out import with_read_out
from app.drawings.svg import Drawing
from app.drawings.wording import decibels, hertz

DRAWN_RANGE_DB = 60.0
"""What lies further under the highest point says nothing of the sound."""


@dataclass(frozen=True)
class ChainCurve:
    """(hz, dB) rising in frequency."""

    name: str
    points: Sequence[tuple[float, float]]


def chain_curves(what: str, curves: Sequence[ChainCurve], *, width: int = 720, height: int = 280) -> Drawing:
    """`what` begins the finding: "Response in dB"."""
    width, height = max(width, 240), max(height, 160)
    drawn = [curve for curve in curves if curve.points]
    names = [curve.name for curve in drawn]
    root = svg.sheet(width, height + room_beneath(names, width))
    root.set("class", "chain-curves")
    if not drawn:
        svg.label(root, (width / 2, height / 2), "Nothing known to draw", size=LETTERS, anchor="middle")
        return svg.finished(root, f"{what}: nothing known.")
    levels = [db for curve in drawn for _, db in curve.points]
    floor_db = max(levels) - DRAWN_RANGE_DB
    low_db, high_db, step_db = axis_of([max(db, floor_db) for db in levels], True)
    everywhere = [hz for curve in drawn for hz, _ in curve.points]
    plot = plot_on(
        (width, height),
        (min(everywhere) * 0.95, max(everywhere) * 1.05),
        (low_db, high_db),
    )
    draw_axes(root, plot, step_db, "dB")
    ends: list[Point | None] = []
    for index, curve in enumerate(drawn):
        points = [(plot.x(hz), plot.y(max(db, floor_db))) for hz, db in curve.points]
        draw_line(svg.group(root, class_="curve", stroke_linejoin="round"), points, index)
        ends.append(points[-1])
    draw_names(root, plot, names, ends, height)
    with_read_out(root, names, _columns(drawn, plot))
    return svg.finished(root, f"{what}. {' '.join(_highest(curve) for curve in drawn)}")


def _columns(curves: Sequence[ChainCurve], plot: FrequencyPlot) -> list[tuple[float, str, list[str]]]:
    by_hz = [dict(curve.points) for curve in curves]
    places = sorted({hz for curve in curves for hz, _ in curve.points})
    return [
        (
            plot.x(hz),
            hertz(float(f"{hz:.3g}")),
            [f"{decibels(each[hz], signed=True)} dB" if hz in each else "–" for each in by_hz],
        )
        for hz in places
    ]


def _highest(curve: ChainCurve) -> str:
    hz, db = max(curve.points, key=lambda point: point[1])
    return f"{curve.name}: highest {decibels(db, signed=True)} dB at {hertz(float(f'{hz:.3g}'))}."
