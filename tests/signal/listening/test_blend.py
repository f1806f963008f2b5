"""What prints do together is measured from their audio and holds for any blend of them."""

import json
import math
from dataclasses import asdict

import numpy as np
import pytest
import scipy.signal
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from app.signal.listening.blend import blend, measure_together
from app.signal.listening.blend_figures import (
    BlendSetting,
    CrossSpectra,
    MeasuredTogether,
    blend_of,
    measured_together_from_json,
    sum_of,
)

RATE = 48_000
Audio = NDArray[np.float64]


def coloured(seconds: float, seed: int) -> Audio:
    """Noise that falls with frequency, as instruments do."""
    noise = np.random.default_rng(seed).standard_normal(round(seconds * RATE))
    return np.asarray(scipy.signal.lfilter([0.02], [1, -0.9], noise))


@pytest.fixture(scope="module")
def two_mics() -> list[Audio]:
    """The second 255 samples later, 4.4 dB lower and upside down, with a room of its own."""
    played = coloured(21, 1)
    first = played[1000 : 20 * RATE + 1000]
    second = -0.6 * played[745 : 20 * RATE + 745] + 0.05 * coloured(20, 2)
    return [first, second]


@pytest.fixture(scope="module")
def measured(two_mics: list[Audio]) -> MeasuredTogether:
    return together(*two_mics)


def together(*prints: Audio, block_s: float = 10.0) -> MeasuredTogether:
    shaped = [np.atleast_2d(samples.T).T.astype(np.float32) for samples in prints]
    step = round(block_s * RATE)

    def blocks():  # type: ignore[no-untyped-def]
        for start in range(0, len(shaped[0]), step):
            yield [samples[start : start + step] for samples in shaped]

    return measure_together(blocks, RATE, len(shaped[0]))


def third_octaves(samples: Audio) -> dict[float, float]:
    """Band levels of a whole signal from one transform with numpy, both loudspeakers together."""
    power = 2 * 2 * np.abs(np.fft.rfft(samples)) ** 2 / len(samples) ** 2
    hz = np.fft.rfftfreq(len(samples), 1 / RATE)
    mids = 1000 * 10 ** (np.arange(-17, 14) / 10)
    return {
        mid: 10 * math.log10(power[(hz >= mid * 10**-0.05) & (hz < mid * 10**0.05)].sum())
        for mid in mids.tolist()
    }


def test_delay_and_polarity_between_two_prints_are_read_from_the_audio(measured: MeasuredTogether) -> None:
    (pair,) = measured.pairs
    assert pair.delay_samples == pytest.approx(255, abs=0.05)
    assert pair.polarity == "inverted"
    assert pair.confidence > 0.9


@pytest.mark.parametrize(
    ("gain_db", "nudge", "inverted"),
    [(0.0, 0, False), (0.0, -255, True), (-6.0, -100, True), (3.0, 30, False), (0.0, -240, False)],
)
def test_the_sum_by_band_is_that_of_numpys_own_sum(
    two_mics: list[Audio], measured: MeasuredTogether, gain_db: float, nudge: int, inverted: bool
) -> None:
    first, second = two_mics
    moved = np.roll(second, nudge) * 10 ** (gain_db / 20) * (-1 if inverted else 1)
    expected = third_octaves(first + moved)
    summed = sum_of(measured.spectra, [BlendSetting(), BlendSetting(gain_db, nudge, inverted)])
    for band in summed.bands:
        assert band.sum_dbfs == pytest.approx(expected[band.mid_hz], abs=0.3), band.mid_hz


def test_bands_are_held_against_the_louder_print_of_each(
    two_mics: list[Audio], measured: MeasuredTogether
) -> None:
    summed = sum_of(measured.spectra, [BlendSetting(-12.0), BlendSetting(0.0, -255)])
    assert summed.louder == 1
    quieter, alone = third_octaves(two_mics[0]), third_octaves(two_mics[1])
    for band in summed.bands:
        assert band.sum_dbfs is not None
        louder = max(quieter[band.mid_hz] - 12.0, alone[band.mid_hz])
        assert band.over_louder_db == pytest.approx(band.sum_dbfs - louder, abs=0.3)


def test_lining_up_and_turning_over_is_suggested_with_what_each_does(measured: MeasuredTogether) -> None:
    blended = blend_of(measured, [BlendSetting(), BlendSetting(-3.0)])
    assert blended.suggested == (BlendSetting(), BlendSetting(-3.0, -255.0, True))
    assert [effect.change for effect in blended.effects] == ["nudge", "polarity", "both"]
    nudge, _, both = blended.effects
    assert both.after.correlations[0] == pytest.approx(0.996, abs=0.01)
    assert nudge.after.correlations[0] == pytest.approx(-0.996, abs=0.01)
    assert both.whole_db is not None
    assert nudge.whole_db is not None
    assert both.whole_db > 2
    assert nudge.whole_db < -4


def test_what_is_lined_up_already_needs_nothing(measured: MeasuredTogether) -> None:
    blended = blend_of(measured, [BlendSetting(), BlendSetting(0.0, -255.0, True)])
    assert blended.suggested == blended.as_it_is.settings
    assert blended.effects == ()


def test_the_later_prints_go_to_the_earliest_whichever_comes_first_in_the_list(two_mics: list[Audio]) -> None:
    first, second = two_mics
    blended = blend([(second, 0.0, 0.0, False), (first, 0.0, 0.0, False)], RATE)
    assert blended.suggested is not None
    assert [at.nudge_samples for at in blended.suggested] == [-255.0, 0.0]
    assert blended.suggested[0].inverted != blended.suggested[1].inverted


def test_three_prints_are_lined_up_with_the_first(two_mics: list[Audio]) -> None:
    first, second = two_mics
    third = 0.5 * np.roll(first, 31)
    blended = blend([(samples, 0.0, 0.0, False) for samples in (first, second, third)], RATE)
    assert blended.suggested is not None
    assert [(at.nudge_samples, at.inverted) for at in blended.suggested] == [
        (0.0, False),
        (-255.0, True),
        (-31.0, False),
    ]
    assert [(pair.first, pair.second) for pair in blended.pairs] == [(0, 1), (0, 2), (1, 2)]
    assert blended.pairs[2].delay_samples == pytest.approx(-224, abs=0.1)


def test_prints_that_share_nothing_get_no_suggestion_and_a_reason() -> None:
    blended = blend([(coloured(8, seed), 0.0, 0.0, False) for seed in (5, 6)], RATE)
    assert blended.pairs[0].delay_samples is None
    assert blended.suggested is None
    assert blended.notes
    assert blended.as_it_is.over_louder_db == pytest.approx(3, abs=0.5)


def test_a_silent_print_has_no_delay_and_no_correlation() -> None:
    played = coloured(4, 1)
    blended = blend([(played, 0.0, 0.0, False), (np.zeros_like(played), 0.0, 0.0, False)], RATE)
    assert blended.pairs[0].delay_samples is None
    assert blended.as_it_is.correlations == (None,)
    assert blended.as_it_is.over_louder_db == pytest.approx(0)


def test_a_mono_print_meets_both_sides_of_a_stereo_one(two_mics: list[Audio]) -> None:
    first, second = two_mics
    wide = np.column_stack((first, 0.2 * first))
    summed = sum_of(together(second, wide).spectra, [BlendSetting(0.0, -255.0, True), BlendSetting()])
    moved = -np.roll(second, -255)
    power = np.mean((moved + first) ** 2) + np.mean((moved + 0.2 * first) ** 2)
    louder = np.mean(wide**2) * 2
    assert summed.over_louder_db == pytest.approx(10 * math.log10(power / louder), abs=0.1)


@pytest.mark.parametrize("seconds", [0.02, 0.3, 1.0])
def test_however_short_prints_are_their_sum_is_told(seconds: float) -> None:
    played = coloured(seconds, 3)
    blended = blend([(played, 0.0, 0.0, False), (played, 0.0, 0.0, False)], RATE)
    assert blended.as_it_is.over_louder_db == pytest.approx(20 * math.log10(2), abs=0.01)


def test_what_was_measured_survives_json(measured: MeasuredTogether) -> None:
    document = json.loads(json.dumps(asdict(measured), allow_nan=False))
    assert measured_together_from_json(document) == measured


@settings(max_examples=60)
@given(
    gains=st.tuples(st.floats(-24, 12), st.floats(-24, 12)),
    coherence=st.floats(0, 1),
    nudge=st.floats(-500, 500),
    inverted=st.booleans(),
)
def test_no_sum_exceeds_both_prints_in_step_and_none_is_below_nothing(
    gains: tuple[float, float], coherence: float, nudge: float, inverted: bool
) -> None:
    dark = tuple(1 / (1 + number) ** 2 for number in range(256))
    bright = dark[::-1]
    shared = tuple(coherence * math.sqrt(p * q) for p, q in zip(dark, bright, strict=True))
    spectra = CrossSpectra(RATE, 90.0, (dark, bright), (shared,), ((0.0,) * 256,))
    summed = sum_of(spectra, [BlendSetting(gains[0]), BlendSetting(gains[1], nudge, inverted)])
    for over_db in (summed.over_louder_db, *(band.over_louder_db for band in summed.bands)):
        assert over_db is None or over_db <= 20 * math.log10(2) + 1e-9
    assert summed.correlations[0] is not None
    assert abs(summed.correlations[0]) <= coherence + 1e-9
    assert all(band.sum_dbfs is None or math.isfinite(band.sum_dbfs) for band in summed.bands)


@pytest.mark.parametrize("nudge", [-100.0, 0.25, 3.0])
def test_nudging_all_alike_changes_nothing(measured: MeasuredTogether, nudge: float) -> None:
    still = sum_of(measured.spectra, [BlendSetting(), BlendSetting()])
    moved = sum_of(measured.spectra, [BlendSetting(nudge_samples=nudge)] * 2)
    assert moved.bands == still.bands
