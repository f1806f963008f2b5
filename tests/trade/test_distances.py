import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.trade.distances import (
    LengthUnit,
    NotAMeasure,
    read_angle_deg,
    read_distance_mm,
    read_frequency_hz,
    read_level_db,
    read_offset_mm,
    show_angle,
    show_db,
    show_distance,
    show_hz,
)


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("30", 30),
        ("30 mm", 30),
        ("30mm", 30),
        ("3 cm", 30),
        ("3,5 cm", 35),
        ("1.5 in", 38.1),
        ('1 1/2"', 38.1),
        ("1½ in", 38.1),
        ("1½”", 38.1),
        ("1/4 in", 6.35),
        ("0.3 m", 300),
        ("2 ft", 609.6),
        ("1' 6\"", 457.2),
        ("1 ft 6 in", 457.2),
        ("0", 0),
    ],
)
def test_a_distance_is_read_in_the_unit_it_is_written_in(text: str, mm: float) -> None:
    assert read_distance_mm(text) == pytest.approx(mm)


def test_a_bare_number_is_in_the_unit_one_works_in() -> None:
    assert read_distance_mm("2", "in") == pytest.approx(50.8)
    assert read_distance_mm("2 mm", "in") == pytest.approx(2)


def test_an_offset_may_be_to_either_side() -> None:
    assert read_offset_mm("−2 cm") == -20


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("-3 mm", "negative"),
        ("100 m", "farther than 30 m"),
        ("near", "not a number"),
        ("3 parsecs", "no unit of length"),
        ("1/0 in", "divides by zero"),
        ("", "not a number"),
    ],
)
def test_a_distance_that_cannot_be_is_refused_with_a_sentence(text: str, sentence: str) -> None:
    with pytest.raises(NotAMeasure, match=sentence):
        read_distance_mm(text)


@pytest.mark.parametrize(
    ("mm", "unit", "text"),
    [
        (30, "mm", "30 mm"),
        (1250, "mm", "1.25 m"),
        (38.1, "in", "1.5 in"),
        (-20, "mm", "−20 mm"),
        (0, "mm", "0 mm"),
    ],
)
def test_a_distance_is_shown_in_the_unit_one_works_in(mm: float, unit: LengthUnit, text: str) -> None:
    assert show_distance(mm, unit) == text


@given(st.floats(0, 30_000), st.sampled_from(["mm", "in"]))
def test_a_shown_distance_reads_back(mm: float, unit: LengthUnit) -> None:
    back = read_distance_mm(show_distance(mm, unit), unit)
    assert read_distance_mm(show_distance(mm, unit).replace(" ", "\u00a0")) == back, (
        "as it is copied from a page"
    )
    assert back == pytest.approx(mm, abs=0.51 if mm >= 1000 else 0.13)


@given(st.text(max_size=40))
def test_any_text_is_a_distance_or_refused(text: str) -> None:
    try:
        assert 0 <= read_distance_mm(text) <= 30_000
    except NotAMeasure:
        return


def test_angles_levels_and_frequencies() -> None:
    assert read_angle_deg("30°") == 30
    assert read_angle_deg("on axis") == 0
    assert read_angle_deg("-15 deg") == -15
    assert read_level_db("−10 dB") == -10
    assert read_level_db("+48") == 48
    assert read_frequency_hz("80") == 80
    assert read_frequency_hz("1k2") == 1200
    assert (show_angle(30), show_angle(0)) == ("30° off axis", "on axis")
    assert (show_db(48), show_db(-10), show_db(0)) == ("+48 dB", "−10 dB", "0 dB")
    assert (show_hz(80), show_hz(1200)) == ("80 Hz", "1.2 kHz")


@pytest.mark.parametrize("text", ["400", "sideways", "30 dB"])
def test_an_angle_that_cannot_be_is_refused(text: str) -> None:
    with pytest.raises(NotAMeasure):
        read_angle_deg(text)


@pytest.mark.parametrize("text", ["0", "-80", "90 kHz", "80 ms"])
def test_a_frequency_that_cannot_be_is_refused(text: str) -> None:
    with pytest.raises(NotAMeasure):
        read_frequency_hz(text)


def test_a_level_beyond_reason_is_refused() -> None:
    with pytest.raises(NotAMeasure, match="beyond"):
        read_level_db("500 dB")
