from itertools import combinations
from math import inf, nan

import pytest
from hypothesis import given
from hypothesis import strategies as st
from svg_reader import SVG, label_boxes, of_class, points, read_sound, words_in

from app.drawings.waveform import Fault, waveform

HALF_SCALE = [(-0.5, 0.5)] * 1200
FAULTS = [Fault(12.0, "clips"), Fault(40.0, "dropout of 3 ms"), Fault(118.0, "ends 4.2 s before the source")]


def test_the_finding_says_length_peak_and_every_fault() -> None:
    finding = waveform(HALF_SCALE, 121.4, faults=FAULTS).finding
    assert finding.startswith("Waveform of 2:01.4, highest sample −6.0 dBFS.")
    assert "at 0:12.0 clips; at 0:40.0 dropout of 3 ms; at 1:58.0 ends" in finding


def test_a_fault_stands_where_it_happens() -> None:
    root = read_sound(waveform(HALF_SCALE, 100.0, faults=[Fault(0, "a"), Fault(50, "b"), Fault(100, "c")]))
    xs = [float(flag.findall(f"{SVG}line")[0].get("x1") or 0) for flag in of_class(root, "flag")]
    assert xs[1] - xs[0] == pytest.approx(xs[2] - xs[1])
    outline = points(of_class(root, "columns")[0])
    assert xs[0] == min(x for x, _ in outline)
    assert xs[2] == max(x for x, _ in outline)


def test_the_waveform_keeps_every_extreme_when_columns_are_merged() -> None:
    columns = [(-0.01, 0.01)] * 5000
    columns[3777] = (-0.5, 0.9)
    ys = [
        y
        for _, y in points(of_class(read_sound(waveform(columns, 10.0, width=400, height=140)), "columns")[0])
    ]
    middle = (8 + 140 - 22) / 2
    half = middle - 8 - 2
    assert min(ys) == pytest.approx(middle - half * 0.9, abs=0.6)
    assert max(ys) == pytest.approx(middle + half * 0.5, abs=0.6)


def test_a_quiet_print_is_drawn_at_a_range_that_shows_it_and_says_so() -> None:
    assert "−40" in words_in(read_sound(waveform([(-0.009, 0.009)] * 100, 5.0)))
    assert "0" in words_in(read_sound(waveform([(-1.0, 1.0)] * 100, 5.0)))


def test_samples_above_full_scale_stay_on_the_paper() -> None:
    root = read_sound(waveform([(-2.0, 2.0)] * 100, 5.0, height=140))
    assert "+6" in words_in(root)
    assert all(8 <= y <= 118 for _, y in points(of_class(root, "columns")[0]))


def test_times_are_written_under_the_line() -> None:
    assert {"0:00", "0:30", "1:00"} <= set(words_in(read_sound(waveform(HALF_SCALE, 121.4))))
    assert "0:00.2" in words_in(read_sound(waveform(HALF_SCALE, 1.3)))


@pytest.mark.parametrize("width", [343, 720])
@pytest.mark.parametrize("spacing_s", [0.01, 0.4, 4.0, 20.0])
def test_the_words_of_crowded_faults_do_not_overlap_and_none_is_lost(width: int, spacing_s: float) -> None:
    faults = [Fault(spacing_s * k, f"clips in place {k}") for k in range(30)]
    drawing = waveform(HALF_SCALE, 121.4, faults=faults, width=width)
    root = read_sound(drawing)
    assert len(of_class(root, "flag")) == 30
    assert "clips in place 29" in drawing.finding
    boxes = [box for box in label_boxes(root) if box[4].startswith("clips")]
    for (l1, t1, r1, b1, _), (l2, t2, r2, b2, _) in combinations(boxes, 2):
        assert r1 <= l2 or r2 <= l1 or b1 <= t2 or b2 <= t1
    for flag in of_class(root, "flag"):
        (stem,) = flag.findall(f"{SVG}line")
        x, top = float(stem.get("x1") or 0), float(stem.get("y1") or 0)
        assert not any(left + 1 < x < right - 1 and bottom > top + 2 for left, _, right, bottom, _ in boxes)


def test_silence_and_nothing_are_told_apart() -> None:
    assert "no sample above zero" in waveform([(0.0, 0.0)] * 10, 1.0).finding
    assert words_in(read_sound(waveform([], 1.0))) == ["No waveform to draw"]


def test_the_words_of_a_fault_stay_words() -> None:
    drawing = waveform(HALF_SCALE, 10.0, faults=[Fault(1.0, "<script>alert('x')</script> & \x00")])
    read_sound(drawing)
    assert "<script" not in drawing.svg


samples = st.floats(-8, 8) | st.sampled_from([nan, inf, -inf])


@given(
    st.lists(st.tuples(samples, samples), max_size=50),
    st.floats(),
    st.lists(st.tuples(st.floats(), st.text()), max_size=12),
    st.integers(-5, 4000),
    st.integers(-5, 4000),
)
def test_any_columns_and_faults_make_a_sound_drawing(
    columns: list[tuple[float, float]],
    duration_s: float,
    faults: list[tuple[float, str]],
    width: int,
    height: int,
) -> None:
    read_sound(
        waveform(columns, duration_s, faults=[Fault(*fault) for fault in faults], width=width, height=height)
    )
