from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.trade.checks import CHECKS, check
from app.trade.gear_facts import SAFETY_FACTS
from app.trade.hook_up import Device, HookUp, Link, PortRef
from app.trade.ports import STARTING_PORTS, Port, with_own_speaker
from app.trade.starting_layouts import starting_layout
from tests.trade.session_hook_ups import (
    AMP,
    BOX,
    CABINET,
    CONDENSER,
    DI,
    FUZZ,
    INTERFACE,
    PREAMP,
    RIBBON,
    SEND,
    hook_up_of,
    insert_hook_up,
    parallel_hook_up,
    print_hook_up,
)


def with_device(hook_up: HookUp, changed: Device) -> HookUp:
    return replace(hook_up, devices=tuple(changed if d.key == changed.key else d for d in hook_up.devices))


def with_link(hook_up: HookUp, old: tuple[str, str], new: tuple[PortRef, PortRef]) -> HookUp:
    links = tuple(
        Link(*new) if (link.source.device, link.target.device) == old else link for link in hook_up.links
    )
    return replace(hook_up, links=links)


def without_link(hook_up: HookUp, source: str, target: str) -> HookUp:
    links = tuple(
        link for link in hook_up.links if (link.source.device, link.target.device) != (source, target)
    )
    return replace(hook_up, links=links)


def lengthened(hook_up: HookUp, source: str, target: str, length_m: float) -> HookUp:
    links = tuple(
        replace(link, length_m=length_m)
        if (link.source.device, link.target.device) == (source, target)
        else link
        for link in hook_up.links
    )
    return replace(hook_up, links=links)


def line_straight_into_the_amp() -> HookUp:
    return hook_up_of("print", [INTERFACE, replace(AMP, mains_earthed=False), CABINET, RIBBON, INTERFACE])


def pedal_into_a_line_input() -> HookUp:
    right = hook_up_of("insert", [INTERFACE, BOX, FUZZ, INTERFACE])
    return with_link(right, ("fuzz", "interface"), (PortRef("fuzz", "out"), PortRef("interface", "in3")))


def speaker_output_into_the_di_box() -> HookUp:
    right = hook_up_of("insert", [INTERFACE, BOX, replace(AMP, valve=False), DI, INTERFACE])
    return with_link(right, ("amp", "di"), (PortRef("amp", "speaker"), PortRef("di", "in")))


def amp_with_nothing_on_its_speaker_output() -> HookUp:
    return hook_up_of("print", [INTERFACE, BOX, AMP])


def attenuator_with_nothing_behind_it() -> HookUp:
    ports = starting_layout("attenuator").ports or ()
    return hook_up_of("print", [INTERFACE, BOX, AMP, Device("attenuator", "attenuator", "load", ports)])


def cabinet_of_half_the_impedance() -> HookUp:
    ports = tuple(
        replace(port, impedance_ohm=4.0 if port.level == "speaker" else None) for port in CABINET.ports
    )
    return with_device(print_hook_up(), replace(CABINET, ports=ports))


def pedal_straight_into_a_cabinet() -> HookUp:
    return hook_up_of("print", [INTERFACE, BOX, FUZZ, CABINET, RIBBON, INTERFACE])


def preamp_into_a_microphone_input() -> HookUp:
    other = replace(PREAMP, key="preamp2", name="second preamp", mains_earthed=False)
    return hook_up_of("print", [INTERFACE, BOX, AMP, CABINET, RIBBON, PREAMP, other, INTERFACE])


def microphone_into_a_line_input() -> HookUp:
    right = print_hook_up()
    return with_link(right, ("ribbon", "interface"), (PortRef("ribbon", "out"), PortRef("interface", "in3")))


def ribbon_too_near() -> HookUp:
    return replace(print_hook_up(), sound_level_db_spl=(("ribbon", 134.0),))


def headphone_output_into_the_box() -> HookUp:
    ports = (*INTERFACE.ports, Port("phones", "Headphones", "out", "trs", "line", balanced=True, stereo=True))
    right = with_device(print_hook_up(), replace(INTERFACE, ports=ports))
    return with_link(right, ("interface", "box"), (PortRef("interface", "phones"), PortRef("box", "in")))


def phantom_on_the_ribbon() -> HookUp:
    return replace(print_hook_up(), phantom_on=frozenset({PortRef("interface", "in1")}))


def phantom_on_what_must_not_see_it() -> HookUp:
    return with_device(phantom_on_the_ribbon(), replace(RIBBON, ribbon=False))


def phantom_on_a_line_output() -> HookUp:
    right = parallel_hook_up()
    moved = with_link(right, ("preamp", "interface"), (PortRef("preamp", "out"), PortRef("interface", "in2")))
    return replace(moved, phantom_on=frozenset({PortRef("interface", "in1"), PortRef("interface", "in2")}))


def condenser_without_phantom() -> HookUp:
    return replace(parallel_hook_up(), phantom_on=frozenset())


def send_on_the_main_output() -> HookUp:
    right = print_hook_up()
    return replace(right, daw=replace(right.daw, main_outputs=(*right.daw.main_outputs, SEND)))


def return_played_into_the_send() -> HookUp:
    right = print_hook_up()
    return replace(right, daw=replace(right.daw, return_outputs=(SEND,)))


def send_after_the_fader() -> HookUp:
    right = parallel_hook_up()
    return replace(right, daw=replace(right.daw, send_tap="post_fader"))


def one_output_to_two_amps() -> HookUp:
    other = replace(AMP, key="amp2", name="other amp", mains_earthed=False)
    box = replace(CABINET, key="cabinet2", name="other cabinet")
    return hook_up_of(
        "print",
        [INTERFACE, BOX, AMP, CABINET, RIBBON, INTERFACE],
        [INTERFACE, BOX, other, box, replace(RIBBON, key="ribbon2", name="other ribbon"), INTERFACE],
    )


def pedal_back_into_itself() -> HookUp:
    pedals = [replace(FUZZ, key=f"pedal{n}", name=f"pedal {n}") for n in (1, 2)]
    right = hook_up_of("insert", [INTERFACE, BOX, *pedals, DI, INTERFACE])
    second = tuple(replace(port, key=f"{port.key}2", label="Loop") for port in STARTING_PORTS["pedal"])
    looped = right
    for pedal in pedals:
        looped = with_device(looped, replace(pedal, ports=(*pedal.ports, *second)))
    return replace(looped, links=(*looped.links, Link(PortRef("pedal2", "out2"), PortRef("pedal1", "in2"))))


def a_box_with_no_ports() -> HookUp:
    right = insert_hook_up()
    return replace(right, devices=(*right.devices, Device("mystery", "unlabelled box", "other", ())))


def an_interface_input_that_was_removed() -> HookUp:
    ports = tuple(port for port in INTERFACE.ports if port.key != "in1")
    return with_device(print_hook_up(), replace(INTERFACE, ports=ports))


def twelve_metres_of_instrument_cable() -> HookUp:
    return lengthened(print_hook_up(), "box", "amp", 12.0)


def a_box_without_a_transformer() -> HookUp:
    return with_device(print_hook_up(), replace(BOX, isolated=False))


def a_box_that_inverts() -> HookUp:
    return with_device(print_hook_up(), replace(BOX, inverts=True))


MISTAKES: list[tuple[Callable[[], HookUp], str, str]] = [
    (line_straight_into_the_amp, "line_into_instrument_input", "stop"),
    (pedal_into_a_line_input, "instrument_into_line_input", "warn"),
    (speaker_output_into_the_di_box, "speaker_output_into_something_else", "stop"),
    (amp_with_nothing_on_its_speaker_output, "valve_amp_without_load", "stop"),
    (attenuator_with_nothing_behind_it, "attenuator_without_speaker", "warn"),
    (cabinet_of_half_the_impedance, "load_of_the_wrong_impedance", "stop"),
    (pedal_straight_into_a_cabinet, "speaker_fed_without_power_amp", "warn"),
    (preamp_into_a_microphone_input, "line_into_microphone_input", "warn"),
    (microphone_into_a_line_input, "microphone_without_preamp", "warn"),
    (ribbon_too_near, "microphone_over_its_maximum", "warn"),
    (headphone_output_into_the_box, "stereo_into_balanced_input", "warn"),
    (phantom_on_the_ribbon, "phantom_on_a_ribbon", "stop"),
    (phantom_on_what_must_not_see_it, "phantom_where_it_must_not_be", "stop"),
    (phantom_on_a_line_output, "phantom_where_it_must_not_be", "warn"),
    (condenser_without_phantom, "phantom_missing", "warn"),
    (send_on_the_main_output, "send_is_also_main_output", "stop"),
    (return_played_into_the_send, "return_into_its_own_send", "stop"),
    (send_after_the_fader, "parallel_send_after_the_fader", "warn"),
    (one_output_to_two_amps, "port_used_twice", "warn"),
    (pedal_back_into_itself, "chain_with_a_loop", "stop"),
    (a_box_with_no_ports, "gear_without_ports", "warn"),
    (an_interface_input_that_was_removed, "connection_to_missing_gear", "note"),
    (twelve_metres_of_instrument_cable, "long_unbalanced_run", "note"),
    (a_box_without_a_transformer, "two_earthed_devices_without_isolation", "note"),
    (a_box_that_inverts, "polarity_turned_over", "note"),
]


@pytest.mark.parametrize("right", [print_hook_up, insert_hook_up, parallel_hook_up])
def test_nothing_is_found_in_a_standard_hook_up_that_is_right(right: Callable[[], HookUp]) -> None:
    assert check(right()) == ()


@pytest.mark.parametrize(("mistake", "rule", "severity"), MISTAKES, ids=[rule for _, rule, _ in MISTAKES])
def test_one_mistake_trips_its_one_rule(mistake: Callable[[], HookUp], rule: str, severity: str) -> None:
    assert [(finding.rule, finding.severity) for finding in check(mistake())] == [(rule, severity)]


@pytest.mark.parametrize(("mistake", "rule", "severity"), MISTAKES, ids=[rule for _, rule, _ in MISTAKES])
def test_a_finding_says_what_why_how_to_mend_and_where(
    mistake: Callable[[], HookUp], rule: str, severity: str
) -> None:
    for finding in check(mistake()):
        assert finding.what.endswith((".", "?"))
        assert finding.why.endswith(".")
        assert finding.mend.endswith(".")
        assert finding.where
        assert finding.source


def test_every_rule_has_its_mistake_in_the_table() -> None:
    assert {rule.__name__ for rule in CHECKS} == {rule for _, rule, _ in MISTAKES}


def test_an_amp_of_unknown_make_up_without_a_load_is_asked_about() -> None:
    found = check(hook_up_of("print", [INTERFACE, BOX, replace(AMP, valve=None)]))
    assert [(finding.rule, finding.severity) for finding in found] == [("valve_amp_without_load", "warn")]
    assert check(hook_up_of("print", [INTERFACE, BOX, replace(AMP, valve=False)])) == ()


def test_an_amp_nobody_has_said_of_whether_it_has_a_speaker_is_asked_about_it() -> None:
    (found,) = check(amp_with_nothing_on_its_speaker_output())
    assert [ask.fact for ask in found.asks] == ["own_speaker"]
    assert "Has it its own speaker?" in found.what
    assert check(hook_up_of("print", [INTERFACE, BOX, replace(AMP, own_speaker=True)])) == ()


def test_what_an_amp_is_counts_before_the_ports_it_started_with() -> None:
    ports = with_own_speaker(AMP.ports, True)
    assert with_own_speaker(ports, True) == ports
    assert with_own_speaker(ports, None) == ports
    assert with_own_speaker(ports, False) == AMP.ports
    (found,) = check(hook_up_of("print", [INTERFACE, BOX, replace(AMP, ports=ports, own_speaker=False)]))
    assert (found.rule, found.severity, found.asks) == ("valve_amp_without_load", "stop", ())


def test_a_load_is_as_good_as_a_speaker() -> None:
    load = Device("load", "reactive load", "load", STARTING_PORTS["load"])
    assert check(hook_up_of("print", [INTERFACE, BOX, AMP, load, INTERFACE])) == ()


def test_a_solid_state_amp_may_be_loaded_more_lightly() -> None:
    ports = tuple(
        replace(port, impedance_ohm=16.0 if port.level == "speaker" else None) for port in CABINET.ports
    )
    light = with_device(print_hook_up(), replace(CABINET, ports=ports))
    assert [finding.severity for finding in check(light)] == ["warn"]
    assert check(with_device(light, replace(AMP, valve=False))) == ()


def test_lifting_the_audio_ground_parts_two_earthed_devices() -> None:
    lifted = with_device(print_hook_up(), replace(BOX, isolated=False, ground_lifted=True))
    assert check(lifted) == ()


def test_a_long_balanced_run_is_no_trouble() -> None:
    assert check(lengthened(print_hook_up(), "interface", "box", 30.0)) == ()


def test_two_flips_cancel() -> None:
    twice = with_device(
        with_device(insert_hook_up(), replace(BOX, inverts=True)), replace(FUZZ, inverts=True)
    )
    assert check(twice) == ()


def test_the_gravest_finding_stands_first() -> None:
    worst = replace(a_box_that_inverts(), phantom_on=frozenset({PortRef("interface", "in1")}))
    assert [finding.severity for finding in check(worst)] == ["stop", "note"]


PHANTOM_OF_A_PORT = st.sampled_from(("none", "needs", "must_not"))


def with_phantom_on(microphone: Device) -> HookUp:
    return with_device(phantom_on_the_ribbon(), microphone)


@given(PHANTOM_OF_A_PORT, st.sampled_from((True, None)), st.booleans(), st.sampled_from(("xlr", "trs", "ts")))
def test_phantom_on_a_ribbon_or_a_microphone_of_unknown_make_stops_whatever_its_port_says(
    phantom: Any, ribbon: bool | None, stereo: bool, connector: Any
) -> None:
    ports = tuple(
        replace(
            port,
            phantom=phantom,
            stereo=stereo,
            connector=connector,
            balanced=connector != "ts",
        )
        if port.key == "out"
        else port
        for port in RIBBON.ports
    )
    found = check(with_phantom_on(replace(RIBBON, ports=ports, ribbon=ribbon)))
    stops = [item for item in found if item.rule == "phantom_on_a_ribbon"]
    assert [item.severity for item in stops] == ["stop"]
    assert [ask.fact for item in stops for ask in item.asks] == ([] if ribbon else ["ribbon"])


def test_a_ribbon_microphone_of_another_kind_of_gear_stops_too() -> None:
    found = check(with_phantom_on(replace(RIBBON, kind="other")))
    assert "phantom_on_a_ribbon" in {item.rule for item in found}


def test_phantom_power_is_followed_through_a_patch_bay() -> None:
    ports = (
        Port("in", "Way in", "in", "xlr", "microphone", balanced=True),
        Port("out", "Way out", "out", "xlr", "microphone", balanced=True),
    )
    bay = Device("bay", "patch bay", "other", ports)

    def found(through: Device) -> set[str]:
        hook_up = hook_up_of("print", [INTERFACE, BOX, AMP, CABINET, RIBBON, through, INTERFACE])
        return {
            item.rule for item in check(replace(hook_up, phantom_on=frozenset({PortRef("interface", "in1")})))
        }

    assert "phantom_on_a_ribbon" in found(bay)
    assert "phantom_on_a_ribbon" not in found(replace(bay, isolated=True))


AN_AMP_ALONE = [INTERFACE, BOX, replace(AMP, valve=None)]
A_COMBO = replace(AMP, own_speaker=True)
BARE_CABINET = replace(CABINET, ports=STARTING_PORTS["cabinet"])
SAFETY: dict[str, tuple[HookUp, Device, Any, str, str]] = {
    "valve": (hook_up_of("print", AN_AMP_ALONE), AN_AMP_ALONE[2], True, "valve_amp_without_load", "stop"),
    "own_speaker": (
        hook_up_of("print", [INTERFACE, BOX, A_COMBO]),
        A_COMBO,
        False,
        "valve_amp_without_load",
        "stop",
    ),
    "ribbon": (
        with_phantom_on(replace(CONDENSER, key="ribbon")),
        replace(CONDENSER, key="ribbon"),
        True,
        "phantom_on_a_ribbon",
        "stop",
    ),
    "rated_load_ohm": (
        with_device(print_hook_up(), BARE_CABINET),
        BARE_CABINET,
        4.0,
        "load_of_the_wrong_impedance",
        "stop",
    ),
    "max_spl_db": (
        with_device(print_hook_up(), replace(RIBBON, max_spl_db=None)),
        replace(RIBBON, max_spl_db=None),
        100.0,
        "microphone_over_its_maximum",
        "warn",
    ),
}


def test_every_fact_of_safety_is_held_by_a_check() -> None:
    assert set(SAFETY) == set(SAFETY_FACTS)


@pytest.mark.parametrize("fact", SAFETY_FACTS)
def test_a_fact_of_safety_alone_trips_its_check(fact: str) -> None:
    hook_up, device, value, rule, severity = SAFETY[fact]
    assert (rule, severity) not in {(item.rule, item.severity) for item in check(hook_up)}
    said = with_device(hook_up, replace(device, **{fact: value}))
    assert (rule, severity) in {(item.rule, item.severity) for item in check(said)}


def test_an_empty_hook_up_has_nothing_to_find() -> None:
    assert check(HookUp("print", (), ())) == ()


GEAR = [
    INTERFACE,
    BOX,
    FUZZ,
    AMP,
    CABINET,
    RIBBON,
    CONDENSER,
    PREAMP,
    DI,
    Device("none", "bare box", "other", ()),
]
ends = st.sampled_from(
    [PortRef(device.key, port.key) for device in GEAR for port in device.ports] + [PortRef("x", "y")]
)


@given(st.lists(st.builds(Link, ends, ends), max_size=30), st.frozensets(ends, max_size=5))
def test_any_tangle_of_cables_is_checked_without_failing(
    links: list[Link], phantom_on: frozenset[PortRef]
) -> None:
    tangle = HookUp("print", tuple(GEAR), tuple(links), phantom_on=phantom_on)
    assert {finding.rule for finding in check(tangle)} <= {rule.__name__ for rule in CHECKS}
