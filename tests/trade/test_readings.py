from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.trade.readings import UnknownReading, accepts, detents, read, readings, show
from app.trade.scale_values import range_step, value_at
from app.trade.scales import ClockScale, ControlSpec, MarkScale, PercentScale, RangeScale, Scale
from app.trade.travel import Travel

GAIN = ControlSpec("Gain", "knob", RangeScale(0, 10))
TONE = ControlSpec("Tone", "knob", ClockScale())
MIDDLE = ControlSpec("Middle", "knob", RangeScale(-15, 15, "dB"))
TIME = ControlSpec("Time", "knob", MarkScale("ms", ((20, 0), (120, 0.5), (600, 1))))
FADER = ControlSpec("Fader", "fader", MarkScale("dB", ((-60, 0), (-20, 0.4), (0, 0.8), (10, 1))))
BLEND = ControlSpec("Blend", "fader", PercentScale())
VOICE = ControlSpec("Voice", "selector", positions=("Clean", "Crunch", "Lead"))
BRIGHT = ControlSpec("Bright", "switch", positions=("off", "on"))
LOW_CUT = ControlSpec("Low cut", "number", unit="Hz")
REMARK = ControlSpec("Remark", "text")


@pytest.mark.parametrize(
    ("spec", "text", "position"),
    [
        (GAIN, "2:30", 0.75),
        (GAIN, "half past 2", 0.75),
        (GAIN, "quarter to 3", 0.775),
        (GAIN, "quarter past nine", 0.225),
        (GAIN, "2 o'clock", 0.7),
        (GAIN, "2 o’clock", 0.7),
        (GAIN, "noon", 0.5),
        (GAIN, "straight up", 0.5),
        (GAIN, "6.5", 0.65),
        (GAIN, "6,5", 0.65),
        (GAIN, " 6.5 ", 0.65),
        (GAIN, "six and a half", 0.65),
        (GAIN, "2½", 0.25),
        (GAIN, "65 %", 0.65),
        (GAIN, "65 percent", 0.65),
        (GAIN, "max", 1.0),
        (GAIN, "MAX", 1.0),
        (GAIN, "full", 1.0),
        (GAIN, "fully clockwise", 1.0),
        (GAIN, "min", 0.0),
        (GAIN, "off", 0.0),
        (GAIN, "zero", 0.0),
        (GAIN, "fully anti-clockwise", 0.0),
        (GAIN, "half", 0.5),
        (GAIN, "middle", 0.5),
        (GAIN, "three quarters", 0.75),
        (GAIN, "twenty-five to three", 0.7 + 35 / 600),
        (GAIN, "5 to 3", 0.8 - 5 / 600),
        (GAIN, "7/10", 0.7),
        (GAIN, "5.5 out of 10", 0.55),
        (MIDDLE, "minus three and a half", 11.5 / 30),
        (MIDDLE, "plus 3 dB", 0.6),
        (MIDDLE, "unity", 0.5),
        (FADER, "unity", 0.8),
        (FADER, "−∞", 0.0),
        (TONE, "5 to 3", 0.8 - 5 / 600),
        (TONE, "ten to noon", 0.5 - 10 / 600),
        (TONE, "2", 0.7),
        (TONE, "12", 0.5),
        (TONE, "2.30", 0.75),
        (TONE, "2.5", 0.75),
        (TONE, "2 30", 0.75),
        (TONE, "five past two", 0.7 + 5 / 600),
        (TONE, "5 to noon", 0.5 - 5 / 600),
        (TONE, "ten till 3", 0.8 - 10 / 600),
        (TONE, "0", 0.0),
        (MIDDLE, "+3 dB", 0.6),
        (MIDDLE, "+3", 0.6),
        (MIDDLE, "−3", 0.4),
        (MIDDLE, "–3 dB", 0.4),
        (MIDDLE, "−3,5 dB", 11.5 / 30),
        (MIDDLE, "flat", 0.5),
        (MIDDLE, "centre", 0.5),
        (MIDDLE, "center", 0.5),
        (MIDDLE, "zero", 0.5),
        (TIME, "120 ms", 0.5),
        (TIME, "120", 0.5),
        (TIME, "0.12 s", 0.5),
        (TIME, "0,12 s", 0.5),
        (TIME, "noon", 0.5),
        (TIME, "600ms", 1.0),
        (BLEND, "65", 0.65),
        (BLEND, "65 %", 0.65),
        (BLEND, "all the way up", 1.0),
        (VOICE, "lead", 1.0),
        (VOICE, "cr", 0.5),
        (VOICE, "2", 0.5),
        (VOICE, "position 2", 0.5),
        (VOICE, "3 of 3", 1.0),
        (BRIGHT, "ON", 1.0),
        (BRIGHT, "off", 0.0),
    ],
)
def test_a_reading_names_a_position(spec: ControlSpec, text: str, position: float) -> None:
    reading = read(spec, text)
    assert reading.position == pytest.approx(position, abs=1e-8)
    assert reading.text == text.strip()
    assert not reading.approximate


@pytest.mark.parametrize(
    ("spec", "text", "position"),
    [
        (TONE, "just past 2", 0.71),
        (TONE, "a bit before noon", 0.48),
        (TONE, "nearly 3", 0.79),
        (TONE, "just past half past 2", 0.76),
        (TONE, "halfway between 2 and 3", 0.75),
        (TONE, "2-3", 0.75),
        (TONE, "2 to 3", 0.75),
        (TONE, "noonish", 0.5),
        (MIDDLE, "-4 to -2", 0.4),
        (GAIN, "4 to 5", 0.45),
        (GAIN, "four to five", 0.45),
        (GAIN, "between 1 and 2 o'clock", 0.65),
        (GAIN, "between half past 2 and 3 o'clock", 0.775),
        (GAIN, "2 to 3 o'clock", 0.75),
        (GAIN, "just a hair past noon", 0.51),
        (TONE, "just before min", 0.0),
        (GAIN, "just past 2 o'clock", 0.71),
        (GAIN, "just past 2", 0.21),
        (GAIN, "about 7", 0.7),
        (GAIN, "~7", 0.7),
        (GAIN, "7ish", 0.7),
        (GAIN, "7 or so", 0.7),
        (GAIN, "between 6 and 7", 0.65),
        (MIDDLE, "just over 3 dB", 0.61),
        (MIDDLE, "a touch under flat", 0.49),
        (TIME, "≈ 360 ms", 0.75),
        (TIME, "360 ms", 0.75),
    ],
)
def test_a_rough_reading_names_a_position_and_says_that_it_is_rough(
    spec: ControlSpec, text: str, position: float
) -> None:
    reading = read(spec, text)
    assert reading.position == pytest.approx(position)
    assert reading.approximate


def test_over_and_under_follow_the_printed_numbers_on_a_falling_scale() -> None:
    pad = ControlSpec("Pad", "knob", RangeScale(0, -40, "dB"))
    assert read(pad, "just over -20 dB").position == pytest.approx(0.49)
    assert read(pad, "just past -20 dB").position == pytest.approx(0.51)


@pytest.mark.parametrize(
    ("spec", "text", "sentence"),
    [
        (GAIN, "6:00", "This knob runs from 7:00 to 5:00; 6:00 lies outside. Write a clock position, 0 to 10, or a percentage."),
        (GAIN, "12", "This knob's scale runs from 0 to 10; 12 lies outside. Write a clock position, 0 to 10, or a percentage."),
        (GAIN, "loud", "“loud” is not a reading of this knob. Write a clock position, 0 to 10, or a percentage."),
        (GAIN, "-3", "This knob's scale runs from 0 to 10; −3 lies outside. Write a clock position, 0 to 10, or a percentage."),
        (TONE, "2.50", "Is 2.50 the clock position 2:50, or 2 and a part? Use a colon. Write a clock position or a percentage."),
        (TONE, "half 2", "“half 2” means half past to some and half to for others; write it as 2:30. Write a clock position or a percentage."),
        (GAIN, "1/2", "“1/2” could be a part of the turn or of the scale. Write a clock position, 0 to 10, or a percentage."),
        (TONE, "10 to 11", "Is that between the two, or the clock position 10:50? Write 10:30 or 10:50. Write a clock position or a percentage."),
        (MIDDLE, "off", "“off” is not a reading of this knob. Write a clock position, −15 to 15 dB, or a percentage."),
        (MIDDLE, "3 dBu", "“dBu” is not a unit of this; it is dB. Write a clock position, −15 to 15 dB, or a percentage."),
        (TIME, "10 ms", "This knob's scale runs from 20 to 600 ms; 10 ms lies outside. Write a clock position, 20 to 600 ms, or a percentage."),
        (BLEND, "2:30", "“2:30” is a clock position, and a fader does not turn. Write a percentage."),
        (BLEND, "120", "This fader's scale runs from 0 to 100 %; 120 % lies outside. Write a percentage."),
        (VOICE, "c", "“c” could be any of Clean, Crunch. Choose one of: Clean, Crunch, Lead."),
        (VOICE, "4", "“4” is not a position of this selector. Choose one of: Clean, Crunch, Lead."),
        (BRIGHT, "1", "“1” could mean the first position or on. Choose one of: off, on."),
        (LOW_CUT, "1,000", "Is 1,000 in thousands, or a fraction? Write 1000 or 1.0. Write a number in Hz."),
        (LOW_CUT, "80 ms", "“ms” is not a unit of this; it is Hz. Write a number in Hz."),
        (LOW_CUT, "lots", "“lots” is not a number. Write a number in Hz."),
        (REMARK, "x" * 501, "That is 501 characters; this control takes up to 500."),
        (GAIN, "7" * 81, "A reading has at most 80 characters. Write a clock position, 0 to 10, or a percentage."),
    ],
)  # fmt: skip
def test_a_reading_the_control_cannot_have_is_refused_with_a_sentence(
    spec: ControlSpec, text: str, sentence: str
) -> None:
    with pytest.raises(UnknownReading) as refusal:
        read(spec, text)
    assert str(refusal.value) == sentence


@pytest.mark.parametrize("spec", [GAIN, TONE, MIDDLE, TIME, BLEND, VOICE, BRIGHT, LOW_CUT, REMARK])
def test_empty_text_means_not_set(spec: ControlSpec) -> None:
    reading = read(spec, "  ")
    assert (reading.text, reading.position, reading.value) == ("", None, None)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("80", 80),
        ("80 Hz", 80),
        ("1.2 kHz", 1200),
        ("4k7", 4700),
        ("4k", 4000),
        ("12 khz", 12000),
        ("about 90", 90),
    ],
)
def test_a_number_is_read_in_its_unit(text: str, value: float) -> None:
    reading = read(LOW_CUT, text)
    assert reading.value == pytest.approx(value)
    assert reading.position is None


def test_a_free_text_is_kept_as_it_was_written() -> None:
    assert read(REMARK, "  tape on the\nsecond patch cable ").text == "tape on the\nsecond patch cable"


def test_one_position_is_shown_on_every_scale_its_own_first() -> None:
    assert [(r.scale, r.text) for r in readings(GAIN, 0.65)] == [
        ("0 to 10", "6.5"),
        ("clock", "1:30"),
        ("percent", "65 %"),
    ]
    assert [r.text for r in readings(TONE, 0.75)] == ["2:30", "75 %"]
    assert [r.text for r in readings(MIDDLE, 0.6)] == ["+3.0 dB", "1:00", "60 %"]
    assert [r.text for r in readings(BLEND, 0.65)] == ["65 %"]
    assert [r.text for r in readings(VOICE, 0.5)] == ["Crunch", "2 of 3"]
    assert readings(LOW_CUT, 0.5) == ()


def test_a_value_between_printed_marks_is_said_to_be_an_interpolation() -> None:
    assert show(TIME, 0.5) == "120 ms"
    assert show(TIME, 0.75) == "≈ 360 ms"


def test_beyond_the_last_printed_mark_no_value_is_made_up() -> None:
    sparse = ControlSpec("Time", "knob", MarkScale("ms", ((50, 0.2), (200, 0.8))))
    assert value_at(sparse, 0.9) is None
    assert [r.scale for r in readings(sparse, 0.9)] == ["clock", "percent"]


def test_a_number_has_no_position_to_show() -> None:
    with pytest.raises(ValueError, match="has no position"):
        show(LOW_CUT, 0.5)


def test_detents_step_as_a_hand_would() -> None:
    assert len(detents(TONE)) == 121  # 300 degrees in steps of five minutes
    assert len(detents(GAIN)) == 101
    assert len(detents(MIDDLE)) == 61
    assert len(detents(BLEND)) == 101
    assert detents(VOICE) == (0, 0.5, 1)
    assert detents(LOW_CUT) == ()
    assert 0.123 in detents(ControlSpec("Time", "knob", MarkScale("ms", ((20, 0), (30, 0.123), (90, 1)))))


@pytest.mark.parametrize(
    ("low", "high", "step"),
    [(0, 10, 0.1), (-15, 15, 0.5), (1, 12, 0.1), (0, 100, 1), (0, 1, 0.01), (-12, 12, 0.5)],
)
def test_a_range_steps_in_ones_or_fives(low: float, high: float, step: float) -> None:
    assert range_step(low, high) == pytest.approx(step)


def test_what_a_control_accepts_is_one_sentence() -> None:
    assert accepts(GAIN) == "Write a clock position, 0 to 10, or a percentage."
    assert accepts(TIME) == "Write a clock position, 20 to 600 ms, or a percentage."
    assert accepts(VOICE) == "Choose one of: Clean, Crunch, Lead."


travels = st.floats(60, 340).map(lambda sweep: Travel(-sweep / 2, sweep / 2)) | st.builds(
    lambda start, sweep: Travel(start, start + sweep), st.floats(-180, 0), st.floats(60, 340)
)
units = st.sampled_from(["", "dB", "ms", "Hz", "kHz", "s", "kΩ", "semitones", "%", "m", "bpm"])
ranges = st.builds(
    RangeScale, st.integers(-10_000, 10_000).map(float), st.integers(10_001, 30_000).map(float), units
) | st.builds(
    RangeScale, st.sampled_from([0.0, 1.0, -5.0, 0.25, 12.0]), st.sampled_from([10.0, 11.0, -40.0]), units
)


@st.composite
def mark_scales(draw: st.DrawFn) -> MarkScale:
    count = draw(st.integers(2, 6))
    values = sorted(draw(st.lists(st.integers(-2000, 5000), min_size=count, max_size=count, unique=True)))
    places = sorted(draw(st.lists(st.integers(0, 100), min_size=count, max_size=count, unique=True)))
    if draw(st.booleans()):
        values.reverse()
    unit = draw(units)
    if unit == "%":
        places[0], places[-1] = 0, 100
    return MarkScale(
        unit, tuple((float(value), place / 100) for value, place in zip(values, places, strict=True))
    )


scales: st.SearchStrategy[Scale] = st.just(ClockScale()) | st.just(PercentScale()) | ranges | mark_scales()
knobs = st.builds(lambda scale, travel: ControlSpec("Knob", "knob", scale, travel), scales, travels)
faders = st.builds(
    lambda scale: ControlSpec("Fader", "fader", scale), st.just(PercentScale()) | ranges | mark_scales()
)
selectors = st.lists(
    st.text(st.characters(categories=("L", "Nd", "Zs", "P")), min_size=1, max_size=12).filter(
        lambda name: bool(name.strip())
    ),
    min_size=2,
    max_size=12,
    unique_by=lambda name: " ".join(name.split()).casefold(),
).map(lambda names: ControlSpec("Selector", "selector", positions=tuple(names)))
controls = knobs | faders


def half_a_detent(spec: ControlSpec, position: float) -> float:
    steps = detents(spec)
    above = next(i for i, step in enumerate(steps) if step >= position)
    around = steps[max(0, above - 2) : above + 2]
    return max(after - before for before, after in pairwise(around)) / 2


@given(controls, st.floats(0, 1))
def test_every_reading_of_a_position_leads_back_to_it(spec: ControlSpec, position: float) -> None:
    finest = half_a_detent(spec, position)
    for shown in readings(spec, position):
        back = read(spec, shown.text).position
        assert read(spec, shown.text.replace(" ", "\u00a0")).position == back, "as it is copied from a page"
        assert back is not None
        slack = 0.5 / 60 * 30 / spec.travel.sweep_deg if shown.scale == "clock" else 0.0005
        assert abs(back - position) <= max(finest, slack) + 1e-6, shown


@given(controls, st.data())
def test_a_detent_reads_back_as_itself_on_its_own_scale(spec: ControlSpec, data: st.DataObject) -> None:
    steps = detents(spec)
    assert (steps[0], steps[-1]) == (0, 1)
    assert list(steps) == sorted(set(steps))
    at = data.draw(st.integers(0, len(steps) - 1))
    back = read(spec, show(spec, steps[at])).position
    assert back is not None
    assert min(steps, key=lambda step: abs(step - back)) == steps[at] or abs(back - steps[at]) < 0.005


@given(st.text(max_size=90), controls | selectors | st.just(LOW_CUT) | st.just(REMARK))
def test_any_text_is_read_or_refused_with_a_sentence(text: str, spec: ControlSpec) -> None:
    try:
        reading = read(spec, text)
    except UnknownReading:
        return
    assert reading.position is None or 0 <= reading.position <= 1


scraps = st.sampled_from([
    "half", "quarter", "past", "to", "before", "just", "a", "bit", "about", "between", "and", "noon", "o'clock",
    "%", "dB", "ms", "k", "-", "+", ":", ".", ",", "/", "1", "2", "12", "30", "0.5", "60", "99", "off", "max",
    "flat", "ish", "½", "two", "point", "~", "3/0", "-∞",
])  # fmt: skip


@given(st.lists(scraps, max_size=7), st.sampled_from([" ", ""]), controls | selectors | st.just(LOW_CUT))
def test_any_jumble_of_the_words_is_read_or_refused(words: list[str], glue: str, spec: ControlSpec) -> None:
    try:
        reading = read(spec, glue.join(words))
    except UnknownReading:
        return
    assert reading.position is None or 0 <= reading.position <= 1


@given(selectors, st.data())
def test_every_position_of_a_selector_can_be_read_by_name_and_number(
    spec: ControlSpec, data: st.DataObject
) -> None:
    step = data.draw(st.integers(0, len(spec.positions) - 1))
    position = step / (len(spec.positions) - 1)
    assert read(spec, spec.positions[step]).position == pytest.approx(position)
    for shown in readings(spec, position):
        assert read(spec, shown.text).position == pytest.approx(position)
