"""What is notable about a print, in words a person can act on: the one list that every page, sheet and search shows."""

import math
from dataclasses import dataclass
from typing import Literal

from app.drawings.wording import clock_time, figure
from app.signal.figures import Between, FileFigures, PrintFigures, Untold
from app.trade.scale_values import plain_text

LATE_START_S = 0.05
EARLY_END_S = 0.05
DC_NOTABLE = 1 - 10 ** (-0.1 / 20)
"""Of full scale, 1.1 %: from here on an offset costs a tenth of a decibel of headroom; less is in many clean tracks. It must
be there while little is played, too."""
HUM_NOTABLE_CONFIDENCE = 0.5


Kind = Literal[
    "silent",
    "clipped",
    "dropout",
    "hum",
    "offset",
    "late",
    "early",
    "foreign",
    "unclear",
    "inverted",
    "drift",
    "edited",
    "rate",
    "channels",
    "twin",
    "placed",
]
Alike = Literal["identical", "one silent"]
"""What the two channels of a stereo file can be, that a mono file would hold as well."""
WORDS: dict[Kind, tuple[str, ...]] = {
    "silent": ("silent", "silence"),
    "clipped": ("clipped", "clips", "clipping"),
    "dropout": ("dropouts", "gaps", "repeated", "skips"),
    "hum": ("hum", "mains"),
    "offset": ("dc", "offset"),
    "late": ("late",),
    "early": ("early",),
    "foreign": ("foreign",),
    "unclear": ("unclear",),
    "inverted": ("inverted", "polarity"),
    "drift": ("drifts", "drifting"),
    "edited": ("edited",),
    "rate": ("rate", "resampled"),
    "channels": ("channels", "stereo"),
    "twin": ("twin", "twice", "duplicate"),
    "placed": ("set by hand", "hand", "by", "placed"),
}
"""What each kind is looked for by."""
SHORTEST_BEGINNING = 3


@dataclass(frozen=True)
class Finding:
    """`severity` is "fault" (print it again) or "note" (good to know)."""

    kind: Kind
    severity: Literal["fault", "note"]
    sentence: str


def kinds_meant(word: str) -> tuple[Kind, ...]:
    """The kinds that a word of a search, perhaps unfinished, can mean."""
    sought = word.casefold()
    return tuple(
        kind
        for kind, words in WORDS.items()
        if sought in words
        or (len(sought) >= SHORTEST_BEGINNING and any(one.startswith(sought) for one in words))
    )


def find(figures: PrintFigures) -> tuple[Finding, ...]:
    """The findings of one print, faults first."""
    found = [*_of_the_signal(figures), *_against_the_source(figures)]
    return tuple(sorted(found, key=lambda finding: finding.severity != "fault"))


def _of_the_signal(figures: PrintFigures) -> list[Finding]:
    found = []
    faults = figures.faults
    if faults.silent:
        found.append(Finding("silent", "fault", "is silent: nothing came back"))
    if faults.clipped_runs:
        first = clock_time(faults.clipped_runs[0].at_s)
        places = faults.clipped_count or len(faults.clipped_runs)
        found.append(
            Finding(
                "clipped",
                "fault",
                f"clips at {first}" if places == 1 else f"clips in {places} places, first at {first}",
            )
        )
    for dropout in faults.dropouts[:3]:
        what = {
            "gap": f"a gap of {dropout.samples} samples",
            "repeat": f"{dropout.samples} samples repeated",
            "skip": f"{dropout.samples} samples missing",
        }[dropout.kind]
        found.append(Finding("dropout", "fault", f"{what} at {clock_time(dropout.at_s)}"))
    if len(faults.dropouts) > 3:
        found.append(Finding("dropout", "fault", f"{len(faults.dropouts) - 3} more dropouts"))
    if faults.hum is not None and faults.hum.confidence >= HUM_NOTABLE_CONFIDENCE:
        found.append(
            Finding(
                "hum",
                "note",
                f"{round(faults.hum.mains_hz)} Hz mains hum at {figure(round(faults.hum.level_dbfs))} dBFS",
            )
        )
    offset, resting = figures.level.dc_offset, figures.level.resting_offset
    stays = resting is None or math.copysign(1, offset) * resting > DC_NOTABLE
    if abs(offset) > DC_NOTABLE and stays:
        found.append(Finding("offset", "note", f"DC offset of {offset * 100:.1f} % of full scale"))
    if faults.channels is not None:
        found.append(_alike(faults.channels))
    return found


def _against_the_source(figures: PrintFigures) -> list[Finding]:
    found = []
    faults, alignment = figures.faults, figures.alignment
    if faults.starts_late_s is not None and faults.starts_late_s > LATE_START_S:
        found.append(Finding("late", "fault", f"starts {faults.starts_late_s:.1f} s into the source"))
    if faults.ends_early_s is not None and faults.ends_early_s > EARLY_END_S:
        found.append(Finding("early", "fault", f"ends {faults.ends_early_s:.1f} s before the source"))
    if figures.source is not None:
        file = figures.file
        found += _of_format(file.sample_rate, file.channels, faults.channels, figures.source)
    if alignment is None:
        return found
    if alignment.is_of_source is False:
        found.append(Finding("foreign", "fault", "does not sound like a print of this source"))
    elif alignment.is_of_source is None:
        found.append(Finding("unclear", "note", _unclear(alignment.untold)))
    elif alignment.polarity == "inverted":
        found.append(Finding("inverted", "note", "upside down against the source (polarity inverted)"))
    found += [_edited(one, figures.file.sample_rate) for one in alignment.between if one.is_edit]
    if alignment.drift_ppm is not None and abs(alignment.drift_ppm) >= 2:
        found.append(
            Finding("drift", "note", f"drifts by {alignment.drift_ppm:+.0f} ppm: two clocks, or a resampler")
        )
    return found


_UNTOLD: dict[Untold, tuple[str, str]] = {
    "too quiet": ("one of the two is silent", "look at the cable and the track’s input, and print again"),
    "too little overlaps": ("it holds too little of it", "print the source from its start to its end"),
    "the delay moves": (
        "its delay moves along the way",
        "switch off chorus and vibrato, look for lost buffers, and print a few bars again",
    ),
    "two delays fit as well": (
        "more than one delay fits as well",
        "listen to it beside its source, or print a part with more notes",
    ),
    "too few notes begin": ("too few notes begin in it", "print a longer part, or one with more notes"),
    "too little of the source is left": (
        "too little of it is left behind the chain",
        "listen to it beside its source; print some bars with less drive to know the delay",
    ),
}
"""Why it cannot be told, and what to do."""


def _unclear(untold: Untold | None) -> str:
    said = "whether it is a print of this source cannot be told"
    if untold is None:
        return said
    why, what_to_do = _UNTOLD[untold]
    return f"{said}: {why}. To know, {what_to_do}"


def _edited(between: Between, sample_rate: int) -> Finding:
    long, place = f"{between.samples / sample_rate:.1f} s", clock_time(between.at_s)
    if between.kind == "lost":
        said = f"lacks {long} of the source at {place}: put into it since, or cut out of the print"
    else:
        said = f"holds {long} at {place} that the source does not: cut out of it since"
    return Finding("edited", "note", f"{said}. It is played in step all the same")


def at_arrival(
    sample_rate: int,
    channels: int,
    alike: Alike | None,
    source: FileFigures | None,
    project_rate: int,
) -> list[Finding]:
    """What a file's header and its channels tell before it is measured, 0 being not known: held against its source, or
    the project's rate while that is not known."""
    found = [] if alike is None else [_alike(alike)]
    if source is not None and sample_rate and channels:
        return [*found, *_of_format(sample_rate, channels, alike, source)]
    return [*found, *against_project(sample_rate, project_rate)]


def against_project(sample_rate: int, project_rate: int, what: str = "is") -> list[Finding]:
    """A file that is held against no source."""
    if not sample_rate or sample_rate == project_rate:
        return []
    rates = f"{what} at {_kilohertz(sample_rate)}, the project at {_kilohertz(project_rate)}"
    return [Finding("rate", "note", rates)]


def by_hand(delay_samples: float) -> Finding:
    said = f"set by hand, to {plain_text(round(delay_samples, 2))} samples"
    return Finding("placed", "note", f"its delay is {said}")


def of_the_source_itself() -> Finding:
    return Finding("twin", "fault", "is the source’s own file: nothing went through the chain")


def of_another_pass(number: int, source_name: str) -> Finding:
    """`source_name` is empty where the other pass is of the same source."""
    of = f" of {source_name}" if source_name else ""
    return Finding("twin", "note", f"is the same file as pass {number}{of} has")


def _alike(alike: Alike) -> Finding:
    what = "both channels hold the same" if alike == "identical" else "one channel is silent"
    return Finding("channels", "note", f"stereo, but {what}: a mono file holds as much")


def _of_format(sample_rate: int, channels: int, alike: Alike | None, source: FileFigures) -> list[Finding]:
    found = []
    if source.sample_rate != sample_rate:
        rates = f"is at {_kilohertz(sample_rate)}, its source at {_kilohertz(source.sample_rate)}"
        found.append(Finding("rate", "note", rates))
    if source.channels < channels and alike is None:
        found.append(Finding("channels", "note", f"has {channels} channels, its source {source.channels}"))
    return found


def _kilohertz(rate: int) -> str:
    return f"{figure(rate / 1000)} kHz"
