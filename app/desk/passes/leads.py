"""What moves a pass onto its source's time line."""

from collections.abc import Iterable
from dataclasses import dataclass

from app.signal.figures import PrintFigures


@dataclass(frozen=True)
class Lead:
    """What moves a pass as a whole: the delay and clock of its earliest print, in seconds and in that print's own
    samples. Its microphones keep their distance to one another, since that is part of the sound."""

    delay_s: float
    delay_samples: float
    drift_ppm: float


def lead_of(prints: Iterable[PrintFigures | None]) -> Lead | None:
    """None where no print's place against the source is known."""
    known = [
        Lead(
            alignment.delay_samples / figures.file.sample_rate,
            alignment.delay_samples,
            alignment.drift_ppm or 0.0,
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
