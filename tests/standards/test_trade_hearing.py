"""Sound exposure against NIOSH 98-126, 29 CFR 1910.95 and Directive 2003/10/EC."""

import pytest

from app.trade.hearing import (
    CEILING_DBA,
    EU_LIMITS,
    NIOSH,
    OSHA,
    OSHA_ACTION_DOSE_PERCENT,
    Exposure,
    allowed_hours,
    daily_exposure_dba,
    dose_percent,
    time_weighted_average_dba,
)

SECOND = 1 / 3600


@pytest.mark.parametrize(
    ("dba", "hours"),
    [
        # NIOSH publication 98-126 (1998) and agency pages
        (85, 8),
        (88, 4),
        (91, 2),
        (94, 1),
        (97, 0.5),
        (100, 0.25),
        # from its formula 8 / 2^((L - 85) / 3)
        (90, 2 + 31 / 60 + 12 / 3600),
        (95, 47 / 60 + 37 / 3600),
        (102, 9 / 60 + 27 / 3600),
        (103, 7.5 / 60),
        (105, 4 / 60 + 43 / 3600),
        (106, 3.75 / 60),
        (109, 1 / 60 + 53 / 3600),
        (110, 1 / 60 + 29 / 3600),
        (115, 28 / 3600),
    ],
)
def test_niosh_durations(dba: float, hours: float) -> None:
    assert allowed_hours(NIOSH, dba) == pytest.approx(hours, abs=0.6 * SECOND)


def test_niosh_at_92_dba_is_about_an_hour_and_35_minutes() -> None:  # from the formula
    assert allowed_hours(NIOSH, 92) * 60 == pytest.approx(95, abs=0.5)


@pytest.mark.parametrize(
    ("dba", "hours"),  # 29 CFR 1910.95 appendix A, Table G-16a
    [
        (83, 21.1), (85, 16), (88, 10.6), (90, 8), (91, 7.0), (92, 6.1), (94, 4.6), (95, 4), (97, 3.0), (100, 2),
        (102, 1.5), (103, 1.3), (105, 1), (106, 0.87), (109, 0.57), (110, 0.5), (115, 0.25),
    ],
)  # fmt: skip
def test_osha_durations(dba: float, hours: float) -> None:
    tolerance = 0.1 if hours > 20 else 0.05
    assert allowed_hours(OSHA, dba) == pytest.approx(hours, abs=tolerance)


@pytest.mark.parametrize(("dba", "hours"), [(90, 8), (95, 4), (100, 2), (105, 1), (110, 0.5), (115, 0.25)])
def test_osha_limits_of_table_g_16_at_whole_exchanges(
    dba: float, hours: float
) -> None:  # 29 CFR 1910.95, G-16
    assert allowed_hours(OSHA, dba) == pytest.approx(hours)


def test_niosh_dose_and_average() -> (
    None
):  # NIOSH criteria document: D = 100 sum(C/T), TWA = 85 + 10 log10(D/100)
    day = [Exposure(94, 2), Exposure(85, 6)]
    assert dose_percent(NIOSH, day) == pytest.approx(275)
    assert time_weighted_average_dba(NIOSH, 275) == pytest.approx(89.39, abs=5e-3)
    assert dose_percent(NIOSH, [Exposure(91, 3)]) == pytest.approx(150)
    assert time_weighted_average_dba(NIOSH, 150) == pytest.approx(86.76, abs=5e-3)


@pytest.mark.parametrize(("dba", "hours", "dose"), [(94, 1, 100), (100, 0.5, 200), (88, 4, 100)])
def test_niosh_single_spells(dba: float, hours: float, dose: float) -> None:
    assert dose_percent(NIOSH, [Exposure(dba, hours)]) == pytest.approx(dose)


def test_osha_dose_and_average() -> None:  # 29 CFR 1910.95 appendix A: TWA = 90 + 16.61 log10(D/100)
    day = [Exposure(95, 2), Exposure(90, 4)]
    assert dose_percent(OSHA, day) == pytest.approx(100)
    assert time_weighted_average_dba(OSHA, 100) == pytest.approx(90.0)
    other = [Exposure(100, 1), Exposure(90, 3)]
    assert dose_percent(OSHA, other) == pytest.approx(87.5)
    assert time_weighted_average_dba(OSHA, 87.5) == pytest.approx(89.04, abs=5e-3)


def test_osha_action_level_is_85_dba_over_the_day() -> None:  # 29 CFR 1910.95(c)
    assert time_weighted_average_dba(OSHA, OSHA_ACTION_DOSE_PERCENT) == pytest.approx(85.0, abs=5e-3)


def test_the_ceiling() -> None:  # NIOSH, from memory
    assert CEILING_DBA == 140


def test_european_values() -> None:  # Directive 2003/10/EC, article 3
    assert [(limit.daily_dba, limit.peak_pa) for limit in EU_LIMITS] == [(80, 112), (85, 140), (87, 200)]
    assert [limit.peak_db for limit in EU_LIMITS] == pytest.approx([134.96, 136.90, 140.00], abs=5e-3)


@pytest.mark.parametrize(
    ("day", "level"),
    [
        ([Exposure(94, 2), Exposure(85, 6)], 89.37),
        ([Exposure(94, 1)], 84.97),
        ([Exposure(100, 0.5)], 87.96),
        ([Exposure(88, 4)], 84.99),
    ],
)
def test_daily_exposure_level(day: list[Exposure], level: float) -> None:  # ISO 1999, ISO 9612
    assert daily_exposure_dba(day) == pytest.approx(level, abs=5e-3)
