"""Where a print lies against its source: coarse, then fine, then judged.

Coarse compares the rise and fall of bands and gives a few likely lags within some milliseconds. Fine compares waves;
where those have nothing in common any more (an octave pedal, a vibrato), it compares the rectified source with the
print, or both rectified. What the judgement weighs was learnt from several hundred prints made by modelled chains and
as many foreign ones: how far the peak stands out, how well stretches agree on it, how many there are, and how far
the coarse lag stood out.

Confidence was held against three sets of 160 prints and 44 foreign pairs, made by other hands from other sources: of 423
delays given with more than 0.9, 420 were right (2 samples on ordinary chains, 24 on hard ones, polarity right or left
open); of 39 between 0.7 and 0.9, 31 were. No foreign print was accepted, 5 of 480 true ones were not.
"""

import math
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from app.signal.alignment.coarse import Candidate
from app.signal.alignment.features import Features
from app.signal.alignment.fine import FineFit, best_fit
from app.signal.alignment.jumps import Jumps, find_jumps, without_jumps
from app.signal.alignment.movement import Movement, follow
from app.signal.alignment.segments import Kind, Stretch, cross_spectra, read_stretches
from app.signal.audio.reading import Sound
from app.signal.figures import AlignmentFigures, Dropout, Polarity

RADIUS_S = 0.05
RIVAL_SHARE = 0.55
RIVALS_AT_ONCE, CLEAR_EVIDENCE = 3, 4.0
"""After each so many lags no more are tried where one of them is clear. A bar too early fits, but never clearly."""
ACCEPTED = 0.7
SAME_SOUND = 0.97
AMBIGUOUS_CONFIDENCE = 0.6
MOVING_CONFIDENCE = 0.75
CLEAREST = 0.995
STEADY = 0.97
CLEAR_HEIGHT = 25.0
PATCHY = 0.7
"""Below this even the best half of the stretches disagrees: two parts that share a few sampled sounds."""
ASTRAY, COST_OF_STRAYING = 0.6, 15.0
SIZES_ALIKE, COST_OF_A_SIZE = 6, 2.0
"""Buffers that are lost are of one size; notes of another take are each somewhere else."""

NOT_OF_SOURCE = "This does not look like a print of this source."
CANNOT_TELL = "Whether this is a print of this source cannot be told: too little of it survives, or too little overlaps."
NOTHING_SHARED = "Print and source hold too little in common to be aligned."
AMBIGUOUS = (
    "The source repeats itself nearly exactly, so other lags fit almost as well; the smallest was taken."
)
JUMPS = "The delay jumps along the way; given is the one at the start."
MOVING = "The delay moves (vibrato or the like); given is the middle of its movement of ±{swing_ms:.1f} ms."


@dataclass(frozen=True, slots=True)
class Alignment:
    """The figures; and the fit behind them, None where there was nothing to fit."""

    figures: AlignmentFigures
    fit: FineFit | None = None
    kind: Kind = "wave"
    notes: tuple[str, ...] = ()
    jumps: tuple[Dropout, ...] = ()
    source_features: Features | None = None
    print_features: Features | None = None
    probability: float = 0.0
    """That the print is one of the source, whatever became of the delay."""


@dataclass(frozen=True, slots=True)
class _Fitted:
    candidate: Candidate
    kind: Kind
    fit: FineFit
    evidence: float


def align(
    print_path: Path,
    print_features: Features,
    source_path: Path,
    source_features: Features,
    lags: list[Candidate],
) -> Alignment:
    """Aligns a print with its source, from the features of both and coarse candidates for the lag. Raises
    UnreadableAudio for either file."""
    with Sound(source_path) as source_sound, Sound(print_path) as print_sound:
        pair = _Pair(source_sound, print_sound, source_features, print_features)
        rivals = [lag for lag in lags if lag.score >= RIVAL_SHARE * lags[0].score]
        fits: list[_Fitted] = []
        for first in range(0, len(rivals), RIVALS_AT_ONCE):
            for rival in rivals[first : first + RIVALS_AT_ONCE]:
                fitted = _fitted(
                    rival, pair.stretches(rival.lag_s), print_features.sample_rate, others=not fits
                )
                if fitted is not None:
                    fits.append(fitted)
            if any(fitted.evidence >= CLEAR_EVIDENCE for fitted in fits):
                break
        if not fits:
            return Alignment(
                AlignmentFigures(None, None, "unclear", 0.0, None, False), notes=(NOTHING_SHARED,)
            )
        best, ambiguous = _chosen(fits)
        jumped = _jumps(best, ambiguous, pair)
        probability = _probability(best.evidence + _evidence_of_keeping(best.fit, jumped))
        if probability < ACCEPTED:
            foreign = AlignmentFigures(None, None, "unclear", 1 - probability, None, False)
            note = NOT_OF_SOURCE if probability < 0.2 else CANNOT_TELL
            return Alignment(foreign, best.fit, best.kind, (note,), probability=probability)
        return _accepted(best, jumped, probability, ambiguous, pair)


@dataclass(frozen=True, slots=True)
class _Pair:
    source_sound: Sound
    print_sound: Sound
    source_features: Features
    print_features: Features

    def stretches(self, lag_s: float) -> list[Stretch]:
        return read_stretches(
            self.source_sound, self.print_sound, self.source_features, self.print_features, lag_s, RADIUS_S
        )


def _fitted(candidate: Candidate, stretches: list[Stretch], rate: int, *, others: bool) -> _Fitted | None:
    """The kind of comparison that speaks loudest at this lag; only waves unless `others`."""
    if not stretches:
        return None
    best: _Fitted | None = None
    kinds: tuple[Kind, ...] = ("wave", "envelope", "rectified") if others else ("wave",)
    for kind in kinds:
        fit = best_fit(cross_spectra(stretches, rate, kind))
        evidence = _evidence(fit, candidate)
        if best is None or evidence > best.evidence + 3:
            best = _Fitted(candidate, kind, fit, evidence)
        if kind == "wave" and fit.height > 30 and fit.agreement > 0.8 and fit.second < 0.5:
            break
    return best


def _evidence(fit: FineFit, candidate: Candidate) -> float:
    """Log-odds that the print is one of the source."""
    few = min(0.0, 3 * math.log(fit.stretches / 12))
    coarse = 1.5 * math.log(max(candidate.score, 1.0) / 5)
    peak = 4 * math.log(min(max(fit.height, 1.0), CLEAR_HEIGHT) / 9)
    agreeing = 3 * (fit.agreement - 0.6) + 5 * (fit.steadiest - 0.65)
    agreeing -= 25 * max(0.0, PATCHY - fit.steadiest)
    return peak + agreeing + few + coarse + 4 * math.log(max(candidate.explained, 0.01))


def _probability(evidence: float) -> float:
    return 1 / (1 + math.exp(-evidence))


def _jumps(best: _Fitted, ambiguous: bool, pair: _Pair) -> Jumps:
    """The fit with jumps of its delay, where stretches that stray from it make it worth looking for them."""
    if best.kind != "wave" or ambiguous or best.fit.agreement >= STEADY or best.evidence < 0:
        return without_jumps(best.fit)
    return find_jumps(
        pair.source_sound, pair.print_sound, pair.source_features, pair.print_features, best.fit
    )


def _evidence_of_keeping(fit: FineFit, jumped: Jumps) -> float:
    """What it says for the source, or against it, how the stretches keep to one lag and its jumps."""
    sizes: list[int] = []
    for jump in jumped.dropouts:
        if all(abs(jump.samples - size) > SIZES_ALIKE for size in sizes):
            sizes.append(jump.samples)
    straying = COST_OF_STRAYING * max(0.0, ASTRAY - jumped.agreement)
    return 3 * (jumped.agreement - fit.agreement) - straying - COST_OF_A_SIZE * max(0, len(sizes) - 1)


def _chosen(fits: list[_Fitted]) -> tuple[_Fitted, bool]:
    """The best fit; of several that are as good, the one with the smallest lag, and whether there were several."""
    best = max(fits, key=lambda fitted: fitted.evidence)
    equal = [
        fitted
        for fitted in fits
        if fitted.kind == best.kind
        and fitted.fit.agreement >= SAME_SOUND * best.fit.agreement
        and fitted.fit.coherence >= SAME_SOUND * best.fit.coherence
        and fitted.fit.height >= 0.5 * best.fit.height
    ]
    if len(equal) < 2:
        return best, False
    covered = max(fitted.candidate.explained for fitted in equal)
    equal = [fitted for fitted in equal if fitted.candidate.explained > covered - 0.05]
    return min(equal, key=lambda fitted: abs(fitted.candidate.lag_s)), True


def _accepted(best: _Fitted, jumped: Jumps, probability: float, ambiguous: bool, pair: _Pair) -> Alignment:
    rate = pair.print_features.sample_rate
    notes: list[str] = []
    fit, jumps = jumped.fit, jumped.dropouts
    keeping = float(np.interp(jumped.agreement, (0.5, 0.8), (0.75, 1.0)))
    confidence = min(probability, CLEAREST) * _peak_trust(best.fit) * keeping
    movement = _movement(best, pair) if best.fit.second > 0.4 and not jumps else None
    if movement is not None:
        fit = replace(fit, delay=fit.delay + movement.middle)
        confidence = min(probability, MOVING_CONFIDENCE)
        notes.append(MOVING.format(swing_ms=movement.swing / rate * 1000))
    if jumps:
        notes.append(JUMPS)
    if ambiguous:
        confidence = min(confidence, AMBIGUOUS_CONFIDENCE)
        notes.append(AMBIGUOUS)
    polarity: Polarity = "unclear"
    if best.kind == "wave" and movement is None and has_polarity(best.fit) and probability > 0.9:
        polarity = "same" if fit.sign > 0 else "inverted"
    figures = AlignmentFigures(
        delay_samples=fit.delay,
        delay_ms=fit.delay / rate * 1000,
        polarity=polarity,
        confidence=confidence,
        drift_ppm=fit.drift * 1e6,
        is_of_source=True,
    )
    return Alignment(figures, fit, best.kind, tuple(notes), jumps, probability=probability)


def _movement(best: _Fitted, pair: _Pair) -> Movement | None:
    """How the lag moves, if it does."""
    stretches = pair.stretches(best.candidate.lag_s)
    times = np.array([stretch.time_s for stretch in stretches])
    base = np.array([stretch.base for stretch in stretches])
    rate = pair.print_features.sample_rate
    movement = follow(stretches, best.fit.delay + best.fit.drift * times * rate - base, rate)
    return movement if movement is not None and movement.moves else None


def _peak_trust(fit: FineFit) -> float:
    """How sure the highest peak is the arrival, from how near the next one comes."""
    apart = np.interp(fit.second, (0.5, 0.7, 0.85, 0.95), (1.0, 0.9, 0.8, 0.6))
    upright = np.interp(fit.opposite, (0.6, 0.75, 0.95), (1.0, 0.89, 0.8))
    return float(apart * upright)


def has_polarity(fit: FineFit) -> bool:
    """Whether the peak's sign means anything: clear, alone, and without a twin of the other sign."""
    return fit.height > 12 and fit.second < 0.7 and fit.opposite < 0.7
