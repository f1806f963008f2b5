"""Knob geometry: closed forms (angle from 12 o'clock, clockwise positive, one clock hour = 30 degrees).

Position = (angle + travel/2) / travel for a travel lying evenly about 12 o'clock. Source: plane geometry; the 300 degree
travel from component data sheets, which give it as typical.
"""

import pytest

from app.trade.readings import UnknownReading, read, readings
from app.trade.scale_values import value_at
from app.trade.scales import ClockScale, ControlSpec, PercentScale, RangeScale
from app.trade.travel import Travel, angle_deg, clock_text, position_at_deg

CLOCK_ROWS = [  # clock, angle, percent of a 300 degree travel, of 270 degrees, of 280 degrees; None: off the scale
    ("7:00", -150, 0, None, None),
    ("7:30", -135, 5, 0, 1.79),
    ("8:00", -120, 10, 5.56, 7.14),
    ("9:00", -90, 20, 16.67, 17.86),
    ("10:00", -60, 30, 27.78, 28.57),
    ("10:30", -45, 35, 33.33, 33.93),
    ("12:00", 0, 50, 50, 50),
    ("1:30", 45, 65, 66.67, 66.07),
    ("3:00", 90, 80, 83.33, 82.14),
    ("4:30", 135, 95, 100, 98.21),
    ("5:00", 150, 100, None, None),
]


def travel_of(sweep_deg: float) -> Travel:
    """Lying evenly about 12 o'clock."""
    return Travel(-sweep_deg / 2, sweep_deg / 2)


def knob(scale: ClockScale | RangeScale | PercentScale, sweep_deg: float = 300) -> ControlSpec:
    return ControlSpec("Knob", "knob", scale, travel_of(sweep_deg))


@pytest.mark.parametrize(("clock", "angle", "at_300", "at_270", "at_280"), CLOCK_ROWS)
def test_a_clock_position_is_an_angle_and_a_percentage_of_the_travel(
    clock: str, angle: float, at_300: float, at_270: float | None, at_280: float | None
) -> None:
    assert clock_text(angle) == clock
    for sweep, percent in ((300, at_300), (270, at_270), (280, at_280)):
        spec = knob(ClockScale(), sweep)
        if percent is None:
            with pytest.raises(UnknownReading, match="lies outside"):
                read(spec, clock)
            continue
        position = read(spec, clock).position
        assert position is not None
        assert position * 100 == pytest.approx(percent, abs=0.005)
        assert angle_deg(spec.travel, position) == pytest.approx(angle)
        assert position_at_deg(spec.travel, angle) == pytest.approx(position)


@pytest.mark.parametrize(("clock", "angle", "at_300", "at_270", "at_280"), CLOCK_ROWS)
def test_the_printed_zero_to_ten_is_a_tenth_of_the_percentage(
    clock: str, angle: float, at_300: float, at_270: float | None, at_280: float | None
) -> None:
    for sweep, percent in ((300, at_300), (270, at_270)):
        if percent is not None:
            assert read(knob(RangeScale(0, 10), sweep), clock).value == pytest.approx(percent / 10, abs=0.005)


def test_nine_o_clock_is_two_on_one_panel_and_one_point_seven_on_another() -> None:
    assert read(knob(RangeScale(0, 10), 300), "9:00").value == pytest.approx(2.0)
    assert read(knob(RangeScale(0, 10), 270), "9:00").value == pytest.approx(1.67, abs=0.005)


def test_one_to_ten_has_its_centre_at_five_and_a_half() -> None:
    assert value_at(knob(RangeScale(1, 10)), 0.5) == pytest.approx(5.5)
    for percent in (0, 25, 65, 100):
        assert value_at(knob(RangeScale(1, 10)), percent / 100) == pytest.approx(1 + 9 * percent / 100)


def test_a_centre_zero_scale_of_five_each_way() -> None:
    for percent in (0, 30, 50, 100):
        assert value_at(knob(RangeScale(-5, 5)), percent / 100) == pytest.approx(percent / 10 - 5)


@pytest.mark.parametrize("number", range(11))
def test_on_a_300_degree_travel_the_dial_number_is_the_clock_hour_less_seven(number: int) -> None:
    hour = (7 + number - 1) % 12 + 1
    position = read(knob(RangeScale(0, 10)), str(number)).position
    assert position is not None
    texts = [reading.text for reading in readings(knob(RangeScale(0, 10)), position)]
    assert f"{hour}:00" in texts


def test_the_default_travel_is_300_degrees_from_7_to_5_o_clock() -> None:
    travel = Travel()
    assert travel.sweep_deg == 300
    assert (clock_text(travel.start_deg), clock_text(travel.end_deg)) == ("7:00", "5:00")


@pytest.mark.parametrize(("sweep", "error_percent"), [(300, 1.7), (270, 1.9)])
def test_five_degrees_of_reading_error(sweep: float, error_percent: float) -> None:
    travel = travel_of(sweep)
    error = position_at_deg(travel, 5) - position_at_deg(travel, 0)
    assert error * 100 == pytest.approx(error_percent, abs=0.05)


@pytest.mark.parametrize(("sweep", "hour_percent"), [(300, 10.0), (270, 11.1)])
def test_one_clock_hour_of_travel(sweep: float, hour_percent: float) -> None:
    travel = travel_of(sweep)
    assert (position_at_deg(travel, 30) - position_at_deg(travel, 0)) * 100 == pytest.approx(
        hour_percent, abs=0.05
    )


def test_two_percent_outside_the_travel_is_taken_as_its_end_and_more_is_refused() -> None:
    spec = knob(PercentScale())
    assert read(spec, "102 %").position == 1.0
    assert read(spec, "-2 %").position == 0.0
    for text in ("103 %", "-3 %"):
        with pytest.raises(UnknownReading, match="lies outside"):
            read(spec, text)
