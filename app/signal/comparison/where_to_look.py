"""Where a recall that is off usually went wrong, in the order in which to look: what agrees rules places out.

Common practice of the trade. Each rule gives one sentence or none.
"""

from collections.abc import Sequence

from app.signal.comparison.tolerances import CLOSE_BAND_DB, Off, band_range, worst_of
from app.signal.figures import BandDifference

SPEED_OF_SOUND_M_S = 343.2
"""ISO 9613-1 at 20 °C."""

# Common practice, as above; not measured.
LARGEST_MOVE_MM = 1500.0
"""A delay that is further off than this is no microphone that was moved, but a buffer or another take."""
LOW_TOP_HZ, HIGH_FROM_HZ = 280.0, 1500.0
"""Tone below the one is a matter of bass controls and nearness, from the other on of treble and of where a microphone points."""
MOST_PLACES = 3
"""Tone that is off in more places than this is no matter of one or two tone controls."""
FAR_OFF_DB = 8.0
"""More than a tone control is left off by accident: other gear, or another channel of it."""
FILTERS_MOVE_MS = 0.1
"""A filter alone moves the arrival by up to about this."""
SAME_WAVE_DB = -32.0
"""A recall that cancels the original this far has its shape of wave, and so its drive."""


def where_to_look(off: Off) -> list[str]:
    rules = (_polarity, _drive, _other_gear, _noise, _arrival, _tone, _level)
    return [sentence for rule in rules if (sentence := rule(off)) is not None]


def _polarity(off: Off) -> str | None:
    if not off.inverted:
        return None
    return (
        "Polarity: a polarity switch, or a cable or box with its pins swapped. It changes nothing else, so mend it "
        "first and compare again."
    )


def _is_other_gear(off: Off) -> bool:
    large = [run for run in off.tone if abs(worst_of(run)) > CLOSE_BAND_DB]
    worst = max((abs(worst_of(run)) for run in off.tone), default=0.0)
    two_and_far = len(large) >= 2 and (worst > FAR_OFF_DB or len(off.tone) > MOST_PLACES)
    return len(large) >= MOST_PLACES or two_and_far


def _other_gear(off: Off) -> str | None:
    if not _is_other_gear(off):
        return None
    piece = "see that every piece is the one that was used, in the same order"
    if off.drive:
        return (
            "The bands differ up and down in many places, which distortion alone can do; where putting that right does "
            f"not mend it, {piece}."
        )
    return (
        "The bands differ up and down in many places, as with another speaker, microphone or pedal: "
        f"{piece}, before any control is turned."
    )


def _drive(off: Off) -> str | None:
    drive_db = off.figures.drive_difference_db
    if not off.drive or drive_db is None:
        return None
    more = "more" if drive_db > 0 else "less"
    level_too = off.level and (_level_db(off) > 0) == (drive_db > 0)
    if level_too:
        cause = (
            f"There is {more} distortion and {more} level: the send level, or a gain ahead of the distortion."
        )
    else:
        cause = (
            f"There is {more} distortion but not {more} level: a drive control whose volume makes up for it."
        )
    return f"{cause} Put that right before the tone controls, for tone and peaks move with it."


def _arrival(off: Off) -> str | None:
    if not off.late or _is_other_gear(off):
        return None
    later_ms = off.figures.delay_difference_ms or 0.0
    away_mm = later_ms * SPEED_OF_SOUND_M_S
    further = away_mm > 0
    if abs(away_mm) > LARGEST_MOVE_MM or not (off.level or off.tone or off.drive):
        return (
            "The arrival alone moved, or too far for a microphone: look at the DAW's delay compensation, the buffer and "
            "the converters, not at the gear."
        )
    moved = f"about {_rounded(abs(away_mm))} mm {'further away' if further else 'nearer'}"
    low = [run for run in off.tone if run[0].mid_hz < LOW_TOP_HZ]
    quieter = off.level and (_level_db(off) < 0) == further
    thinner = any((run[0].difference_db < 0) == further for run in low)
    if quieter or thinner:
        return (
            f"The arrival fits a microphone {moved}, and level or bass moved the way distance moves them: measure the "
            "distance first."
        )
    if abs(later_ms) < FILTERS_MOVE_MS:
        return None
    return (
        f"The arrival would fit a microphone {moved}, or another latency; level and bass do not move with it."
    )


def _rounded(mm: float) -> int:
    """To two figures at most: filters move the arrival by some millimetres, too."""
    step = 100 if mm >= 1000 else 10 if mm >= 20 else 1
    return round(mm / step) * step


def _tone(off: Off) -> str | None:
    if not off.tone or _is_other_gear(off):
        return None
    if len(off.tone) > MOST_PLACES:
        return (
            "Tone differs in several places: compare the tone controls and switches one by one, then where the "
            "microphone stands."
        )
    places = [f"{_how_much(run)} {band_range(run)}: {_place(run, near=off.late)}" for run in off.tone]
    advice = "; ".join(places) + _what_agrees(off)
    return f"{advice[0].upper()}{advice[1:]}."


def _what_agrees(off: Off) -> str:
    level = not off.level
    delay = not off.late and not off.figures.is_excerpt
    drive = level and not off.crest and not off.drive and off.figures.drive_difference_db is not None
    if level and delay:
        gain = ", and drive agrees, so the gain is right" if drive else ""
        return f"; level and delay agree, so the distance is right{gain}"
    agree = [name for name, right in (("level", level), ("delay", delay), ("drive", drive)) if right]
    return f"; {' and '.join(agree)} agree{'s' if len(agree) == 1 else ''}" if agree else ""


def _level(off: Off) -> str | None:
    """A send that was changed moves level and, often too little to be measured, drive: so it is ruled out only where the
    wave has kept its shape."""
    if not off.level or off.drive or off.late or _is_other_gear(off):
        return None
    depth = off.figures.null_depth_db
    if depth is not None and depth <= SAME_WAVE_DB:
        return (
            "Only the level is off: the wave has kept its shape, so the send is right; look at the return's preamp gain or "
            "pad, or a volume behind the distortion."
        )
    if off.crest or off.tone:
        return (
            "Level: the send level or a gain ahead of the distortion first, for tone and peaks move with them; then the "
            "return's gain."
        )
    return "Level: the send level, then the return's gain or a volume; which of them cannot be told from this print."


def _noise(off: Off) -> str | None:
    if not off.noisy and not off.humming:
        return None
    return (
        "Noise and hum: gains early in the chain, supplies, lamps and screens near pickups and cables, the audio ground "
        "lift. Never lift the mains earth."
    )


def _level_db(off: Off) -> float:
    return off.figures.level_difference_db or 0.0


def _how_much(run: Sequence[BandDifference]) -> str:
    worst = worst_of(run)
    return f"{abs(worst):.0f} dB {'more' if worst > 0 else 'less'}"


def _place(run: Sequence[BandDifference], *, near: bool) -> str:
    if run[0].mid_hz >= HIGH_FROM_HZ:
        return "treble or presence, or the microphone's angle and place across the cone"
    if run[-1].mid_hz <= LOW_TOP_HZ:
        return "the bass control, or how near the microphone stands" if near else "the bass control"
    return "the tone controls, or a filter or switch in the chain"
