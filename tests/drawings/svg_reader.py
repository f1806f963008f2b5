"""Reads a drawing back, and holds every drawing to what a page, a file and a PDF all need of it."""

import re
from collections.abc import Iterator
from math import isfinite
from xml.etree.ElementTree import Element, fromstring

from app.drawings.svg import Drawing

SVG = "{http://www.w3.org/2000/svg}"
SHAPES = {"svg", "g", "line", "polyline", "polygon", "circle", "rect", "path", "text", "title"}


def read_sound(drawing: Drawing) -> Element:
    """The drawing's root, after checking that it is well-formed, inert, self-contained and numbered in finite numbers."""
    root = fromstring(drawing.svg)
    assert root.tag == f"{SVG}svg"
    for element in root.iter():
        assert element.tag.removeprefix(SVG) in SHAPES
        for name, value in element.attrib.items():
            assert name not in ("style", "href", "id", "clip-path", "mask", "filter")
            assert not name.startswith("on")
            if name not in ("aria-label", "class"):
                assert "url(" not in value
                assert all(
                    isfinite(float(number)) for number in re.findall(r"-?\d+(?:\.\d+)?(?:e[+-]?\d+)?", value)
                )
                assert "nan" not in value
                assert "inf" not in value
    hidden = root.get("aria-hidden") == "true"
    assert hidden or (root.get("role") == "img" and root.get("aria-label") == drawing.finding)
    assert drawing.finding.strip()
    return root


def words_in(root: Element) -> list[str]:
    """Every label as it stands on the paper."""
    return [text.text or "" for text in root.iter(f"{SVG}text")]


def of_class(root: Element, name: str) -> list[Element]:
    return [element for element in root.iter() if name in (element.get("class") or "").split()]


def pointer(root: Element) -> Element:
    (found,) = of_class(root, "pointer")
    return found


def numbers(text: str) -> list[float]:
    return [float(number) for number in re.findall(r"-?\d+(?:\.\d+)?", text)]


def points(element: Element) -> list[tuple[float, float]]:
    read = numbers(element.get("points") or "")
    return list(zip(read[::2], read[1::2], strict=True))


def label_boxes(root: Element) -> Iterator[tuple[float, float, float, float, str]]:
    """The place of every label (left, top, right, bottom, words), letters taken as narrow: what overlaps here overlaps."""
    for text in root.iter(f"{SVG}text"):
        size, words = float(text.get("font-size") or 12), text.text or ""
        width = size * 0.42 * len(words)
        x, y = float(text.get("x") or 0), float(text.get("y") or 0)
        left = {"start": x, "middle": x - width / 2, "end": x - width}[text.get("text-anchor", "start")]
        yield left, y - size * 0.72, left + width, y, words
