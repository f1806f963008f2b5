from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.trade.hearing import (
    NIOSH,
    OSHA,
    Exposure,
    allowed_hours,
    daily_exposure_dba,
    dose_percent,
    remaining_hours,
    show_hours,
    time_weighted_average_dba,
)


@given(st.floats(60, 130), st.floats(0, 24), st.floats(0, 24))
def test_a_spell_may_be_counted_in_two_parts(level: float, one: float, other: float) -> None:
    split = dose_percent(NIOSH, [Exposure(level, one), Exposure(level, other)])
    assert split == pytest.approx(
        dose_percent(NIOSH, [Exposure(level, one)]) + dose_percent(NIOSH, [Exposure(level, other)])
    )


@given(st.floats(60, 120), st.floats(0.1, 10))
def test_a_louder_room_always_leaves_less_time(level: float, louder_by: float) -> None:
    for criterion in (NIOSH, OSHA):
        assert allowed_hours(criterion, level + louder_by) < allowed_hours(criterion, level)


def test_the_time_left_at_a_level_fills_the_dose() -> None:
    so_far = [Exposure(91, 1)]
    left = remaining_hours(NIOSH, so_far, 94)
    assert left == pytest.approx(0.5)
    assert dose_percent(NIOSH, [*so_far, Exposure(94, left)]) == pytest.approx(100)


def test_a_full_dose_leaves_no_time() -> None:
    assert remaining_hours(NIOSH, [Exposure(100, 1)], 85) == 0


def test_no_exposure_has_no_average() -> None:
    assert daily_exposure_dba([]) == -inf
    assert time_weighted_average_dba(OSHA, 0) == -inf


@pytest.mark.parametrize(("level", "hours"), [(-1, 1), (300, 1), (90, -1), (90, 25)])
def test_an_exposure_that_cannot_be_is_refused(level: float, hours: float) -> None:
    with pytest.raises(ValueError, match=r"between 0 and"):
        Exposure(level, hours)


@pytest.mark.parametrize(
    ("hours", "text"),
    [(8, "8 h"), (2.52, "2 h 31 min"), (47.62 / 60, "47 min 37 s"), (28 / 3600, "28 s"), (0, "0 s"), (30, "more than a day")],
)  # fmt: skip
def test_durations_in_words(hours: float, text: str) -> None:
    assert show_hours(hours) == text
