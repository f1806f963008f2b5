"""Levels at 0 dBFS from a manual, a voltmeter, a loop; and the tone that they are measured with."""

import io
import wave
from math import log10, sqrt

import numpy as np
import pytest
import soundfile
from level_session import put
from small_session import put_on_shelf

from app.desk.refusals import Refusal
from app.desk.shelf.calibration import CalibrationEntry, accepted, calibrate, read_calibration, tone_wav
from app.desk.shelf.ports import FactsEntry, know_facts, read_facts
from app.library import Library


@pytest.fixture
def interface(library: Library) -> int:
    return put(library, "eight-channel interface", "interface", FactsEntry())


def output_of(library: Library, gear_id: int) -> float | None:
    return read_facts(library, gear_id).output_full_scale_dbu


@pytest.mark.parametrize("level", [0.0, -6.0, -18.0, -80.0])
def test_the_tone_is_ten_seconds_of_1_khz_at_the_level_asked_for(level: float) -> None:
    made = tone_wav(level)
    with wave.open(io.BytesIO(made)) as read:
        assert (read.getnchannels(), read.getsampwidth(), read.getframerate()) == (1, 3, 48_000)
        assert read.getnframes() == 480_000
    samples, rate = soundfile.read(io.BytesIO(made), dtype="float64")
    steady = samples[rate : 9 * rate]
    # AES17: a sine's rms level plus 3.01 dB.
    assert 20 * log10(sqrt(float(np.mean(steady**2))) * sqrt(2)) == pytest.approx(level, abs=0.005)
    spectrum = np.abs(np.fft.rfft(steady))
    assert np.argmax(spectrum) * rate / len(steady) == 1000.0


def test_the_tone_fades_in_and_out_and_never_jumps() -> None:
    samples, _ = soundfile.read(io.BytesIO(tone_wav(0.0)), dtype="float64")
    assert samples[0] == 0.0
    assert abs(samples[-1]) < 1e-5
    assert np.max(np.abs(np.diff(samples))) <= 2 * np.sin(np.pi * 1000 / 48_000) + 1e-6
    assert np.max(np.abs(samples[:48])) < 0.01
    assert np.max(np.abs(samples)) <= 1.0


@pytest.mark.parametrize("level", [0.1, -81.0, float("nan")])
def test_a_tone_beyond_full_scale_or_below_hearing_is_refused(level: float) -> None:
    with pytest.raises(ValueError, match="between −80 and 0 dBFS"):
        tone_wav(level)


def test_a_meter_s_reading_of_the_tone_gives_the_output_s_level(library: Library, interface: int) -> None:
    # 0.7746 V rms is 0 dBu; the tone plays at −18 dBFS, so 0 dBFS is +18 dBu (EBU R 68).
    entry = CalibrationEntry("output_measured", tone_dbfs="−18 dBFS", reading="774.5967", unit="mV")
    assert calibrate(library, interface, entry) is None
    assert output_of(library, interface) == pytest.approx(18.0, abs=1e-5)


def test_a_loop_gives_the_input_s_level_with_its_gain_taken_out(library: Library, interface: int) -> None:
    know_facts(library, interface, output_full_scale_dbu=18.0)
    # −18 + 18 = 0 dBu sent; read at −10 dBFS with 0 dB gain: 0 dBFS is +10 dBu. With 6 dB gain it reads −4.
    for gain, reading in (("0", "-10"), ("6 dB", "-4 dBFS")):
        entry = CalibrationEntry("input_looped", sent_dbfs="-18", looped_dbfs=reading, gain_db=gain)
        assert calibrate(library, interface, entry) is None
        assert read_facts(library, interface).input_full_scale_dbu == pytest.approx(10.0)


@pytest.mark.parametrize(
    ("manual", "level"), [("+18 dBu", 18.0), ("6 dBV", 8.2185), ("2.2 V", 9.0669), ("24", 24.0)]
)
def test_a_manual_s_figure_is_taken_in_its_unit(
    library: Library, interface: int, manual: str, level: float
) -> None:
    calibrate(library, interface, CalibrationEntry("output_manual", manual=manual))
    assert output_of(library, interface) == pytest.approx(level, abs=5e-5)


@pytest.mark.parametrize(
    ("reading", "unit", "words"),
    [
        ("-2.2185", "dBu", "2.2 dB off: was the figure in dBV"),
        ("-11.7815", "dBu", "11.8 dB off: is one end at +4 dBu"),
        ("1.0954", "V", "3 dB off: was a peak voltage typed"),  # 0.7746 x sqrt 2
        ("2.1909", "V", "9 dB off: was a peak-to-peak voltage"),
        ("0.3873", "V", "6 dB off: was only one leg"),
    ],
)
def test_a_reading_off_by_a_mix_up_is_asked_about_before_it_is_kept(
    library: Library, interface: int, reading: str, unit: str, words: str
) -> None:
    know_facts(library, interface, output_full_scale_dbu=18.0)
    entry = CalibrationEntry("output_measured", reading=reading, unit=unit)
    doubt = calibrate(library, interface, entry)
    assert doubt is not None
    assert words in doubt.mix_up.sentence
    assert output_of(library, interface) == 18.0
    sure = CalibrationEntry(
        "output_measured", reading=reading, unit=unit, accept=accepted(doubt.measured_dbu)
    )
    assert calibrate(library, interface, sure) is None
    assert output_of(library, interface) == pytest.approx(doubt.measured_dbu)


def test_a_reading_that_agrees_or_differs_by_no_known_mix_up_is_kept_at_once(
    library: Library, interface: int
) -> None:
    know_facts(library, interface, output_full_scale_dbu=18.0)
    for reading, level in (("0.2", 18.2), ("1.5", 19.5)):
        entry = CalibrationEntry("output_measured", reading=reading, unit="dBu")
        assert calibrate(library, interface, entry) is None
        assert output_of(library, interface) == pytest.approx(level)


@pytest.mark.parametrize(
    ("entry", "field", "words"),
    [
        (CalibrationEntry("output_measured", reading="", unit="V"), "reading", "This is empty"),
        (CalibrationEntry("output_measured", reading="0", unit="V"), "reading", "is the tone playing?"),
        (CalibrationEntry("output_measured", reading="-1", unit="V"), "reading", "is the tone playing?"),
        (CalibrationEntry("output_measured", reading="774", unit="V"), "reading", "which no interface has"),
        (CalibrationEntry("output_measured", reading="much", unit="V"), "reading", "is not a number"),
        (CalibrationEntry("output_measured", reading="1", unit="ohm"), "unit", "Choose the unit"),
        (CalibrationEntry("output_measured", tone_dbfs="6", reading="1"), "reading", "between −80 and 0"),
        (CalibrationEntry("input_looped", looped_dbfs="-10"), "looped_dbfs", "Calibrate the output first"),
        (CalibrationEntry("output_manual", manual="90 V"), "output_manual-manual", "between −40 and 40"),
        (CalibrationEntry("output_manual", manual="0 V"), "output_manual-manual", "reads nothing"),
        (CalibrationEntry("input_manual", manual="loud"), "input_manual-manual", "is not a number"),
        (CalibrationEntry("sideways"), "", "Choose one of the ways"),
    ],
)
def test_what_cannot_be_is_said_at_its_field(
    library: Library, interface: int, entry: CalibrationEntry, field: str, words: str
) -> None:
    with pytest.raises(Refusal) as refused:
        calibrate(library, interface, entry)
    assert words in refused.value.sentences[field]
    assert output_of(library, interface) is None


def test_a_loop_s_absurd_figures_are_said_at_their_fields(library: Library, interface: int) -> None:
    know_facts(library, interface, output_full_scale_dbu=18.0)
    for entry, field, words in (
        (
            CalibrationEntry("input_looped", sent_dbfs="3", looped_dbfs="-10"),
            "sent_dbfs",
            "between −80 and 0",
        ),
        (CalibrationEntry("input_looped", looped_dbfs="2"), "looped_dbfs", "may already clip"),
        (CalibrationEntry("input_looped", looped_dbfs="-10", gain_db="400"), "gain_db", "between −100"),
    ):
        with pytest.raises(Refusal) as refused:
            calibrate(library, interface, entry)
        assert words in refused.value.sentences[field]


def test_only_an_interface_is_calibrated(library: Library) -> None:
    fuzz = put_on_shelf(library, "silicon fuzz", "pedal")
    with pytest.raises(Refusal, match="is not an interface"):
        read_calibration(library, fuzz)
