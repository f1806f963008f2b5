import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from svg_reader import SVG, points, read_sound, words_in

from app.drawings.comb import DEEPEST_DB, CombOf, comb_drawing

MILLISECOND = CombOf(0.001)


def curve(of: CombOf, width: int = 720) -> list[tuple[float, float]]:
    (line,) = read_sound(comb_drawing(of, width=width)).iter(f"{SVG}polyline")
    return points(line)


def test_the_finding_names_peaks_notches_and_the_first_frequencies() -> None:
    assert comb_drawing(MILLISECOND).finding == (
        "Sum of two paths 1 ms apart, same polarity, levels 0.0 dB apart: peaks +6.0 dB, notches −∞ dB against the "
        "louder alone. First notches: 500 Hz, 1.5 kHz, 2.5 kHz, 3.5 kHz."
    )


def test_a_real_level_ratio_fills_the_notches() -> None:
    """g = 0.5: +3.52 and −6.02 dB (superposition)."""
    finding = comb_drawing(CombOf(0.001, level_difference_db=6.0206)).finding
    assert "peaks +3.5 dB, notches −6.0 dB" in finding


def test_opposite_polarity_turns_peaks_into_notches() -> None:
    assert "First notches: 1 kHz, 2 kHz" in comb_drawing(CombOf(0.001, inverted=True)).finding
    assert curve(CombOf(0.001, inverted=True))[0][1] > curve(MILLISECOND)[0][1]


def test_the_curve_touches_its_peaks_and_ends_its_notches_at_the_floor() -> None:
    ys = [y for _, y in curve(MILLISECOND)]
    floor = 260 - 40
    assert max(ys) == pytest.approx(floor, abs=0.01)
    top = 20 + (260 - 60) * (9 - 6.0206) / (9 - DEEPEST_DB)
    assert min(ys) == pytest.approx(top, abs=0.05)


def test_a_delay_beyond_the_paper_has_no_notch_to_name() -> None:
    assert "First notches: none below 20 kHz" in comb_drawing(CombOf(1e-5)).finding


def test_named_notches_stand_over_their_frequency() -> None:
    root = read_sound(comb_drawing(MILLISECOND, width=1080))
    named = {text.text: float(text.get("x") or 0) for text in root.iter(f"{SVG}text")}
    deepest = [x for x, y in points(next(root.iter(f"{SVG}polyline"))) if y >= 219.9]
    assert min(abs(x - named["500 Hz"]) for x in deepest) < 0.1


def test_labels_on_a_phone_do_not_run_out_of_the_paper() -> None:
    root = read_sound(comb_drawing(MILLISECOND, width=320))
    assert "500 Hz" in words_in(root)
    for text in root.iter(f"{SVG}text"):
        assert 0 <= float(text.get("x") or 0) <= 320


@pytest.mark.parametrize("delay_s", [0.0, -0.001, 1.5])
def test_what_has_no_comb_is_refused(delay_s: float) -> None:
    with pytest.raises(ValueError, match="arrive apart"):
        comb_drawing(CombOf(delay_s))


@settings(deadline=None, max_examples=40)
@given(st.floats(1e-6, 0.5), st.floats(-60, 60), st.booleans(), st.sampled_from([240, 320, 720, 1080]))
def test_any_pair_makes_a_sound_drawing(
    delay_s: float, difference: float, inverted: bool, width: int
) -> None:
    root = read_sound(comb_drawing(CombOf(delay_s, difference, inverted), width=width))
    for x, y in points(next(root.iter(f"{SVG}polyline"))):
        assert 0 <= x <= width
        assert 0 <= y <= 260
