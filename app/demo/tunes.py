"""The tunes of the invented session: a few bars each, written for it, to be played by `synthesis`.

Nothing here is anybody's music. Beats are quarter notes counted from the start.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Note:
    """at_beats, length_beats: quarter notes; midi: note number, 69 = 440 Hz; level: 1 is a firm stroke."""

    at_beats: float
    length_beats: float
    midi: int
    level: float = 1.0


@dataclass(frozen=True)
class Stroke:
    """One hit of the drum loop; drum is "kick", "snare", "closed hat" or "open hat"."""

    at_beats: float
    drum: str
    level: float = 1.0


@dataclass(frozen=True)
class Syllable:
    """A spoken sound of no language: a consonant ("", "s", "f", "t", "k", "m"), a vowel, a pitch above the voice's."""

    at_beats: float
    length_beats: float
    consonant: str
    vowel: str
    semitones: float = 0.0


def _bars(
    bars: tuple[tuple[tuple[float, float, int], ...], ...], levels: tuple[float, ...]
) -> tuple[Note, ...]:
    notes = [(4 * bar + at, length, midi) for bar, in_bar in enumerate(bars) for at, length, midi in in_bar]
    return tuple(
        Note(at, length, midi, levels[index % len(levels)]) for index, (at, length, midi) in enumerate(notes)
    )


BASS_BEATS_PER_MINUTE = 116.0
BASS_BEATS = 32
BASS_TUNE = _bars(
    (
        ((0, 1.25, 38), (1.5, 0.5, 38), (2, 0.75, 41), (2.75, 0.25, 43), (3, 0.9, 45)),
        ((0, 1.5, 43), (1.5, 0.5, 41), (2, 1, 38), (3, 0.5, 36), (3.5, 0.5, 33)),
        ((0, 1.25, 34), (1.5, 0.5, 34), (2, 0.75, 38), (3, 0.5, 41), (3.5, 0.5, 40)),
        ((0, 1, 36), (1, 0.5, 36), (1.5, 1, 43), (2.5, 0.5, 40), (3, 0.8, 36)),
        ((0, 0.75, 38), (0.75, 0.5, 50), (1.5, 0.5, 48), (2, 1, 45), (3, 0.5, 43), (3.5, 0.4, 45)),
        ((0, 1.9, 46), (2, 0.5, 45), (2.5, 0.5, 41), (3, 1, 43)),
        ((0, 1, 33), (1, 1, 40), (2, 0.5, 43), (2.5, 0.5, 45), (3, 0.5, 36), (3.5, 0.5, 37)),
        ((0, 3.4, 38),),
    ),
    levels=(1.0, 0.7, 0.85, 0.6, 0.9, 0.8, 0.75),
)

ORGAN_BEATS_PER_MINUTE = 92.0
ORGAN_BEATS = 24
ORGAN_TUNE = _bars(
    (
        ((0, 1.8, 62), (0, 1.8, 65), (0, 1.8, 69), (2, 0.4, 72), (2.5, 0.9, 74), (3.5, 0.5, 72)),
        ((0, 2.3, 60), (0, 2.3, 65), (0, 1.3, 69), (1.5, 0.8, 67), (2.5, 0.4, 65), (3, 1, 64)),
        ((0, 1.8, 58), (0, 1.8, 62), (0, 1.8, 65), (2, 0.9, 70), (3, 0.4, 69), (3.5, 0.5, 67)),
        ((0, 2.8, 60), (0, 2.8, 64), (0, 1.4, 67), (1.5, 0.5, 69), (2, 1, 70), (3, 0.9, 72)),
        (
            (0, 0.4, 62),
            (0, 0.4, 65),
            (0.5, 0.4, 74),
            (1, 0.4, 69),
            (1.5, 1.4, 77),
            (3, 0.4, 76),
            (3.5, 0.5, 74),
        ),
        ((0, 3.4, 57), (0, 3.4, 62), (0, 3.4, 65), (0, 3.4, 72)),
    ),
    levels=(0.9, 0.85, 1.0, 0.95),
)

DRUM_BEATS_PER_MINUTE = 104.0
DRUM_BEATS = 24
_KICKS = (0, 1.5, 2.75, 4, 5.5, 8, 9.25, 10.5, 12, 13.5, 14.75, 16, 17.5, 18.75, 20, 21.25)
_SNARES = (1, 3, 5, 7, 9, 11, 13, 15, 17, 19, 21, 22.5, 23, 23.5)
_GHOSTS = (2.25, 6.75, 10.25, 14.25, 18.25)
_OPEN_HATS = (7.5, 15.5)
DRUM_LOOP = (
    *(Stroke(at, "kick", 1.0 if at % 4 == 0 else 0.8) for at in _KICKS),
    *(Stroke(at, "snare", 0.95 if at % 2 == 1 else 0.75) for at in _SNARES),
    *(Stroke(at, "snare", 0.18) for at in _GHOSTS),
    *(
        Stroke(at / 2, "closed hat", 0.8 if at % 2 == 0 else 0.5)
        for at in range(2 * DRUM_BEATS)
        if at / 2 not in _OPEN_HATS
    ),
    *(Stroke(at, "open hat", 0.7) for at in _OPEN_HATS),
)

VERSE_BEATS_PER_MINUTE = 120.0
VERSE_BEATS = 24
_VERSE_LINES = (
    (0.5, ("m", "o", 0.9, 2), ("t", "e", 0.6, 1), ("s", "i", 0.7, 3), ("k", "a", 0.9, 0), ("", "u", 1.3, -2)),
    (
        6.0,
        ("s", "a", 0.6, 2),
        ("t", "o", 0.6, 2),
        ("m", "e", 0.8, 4),
        ("f", "i", 0.6, 1),
        ("m", "a", 1.5, -3),
    ),
    (
        12.0,
        ("k", "e", 0.5, 3),
        ("k", "e", 0.5, 3),
        ("t", "a", 0.7, 5),
        ("s", "u", 0.8, 2),
        ("m", "o", 1.2, -1),
    ),
    (
        18.0,
        ("f", "o", 0.8, 1),
        ("t", "i", 0.5, 2),
        ("m", "i", 0.6, 0),
        ("s", "e", 0.8, -1),
        ("k", "a", 1.8, -5),
    ),
)


def _line(start_beats: float, *sounds: tuple[str, str, float, float]) -> tuple[Syllable, ...]:
    syllables = []
    at = start_beats
    for consonant, vowel, length, semitones in sounds:
        syllables.append(Syllable(at, length, consonant, vowel, semitones))
        at += length + 0.08
    return tuple(syllables)


VERSE = tuple(syllable for line in _VERSE_LINES for syllable in _line(*line))
