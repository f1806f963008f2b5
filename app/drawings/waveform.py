"""A print's waveform in overview, with what is wrong with it marked where it is."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import isfinite, log10
from xml.etree.ElementTree import Element, SubElement

from app.drawings import svg
from app.drawings.lettering import shorten, width_of
from app.drawings.svg import Drawing
from app.drawings.time_axis import draw_time
from app.drawings.wording import clock_time, decibels

COLUMN_PX = 2.0  # narrower ones only make the page heavier
_LETTERS = 11.0
LANE = 14.0
_MOST_LANES = 3
LONGEST_S = 1e6  # no recording lasts eleven days; a longer one is a broken number
_RANGES_DBFS = (0, -6, -12, -20, -30, -40, -60)


@dataclass(frozen=True)
class Fault:
    """Something to look at, `at_s` seconds from the print's start."""

    at_s: float
    words: str


def waveform(
    columns: Sequence[tuple[float, float]],
    duration_s: float,
    *,
    faults: Sequence[Fault] = (),
    width: int = 720,
    height: int = 140,
) -> Drawing:
    """The lowest and highest sample of each column (1.0 = full scale) over `duration_s` seconds.

    The vertical range is the nearest round level above the peak, written at its line.
    """
    width, height = max(width, 200), max(height, 80)
    tidy = [(low, high) for low, high in columns if isfinite(low) and isfinite(high)]
    length_s = duration_s if 0 < duration_s < LONGEST_S else 0.0
    known = sorted((f for f in faults if abs(f.at_s) < LONGEST_S), key=lambda fault: fault.at_s)
    peak = max((max(abs(low), abs(high)) for low, high in tidy), default=0.0)
    finding = _finding(peak, length_s, known)
    root = svg.sheet(width, height)
    root.set("class", "waveform")
    if not tidy or not length_s:
        svg.label(root, (width / 2, height / 2), "No waveform to draw", size=_LETTERS + 1, anchor="middle")
        return svg.finished(root, finding)

    left, right = 48.0, width - 8.0
    lanes = fault_lanes(known, length_s, left, right)
    lane_count = max((lane + 1 for lane in lanes if lane is not None), default=0)
    top, bottom = 8.0 + lane_count * LANE, height - 22.0
    draw_time(root, length_s, left, right, bottom)
    _draw_columns(root, tidy, peak, left, right, top, bottom)
    draw_faults(root, known, lanes, length_s, left, right, bottom)
    return svg.finished(root, finding)


def _draw_columns(
    root: Element,
    columns: Sequence[tuple[float, float]],
    peak: float,
    left: float,
    right: float,
    top: float,
    bottom: float,
) -> None:
    level_dbfs = range_dbfs(peak)
    reach = 10 ** (level_dbfs / 20) if peak <= 1.0 else peak
    middle, half = (top + bottom) / 2, (bottom - top) / 2 - 2
    for y in (middle - half, middle + half):
        svg.line(root, (left, y), (right, y), weight=1, opacity="0.25", stroke_dasharray="2 3")
    words = f"{'+' if peak > 1.0 else ''}{decibels(20 * log10(reach)).removesuffix('.0')}"
    svg.label(root, (left - 6, middle - half + 4), words, size=_LETTERS, anchor="end")
    svg.label(root, (left - 6, middle + 4), "dBFS", size=_LETTERS, anchor="end")
    merged = _merge(columns, max(1, round((right - left) / COLUMN_PX)))
    step = (right - left) / len(merged)
    thin = 0.4  # so that silence still shows as a line
    upper = [(left + step * k, middle - half * high / reach - thin) for k, (_, high) in enumerate(merged)]
    lower = [(left + step * k, middle - half * low / reach + thin) for k, (low, _) in enumerate(merged)]
    last = (right, upper[-1][1]), (right, lower[-1][1])
    outline = [*upper, *last, *reversed(lower)]
    points = " ".join(
        [f"{x:.1f},{y:.1f}" for x, y in outline]
    )  # a thousand of them: `svg.number` would take its time
    SubElement(
        root, "polygon", {"class": "columns", "points": points, "fill": "currentColor", "opacity": "0.8"}
    )


def _merge(columns: Sequence[tuple[float, float]], most: int) -> list[tuple[float, float]]:
    """At most so many columns, each the extremes of those it stands for."""
    count = min(most, len(columns))
    edges = [round(k * len(columns) / count) for k in range(count + 1)]
    lows, highs = zip(*columns, strict=True)
    return [(min(lows[start:end]), max(highs[start:end])) for start, end in pairwise(edges)]


def range_dbfs(peak: float) -> float:
    peak_dbfs = 20 * log10(peak) if peak > 0 else float("-inf")
    return min(level for level in _RANGES_DBFS if level >= min(peak_dbfs, 0.0))


def fault_lanes(faults: Sequence[Fault], length_s: float, left: float, right: float) -> list[int | None]:
    """The line in which each fault's words stand, so that neither words nor a flag's stem run into other words.

    None where no such line is left.
    """
    reached = [float("-inf")] * _MOST_LANES
    lanes: list[int | None] = []
    stems: list[float] = []
    for fault in faults:
        x = _fault_x(fault, length_s, left, right)
        start, end = _words_span(fault, x, left, right)
        crossed = [
            lane
            for stem, lane in zip(stems, lanes, strict=True)
            if lane is not None and start - 4 < stem < end
        ]
        free = (
            lane
            for lane in range(_MOST_LANES)
            if max(reached[lane:]) + 6 <= start and all(lane < other for other in crossed)
        )
        lane = next(free, None)
        if lane is not None:
            reached[lane] = end
        lanes.append(lane)
        stems.append(x)
    return lanes


def draw_faults(
    root: Element,
    faults: Sequence[Fault],
    lanes: Sequence[int | None],
    length_s: float,
    left: float,
    right: float,
    bottom: float,
) -> None:
    for fault, lane in zip(faults, lanes, strict=True):
        x = _fault_x(fault, length_s, left, right)
        full = f"{clock_time(max(0.0, fault.at_s), decimals=1)} {fault.words}"
        flag = svg.group(root, class_="flag")
        SubElement(flag, "title").text = svg.written(full)
        top = 4.0 + LANE * (lane if lane is not None else _MOST_LANES)
        svg.line(flag, (x, top), (x, bottom), weight=1.5)
        if lane is None:
            continue
        start, end = _words_span(fault, x, left, right)
        words = shorten(fault.words, end - start - 7, _LETTERS)
        if start < x:
            svg.label(flag, (end - 8, top + 9), words, size=_LETTERS, anchor="end")
        else:
            svg.label(flag, (start + 4, top + 9), words, size=_LETTERS)


def _fault_x(fault: Fault, length_s: float, left: float, right: float) -> float:
    return left + (right - left) * min(1.0, max(0.0, fault.at_s / length_s))


def _words_span(fault: Fault, x: float, left: float, right: float) -> tuple[float, float]:
    """From where to where a fault's words reach: right of its line, or left of it where that side has more room."""
    wanted = width_of(" ".join(fault.words.split()), _LETTERS) + 8
    if x + wanted <= right or right - x >= x - left:
        return x, min(x + wanted, right)
    return max(left, x - wanted), x


def _finding(peak: float, length_s: float, faults: Sequence[Fault]) -> str:
    loudest = f"highest sample {decibels(20 * log10(peak))} dBFS" if peak > 0 else "no sample above zero"
    heard = f"Waveform of {clock_time(length_s, decimals=1)}, {loudest}."
    if not faults:
        return heard
    said = "; ".join(f"at {clock_time(max(0.0, fault.at_s), decimals=1)} {fault.words}" for fault in faults)
    return f"{heard} Marked: {said}."
