"""One piece of gear stands in for another: what carries over, in which way, and what is said where nothing does."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.trade.readings import read
from app.trade.scale_values import value_at
from app.trade.scales import ClockScale, ControlSpec, MarkScale, PercentScale, RangeScale, Scale
from app.trade.substitutes import Stood, answers, carry
from app.trade.travel import Travel


def knob(name: str = "Tone", scale: Scale | None = None, travel: Travel | None = None) -> ControlSpec:
    return ControlSpec(name, "knob", scale or RangeScale(0, 10), travel or Travel())


def selector(*positions: str, name: str = "Mode") -> ControlSpec:
    return ControlSpec(name, "selector", positions=positions)


def stood(spec: ControlSpec, reading: str, key: str = "k") -> Stood:
    at = read(spec, reading)
    return Stood(key, spec, at.text, at.position, at.value)


MILLISECONDS = knob("Time", MarkScale("ms", ((20, 0.0), (120, 0.5), (600, 1.0))))
SECONDS = knob("Time", RangeScale(0, 1, "s"))
BOOST = knob("Level", RangeScale(-15, 15, "dB"))
DB_FADER = ControlSpec("Level", "fader", MarkScale("dB", ((-60, 0.0), (0, 0.75), (10, 1.0))))
VOLTS = ControlSpec("Mains", "number", unit="V")

CASES = [
    # the logged control, its reading, the other control; the way, the reading, where it stands
    (knob(), "half past 2", knob("Treble"), "as it was", "half past 2", 0.75),
    (knob(), "2.5", knob(scale=ClockScale()), "by travel", "9:30", 0.25),
    (knob(), "5", knob(travel=Travel(-120, 120)), "by travel", "5.0", 0.5),
    (knob(scale=PercentScale()), "40 %", knob(), "by travel", "4.0", 0.4),
    (MILLISECONDS, "120 ms", SECONDS, "by unit", "0.12 s", 0.12),
    (SECONDS, "0.36", MILLISECONDS, "by unit", "≈ 360 ms", 0.75),
    (BOOST, "-3 dB", DB_FADER, "by unit", "≈ −3.0 dB", 0.7125),
    (DB_FADER, "0", BOOST, "by unit", "0.0 dB", 0.5),
    (VOLTS, "231 V", ControlSpec("Mains", "number", unit="mV"), "by unit", "231000 mV", None),
    (selector("low", "High"), "high", selector("HIGH", "off", "low"), "by name", "HIGH", 0.0),
]


@pytest.mark.parametrize(("was", "reading", "to", "way", "carried", "position"), CASES)
def test_a_position_carries_over(
    was: ControlSpec, reading: str, to: ControlSpec, way: str, carried: str, position: float | None
) -> None:
    found = carry(stood(was, reading), to)
    assert (found.way, found.reading) == (way, carried)
    assert found.position == (None if position is None else pytest.approx(position, abs=1e-6))


@pytest.mark.parametrize(
    ("was", "reading", "to", "says"),
    [
        (knob(), "4", selector("low", "high"), "It has no such position; it has low, high."),
        (selector("2", "3"), "2", selector("low", "high"), "It has no such position; it has low, high."),
        (selector("low", "high"), "low", knob(), "A selector tells nothing of a knob: set it by ear."),
        (knob(), "4", ControlSpec("Fine", "fader", RangeScale(0, 10)), "A knob tells nothing of a fader: set it by ear."),
        (VOLTS, "9", ControlSpec("Mains", "number", unit="A"), "The two are not in the same unit: set it by ear."),
    ],
)  # fmt: skip
def test_what_cannot_carry_over_is_said(was: ControlSpec, reading: str, to: ControlSpec, says: str) -> None:
    found = carry(stood(was, reading), to)
    assert (found.way, found.reading, found.position) == ("not", "", None)
    assert found.note == says


def test_beyond_the_other_scale_its_nearest_end_is_taken_and_said() -> None:
    found = carry(stood(BOOST, "12 dB"), DB_FADER)
    assert (found.way, found.reading, found.position) == ("by unit", "10 dB", 1.0)
    assert found.note == "12 dB lies beyond its scale; its end is the nearest."


def test_by_travel_says_that_it_is_a_place_to_start_from() -> None:
    assert carry(stood(knob(), "2"), knob(scale=ClockScale())).note.startswith("By travel")


@given(st.floats(-15, 15))
def test_a_quantity_reads_the_same_on_the_other_scale(decibels: float) -> None:
    """Wherever both scales go, the carried position has the quantity that was logged."""
    was = Stood("k", BOOST, "", (decibels + 15) / 30, decibels)
    found = carry(was, DB_FADER)
    assert found.position is not None
    assert value_at(DB_FADER, found.position) == pytest.approx(
        min(decibels, 10.0), abs=0.4 if decibels > 10 else 1e-4
    )


def test_controls_answer_by_key_then_name_then_job() -> None:
    gain = ControlSpec("Gain", "knob", RangeScale(0, 10), job="gain")
    logged = [
        stood(knob("Drive"), "3", key="drive"),
        stood(knob("Tone"), "4", key="tone"),
        stood(gain, "5", key="gain"),
        stood(knob("Sparkle"), "6", key="sparkle"),
    ]
    there = [
        ("drive", knob("Fuzz")),
        ("x", knob("tone", ClockScale())),
        ("y", ControlSpec("Input", "knob", RangeScale(0, 10), job="gain")),
        ("z", knob("Presence")),
    ]
    found = answers(logged, there)
    assert [one.key for one in found] == ["drive", "x", "y", None]
    assert [one.carried.way for one in found] == ["as it was", "by travel", "as it was", "not"]
    assert "by ear" in found[3].carried.note


def test_of_two_controls_that_could_answer_none_is_guessed() -> None:
    pads = [("a", selector("off", "on", name="Pad one")), ("b", selector("off", "on", name="Pad two"))]
    one = stood(ControlSpec("Pad", "switch", positions=("off", "on"), job="pad"), "on")
    jobs = [(key, ControlSpec(spec.name, "switch", positions=("off", "on"), job="pad")) for key, spec in pads]
    assert answers([one], jobs)[0].key is None
