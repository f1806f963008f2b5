"""The signal's way through the gear: boxes in order, side by side where it splits and joins again."""

from collections.abc import Sequence
from dataclasses import dataclass
from xml.etree.ElementTree import Element, SubElement

from app.drawings import svg
from app.drawings.lettering import width_of, wrap
from app.drawings.svg import Drawing

_LETTERS = 12.0
_SMALL_LETTERS = 11.0
_LINE = 14.0
_PAD = 9.0
_NAME_LINES = 3
_DETAIL_LINES = 2
_NARROWEST = 84.0
_WIDEST = 150.0
_GAP = 24.0
_FORK = 16.0
_BETWEEN_BRANCHES = 12.0
_MARGIN = 14.0
_WIRE = 1.5


@dataclass(frozen=True)
class Stage:
    """One piece of gear in the way; `detail` is a second, fainter line."""

    name: str
    detail: str = ""


@dataclass(frozen=True)
class Parallel:
    """Ways that the signal takes at once; an empty branch is a plain wire."""

    branches: tuple[tuple[Stage, ...], ...]


def chain(stages: Sequence[Stage | Parallel], *, width: int = 720) -> Drawing:
    """The chain from left to right, in as many rows as it takes; from top to bottom on a narrow sheet.

    Names too long for their box are shortened, the whole name shown by a pointer resting on it.
    """
    width = max(width, 200)
    finding = _finding(stages)
    kept = [stage for stage in stages if isinstance(stage, Stage) or stage.branches]
    if not kept:
        root = svg.sheet(width, 40)
        root.set("class", "chain")
        svg.label(root, (width / 2, 25), "No gear in the chain", size=_LETTERS, anchor="middle")
        return svg.finished(root, finding)
    box_width = _box_width_across(kept, width)
    if width < 480 or box_width < _NARROWEST:
        return _downwards(kept, width, finding)
    return _across(kept, width, box_width, finding)


def _box_width_across(stages: Sequence[Stage | Parallel], width: float) -> float:
    """The widest box with which the longest split still fits into one row."""
    longest = max(_columns(stage) for stage in stages)
    forks = 2 * _FORK if longest > 1 or any(isinstance(stage, Parallel) for stage in stages) else 0.0
    room = width - 2 * _MARGIN - forks - (longest - 1) * _GAP
    return min(_WIDEST, room / longest, max(_NARROWEST, max(_wished(stage) for stage in stages)))


def _columns(stage: Stage | Parallel) -> int:
    return 1 if isinstance(stage, Stage) else max(1, *(len(branch) for branch in stage.branches))


def _wished(stage: Stage | Parallel) -> float:
    """The box width at which names take about two lines."""
    if isinstance(stage, Parallel):
        return max((_wished(each) for branch in stage.branches for each in branch), default=0.0)
    longest_word = max((width_of(word, _LETTERS) for word in stage.name.split()), default=0.0)
    return (
        max(longest_word, width_of(stage.name, _LETTERS) / 2, width_of(stage.detail, _SMALL_LETTERS) / 2)
        + 2 * _PAD
    )


def _across(stages: Sequence[Stage | Parallel], width: float, box_width: float, finding: str) -> Drawing:
    rows: list[list[Stage | Parallel]] = [[]]
    reached = _MARGIN
    for stage in stages:
        wide = _width_across(stage, box_width)
        if rows[-1] and reached + wide > width - _MARGIN:
            rows.append([])
            reached = _MARGIN
        rows[-1].append(stage)
        reached += wide + _GAP

    heights = [max(_height_across(stage, box_width) for stage in row) for row in rows]
    between_rows = 26.0
    height = sum(heights) + between_rows * (len(rows) - 1) + 4
    used = (
        max(sum(_width_across(stage, box_width) + _GAP for stage in row) - _GAP for row in rows) + 2 * _MARGIN
    )
    root = svg.sheet(width if len(rows) > 1 else min(width, used), height)
    root.set("class", "chain")
    top = 2.0
    for number, (row, row_height) in enumerate(zip(rows, heights, strict=True)):
        x, middle = _MARGIN, top + row_height / 2
        for place, stage in enumerate(row):
            if place:
                _arrow(root, (x - _GAP, middle), (x, middle))
            _draw_across(root, stage, x, middle, box_width)
            x += _width_across(stage, box_width) + _GAP
        if number + 1 < len(rows):
            x -= _GAP
            turn = top + row_height + between_rows / 2
            below = top + row_height + between_rows + heights[number + 1] / 2
            bend = min(x + 8, width - 2)
            corners = [(x, middle), (bend, middle), (bend, turn), (4, turn), (4, below)]
            svg.polyline(root, corners, weight=_WIRE)
            _arrow(root, (4, below), (_MARGIN, below))
        top += row_height + between_rows
    return svg.finished(root, finding)


def _width_across(stage: Stage | Parallel, box_width: float) -> float:
    columns = _columns(stage)
    boxes = columns * box_width + (columns - 1) * _GAP
    return boxes if isinstance(stage, Stage) else boxes + 2 * _FORK


def _height_across(stage: Stage | Parallel, box_width: float) -> float:
    if isinstance(stage, Stage):
        return _box_height(stage, box_width)
    heights = [_branch_height_across(branch, box_width) for branch in stage.branches]
    return sum(heights) + _BETWEEN_BRANCHES * (len(heights) - 1)


def _branch_height_across(branch: Sequence[Stage], box_width: float) -> float:
    return max((_box_height(stage, box_width) for stage in branch), default=_LINE)


def _draw_across(root: Element, stage: Stage | Parallel, x: float, middle: float, box_width: float) -> None:
    if isinstance(stage, Stage):
        height = _box_height(stage, box_width)
        _box(root, stage, (x, middle - height / 2), (box_width, height))
        return
    right = x + _width_across(stage, box_width)
    top = middle - _height_across(stage, box_width) / 2
    centres: list[float] = []
    for branch in stage.branches:
        branch_height = _branch_height_across(branch, box_width)
        centre = top + branch_height / 2
        centres.append(centre)
        at = x + _FORK
        for each in branch:
            _arrow(root, (at - (_FORK if at == x + _FORK else _GAP), centre), (at, centre))
            height = _box_height(each, box_width)
            _box(root, each, (at, centre - height / 2), (box_width, height))
            at += box_width + _GAP
        svg.line(root, (at - _GAP if branch else x, centre), (right, centre), weight=_WIRE)
        top += branch_height + _BETWEEN_BRANCHES
    for post in (x, right):
        svg.line(root, (post, min(centres)), (post, max(centres)), weight=_WIRE)
        svg.dot(root, (post, middle), 2.4)


def _downwards(stages: Sequence[Stage | Parallel], width: float, finding: str) -> Drawing:
    heights = [_height_down(stage, width) for stage in stages]
    step = 18.0
    root = svg.sheet(width, sum(heights) + step * (len(heights) - 1) + 4)
    root.set("class", "chain")
    y, middle = 2.0, width / 2
    for number, (stage, height) in enumerate(zip(stages, heights, strict=True)):
        if number:
            _arrow(root, (middle, y - step), (middle, y))
        _draw_down(root, stage, y, width)
        y += height + step
    return svg.finished(root, finding)


def _lane_width(split: Parallel, width: float) -> float:
    return (width - 4 - _BETWEEN_BRANCHES * (len(split.branches) - 1)) / len(split.branches)


def _height_down(stage: Stage | Parallel, width: float) -> float:
    if isinstance(stage, Stage):
        return _box_height(stage, width - 4)
    lane = _lane_width(stage, width)
    return 2 * _FORK + max(_branch_height_down(branch, lane) for branch in stage.branches)


def _branch_height_down(branch: Sequence[Stage], lane: float) -> float:
    return sum(_box_height(each, lane) for each in branch) + _FORK * max(0, len(branch) - 1)


def _draw_down(root: Element, stage: Stage | Parallel, y: float, width: float) -> None:
    if isinstance(stage, Stage):
        _box(root, stage, (2, y), (width - 4, _box_height(stage, width - 4)))
        return
    lane, bottom = _lane_width(stage, width), y + _height_down(stage, width)
    centres = [2 + lane / 2 + number * (lane + _BETWEEN_BRANCHES) for number in range(len(stage.branches))]
    for centre, branch in zip(centres, stage.branches, strict=True):
        at = y + _FORK
        for number, each in enumerate(branch):
            _arrow(root, (centre, at - _FORK), (centre, at))
            height = _box_height(each, lane)
            _box(root, each, (centre - lane / 2, at), (lane, height))
            at += height + (_FORK if number + 1 < len(branch) else 0)
        svg.line(root, (centre, at if branch else y), (centre, bottom), weight=_WIRE)
    for post in (y, bottom):
        svg.line(root, (min(centres), post), (max(centres), post), weight=_WIRE)
        svg.dot(root, (width / 2, post), 2.4)


def _lines(stage: Stage, box_width: float) -> tuple[list[str], list[str]]:
    room = box_width - 2 * _PAD
    name = wrap(stage.name, room, _LETTERS, _NAME_LINES)
    return name, wrap(stage.detail, room, _SMALL_LETTERS, _DETAIL_LINES) if stage.detail.strip() else []


def _box_height(stage: Stage, box_width: float) -> float:
    name, detail = _lines(stage, box_width)
    return _LINE * (len(name) + len(detail)) + 2 * _PAD - 3


def _box(root: Element, stage: Stage, corner: tuple[float, float], size: tuple[float, float]) -> None:
    drawn = svg.group(root, class_="stage")
    full = f"{stage.name}, {stage.detail}" if stage.detail.strip() else stage.name
    SubElement(drawn, "title").text = svg.written(full)
    svg.box(drawn, corner, size, weight=1.2)
    x, y = corner[0] + size[0] / 2, corner[1] + _PAD + 8
    name, detail = _lines(stage, size[0])
    for line in name:
        svg.label(drawn, (x, y), line, size=_LETTERS, anchor="middle", font_weight="700")
        y += _LINE
    for line in detail:
        svg.label(drawn, (x, y), line, size=_SMALL_LETTERS, anchor="middle")
        y += _LINE


def _arrow(root: Element, start: tuple[float, float], end: tuple[float, float]) -> None:
    """A wire that ends in a small head; it runs straight across or straight down."""
    x2, y2 = end
    is_across = start[1] == y2
    heads = (
        ((x2 - 6, y2 - 3.5), (x2 - 6, y2 + 3.5)) if is_across else ((x2 - 3.5, y2 - 6), (x2 + 3.5, y2 - 6))
    )
    svg.line(root, start, (x2 - 3, y2) if is_across else (x2, y2 - 3), weight=_WIRE)
    corners = " ".join(f"{svg.number(x)},{svg.number(y)}" for x, y in (end, *heads))
    SubElement(root, "polygon", {"points": corners, "fill": "currentColor"})


def _finding(stages: Sequence[Stage | Parallel]) -> str:
    if not stages:
        return "Signal chain: no gear."
    return f"Signal chain: {', then '.join(_said(stage) for stage in stages)}."


def _said(stage: Stage | Parallel) -> str:
    if isinstance(stage, Stage):
        return stage.name
    ways = (" into ".join(each.name for each in branch) or "a plain wire" for branch in stage.branches)
    return f"in parallel ({' | '.join(ways)})"
