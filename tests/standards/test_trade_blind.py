"""Blind comparison against closed forms and against scipy.stats.binomtest."""

from fractions import Fraction

import pytest
from scipy.stats import binomtest

from app.trade.blind import chance_of_guessing, fewest_right, in_words


@pytest.mark.parametrize(
    ("right", "trials", "chance"),
    [
        (12, 16, Fraction(2517, 65536)),
        (9, 10, Fraction(11, 1024)),
        (10, 16, Fraction(14893, 65536)),
        (8, 10, Fraction(7, 128)),
        (10, 10, Fraction(1, 1024)),
        (5, 5, Fraction(1, 32)),
        (7, 8, Fraction(9, 256)),
    ],
)
def test_the_chance_of_guessing_is_exact(right: int, trials: int, chance: Fraction) -> None:
    """Closed form: binomial coefficients over 2**n."""
    assert chance_of_guessing(right, trials) == chance


@pytest.mark.parametrize("trials", range(1, 31))
def test_it_agrees_with_scipy(trials: int) -> None:
    """Reference library: scipy.stats.binomtest, one-sided."""
    for right in range(trials + 1):
        reference = binomtest(right, trials, 0.5, alternative="greater").pvalue
        assert float(chance_of_guessing(right, trials)) == pytest.approx(reference, rel=1e-12)


def test_the_fewest_right_answers_for_one_in_twenty() -> None:
    """Closed form, as tabulated for A–B–X tests."""
    table = {5: 5, 6: 6, 7: 7, 8: 7, 10: 9, 12: 10, 16: 12, 20: 15, 24: 17, 25: 18}
    assert {trials: fewest_right(trials) for trials in table} == table
    assert fewest_right(4) is None


def test_it_is_said_in_plain_words() -> None:
    assert in_words(12, 16) == "12 of 16: a guesser does this well one time in 26. You hear a difference."
    assert "no proof" in in_words(9, 16)
    assert "nearly always" in in_words(2, 16)


@pytest.mark.parametrize(("right", "trials"), [(-1, 5), (6, 5), (0, 0)])
def test_impossible_counts_are_refused(right: int, trials: int) -> None:
    with pytest.raises(ValueError, match="between none and all"):
        chance_of_guessing(right, trials)
