"""Everything there is to know about a print, from its file and, where there is one, its source's."""

import math
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from app.signal.alignment.align import Alignment, align
from app.signal.alignment.coarse import candidates
from app.signal.alignment.features import features_of, read_features
from app.signal.alignment.pieces import beside, silent_between
from app.signal.audio.reading import Sound, probe
from app.signal.faults.against_source import ends_early_s, starts_late_s, unlike, without_rests
from app.signal.figures import (
    AlignmentFigures,
    Between,
    Dropout,
    FaultFigures,
    LevelFigures,
    LoudnessPoint,
    Overview,
    PrintFigures,
)
from app.signal.levels.bands import band_levels, share_at_rest, shortness_note
from app.signal.levels.loudness import channel_weights, measure_loudness, short_term_lufs
from app.signal.survey import NOTHING, Survey, survey_of

# For drawing: no more than a wide page has pixels, and half as many.
COLUMNS = 1200
LOUDNESS_POINTS = 600

RESTING_STEPS, FEWEST_STRETCHES = 10, 5
"""Stretches of 100 ms, over which a mean says little of single waves; of half a second at least. Chosen; not measured."""


def measure_print(
    print_path: Path, source_path: Path | None = None, *, features_folder: Path | None = None
) -> PrintFigures:
    """Measures `path`; with `source`, aligns it too. Raises UnreadableAudio for either file.

    What is computed about the source is kept in `features_folder`, where one is given, for the next time.
    """
    survey = survey_of(print_path)
    notes = list(survey.notes)
    level = _level(survey, notes)
    noise_floor_dbfs, overview = _noise_floor(survey.powers), _overview(survey)
    survey = survey.without_steps()
    alignment: AlignmentFigures | None = None
    dropouts = survey.dropouts
    late_s: float | None = None
    early_s: float | None = None
    with ThreadPoolExecutor(1) as other:
        hum = other.submit(survey.quiet.hum)
        if source_path is not None:
            aligned = _aligned(print_path, survey, source_path, features_folder)
            alignment = aligned.figures
            notes += aligned.notes
            beside_source = _beside_source(survey, source_path, aligned)
            if beside_source is not None:
                dropouts, late_s, early_s, more = beside_source
                between = sorted(
                    [*alignment.between, *silent_between(dropouts), *more], key=lambda one: one.at_s
                )
                alignment = replace(alignment, between=tuple(between))
            del aligned  # the source's features are large for a long file
    silent = survey.sample_peak <= NOTHING
    note = shortness_note(survey.band_mids, survey.file.duration_s)
    if note:
        notes.append(note)
    if survey.clipped_count > len(survey.clipped):
        notes.append(
            f"{survey.clipped_count} clipped runs were found; the first {len(survey.clipped)} are listed."
        )
    return PrintFigures(
        file=survey.file,
        level=level,
        bands=band_levels(
            survey.band_mids, survey.band_squares, survey.file.duration_s, share_at_rest(survey.frames)
        ),
        faults=FaultFigures(
            silent=silent,
            clipped_runs=survey.clipped,
            dropouts=dropouts,
            hum=hum.result(),
            noise_floor_dbfs=noise_floor_dbfs,
            starts_late_s=late_s,
            ends_early_s=early_s,
            channels=survey.channels,
            clipped_count=survey.clipped_count,
        ),
        alignment=alignment,
        overview=overview,
        notes=tuple(notes),
        source=None if source_path is None else probe(source_path),
    )


def _aligned(print_path: Path, survey: Survey, source_path: Path, features_folder: Path | None) -> Alignment:
    source_features = read_features(source_path, features_folder)
    print_features = features_of(survey.file.sample_rate, survey.file.frames, survey.band_mids, survey.frames)
    return replace(
        align(
            print_path,
            print_features,
            source_path,
            source_features,
            candidates(source_features, print_features),
            survey.dropouts,
        ),
        source_features=source_features,
        print_features=print_features,
    )


def _beside_source(
    survey: Survey, source_path: Path, aligned: Alignment
) -> tuple[tuple[Dropout, ...], float, float, tuple[Between, ...]] | None:
    """Dropouts, late start, early end and what the source does not hold; None where the alignment does not let them be known."""
    pieces, source, printed = aligned.figures.pieces, aligned.source_features, aligned.print_features
    if not pieces or source is None or printed is None:
        return None
    rate = survey.file.sample_rate
    with Sound(source_path) as sound:
        kept = without_rests(survey.dropouts, sound, rate, aligned.figures)
    resting = unlike(source, printed, aligned.figures)
    return (
        beside(kept, [*aligned.dropouts, *resting.silences]),
        starts_late_s(source, printed, pieces[0].delay_samples / rate),
        ends_early_s(source, printed, pieces[-1].delay_samples / rate),
        resting.not_in_source,
    )


def _level(survey: Survey, notes: list[str]) -> LevelFigures:
    loudness = measure_loudness(survey.energies, channel_weights(survey.file.channels))
    if loudness.integrated_lufs is None:
        short = survey.file.duration_s < 0.4
        notes.append(
            "No integrated loudness: the file is shorter than one block of 400 ms."
            if short
            else "No integrated loudness: nothing rises above the absolute gate at −70 LUFS."
        )
    elif survey.file.duration_s < 60:
        notes.append("Loudness range is not meant for less than a minute of audio; read it with care.")
    rms, peak = _db(survey.mean_square, 10), _db(survey.sample_peak, 20)
    return LevelFigures(
        integrated_lufs=loudness.integrated_lufs,
        loudness_range_lu=loudness.range_lu,
        max_momentary_lufs=loudness.max_momentary_lufs,
        max_momentary_100ms_lufs=loudness.max_momentary_100ms_lufs,
        max_short_term_lufs=loudness.max_short_term_lufs,
        true_peak_dbtp=_db(survey.true_peak, 20),
        sample_peak_dbfs=peak,
        rms_dbfs=rms,
        crest_db=None if rms is None or peak is None else peak - rms,
        dc_offset=float(survey.mean[(furthest := int(np.argmax(np.abs(survey.mean))))]),
        resting_offset=_resting_offset(survey, furthest),
    )


def _resting_offset(survey: Survey, channel: int) -> float | None:
    """The median mean of a channel over the quietest tenth of its stretches of 100 ms, those left out that hold nothing at
    all: a gate or an edit made them."""
    count = len(survey.powers) // RESTING_STEPS * RESTING_STEPS
    means = survey.means[:count].astype(np.float64)
    moving = survey.powers[:count] - (means**2).mean(axis=1)
    stretches = means[:, channel].reshape(-1, RESTING_STEPS).mean(axis=1)
    loud = moving.reshape(-1, RESTING_STEPS).mean(axis=1)
    sounds = survey.powers[:count].reshape(-1, RESTING_STEPS).min(axis=1) > 0
    stretches, loud = stretches[sounds], loud[sounds]
    if len(stretches) < FEWEST_STRETCHES:
        return None
    quietest = np.argsort(loud)[: max(3, len(loud) // 10)]
    return float(np.median(stretches[quietest]))


def _db(value: float, factor: float) -> float | None:
    return factor * math.log10(value) if value > 1e-30 else None


def _noise_floor(powers: NDArray[np.float32]) -> float | None:
    """The level of the quietest tenth of a second or so (2nd percentile of 100 ms) that is not digital silence."""
    count = len(powers) // 10
    if count == 0:
        return None
    tenths = powers[: count * 10].reshape(count, 10).mean(axis=1, dtype=np.float64)
    tenths = tenths[tenths > 1e-14]
    return 10 * math.log10(float(np.quantile(tenths, 0.02))) if len(tenths) else None


def _overview(survey: Survey) -> Overview:
    steps = len(survey.lows)
    columns = min(COLUMNS, steps)
    starts = np.arange(columns) * steps // columns
    lows = np.minimum.reduceat(survey.lows, starts)
    highs = np.maximum.reduceat(survey.highs, starts)
    short = short_term_lufs(survey.energies, channel_weights(survey.file.channels))
    chosen = np.unique(np.linspace(0, len(short) - 1, min(LOUDNESS_POINTS, len(short))).round().astype(int))
    points = tuple(
        LoudnessPoint(
            round(0.01 * index + 1.5, 3), round(float(short[index]), 2) if short[index] > -120 else None
        )
        for index in chosen.tolist()
    )
    pairs = zip(np.round(lows, 4).tolist(), np.round(highs, 4).tolist(), strict=True)
    return Overview(columns=tuple((round(a, 4), round(b, 4)) for a, b in pairs), loudness=points)
