import pytest

from app.trade.gear_kinds import GEAR_KINDS, KINDS, kind_label, kind_of
from app.trade.readings import detents, read, show
from app.trade.scales import spec_from_json, spec_to_json
from app.trade.starting_layouts import STARTING_LAYOUTS, StartingLayout, starting_layout


def test_every_kind_has_a_label_and_a_side_of_the_chain() -> None:
    assert [kind.key for kind in KINDS] == list(GEAR_KINDS)
    assert kind_label("reamp_box") == "Re-amp box"


def test_an_unknown_kind_is_refused_with_a_sentence() -> None:
    with pytest.raises(ValueError, match="Gear is one of: Amp, Cabinet"):
        kind_of("spaceship")


@pytest.mark.parametrize("layout", STARTING_LAYOUTS, ids=lambda layout: layout.key)
def test_a_starting_layout_has_distinct_controls_that_can_be_set(layout: StartingLayout) -> None:
    assert layout.kind in GEAR_KINDS
    assert len({spec.name for spec in layout.controls}) == len(layout.controls)
    for spec in layout.controls:
        assert spec_from_json(spec_to_json(spec)) == spec
        for position in detents(spec)[::7]:
            assert read(spec, show(spec, position)).position == pytest.approx(position, abs=0.006)


def test_keys_are_distinct_and_lead_to_their_layout() -> None:
    assert len({layout.key for layout in STARTING_LAYOUTS}) == len(STARTING_LAYOUTS)
    assert starting_layout("fuzz").label == "Fuzz"
    with pytest.raises(ValueError, match="no starting layout"):
        starting_layout("theremin")
