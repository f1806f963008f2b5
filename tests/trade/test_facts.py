import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.trade.facts import ControlFact, Range, as_settings, fact_of, range_of, read_facts, split
from app.trade.scales import ClockScale, ControlSpec, RangeScale

FUZZ = ControlSpec("Fuzz", "knob", ClockScale())
TREBLE = ControlSpec("Treble", "knob", RangeScale(0, 10))
CUT = ControlSpec("Cut", "knob", RangeScale(10, 0))
MAINS = ControlSpec("Mains", "number", unit="V")
BRIGHT = ControlSpec("Bright", "switch", positions=("off", "on"))


@pytest.mark.parametrize(
    ("typed", "fact"),
    [
        ("fuzz above noon", ControlFact("fuzz", "above", "noon")),
        ("silicon fuzz level under 3", ControlFact("silicon fuzz level", "below", "3")),
        ("treble between 3 and 5", ControlFact("treble", "between", "3", "5")),
        ("gain around half past 2", ControlFact("gain", "about", "half past 2")),
        ("Trim MORE THAN −3 dB", ControlFact("Trim", "above", "−3 dB")),
    ],
)
def test_a_control_a_relation_and_a_reading_are_a_fact(typed: str, fact: ControlFact) -> None:
    assert fact_of(typed) == fact


@pytest.mark.parametrize("typed", ["rain over tin", "boathouse", "look at 3", "above noon", "under", ""])
def test_anything_else_is_words(typed: str) -> None:
    assert fact_of(typed) is None


def test_words_and_facts_are_told_apart_at_the_commas() -> None:
    assert split("boathouse, fuzz above noon, left") == (
        "boathouse left",
        (ControlFact("fuzz", "above", "noon"),),
    )


def test_where_only_facts_are_meant_anything_else_is_refused_with_an_example() -> None:
    assert read_facts("bright at on")[0].relation == "at"
    with pytest.raises(ValueError, match="such as: fuzz above noon"):
        read_facts("fuzz above noon, much treble")


def test_above_noon_leaves_noon_itself_out() -> None:
    meant = range_of(FUZZ, ControlFact("fuzz", "above", "noon"))
    assert meant is not None
    assert 0.5 < meant.low < 0.5001


def test_above_on_a_scale_that_falls_is_the_lower_part_of_its_travel() -> None:
    meant = range_of(CUT, ControlFact("cut", "above", "8"))
    assert meant is not None
    assert meant.low == float("-inf")
    assert meant.high == pytest.approx(0.2, abs=1e-4)


def test_a_number_without_travel_is_compared_by_its_value() -> None:
    assert range_of(MAINS, ControlFact("mains", "between", "220", "240 V")) == Range(220, 240)


def test_a_switch_is_found_at_its_position() -> None:
    meant = range_of(BRIGHT, ControlFact("bright", "at", "on"))
    assert meant is not None
    assert meant.low < 1 < meant.high


def test_a_reading_that_the_control_cannot_have_means_nothing_of_it() -> None:
    assert range_of(TREBLE, ControlFact("treble", "above", "11")) is None


@given(st.floats(0, 1), st.sampled_from(["above", "below"]))
def test_above_and_below_a_position_never_meet(position: float, relation: str) -> None:
    reading = f"{position * 10:.3f}"
    above = range_of(TREBLE, ControlFact("treble", "above", reading))
    below = range_of(TREBLE, ControlFact("treble", "below", reading))
    assert above is not None
    assert below is not None
    assert below.high < above.low


@given(st.text(max_size=60))
def test_whatever_is_typed_is_taken_apart(text: str) -> None:
    words, facts = split(text)
    assert all(fact.control and fact.reading for fact in facts)
    assert not any(part.strip() in words for part in (fact.text for fact in facts) if "," in part)


@pytest.mark.parametrize(
    ("typed", "facts"),
    [
        ("treble 5.5", [("treble", "5.5")]),
        ("amp treble 5.5, gain noon", [("amp treble", "5.5"), ("gain", "noon")]),
        ("treble at 5.5", [("treble", "5.5")]),
        ("drive just past 2", [("drive", "just past 2")]),
        ("boathouse", []),
        ("treble 5.5, boathouse", []),
        ("7 strings", []),
        ("", []),
    ],
)
def test_what_is_typed_as_one_jots_it_can_be_facts(typed: str, facts: list[tuple[str, str]]) -> None:
    assert [(fact.control, fact.reading) for fact in as_settings(typed)] == facts
    assert all(fact.relation == "about" for fact in as_settings(typed))
