"""Words that a person typed, made fit to keep: trimmed, whole, of bearable length."""

import unicodedata

from app.desk.refusals import Complaints

LINE_LIMIT = 200
NOTES_LIMIT = 20_000

# They turn the order of everything behind them, also of what is not part of the text.
_TURNING = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")


def printable(text: str) -> str:
    """Without control characters. Joiners stay: emoji and several scripts are written with them."""
    return "".join(
        char
        for char in text
        if char in "\n\t" or (unicodedata.category(char) not in ("Cc", "Cs", "Cn") and char not in _TURNING)
    )


def line(complaints: Complaints, field: str, label: str, text: str, *, required: bool = False) -> str:
    """One line of at most LINE_LIMIT characters."""
    kept = " ".join(printable(text.replace("\n", " ")).split())
    if required and not kept:
        complaints.add(field, f"{label} is empty. Write at least a word.")
    if len(kept) > LINE_LIMIT:
        complaints.add(
            field,
            f"{label} has {len(kept):,} characters; {LINE_LIMIT} are the most. Put the rest in the notes.",
        )
    return kept


def notes(complaints: Complaints, field: str, label: str, text: str) -> str:
    """Free text of several lines."""
    kept = printable(text.replace("\r\n", "\n").replace("\r", "\n")).strip()
    if len(kept) > NOTES_LIMIT:
        complaints.add(field, f"{label} have {len(kept):,} characters; {NOTES_LIMIT:,} are the most.")
    return kept


def number_in(text: str) -> int | None:
    """A row's id or a place in a list, as the page itself wrote it; anything else is None."""
    return int(text) if text.isascii() and text.isdigit() and len(text) < 15 else None


def file_name(text: str) -> str:
    """The last part of a path as some computer wrote it, to be shown only: files are kept by their hash."""
    kept = printable(text.replace("\n", " ").replace("\t", " ")).replace("\\", "/").split("/")[-1].strip()
    return kept[:LINE_LIMIT] or "unnamed file"
