"""Where a print lies against its source: coarse, then fine, then judged.

Coarse compares the rise and fall of bands and gives a few likely lags within some milliseconds. Fine compares waves;
where those have nothing in common any more (an octave pedal, a vibrato), it compares the rectified source with the
print, or both rectified. A delay that jumps is followed along its `path`, a source that was edited since section by
section (`edits`); both give `pieces`. What the judgement weighs, and how much, stands in `evidence`.

Confidence was once held against three sets of 160 prints and 44 foreign pairs, made by other hands from other sources, which
are not kept: of 423 delays given with more than 0.9, 420 were right (2 samples on ordinary chains, 24 on hard ones, polarity
right or left open); of 39 between 0.7 and 0.9, 31 were. No foreign print was accepted, 5 of 480 true ones were not. What is
kept and run again are `tests/corpus` and `tests.bench.alignment_weights`.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path

import numpy as np

from app.signal.alignment.coarse import LOUD_DB, Candidate
from app.signal.alignment.edits import Section, lags_of_parts, sections_of
from app.signal.alignment.evidence import (
    Clues,
    clues_of_fit,
    log_odds,
    probability,
    with_keeping,
)
from app.signal.alignment.features import Features
from app.signal.alignment.fine import FineFit, best_fit
from app.signal.alignment.movement import Movement, follow
from app.signal.alignment.path import DelayPath, find_path, joined, steady
from app.signal.alignment.pieces import Line, dropouts_of, pieces_of, placed_by
from app.signal.alignment.place_of_change import place_of_edit
from app.signal.alignment.segments import Kind, Pair, Stretch, cross_spectra, read_stretches
from app.signal.audio.reading import Sound
from app.signal.figures import AlignmentFigures, Dropout, Polarity, Untold
from app.signal.levels.spectrum import FRAMES_PER_S

# Which lags and kinds are tried. Set by hand on earlier corpora, which are not kept.
RADIUS_S = 0.05
"""How far from a coarse lag the arrival is looked for: more than one frame (0.04 s), which is how exact coarse lags are."""
RIVAL_SHARE = 0.55
"""Lags whose score is lower than this share of the best's are not tried."""
RIVALS_AT_ONCE, CLEAR_EVIDENCE = 3, 4.0
"""After each so many lags no more are tried where one of them is clear. A bar too early fits, but never clearly."""
PLAIN_HEIGHT, PLAIN_AGREEMENT, PLAIN_SECOND = 30.0, 0.8, 0.5
"""Where waves fit so well, nothing rectified is tried, which saves time."""
TRIED_ALONG = 2
"""Where none is clear, so many of the best are followed along their path: one that jumps fits badly at any one lag."""
OTHER_KIND_EVIDENCE = 3.0
"""So much more the rectified must have for them than the waves have, which alone tell polarity."""
SECTION_EVIDENCE, SECTION_STRETCHES = 2.0, 18
"""A section of an edited source must have so much for itself, of so many stretches. Chosen: two or three sections cost as much as
the lags that are tried of one whole."""
APART = 0.85
"""Where they agree less, lags are looked for in the source's parts as well."""
STEADY = 0.97
"""No change of the delay is looked for where the stretches agree so well."""

ACCEPTED, FOREIGN = 0.7, 0.2
"""Probability above which a print is taken for one of the source, and below which it is called foreign; what lies between
is said to be unclear. The program of the weights counts how many lie where."""

FEWEST_FOR_DRIFT = 6
"""In fewer stretches than this a drift and a note's own lag look alike. Chosen; not measured."""
NO_CHANCE_HEIGHT, NO_CHANCE_PATTERN = 12.0, 0.5
"""A peak that stands out so far, or bands that rise and fall so much alike, are no chance: whatever else speaks against it, such a
print is not called foreign. Of 105 foreign pairs of recorded loops and rendered parts, held against prints through 11 chains,
none came above 6.3 and 0.23; of as many true ones none lay below 10.8 and 0.8."""
FAINT_PATTERN = 0.3
"""Where bands rise and fall together so little, and no wave speaks, the lags that come first are all that are tried: of the same
pairs no foreign one came above 0.23."""

LITTLE_EXPLAINED = 0.5
"""Of its own sound, a print that holds less of its source than this is first said to hold too little. Chosen."""
SILENCE = 1e-9
"""-90 dBFS, as a power. Chosen."""

# Which of several fits stand for a source that repeats itself: as shares of the best. Set by hand on the corpus's loops.
SAME_SOUND, SAME_HEIGHT, SAME_COVERED = 0.97, 0.5, 0.05

# How sure the delay is. Set by hand on earlier corpora so that confidence is earned; tests hold it to that on this one.
SURE = 0.9
"""As in the tests: of delays given with more confidence than this, at least 95 % are right."""
CLEAREST = 0.995
"""No more is ever claimed: one in 200 may always be wrong."""
AMBIGUOUS_CONFIDENCE, MOVING_CONFIDENCE = 0.6, 0.75
TRUST_BY_SECOND = (0.5, 0.7, 0.85, 0.95), (1.0, 0.9, 0.8, 0.6)
"""Against how near the next highest peak comes."""
TRUST_BY_OPPOSITE = (0.6, 0.75, 0.95), (1.0, 0.89, 0.8)
"""The same of the other sign: a chain that differentiates shows two."""
TRUST_BY_KEEPING = (0.5, 0.8), (0.75, 1.0)
"""Against the share of stretches that keep to the lag and its jumps."""
MAY_MOVE_SECOND = 0.4
"""A delay that moves piles up at both ends of its swing: without a second peak as high as this it is not followed."""
SIGNED_HEIGHT, SIGNED_RIVAL = 12.0, 0.7
"""A peak tells polarity where it stands out so far and no other comes nearer than this share of it."""

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
    dropouts: tuple[Dropout, ...] = ()
    """Found against the source alone."""
    source_features: Features | None = None
    print_features: Features | None = None
    probability: float = 0.0
    """That the print is one of the source, whatever became of the delay."""


@dataclass(frozen=True, slots=True)
class _Fitted:
    candidate: Candidate
    kind: Kind
    fit: FineFit
    clues: Clues
    evidence: float


@dataclass(frozen=True, slots=True)
class Compared:
    """The likeliest fit of a pair, and all that speaks for or against it."""

    best: _Fitted
    ambiguous: bool
    path: DelayPath
    clues: Clues


def align(
    print_path: Path,
    print_features: Features,
    source_path: Path,
    source_features: Features,
    lags: list[Candidate],
    dropouts: Sequence[Dropout] = (),
) -> Alignment:
    """Aligns a print with its source, from the features of both and coarse candidates for the lag. `dropouts` are those found
    in the print itself, which tell places more exactly. Raises UnreadableAudio for either file."""
    with Sound(source_path) as source_sound, Sound(print_path) as print_sound:
        pair = Pair(source_sound, print_sound, source_features, print_features)
        compared = compare(pair, lags)
        if compared is None:
            return Alignment(
                AlignmentFigures(None, None, "unclear", 0.0, None, None, untold=_nothing_shared(pair)),
                notes=(NOTHING_SHARED,),
            )
        likely = probability(log_odds(compared.clues))
        if likely < ACCEPTED:
            return _refused(compared, likely)
        return _accepted(compared, likely, pair, dropouts)


def _refused(compared: Compared, likely: float) -> Alignment:
    """Foreign only where nothing at all speaks for the source."""
    best = compared.best
    speaks = best.fit.height > NO_CHANCE_HEIGHT or best.candidate.correlation > NO_CHANCE_PATTERN
    is_foreign = likely < FOREIGN and not speaks
    figures = AlignmentFigures(
        None,
        None,
        "unclear",
        1 - likely if is_foreign else 0.0,
        None,
        False if is_foreign else None,
        untold=None if is_foreign else _untold(compared),
    )
    note = NOT_OF_SOURCE if is_foreign else CANNOT_TELL
    return Alignment(figures, best.fit, best.kind, (note,), probability=likely)


def _nothing_shared(pair: Pair) -> Untold:
    loudest = min(
        float(features.frames.summed().max()) if len(features.frames) else 0.0
        for features in (pair.source_features, pair.print_features)
    )
    return "too quiet" if loudest <= SILENCE else "too little overlaps"


def _untold(compared: Compared) -> Untold:
    """What most stands in the way of an answer."""
    best, path = compared.best, compared.path
    if best.candidate.explained < LITTLE_EXPLAINED:
        return "too little overlaps"
    if path.changes:
        return "the delay moves"
    if best.fit.second > TRUST_BY_SECOND[0][-2]:
        return "two delays fit as well"
    if best.fit.stretches < FEWEST_FOR_DRIFT:
        return "too few notes begin"
    return "too little of the source is left"


def compare(pair: Pair, lags: list[Candidate]) -> Compared | None:
    """None where there is nothing to fit."""
    rivals = [lag for lag in lags if lag.score >= RIVAL_SHARE * lags[0].score]
    is_faint = max((lag.correlation for lag in lags), default=0.0) < FAINT_PATTERN
    fits: list[_Fitted] = []
    for first in range(0, len(rivals), RIVALS_AT_ONCE):
        for rival in rivals[first : first + RIVALS_AT_ONCE]:
            fitted = _fitted(
                rival,
                read_stretches(pair, rival.lag_s, RADIUS_S),
                pair.print_features.sample_rate,
                others=not fits,
            )
            if fitted is not None:
                fits.append(fitted)
        if any(fitted.evidence >= CLEAR_EVIDENCE for fitted in fits) or (is_faint and _none_speaks(fits)):
            break
    if not fits:
        return None
    best, ambiguous = _chosen(fits)
    if best.fit.agreement < STEADY and best.kind == "wave" and (best.evidence >= 0 or not is_faint):
        edited = _edited(best, lags, pair)
        if edited is not None:
            return edited
    if best.evidence >= CLEAR_EVIDENCE or ambiguous:
        return _along(best, ambiguous, pair)
    likeliest = sorted(fits, key=lambda fitted: -fitted.evidence)[:TRIED_ALONG]
    return max((_along(fitted, False, pair) for fitted in likeliest), key=lambda one: log_odds(one.clues))


def _none_speaks(fits: list[_Fitted]) -> bool:
    return all(fitted.evidence < 0 and fitted.fit.height < NO_CHANCE_HEIGHT for fitted in fits)


def _along(best: _Fitted, ambiguous: bool, pair: Pair) -> Compared:
    """With the path of its delay, looked for where stretches that stray from one line make it worth it."""
    speaks = best.evidence >= 0 or best.candidate.correlation > NO_CHANCE_PATTERN
    still = steady(best.fit)
    path = still
    if best.kind == "wave" and best.fit.agreement < STEADY and speaks:
        path = find_path(pair, best.fit)
    rate = pair.print_features.sample_rate
    clues, still_clues = (
        with_keeping(clues_of_fit(one.fit, best.candidate), one, rate) for one in (path, still)
    )
    # a path of many jumps that explains no more than one delay is the note that rings, not the print
    if log_odds(still_clues) > log_odds(clues):
        path, clues = still, still_clues
    return Compared(best, ambiguous, path, clues)


def _edited(whole: _Fitted, lags: list[Candidate], pair: Pair) -> Compared | None:
    """Where the source was edited since: each section with a fit and a path of its own; None unless each fits better there
    than at the lag beside it, and so well that it is one of the source for itself."""
    features = pair.source_features, pair.print_features
    more = lags_of_parts(*features) if whole.fit.agreement < APART else []
    sections = sections_of(*features, [*more, *lags])
    if len(sections) < 2:
        return None
    rate = pair.print_features.sample_rate
    parts: list[tuple[Section, _Fitted]] = []
    for section in sections:
        fitted = _in_section(section, section.candidate, pair)
        if fitted is None or fitted.evidence < SECTION_EVIDENCE:
            return None
        parts.append((section, fitted))
    for (section, fitted), (beside, _) in [*pairwise(parts), *pairwise(reversed(parts))]:
        there = _in_section(section, beside.candidate, pair)
        if there is not None and there.fit.agreement >= fitted.fit.agreement:
            return None
    paths = [
        find_path(pair, fitted.fit, (section.from_s, section.to_s))
        if fitted.fit.agreement < STEADY
        else steady(fitted.fit)
        for section, fitted in parts
    ]
    places_s = []
    for path, after, (section, _) in zip(paths, paths[1:], parts, strict=False):
        ends = path.fit.delay + sum(change.samples for change in path.changes)
        drifted = path.fit.drift * section.to_s * rate
        places_s.append(place_of_edit(pair, section.to_s, ends + drifted, after.fit.delay + drifted))
    path = joined(paths, places_s)
    main = max((fitted for _, fitted in parts), key=lambda fitted: fitted.evidence)
    whole_candidate = replace(main.candidate, explained=_explained(sections, pair))
    clues = with_keeping(clues_of_fit(main.fit, whole_candidate), path, rate)
    return Compared(main, False, path, clues)


def _in_section(section: Section, candidate: Candidate, pair: Pair) -> _Fitted | None:
    stretches = read_stretches(
        pair, candidate.lag_s, RADIUS_S, between_s=(section.from_s, section.to_s), count=SECTION_STRETCHES
    )
    wholly = replace(candidate, explained=1.0)
    return _fitted(wholly, stretches, pair.print_features.sample_rate, others=False)


def _explained(sections: Sequence[Section], pair: Pair) -> float:
    """Share of the print's sounding frames that fall within one of the sections."""
    loud = pair.print_features.frames.summed()
    at_s = np.flatnonzero(loud > loud.max() * 10 ** (LOUD_DB / 10)) / FRAMES_PER_S
    within = np.zeros(len(at_s), dtype=bool)
    for section in sections:
        lag_s = section.candidate.lag_s
        within |= (at_s >= section.from_s + lag_s - 1 / FRAMES_PER_S) & (at_s <= section.to_s + lag_s)
    return float(within.mean()) if len(at_s) else 0.0


def _fitted(candidate: Candidate, stretches: list[Stretch], rate: int, *, others: bool) -> _Fitted | None:
    """The kind of comparison that speaks loudest at this lag; only waves unless `others`."""
    if not stretches:
        return None
    best: _Fitted | None = None
    kinds: tuple[Kind, ...] = ("wave", "envelope", "rectified") if others else ("wave",)
    for kind in kinds:
        fit = best_fit(cross_spectra(stretches, rate, kind))
        clues = clues_of_fit(fit, candidate)
        evidence = log_odds(clues)
        if best is None or evidence > best.evidence + OTHER_KIND_EVIDENCE:
            best = _Fitted(candidate, kind, fit, clues, evidence)
        if (
            kind == "wave"
            and fit.height > PLAIN_HEIGHT
            and fit.agreement > PLAIN_AGREEMENT
            and fit.second < PLAIN_SECOND
        ):
            break
    return best


def _chosen(fits: list[_Fitted]) -> tuple[_Fitted, bool]:
    """The best fit; of several that are as good, the one with the smallest lag, and whether there were several."""
    best = max(fits, key=lambda fitted: fitted.evidence)
    equal = [
        fitted
        for fitted in fits
        if fitted.kind == best.kind
        and fitted.fit.agreement >= SAME_SOUND * best.fit.agreement
        and fitted.fit.coherence >= SAME_SOUND * best.fit.coherence
        and fitted.fit.height >= SAME_HEIGHT * best.fit.height
    ]
    if len(equal) < 2:
        return best, False
    covered = max(fitted.candidate.explained for fitted in equal)
    equal = [fitted for fitted in equal if fitted.candidate.explained > covered - SAME_COVERED]
    return min(equal, key=lambda fitted: abs(fitted.candidate.lag_s)), True


def _accepted(compared: Compared, likely: float, pair: Pair, dropouts: Sequence[Dropout]) -> Alignment:
    best, path, ambiguous = compared.best, compared.path, compared.ambiguous
    rate = pair.print_features.sample_rate
    notes: list[str] = []
    fit, jumps = path.fit, placed_by(path.changes, dropouts)
    keeping = float(np.interp(path.agreement, *TRUST_BY_KEEPING))
    confidence = min(likely, CLEAREST) * _peak_trust(fit) * keeping
    movement = _movement(best, pair) if best.fit.second > MAY_MOVE_SECOND and not jumps else None
    if movement is not None:
        fit = replace(fit, delay=fit.delay + movement.middle)
        confidence = min(likely, MOVING_CONFIDENCE)
        notes.append(MOVING.format(swing_ms=movement.swing / rate * 1000))
    if jumps:
        notes.append(JUMPS)
    if ambiguous:
        confidence = min(confidence, AMBIGUOUS_CONFIDENCE)
        notes.append(AMBIGUOUS)
    polarity: Polarity = "unclear"
    if best.kind == "wave" and movement is None and has_polarity(fit) and likely > SURE:
        polarity = "same" if fit.sign > 0 else "inverted"
    line = Line(rate, fit.delay, fit.drift, _tells_drift(best, movement), polarity, confidence)
    pieces, between = pieces_of(line, jumps, pair.source_features.duration_s, pair.print_features.duration_s)
    figures = AlignmentFigures(
        delay_samples=fit.delay,
        delay_ms=fit.delay / rate * 1000,
        polarity=polarity,
        confidence=confidence,
        drift_ppm=pieces[0].drift_ppm,
        is_of_source=True,
        pieces=pieces,
        between=between,
        set_aside=path.set_aside,
    )
    return Alignment(figures, fit, best.kind, tuple(notes), dropouts_of(jumps, rate), probability=likely)


def _movement(best: _Fitted, pair: Pair) -> Movement | None:
    """How the lag moves, if it does."""
    stretches = read_stretches(pair, best.candidate.lag_s, RADIUS_S)
    times = np.array([stretch.time_s for stretch in stretches])
    base = np.array([stretch.base for stretch in stretches])
    rate = pair.print_features.sample_rate
    movement = follow(stretches, best.fit.delay + best.fit.drift * times * rate - base, rate)
    return movement if movement is not None and movement.moves else None


def _tells_drift(best: _Fitted, movement: Movement | None) -> bool:
    """A lag that moves by itself, or was read in a few places, says nothing of the clocks."""
    return movement is None and best.fit.stretches >= FEWEST_FOR_DRIFT


def _peak_trust(fit: FineFit) -> float:
    """How sure the highest peak is the arrival, from how near the next one comes."""
    apart = np.interp(fit.second, *TRUST_BY_SECOND)
    upright = np.interp(fit.opposite, *TRUST_BY_OPPOSITE)
    return float(apart * upright)


def has_polarity(fit: FineFit) -> bool:
    """Whether the peak's sign means anything: clear, alone, and without a twin of the other sign."""
    return fit.height > SIGNED_HEIGHT and max(fit.second, fit.opposite) < SIGNED_RIVAL
