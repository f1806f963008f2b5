"""How wide words come out, without a font at hand: estimates on the wide side, so that labels never run into each other."""

import unicodedata
from itertools import accumulate

_NARROW = frozenset("iljItfr.,:;'|!()[]{}` \"/\\-·’‘“”")
_WIDE = frozenset("mwMW@%&—…–ØÆŒ")


def width_of(words: str, size: float) -> float:
    """The estimated width of words set in a sans-serif of `size`."""
    return size * sum(map(_em, words))


def shorten(words: str, width: float, size: float) -> str:
    """The words, or as much of them as fits into `width`, ending in an ellipsis."""
    words = " ".join(words.split())
    if width_of(words, size) <= width:
        return words
    room = width - width_of("…", size)
    kept = sum(1 for reached in accumulate(size * _em(character) for character in words) if reached <= room)
    return words[:kept].rstrip() + "…"


def wrap(words: str, width: float, size: float, most_lines: int) -> list[str]:
    """The words broken into at most `most_lines` lines that fit into `width`; the last is shortened where needed."""
    left = words.split()
    lines: list[str] = []
    while left and len(lines) < most_lines:
        current = left.pop(0)
        while left and width_of(f"{current} {left[0]}", size) <= width:
            current = f"{current} {left.pop(0)}"
        lines.append(current)
    if left:
        lines[-1] = " ".join([lines[-1], *left])
    return [shorten(each, width, size) for each in lines] or [""]


def _em(character: str) -> float:
    if unicodedata.combining(character):
        return 0.0
    if unicodedata.east_asian_width(character) in "WF":
        return 1.05
    if character in _NARROW:
        return 0.36
    if character in _WIDE:
        return 0.92
    if character.isupper():
        return 0.7
    return 0.6 if character.isascii() else 0.75
