"""Lines told apart by dash, weight and the name at their end, never by colour."""

from collections.abc import Sequence
from typing import Protocol
from xml.etree.ElementTree import Element

from app.drawings import svg
from app.drawings.lettering import width_of, wrap

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


def room_for_names(names: Sequence[str], width: float) -> tuple[float, float]:
    """How long the leader to a name is, and how wide the names may be, on a sheet of this width."""
    is_narrow = width < 480
    widest = max((width_of(name, LETTERS) for name in names), default=0.0) + 2
    return (15.0 if is_narrow else 26.0), min(width * (0.26 if is_narrow else 0.34), widest)


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
    root: Element, box: Box, names: Sequence[str], ends: Sequence[Point | None], leader: float, room: float
) -> None:
    """Each curve's name at its end, joined to it by a piece of its own line; in two lines where there is room."""
    right, bottom = box.left + box.width, box.top + box.height
    most_lines = 2 if len(names) * 2 * LINE_HEIGHT <= box.height else 1
    lines = [wrap(name, room, LETTERS, most_lines) for name in names]
    heights = [end[1] if end is not None else bottom for end in ends]
    order = sorted(range(len(names)), key=lambda index: heights[index])
    places = _spread(
        [heights[index] for index in order], [len(lines[index]) for index in order], box.top - 8, bottom + 4
    )
    for index, y in zip(order, places, strict=True):
        end = ends[index]
        weight, dashes = STROKES[index % len(STROKES)]
        if end is not None:
            drawn = svg.polyline(root, [end, (right + 4, y), (right + leader, y)], weight=weight)
            if dashes:
                drawn.set("stroke-dasharray", dashes)
        for number, words in enumerate(lines[index]):
            at = y + 4 + LINE_HEIGHT * (number - (len(lines[index]) - 1) / 2)
            svg.label(root, (right + leader + 5, at), words, size=LETTERS, full=names[index])


def _spread(wanted: Sequence[float], lines: Sequence[int], top: float, bottom: float) -> list[float]:
    """Middles near the wanted heights, in the same order, so that blocks of so many lines lie clear of each other.

    Only where the sheet is too short for all of them do they close up.
    """
    line = min(LINE_HEIGHT, (bottom - top) / max(1, sum(lines)))
    places: list[float] = []
    free_from = top - line / 2
    for y, count in zip(wanted, lines, strict=True):
        places.append(max(y, free_from + line * count / 2))
        free_from = places[-1] + line * count / 2
    free_to = bottom + line / 2
    for index in range(len(places) - 1, -1, -1):
        places[index] = min(places[index], free_to - line * lines[index] / 2)
        free_to = places[index] - line * lines[index] / 2
    return places
