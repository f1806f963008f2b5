"""Decibels over frequency: the sheet that spectra and differences of spectra are drawn on."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil, floor, log10
from xml.etree.ElementTree import Element

from app.drawings import svg
from app.drawings.lettering import width_of
from app.drawings.named_lines import BESIDE, LETTERS
from app.drawings.wording import figure

LEFT, TOP, BELOW = 42, 20, 40
"""Room for the levels beside the plot, their unit above it, the frequencies under it."""
DRAWN_RANGE_DB = 80.0  # what lies further under the loudest band is noise on paper


@dataclass(frozen=True)
class FrequencyPlot:
    """Where frequencies and decibels lie on the sheet."""

    left: float
    top: float
    width: float
    height: float
    low_hz: float
    high_hz: float
    low_db: float
    high_db: float

    def x(self, hz: float) -> float:
        return self.left + self.width * log10(hz / self.low_hz) / log10(self.high_hz / self.low_hz)

    def y(self, db: float) -> float:
        return self.top + self.height * (self.high_db - db) / (self.high_db - self.low_db)


def plot_on(size: tuple[float, float], hz: tuple[float, float], db: tuple[float, float]) -> FrequencyPlot:
    """A plot that fills a sheet of this width and height but for its words: those of the axes and the numbers of its lines.
    What their names take beneath comes on top of the height."""
    width, height = size
    return FrequencyPlot(LEFT, TOP, width - LEFT - BESIDE, height - TOP - BELOW, *hz, *db)


def axis_of(levels: Sequence[float], is_difference: bool) -> tuple[float, float, float]:
    """The lowest and highest level drawn and the step between lines, in dB."""
    low, high = min(levels), max(levels)
    if is_difference:
        low, high = min(low, -3.0), max(high, 3.0)
        step = next(
            (step for step in (1, 2, 3, 6, 12, 24) if (high - low) / step <= 7), ceil((high - low) / 7)
        )
    else:
        low = max(low, high - DRAWN_RANGE_DB)
        step = 10 if high - low > 25 else 5
    bottom, top = floor(low / step) * step, ceil(high / step) * step
    return bottom, max(top, bottom + step), step


def draw_axes(root: Element, plot: FrequencyPlot, step_db: float, unit: str) -> None:
    axes = svg.group(root, class_="axes")
    right, bottom = plot.left + plot.width, plot.top + plot.height
    svg.label(axes, (plot.left - 8, plot.top - 9), unit, size=LETTERS - 1, anchor="end")
    lines = round((plot.high_db - plot.low_db) / step_db)
    every = max(1, ceil(lines * 13 / plot.height))
    for k in range(lines + 1):
        db = plot.high_db - k * step_db
        y = plot.y(db)
        svg.line(
            axes, (plot.left, y), (right, y), weight=1, opacity="0.5" if db == 0 and unit == "dB" else "0.16"
        )
        if k % every == 0:
            signed = figure(db) if unit == "dBFS" or db <= 0 else f"+{figure(db)}"
            svg.label(axes, (plot.left - 8, y + 4), signed, size=LETTERS - 1, anchor="end")
    svg.line(axes, (plot.left, bottom), (right, bottom), weight=1, opacity="0.7")
    written_to = float("-inf")
    for hz, is_decade in _frequency_lines(plot.low_hz, plot.high_hz):
        x = plot.x(hz)
        svg.line(axes, (x, plot.top), (x, bottom), weight=1, opacity="0.3" if is_decade else "0.12")
        words = f"{figure(hz / 1000)}k" if hz >= 1000 else figure(hz)
        half = width_of(words, LETTERS - 1) / 2
        wanted = is_decade or (words[0] in "25" and plot.width > 300)
        if wanted and x - half > written_to + 3:
            svg.label(axes, (x, bottom + 16), words, size=LETTERS - 1, anchor="middle")
            written_to = x + half
    svg.label(
        axes, (plot.left + plot.width / 2, bottom + 33), "Frequency in Hz", size=LETTERS - 1, anchor="middle"
    )


def _frequency_lines(low_hz: float, high_hz: float) -> Iterator[tuple[float, bool]]:
    for decade in range(floor(log10(low_hz)), ceil(log10(high_hz)) + 1):
        for factor in range(1, 10):
            hz = factor * 10.0**decade
            if low_hz <= hz <= high_hz:
                yield hz, factor == 1
