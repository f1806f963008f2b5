import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.trade.level_plan import (
    DiPath,
    Figure,
    SendPath,
    Stage,
    at_the_amp,
    di_return,
    how_hard_it_drove,
    level_diagram,
    microphone_return,
    return_warnings,
    volts_text,
    what_to_send,
)
from app.trade.levels import dbu_from_volts

PASSIVE_DI = DiPath(input_full_scale_dbu=18.0, gain_db=30.0, box_loss_db=20.0)
BOX = SendPath(output_full_scale_dbu=18.0, box_loss_db=12.0, box_source_ohm=10e3, amp_input_ohm=1e6)


def test_a_di_peak_leads_back_to_the_instrument_s_volts() -> None:
    # By hand: -6 + 18 - 30 + 20 = +2 dBu; a sine of 0.9752 V rms, 1.3791 V peak.
    drive = how_hard_it_drove(-6.0, -23.0103, PASSIVE_DI)
    assert drive.peak_dbu.value == pytest.approx(2.0)
    assert drive.peak_volts.value == pytest.approx(1.3791, abs=5e-5)
    assert drive.peak_dbu.formula.endswith("−6.0 + 18.0 − 30.0 + 20.0 = 2.0")
    # The plain scale's -23.01 is -20 on the sine's: -20 + 18 - 30 + 20 = -12 dBu.
    assert drive.rms_dbu.value == pytest.approx(-12.0, abs=1e-4)
    assert dbu_from_volts(drive.rms_volts.value or 0) == pytest.approx(-12.0, abs=1e-4)


def test_the_uncertainty_of_gain_and_calibration_add_as_independent_ones() -> None:
    path = DiPath(18.0, 30.0, 20.0, gain_uncertainty_db=0.3, calibration_uncertainty_db=0.4)
    drive = how_hard_it_drove(-6.0, -20.0, path)
    assert drive.peak_dbu.uncertainty == pytest.approx(0.5)
    assert drive.peak_volts.uncertainty == pytest.approx(1.3791 * (10 ** (0.5 / 20) - 1), rel=1e-3)


def test_what_is_not_known_leaves_the_figure_open_and_is_named() -> None:
    drive = how_hard_it_drove(-6.0, None, DiPath(None, None, 20.0))
    assert drive.peak_dbu.value is None
    assert drive.peak_volts.missing == ("the input's level at 0 dBFS", "the preamp gain")
    assert "the source's rms level" in drive.rms_dbu.missing


def test_the_box_s_trim_makes_the_amp_see_what_the_instrument_gave() -> None:
    # By hand: -6 + 18 - 12 - 0.0864 = -0.0864 dBu reach the amp untouched; wanted -10, so -9.9136 dB.
    plan = what_to_send(-10.0, -6.0, BOX)
    assert plan.daw_trim_db.value == pytest.approx(0.0)
    assert plan.box_trim_db.value == pytest.approx(-9.9136, abs=5e-5)
    assert plan.at_amp_dbu.value == pytest.approx(-10.0)
    assert plan.warnings == ()


def test_with_the_box_s_knob_standing_somewhere_the_daw_does_the_rest() -> None:
    plan = what_to_send(-10.0, -6.0, SendPath(18.0, 12.0, -6.0, 10e3, 1e6))
    assert plan.box_trim_db.value == -6.0
    assert plan.daw_trim_db.value == pytest.approx(-3.9136, abs=5e-5)


def test_the_reverse_says_what_the_amp_sees() -> None:
    seen = at_the_amp(-6.0, -3.0, SendPath(18.0, 12.0, -6.0, 10e3, 1e6))
    assert seen.value == pytest.approx(-9.0864, abs=5e-5)
    assert seen.formula.endswith("= −9.1")


@given(st.floats(-40, 10), st.floats(-40, 0), st.none() | st.floats(-30, 0))
def test_what_to_send_and_what_the_amp_sees_agree(target: float, peak: float, trim: float | None) -> None:
    plan = what_to_send(target, peak, SendPath(18.0, 12.0, trim, 10e3, 1e6))
    assert plan.daw_trim_db.value is not None
    seen = at_the_amp(peak, plan.daw_trim_db.value, SendPath(18.0, 12.0, plan.box_trim_db.value, 10e3, 1e6))
    assert seen.value == pytest.approx(target, abs=1e-9)


@pytest.mark.parametrize(
    ("target", "peak", "path", "words"),
    [
        (10.0, -6.0, BOX, "converter clips"),
        (-50.0, -6.0, SendPath(18.0, 12.0, 0.0, 10e3, 1e6), "noise"),
        (-10.0, -2.0, SendPath(24.0, 12.0, None, 10e3, 1e6, box_max_input_dbu=18.0), "overloaded by 4.0 dB"),
        (
            2.0,
            -3.0,
            SendPath(18.0, 12.0, None, 10e3, 1e6, amp_max_input_dbu=0.0),
            "2.0 dB more than its maximum",
        ),
    ],
)
def test_what_speaks_against_a_send_is_said(target: float, peak: float, path: SendPath, words: str) -> None:
    assert [warning for warning in what_to_send(target, peak, path).warnings if words in warning]


def test_a_send_with_unknown_impedances_stays_open() -> None:
    plan = what_to_send(-10.0, -6.0, SendPath(18.0, 12.0))
    assert plan.box_trim_db.value is None
    assert plan.box_trim_db.missing == (
        "the re-amp box's output impedance",
        "the input impedance behind the box",
    )
    assert at_the_amp(-6.0, 0.0, BOX).missing == ("where the box's trim stands",)


def test_a_level_diagram_shows_the_level_at_each_input_and_its_headroom() -> None:
    points = level_diagram(12.0, [Stage("re-amp box", -24.0, 20.0), Stage("amp", 0.0)])
    assert [(point.name, point.level_dbu, point.headroom_db) for point in points] == [
        ("re-amp box", 12.0, 8.0),
        ("amp", -12.0, None),
        ("out", -12.0, None),
    ]


@given(st.lists(st.floats(-40, 40), max_size=8), st.integers(0, 8))
def test_a_chain_of_losses_may_be_split_anywhere(gains: list[float], at: int) -> None:
    stages = [Stage("stage", gain) for gain in gains]
    whole = level_diagram(0.0, stages)[-1].level_dbu
    first = level_diagram(0.0, stages[:at])[-1].level_dbu
    assert level_diagram(first, stages[at:])[-1].level_dbu == pytest.approx(whole, abs=1e-9)


def test_a_microphone_s_reading_headroom_and_gain() -> None:
    # By hand: 2 mV/Pa at 120 dB SPL is -25.740 dBu; with 30 dB gain into +18 dBu: -13.740 dBFS.
    back = microphone_return(2.0, 120.0, 30.0, 18.0)
    assert back.peak_dbfs.value == pytest.approx(-13.740, abs=5e-4)
    assert back.headroom_db.value == pytest.approx(13.740, abs=5e-4)
    assert back.gain_for_target_db.value == pytest.approx(31.740, abs=5e-4)


def test_a_peaky_sound_reads_higher_than_a_sine_of_its_sound_level() -> None:
    sine = microphone_return(2.0, 110.0, 30.0, 18.0).peak_dbfs.value
    amp = microphone_return(2.0, 110.0, 30.0, 18.0, crest_db=13.0103).peak_dbfs.value
    assert sine is not None
    assert amp == pytest.approx(sine + 10.0, abs=1e-4)


def test_a_di_return_s_reading_and_gain() -> None:
    back = di_return(-10.0, 20.0, 40.0, 18.0)
    assert back.peak_dbfs.value == pytest.approx(-8.0)
    assert back.gain_for_target_db.value == pytest.approx(36.0)


def test_a_return_says_what_it_lacks_and_still_suggests_a_gain() -> None:
    back = microphone_return(2.0, 120.0, None, 18.0)
    assert back.peak_dbfs.missing == ("the gain",)
    assert back.gain_for_target_db.value is not None
    assert microphone_return(None, None, 30.0, 18.0).peak_dbfs.missing == (
        "the microphone's sensitivity",
        "the sound level",
    )


def test_an_unknown_crest_factor_leaves_a_microphone_s_peak_open() -> None:
    back = microphone_return(2.0, 120.0, 30.0, 18.0, crest_db=None)
    assert back.output_dbu.missing == ("the crest factor",)
    assert back.gain_for_target_db.value is None


def test_a_microphone_s_output_carries_the_crest_of_what_is_played() -> None:
    back = microphone_return(2.0, 120.0, 30.0, 18.0, crest_db=13.0103)
    assert back.output_dbu.value == pytest.approx(-15.740, abs=5e-4)
    assert back.output_dbu.formula.endswith("−25.7 + 13.0 − 3.0 = −15.7")


@pytest.mark.parametrize(
    ("gain_db", "limits", "words"),
    [
        (30.0, (0.0, 60.0), []),
        (41.5, (0.0, 60.0), ["Only 2.2 dB of headroom"]),  # -25.74 + 41.5 - 18 = -2.24 dBFS
        (50.0, (None, None), ["The input would clip"]),
        (30.0, (40.0, 60.0), ["8.3 dB too much"]),  # -12 + 18 + 25.74 = 31.74
        (30.0, (0.0, 25.0), ["6.7 dB short"]),
    ],
)
def test_what_speaks_against_a_return_is_said(
    gain_db: float, limits: tuple[float | None, float | None], words: list[str]
) -> None:
    warnings = return_warnings(microphone_return(2.0, 120.0, gain_db, 18.0), *limits)
    assert len(warnings) == len(words)
    assert all(said in warning for said, warning in zip(words, warnings, strict=True))


@pytest.mark.parametrize(
    ("figure", "text"),
    [
        (Figure("x", 2.04, "dBu", "", 0.71), "+2.0 dBu ± 0.7 dB"),
        (Figure("x", -0.04, "dB", ""), "0.0 dB"),
        (Figure("x", -12.0, "dBFS", ""), "−12.0 dBFS"),
        (Figure("x", 1.3791, "V", "", 0.369), "1.38 V ± 0.37 V"),
        (Figure("x", 0.0367, "V", "", 0.0031), "36.7 mV ± 3.1 mV"),
        (Figure("x", 1.0, "V", "", 1.5), "0.40 to 2.5 V"),
        (Figure("x", 0.151, "V", "", 0.229), "60 to 380 mV"),
        (Figure("x", None, "V", "", None, ("this",)), "open"),
    ],
)
def test_a_figure_reads_as_an_engineer_writes_it(figure: Figure, text: str) -> None:
    assert figure.text == text


@given(st.floats(1e-4, 500))
def test_a_voltage_is_written_to_three_digits(volts: float) -> None:
    number, unit = volts_text(volts).split()
    assert float(number) * (1.0 if unit == "V" else 1e-3) == pytest.approx(volts, rel=6e-3, abs=6e-7)
