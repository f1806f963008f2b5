from math import inf, nan

import pytest
from hypothesis import given
from hypothesis import strategies as st
from svg_reader import SVG, of_class, points, read_sound, words_in

from app.drawings.waveform import Fault
from app.drawings.waveforms import Laid, waveforms

LOUD, QUIET = [(-0.5, 0.5)] * 1200, [(-0.125, 0.25)] * 1200


def test_every_print_is_drawn_on_the_scale_of_the_loudest() -> None:
    root = read_sound(waveforms([Laid("Pass 3", LOUD), Laid("Pass 4", QUIET)], 100.0))
    loud, quiet = ([points(line) for line in each.iter(f"{SVG}polyline")] for each in of_class(root, "laid"))
    (loud_top, loud_bottom), (quiet_top, quiet_bottom) = (
        [line[0][1] for line in each] for each in (loud, quiet)
    )
    middle = (loud_top + loud_bottom) / 2
    assert middle - quiet_top == pytest.approx((middle - loud_top) / 2, abs=0.1)
    assert quiet_bottom - middle == pytest.approx((middle - loud_top) / 4, abs=0.1)
    assert {"1", "2", "Pass 3", "Pass 4", "−6"} <= set(words_in(root)), (
        "numbers tell them apart, and one level is written"
    )


def test_they_differ_in_stroke_and_the_one_beneath_alone_is_filled() -> None:
    root = read_sound(waveforms([Laid("one", LOUD), Laid("two", LOUD), Laid("three", LOUD)], 10.0, ground=1))
    strokes = set()
    for each in of_class(root, "laid"):
        line = next(each.iter(f"{SVG}polyline"))
        strokes.add((line.get("stroke-width"), line.get("stroke-dasharray")))
    assert len(strokes) == 3
    assert [len(list(each.iter(f"{SVG}polygon"))) for each in of_class(root, "laid")] == [0, 1, 0]


def test_a_line_ends_where_its_print_ends_and_is_broken_where_it_holds_nothing() -> None:
    whole, gap = LOUD, [*LOUD[:300], *[None] * 300, *LOUD[600:900], *[None] * 300]
    root = read_sound(waveforms([Laid("whole", whole), Laid("gap", gap)], 100.0))
    first, second = (
        [points(line) for line in each.iter(f"{SVG}polyline")] for each in of_class(root, "laid")
    )
    assert (len(first), len(second)) == (2, 4)
    left, right = first[0][0][0], first[0][-1][0]
    assert second[-1][-1][0] - left == pytest.approx((right - left) * 0.75, abs=6)


def test_a_fault_is_marked_with_the_number_of_its_print_and_said() -> None:
    drawing = waveforms([Laid("one", LOUD), Laid("two", LOUD, [Fault(50.0, "clips")])], 100.0)
    assert "2: clips" in words_in(read_sound(drawing))
    assert drawing.finding == (
        "Waveforms on one scale. 1, one: highest sample −6.0 dBFS. 2, two: highest sample −6.0 dBFS, at 0:50.0 clips."
    )


def test_the_line_of_what_is_heard_stands_at_the_start_of_the_time_line() -> None:
    root = read_sound(waveforms([Laid("one", LOUD)], 100.0))
    left, right, seconds = map(float, str(root.get("data-heard")).split())
    (heard,) = of_class(root, "heard-now")
    assert (float(heard.get("x1") or 0), heard.get("visibility"), seconds) == (left, "hidden", 100.0)
    assert right > left


samples = st.floats(-8, 8) | st.sampled_from([nan, inf, -inf])
columns = st.lists(st.none() | st.tuples(samples, samples), max_size=50)
faults = st.lists(st.builds(Fault, st.floats(), st.text()), max_size=5)


@given(st.lists(st.builds(Laid, st.text(), columns, faults), max_size=9), st.floats(), st.integers(-5, 2000))
def test_any_prints_make_a_sound_drawing(prints: list[Laid], length_s: float, width: int) -> None:
    read_sound(waveforms(prints, length_s, width=width))
