import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.trade.scales import (
    ClockScale,
    ControlSpec,
    MarkScale,
    PercentScale,
    RangeScale,
    Scale,
    spec_from_json,
    spec_to_json,
)
from app.trade.travel import Travel, angle_deg, position_at_deg

SCALES: list[Scale] = [
    ClockScale(),
    PercentScale(),
    RangeScale(-15, 15, "dB"),
    MarkScale("ms", ((20, 0), (120, 0.5), (600, 1))),
]


@pytest.mark.parametrize("scale", SCALES)
def test_a_control_survives_the_round_trip_through_json(scale: Scale) -> None:
    spec = ControlSpec("Presence", "knob", scale, Travel(-135, 135))
    assert spec_from_json(json.loads(json.dumps(spec_to_json(spec)))) == spec


@given(st.text(min_size=1, max_size=20).filter(str.strip), st.floats(-170, 0), st.floats(10, 349))
def test_names_and_travels_survive_the_round_trip(name: str, start: float, sweep: float) -> None:
    spec = ControlSpec(name, "knob", ClockScale(), Travel(start, start + sweep))
    assert spec_from_json(json.loads(json.dumps(spec_to_json(spec)))) == spec


def test_selectors_and_numbers_survive_the_round_trip() -> None:
    for spec in (
        ControlSpec("Voice", "selector", positions=("Clean", "Lead")),
        ControlSpec("Low cut", "number", unit="Hz"),
        ControlSpec("Remark", "text"),
    ):
        assert spec_from_json(json.loads(json.dumps(spec_to_json(spec)))) == spec


def changed(**fields: Any) -> dict[str, Any]:
    return spec_to_json(ControlSpec("Gain", "knob", RangeScale(0, 10))) | fields


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (None, "exactly these keys"),
        ([], "exactly these keys"),
        ({}, "exactly these keys"),
        (changed(colour="red"), "exactly these keys"),
        (changed(form="joystick"), "one of: knob"),
        (changed(form=3), "must be text"),
        (changed(name=""), "name of 1 to 80"),
        (changed(scale={"kind": "spiral"}), "one of: clock"),
        (changed(scale="clock"), "one of: clock"),
        (changed(scale={"kind": "clock", "low": 0}), "exactly these keys"),
        (changed(scale={"kind": "range", "low": "0", "high": 10, "unit": ""}), "must be a number"),
        (changed(scale={"kind": "range", "low": True, "high": 10, "unit": ""}), "must be a number"),
        (changed(scale={"kind": "range", "low": float("nan"), "high": 10, "unit": ""}), "must be a number"),
        (changed(scale={"kind": "range", "low": 5, "high": 5, "unit": ""}), "must differ"),
        (changed(scale={"kind": "marks", "unit": "ms", "marks": [[1, 0]]}), "at least two"),
        (changed(scale={"kind": "marks", "unit": "ms", "marks": [[1, 0], [2]]}), "a value and a position"),
        (
            changed(scale={"kind": "marks", "unit": "ms", "marks": [[1, 0.5], [2, 0.2]]}),
            "order of their position",
        ),
        (
            changed(scale={"kind": "marks", "unit": "ms", "marks": [[1, 0], [3, 0.5], [2, 1]]}),
            "rise all the way",
        ),
        (changed(scale={"kind": "marks", "unit": "ms", "marks": {"a": 1}}), "must be a list"),
        (
            changed(scale={"kind": "marks", "unit": "%", "marks": [[0, 0.1], [100, 1]]}),
            "one end of the travel",
        ),
        (changed(scale=None), "needs a scale"),
        (changed(travel={"start_deg": 0, "end_deg": 0}), "10 to 350"),
        (changed(travel={"start_deg": 0, "end_deg": 1e9}), "between -360 and 360"),
        (changed(travel={"start_deg": 0}), "exactly these keys"),
        (changed(positions=["a", "b"]), "no named positions"),
        (changed(unit="dB"), "belongs to its scale"),
        (changed(scale={"kind": "range", "low": 0, "high": 1, "unit": "4 x"}), "short symbol"),
    ],
)
def test_an_unknown_shape_is_refused_with_a_sentence(data: object, sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        spec_from_json(data)


@pytest.mark.parametrize(
    ("positions", "sentence"),
    [
        ((), "2 to 100"),
        (("one",), "2 to 100"),
        (("On", "on"), "same name"),
        (("On", " "), "1 to 80 characters"),
    ],
)
def test_a_selector_needs_distinct_named_positions(positions: tuple[str, ...], sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        ControlSpec("Voice", "selector", positions=positions)


def test_a_fader_cannot_be_read_as_a_clock() -> None:
    with pytest.raises(ValueError, match="does not turn"):
        ControlSpec("Level", "fader", ClockScale())


@given(st.floats(0, 1), st.floats(-180, 0), st.floats(10, 350))
def test_angle_and_position_are_inverse(position: float, start: float, sweep: float) -> None:
    travel = Travel(start, start + sweep)
    assert position_at_deg(travel, angle_deg(travel, position)) == pytest.approx(position, abs=1e-9)
    assert position_at_deg(travel, angle_deg(travel, position) + 360) == pytest.approx(position, abs=1e-9)
