"""A line jotted in plain words, read against the chain: "treble 6.5, gain noon, mic 30 mm, amp bright on".

What is said is [words of the gear] the control's name and its reading, one after another, with commas, "and" or nothing
between. A word may be cut short as long as it stays one of a kind ("treb 6.5"). A microphone takes measures without a
name: "mic 3 cm, 20 degrees off". Nothing is guessed: words that could mean two things, or nothing, are given back with
what they could mean. What is understood can be said back (`Understood.said`) and is then understood the same.
"""

import re
import unicodedata
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

from app.trade.distances import (
    LengthUnit,
    NotAMeasure,
    read_angle_deg,
    read_distance_mm,
    read_frequency_hz,
    read_level_db,
    read_offset_mm,
)
from app.trade.readings import UnknownReading, accepts, read
from app.trade.scales import ControlSpec
from app.trade.written_numbers import quoted, tidy

LINE_LIMIT = 400  # characters
WORDS_LIMIT = 80
NAME_WORDS_LIMIT = 8
READING_WORDS_LIMIT = 9  # "a quarter past 2 o ' clock"
SHORTEST_CUT = 2  # letters that a word can be cut down to


@dataclass(frozen=True)
class JotControl:
    """A control that a line can set. `field` is whatever name the caller knows it by."""

    field: str
    spec: ControlSpec


@dataclass(frozen=True)
class JotGear:
    """A piece of gear of the chain. `placement` maps the measures of a microphone's place to the caller's names."""

    name: str
    kind_word: str
    controls: tuple[JotControl, ...] = ()
    placement: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Understood:
    """One setting: `reading` goes into `field`. `said` says it in full."""

    words: str
    field: str
    gear: str
    what: str
    reading: str

    @property
    def said(self) -> str:
        return f"{_plain(self.gear)} {_plain(self.what)} {self.reading}"


@dataclass(frozen=True)
class Puzzling:
    """Words that were not understood, why, and what they could mean."""

    words: str
    sentence: str
    could_mean: tuple[str, ...] = ()
    is_open: bool = False
    """Whether the words that follow may belong to these."""


@dataclass(frozen=True)
class JotLine:
    """What a line says, in its order. `left_over` is the line without what was understood."""

    parts: tuple[Understood | Puzzling, ...]

    @property
    def understood(self) -> tuple[Understood, ...]:
        return tuple(part for part in self.parts if isinstance(part, Understood))

    @property
    def puzzling(self) -> tuple[Puzzling, ...]:
        return tuple(part for part in self.parts if isinstance(part, Puzzling))

    @property
    def left_over(self) -> str:
        return ", ".join(part.words for part in self.puzzling)

    @property
    def said(self) -> str:
        return ", ".join(part.said for part in self.understood)


def read_line(line: str, chain: Sequence[JotGear], unit: LengthUnit = "mm") -> JotLine:
    """Read a line against a chain. A bare length is in `unit`."""
    if len(line) > LINE_LIMIT:
        return JotLine((Puzzling(line, f"A line has at most {LINE_LIMIT} characters."),))
    words = _split(line)
    if len(words) > WORDS_LIMIT:
        return JotLine((Puzzling(line, f"A line has at most {WORDS_LIMIT} words."),))
    return JotLine(
        tuple(_if_it_can_be_said(part, chain, unit) for part in _Reader(words, chain, unit).parts())
    )


def _if_it_can_be_said(
    part: "Understood | Puzzling", chain: Sequence[JotGear], unit: LengthUnit
) -> "Understood | Puzzling":
    """The part as it is, unless two things bear the name it would be said by."""
    if isinstance(part, Puzzling):
        return part
    again = list(_Reader(_split(part.said), chain, unit).parts())
    is_same = (
        len(again) == 1
        and isinstance(again[0], Understood)
        and (again[0].field, again[0].reading) == (part.field, part.reading)
    )
    if is_same:
        return part
    sentence = (
        f"More than one thing in this chain could be called {quoted(part.words)}. Set it at its control."
    )
    return Puzzling(part.words, sentence, (part.said,))


@dataclass(frozen=True)
class _Word:
    text: str
    ends_part: bool = False


def _split(line: str) -> list[_Word]:
    """Words, each with whether a comma, semicolon or line's end comes after it. A comma between digits is a decimal."""
    found: list[_Word] = []
    for part in re.split(r"[;\n\r]+|,(?!\d)|(?<!\d),", line):
        words = tidy(part).split()
        found += [_Word(text, at == len(words) - 1) for at, text in enumerate(words)]
    return found


SPELLINGS = {
    "hi": "high",
    "lo": "low",
    "vol": "volume",
    "lvl": "level",
    "freq": "frequency",
    "mids": "mid",
    "middle": "mid",
    "verb": "reverb",
    "dist": "distortion",
}
"""Words that are written in more than one way, each with the one it is compared by (common practice)."""
JOINED = frozenset({"reamp", "preamp"})
"""As often written as two words, of which the second alone would be something else."""
APART = {
    word: (first, second)
    for first in ("hi", "high", "lo", "low")
    for second in ("mid", "cut", "pass", "shelf")
    for word in (first + second,)
}
"""Written as one word where it is two."""


def _name_words(text: str) -> tuple[str, ...]:
    """The words of a name, for comparing: "15-watt valve combo" has four."""
    return _spelt(re.findall(r"[^\W_]+", unicodedata.normalize("NFKC", text).casefold()))


def _spelt(words: Sequence[str]) -> tuple[str, ...]:
    """Words of a name, those that are written as one or as two made alike."""
    found: list[str] = []
    for word in words:
        if found and found[-1] + word in JOINED:
            found[-1] += word
        else:
            found += APART.get(word, (word,))
    return tuple(found)


def _one_way(word: str) -> str:
    return SPELLINGS.get(word, word)


def _plain(name: str) -> str:
    """A name as it can stand in a line: without the commas that would end a part of it."""
    return " ".join(re.sub(r"[,;\s]+", " ", name).split())


def _matches(typed: str, word: str) -> int | None:
    """0 for the word itself, 1 for one cut short, None for another. Numbers are not cut short."""
    if typed == word or _one_way(typed) == _one_way(word):
        return 0
    is_cut = len(typed) >= SHORTEST_CUT and not typed.isdigit() and word.startswith(typed)
    return 1 if is_cut else None


def _name_rank(typed: Sequence[str], name: Sequence[str], *, in_order: bool) -> int | None:
    """How well words name something: 0 its whole name, 1 whole words of it, 2 words cut short, None not at all."""
    if not typed:
        return None
    worst, left = 0, list(name)
    for word in typed:
        ranks = [(rank, at) for at, other in enumerate(left) if (rank := _matches(word, other)) is not None]
        if not ranks:
            return None
        rank, at = min(ranks)
        worst = max(worst, rank)
        left = left[at + 1 :] if in_order else left[:at] + left[at + 1 :]
    if worst == 0 and len(typed) == len(name):
        return 0
    return 1 + worst


_NO_RANK = 9
PLACE = "place"


@dataclass(frozen=True)
class _Target:
    """A control, or a measure of a microphone's place, that some words may name."""

    field: str
    gear_at: int
    gear: str
    what: str
    spec: ControlSpec | None

    @property
    def meaning(self) -> str:
        return _plain(f"{self.gear} {'' if self.what == PLACE else _OWN_WORDS.get(self.what, self.what)}")


@dataclass(frozen=True)
class _Way:
    """One way to read the rest of a line. `cost` is what it leaves to be explained."""

    cost: float
    parts: tuple[Understood | Puzzling, ...]


MEASURES: dict[str, tuple[str, ...]] = {
    "distance": ("distance", "away"),
    "offset": ("offset", "off centre", "off center"),
    "angle": ("angle",),
    "height": ("height",),
    "pad": ("pad",),
    "low_cut": ("low cut",),
    "pattern": ("pattern",),
    "gain": ("gain",),
    "speaker": ("speaker",),
}
_OWN_WORDS = {
    "distance": "distance",
    "offset": "offset",
    "angle": "angle",
    "height": "height",
    "low_cut": "low cut",
}
_LENGTH = r"(?P<measure>.*\S)"
_PLACES: tuple[tuple[str, re.Pattern[str]], ...] = tuple(
    (name, re.compile(pattern, re.IGNORECASE))
    for name, pattern in (
        ("angle", r"(?P<measure>on[ -]axis|straight on)"),
        ("offset", r"(?P<measure>(?:dead |on )?cent(?:re|er))"),
        ("offset", rf"{_LENGTH} off (?:the )?(?:cent(?:re|er)|middle|cone)"),
        ("angle", r"(?P<measure>[-+−]?[\d.,]+ ?(?:°|deg(?:rees?)?\b))(?: off(?: axis)?)?"),
        ("height", rf"{_LENGTH} (?:high|up|above the floor)"),
        ("distance", rf"{_LENGTH} (?:away|back|from (?:the )?(?:grille|cloth|cone|speaker))"),
        ("distance", _LENGTH),
    )
)


class _Reader:
    """Finds the reading of a line that leaves least unexplained. A line is short, so all ways are weighed."""

    def __init__(self, words: list[_Word], chain: Sequence[JotGear], unit: LengthUnit) -> None:
        self.words = words
        self.chain = chain
        self.unit = unit
        self.gear_words = [
            (gear, _name_words(gear.name), (*_name_words(gear.name), *_name_words(gear.kind_word)))
            for gear in chain
        ]
        self.vocabulary = {word for _, _, words in self.gear_words for word in words} | {
            word
            for at, gear in enumerate(chain)
            for _, words in _nameable(at, gear, with_place=True)
            for word in words
        }
        self.known: dict[str, bool] = {}
        self.ways: dict[tuple[int, str], _Way] = {}
        self.targets: dict[tuple[int, int], tuple[_Target, ...]] = {}

    def parts(self) -> Iterable[Understood | Puzzling]:
        for start in range(len(self.words), -1, -1):  # from the end, so that the way on is always known
            for microphone in {"", *(gear.name for gear in self.chain if gear.placement)}:
                self.ways[start, microphone] = self._best(start, microphone)
        return _joined(self.ways[0, ""].parts)

    def _best(self, at: int, microphone: str) -> _Way:
        if at == len(self.words):
            return _Way(0.0, ())
        ways = [self._unknown(at, microphone)]
        if self.words[at].text.casefold() in ("and", "&", "+", "then"):
            rest = self.ways[at + 1, microphone]
            ways.append(_Way(rest.cost + 0.01, rest.parts))
        ways += self._named(at, microphone)
        if microphone:
            ways += self._measured(at, microphone)
        return min(ways, key=lambda way: (round(way.cost, 6), len(way.parts)))

    def _unknown(self, at: int, microphone: str) -> _Way:
        word = self.words[at]
        sentence = f"{quoted(word.text)} names no control of this chain."
        rest = self.ways[at + 1, "" if word.ends_part else microphone]
        return _Way(rest.cost + 4.0, (Puzzling(word.text, sentence, (), not word.ends_part), *rest.parts))

    def _named(self, at: int, microphone: str) -> Iterable[_Way]:
        """A name from `at` on, with a reading after it, or with none that fits."""
        last = min(len(self.words), at + NAME_WORDS_LIMIT, self._part_end(at))
        for name_end in range(at + 1, last + 1):
            targets = self._targets(at, name_end)
            if not targets:
                continue
            part_end = self._part_end(at)
            ends = range(name_end + 1, min(part_end, name_end + READING_WORDS_LIMIT) + 1)
            fitting = [end for end in ends if any(self._reads(t, name_end, end, part_end) for t in targets)]
            if len(targets) == 1 and targets[0].spec is not None and targets[0].spec.form == "text":
                fitting = [part_end] if part_end > name_end else []
            for end in fitting:
                yield self._set(targets, at, name_end, end)
            if not fitting:
                yield self._without_reading(targets, at, name_end, microphone)

    def _set(self, targets: tuple[_Target, ...], at: int, name_end: int, end: int) -> _Way:
        typed = self._text(at, end)
        if len(targets) > 1:
            meanings = tuple(dict.fromkeys(target.meaning for target in targets))
            named = self._text(at, name_end)
            sentence = f"{quoted(named)} could be {_either(meanings)}. Say which."
            rest = self.ways[end, ""]
            reading = self._text(name_end, end)
            could = tuple(f"{meaning} {reading}" for meaning in meanings)
            return _Way(rest.cost + 1.0, (Puzzling(typed, sentence, could), *rest.parts))
        target = targets[0]
        if target.spec is not None:
            said = Understood(typed, target.field, target.gear, target.what, self._text(name_end, end))
            rest = self.ways[end, ""]
        else:
            found = self._measure(target, self._text(name_end, end))
            assert found is not None
            name, reading = found
            gear = self.chain[target.gear_at]
            said = Understood(typed, gear.placement[name], gear.name, _OWN_WORDS.get(name, name), reading)
            rest = self.ways[end, gear.name]
        return _Way(rest.cost, (said, *rest.parts))

    def _without_reading(self, targets: tuple[_Target, ...], at: int, name_end: int, microphone: str) -> _Way:
        """A name whose reading is missing or is none of that control: up to where the next name begins."""
        part_end = self._part_end(at)
        end = name_end
        while end < part_end and not self._begins_a_name(end):
            end += 1
        rest = self.ways[end, microphone]
        named, reading = self._text(at, name_end), self._text(name_end, end)
        meanings = tuple(dict.fromkeys(target.meaning for target in targets))
        if len(targets) > 1:
            sentence = f"{quoted(named)} could be {_either(meanings)}. Say which."
        else:
            sentence = self._why_not(targets[0], meanings[0], reading)
            spec = targets[0].spec
            if spec is not None and spec.positions:
                meanings = tuple(f"{meanings[0]} {position}" for position in spec.positions)
        cost = rest.cost + 2.0 + 0.5 * (end - name_end) - 0.1 * (name_end - at)
        is_open = not reading and end < part_end
        return _Way(cost, (Puzzling(self._text(at, end), sentence, meanings, is_open), *rest.parts))

    def _why_not(self, target: _Target, meaning: str, reading: str) -> str:
        if target.spec is None:
            return f"{meaning}: write a measure, such as 30 mm or 20 degrees."
        if not reading:
            return f"{meaning}: to what? {accepts(target.spec)}"
        try:
            read(target.spec, reading)
        except UnknownReading as error:
            return f"{meaning}: {error}"
        return f"{meaning}: {accepts(target.spec)}"

    def _measured(self, at: int, microphone: str) -> Iterable[_Way]:
        """A measure without a name, said of the microphone that was spoken of last."""
        gear = next(gear for gear in self.chain if gear.name == microphone and gear.placement)
        part_end = self._part_end(at)
        for end in range(at + 1, min(part_end, at + READING_WORDS_LIMIT) + 1):
            text = self._text(at, end)
            found = self._place(text)
            if found is None or not re.search(r"[^\d\s.,+−-]", text):
                continue
            name, reading = found
            said = Understood(text, gear.placement[name], gear.name, _OWN_WORDS.get(name, name), reading)
            rest = self.ways[end, microphone]
            yield _Way(rest.cost + 0.1, (said, *rest.parts))

    def _reads(self, target: _Target, start: int, end: int, part_end: int) -> bool:
        text = self._text(start, end)
        if target.spec is None:
            return self._measure(target, text) is not None
        if target.spec.form == "text" and end != part_end:
            return False
        try:
            return bool(read(target.spec, text).text)
        except UnknownReading:
            return False

    def _measure(self, target: _Target, text: str) -> tuple[str, str] | None:
        """What a microphone's measure says: which, and the text for its field."""
        name = target.what
        if name == PLACE:
            return self._place(text)
        if name in ("pattern", "gain", "speaker"):
            return (name, text) if text else None
        return self._checked_measure(name, text)

    def _place(self, text: str) -> tuple[str, str] | None:
        for name, pattern in _PLACES:
            found = pattern.fullmatch(text)
            if found and (checked := self._checked_measure(name, found["measure"])):
                return checked
        return None

    def _checked_measure(self, name: str, text: str) -> tuple[str, str] | None:
        if name == "offset" and re.fullmatch(r"(?:dead |on )?cent(?:re|er)", text, re.IGNORECASE):
            return name, "0 mm"
        readers: dict[str, Callable[[str], float]] = {
            "distance": lambda words: read_distance_mm(words, self.unit),
            "offset": lambda words: read_offset_mm(words, self.unit),
            "height": lambda words: read_distance_mm(words, self.unit),
            "angle": read_angle_deg,
            "pad": read_level_db,
            "low_cut": read_frequency_hz,
        }
        try:
            readers[name](text)
        except NotAMeasure:
            return None
        is_length = name in ("distance", "offset", "height")
        return name, f"{text} {self.unit}" if is_length and re.fullmatch(r"[\d.,/ +−-]+", text) else text

    def _targets(self, start: int, end: int) -> tuple[_Target, ...]:
        """What the words from `start` to `end` name best: words of a piece of gear, if any, then a control's."""
        if (start, end) not in self.targets:
            self.targets[start, end] = self._named_best(
                _spelt([word for at in range(start, end) for word in _name_words(self.words[at].text)])
            )
        return self.targets[start, end]

    def _named_best(self, typed: Sequence[str]) -> tuple[_Target, ...]:
        if not all(self._is_of_a_name(word) for word in typed):
            return ()
        ranked: list[tuple[int, int, _Target]] = []
        for split in range(len(typed) + 1):
            for at, (gear, name, all_words) in enumerate(self.gear_words):
                by_name = _name_rank(typed[:split], name, in_order=True)
                by_any = _name_rank(typed[:split], all_words, in_order=False)
                gear_rank = 0 if split == 0 else min(_or_none(by_name), 1 + _or_none(by_any))
                if gear_rank >= _NO_RANK:
                    continue
                for target, words in _nameable(at, gear, with_place=split > 0):
                    rank = (
                        0
                        if not words and split == len(typed)
                        else _name_rank(typed[split:], words, in_order=True)
                    )
                    if rank is not None:
                        ranked.append((rank, gear_rank, target))
        best = min(((rank, gear_rank) for rank, gear_rank, _ in ranked), default=None)
        return tuple(dict.fromkeys(target for rank, gear_rank, target in ranked if (rank, gear_rank) == best))

    def _is_of_a_name(self, typed: str) -> bool:
        if typed not in self.known:
            self.known[typed] = any(_matches(typed, word) is not None for word in self.vocabulary)
        return self.known[typed]

    def _begins_a_name(self, at: int) -> bool:
        return any(self._targets(at, end) for end in range(at + 1, min(self._part_end(at), at + 4) + 1))

    def _part_end(self, at: int) -> int:
        """Behind the last word before the next comma."""
        return next((k + 1 for k in range(at, len(self.words)) if self.words[k].ends_part), len(self.words))

    def _text(self, start: int, end: int) -> str:
        return " ".join(word.text for word in self.words[start:end])


def _or_none(rank: int | None) -> int:
    return _NO_RANK if rank is None else rank


def _nameable(at: int, gear: JotGear, *, with_place: bool) -> Iterable[tuple[_Target, tuple[str, ...]]]:
    """What of a piece of gear can be named, with the words for it. A microphone's measures need its name before them,
    and its place can go without a name of its own."""
    for control in gear.controls:
        yield (
            _Target(control.field, at, gear.name, control.spec.name, control.spec),
            _name_words(control.spec.name),
        )
    if gear.placement and with_place:
        yield _Target(gear.placement["distance"], at, gear.name, PLACE, None), ()
        for name, field_name in gear.placement.items():
            for words in MEASURES.get(name, ()):
                yield _Target(field_name, at, gear.name, name, None), _name_words(words)


def _either(meanings: Sequence[str]) -> str:
    shown = [*meanings[:4], *(["others"] if len(meanings) > 4 else [])]
    return f"{', '.join(shown[:-1])} or {shown[-1]}"


def _joined(parts: Sequence[Understood | Puzzling]) -> Iterable[Understood | Puzzling]:
    """Words that name nothing are told of together where they stand together. What comes right behind them, with no
    comma between, is in doubt too: in "fuzz tone 5" the tone of something else may not be what was meant."""
    found: list[Understood | Puzzling] = []
    for part in parts:
        before = found[-1] if found else None
        if not isinstance(before, Puzzling) or not before.is_open:
            found.append(part)
            continue
        words = f"{before.words} {part.words}"
        if isinstance(part, Understood):
            sentence = f"{before.sentence} Is {quoted(part.said)} meant?"
            found[-1] = Puzzling(words, sentence, (*before.could_mean, part.said))
        elif part.could_mean or before.could_mean:
            found.append(part)
        else:
            sentence = f"{quoted(words)} names no control of this chain."
            found[-1] = Puzzling(words, sentence, (), part.is_open)
    return found
