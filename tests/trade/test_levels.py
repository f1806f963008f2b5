import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.trade.calibration import (
    MIX_UPS,
    LevelUnit,
    MixUp,
    input_full_scale_dbu,
    level_dbu,
    likely_mix_up,
    output_full_scale_dbu,
)
from app.trade.levels import dbu_from_volts, loading_db, parallel_ohm, power_sum_db, volts_from_dbu

levels = st.floats(-120, 40)


@given(levels)
def test_levels_and_volts_round_trip(level: float) -> None:
    assert dbu_from_volts(volts_from_dbu(level)) == pytest.approx(level, abs=1e-9)


@given(st.floats(0, 1e6), st.floats(1, 1e7), st.floats(1, 1e7))
def test_a_heavier_load_never_gives_more_level(source: float, load: float, another: float) -> None:
    assert loading_db(source, parallel_ohm(load, another)) <= loading_db(source, load) + 1e-9 <= 1e-9


@pytest.mark.parametrize(
    "impossible",
    [
        lambda: loading_db(-1, 100),
        lambda: loading_db(100, 0),
        lambda: parallel_ohm(),
        lambda: parallel_ohm(100, 0),
        lambda: dbu_from_volts(-1),
    ],
)
def test_what_cannot_be_is_refused_with_a_sentence(impossible: object) -> None:
    assert callable(impossible)
    with pytest.raises(ValueError, match=r"\.$"):
        impossible()


def test_no_voltage_is_minus_infinity() -> None:
    assert dbu_from_volts(0) == float("-inf")
    assert power_sum_db([]) == float("-inf")


@pytest.mark.parametrize(
    ("value", "unit", "dbu"), [(4, "dBu", 4), (-10, "dBV", -7.7815), (1.22765, "V", 4), (774.597, "mV", 0)]
)
def test_a_manual_s_figure_is_taken_in_its_own_unit(value: float, unit: LevelUnit, dbu: float) -> None:
    assert level_dbu(value, unit) == pytest.approx(dbu, abs=1e-4)


def test_an_output_is_calibrated_with_a_tone_and_a_voltmeter() -> None:
    assert output_full_scale_dbu(0.7746, "V", -18) == pytest.approx(18, abs=1e-3)


@pytest.mark.parametrize(
    ("value", "unit", "tone"), [(0, "V", -18), (0.77, "V", 6), (0.077, "mV", -18), (900, "V", -18)]
)
def test_a_calibration_that_cannot_be_is_refused(value: float, unit: LevelUnit, tone: float) -> None:
    with pytest.raises(ValueError, match=r"[.?]$"):
        output_full_scale_dbu(value, unit, tone)


def test_a_loop_back_that_reads_above_full_scale_is_refused() -> None:
    with pytest.raises(ValueError, match="dBFS"):
        input_full_scale_dbu(4, 3)


@pytest.mark.parametrize("mix_up", MIX_UPS)
def test_a_reading_in_the_wrong_unit_is_recognised(mix_up: MixUp) -> None:
    for difference in (mix_up.difference_db, -mix_up.difference_db, mix_up.difference_db + 0.2):
        assert likely_mix_up(18, 18 + difference) is mix_up


@pytest.mark.parametrize("difference", [0.0, 1.0, 4.5, 20.0])
def test_another_difference_is_no_mix_up(difference: float) -> None:
    assert likely_mix_up(18, 18 + difference) is None
