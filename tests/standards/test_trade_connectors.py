"""Connectors and cables: AES14-1992 for XLR, common practice of the trade for the rest."""

from dataclasses import replace

import pytest

from app.trade.cables import cable_between
from app.trade.checks import check
from app.trade.checks.grounds import polarity_turned_over
from app.trade.hook_up import Device, HookUp, wire
from app.trade.ports import STARTING_PORTS, Port


def port(kind: str, key: str) -> Port:
    return next(port for port in STARTING_PORTS[kind] if port.key == key)  # type: ignore[index]


@pytest.mark.parametrize(
    ("source", "target", "cable"),
    [
        (port("interface", "out3"), port("reamp_box", "in"), "¼-inch TRS to XLR male"),
        (port("reamp_box", "out"), port("pedal", "in"), "¼-inch TS"),
        (port("reamp_box", "out"), port("amp", "in"), "¼-inch TS"),
        (port("pedal", "out"), port("di_box", "in"), "¼-inch TS"),
        (port("pedal", "out"), port("interface", "in1"), "¼-inch TS"),
        (port("microphone", "out"), port("interface", "in1"), "XLR female to XLR male"),
        (port("microphone", "out"), port("preamp", "in"), "XLR female to XLR male"),
        (port("di_box", "out"), port("interface", "in2"), "XLR female to XLR male"),
        (port("preamp", "out"), port("interface", "in3"), "¼-inch TRS"),
        (port("amp", "speaker"), port("cabinet", "in"), "¼-inch TS, speaker cable"),
        (port("amp", "speaker"), port("load", "in"), "¼-inch TS, speaker cable"),
    ],
)
def test_the_cable_between_two_sockets(source: Port, target: Port, cable: str) -> None:  # common practice
    assert cable_between(source, target).text == cable


def test_an_xlr_sends_from_male_and_receives_at_female() -> None:  # AES14-1992
    cable = cable_between(port("microphone", "out"), port("preamp", "in"))
    assert (cable.source_end, cable.target_end) == ("XLR female", "XLR male")


def test_between_speaker_and_microphone_there_is_no_cable() -> None:
    assert cable_between(port("cabinet", "sound"), port("microphone", "sound")).kind == "none"


def test_an_unbalanced_end_makes_the_whole_cable_unbalanced() -> (
    None
):  # common practice: the ring is grounded
    cable = cable_between(port("interface", "out3"), port("amp", "in"))
    assert (cable.kind, cable.text) == ("unbalanced", "¼-inch TS")


def test_insert_and_rca_ends() -> None:  # common practice
    insert = Port("send", "Insert", "out", "insert", "line")
    assert cable_between(insert, port("pedal", "in")).text == "¼-inch TRS (insert lead) to ¼-inch TS"
    rca = Port("out", "Tape output", "out", "rca", "line")
    assert cable_between(rca, port("interface", "in3")).text == "RCA to ¼-inch TS"


@pytest.mark.parametrize(("flips", "upside_down"), [(0, False), (1, True), (2, False), (3, True)])
def test_polarity_flips_count_by_their_parity(flips: int, upside_down: bool) -> None:  # closed form: (-1)^n
    interface = Device("interface", "interface", "interface", STARTING_PORTS["interface"])
    box = Device("box", "re-amp box", "reamp_box", STARTING_PORTS["reamp_box"], isolated=True)
    pedals = [
        Device(f"pedal{n}", f"pedal {n}", "pedal", STARTING_PORTS["pedal"], inverts=n < flips)
        for n in range(3)
    ]
    path = [interface, box, *pedals, interface]
    hook_up = HookUp("print", (interface, box, *pedals), wire([path]).links)
    assert bool(polarity_turned_over(hook_up)) is upside_down


def test_a_pin_3_hot_socket_is_one_polarity_flip() -> (
    None
):  # AES14-1992: pin 2 is hot; some old gear has pin 3
    ports = tuple(replace(p, hot_pin=3) if p.connector == "xlr" else p for p in STARTING_PORTS["reamp_box"])
    interface = Device("interface", "interface", "interface", STARTING_PORTS["interface"])
    box = Device("box", "re-amp box", "reamp_box", ports)
    pedal = Device("pedal", "pedal", "pedal", STARTING_PORTS["pedal"])
    hook_up = HookUp("print", (interface, box, pedal), wire([[interface, box, pedal, interface]]).links)
    found = polarity_turned_over(hook_up)
    assert len(found) == 1
    assert "pin 2 hot at interface, output 1 meets pin 3 hot at re-amp box, line input" in found[0].what


def test_a_line_output_straight_into_a_pedal_or_an_amp_is_wrong() -> (
    None
):  # common practice; about 24 dB too hot
    interface = Device("interface", "interface", "interface", STARTING_PORTS["interface"])
    for kind in ("pedal", "amp"):
        target = Device("target", kind, kind, STARTING_PORTS[kind])
        hook_up = HookUp("print", (interface, target), wire([[interface, target]]).links)
        assert "line_into_instrument_input" in {finding.rule for finding in check(hook_up)}
