"""Microphones: sensitivity, sound pressure, distance, phantom power, against IEC texts and closed forms."""

import pytest

from app.trade.levels import dbu_from_volts
from app.trade.microphones import (
    PHANTOM_LEG_OHM,
    PHANTOM_VOLTS,
    directivity_index_db,
    distance_law_db,
    microphone_output_dbu,
    microphone_output_volts,
    phantom_volts_at_microphone,
    sensitivity_db_re_1v_per_pa,
    spl_that_fills_an_input_db,
)
from app.trade.sound_pressure import pressure_pa, spl_db


@pytest.mark.parametrize(("pa", "db"), [(1, 93.9794), (0.1, 73.979), (20, 120.0), (200, 140.0)])
def test_sound_pressure_level_re_20_micropascal(pa: float, db: float) -> None:  # closed form
    assert spl_db(pa) == pytest.approx(db, abs=5e-4)
    assert pressure_pa(spl_db(pa)) == pytest.approx(pa)


@pytest.mark.parametrize(("mv", "db"), [(2, -53.979), (12.5, -38.062), (20, -33.979), (50, -26.021)])
def test_sensitivity_level_re_1_v_per_pa(mv: float, db: float) -> None:  # IEC 60268-4, clause 11
    assert sensitivity_db_re_1v_per_pa(mv) == pytest.approx(db, abs=5e-4)


@pytest.mark.parametrize(
    ("mv_per_pa", "spl", "volts", "dbu"),
    [
        (2, 94, 2.0048e-3, -51.740),
        (2, 120, 40.000e-3, -25.740),
        (20, 94, 20.048e-3, -31.740),
        (20, 130, 1.26491, 4.260),
        (1.5, 115, 16.870e-3, -33.239),
    ],
)
def test_microphone_output(mv_per_pa: float, spl: float, volts: float, dbu: float) -> None:  # closed form
    assert microphone_output_volts(mv_per_pa, spl) == pytest.approx(volts, rel=5e-5)
    assert microphone_output_dbu(mv_per_pa, spl) == pytest.approx(dbu, abs=5e-4)
    assert dbu_from_volts(volts) == pytest.approx(dbu, abs=1e-3)


def test_the_sound_level_that_fills_an_input() -> None:  # closed form
    assert spl_that_fills_an_input_db(20, 9) == pytest.approx(134.74, abs=5e-3)


@pytest.mark.parametrize(
    ("from_mm", "to_mm", "db"), [(1000, 2000, -6.021), (50, 500, -20.0), (30, 100, -10.458), (30, 40, -2.50), (300, 310, -0.28)]
)  # fmt: skip
def test_distance_law_of_a_point_source(
    from_mm: float, to_mm: float, db: float
) -> None:  # closed form, free field
    assert distance_law_db(from_mm, to_mm) == pytest.approx(db, abs=5e-3)


def test_phantom_power_p48() -> None:  # IEC 61938, P48
    one_leg_shorted_ma = PHANTOM_VOLTS / PHANTOM_LEG_OHM * 1000
    assert one_leg_shorted_ma == pytest.approx(7.05, abs=5e-3)
    assert 2 * one_leg_shorted_ma == pytest.approx(14.10, abs=5e-3)
    assert phantom_volts_at_microphone(2 * one_leg_shorted_ma) == pytest.approx(0.0, abs=1e-9)
    assert phantom_volts_at_microphone(4) == pytest.approx(34.38, abs=5e-3)
    assert phantom_volts_at_microphone(10) == pytest.approx(13.95, abs=5e-3)


@pytest.mark.parametrize(("omni_share", "db"), [(1.0, 0.0), (0.5, 4.77), (0.0, 4.77)])
def test_first_order_directivity_index(omni_share: float, db: float) -> None:  # IEC 60268-4, 13.2.2
    assert directivity_index_db(omni_share) == pytest.approx(db, abs=5e-3)
