"""Electrical and digital levels against definitions and published alignments.

Sources are named beside each check. "Closed form" means that it follows from the definition and needs no authority.
"""

from math import log10, sqrt

import pytest

from app.trade.calibration import input_full_scale_dbu
from app.trade.levels import (
    SINE_CREST_DB,
    dbfs_from_dbu,
    dbfs_from_rms,
    dbu_from_dbfs,
    dbu_from_dbv,
    dbu_from_volts,
    dbu_of_sine_peak,
    dbv_from_dbu,
    dbv_from_volts,
    loading_db,
    parallel_ohm,
    reflected_ohm,
    roll_off_hz,
    sine_peak_volts,
    transformer_db,
    turns_from_impedances,
    volts_from_dbu,
    volts_from_dbv,
)


def test_0_dbu_is_one_milliwatt_in_600_ohm() -> None:  # definition; ITU-R BS.645 uses it (clause from memory)
    assert volts_from_dbu(0) == pytest.approx(0.774597, abs=5e-7)
    assert volts_from_dbu(0) ** 2 / 600 == pytest.approx(1e-3)


def test_0_dbv_is_one_volt() -> None:  # definition
    assert volts_from_dbv(0) == 1.0
    assert dbv_from_volts(1.0) == 0.0


def test_dbu_reads_2_2185_more_than_dbv() -> None:  # closed form
    assert dbu_from_dbv(0) == pytest.approx(2.2185, abs=5e-5)


def test_plus_4_dbu() -> None:  # closed form
    assert volts_from_dbu(4) == pytest.approx(1.22765, abs=5e-6)
    assert sine_peak_volts(4) == pytest.approx(1.73616, abs=5e-6)
    assert dbv_from_dbu(4) == pytest.approx(1.7815, abs=5e-5)


def test_minus_10_dbv() -> None:  # closed form
    assert volts_from_dbv(-10) == pytest.approx(0.316228, abs=5e-7)
    assert dbu_from_dbv(-10) == pytest.approx(-7.7815, abs=5e-5)


def test_plus_4_dbu_stands_11_7815_db_above_minus_10_dbv() -> None:  # closed form
    assert 4 - dbu_from_dbv(-10) == pytest.approx(11.7815, abs=5e-5)
    assert 4 - dbu_from_dbv(-10) == pytest.approx(4 - (-10 + 20 * log10(1 / sqrt(0.6))))


@pytest.mark.parametrize(("dbu", "volts"), [(18, 6.15284), (20, 7.74597), (24, 12.27653)])
def test_line_levels_in_volts(dbu: float, volts: float) -> None:  # closed form
    assert volts_from_dbu(dbu) == pytest.approx(volts, abs=5e-6)


def test_100_mv_rms_and_a_1_v_peak_sine() -> None:  # closed form
    assert dbu_from_volts(0.1) == pytest.approx(-17.7815, abs=5e-5)
    assert dbu_of_sine_peak(1.0) == pytest.approx(-0.7918, abs=5e-5)


def test_a_sine_s_crest_factor() -> None:  # closed form
    assert pytest.approx(3.0103, abs=5e-5) == SINE_CREST_DB


def test_the_aes17_scale() -> None:  # AES17-2015, definitions
    assert dbfs_from_rms(1 / sqrt(2)) == pytest.approx(0.0, abs=1e-12)  # full-scale sine
    assert dbfs_from_rms(1.0) == pytest.approx(3.0103, abs=5e-5)  # full-scale square
    assert dbfs_from_rms(0.5 / sqrt(2)) == pytest.approx(-6.0206, abs=5e-5)  # half-amplitude sine


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
    assert dbfs_from_dbu(dbu, full_scale_dbu) == dbfs


def test_a_di_peak_at_minus_6_dbfs_on_that_interface_is_plus_12_dbu() -> None:  # closed form
    assert dbu_from_dbfs(-6, 18) == 12


def test_a_unity_loop() -> None:  # closed form: -18 + 18 - 10
    assert dbfs_from_dbu(dbu_from_dbfs(-18, 18), 10) == -10


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


@pytest.mark.parametrize(("turns", "loss_db", "impedance_ratio"), [(10, -20.00, 100), (12, -21.58, 144)])
def test_a_step_down_transformer(turns: float, loss_db: float, impedance_ratio: float) -> None:  # closed form
    assert transformer_db(turns) == pytest.approx(loss_db, abs=5e-3)
    assert 1e6 / reflected_ohm(1e6, turns) == pytest.approx(impedance_ratio)


@pytest.mark.parametrize(
    ("primary", "secondary", "turns", "db"), [(10e3, 600, 4.0825, 12.22), (140e3, 150, 30.55, 29.70)]
)
def test_turns_from_impedances(
    primary: float, secondary: float, turns: float, db: float
) -> None:  # closed form
    assert turns_from_impedances(primary, secondary) == pytest.approx(turns, abs=5e-3)
    assert -transformer_db(turns_from_impedances(primary, secondary)) == pytest.approx(db, abs=5e-3)


def test_a_megohm_through_a_10_to_1_step_up_looks_like_10_k() -> None:  # closed form
    assert reflected_ohm(1e6, 10) == pytest.approx(10e3)


def test_first_order_roll_off() -> None:  # closed form
    assert roll_off_hz(10e3, 1) == pytest.approx(15.92e3, rel=5e-4)
    assert roll_off_hz(150, 1) == pytest.approx(1.061e6, rel=5e-4)


def test_the_pad_from_plus_4_dbu_to_minus_20_dbu_is_24_db() -> None:  # closed form
    assert 20 * log10(volts_from_dbu(4) / volts_from_dbu(-20)) == pytest.approx(24)
