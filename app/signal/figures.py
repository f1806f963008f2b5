"""What the measuring room knows about a print, as plain values.

Nothing here computes and nothing here imports numpy, so the web server and the drawings can use these types
freely. `to_json` gives the documents of `dialback measure`, `identify` and `match`; `print_figures_from_json`
reads a measured print back, and its like the other two. What could not be known is None, and `notes` says why in a sentence.
"""

import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, replace
from typing import Any, Literal

from app.signal.stored_json import read_stored

ALGORITHM_VERSION = 10
"""Raised whenever the same file would give other figures, so that stored ones can be measured again."""

EXCERPT_MS = 250.0
"""Two prints of one source this far apart were begun at different places of it."""

RMS_REFERENCE = "rms over rms 1.0: a full-scale square wave reads 0 dB, a full-scale sine -3.01 dB"
REFERENCES = {
    "level.integrated_lufs": "ITU-R BS.1770-5, gated",
    "level.max_momentary_lufs": "ITU-R BS.1770-5 over 400 ms, read every 10 ms",
    "level.max_momentary_100ms_lufs": "ITU-R BS.1770-5 over 400 ms, read every 100 ms",
    "level.max_short_term_lufs": "ITU-R BS.1770-5 over 3 s, read every 10 ms",
    "level.true_peak_dbtp": "peak between samples over 1.0",
    "level.sample_peak_dbfs": "peak over 1.0: a full-scale sine reads 0 dB",
    "level.rms_dbfs": RMS_REFERENCE,
    "bands.level_dbfs": RMS_REFERENCE,
    "bands.floor_dbfs": RMS_REFERENCE,
    "faults.hum.level_dbfs": RMS_REFERENCE,
    "faults.noise_floor_dbfs": RMS_REFERENCE,
}
"""What each level of a measured print is referred to: one scale for all that is rms."""

Polarity = Literal["same", "inverted", "unclear"]
DropoutKind = Literal["gap", "repeat", "skip"]
BetweenKind = Literal["lost", "repeated", "silent", "cut from the source since", "not in the source"]
Untold = Literal[
    "too quiet",
    "too little overlaps",
    "the delay moves",
    "two delays fit as well",
    "too few notes begin",
    "too little of the source is left",
]
"""Why it cannot be told whether a print is one of a source."""
Verdict = Literal["match", "close", "different"]
CauseName = Literal["polarity", "microphone", "send", "drive", "level", "tone", "other gear", "noise"]


_SAMPLE_FORMATS = {
    "PCM_S8": "8-bit",
    "PCM_U8": "8-bit",
    "PCM_16": "16-bit",
    "PCM_24": "24-bit",
    "PCM_32": "32-bit",
    "FLOAT": "32-bit float",
    "DOUBLE": "64-bit float",
}


@dataclass(frozen=True, slots=True)
class FileFigures:
    """What the container says, corrected by what it really holds."""

    sample_rate: int
    channels: int
    frames: int
    duration_s: float
    format: str
    subtype: str

    @property
    def sample_format(self) -> str:
        """How a sample is stored, in words: "24-bit", "32-bit float"; as the reader calls it where it is another."""
        return _SAMPLE_FORMATS.get(self.subtype, self.subtype)


@dataclass(frozen=True, slots=True)
class LevelFigures:
    """Loudness by BS.1770-5 and EBU Tech 3341/3342; levels over all channels.

    What each is referred to stands in REFERENCES; `crest_db` is sample peak over rms. `max_momentary_lufs` is read every
    10 ms, `max_momentary_100ms_lufs` ten times a second, the least that EBU Tech 3341 asks and what many meters do: it
    stands up to 0.6 LU lower.
    `dc_offset` is the mean of the channel that is furthest from zero, full scale being 1. `resting_offset` is what is left
    of it while least is played: notes of a lopsided wave have a mean of their own, a converter's offset never rests. None
    where there is too little to tell.
    """

    integrated_lufs: float | None
    loudness_range_lu: float | None
    max_momentary_lufs: float | None
    max_short_term_lufs: float | None
    true_peak_dbtp: float | None
    sample_peak_dbfs: float | None
    rms_dbfs: float | None
    crest_db: float | None
    dc_offset: float
    resting_offset: float | None = None
    max_momentary_100ms_lufs: float | None = None


@dataclass(frozen=True, slots=True)
class BandLevel:
    """One third-octave band of IEC 61260-1; `level_dbfs` is its rms level, `floor_dbfs` what of it is
    there while nothing is played, None where the file never rests."""

    nominal_hz: float
    mid_hz: float
    level_dbfs: float | None
    floor_dbfs: float | None = None


@dataclass(frozen=True, slots=True)
class ClippedRun:
    at_s: float
    samples: int


@dataclass(frozen=True, slots=True)
class Dropout:
    """A hole ("gap"), a block heard twice ("repeat") or samples missing without a hole ("skip")."""

    at_s: float
    kind: DropoutKind
    samples: int


@dataclass(frozen=True, slots=True)
class Hum:
    """Mains hum. `level_dbfs` is the rms level of its lines together."""

    mains_hz: float
    level_dbfs: float
    confidence: float


@dataclass(frozen=True, slots=True)
class FaultFigures:
    silent: bool
    clipped_runs: tuple[ClippedRun, ...]
    dropouts: tuple[Dropout, ...]
    hum: Hum | None
    noise_floor_dbfs: float | None
    starts_late_s: float | None
    ends_early_s: float | None
    channels: Literal["identical", "one silent"] | None = None
    """What of a stereo file a mono one would hold as well."""
    clipped_count: int | None = None
    """Of all clipped runs, of which `clipped_runs` lists the first thousand."""


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of a print that runs along with its source: what the source plays at its sample n, counted in the print's
    rate, stands at `delay_samples` + n · (1 + drift) of the print."""

    print_from_s: float
    print_to_s: float
    source_from_s: float
    source_to_s: float
    delay_samples: float
    drift_ppm: float | None
    polarity: Polarity
    confidence: float

    def in_print_s(self, source_s: float) -> float:
        return self.print_from_s + (source_s - self.source_from_s) * (1 + 1e-6 * (self.drift_ppm or 0.0))

    def in_source_s(self, print_s: float) -> float:
        return self.source_from_s + (print_s - self.print_from_s) / (1 + 1e-6 * (self.drift_ppm or 0.0))


@dataclass(frozen=True, slots=True)
class Between:
    """What stands between two pieces, or within one, `at_s` from the print's start; `samples` are the print's. `reason` says
    what it was told by."""

    at_s: float
    kind: BetweenKind
    samples: int
    reason: str
    is_edit: bool = False
    """Longer than any buffer, so it was edited, not lost."""


@dataclass(frozen=True, slots=True)
class AlignmentFigures:
    """Where a print lies against its source.

    `delay_samples` (in the print's rate) is how far the print must be pulled earlier to line up at t = 0, that of the first
    piece. `drift_ppm` is positive when the print runs longer than its source. `is_of_source` is None where that cannot be told.
    `pieces` are in their order, one where the delay never jumps; `set_aside` is what looked like a jump and was not taken
    for one. `untold` is why it cannot be told, where it cannot; also None where an older version measured.
    """

    delay_samples: float | None
    delay_ms: float | None
    polarity: Polarity
    confidence: float
    drift_ppm: float | None
    is_of_source: bool | None
    pieces: tuple[Piece, ...] = ()
    between: tuple[Between, ...] = ()
    set_aside: tuple[Between, ...] = ()
    untold: Untold | None = None

    def at(self, delay_samples: float, sample_rate: int) -> "AlignmentFigures":
        """The same print, lying where somebody says: in one piece, since nobody says how it drifts or jumps."""
        said = replace(self, delay_samples=delay_samples, delay_ms=1000 * delay_samples / sample_rate)
        return replace(said, drift_ppm=None, pieces=(), between=(), set_aside=())

    def in_print_s(self, source_s: float) -> float | None:
        """Where a moment of the source stands in the print; None where the print does not hold it. Without pieces nothing is
        known of a drift."""
        if not self.pieces:
            return source_s + (self.delay_ms or 0.0) / 1000
        for at, piece in enumerate(self.pieces):
            is_first, is_last = at == 0, at == len(self.pieces) - 1
            if (is_first or source_s >= piece.source_from_s) and (is_last or source_s < piece.source_to_s):
                return piece.in_print_s(source_s)
        return None

    def in_source_s(self, print_s: float) -> float:
        """Which moment of the source a moment of the print plays; what stands between two pieces goes with the one before."""
        if not self.pieces:
            return print_s - (self.delay_ms or 0.0) / 1000
        begun = [piece for piece in self.pieces if piece.print_from_s <= print_s]
        return (begun or self.pieces)[-1 if begun else 0].in_source_s(print_s)


@dataclass(frozen=True, slots=True)
class LoudnessPoint:
    """Short-term loudness of the three seconds centred at `at_s`."""

    at_s: float
    lufs: float | None


@dataclass(frozen=True, slots=True)
class Overview:
    """A waveform small enough to draw: (lowest, highest) sample per column, and loudness over time."""

    columns: tuple[tuple[float, float], ...]
    loudness: tuple[LoudnessPoint, ...]


@dataclass(frozen=True, slots=True)
class PrintFigures:
    file: FileFigures
    level: LevelFigures
    bands: tuple[BandLevel, ...]
    faults: FaultFigures
    alignment: AlignmentFigures | None
    overview: Overview
    notes: tuple[str, ...] = ()
    algorithm_version: int = ALGORITHM_VERSION
    source: FileFigures | None = None
    """The file it was measured against."""


@dataclass(frozen=True, slots=True)
class RankedSource:
    """How well one source explains a print: `score` 0 to 1, above 0.5 means "a print of this source"."""

    source: str
    score: float
    delay_samples: float | None


@dataclass(frozen=True, slots=True)
class Identification:
    best: str | None
    ranking: tuple[RankedSource, ...]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class BandDifference:
    """`error_db` is the standard error that the variation along the part leaves; `share_db` how far the band lies under the
    loudest, `frames` how many of 80 ms it rests on, each counted by its energy."""

    mid_hz: float
    difference_db: float
    error_db: float = 0.0
    share_db: float | None = None
    frames: float | None = None


@dataclass(frozen=True, slots=True)
class Cause:
    """One thing that would explain what a recall is off by: where to look, and what speaks for and against it."""

    cause: CauseName
    look: str
    speaks_for: tuple[str, ...] = ()
    speaks_against: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class MatchFigures:
    """A recalled print against the original; every difference is recalled minus original.

    `drive_difference_db` is the change of the share of the print that no linear filter of the source explains;
    `noise_difference_db` that of the same quiet moments, once the loudness is matched. A hum is None where none was
    found. Of an estimate, `…_error_db` is its standard error. `gain_difference_db` is what most bands agree on, `gain_share`
    the share of them that do. `filtered_null_db` is the null where any linear filter is allowed. `compared_s` is how much was
    compared, `left_out_s` what both files hold but one of the prints does not play. `findings` say what is off, `causes` where
    that usually comes from, the likeliest first, and `look_first` the same as plain sentences.
    """

    verdict: Verdict | None
    level_difference_db: float | None
    delay_difference_samples: float | None
    polarity: Polarity
    null_depth_db: float | None
    bands: tuple[BandDifference, ...]
    findings: tuple[str, ...]
    crest_difference_db: float | None = None
    drive_difference_db: float | None = None
    compared_s: float = 0.0
    notes: tuple[str, ...] = field(default=())
    delay_difference_ms: float | None = None
    noise_difference_db: float | None = None
    original_hum_dbfs: float | None = None
    recalled_hum_dbfs: float | None = None
    look_first: tuple[str, ...] = ()
    causes: tuple[Cause, ...] = ()
    left_out_s: float = 0.0
    level_error_db: float = 0.0
    crest_error_db: float = 0.0
    drive_error_db: float = 0.0
    gain_difference_db: float | None = None
    gain_share: float = 0.0
    filtered_null_db: float | None = None

    @property
    def is_excerpt(self) -> bool:
        """Whether the two files begin so far apart in the source that the delay is where the recall was begun, not
        how late it came."""
        return self.delay_difference_ms is not None and abs(self.delay_difference_ms) >= EXCERPT_MS


def to_json(figures: PrintFigures | Identification | MatchFigures) -> dict[str, Any]:
    """The contract's document. A number that is not finite becomes null."""
    document = _plain(asdict(figures))
    assert isinstance(document, dict)
    return document


def _plain(value: object) -> object:
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, Mapping):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(item) for item in value]
    return value


def print_figures_from_json(document: Mapping[str, Any]) -> PrintFigures:
    """The inverse of `to_json` for a measured print. Which version measured it must be said: a KeyError else."""
    return read_stored(PrintFigures, {**document, "algorithm_version": document["algorithm_version"]})


def identification_from_json(document: Mapping[str, Any]) -> Identification:
    """The inverse of `to_json` for an identification."""
    return read_stored(Identification, document)


def match_figures_from_json(document: Mapping[str, Any]) -> MatchFigures:
    """The inverse of `to_json` for a comparison of two prints. A figure that an older one lacks is as if not known."""
    return read_stored(MatchFigures, document)
