from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from app.demo import modelled_gear as gear

RATE_HZ = 48_000
CLOSE = gear.Return(distance_mm=25.0, noise_dbfs=-200.0)
COMBO = gear.Rig(gear.Amp(gain=0.4), gear.ONE_BY_TWELVE)


def sine(frequency_hz: float, level: float = 1.0, length: int = RATE_HZ) -> NDArray[np.float64]:
    return np.asarray(level * np.sin(2 * np.pi * frequency_hz * np.arange(length) / RATE_HZ))


def click(at: int = 0, length: int = RATE_HZ) -> NDArray[np.float64]:
    samples = np.zeros(length)
    samples[at] = 1.0
    return samples


def line_db(samples: NDArray[np.float64], frequency_hz: float) -> float:
    """Level of a sine of a whole number of cycles in the second half of one second (settled), re full-scale sine."""
    half = samples[samples.size // 2 :]
    turn = np.exp(-2j * np.pi * frequency_hz * np.arange(half.size) / RATE_HZ)
    return float(20 * np.log10(2 * abs(np.mean(half * turn)) + 1e-15))


def rms_db(samples: NDArray[np.float64]) -> float:
    return float(10 * np.log10(np.mean(samples**2)))


def noise_burst(length: int = RATE_HZ) -> NDArray[np.float64]:
    return np.asarray(0.1 * np.random.default_rng(1).standard_normal(length))


@pytest.mark.parametrize("delay_samples", [0, 1, 37, 4_800])
def test_a_whole_delay_only_shifts(delay_samples: int) -> None:
    burst = noise_burst()
    late = gear.delayed(burst, delay_samples)
    assert late.size == burst.size
    assert np.array_equal(late[delay_samples:], burst[: burst.size - delay_samples])
    assert not late[:delay_samples].any()


@settings(max_examples=40, deadline=None)
@given(delay_samples=st.floats(0, 500), frequency_hz=st.floats(100, 16_000))
def test_a_fractional_delay_is_the_same_sine_later(delay_samples: float, frequency_hz: float) -> None:
    late = gear.delayed(sine(frequency_hz, length=4_000), delay_samples)
    exact = np.sin(2 * np.pi * frequency_hz * (np.arange(4_000) - delay_samples) / RATE_HZ)
    assert np.max(np.abs(late - exact)[600:-100]) < 1e-3


def test_nothing_arrives_before_it_was_sent() -> None:
    with pytest.raises(ValueError, match="before it was sent"):
        gear.delayed(click(), -0.5)


def test_sound_takes_2_9_ms_for_a_metre() -> None:
    """1 / 343.2 m/s (ISO 9613-1, 20 degrees) is 139.86 samples at 48 kHz."""
    assert gear.flight_samples(1_000.0, RATE_HZ) == pytest.approx(139.860, abs=1e-3)


@pytest.mark.parametrize("mains_hz", [50.0, 60.0])
def test_hum_has_its_stated_level_and_stands_on_the_mains(mains_hz: float) -> None:
    hum = gear.hum(RATE_HZ, mains_hz, -50.0, RATE_HZ)
    assert rms_db(hum) == pytest.approx(-50.0, abs=0.01)
    lines = [line_db(hum, k * mains_hz) for k in range(1, 6)]
    assert lines == sorted(lines, reverse=True)
    assert line_db(hum, 1.4 * mains_hz) < -120


def test_noise_has_exactly_its_stated_level() -> None:
    assert rms_db(gear.noise(RATE_HZ, -62.5, 4)) == pytest.approx(-62.5, abs=1e-9)


def test_a_soft_clip_leaves_small_signals_at_the_gain_of_its_drive() -> None:
    assert line_db(gear.soft_clip(sine(1_000, 1e-4), 20.0, 0.3), 1_000) == pytest.approx(-60.0, abs=0.02)


def test_asymmetry_adds_the_octave_and_symmetry_does_not() -> None:
    octave_db = {a: line_db(gear.soft_clip(sine(400, 0.3), 12.0, a), 800) for a in (0.0, 0.4)}
    assert octave_db[0.0] < -90
    assert octave_db[0.4] > -40


def test_clipping_hard_does_not_fold_back_into_the_audible() -> None:
    """A 5 kHz sine has harmonics at 10, 15, 20 kHz; 4.1 kHz could only be a folded one."""
    clipped = gear.soft_clip(sine(5_300, 0.8), 20.0, 0.2)
    folded_hz = [abs(harmonic * 5_300 - 48_000) for harmonic in (6, 7, 8, 9, 10)]
    assert line_db(clipped, 15_900) > -20
    assert max(line_db(clipped, frequency_hz) for frequency_hz in folded_hz) < -55


def test_flat_tone_controls_change_nothing() -> None:
    burst = noise_burst()
    assert np.allclose(gear.tone_controls(burst, gear.Amp(gain=0.5), RATE_HZ), burst, atol=1e-12)


@pytest.mark.parametrize(
    ("control", "frequency_hz"), [("bass", 20.0), ("middle", 520.0), ("treble", 16_000.0)]
)
def test_a_tone_control_moves_its_own_band_by_12_db_each_way(control: str, frequency_hz: float) -> None:
    at = {}
    for position in (0.0, 0.5, 1.0):
        amp = replace(gear.Amp(gain=0.5), **{control: position})
        at[position] = line_db(gear.tone_controls(sine(frequency_hz, 0.1), amp, RATE_HZ), frequency_hz)
    assert at[1.0] - at[0.5] == pytest.approx(12.0, abs=0.6)
    assert at[0.0] - at[0.5] == pytest.approx(-12.0, abs=0.6)


def test_a_cabinet_lets_through_the_middle_and_not_the_ends() -> None:
    def through_db(frequency_hz: float) -> float:
        return line_db(gear.through_cabinet(sine(frequency_hz), gear.ONE_BY_TWELVE, RATE_HZ), frequency_hz)

    assert through_db(30) < through_db(1_000) - 12
    assert through_db(12_000) < through_db(1_000) - 25
    assert through_db(2_700) > through_db(1_000) + 3


def line_hz(response: NDArray[np.float64], frequency_hz: float) -> float:
    """Magnitude in dB of an impulse response of one second at a whole frequency."""
    return float(20 * np.log10(abs(np.fft.rfft(response)[round(frequency_hz)])))


def test_a_microphone_further_away_is_later_and_quieter() -> None:
    near, far = (
        gear.picked_up(click(), replace(CLOSE, distance_mm=distance), sample_rate_hz=RATE_HZ, seed=1)
        for distance in (25.0, 500.0)
    )
    assert np.argmax(np.abs(far)) - np.argmax(np.abs(near)) == pytest.approx(66.4, abs=1)
    assert rms_db(far) < rms_db(near) - 6


def test_nearness_lifts_the_bass_of_a_figure_of_eight_more_than_of_a_cardioid_and_not_of_an_omni() -> None:
    lift = {}
    for gradient in (0.0, 0.5, 1.0):
        response = gear.at_microphone(click(), replace(CLOSE, pressure_gradient=gradient), RATE_HZ, 1)
        lift[gradient] = line_hz(response, 100) - line_hz(response, 8_000)
    assert lift[0.0] == pytest.approx(0.0, abs=0.1)
    assert lift[1.0] > lift[0.5] + 3 > lift[0.0] + 6


def test_the_edge_of_the_cone_is_duller_than_its_middle() -> None:
    middle, edge = (
        gear.at_microphone(click(), replace(CLOSE, offset_mm=offset), RATE_HZ, 1) for offset in (0.0, 80.0)
    )
    assert line_hz(edge, 8_000) < line_hz(middle, 8_000) - 5
    assert line_hz(edge, 200) == pytest.approx(line_hz(middle, 200), abs=0.3)


def test_a_spring_answers_after_its_travel_time_and_dies_away() -> None:
    wet = gear.spring(click(), RATE_HZ)
    before, answer = wet[: round(0.03 * RATE_HZ)], wet[round(0.035 * RATE_HZ) : round(0.1 * RATE_HZ)]
    assert rms_db(answer) > rms_db(before) + 30
    assert rms_db(wet[-RATE_HZ // 10 :]) < rms_db(wet[: RATE_HZ // 10]) - 40


def test_a_starved_fuzz_swallows_a_dying_note() -> None:
    quiet = sine(110, 0.0008)
    starved, fed = (
        gear.fuzz(quiet, gear.Fuzz(fuzz=0.5, bias=bias, volume=0.5), RATE_HZ) for bias in (0.1, 1.0)
    )
    assert rms_db(starved + 1e-9) < rms_db(fed) - 20


def test_an_echo_repeats_at_its_time_each_quieter_and_darker() -> None:
    wet = gear.echo(click(), gear.Echo(time_ms=100.0, repeats=0.5, mix=1.0), RATE_HZ)
    first, second = wet[4_800:9_600], wet[9_600:14_400]
    assert wet[0] == 1.0
    assert not wet[1:4_800].any()
    assert line_hz(second, 20) == pytest.approx(line_hz(first, 20) + 20 * np.log10(0.45), abs=0.1)
    assert line_hz(second, 600) < line_hz(first, 600) - 8  # 6 kHz: these tails are a tenth of a second


def test_a_pass_gives_one_print_for_each_return_as_long_as_the_source() -> None:
    burst = noise_burst()
    ribbon = gear.Return(distance_mm=300.0, pressure_gradient=1.0, room=0.5)
    prints = gear.render_pass(burst, COMBO, [CLOSE, ribbon], sample_rate_hz=RATE_HZ, seed=1)
    assert [print_.size for print_ in prints] == [burst.size, burst.size]
    again = gear.render_pass(burst, COMBO, [CLOSE, ribbon], sample_rate_hz=RATE_HZ, seed=1)
    assert all(np.array_equal(a, b) for a, b in zip(prints, again, strict=True))


@pytest.mark.parametrize("control", ["gain", "bass", "middle", "treble", "reverb", "volume"])
def test_every_knob_of_the_amp_can_be_heard(control: str) -> None:
    burst = noise_burst()
    turned = replace(COMBO, amp=replace(gear.Amp(gain=0.4), **{control: 0.8}))
    before, after = (
        gear.render_pass(burst, rig, [CLOSE], sample_rate_hz=RATE_HZ, seed=1)[0] for rig in (COMBO, turned)
    )
    assert rms_db(after - before) > rms_db(before) - 25


@pytest.mark.parametrize("control", ["fuzz", "bias", "volume"])
def test_every_knob_of_the_fuzz_can_be_heard(control: str) -> None:
    burst = noise_burst()
    pedal = gear.Fuzz(fuzz=0.4, bias=0.6, volume=0.4)
    rigs = [replace(COMBO, fuzz=pedal), replace(COMBO, fuzz=replace(pedal, **{control: 0.9}))]
    before, after = (gear.render_pass(burst, rig, [CLOSE], sample_rate_hz=RATE_HZ, seed=1)[0] for rig in rigs)
    assert rms_db(after - before) > rms_db(before) - 25


def test_an_inverted_return_is_the_same_upside_down() -> None:
    same, turned = gear.render_pass(
        noise_burst(), COMBO, [CLOSE, replace(CLOSE, inverted=True)], sample_rate_hz=RATE_HZ, seed=1
    )
    assert np.allclose(turned, -same, atol=1e-9)


def test_a_return_without_a_microphone_has_only_its_latency() -> None:
    way = gear.Return(latency_samples=64.0, noise_dbfs=-200.0)
    (print_,) = gear.render_pass(click(100), gear.Rig(amp=None), [way], sample_rate_hz=RATE_HZ, seed=1)
    assert np.argmax(print_) == 164
    assert print_[164] == pytest.approx(1.0)


def test_a_print_can_be_cut_short() -> None:
    burst = noise_burst()
    assert np.array_equal(gear.cut_short(burst, 0.25, RATE_HZ), burst[:12_000])


def test_a_converter_is_flat_past_full_scale_and_exact_below() -> None:
    hot = gear.converted(sine(100, 1.8))
    assert np.max(hot) == 1.0
    assert np.min(hot) == -1.0
    assert np.sum(np.abs(hot) == 1.0) > 1_000
    assert np.array_equal(gear.converted(sine(100, 0.9)), sine(100, 0.9))
