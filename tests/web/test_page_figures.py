"""Figures as the pages write them."""

import pytest

from app.web.pages import decimal


@pytest.mark.parametrize(
    ("value", "digits", "signed", "words"),
    [
        (-3.14, 1, False, "−3.1"),
        (2.0, 0, True, "+2"),
        (-0.04, 1, False, "0.0"),
        (-0.004, 2, True, "0.00"),
        (float("-inf"), 1, False, "−inf"),
        (None, 1, False, "–"),
    ],
)
def test_a_figure_has_a_true_minus_and_nothing_has_none(
    value: float | None, digits: int, signed: bool, words: str
) -> None:
    assert decimal(value, digits, signed=signed) == words
