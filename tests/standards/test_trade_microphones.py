"""Microphones: sensitivity and sound pressure against closed forms."""

import pytest

from app.trade.levels import dbu_from_volts
from app.trade.microphones import microphone_output_dbu, microphone_output_volts
from app.trade.sound_pressure import pressure_pa, spl_db


@pytest.mark.parametrize(("pa", "db"), [(1, 93.9794), (0.1, 73.979), (20, 120.0), (200, 140.0)])
def test_sound_pressure_level_re_20_micropascal(pa: float, db: float) -> None:  # closed form
    assert spl_db(pa) == pytest.approx(db, abs=5e-4)
    assert pressure_pa(spl_db(pa)) == pytest.approx(pa)


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
