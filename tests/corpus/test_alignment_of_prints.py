"""Alignment on the corpus: what is true of each print is known by how it was made."""

from pathlib import Path

import numpy as np
import pytest

from app.signal.alignment.align import align
from app.signal.alignment.coarse import candidates
from app.signal.alignment.features import Features, compute_features
from app.signal.alignment.identify import identify
from app.signal.figures import PrintFigures
from tests.corpus.cases import Made

ORDINARY_SAMPLES, HARD_SAMPLES = 2.0, 24.0


def _errors(prints: list[Made], figures: list[PrintFigures], *, hard: bool) -> list[tuple[str, float]]:
    errors = []
    for made, found in zip(prints, figures, strict=True):
        assert found.alignment is not None
        delay = found.alignment.delay_samples
        if made.case.hard == hard:
            errors.append((made.case.name, float("inf") if delay is None else abs(delay - made.delay)))
    return errors


def test_at_least_forty_prints_a_third_of_them_hard(prints: list[Made]) -> None:
    assert len(prints) >= 40
    assert sum(made.case.hard for made in prints) >= len(prints) / 3


def test_ordinary_chains_read_their_delay(prints: list[Made], figures: list[PrintFigures]) -> None:
    errors = _errors(prints, figures, hard=False)
    values = np.array([error for _, error in errors])
    worst = sorted(errors, key=lambda item: -item[1])[:4]
    print("ordinary: median", np.median(values), "worst", worst)
    assert np.median(values) <= 0.15, worst
    assert np.mean(values <= ORDINARY_SAMPLES) >= 0.95, worst


def test_linear_phase_chains_read_their_delay_to_a_twentieth(
    prints: list[Made], figures: list[PrintFigures]
) -> None:
    errors = [
        abs((found.alignment.delay_samples or 0) - made.delay)
        for made, found in zip(prints, figures, strict=True)
        if made.case.linear_phase and not made.case.ppm and found.alignment is not None
    ]
    assert errors
    assert np.median(errors) <= 0.05


def test_hard_chains_read_their_delay_within_half_a_millisecond(
    prints: list[Made], figures: list[PrintFigures]
) -> None:
    errors = _errors(prints, figures, hard=True)
    values = np.array([error for _, error in errors])
    worst = sorted(errors, key=lambda item: -item[1])[:6]
    print("hard: median", np.median(values), "worst", worst)
    assert np.mean(values <= HARD_SAMPLES) >= 0.9, worst


def test_polarity_is_never_wrong_when_claimed(prints: list[Made], figures: list[PrintFigures]) -> None:
    claimed = 0
    for made, found in zip(prints, figures, strict=True):
        assert found.alignment is not None
        if made.sign and found.alignment.polarity != "unclear":
            claimed += 1
            assert (found.alignment.polarity == "same") == (made.sign > 0), made.case.name
    assert claimed >= 0.6 * sum(made.sign != 0 for made in prints)


def test_drift_is_read(prints: list[Made], figures: list[PrintFigures]) -> None:
    """±1 ppm is asked from 60 s; these have 16 s, so four times as much is allowed."""
    for made, found in zip(prints, figures, strict=True):
        if not made.case.hard:
            assert found.alignment is not None
            assert found.alignment.drift_ppm == pytest.approx(made.case.ppm, abs=4), made.case.name


def test_confidence_is_earned(prints: list[Made], figures: list[PrintFigures]) -> None:
    """Of results with confidence over 0.9, at least 95 % are right."""
    right = []
    for made, found in zip(prints, figures, strict=True):
        assert found.alignment is not None
        if found.alignment.is_of_source and found.alignment.confidence > 0.9:
            allowed = HARD_SAMPLES if made.case.hard else ORDINARY_SAMPLES
            assert found.alignment.delay_samples is not None
            right.append(abs(found.alignment.delay_samples - made.delay) <= allowed)
    print("over 0.9:", len(right), "right:", sum(right))
    assert len(right) >= len(prints) / 2
    assert np.mean(right) >= 0.95


def test_true_sources_are_accepted(prints: list[Made], figures: list[PrintFigures]) -> None:
    missed = [
        made.case.name
        for made, found in zip(prints, figures, strict=True)
        if found.alignment is None or not found.alignment.is_of_source
    ]
    assert len(missed) <= 0.03 * len(prints) + 0.5, missed


def test_foreign_sources_are_not_accepted(prints: list[Made]) -> None:
    """Prints against another take of the same part, where there is one; and every third against another source."""
    known: dict[Path, Features] = {}

    def features(path: Path) -> Features:
        if path not in known:
            known[path] = compute_features(path)
        return known[path]

    accepted, tried = [], 0
    for index, made in enumerate(prints):
        own = made.case.source.removesuffix(" again")
        others = [other for other in prints if other.case.source != made.case.source]
        takes = [other for other in others if other.case.source.removesuffix(" again") == own]
        strangers = [others[(7 * index) % len(others)]] if index % 3 == 0 else []
        for other in [*takes[:1], *strangers]:
            taken, source = features(made.print_path), features(other.source_path)
            found = align(made.print_path, taken, other.source_path, source, candidates(source, taken))
            tried += 1
            if found.figures.is_of_source:
                accepted.append((made.case.name, other.case.source, found.figures.confidence))
    assert tried >= 15
    assert not accepted


def test_identify_names_the_source_or_none(prints: list[Made], folder: Path) -> None:
    sources = [made.source_path for made in prints[4:18]]
    for index in (5, 9, 16):
        found = identify(prints[index].print_path, sources, features_folder=folder / "kept")
        assert found.best is not None
        best = next(made for made in prints if str(made.source_path) == found.best)
        assert best.case.source == prints[index].case.source
    foreign = identify(prints[30].print_path, sources[:3], features_folder=folder / "kept")
    assert foreign.best is None
    assert all(0 <= entry.score <= 0.5 for entry in foreign.ranking)
