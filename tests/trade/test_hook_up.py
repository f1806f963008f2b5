from dataclasses import replace

import pytest

from app.trade.hook_up import Device, Link, PortRef, connection_list, socket_text, wire
from app.trade.ports import STARTING_PORTS, Port
from app.trade.routes import ROUTE_KEYS, ROUTES, VARIANTS, route
from tests.trade.session_hook_ups import (
    AMP,
    BOX,
    CABINET,
    CONDENSER,
    DI,
    FUZZ,
    INTERFACE,
    MAIN_OUTPUTS,
    PREAMP,
    RIBBON,
    insert_hook_up,
    parallel_hook_up,
    print_hook_up,
)


def test_the_list_of_a_print_says_each_cable_by_its_two_ends() -> None:
    rows = connection_list(print_hook_up())
    assert [(row.from_text, row.to_text, row.cable) for row in rows] == [
        ("interface, output 3", "re-amp box, line input", "¼-inch TRS to XLR male"),
        ("re-amp box, instrument output", "15-watt valve amp, input", "¼-inch TS"),
        ("15-watt valve amp, speaker output", "1×12 cabinet, speaker input", "¼-inch TS, speaker cable"),
        ("1×12 cabinet, speaker", "small ribbon microphone, capsule", "no cable: the microphone stands in front of the speaker"),
        ("small ribbon microphone, output", "interface, input 1", "XLR female to XLR male"),
    ]  # fmt: skip
    assert [row.number for row in rows] == [1, 2, 3, 4, 5]


def test_each_row_says_what_to_look_to() -> None:
    looks = [row.look for row in connection_list(print_hook_up())]
    assert looks[0] == "carries the send alone, not the main mix"
    assert looks[2] == "plugged in at both ends before the amp gets power"
    assert looks[4] == "phantom power off"


def test_pedals_come_back_through_a_di_box() -> None:
    rows = connection_list(insert_hook_up())
    assert [row.cable for row in rows] == [
        "¼-inch TRS to XLR male",
        "¼-inch TS",
        "¼-inch TS",
        "XLR female to XLR male",
    ]


def test_two_microphones_on_one_cabinet_share_its_speaker_and_the_chain_before_it() -> None:
    rows = connection_list(parallel_hook_up())
    assert sum("interface, output 3" in row.from_text for row in rows) == 1
    assert sum(row.from_text == "1×12 cabinet, speaker" for row in rows) == 2
    assert {row.to_text for row in rows if row.to_text.startswith("interface")} == {
        "interface, input 1",
        "interface, input 3",
    }
    assert "phantom power on after plugging, with the return muted" in {row.look for row in rows}


def test_a_second_microphone_goes_round_a_preamp_that_has_one_input() -> None:
    wiring = wire(
        [
            [INTERFACE, BOX, AMP, CABINET, RIBBON, PREAMP, INTERFACE],
            [INTERFACE, BOX, AMP, CABINET, CONDENSER, PREAMP, INTERFACE],
        ],
    )
    targets = [link.target for link in wiring.links if link.source.device in (RIBBON.key, CONDENSER.key)]
    assert [target.device for target in targets] == [PREAMP.key, INTERFACE.key]
    port = INTERFACE.port(targets[1].port)
    assert port is not None
    assert port.accepts("microphone")
    sockets = [link.target for link in wiring.links if link.target.port not in ("sound", "capsule")]
    assert len(set(sockets)) == len(sockets), "no socket has two cables"
    assert wiring.gaps == ()


def test_two_microphones_through_a_two_channel_preamp_come_back_on_two_cables() -> None:
    channel_two = tuple(replace(port, key=f"{port.key}2", label=f"{port.label} 2") for port in PREAMP.ports)
    preamp = replace(PREAMP, ports=PREAMP.ports + channel_two)
    wiring = wire(
        [
            [INTERFACE, BOX, AMP, CABINET, RIBBON, preamp, INTERFACE],
            [INTERFACE, BOX, AMP, CABINET, CONDENSER, preamp, INTERFACE],
        ],
        MAIN_OUTPUTS,
    )
    back = [link for link in wiring.links if link.source.device == "preamp"]
    assert {link.source.port for link in back} == {"out", "out2"}
    assert len({link.target for link in back}) == 2
    into = [link.target.port for link in wiring.links if link.target.device == "preamp"]
    assert sorted(into) == ["in", "in2"]


def test_two_amps_from_one_box_take_two_outputs_where_it_has_them() -> None:
    box = replace(BOX, ports=(*BOX.ports, replace(BOX.ports[1], key="out2", label="Second output")))
    other = replace(AMP, key="amp2", name="other amp")
    links = wire([[INTERFACE, box, AMP], [INTERFACE, box, other]], MAIN_OUTPUTS).links
    assert [link.source for link in links if link.source.device == "box"] == [
        PortRef("box", "out"),
        PortRef("box", "out2"),
    ]


def test_a_combo_s_built_in_speaker_takes_the_microphone() -> None:
    combo = replace(AMP, ports=(*AMP.ports, Port("sound", "Built-in speaker", "out", "air", "sound")))
    wiring = wire([[INTERFACE, BOX, combo, CONDENSER, PREAMP, INTERFACE]], MAIN_OUTPUTS)
    assert wiring.gaps == ()
    assert Link(PortRef("amp", "sound"), PortRef("condenser", "sound")) in wiring.links


@pytest.mark.parametrize(
    ("path", "sentence"),
    [
        ([AMP, RIBBON], "15-watt valve amp has no speaker for small ribbon microphone to stand in front of"),
        ([CABINET, INTERFACE], "1×12 cabinet only makes sound; put a microphone between it and interface"),
        ([FUZZ, Device("x", "a box of mystery", "other", ())], "a box of mystery has no input to go into"),
        (
            [Device("x", "a box of mystery", "other", ()), FUZZ],
            "a box of mystery has no output to go on from",
        ),
    ],
)
def test_gear_that_cannot_be_joined_is_named_and_the_rest_is_wired(path: list[Device], sentence: str) -> None:
    wiring = wire([[INTERFACE, BOX], path], MAIN_OUTPUTS)
    assert len(wiring.links) == 1
    assert len(wiring.gaps) == 1
    assert sentence in wiring.gaps[0]


def test_nothing_to_wire_is_no_error() -> None:
    assert wire([]).links == ()
    assert wire([[DI]]).links == ()


def test_a_cable_of_negative_length_is_refused() -> None:
    with pytest.raises(ValueError, match="between 0 and 1000 m"):
        Link(PortRef("a", "out"), PortRef("b", "in"), -3.0)


def test_a_socket_in_words() -> None:
    assert socket_text(STARTING_PORTS["interface"][2]) == "Output 3 (¼-inch TRS, balanced)"


def test_each_route_has_steps_before_during_and_after() -> None:
    assert tuple(known.key for known in ROUTES) == ROUTE_KEYS == ("print", "insert", "parallel")
    for known in ROUTES:
        assert known.before
        assert known.during
        assert known.after
        assert all(step.endswith(".") for step in (*known.before, *known.during, *known.after))
    assert any("disarm" in step.lower() for step in route("print").after)
    assert any("pre-fader" in step for step in route("parallel").before)
    assert any("DI box" in step for step in route("insert").before)


def test_an_unknown_route_is_refused_with_a_sentence() -> None:
    with pytest.raises(ValueError, match="A route is one of"):
        route("teleport")


def test_the_turns_on_a_route_are_described() -> None:
    assert len({variant.key for variant in VARIANTS}) == len(VARIANTS) == 6
