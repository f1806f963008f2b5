"""Electrical and digital levels against definitions and published alignments.

Sources are named beside each check. "Closed form" means that it follows from the definition and needs no authority.
"""

from math import log10, sqrt

import pytest

from app.trade.calibration import input_full_scale_dbu
from app.trade.levels import (
    SINE_CREST_DB,
    dbu_from_dbv,
    dbu_from_volts,
    loading_db,
    parallel_ohm,
    power_sum_db,
    volts_from_dbu,
)


def test_0_dbu_is_one_milliwatt_in_600_ohm() -> None:  # definition; ITU-R BS.645 uses it (clause from memory)
    assert volts_from_dbu(0) == pytest.approx(0.774597, abs=5e-7)
    assert volts_from_dbu(0) ** 2 / 600 == pytest.approx(1e-3)


def test_dbu_reads_2_2185_more_than_dbv() -> None:  # closed form
    assert dbu_from_dbv(0) == pytest.approx(2.2185, abs=5e-5)


def test_plus_4_dbu() -> None:  # closed form
    assert volts_from_dbu(4) == pytest.approx(1.22765, abs=5e-6)


def test_minus_10_dbv() -> None:  # closed form
    assert dbu_from_dbv(-10) == pytest.approx(-7.7815, abs=5e-5)


def test_plus_4_dbu_stands_11_7815_db_above_minus_10_dbv() -> None:  # closed form
    assert 4 - dbu_from_dbv(-10) == pytest.approx(11.7815, abs=5e-5)
    assert 4 - dbu_from_dbv(-10) == pytest.approx(4 - (-10 + 20 * log10(1 / sqrt(0.6))))


@pytest.mark.parametrize(("dbu", "volts"), [(18, 6.15284), (20, 7.74597), (24, 12.27653)])
def test_line_levels_in_volts(dbu: float, volts: float) -> None:  # closed form
    assert volts_from_dbu(dbu) == pytest.approx(volts, abs=5e-6)


def test_100_mv_rms() -> None:  # closed form
    assert dbu_from_volts(0.1) == pytest.approx(-17.7815, abs=5e-5)


def test_a_sine_s_crest_factor() -> None:  # closed form
    assert pytest.approx(3.0103, abs=5e-5) == SINE_CREST_DB


@pytest.mark.parametrize(
    ("dbu", "dbfs", "full_scale_dbu"),
    [
        (0, -18, 18),  # EBU R 68-2000
        (4, -20, 24),  # SMPTE RP 155
        (4, -14, 18),  # an interface's calibration: dBu less reading
    ],
)
def test_alignments(dbu: float, dbfs: float, full_scale_dbu: float) -> None:
    assert input_full_scale_dbu(dbu, dbfs) == full_scale_dbu


@pytest.mark.parametrize(
    ("source_ohm", "load_ohm", "loss_db"),
    [
        (10e3, 1e6, -0.0864),
        (10e3, 20e3, -3.5218),
        (10e3, 10e3, -6.0206),
        (150, 1.5e3, -0.8279),
        (150, 10e3, -0.1293),
        (7e3, 1e6, -0.0606),
        (7e3, 47e3, -1.2059),
        (7e3, 10e3, -4.6090),
        (200, 1e3, -1.5836),
        (600, 600, -6.0206),
        (10e3, parallel_ohm(1e6, 1e6), -0.1720),
        (10e3, parallel_ohm(1e6, 10e3), -6.0639),
    ],
)
def test_loading(source_ohm: float, load_ohm: float, loss_db: float) -> None:  # closed form
    assert loading_db(source_ohm, load_ohm) == pytest.approx(loss_db, abs=5e-5)


@pytest.mark.parametrize(("count", "db"), [(2, 3.0103), (3, 4.7712), (4, 6.0206), (10, 10.0)])
def test_unrelated_signals_of_one_level(count: int, db: float) -> None:  # closed form
    assert power_sum_db([0.0] * count) == pytest.approx(db, abs=5e-5)


def test_unrelated_signals_at_minus_18_and_minus_24_db() -> None:  # closed form
    assert power_sum_db([-18, -24]) == pytest.approx(-17.027, abs=5e-4)


def test_the_pad_from_plus_4_dbu_to_minus_20_dbu_is_24_db() -> None:  # closed form
    assert 20 * log10(volts_from_dbu(4) / volts_from_dbu(-20)) == pytest.approx(24)
