"""Lines told apart by the number at their end, which the legend beneath names, never by colour; dash and weight help."""

from collections.abc import Sequence
from typing import Protocol
from xml.etree.ElementTree import Element

from app.drawings import svg
from app.drawings.lettering import shorten, width_of

LETTERS = 12.0
LINE_HEIGHT = 14.5
STROKES = (
    (2.6, ""),
    (1.2, ""),
    (2.0, "7 3.5"),
    (2.0, "2 3"),
    (1.8, "10 3 2 3"),
    (1.2, "12 4"),
    (2.6, "1 4.5"),
    (1.2, "9 3 2 3 2 3"),
)
PLAIN = 1
"""The stroke of a line that others are measured from."""

Point = tuple[float, float]


class Box(Protocol):
    """Where lines are drawn on the sheet."""

    @property
    def left(self) -> float: ...
    @property
    def top(self) -> float: ...
    @property
    def width(self) -> float: ...
    @property
    def height(self) -> float: ...


BESIDE = 30.0
"""Room beside the plot: a leader and the line's number."""
_SAMPLE = 37.0  # of a line and its number, before its name in the legend
_APART = 18.0
_ABOVE = 8.0


def room_beneath(names: Sequence[str], width: float) -> float:
    """How high the legend is, on a sheet of this width."""
    return _ABOVE + LINE_HEIGHT * 1.2 * len(_rows(names, width))


def _rows(names: Sequence[str], width: float) -> list[list[tuple[int, float]]]:
    """The numbers of the lines as they stand in the legend's rows, each with its place across."""
    rows: list[list[tuple[int, float]]] = []
    free_from = 0.0
    for index, name in enumerate(names):
        needed = min(_SAMPLE + width_of(name, LETTERS), width)
        if not rows or free_from + needed > width:
            rows.append([])
            free_from = 0.0
        rows[-1].append((index, free_from))
        free_from += needed + _APART
    return rows


def stroke_of(index: int, plain: int | None) -> int:
    """The number of a line's stroke: what the others are measured from is plain, and no other is."""
    if index == plain:
        return PLAIN
    return plain if index == PLAIN and plain is not None else index


def draw_line(root: Element, points: Sequence[Point], index: int) -> None:
    """The line of this number, in its own weight and dash."""
    weight, dashes = STROKES[index % len(STROKES)]
    if len(points) == 1:
        svg.dot(root, points[0], weight)
        return
    traced = svg.polyline(root, points, weight=weight)
    if dashes:
        traced.set("stroke-dasharray", dashes)


def draw_names(
    root: Element,
    box: Box,
    names: Sequence[str],
    ends: Sequence[Point | None],
    top: float,
    *,
    plain: int | None = None,
) -> None:
    """A dot where each line's data end and its number beside it; beneath, from `top` on, the numbers' names. `plain` is
    the line that the others are measured from."""
    right, bottom = box.left + box.width, box.top + box.height
    drawn = [(index, end) for index, end in enumerate(ends) if end is not None]
    drawn.sort(key=lambda each: each[1][1])
    places = _spread([end[1] for _, end in drawn], box.top - 4, bottom + 4)
    for (index, end), y in zip(drawn, places, strict=True):
        svg.dot(root, end, 2.6)
        svg.polyline(root, [end, (right + 6, y), (right + BESIDE - 14, y)], weight=0.8, opacity="0.45")
        svg.label(root, (right + BESIDE - 11, y + 4), str(index + 1), size=LETTERS, font_weight="700")
    width = right + BESIDE
    for row, placed in enumerate(_rows(names, width)):
        y = top + _ABOVE + LINE_HEIGHT * (1.2 * row + 0.7)
        for index, x in placed:
            draw_line(root, [(x, y - 4), (x + 20, y - 4)], stroke_of(index, plain))
            svg.label(root, (x + 25, y), str(index + 1), size=LETTERS, font_weight="700")
            shown = shorten(names[index], width - _SAMPLE - x, LETTERS)
            svg.label(root, (x + _SAMPLE, y), shown, size=LETTERS, full=names[index])


def _spread(wanted: Sequence[float], top: float, bottom: float) -> list[float]:
    """Middles near the wanted heights, in the same order, so that lines of letters lie clear of each other.

    Only where the sheet is too short for all of them do they close up.
    """
    line = min(LINE_HEIGHT, (bottom - top) / max(1, len(wanted)))
    places: list[float] = []
    free_from = top - line / 2
    for y in wanted:
        places.append(max(y, free_from + line / 2))
        free_from = places[-1] + line / 2
    free_to = bottom + line / 2
    for index in range(len(places) - 1, -1, -1):
        places[index] = min(places[index], free_to - line / 2)
        free_to = places[index] - line / 2
    return places
