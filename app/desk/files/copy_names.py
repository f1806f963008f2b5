"""Names of files and tracks, after a pattern of the person's own: plain words in braces, as in "{source} p{pass}"."""

import re
import unicodedata
from collections.abc import Mapping, Sequence

from app.desk.refusals import Refusal

STANDARD_PATTERN = "{project} {source} p{pass} {print}"
WORDS = ("project", "artist", "source", "pass", "title", "print", "file")
LONGEST_BYTES = 180

_BRACED = re.compile(r"\{([^{}]*)\}")
_NOT_IN_NAMES = re.compile(r'[/\\:*?"<>|]')
_RESERVED = re.compile(r"(?i)(con|prn|aux|nul|com\d|lpt\d)(\..*)?")


def names(pattern: str, of: Sequence[Mapping[str, str]], extension: str) -> list[str]:
    """One name for each set of words, all different even where capitals do not count. The pattern's words must be
    among them (`refuse_unless_pattern`)."""
    taken: set[str] = set()
    found = []
    for words in of:
        stem = _fit(_filled_in(pattern, words))
        name, number = f"{stem}{extension}", 2
        while name.casefold() in taken:
            name, number = f"{stem} ({number}){extension}", number + 1
        taken.add(name.casefold())
        found.append(name)
    return found


def refuse_unless_pattern(pattern: str, words: Sequence[str] = WORDS) -> None:
    """Raises Refusal, at field "pattern", for a word that there is not, or braces that do not match."""
    known = ", ".join(f"{{{word}}}" for word in words)
    if not pattern.strip():
        raise Refusal({"pattern": f"The pattern is empty. These words can stand in it: {known}."})
    unknown = [word for word in _BRACED.findall(pattern) if word.strip().casefold() not in words]
    if unknown:
        said = ", ".join(f"{{{word}}}" for word in dict.fromkeys(unknown))
        raise Refusal({"pattern": f"There is no {said}. These words can stand in a pattern: {known}."})
    if set("{}") & set(_BRACED.sub("", pattern)):
        raise Refusal({"pattern": "A brace in the pattern has no partner. Write words as {source}."})


def _filled_in(pattern: str, words: Mapping[str, str]) -> str:
    return _BRACED.sub(lambda braced: words[braced[1].strip().casefold()], pattern)


def _fit(text: str) -> str:
    """What every file system takes."""
    kept = "".join(" " if unicodedata.category(char) in ("Cc", "Cs") else char for char in text)
    kept = " ".join(_NOT_IN_NAMES.sub("-", unicodedata.normalize("NFC", kept)).split())
    while len(kept.encode()) > LONGEST_BYTES:
        kept = kept[:-1]
    kept = kept.strip(". ")
    return f"_{kept}" if not kept or _RESERVED.fullmatch(kept) else kept
