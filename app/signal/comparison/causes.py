"""What would explain a recall that is off, the likeliest first: each cause weighed with what speaks for and against it.

Common practice of the trade. Every cause looks at all figures and is given a weight; one that nothing speaks for is none. Two
that weigh alike are both said, for from one print they cannot be told apart.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from app.signal.comparison.tolerances import (
    CLOSE_BAND_DB,
    FILTER_ALONE_DB,
    MATCH_BAND_DB,
    MATCH_LEVEL_DB,
    Off,
    band_range,
    runs_beyond,
    worst_of,
)
from app.signal.figures import BandDifference, Cause, CauseName, MatchFigures

SPEED_OF_SOUND_M_S = 343.2
"""ISO 9613-1 at 20 °C."""

# Common practice, as above; not measured.
LARGEST_MOVE_MM, SMALLEST_MOVE_MM = 1500.0, 8.0
"""A delay that is further off than the one is no microphone that was moved, but a buffer or another take; a filter alone moves
the arrival by up to the other."""
NEAREST_MM, FURTHEST_MM = 3.0, 3000.0
"""Where a microphone can have stood for its level to change with the distance as it did."""
LOW_TOP_HZ, HIGH_FROM_HZ = 280.0, 1500.0
"""Tone below the one is a matter of bass controls and nearness, from the other on of treble and of where a microphone points."""
LOW_MOVED_DB = 0.4
"""Bass that moves by less says nothing of nearness."""
MOST_PLACES = 3
"""Tone that is off in more places than this is no matter of one or two tone controls."""
FAR_OFF_DB = 8.0
"""More than a tone control is left off by accident: other gear, or another channel of it."""
SAME_WAVE_DB = -32.0
"""A recall that cancels the original this far has its shape of wave, and so its drive."""
MOST_BANDS = 0.45
"""Where so many of the bands agree on a gain, what the rest differ by is tone."""


@dataclass
class _Case:
    """One cause and what was found about it; positive `weight` speaks for it."""

    cause: CauseName
    look: str
    weight: float = 0.0
    speaks_for: list[str] = field(default_factory=list)
    speaks_against: list[str] = field(default_factory=list)

    def weigh(self, weight: float, clue: str) -> None:
        self.weight += weight
        (self.speaks_for if weight > 0 else self.speaks_against).append(clue)


@dataclass(frozen=True)
class _Clues:
    """The figures as causes ask for them. `gain_db` is what most bands agree on, else the loudness; `tone` what bands differ by
    beyond that gain."""

    off: Off
    gain_db: float
    gained: bool
    tone: tuple[tuple[BandDifference, ...], ...]
    low_db: float | None
    filter_alone: bool
    same_wave: bool
    many_places: bool

    @property
    def figures(self) -> MatchFigures:
        return self.off.figures

    @property
    def away_mm(self) -> float:
        return (self.figures.delay_difference_ms or 0.0) * SPEED_OF_SOUND_M_S


def causes_of(off: Off) -> tuple[Cause, ...]:
    """Of what a verdict is made of, and of noise. None where all that is off is the arrival."""
    clues = _clues(off)
    weighed: tuple[Callable[[_Clues], _Case | None], ...] = (
        _polarity,
        _drive,
        _microphone,
        _other_gear,
        _level,
        _tone,
        _noise,
    )
    cases = [case for weigh in weighed if (case := weigh(clues)) is not None and case.weight > 0]
    cases.sort(key=lambda case: -case.weight)
    return tuple(
        Cause(case.cause, case.look, tuple(case.speaks_for), tuple(case.speaks_against)) for case in cases
    )


def _clues(off: Off) -> _Clues:
    figures = off.figures
    level_db = figures.level_difference_db or 0.0
    agreed = figures.gain_difference_db is not None and figures.gain_share >= MOST_BANDS
    gain_db = figures.gain_difference_db if agreed and figures.gain_difference_db is not None else level_db
    moved = [
        BandDifference(band.mid_hz, band.difference_db + level_db - gain_db, band.error_db)
        for band in figures.bands
    ]
    allowed = [max(MATCH_BAND_DB * 0.8, 3 * band.error_db) for band in moved]
    tone = runs_beyond(moved, allowed) if off.tone or (off.level and agreed) else ()
    low = [band.difference_db for band in moved if band.mid_hz < LOW_TOP_HZ]
    filtered, depth = figures.filtered_null_db, figures.null_depth_db
    return _Clues(
        off=off,
        gain_db=gain_db,
        gained=abs(gain_db) > MATCH_LEVEL_DB and (off.level or agreed),
        tone=tone,
        low_db=sum(low) / len(low) if low else None,
        filter_alone=filtered is not None and filtered < FILTER_ALONE_DB,
        same_wave=depth is not None and depth <= SAME_WAVE_DB,
        many_places=_many_places(off.tone),
    )


def _many_places(tone: Sequence[Sequence[BandDifference]]) -> bool:
    large = [run for run in tone if abs(worst_of(run)) > CLOSE_BAND_DB]
    worst = max((abs(worst_of(run)) for run in tone), default=0.0)
    two_and_far = len(large) >= 2 and (worst > FAR_OFF_DB or len(tone) > MOST_PLACES)
    return len(large) >= MOST_PLACES or two_and_far


def _polarity(clues: _Clues) -> _Case | None:
    if not clues.off.inverted:
        return None
    case = _Case(
        "polarity",
        "Polarity: a polarity switch, or a cable or box with its pins swapped. It changes nothing else, so mend it "
        "first and compare again.",
    )
    case.weigh(10.0, "the recall's wave is the original's upside down")
    return case


def _drive(clues: _Clues) -> _Case | None:
    """A drive control, or the send into the distortion."""
    off, drive_db = clues.off, clues.figures.drive_difference_db
    if drive_db is None or not (off.drive or (off.crest and not clues.filter_alone)):
        return None
    more = "more" if drive_db > 0 else "less"
    level_db = clues.figures.level_difference_db or 0.0
    then = "Put that right before the tone controls, for tone and peaks move with it."
    if off.level and (level_db > 0) == (drive_db > 0):
        look = f"There is {more} distortion and {more} level: the send level, or a gain ahead of the distortion. {then}"
        case = _Case("send", look)
        case.weigh(1.0, f"{more} level goes with {more} distortion")
    else:
        look = f"There is {more} distortion but not {more} level: a drive control whose volume makes up for it. {then}"
        case = _Case("drive", look)
    if off.drive:
        case.weigh(4.0, f"what the source does not explain changed by {drive_db:+.1f} dB")
    if off.crest:
        case.weigh(
            1.5, f"peaks changed by {clues.figures.crest_difference_db or 0.0:+.1f} dB against the average"
        )
    if not clues.filter_alone and clues.figures.filtered_null_db is not None:
        case.weigh(0.5, "no filter makes the recall of the original")
    return case


def _microphone(clues: _Clues) -> _Case | None:
    """Distance delays, quietens and thins: all three the same way, or it was something else."""
    away_mm = clues.away_mm
    if (
        clues.figures.is_excerpt
        or not SMALLEST_MOVE_MM < abs(away_mm) < LARGEST_MOVE_MM
        or not clues.off.late
    ):
        return None
    if not (clues.gained or clues.tone):
        return None
    further = away_mm > 0
    moved = f"about {rounded_mm(abs(away_mm))} mm {'further away' if further else 'nearer'}"
    case = _Case(
        "microphone",
        f"The arrival fits a microphone {moved}, and level or bass moved the way distance moves them: measure the "
        "distance first.",
    )
    case.weigh(1.0, f"the arrival moved by {abs(away_mm):.0f} mm of air")
    if clues.gained and (clues.gain_db < 0) == further and _stood_mm(abs(away_mm), clues.gain_db):
        case.weigh(1.5, f"it is {'quieter' if further else 'louder'}, as distance makes it")
    else:
        case.weigh(-2.0, "level did not move the way distance moves it")
    if clues.low_db is not None and abs(clues.low_db) > LOW_MOVED_DB:
        alike = (clues.low_db < 0) == further
        case.weigh(
            2.5 if alike else -2.0, f"bass moved {'as' if alike else 'against what'} nearness moves it"
        )
    else:
        case.weigh(-0.5, "bass did not move")
    if clues.off.drive:
        case.weigh(-2.0, "distortion changed, which distance does not do")
    return case


def _stood_mm(moved_mm: float, gain_db: float) -> bool:
    """Whether there is a distance at which such a move changes the level so, by the law of distance."""
    ratio = 10 ** (abs(gain_db) / 20) - 1
    return ratio > 0 and NEAREST_MM < moved_mm / ratio < FURTHEST_MM


def _other_gear(clues: _Clues) -> _Case | None:
    if not clues.many_places:
        return None
    piece = "see that every piece is the one that was used, in the same order"
    if clues.off.drive:
        look = (
            "The bands differ up and down in many places, which distortion alone can do; where putting that right does "
            f"not mend it, {piece}."
        )
    else:
        look = (
            "The bands differ up and down in many places, as with another speaker, microphone or pedal: "
            f"{piece}, before any control is turned."
        )
    case = _Case("other gear", look)
    case.weigh(3.5, "the bands differ up and down in many places")
    return case


def _level(clues: _Clues) -> _Case | None:
    """A gain moves all bands alike. A send that was changed moves drive as well, often too little to be measured: so it is ruled
    out only where the wave has kept its shape."""
    if not clues.gained:
        return None
    off = clues.off
    alike = not clues.tone and not off.tone
    if clues.same_wave and alike:
        look = (
            "Only the level is off: the wave has kept its shape, so the send is right; look at the return's preamp gain or "
            "pad, or a volume behind the distortion."
        )
    elif clues.filter_alone:
        look = "Level: the return's gain or pad, or a volume behind the distortion; the send level where the chain is clean."
    elif off.crest or off.tone:
        look = (
            "Level: the send level or a gain ahead of the distortion first, for tone and peaks move with them; then the "
            "return's gain."
        )
    else:
        look = "Level: the send level, then the return's gain or a volume; which of them cannot be told from this print."
    case = _Case("level", look)
    case.weigh(
        1.0 + 0.3 * min(4.0, abs(clues.gain_db)),
        f"{abs(clues.gain_db):.1f} dB {'more' if clues.gain_db > 0 else 'less'}",
    )
    if alike:
        case.weigh(2.0, "all bands moved alike")
    elif clues.figures.gain_share >= MOST_BANDS:
        case.weigh(0.5, "most bands moved alike")
    else:
        case.weigh(-1.0, "the bands did not move alike")
    if off.drive:
        case.weigh(-1.0, "distortion changed as well")
    return case


def _tone(clues: _Clues) -> _Case | None:
    runs = clues.tone
    if not runs or clues.many_places:
        return None
    if len(runs) > MOST_PLACES:
        look = (
            "Tone differs in several places: compare the tone controls and switches one by one, then where the "
            "microphone stands."
        )
    else:
        places = [f"{_how_much(run)} {band_range(run)}: {_place(run, near=clues.off.late)}" for run in runs]
        advice = "; ".join(places) + _what_agrees(clues)
        look = f"{advice[0].upper()}{advice[1:]}."
    case = _Case("tone", look)
    worst = max(abs(worst_of(run)) for run in runs)
    case.weigh(1.0 + 0.5 * min(4.0, worst), f"up to {worst:.1f} dB {band_range(runs[0])}")
    if clues.filter_alone:
        case.weigh(
            1.0, "a filter alone makes the recall of the original, so nothing ahead of a distortion moved"
        )
    if not clues.gained:
        case.weigh(1.0, "the other bands are as they were, so no gain moved")
    if clues.off.drive:
        case.weigh(-1.0, "distortion changed, and tone moves with it")
    return case


def _what_agrees(clues: _Clues) -> str:
    level = not clues.gained
    delay = not clues.off.late and not clues.figures.is_excerpt
    known = clues.figures.drive_difference_db is not None
    drive = level and not clues.off.crest and not clues.off.drive and known
    if level and delay:
        gain = ", and drive agrees, so the gain is right" if drive else ""
        return f"; level and delay agree, so the distance is right{gain}"
    agree = [name for name, right in (("level", level), ("delay", delay), ("drive", drive)) if right]
    return f"; {' and '.join(agree)} agree{'s' if len(agree) == 1 else ''}" if agree else ""


def _noise(clues: _Clues) -> _Case | None:
    off = clues.off
    if not off.noisy and not off.humming:
        return None
    case = _Case(
        "noise",
        "Noise and hum: gains early in the chain, supplies, lamps and screens near pickups and cables, the audio ground "
        "lift. Never lift the mains earth.",
    )
    case.weigh(0.5, "it is noisier where nobody plays" if off.noisy else "it hums")
    return case


def rounded_mm(mm: float) -> int:
    """To two figures at most: filters move the arrival by some millimetres, too."""
    step = 100 if mm >= 1000 else 10 if mm >= 20 else 1
    return math.floor(mm / step + 0.5) * step


def _how_much(run: Sequence[BandDifference]) -> str:
    worst = worst_of(run)
    return f"{abs(worst):.0f} dB {'more' if worst > 0 else 'less'}"


def _place(run: Sequence[BandDifference], *, near: bool) -> str:
    if run[0].mid_hz >= HIGH_FROM_HZ:
        return "treble or presence, or the microphone's angle and place across the cone"
    if run[-1].mid_hz <= LOW_TOP_HZ:
        return "the bass control, or how near the microphone stands" if near else "the bass control"
    return "the tone controls, or a filter or switch in the chain"
