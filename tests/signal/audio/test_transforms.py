"""Transforms against scipy's, and fast lengths against its rule."""

import numpy as np
import pytest
import scipy.fft
from hypothesis import given
from hypothesis import strategies as st

from app.signal.audio.transforms import fast_length, fft, irfft, rfft, scaled_rfft


@pytest.mark.parametrize(("length", "size"), [(96, 96), (100, 128), (3841, 4000), (1, 5)])
def test_spectra_are_those_of_scipy_in_the_precision_of_the_signal(length: int, size: int) -> None:
    signals = np.random.default_rng(length).standard_normal((3, length)).astype(np.float32)
    spectra = rfft(signals, size)
    assert spectra.dtype == np.complex64
    np.testing.assert_allclose(spectra, scipy.fft.rfft(signals, size), atol=1e-3)
    np.testing.assert_allclose(irfft(spectra, size)[:, :length], signals, atol=1e-5)
    turned = (signals * np.complex64(1j)).astype(np.complex64)
    assert fft(turned, size).dtype == np.complex64
    np.testing.assert_allclose(fft(turned, size), scipy.fft.fft(turned, size), atol=1e-3)
    np.testing.assert_allclose(scaled_rfft(signals) * length, scipy.fft.rfft(signals), atol=1e-3)


def test_double_precision_stays_double() -> None:
    signal = np.random.default_rng(1).standard_normal(1000)
    np.testing.assert_allclose(rfft(signal, 1024), scipy.fft.rfft(signal, 1024), atol=1e-11)


@given(st.integers(1, 10**7))
def test_a_fast_length_is_the_next_without_a_prime_factor_above_five(least: int) -> None:
    assert fast_length(least) == scipy.fft.next_fast_len(least, real=True)
