"""The waveforms of several prints laid over each other, on one scale and one line of time."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import isfinite, log10
from xml.etree.ElementTree import Element, SubElement

from app.drawings import svg
from app.drawings.named_lines import BESIDE, LETTERS, Point, draw_line, draw_names, room_beneath
from app.drawings.svg import Drawing
from app.drawings.time_axis import draw_time, in_step
from app.drawings.waveform import LANE, LONGEST_S, Fault, draw_faults, fault_lanes, range_dbfs
from app.drawings.wording import clock_time, decibels

Column = tuple[float, float]
STEP_PX = 5.0  # narrower ones hide the lines beneath, and no dash shows


@dataclass(frozen=True)
class Laid:
    """A print on the line of time: the lowest and highest sample of each column (1.0 = full scale), None where the print
    holds nothing; `faults` at their seconds there."""

    name: str
    columns: Sequence[Column | None]
    faults: Sequence[Fault] = ()


@dataclass(frozen=True)
class _Plot:
    left: float
    top: float
    width: float
    height: float


def waveforms(
    prints: Sequence[Laid], length_s: float, *, ground: int = 0, width: int = 720, height: int = 260
) -> Drawing:
    """Each print's highest and lowest samples as two lines over `length_s` seconds, the one numbered `ground` filled
    palely, as what the others are seen against. The vertical range is the nearest round level above the highest of all."""
    width, height = max(width, 240), max(height, 140)
    prints = [_tidy(each) for each in prints]
    peak = max((_peak(each) for each in prints), default=0.0)
    names = [each.name for each in prints]
    finding = _finding(prints)
    root = svg.sheet(width, height + room_beneath(names, width))
    root.set("class", "waveforms")
    if not any(column for each in prints for column in each.columns) or not 0 < length_s < LONGEST_S:
        svg.label(root, (width / 2, height / 2), "No waveform to draw", size=LETTERS, anchor="middle")
        return svg.finished(root, finding)
    left, right, bottom = 48.0, width - BESIDE, height - 22.0
    faults = sorted(
        (
            Fault(fault.at_s, f"{number}: {fault.words}")
            for number, each in enumerate(prints, 1)
            for fault in each.faults
        ),
        key=lambda fault: fault.at_s,
    )
    lanes = fault_lanes(faults, length_s, left, right)
    top = 8.0 + max((lane + 1 for lane in lanes if lane is not None), default=0) * LANE
    plot = _Plot(left, top, right - left, bottom - top)
    reach = _draw_scale(root, plot, peak)
    draw_time(root, length_s, left, right, bottom)
    in_step(root, length_s, left, right, (top, bottom))
    ends = [
        _draw_print(root, plot, each, reach, index, is_ground=index == ground)
        for index, each in enumerate(prints)
    ]
    draw_names(root, plot, names, ends, height)
    draw_faults(root, faults, lanes, length_s, left, right, bottom)
    return svg.finished(root, finding)


def _tidy(laid: Laid) -> Laid:
    known = [fault for fault in laid.faults if abs(fault.at_s) < LONGEST_S]
    return Laid(laid.name, [_known(column) for column in laid.columns], known)


def _known(column: Column | None) -> Column | None:
    return column if column is not None and all(map(isfinite, column)) else None


def _peak(laid: Laid) -> float:
    return max((max(abs(low), abs(high)) for low, high in filter(None, laid.columns)), default=0.0)


def _draw_scale(root: Element, plot: _Plot, peak: float) -> float:
    """The lines of the range's ends, with their level; returns the sample value they stand for."""
    reach = 10 ** (range_dbfs(peak) / 20) if peak <= 1.0 else peak
    for y in (plot.top, plot.top + plot.height / 2, plot.top + plot.height):
        svg.line(root, (plot.left, y), (plot.left + plot.width, y), weight=1, opacity="0.16")
    words = f"{'+' if peak > 1.0 else ''}{decibels(20 * log10(reach)).removesuffix('.0')}"
    svg.label(root, (plot.left - 6, plot.top + 8), words, size=LETTERS - 1, anchor="end")
    svg.label(root, (plot.left - 6, plot.top + plot.height / 2 + 4), "dBFS", size=LETTERS - 1, anchor="end")
    return reach


def _draw_print(
    root: Element, plot: _Plot, laid: Laid, reach: float, index: int, *, is_ground: bool
) -> Point | None:
    """Returns where the upper line ends, None where nothing of the print is on the paper."""
    middle, half = plot.top + plot.height / 2, plot.height / 2
    drawn = svg.group(root, class_="laid", stroke_linejoin="round")
    SubElement(drawn, "title").text = svg.written(laid.name)
    end = None
    for run in _runs(laid.columns, max(1, round(plot.width / STEP_PX))):
        upper = [(plot.left + plot.width * at, middle - half * high / reach) for at, (_, high) in run]
        lower = [(plot.left + plot.width * at, middle - half * low / reach) for at, (low, _) in run]
        if is_ground:
            outline = " ".join(f"{x:.1f},{y:.1f}" for x, y in [*upper, *reversed(lower)])
            SubElement(drawn, "polygon", {"points": outline, "fill": "currentColor", "opacity": "0.14"})
        draw_line(drawn, upper, index)
        draw_line(drawn, lower, index)
        end = upper[-1]
    return end


def _runs(columns: Sequence[Column | None], most: int) -> list[list[tuple[float, Column]]]:
    """At most so many columns, each the extremes of those it stands for, at its share of the time line; a gap where the
    print holds nothing."""
    count = min(most, max(1, len(columns)))
    runs: list[list[tuple[float, Column]]] = [[]]
    for start, stop in pairwise(round(k * len(columns) / count) for k in range(count + 1)):
        held = [column for column in columns[start:stop] if column is not None]
        if held:
            extremes = min(low for low, _ in held), max(high for _, high in held)
            runs[-1].append(((start + stop) / 2 / len(columns), extremes))
        elif runs[-1]:
            runs.append([])
    return [run for run in runs if run]


def _finding(prints: Sequence[Laid]) -> str:
    said = []
    for number, laid in enumerate(prints, 1):
        peak = _peak(laid)
        heard = f"highest sample {decibels(20 * log10(peak))} dBFS" if peak > 0 else "no sample above zero"
        marked = "".join(
            f", at {clock_time(max(0.0, fault.at_s), decimals=1)} {fault.words}" for fault in laid.faults
        )
        said.append(f"{number}, {laid.name}: {heard}{marked}.")
    return "Waveforms on one scale. " + " ".join(said)
