import pytest

from app.drawings.wording import clock_time, decibels, figure, hertz


@pytest.mark.parametrize(
    ("value", "words"), [(31.5, "31.5 Hz"), (250, "250 Hz"), (1250, "1.25 kHz"), (20000, "20 kHz")]
)
def test_a_nominal_frequency_is_written_as_the_trade_does(value: float, words: str) -> None:
    assert hertz(value) == words


@pytest.mark.parametrize(("value", "words"), [(-3.14, "−3.1"), (2.0, "2.0"), (-0.04, "0.0")])
def test_a_level_has_one_decimal_and_a_true_minus(value: float, words: str) -> None:
    assert decibels(value) == words


@pytest.mark.parametrize(("value", "words"), [(2.04, "+2.0"), (-2.0, "−2.0"), (0.01, "0.0")])
def test_a_difference_says_its_sign_unless_it_is_nothing(value: float, words: str) -> None:
    assert decibels(value, signed=True) == words


@pytest.mark.parametrize(
    ("seconds", "decimals", "words"),
    [(7, 0, "0:07"), (63.46, 1, "1:03.5"), (3723, 0, "1:02:03"), (59.96, 1, "1:00.0"), (0.004, 2, "0:00.00")],
)
def test_a_time_is_written_in_minutes_and_seconds(seconds: float, decimals: int, words: str) -> None:
    assert clock_time(seconds, decimals=decimals) == words


def test_a_plain_number_has_no_needless_zeros() -> None:
    assert [figure(value) for value in (-15.0, 0.5, 600.0)] == ["−15", "0.5", "600"]
