from math import inf, nan
from xml.etree.ElementTree import Element

import pytest
from hypothesis import given
from hypothesis import strategies as st
from svg_reader import numbers, pointer, read_sound, words_in

from app.drawings.marks import LARGE, control_mark
from app.trade.scales import ClockScale, ControlSpec, Form, MarkScale, PercentScale, RangeScale, Scale
from app.trade.travel import Travel, angle_deg

TREBLE = ControlSpec("Treble", "knob", RangeScale(0, 10))
NARROW = ControlSpec("Drive", "knob", RangeScale(0, 10), travel=Travel(-135, 135))
LEVEL = ControlSpec("Level", "fader", RangeScale(-60, 10, "dB"))
RATIO = ControlSpec("Ratio", "selector", positions=("2:1", "4:1", "8:1"))
BRIGHT = ControlSpec("Bright", "switch", positions=("off", "on"))


def turn_deg(root: Element) -> float:
    transform = pointer(root).get("transform") or ""
    assert transform.startswith("rotate(")
    return numbers(transform)[0]


@pytest.mark.parametrize(
    ("spec", "position", "expected_deg"),
    [
        (TREBLE, 0.0, -150.0),
        (TREBLE, 0.5, 0.0),
        (TREBLE, 0.65, 45.0),
        (TREBLE, 1.0, 150.0),
        (NARROW, 0.0, -135.0),
        (NARROW, 1.0, 135.0),
        (RATIO, 0.5, 0.0),
        (RATIO, 1.0, 150.0),
    ],
)
@pytest.mark.parametrize("size", [20, 64])
def test_a_pointer_turns_to_the_angle_of_its_position(
    spec: ControlSpec, position: float, expected_deg: float, size: int
) -> None:
    assert turn_deg(read_sound(control_mark(spec, position, size=size))) == expected_deg


def test_a_large_dial_points_where_the_small_one_does() -> None:
    small, large = (read_sound(control_mark(NARROW, 0.3, size=size)) for size in (22, 200))
    assert turn_deg(small) == turn_deg(large) == -54.0


def test_a_fader_rises_with_its_position() -> None:
    heights = [
        numbers(pointer(read_sound(control_mark(LEVEL, at))).get("transform") or "")[1] for at in (0, 0.5, 1)
    ]
    assert heights == [0.0, -9.0, -18.0]


def test_a_switch_slides_from_its_first_position_to_its_last() -> None:
    shifts = [
        numbers(pointer(read_sound(control_mark(BRIGHT, at))).get("transform") or "")[0] for at in (0, 1)
    ]
    assert shifts == [0.0, 11.0]


@pytest.mark.parametrize("spec", [TREBLE, LEVEL, RATIO, BRIGHT])
def test_a_control_that_is_not_set_shows_no_pointer(spec: ControlSpec) -> None:
    root = read_sound(control_mark(spec, None))
    assert pointer(root).get("visibility") == "hidden"
    assert pointer(read_sound(control_mark(spec, 0.5))).get("visibility") is None


@pytest.mark.parametrize("position", [nan, inf, -inf])
def test_a_position_that_is_no_number_counts_as_not_set(position: float) -> None:
    assert control_mark(TREBLE, position) == control_mark(TREBLE, None)


def test_a_changed_control_is_drawn_in_heavier_ink() -> None:
    kept, changed = (read_sound(control_mark(TREBLE, 0.5, changed=changed)) for changed in (False, True))
    assert float(pointer(changed).get("stroke-width") or 0) > float(pointer(kept).get("stroke-width") or 0)
    assert "is-changed" in (changed.get("class") or "")


def test_the_finding_says_the_reading() -> None:
    assert control_mark(TREBLE, 0.65, changed=True).finding == "Treble: 6.5, changed"
    assert control_mark(RATIO, 0.5).finding == "Ratio: 4:1"
    assert control_mark(TREBLE, None).finding == "Treble: no position"


def test_a_mark_is_hidden_from_screen_readers_because_its_reading_stands_beside_it() -> None:
    assert read_sound(control_mark(TREBLE, 0.5)).get("aria-hidden") == "true"


def test_a_large_dial_has_its_scale_written_round_it() -> None:
    assert words_in(read_sound(control_mark(TREBLE, 0.65, size=200))) == [str(number) for number in range(11)]
    clock = ControlSpec("Fuzz", "knob", ClockScale())
    hours = [str(hour) for hour in (7, 8, 9, 10, 11, 12, 1, 2, 3, 4, 5)]
    assert words_in(read_sound(control_mark(clock, 0.5, size=200))) == hours
    delay = ControlSpec("Time", "knob", MarkScale("ms", ((20, 0.0), (120, 0.5), (600, 1.0))))
    assert words_in(read_sound(control_mark(delay, 0.5, size=200))) == ["20", "120", "600"]


def test_a_small_mark_carries_no_letters() -> None:
    assert words_in(read_sound(control_mark(TREBLE, 0.65, size=LARGE - 1))) == []


def test_a_large_switch_names_its_positions_and_marks_the_chosen_one() -> None:
    root = read_sound(control_mark(RATIO, 0.5, size=120))
    bold = [text.text for text in root.iter() if text.get("font-weight") == "700"]
    assert words_in(root) == ["2:1", "4:1", "8:1"]
    assert bold == ["4:1"]


def test_a_selector_of_a_hundred_positions_shows_those_about_the_chosen_one() -> None:
    many = ControlSpec("Preset", "selector", positions=tuple(f"Sound {number}" for number in range(1, 101)))
    shown = words_in(read_sound(control_mark(many, 49 / 99, size=200)))
    assert len(shown) == 8
    assert "Sound 50" in shown


def test_a_hostile_name_stays_words() -> None:
    hostile = ControlSpec(
        "Mode", "switch", positions=("</svg><script>alert(1)</script>", "\"' onload=x &amp;")
    )
    drawing = control_mark(hostile, 0.0, size=200)
    root = read_sound(drawing)
    assert "<script" not in drawing.svg
    assert any(word.startswith("</svg>") for word in words_in(root))


def scales(form: Form) -> st.SearchStrategy[Scale]:
    ends = st.tuples(st.floats(-1e6, 1e6), st.floats(-1e6, 1e6)).filter(
        lambda pair: abs(pair[0] - pair[1]) > 1e-5
    )
    ranges = ends.map(lambda pair: RangeScale(*pair))
    return st.one_of(ranges, st.just(PercentScale()), *([st.just(ClockScale())] if form == "knob" else []))


@st.composite
def controls(draw: st.DrawFn) -> ControlSpec:
    form: Form = draw(st.sampled_from(("knob", "fader", "selector", "switch", "number", "text")))
    start = draw(st.floats(-360, 0))
    travel = Travel(start, start + draw(st.floats(10, 350)))
    if form in ("knob", "fader"):
        return ControlSpec("Any", form, draw(scales(form)), travel)
    if form in ("selector", "switch"):
        names = draw(st.integers(2, 100).map(lambda count: tuple(f"At {number}" for number in range(count))))
        return ControlSpec("Any", form, None, travel, names)
    return ControlSpec("Any", form)


@given(controls(), st.none() | st.floats(), st.booleans(), st.integers(1, 5000))
def test_any_control_at_any_position_and_size_is_a_sound_drawing(
    spec: ControlSpec, position: float | None, changed: bool, size: int
) -> None:
    root = read_sound(control_mark(spec, position, changed=changed, size=size))
    assert root.get("width") == root.get("height") == str(size)


@given(st.floats(0, 1), st.floats(-360, 0), st.floats(10, 350))
def test_a_dial_points_where_the_trade_says(position: float, start_deg: float, sweep_deg: float) -> None:
    travel = Travel(start_deg, start_deg + sweep_deg)
    spec = ControlSpec("Any", "knob", PercentScale(), travel)
    assert turn_deg(read_sound(control_mark(spec, position))) == pytest.approx(
        angle_deg(travel, position), abs=0.0051
    )
