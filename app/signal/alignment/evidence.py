"""How much each clue says for a print being one of a source, or against it, in log-odds.

The weights were set by hand on earlier corpora of modelled chains, which are not kept, and are no fit. What a fit would give,
and how much hangs on each, is seen with `python -m tests.bench.alignment_weights`, whose docstring holds the table.
"""

import math
from dataclasses import astuple, dataclass, replace

from app.signal.alignment.coarse import Candidate
from app.signal.alignment.fine import FineFit
from app.signal.alignment.path import DelayPath

# At these a clue says nothing either way. Set by hand with the weights; what they are off together is the refit's constant.
EVEN_HEIGHT, EVEN_AGREEMENT, EVEN_STEADIEST, EVEN_STRETCHES, EVEN_COARSE_SCORE = 9.0, 0.6, 0.65, 12, 5.0
# From here on a clue begins, or ends, to count. Set by hand on earlier corpora.
CLEAR_HEIGHT = 25.0
"""A peak that stands out more than this says no more."""
ASTRAY = 0.6
"""Of fewer stretches than this there is no one path."""
PATCHY = 0.7
"""Below this even the best half of the stretches disagrees: two parts that share a few sampled sounds."""
SIZES_ALIKE_SAMPLES = 6
"""Buffers that are lost are of one size; notes of another take are each somewhere else."""
SHARED = 0.25
"""Less of the print's power than this goes along with the source, through whatever filter: of some 400 prints that had a delay
fewer than 2 % lay below 0.2 (octaves up, vibratos under drive); of some 400 foreign pairs half lay below 0.05, but another take of
the same ringing notes up to 0.9."""
ALL_AGREE = 0.95
"""Where the stretches agree by so much on one delay, what else is loud in the print was added to it: a bang, a clipped burst. Of
some 400 foreign pairs none whose power is little shared agrees so far."""
LEAST_EXPLAINED = 0.01
"""A share that is no more than this counts as this: the logarithm of none would drown every other clue."""


@dataclass(frozen=True, slots=True)
class Clues:
    """One number for each clue: what a pair shows, each 0 where it says nothing; or, as WEIGHTS, log-odds for each unit of it."""

    height: float
    """Logarithm of how far the peak stands out, over EVEN_HEIGHT."""
    agreement: float
    """Of the stretches along the path, over EVEN_AGREEMENT."""
    steadiest: float
    """The same of their best half, over EVEN_STEADIEST."""
    patchiness: float
    """How far that lies below PATCHY."""
    few_stretches: float
    """Logarithm of their number over EVEN_STRETCHES; more than those say no more."""
    coarse_score: float
    """Logarithm of how far the coarse lag stood out, over EVEN_COARSE_SCORE."""
    explained: float
    """Logarithm of the share of the print's sounding frames that fall within the source."""
    straying: float = 0.0
    """How far the share of the stretches that find the path by themselves falls short of ASTRAY."""
    jump_sizes: float = 0.0
    """Sizes of jumps beyond the first that are unlike each other."""
    little_shared: float = 0.0
    """How far the share of the print's power that goes along with the source falls short of SHARED."""
    to_and_fro: float = 0.0
    """Jumps back, or forth, whichever are fewer, beyond the first: buffers are lost, or heard twice; notes of another take come now early, now late."""


# Set by hand: see above. `jump_sizes` was -2.0 before prints with buffers lost were among the program's pairs; no refit asks for more
# than this.
WEIGHTS = Clues(
    height=4.0,
    agreement=3.0,
    steadiest=5.0,
    patchiness=-25.0,
    few_stretches=3.0,
    coarse_score=1.5,
    explained=4.0,
    straying=-15.0,
    jump_sizes=-1.0,
    little_shared=-40.0,
    to_and_fro=-4.0,
)


def clues_of_fit(fit: FineFit, candidate: Candidate) -> Clues:
    return Clues(
        height=math.log(min(max(fit.height, 1.0), CLEAR_HEIGHT) / EVEN_HEIGHT),
        agreement=fit.agreement - EVEN_AGREEMENT,
        steadiest=fit.steadiest - EVEN_STEADIEST,
        patchiness=max(0.0, PATCHY - fit.steadiest),
        few_stretches=min(0.0, math.log(fit.stretches / EVEN_STRETCHES)),
        coarse_score=math.log(max(candidate.score, 1.0) / EVEN_COARSE_SCORE),
        explained=math.log(max(candidate.explained, LEAST_EXPLAINED)),
    )


def with_keeping(clues: Clues, path: DelayPath, rate: int) -> Clues:
    """With how the stretches keep to the path."""
    sizes: list[int] = []
    for change in path.changes:
        size = abs(change.samples)
        if all(abs(size - other) > SIZES_ALIKE_SAMPLES for other in sizes):
            sizes.append(size)
    skips = sum(change.samples < 0 for change in path.changes if not change.is_edit(rate))
    repeats = sum(change.samples > 0 for change in path.changes if not change.is_edit(rate))
    return replace(
        clues,
        little_shared=(
            0.0 if path.changes or path.fit.agreement >= ALL_AGREE else max(0.0, SHARED - path.fit.shared)
        ),
        to_and_fro=float(max(0, min(skips, repeats) - 1)),
        straying=max(0.0, ASTRAY - path.agreement),
        jump_sizes=float(max(0, len(sizes) - 1)),
    )


def log_odds(clues: Clues, weights: Clues = WEIGHTS) -> float:
    """That the print is one of the source."""
    return math.fsum(weight * clue for weight, clue in zip(astuple(weights), astuple(clues), strict=True))


def probability(odds: float) -> float:
    return 1 / (1 + math.exp(-odds))
