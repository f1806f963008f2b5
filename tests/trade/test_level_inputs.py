import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.trade.level_inputs import (
    LIMITS,
    GearInputs,
    LevelInputs,
    check_input,
    for_another_source,
    inputs_from_json,
    inputs_to_json,
)

OF_GEAR = ("trim_db", "gain_db", "sound_level_db_spl", "input_peak_dbu")


def figure(name: str) -> st.SearchStrategy[float | None]:
    low, high, _ = LIMITS[name]
    return st.none() | st.floats(low, high)


@st.composite
def inputs(draw: st.DrawFn) -> LevelInputs:
    keys = draw(st.lists(st.text("0123456789", min_size=1, max_size=4), unique=True, max_size=3))
    gear = tuple(GearInputs(key, **{name: draw(figure(name)) for name in OF_GEAR}) for key in keys)
    values = {name: draw(figure(name)) for name in LIMITS if name not in OF_GEAR}
    return LevelInputs(**values, gear=gear)  # type: ignore[arg-type]


@given(inputs())
def test_what_is_kept_reads_back_as_it_was(typed: LevelInputs) -> None:
    assert inputs_from_json(json.loads(json.dumps(inputs_to_json(typed)))) == typed


def test_nothing_typed_is_an_empty_document() -> None:
    assert inputs_to_json(LevelInputs()) == {}
    assert inputs_from_json({}) == LevelInputs()


@pytest.mark.parametrize("name", LIMITS)
def test_every_figure_has_its_ends(name: str) -> None:
    low, high, sentence = LIMITS[name]
    assert (check_input(name, low), check_input(name, high)) == (low, high)
    for beyond in (low - 0.1, high + 0.1, float("nan"), float("inf")):
        with pytest.raises(ValueError, match=sentence[:20]):
            check_input(name, beyond)


@pytest.mark.parametrize(
    "document",
    [
        [],
        {"volume": 11},
        {"daw_trim_db": "3"},
        {"daw_trim_db": True},
        {"daw_trim_db": None},
        {"daw_trim_db": 400.0},
        {"gear": {}},
        {"gear": [{"trim_db": -3.0}]},
        {"gear": [{"gear": 7, "trim_db": -3.0}]},
        {"gear": [{"gear": "7", "trim_db": 3.0}]},
        {"gear": [{"gear": "7", "knob": 3.0}]},
        {"gear": [{"gear": "7"}, {"gear": "7"}]},
    ],
)
def test_a_document_of_another_shape_is_refused(document: object) -> None:
    with pytest.raises(ValueError, match=r"\.$"):
        inputs_from_json(document)


def test_gear_that_nothing_was_typed_for_has_no_figures() -> None:
    assert LevelInputs(gear=(GearInputs("7", trim_db=-3.0),)).of("8") == GearInputs("8")


def test_another_source_keeps_what_stands_at_the_gear_and_nothing_of_the_recording() -> None:
    typed = LevelInputs(
        recording_full_scale_dbu=18.0,
        recording_gain_db=30.0,
        recording_gain_uncertainty_db=0.5,
        recording_box_loss_db=20.0,
        wanted_peak_dbu=-10.0,
        daw_trim_db=-3.0,
        crest_db=12.0,
        wanted_return_dbfs=-10.0,
        gear=(GearInputs("7", trim_db=-3.0),),
    )
    assert inputs_from_json(for_another_source(inputs_to_json(typed))) == LevelInputs(
        wanted_return_dbfs=-10.0, gear=(GearInputs("7", trim_db=-3.0),)
    )
