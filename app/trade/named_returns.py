"""Which microphone or return of a chain a print's file is of: as its name says, its channels, or its place among the
files that came at once."""

import re
import unicodedata
from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from app.trade.gear_kinds import GearKind

KIND_WORDS: dict[GearKind, frozenset[str]] = {
    "microphone": frozenset({"mic", "mike", "microphone"}),
    "di_box": frozenset({"di", "direct"}),
    "load": frozenset({"load", "line"}),
}
"""How the trade calls a return on a track, whatever the piece is called."""
STEREO_WORDS = frozenset({"stereo", "pair", "xy", "ortf", "overheads"})
"""What a name says of two microphones on one track."""
_WORD = re.compile(r"[^\W_]+")
_NUMBER = re.compile(r"\d+")


@dataclass(frozen=True)
class Return:
    """What a print can come back from, by the id of its step in the chain and of the piece there."""

    step_id: int
    name: str
    kind: str
    gear_id: int = 0


@dataclass(frozen=True)
class PrintFile:
    """`channels` is 0 where it is not known."""

    name: str
    channels: int = 0


@dataclass(frozen=True)
class Guess:
    """`is_sure` is False where only its place among the others speaks for it: then a person is asked."""

    step_id: int
    is_sure: bool


def guess_returns(
    files: Sequence[PrintFile],
    returns: Sequence[Return],
    *,
    taken: Collection[int] = (),
    besides: str = "",
) -> list[Guess | None]:
    """For each file the return that it is of. `taken` are the steps that have a print already, so they are not guessed
    by place; `besides` are words in the name that say nothing of it: what source and project are called."""
    found: list[Guess | None] = [_told(file, returns, besides) for file in files]
    _by_channels(found, files, returns)
    if len(returns) == 1:
        is_sure = len(files) == 1 and not taken
        return [guess or Guess(returns[0].step_id, is_sure) for guess in found]
    open_files = sorted(
        (index for index, guess in enumerate(found) if guess is None),
        key=lambda index: _natural(files[index]),
    )
    used = {guess.step_id for guess in found if guess is not None} | set(taken)
    left = [one for one in returns if one.step_id not in used]
    if len(open_files) == len(left):
        for index, one in zip(open_files, left, strict=True):
            found[index] = Guess(one.step_id, False)
    return found


def _told(file: PrintFile, returns: Sequence[Return], besides: str) -> Guess | None:
    said = _words(file.name.rsplit("/", 1)[-1].rsplit(".", 1)[0])
    whole = [one for one in returns if _words(one.name) and _words(one.name) <= said]
    longest = max((len(_words(one.name)) for one in whole), default=0)
    fitting = [one for one in whole if len(_words(one.name)) == longest]
    if not fitting:
        own = _own_words(returns)
        said -= _words(besides)
        fitting = [one for one in returns if own[one.step_id] & said]
    return Guess(fitting[0].step_id, True) if len(fitting) == 1 else None


def _own_words(returns: Sequence[Return]) -> dict[int, frozenset[str]]:
    """By step the words that tell it from the others. A number may be a take's, so it tells nothing."""
    said = Counter(word for one in returns for word in _words(one.name))
    kinds = Counter(one.kind for one in returns)
    own = {}
    for one in returns:
        words = {word for word in _words(one.name) if said[word] == 1 and not _NUMBER.fullmatch(word)}
        for kind, called in KIND_WORDS.items():
            if kind == one.kind and kinds[kind] == 1:
                words |= called
            elif kind != one.kind:
                words -= called
        own[one.step_id] = frozenset(words)
    return own


def _by_channels(found: list[Guess | None], files: Sequence[PrintFile], returns: Sequence[Return]) -> None:
    """The one stereo file among others is of the one return that is called a pair."""
    pairs = [one for one in returns if _words(one.name) & STEREO_WORDS]
    stereo = [index for index, file in enumerate(files) if file.channels == 2]
    if len(pairs) == len(stereo) == 1 and len(files) > 1 and found[stereo[0]] is None:
        found[stereo[0]] = Guess(pairs[0].step_id, True)


def _words(text: str) -> frozenset[str]:
    return frozenset(_WORD.findall(unicodedata.normalize("NFC", text).casefold()))


def _natural(file: PrintFile) -> list[tuple[int, str]]:
    """Names in the order a person counts: 2 before 10."""
    return [
        (int(part), "") if part.isdigit() else (-1, part.casefold())
        for part in re.split(r"(\d+)", file.name)
        if part
    ]
