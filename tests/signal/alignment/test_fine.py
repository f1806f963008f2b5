"""Fine alignment of stretches in memory: delay, sign and drift by construction, exact by phase."""

import numpy as np
import pytest
from numpy.typing import NDArray

from app.signal.alignment.fine import best_fit, exact_peak
from app.signal.alignment.movement import follow
from app.signal.alignment.segments import Segments, Stretch, cross_spectra

RATE = 48000
LENGTH, RADIUS = 9600, 1200
SHARED = LENGTH / (LENGTH + 2 * RADIUS)
"""Of a print's stretch: what the source's window leaves in."""
Audio = NDArray[np.float64]


def _stretches(
    delay: float, *, gain: float = 1.0, ppm: float = 0.0, noise: float = 0.0, count: int = 12
) -> list[Stretch]:
    """Noise and the same later by `delay` samples plus the clock's slip, a second apart."""
    stretches = []
    for n in range(count):
        rng = np.random.default_rng(n)
        whole = rng.standard_normal(LENGTH + 4 * RADIUS)
        time_s = n + LENGTH / 2 / RATE
        turns = np.exp(-2j * np.pi * np.fft.rfftfreq(len(whole)) * (delay + ppm * 1e-6 * time_s * RATE))
        later = gain * np.fft.irfft(np.fft.rfft(whole) * turns, len(whole))
        later += noise * rng.standard_normal(len(whole))
        source = whole[2 * RADIUS : 2 * RADIUS + LENGTH]
        print_samples = later[RADIUS : RADIUS + LENGTH + 2 * RADIUS]
        stretches.append(Stretch(time_s, 0.0, source.astype(np.float32), print_samples.astype(np.float32)))
    return stretches


def _segments(delay: float, **more: float) -> Segments:
    return cross_spectra(_stretches(delay, **more), RATE, "wave")  # type: ignore[arg-type]


@pytest.mark.parametrize(("delay", "gain"), [(0.0, 1.0), (37.25, -0.5), (-12.75, 1.0), (800.5, 0.01)])
def test_delay_and_sign_are_read_to_a_fiftieth_of_a_sample(delay: float, gain: float) -> None:
    fit = best_fit(_segments(delay, gain=gain, noise=abs(gain) / 10))
    assert fit.delay == pytest.approx(delay, abs=0.02)
    assert fit.sign == np.sign(gain)
    assert fit.agreement > 0.95
    assert fit.second < 0.2


@pytest.mark.parametrize("ppm", [25.0, -60.0])
def test_a_clock_that_drifts_is_read_with_the_delay_at_its_start(ppm: float) -> None:
    fit = best_fit(_segments(20.5, ppm=ppm))
    assert fit.drift * 1e6 == pytest.approx(ppm, abs=0.5)  # a quarter of a sample over the 11 s
    assert fit.delay == pytest.approx(20.5, abs=0.1)


def test_noise_of_its_own_agrees_with_nothing() -> None:
    own, other = _stretches(0.0), _stretches(0.0, gain=0.0, noise=1.0)
    foreign = [
        Stretch(a.time_s, 0.0, a.source, b.printed) for a, b in zip(own, other[1:] + other[:1], strict=True)
    ]
    fit = best_fit(cross_spectra(foreign, RATE, "wave"))
    assert fit.height < 12
    assert fit.agreement < 0.7


def test_an_upright_and_a_turned_rectified_wave_align_by_their_envelopes() -> None:
    turned = [
        Stretch(one.time_s, 0.0, one.source, np.abs(one.printed).astype(np.float32))
        for one in _stretches(44.0)
    ]
    fit = best_fit(cross_spectra(turned, RATE, "rectified"))
    assert fit.delay == pytest.approx(44.0, abs=0.3)


@pytest.mark.parametrize("true", [0.0, 0.1, 0.25, -0.4])
def test_the_top_of_a_sinc_is_read_where_a_parabola_leans(true: float) -> None:
    flat = np.exp(-2j * np.pi * np.fft.rfftfreq(4096) * (100 + true)).astype(np.complex64)
    assert exact_peak(flat, 4096, 100)[0] == pytest.approx(100 + true, abs=0.002)


def test_a_lag_that_swings_is_followed_to_its_middle_and_one_that_stays_does_not_move() -> None:
    swinging = []
    for one in _stretches(0.0, count=4):
        at = np.arange(len(one.printed))
        moved = at - 36 * np.sin(2 * np.pi * 5 * at / RATE + one.time_s)
        soft = np.hanning(33) / np.hanning(33).sum()
        source, print_samples = (np.convolve(part, soft, "same") for part in (one.source, one.printed))
        print_samples = np.interp(moved, at, print_samples)
        swinging.append(Stretch(one.time_s, 0.0, source.astype(np.float32), print_samples.astype(np.float32)))
    movement = follow(swinging, np.full(4, 20.0), RATE)
    assert movement is not None
    assert movement.moves
    assert movement.middle + 20 == pytest.approx(0, abs=6)
    assert movement.swing == pytest.approx(36, abs=8)
    still = follow(_stretches(0.0, count=4), np.zeros(4), RATE)
    assert still is not None
    assert not still.moves
