"""The true step of a file's samples: a 16-bit recording that was gained up into 24 bits still moves in steps of 16.

What is flat, held or nothing at all is told by steps, so the file's own word for its resolution is not enough.
"""

import numpy as np

from app.signal.audio.reading import Samples, Sound

LOOKS, LOOK_S = 8, 0.25
"""So many looks of such length are spread over a file. Chosen for time; not measured."""
FEWEST_VALUES = 40
"""Of fewer different values nothing can be said: a square wave has two."""
COARSEST = 2.0**-7
"""The step of 8 bits."""
IN_STEP = 0.9
"""So large a share of the distances of neighbouring values must be whole numbers of steps."""
FEW_STEPS = 8
"""Distances of more steps than this are not asked: an error of the step, so often over, would look like one of theirs. Not
measured."""
FINEST = 2.0**-23
"""The step of 24 bits."""

# One over 2 to the bits but the sign's.
_OF_SUBTYPE = {"PCM_U8": 2.0**-7, "PCM_S8": 2.0**-7, "PCM_16": 2.0**-15}


def nominal_step(subtype: str) -> float:
    """What the file's form says, full scale being 1."""
    return _OF_SUBTYPE.get(subtype, FINEST)


def true_step(sound: Sound) -> float:
    """The step between samples as they are, looked for in a few places of the file; never finer than its form."""
    nominal = nominal_step(sound.subtype)
    frames = min(sound.frames, round(LOOK_S * sound.sample_rate))
    starts = np.linspace(0, sound.frames - frames, LOOKS).astype(int)
    looks = [sound.read(start, frames) for start in dict.fromkeys(starts.tolist())]
    return max(nominal, step_of(np.concatenate(looks)))


def step_of(samples: Samples) -> float:
    """The smallest distance between values that nearly all distances are whole numbers of; 0 where there is none.

    Rounding into the finer form moves each value by a part of its step, so a distance may be off by one; one sign only is
    looked at, for a value and its negative may be rounded apart.
    """
    values = np.unique(samples[samples >= 0].astype(np.float64))
    if len(values) < FEWEST_VALUES:
        return 0.0
    apart = np.diff(values)
    apart = apart[apart > FINEST / 2]
    least = float(apart.min()) if len(apart) else 0.0
    if not 4 * FINEST <= least <= COARSEST:
        return 0.0
    near = apart[apart < (FEW_STEPS + 0.5) * least]
    step = float(np.median(near[near < 1.5 * least]))
    off = np.abs(near - np.round(near / step) * step)
    return step if np.mean(off <= 1.5 * FINEST) >= IN_STEP else 0.0
