import pytest

from app.trade.checks import check
from app.trade.gear_kinds import GEAR_KINDS, KINDS, kind_label, kind_of
from app.trade.hook_up import Device, HookUp, wire
from app.trade.ports import STARTING_PORTS
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


@pytest.mark.parametrize("key", ["combo", "combo_with_extension"])
def test_a_combo_has_its_own_speaker_from_the_first(key: str) -> None:
    layout = starting_layout(key)
    amp = Device("amp", "combo", "amp", layout.ports or (), valve=True, own_speaker=layout.facts.own_speaker)
    microphone = Device("mic", "microphone", "microphone", STARTING_PORTS["microphone"])
    wiring = wire([[amp, microphone]])
    assert wiring.gaps == ()
    assert check(HookUp("print", (amp, microphone), wiring.links)) == ()


def test_an_attenuator_stands_between_amp_and_cabinet() -> None:
    attenuator = Device("att", "attenuator", "load", starting_layout("attenuator").ports or ())
    amp = Device("amp", "head", "amp", STARTING_PORTS["amp"], valve=True, own_speaker=False)
    cabinet = Device("cab", "cabinet", "cabinet", STARTING_PORTS["cabinet"])
    wiring = wire([[amp, attenuator, cabinet]])
    assert [(link.source.device, link.target.device) for link in wiring.links] == [
        ("amp", "att"),
        ("att", "cab"),
    ]
    assert check(HookUp("print", (amp, attenuator, cabinet), wiring.links)) == ()


def test_a_microphone_s_layout_says_what_it_is() -> None:
    said = {
        key: starting_layout(key).facts.ribbon
        for key in ("dynamic_microphone", "ribbon_microphone", "condenser_microphone", "microphone")
    }
    assert list(said.values()) == [False, True, False, None]


def test_keys_are_distinct_and_lead_to_their_layout() -> None:
    assert len({layout.key for layout in STARTING_LAYOUTS}) == len(STARTING_LAYOUTS)
    assert starting_layout("fuzz").label == "Fuzz"
    with pytest.raises(ValueError, match="no starting layout"):
        starting_layout("theremin")
