"""The line of seconds under a drawing."""

from math import ceil, floor, log10
from xml.etree.ElementTree import Element

from app.drawings import svg
from app.drawings.lettering import width_of
from app.drawings.wording import clock_time

_LETTERS = 11.0
_TIME_STEPS_S = (0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 1200, 3600)


def draw_time(root: Element, length_s: float, left: float, right: float, bottom: float) -> None:
    svg.line(root, (left, bottom), (right, bottom), weight=1, opacity="0.7")
    wanted_s = length_s / max(2.0, (right - left) / 62)
    step_s = next((step for step in _TIME_STEPS_S if step >= wanted_s), ceil(wanted_s / 3600) * 3600)
    decimals = max(0, -floor(log10(step_s)))
    for k in range(floor(length_s / step_s + 1e-9) + 1):
        x = left + (right - left) * k * step_s / length_s
        svg.line(root, (x, bottom), (x, bottom + 4), weight=1, opacity="0.7")
        words = clock_time(k * step_s, decimals=decimals)
        half = width_of(words, _LETTERS) / 2
        anchor = "end" if x + half > right + 6 else "middle"
        svg.label(
            root,
            (min(x, right + 6) if anchor == "end" else x, bottom + 16),
            words,
            size=_LETTERS,
            anchor=anchor,
        )


def in_step(root: Element, length_s: float, left: float, right: float, heights: tuple[float, float]) -> None:
    """A line that the page's player moves along with what is heard; hidden until it plays."""
    top, bottom = heights
    root.set("data-heard", f"{svg.number(left)} {svg.number(right)} {svg.number(length_s)}")
    svg.line(root, (left, top), (left, bottom), weight=1.5, class_="heard-now", visibility="hidden")
