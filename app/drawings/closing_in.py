"""How tries close in on what they aim at: for each figure a line with its tolerance in the middle and every try on it.

The newest try is a full mark with its figure in words, the older are open and fainter; each bears its number.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from xml.etree.ElementTree import Element

from app.drawings import svg
from app.drawings.lettering import width_of
from app.drawings.svg import Drawing
from app.drawings.wording import figure

REACH = 4.0
"""The lines end at this many tolerances; what lies beyond stands at the end with an arrow."""
ROW, NARROW_ROW = 46.0, 60.0
FAINTEST = 0.4
NUMBERS_APART = 9.0
_LETTERS = 12.0


@dataclass(frozen=True)
class Aim:
    """A figure whose aim is 0: `tolerance` and the values of the tries, oldest first, in `unit`; None: not known."""

    name: str
    tolerance: float
    unit: str
    values: Sequence[float | None]


def closing_in(aims: Sequence[Aim], *, width: int = 720) -> Drawing:
    width = max(width, 260)
    is_narrow = width < 480
    row = NARROW_ROW if is_narrow else ROW
    root = svg.sheet(width, row * len(aims) + 8)
    root.set("class", "closing-in")
    left = 8.0 if is_narrow else 14.0 + max(width_of(aim.name, _LETTERS) for aim in aims)
    right = width - 14.0 - max(width_of(_last_words(aim), _LETTERS) for aim in aims)
    for index, aim in enumerate(aims):
        _draw_row(root, aim, (left, right), row * index + row - 16.0, is_narrow=is_narrow)
    return svg.finished(root, " ".join(_finding(aim) for aim in aims))


def _draw_row(root: Element, aim: Aim, ends: tuple[float, float], y: float, *, is_narrow: bool) -> None:
    left, right = ends
    middle, half = (left + right) / 2, (right - left) / 2
    tolerance = half / REACH
    svg.label(root, (left, y - 26) if is_narrow else (4, y + 4), aim.name, size=_LETTERS)
    svg.box(
        root,
        (middle - tolerance, y - 9),
        (2 * tolerance, 18),
        weight=0.75,
        fill="currentColor",
        fill_opacity="0.1",
        stroke_opacity="0.35",
    )
    svg.line(root, (left, y), (right, y), weight=1, opacity="0.3")
    svg.line(root, (middle, y - 9), (middle, y + 9), weight=1, opacity="0.5")
    svg.label(
        root,
        (middle + tolerance + 3, y + 17),
        f"±{figure(round(aim.tolerance, 2))}",
        size=_LETTERS - 2,
        opacity="0.75",
    )
    known = [(number, value) for number, value in enumerate(aim.values, start=1) if value is not None]
    last = len(aim.values)
    numbered: list[float] = []
    for number, value in reversed(known):  # where numbers would lie on each other, the newest stands
        share = max(-REACH, min(REACH, value / aim.tolerance))
        x = middle + share * tolerance
        is_last = number == last
        fading = 1.0 if is_last else FAINTEST + (0.85 - FAINTEST) * (number - 1) / max(1, last - 1)
        drawn = svg.group(root, opacity=svg.number(fading))
        if abs(value / aim.tolerance) > REACH:
            _arrow(drawn, x, y, outwards=1 if value > 0 else -1)
        elif is_last:
            svg.dot(drawn, (x, y), 5.0)
        else:
            svg.circle(drawn, (x, y), 4.5, weight=1.5)
        if all(abs(x - other) >= NUMBERS_APART for other in numbered):
            svg.label(drawn, (x, y - 9), str(number), size=_LETTERS - 1, anchor="middle")
            numbered.append(x)
    svg.label(root, (right + 10, y + 4), _last_words(aim), size=_LETTERS)


def _arrow(root: Element, x: float, y: float, *, outwards: int) -> None:
    tip, back = svg.number(x), svg.number(x - 8 * outwards)
    svg.path(
        root,
        f"M{back} {svg.number(y - 5)}L{tip} {svg.number(y)}L{back} {svg.number(y + 5)}",
        weight=2.0,
        stroke_linejoin="round",
    )


def _last_words(aim: Aim) -> str:
    return _words(aim.values[-1] if aim.values else None, aim.unit)


def _words(value: float | None, unit: str) -> str:
    if value is None:
        return "not known"
    rounded = round(value, 1) + 0.0
    return f"{rounded:+.1f} {unit}".replace("-", "−") if rounded else f"0.0 {unit}"


def _finding(aim: Aim) -> str:
    said = ", ".join(f"try {n} {_words(value, aim.unit)}" for n, value in enumerate(aim.values, start=1))
    return f"{aim.name}, within ±{figure(round(aim.tolerance, 2))} {aim.unit}: {said}."
