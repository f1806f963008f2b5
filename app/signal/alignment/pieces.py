"""The pieces of a print: where its delay jumps they part, and what lies between them is named."""

from collections.abc import Sequence
from dataclasses import dataclass

from app.signal.figures import Between, BetweenKind, Dropout, Piece, Polarity

LONGEST_LOSS_S = 0.175
"""The largest usual buffer, 8,192 samples at 48 kHz, and a little more: what is longer was edited, not lost."""
SAME_PLACE_S, SAME_CHANGE_S = 0.1, 5.0
"""A dropout found in the print itself is a change of its delay as near as this; or where both are as many samples, within this
of it, for in soft passages a change is placed to some seconds only."""
SAME_SAMPLES = 2
"""Two counts of what was lost that differ by no more are one. Chosen: a lag is read to a sample, and rounded."""


@dataclass(frozen=True, slots=True)
class Change:
    """From `at_s` of the print on it lies so many samples later against its source, or earlier where they are fewer than
    none."""

    at_s: float
    samples: int

    def is_edit(self, rate: int) -> bool:
        return abs(self.samples) > LONGEST_LOSS_S * rate


@dataclass(frozen=True, slots=True)
class Line:
    """Where the first piece lies, and what is known of it."""

    rate: int
    delay: float
    drift: float
    tells_drift: bool
    polarity: Polarity
    confidence: float


def dropouts_of(changes: Sequence[Change], rate: int) -> tuple[Dropout, ...]:
    """Those that were lost, or heard twice, while it was printed."""
    return tuple(
        Dropout(change.at_s, "skip" if change.samples < 0 else "repeat", abs(change.samples))
        for change in changes
        if not change.is_edit(rate)
    )


def placed_by(changes: Sequence[Change], dropouts: Sequence[Dropout]) -> tuple[Change, ...]:
    """The changes, at the places that the print itself tells more exactly where it does."""
    left, placed = list(dropouts), []
    for change in changes:
        kind = "skip" if change.samples < 0 else "repeat"
        alike = [
            dropout
            for dropout in left
            if dropout.kind == kind
            and abs(dropout.samples - abs(change.samples)) <= SAME_SAMPLES
            and abs(dropout.at_s - change.at_s) < SAME_CHANGE_S
        ]
        if alike:
            nearest = min(alike, key=lambda dropout: abs(dropout.at_s - change.at_s))
            left.remove(nearest)
            change = Change(nearest.at_s, change.samples)
        placed.append(change)
    return tuple(sorted(placed, key=lambda change: change.at_s))


def beside(dropouts: Sequence[Dropout], found: Sequence[Dropout]) -> tuple[Dropout, ...]:
    """Those found in the print itself, and those found against its source that are none of them, in their order."""
    more = [one for one in found if all(abs(one.at_s - other.at_s) >= SAME_PLACE_S for other in dropouts)]
    return tuple(sorted([*dropouts, *more], key=lambda dropout: dropout.at_s))


def pieces_of(
    line: Line, changes: Sequence[Change], source_s: float, print_s: float
) -> tuple[tuple[Piece, ...], tuple[Between, ...]]:
    """The pieces of a print of `print_s` seconds, and what lies between them."""
    pieces: list[Piece] = []
    between: list[Between] = []
    delay, from_s = line.delay, max(0.0, line.delay / line.rate)
    for change in [*changes, None]:
        to_s = (
            min(print_s, source_s * (1 + line.drift) + delay / line.rate) if change is None else change.at_s
        )
        pieces.append(_piece(line, delay, from_s, max(from_s, to_s)))
        if change is None:
            break
        between.append(between_of(change, line.rate))
        delay += change.samples
        is_cut = change.samples > 0 and change.is_edit(line.rate)
        from_s = change.at_s + (change.samples / line.rate if is_cut else 0.0)
    return tuple(pieces), tuple(between)


def _piece(line: Line, delay: float, from_s: float, to_s: float) -> Piece:
    first, last = ((at_s - delay / line.rate) / (1 + line.drift) for at_s in (from_s, to_s))
    drift_ppm = line.drift * 1e6 if line.tells_drift else None
    return Piece(from_s, to_s, first, last, delay, drift_ppm, line.polarity, line.confidence)


def between_of(change: Change, rate: int, why: str = "") -> Between:
    """What a change is taken for, and for which reason, if it is not another that is given."""
    samples, is_edit = abs(change.samples), change.is_edit(rate)
    long = f"{samples / rate:.2f} s, longer than any buffer"
    kind: BetweenKind
    if is_edit and change.samples > 0:
        kind, reason = "cut from the source since", f"The print holds {long}, more than the source."
    elif is_edit:
        kind = "lost"
        reason = (
            f"The source holds {long}, more than the print: pasted into it since, or cut out of the print."
        )
    else:
        kind = "lost" if change.samples < 0 else "repeated"
        way = "further on" if change.samples < 0 else "further back"
        reason = f"The print goes on {samples} samples {way} in the source at once."
    return Between(change.at_s, kind, samples, why or reason, is_edit)


def silent_between(dropouts: Sequence[Dropout]) -> tuple[Between, ...]:
    return tuple(
        Between(dropout.at_s, "silent", dropout.samples, "Nothing sounds here, while the source plays.")
        for dropout in dropouts
        if dropout.kind == "gap"
    )
