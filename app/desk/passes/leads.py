"""What moves a pass onto its source's time line."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from app.signal.figures import AlignmentFigures, PrintFigures
from app.signal.listening.figures import Moved, moved_of

SAME_PLACE_S, SAME_MOVE_S = 0.5, 0.0003
"""Jumps of two microphones that lie no further apart, and move by as much to a dozen samples, are one. Chosen: a place is
read to some tenths of a second in soft passages, and each microphone has its own air."""


@dataclass(frozen=True)
class Lead:
    """What moves a pass as a whole: the delay and clock of its earliest print, in seconds and in that print's own
    samples, and how it goes on where it jumps. Its microphones keep their distance to one another, since that is part of
    the sound."""

    delay_s: float
    delay_samples: float
    drift_ppm: float
    moved: tuple[Moved, ...] = ()

    def moved_with(self, alignment: AlignmentFigures, sample_rate: int) -> tuple[Moved, ...]:
        """How a print of the pass goes on: as the lead does, for one stream holds all microphones; as itself where it
        jumps elsewhere."""
        own = moved_of(alignment, sample_rate)
        return self.moved if not own or _alike(own, self.moved) else own


def _alike(one: Sequence[Moved], other: Sequence[Moved]) -> bool:
    return len(one) == len(other) and all(
        abs(a.from_s - b.from_s) < SAME_PLACE_S
        and (a.by_s is None) == (b.by_s is None)
        and abs((a.by_s or 0.0) - (b.by_s or 0.0)) < SAME_MOVE_S
        for a, b in zip(one, other, strict=True)
    )


def lead_of(prints: Iterable[PrintFigures | None]) -> Lead | None:
    """None where no print's place against the source is known."""
    known = [
        Lead(
            alignment.delay_samples / figures.file.sample_rate,
            alignment.delay_samples,
            alignment.drift_ppm or 0.0,
            moved_of(alignment, figures.file.sample_rate),
        )
        for figures in prints
        if figures is not None
        and (alignment := figures.alignment) is not None
        and alignment.delay_samples is not None
    ]
    return min(known, key=lambda lead: lead.delay_s, default=None)


def lined_up_in_words(prints: Iterable[PrintFigures | None]) -> str:
    """Where the prints of a blend with the source lie."""
    lead = lead_of(prints)
    if lead is None:
        return "where the prints lie against the source is not known: they begin where it begins"
    if abs(lead.delay_samples) < 0.5:
        return "all prints where they were recorded: they meet the source there"
    side = "earlier" if lead.delay_samples > 0 else "later"
    return (
        f"all prints {abs(lead.delay_samples):.0f} samples ({abs(1000 * lead.delay_s):.2f} ms) {side} than they were "
        "recorded, to meet the source"
    )
