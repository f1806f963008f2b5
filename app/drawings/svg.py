"""The paper every drawing is made on: SVG built as a tree, so that no text can break out of it.

Presentation attributes only: the same string serves a page under a strict content security policy, a file, and a PDF.
Ink is `currentColor`; what is faint is the same ink at less opacity.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite
from xml.etree.ElementTree import Element, SubElement, tostring

# The page's typeface; a PDF renderer that is not given it falls back to its own.
LETTERS = "Atkinson Hyperlegible Next, sans-serif"

# https://www.w3.org/TR/xml/#charsets: what is not a Char cannot stand in a document, not even escaped.
_NOT_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


@dataclass(frozen=True)
class Drawing:
    """An SVG document, and in words what it shows."""

    svg: str
    finding: str


def sheet(
    width: float,
    height: float,
    *,
    view_width: float | None = None,
    view_height: float | None = None,
    lettered: bool = True,
) -> Element:
    """An empty drawing of this size in CSS pixels; its own units may differ."""
    root = Element(
        "svg",
        {
            "xmlns": "http://www.w3.org/2000/svg",
            "width": number(width),
            "height": number(height),
            "viewBox": f"0 0 {number(view_width or width)} {number(view_height or height)}",
            "fill": "none",
        },
    )
    if lettered:
        root.set("font-family", LETTERS)
    return root


def finished(root: Element, finding: str, *, beside_its_reading: bool = False) -> Drawing:
    """The drawing as a string. Where its reading stands right beside it, it is hidden from a screen reader."""
    words = written(" ".join(finding.split()))
    if beside_its_reading:
        root.set("aria-hidden", "true")
    else:
        root.set("role", "img")
        root.set("aria-label", words)
    return Drawing(tostring(root, encoding="unicode"), words)


def group(parent: Element, **attributes: str) -> Element:
    return SubElement(parent, "g", _named(attributes))


def line(
    parent: Element,
    start: tuple[float, float],
    end: tuple[float, float],
    *,
    weight: float = 1.0,
    **attributes: str,
) -> Element:
    (x1, y1), (x2, y2) = start, end
    ends = {"x1": number(x1), "y1": number(y1), "x2": number(x2), "y2": number(y2)}
    return SubElement(parent, "line", ends | _inked(weight) | _named(attributes))


def polyline(
    parent: Element, points: Sequence[tuple[float, float]], *, weight: float = 1.0, **attributes: str
) -> Element:
    joined = " ".join(f"{number(x)},{number(y)}" for x, y in points)
    return SubElement(parent, "polyline", {"points": joined} | _inked(weight) | _named(attributes))


def circle(
    parent: Element, centre: tuple[float, float], radius: float, *, weight: float = 1.0, **attributes: str
) -> Element:
    at = {"cx": number(centre[0]), "cy": number(centre[1]), "r": number(radius)}
    return SubElement(parent, "circle", at | _inked(weight) | _named(attributes))


def dot(parent: Element, centre: tuple[float, float], radius: float, **attributes: str) -> Element:
    at = {"cx": number(centre[0]), "cy": number(centre[1]), "r": number(radius)}
    return SubElement(parent, "circle", at | {"fill": "currentColor"} | _named(attributes))


def box(
    parent: Element,
    corner: tuple[float, float],
    size: tuple[float, float],
    *,
    weight: float = 1.0,
    **attributes: str,
) -> Element:
    at = {
        "x": number(corner[0]),
        "y": number(corner[1]),
        "width": number(size[0]),
        "height": number(size[1]),
    }
    return SubElement(parent, "rect", at | _inked(weight) | _named(attributes))


def path(parent: Element, data: str, *, weight: float = 1.0, **attributes: str) -> Element:
    return SubElement(parent, "path", {"d": data} | _inked(weight) | _named(attributes))


def label(
    parent: Element,
    at: tuple[float, float],
    words: str,
    *,
    size: float = 12.0,
    anchor: str = "start",
    full: str | None = None,
    **attributes: str,
) -> Element:
    """Words with their baseline at `at`; `full` is what they were shortened from, shown by a pointer resting on them."""
    place = {"x": number(at[0]), "y": number(at[1]), "font-size": number(size), "fill": "currentColor"}
    if anchor != "start":
        place["text-anchor"] = anchor
    element = SubElement(parent, "text", place | _named(attributes))
    element.text = written(words)
    if full is not None and full != words:
        SubElement(element, "title").text = written(full)
    return element


def written(words: str) -> str:
    """The words with every character that XML does not allow replaced."""
    return _NOT_XML.sub("\ufffd", words)


def number(value: float) -> str:
    """A coordinate to a hundredth, without needless zeros."""
    if not isfinite(value):
        raise ValueError(f"A drawing has no place for {value}.")
    rounded = round(float(value), 2)
    return str(int(rounded)) if rounded == int(rounded) else str(rounded)


def _inked(weight: float) -> dict[str, str]:
    return {"stroke": "currentColor", "stroke-width": number(weight)}


def _named(attributes: dict[str, str]) -> dict[str, str]:
    """Python's stroke_width and class_ as SVG's stroke-width and class."""
    return {key.rstrip("_").replace("_", "-"): value for key, value in attributes.items()}
