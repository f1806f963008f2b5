"""What is notable about a print, in words a person can act on."""

from dataclasses import dataclass
from typing import Literal

from app.drawings.wording import clock_time
from app.signal.figures import PrintFigures

LATE_START_S = 0.05
EARLY_END_S = 0.05
DC_NOTABLE = 0.003
HUM_NOTABLE_CONFIDENCE = 0.5


@dataclass(frozen=True)
class Finding:
    """`severity` is "fault" (print it again) or "note" (good to know)."""

    severity: Literal["fault", "note"]
    sentence: str


def find(figures: PrintFigures) -> tuple[Finding, ...]:
    """The findings of one print, faults first."""
    found = [*_of_the_signal(figures), *_against_the_source(figures)]
    return tuple(sorted(found, key=lambda finding: finding.severity != "fault"))


def _of_the_signal(figures: PrintFigures) -> list[Finding]:
    found = []
    faults = figures.faults
    if faults.silent:
        found.append(Finding("fault", "is silent: nothing came back"))
    if faults.clipped_runs:
        first = clock_time(faults.clipped_runs[0].at_s)
        places = len(faults.clipped_runs)
        found.append(
            Finding(
                "fault", f"clips at {first}" if places == 1 else f"clips in {places} places, first at {first}"
            )
        )
    for dropout in faults.dropouts[:3]:
        what = {
            "gap": f"a gap of {dropout.samples} samples",
            "repeat": f"{dropout.samples} samples repeated",
            "skip": f"{dropout.samples} samples missing",
        }[dropout.kind]
        found.append(Finding("fault", f"{what} at {clock_time(dropout.at_s)}"))
    if len(faults.dropouts) > 3:
        found.append(Finding("fault", f"{len(faults.dropouts) - 3} more dropouts"))
    if faults.hum is not None and faults.hum.confidence >= HUM_NOTABLE_CONFIDENCE:
        found.append(
            Finding("note", f"{faults.hum.mains_hz:g} Hz mains hum at {faults.hum.level_dbfs:.0f} dBFS")
        )
    if figures.level.dc_offset is not None and abs(figures.level.dc_offset) > DC_NOTABLE:
        found.append(Finding("note", f"DC offset of {figures.level.dc_offset * 100:.1f} % of full scale"))
    return found


def _against_the_source(figures: PrintFigures) -> list[Finding]:
    found = []
    faults, alignment = figures.faults, figures.alignment
    if faults.starts_late_s is not None and faults.starts_late_s > LATE_START_S:
        found.append(Finding("fault", f"starts {faults.starts_late_s:.1f} s into the source"))
    if faults.ends_early_s is not None and faults.ends_early_s > EARLY_END_S:
        found.append(Finding("fault", f"ends {faults.ends_early_s:.1f} s before the source"))
    if alignment is None:
        return found
    if alignment.is_of_source is False:
        found.append(Finding("fault", "does not sound like a print of this source"))
    elif alignment.polarity == "inverted":
        found.append(Finding("note", "upside down against the source (polarity inverted)"))
    if alignment.drift_ppm is not None and abs(alignment.drift_ppm) >= 2:
        found.append(Finding("note", f"drifts by {alignment.drift_ppm:+.0f} ppm: two clocks, or a resampler"))
    return found
