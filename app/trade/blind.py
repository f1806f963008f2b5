"""What a count of right answers in a blind A–B–X test says: the binomial distribution of guessing.

The number of trials is fixed before the test starts and no score is shown while it runs: stopping when the score looks
good breaks the figures. Textbook (exact one-sided binomial test).
"""

from fractions import Fraction
from math import comb

CONVENTION = Fraction(1, 20)  # the customary one in twenty; no law


def chance_of_guessing(right: int, trials: int) -> Fraction:
    """The chance that a guesser gets at least `right` of `trials` right. Raises ValueError outside 0 to trials."""
    if not 0 <= right <= trials or trials < 1:
        raise ValueError("Right answers lie between none and all of the trials.")
    return Fraction(sum(comb(trials, k) for k in range(right, trials + 1)), 2**trials)


def fewest_right(trials: int, chance: Fraction = CONVENTION) -> int | None:
    """The fewest right answers that a guesser reaches no more often than `chance`; None where even all are too few."""
    return next((right for right in range(trials + 1) if chance_of_guessing(right, trials) <= chance), None)


def in_words(right: int, trials: int) -> str:
    """ "12 of 16: a guesser does this well one time in 26." with what that is worth."""
    chance = chance_of_guessing(right, trials)
    often = "nearly always" if chance > Fraction(9, 10) else f"one time in {float(1 / chance):.0f}"
    if chance > Fraction(1, 2) and chance <= Fraction(9, 10):
        often = "more often than not"
    said = f"{right} of {trials}: a guesser does this well {often}."
    if chance <= CONVENTION:
        return f"{said} You hear a difference."
    return f"{said} That is no proof that you hear a difference; it is none that you do not."
