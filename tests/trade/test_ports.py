import json
from dataclasses import replace
from typing import Any

import pytest

from app.trade.gear_kinds import GEAR_KINDS, GearKind
from app.trade.ports import STARTING_PORTS, Port, port_from_json, port_to_json

LINE_OUT = STARTING_PORTS["interface"][0]


@pytest.mark.parametrize("kind", GEAR_KINDS)
def test_every_kind_has_ports_to_start_from_with_keys_of_their_own(kind: GearKind) -> None:
    ports = STARTING_PORTS[kind]
    assert {port.direction for port in ports} == {"in", "out"}
    assert len({port.key for port in ports}) == len(ports)


@pytest.mark.parametrize("port", [port for ports in STARTING_PORTS.values() for port in ports])
def test_a_port_survives_the_round_trip_through_json(port: Port) -> None:
    assert port_from_json(json.loads(json.dumps(port_to_json(port)))) == port


def test_a_port_with_everything_known_survives_too() -> None:
    port = replace(LINE_OUT, max_dbu=18.0, impedance_ohm=100.0, hot_pin=3, stereo=True)
    assert port_from_json(json.loads(json.dumps(port_to_json(port)))) == port


def changed(**values: Any) -> dict[str, Any]:
    return port_to_json(LINE_OUT) | values


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        ([], "exactly these keys"),
        (changed(colour="red"), "exactly these keys"),
        (changed(connector="banana"), "connector is one of"),
        (changed(direction="sideways"), "direction is one of"),
        (changed(level=4), "must be text"),
        (changed(balanced="yes"), "true or false"),
        (changed(impedance_ohm=0), "above zero ohms"),
        (changed(impedance_ohm="low"), "must be a number"),
        (changed(max_dbu=float("inf")), "must be a number"),
        (changed(hot_pin=4), "hot pin"),
        (changed(also_accepts=["light"]), "list of levels"),
        (changed(connector="ts"), "three contacts"),
        (changed(level="sound"), "through the air"),
        (changed(label=" "), "label of 1 to 80"),
    ],
)
def test_an_unknown_port_is_refused_with_a_sentence(data: object, sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        port_from_json(data)
