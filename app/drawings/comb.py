"""What two paths that arrive apart do to each other when they are summed: peaks and notches over frequency."""

from dataclasses import dataclass
from math import ceil, exp, log, log10
from xml.etree.ElementTree import Element

from app.drawings import svg
from app.drawings.lettering import width_of
from app.drawings.svg import Drawing
from app.drawings.wording import decibels, figure
from app.trade.microphones import comb, sum_level_db

LOWEST_HZ, HIGHEST_HZ = 20.0, 20_000.0
DEEPEST_DB = -30.0  # deeper notches end at the paper's edge: no two real microphones cancel further
TOP_DB = 9.0
NAMED_NOTCHES = 4

_LETTERS = 12.0


@dataclass(frozen=True)
class CombOf:
    """Two paths, one `delay_s` later, their levels differing by `level_difference_db`, of the same polarity or not."""

    delay_s: float
    level_difference_db: float = 0.0
    inverted: bool = False


def comb_drawing(of: CombOf, *, width: int = 720, height: int = 260) -> Drawing:
    """The level of the sum over frequency, relative to the louder path alone, its first notches named.

    Raises ValueError for a delay of zero or of more than a second.
    """
    width, height = max(width, 240), max(height, 140)
    found = comb(of.delay_s, level_difference_db=of.level_difference_db, inverted=of.inverted)
    root = svg.sheet(width, height)
    root.set("class", "comb")
    plot = _Plot(42.0, 20.0, width - 42.0 - 12.0, height - 20.0 - 40.0)
    _draw_axes(root, plot)
    points = [(plot.x(hz), plot.y(_level(of, hz))) for hz in _frequencies(of.delay_s, width)]
    svg.polyline(root, points, weight=1.8, stroke_linejoin="round")
    notches = [hz for hz in found.notches_hz if LOWEST_HZ <= hz <= HIGHEST_HZ]
    _name_notches(root, plot, notches[:NAMED_NOTCHES])
    depth = "−∞" if found.notch_db == float("-inf") else decibels(found.notch_db, signed=True)
    low = max(found.notch_db, DEEPEST_DB)
    for db, words in (
        (found.peak_db, f"peaks {decibels(found.peak_db, signed=True)} dB"),
        (low, f"notches {depth} dB"),
    ):
        y = plot.y(db)
        svg.line(root, (plot.left, y), (plot.right, y), weight=1, opacity="0.45", stroke_dasharray="3 3")
        at = y - 5 if db > 0 or db - 4 < DEEPEST_DB else y + 13
        svg.label(root, (plot.left + 4, at), words, size=_LETTERS - 1)
    said = ", ".join(_hertz(hz) for hz in notches[:NAMED_NOTCHES]) or "none below 20 kHz"
    finding = (
        f"Sum of two paths {figure(round(of.delay_s * 1000, 3))} ms apart, "
        f"{'opposite' if of.inverted else 'same'} polarity, levels {decibels(abs(of.level_difference_db))} dB apart: "
        f"peaks {decibels(found.peak_db, signed=True)} dB, notches {depth} dB against the louder alone. "
        f"First notches: {said}."
    )
    return svg.finished(root, finding)


@dataclass(frozen=True)
class _Plot:
    left: float
    top: float
    width: float
    height: float

    @property
    def right(self) -> float:
        return self.left + self.width

    @property
    def bottom(self) -> float:
        return self.top + self.height

    def x(self, hz: float) -> float:
        return self.left + self.width * log10(hz / LOWEST_HZ) / log10(HIGHEST_HZ / LOWEST_HZ)

    def y(self, db: float) -> float:
        return self.top + self.height * (TOP_DB - db) / (TOP_DB - DEEPEST_DB)


def _level(of: CombOf, hz: float) -> float:
    level = sum_level_db(hz, of.delay_s, level_difference_db=of.level_difference_db, inverted=of.inverted)
    return max(level, DEEPEST_DB)


def _frequencies(delay_s: float, width: int) -> list[float]:
    """Points enough for a smooth curve at half a pixel, and every peak and notch among them as far as these can be
    told apart on the paper."""
    steps = 2 * width
    spaced = [LOWEST_HZ * exp(log(HIGHEST_HZ / LOWEST_HZ) * at / steps) for at in range(steps + 1)]
    turns = [at / (2 * delay_s) for at in range(1, min(2 * width, int(HIGHEST_HZ * 2 * delay_s)) + 1)]
    return sorted({*spaced, *(hz for hz in turns if LOWEST_HZ <= hz <= HIGHEST_HZ)})


def _draw_axes(root: Element, plot: _Plot) -> None:
    axes = svg.group(root, class_="axes")
    svg.label(axes, (plot.left - 8, plot.top - 9), "dB", size=_LETTERS - 1, anchor="end")
    for db in range(int(DEEPEST_DB), int(TOP_DB) + 1, 6):
        y = plot.y(db)
        svg.line(axes, (plot.left, y), (plot.right, y), weight=1, opacity="0.5" if db == 0 else "0.16")
        words = f"+{db}" if db > 0 else f"{db}".replace("-", "−")
        svg.label(axes, (plot.left - 8, y + 4), words, size=_LETTERS - 1, anchor="end")
    for decade in (10, 100, 1000, 10_000):
        for factor in range(1, 10):
            hz = float(decade * factor)
            if not LOWEST_HZ <= hz <= HIGHEST_HZ:
                continue
            x = plot.x(hz)
            svg.line(
                axes, (x, plot.top), (x, plot.bottom), weight=1, opacity="0.3" if factor == 1 else "0.12"
            )
            if factor == 1 or (factor in (2, 5) and plot.width > 300):
                words = f"{figure(hz / 1000)}k" if hz >= 1000 else figure(hz)
                svg.label(axes, (x, plot.bottom + 16), words, size=_LETTERS - 1, anchor="middle")
    middle = plot.left + plot.width / 2
    svg.label(axes, (middle, plot.bottom + 33), "Frequency in Hz", size=_LETTERS - 1, anchor="middle")


def _name_notches(root: Element, plot: _Plot, notches: list[float]) -> None:
    """The first notches by their frequency, as far as their words lie clear of each other."""
    free_from = plot.left
    for hz in notches:
        words = _hertz(hz)
        x, half = plot.x(hz), width_of(words, _LETTERS - 1) / 2
        if x - half < free_from or x + half > plot.right + 10:
            continue
        svg.line(root, (x, plot.top), (x, plot.top + 6), weight=1.5)
        svg.label(root, (x, plot.top - 5), words, size=_LETTERS - 1, anchor="middle")
        free_from = x + half + 8


def _hertz(hz: float) -> str:
    digits = 10 ** max(0, ceil(log10(hz)) - 3)
    rounded = round(hz / digits) * digits
    return f"{figure(rounded / 1000)} kHz" if rounded >= 1000 else f"{figure(rounded)} Hz"
