"""ITU-R BS.1770-5, Annex 1: the gain of the two published filter stages."""

import pytest

from app.trade.k_weighting import k_weighting_db


@pytest.mark.parametrize(
    ("hz", "gain_db"),
    [(25, -10.393), (100, -1.133), (500, 0.042), (997, 0.691), (2000, 3.071), (10_000, 4.042)],
)
def test_the_gain_at_a_frequency(hz: float, gain_db: float) -> None:
    """Closed form from the tables of Annex 1; tolerance ours."""
    assert k_weighting_db(hz) == pytest.approx(gain_db, abs=0.005)


@pytest.mark.parametrize("hz", [0.0, -1.0, 24_000.0])
def test_no_gain_outside_the_band(hz: float) -> None:
    with pytest.raises(ValueError, match="below 24 kHz"):
        k_weighting_db(hz)
