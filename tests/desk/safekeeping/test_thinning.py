"""The row of backups thins out with age and never grows for good."""

from datetime import UTC, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from app.desk.safekeeping.thinning import DAYS, MONTHS, WEEKS, kept

TODAY = datetime(2026, 11, 28, 20, tzinfo=UTC)


def test_of_a_backup_a_day_for_a_year_seven_days_four_weeks_and_twelve_months_stay() -> None:
    made_at = {age: TODAY - timedelta(days=age) for age in range(400)}
    ages = sorted(kept(made_at))
    assert ages[:7] == list(range(7))
    assert len(ages) <= DAYS + WEEKS + MONTHS
    assert max(ages) >= 330
    weeks = {f"{made_at[age]:%G-%V}" for age in ages if age < 28}
    assert len(weeks) >= 4


def test_of_several_of_a_day_the_last_stays() -> None:
    made_at = {hour: TODAY.replace(hour=hour) for hour in range(20)}
    assert kept(made_at) == {19}


def test_who_was_away_for_a_year_finds_as_many_as_before() -> None:
    made_at = {age: TODAY - timedelta(days=365 + age) for age in range(7)}
    assert kept(made_at) == set(range(7))


@given(st.lists(st.integers(0, 2000), max_size=60, unique=True))
def test_the_newest_stays_and_thinning_again_takes_no_more(ages: list[int]) -> None:
    made_at = {age: TODAY - timedelta(days=age, hours=age % 7) for age in ages}
    first = kept(made_at)
    assert len(first) <= DAYS + WEEKS + MONTHS
    assert not ages or min(ages) in first
    assert kept({age: made_at[age] for age in first}) == first
