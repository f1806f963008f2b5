"""A chain typed in order on one line: "interface > re-amp box > overdrive > combo > ribbon 30 mm > preamp".

Each piece is looked for on the shelf first, then among the layouts to start from; a word may be cut short as long as three
letters stay. What is known as neither is still a piece of gear, only one without controls. Microphones side by side may have
a comma, a plus, an ampersand or "and" between: "dynamic 25 mm, ribbon 100 mm".
"""

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass

from app.trade.distances import LengthUnit, NotAMeasure, read_distance_mm
from app.trade.gear_kinds import kind_word
from app.trade.starting_layouts import STARTING_LAYOUTS, StartingLayout

LINE_LIMIT = 600  # characters
PIECES_LIMIT = 40
SHORTEST_CUT = 3  # letters that a word can be cut down to
EMPTY = "empty"

_BETWEEN = re.compile(r"\s*(?:->|→|>|\n|;)\s*")
_BESIDE = re.compile(r"\s*(?:,(?!\s*(?:at\s+)?\d)|\+|&|(?<=\s)and(?=\s))\s*", re.IGNORECASE)
_HYPHENED = re.compile(r"\b(re|pre)[- ]amp")
_LETTERS = re.compile(r"[^\W_]+")
_DISTANCE = re.compile(
    r"[\s,]+(?:at\s+)?(\d+(?:[.,]\d+)?\s*(?:mm|cm|m|in|inch|inches|\"|″)?)$", re.IGNORECASE
)

WORDS: dict[str, tuple[str, ...]] = {
    "single_channel_amp": ("amp", "amplifier", "head"),
    "combo": ("combo",),
    "bass_amp": ("bass amp",),
    "overdrive": ("overdrive", "drive", "boost", "distortion"),
    "modulation": ("modulation", "chorus", "phaser", "flanger", "tremolo", "vibrato"),
    "delay": ("delay", "echo"),
    "graphic_equaliser": ("equaliser", "equalizer", "eq"),
    "compressor": ("compressor", "limiter"),
    "reamp_box": ("re-amp box", "re-amp"),
    "di_box": ("di box", "di"),
    "microphone": ("microphone", "mic"),
    "dynamic_microphone": ("dynamic microphone", "dynamic mic", "dynamic"),
    "ribbon_microphone": ("ribbon microphone", "ribbon mic", "ribbon"),
    "condenser_microphone": ("condenser microphone", "condenser mic", "condenser"),
    "preamp": ("preamp", "pre"),
    "interface": ("interface", "converter"),
    "cabinet": ("cabinet", "cab", "speaker"),
    "load": ("load", "load box"),
    "mixer_channel": ("mixer channel", "mixer", "channel strip"),
}
"""How such gear is called beside its layout's own name. Common practice."""


@dataclass(frozen=True)
class OnShelf:
    gear_id: int
    name: str
    kind: str


@dataclass(frozen=True)
class Piece:
    """One piece of a line. `known` is the gear on the shelf that it is; else `start` is the layout it would start from,
    under `name`. `others` are names that the words fit as well; `distance` is a microphone's, as typed."""

    typed: str
    name: str
    known: OnShelf | None = None
    start: StartingLayout | None = None
    distance: str = ""
    others: tuple[str, ...] = ()

    @property
    def kind(self) -> str:
        if self.known is not None:
            return self.known.kind
        return "other" if self.start is None else self.start.kind

    @property
    def is_guess(self) -> bool:
        return self.known is None and (self.start is None or self.start.key == EMPTY)


def read_chain(line: str, shelf: Sequence[OnShelf], unit: LengthUnit = "mm") -> tuple[Piece, ...]:
    """The pieces of a line, in its order; no piece of gear is taken twice. Raises ValueError with a sentence where the
    line is too long."""
    if len(line) > LINE_LIMIT:
        raise ValueError(f"A chain on one line has at most {LINE_LIMIT} characters.")
    typed = [" ".join(part.split()) for part in _BETWEEN.split(line)]
    typed = [part for part in typed if part]
    if len(typed) == 1 and "," in typed[0] and not _is_on_shelf(typed[0], shelf, unit):
        typed = [part.strip() for part in typed[0].split(",") if part.strip()]
    left = list(shelf)
    pieces: list[Piece] = []
    for part in typed:
        for one in _microphones_in(part, left, unit):
            if len(pieces) == PIECES_LIMIT:
                raise ValueError(f"A chain on one line has at most {PIECES_LIMIT} pieces of gear.")
            piece = _piece(one, left, unit)
            left = [each for each in left if each != piece.known]
            pieces.append(piece)
    return tuple(pieces)


def _microphones_in(typed: str, shelf: Sequence[OnShelf], unit: LengthUnit) -> list[str]:
    """The microphones that stand side by side in a part of the line; the part itself where it is anything else."""
    parts = [part for part in _BESIDE.split(typed) if part]
    is_row = (
        len(parts) > 1
        and not _is_on_shelf(typed, shelf, unit)
        and all(_piece(part, shelf, unit).kind == "microphone" for part in parts)
    )
    return parts if is_row else [typed]


def _is_on_shelf(typed: str, shelf: Sequence[OnShelf], unit: LengthUnit) -> bool:
    """Whether all of the words are in the name of one piece of gear, each at a place of its own."""
    wordings = [_words(typed), _words(_without_distance(typed, unit)[0])]
    return any(
        len(set(words)) == len(words) and _all_in(words, _words(each.name))
        for words in wordings
        for each in shelf
    )


def _piece(typed: str, shelf: Sequence[OnShelf], unit: LengthUnit) -> Piece:
    name, distance = _without_distance(typed, unit)
    piece = _named(typed, name, shelf)
    if not distance:
        return piece
    if piece.kind == "microphone":
        return Piece(typed, piece.name, piece.known, piece.start, distance, piece.others)
    return _named(typed, typed, shelf)  # the number belongs to the name


def _without_distance(typed: str, unit: LengthUnit) -> tuple[str, str]:
    found = _DISTANCE.search(typed)
    if found is None or not typed[: found.start()].strip():
        return typed, ""
    try:
        read_distance_mm(found[1], unit)
    except NotAMeasure:
        return typed, ""
    return typed[: found.start()].strip(" ,"), found[1].strip()


def _named(typed: str, name: str, shelf: Sequence[OnShelf]) -> Piece:
    words = _words(name)
    fitting = [
        each for each in shelf if words and _all_in(words, _words(f"{each.name} {kind_word(each.kind)}"))
    ]
    fitting.sort(key=lambda each: (_words(each.name) != words, len(_words(each.name)), each.name))
    if fitting:
        return Piece(typed, fitting[0].name, fitting[0], others=tuple(each.name for each in fitting[1:4]))
    scored = [(score, layout) for layout in STARTING_LAYOUTS if (score := _fit(words, layout)) > 0]
    scored.sort(key=lambda pair: -pair[0])
    if not scored:
        empty = next(layout for layout in STARTING_LAYOUTS if layout.key == EMPTY)
        return Piece(typed, _as_name(name), None, empty)
    best, layout = scored[0]
    others = tuple(other.label.partition(":")[0] for score, other in scored[1:4] if score == best)
    return Piece(typed, _as_name(name), None, layout, others=others)


def _fit(words: tuple[str, ...], layout: StartingLayout) -> float:
    """How well words name a layout: by the longest of its names that stands in them, the last word counting most, for
    there the noun stands."""
    best = 0.0
    for name in (layout.label.partition(":")[0].partition(",")[0], *WORDS.get(layout.key, ())):
        named = _words(name)
        if named and all(any(_is_cut(word, one) for word in words) for one in named):
            is_last = any(_is_cut(words[-1], one) for one in named)
            best = max(best, len(named) + (0.5 if is_last else 0.0))
    return best


def _all_in(words: tuple[str, ...], name: tuple[str, ...]) -> bool:
    return all(any(_is_cut(word, one) for one in name) for word in words)


def _is_cut(word: str, whole: str) -> bool:
    return word == whole or (len(word) >= SHORTEST_CUT and whole.startswith(word))


def _words(text: str) -> tuple[str, ...]:
    plain = unicodedata.normalize("NFKD", text.casefold())
    letters = "".join(char for char in plain if not unicodedata.combining(char))
    return tuple(_LETTERS.findall(_HYPHENED.sub(r"\1amp", letters)))


def _as_name(words: str) -> str:
    return words[:1].upper() + words[1:]
