"""A hook-up as plain JSON values, so that a pass keeps the one it was made with whatever becomes of the gear."""

from typing import Any, Literal, cast, get_args

from app.trade.gear_kinds import GEAR_KINDS
from app.trade.hook_up import DawRouting, Device, HookUp, Link, PortRef
from app.trade.json_values import list_of, mapping_of, number_of, number_or_null, text_of
from app.trade.ports import port_from_json, port_to_json
from app.trade.routes import ROUTE_KEYS

SendTap = Literal["pre_fader", "post_fader"]
_DAW_REFS = ("send_outputs", "main_outputs", "return_inputs", "return_outputs")
_DEVICE_FACTS = ("valve", "mains_earthed", "isolated")
_DEVICE_SWITCHES = ("ground_lifted", "inverts")
_DEVICE_NUMBERS = ("rated_load_ohm", "max_spl_db")


def hook_up_to_json(hook_up: HookUp) -> dict[str, Any]:
    """The hook-up as plain JSON values; `hook_up_from_json` gives the same hook-up back."""
    return {
        "route": hook_up.route,
        "devices": [_device_to_json(device) for device in hook_up.devices],
        "links": [
            {"source": list(link.source), "target": list(link.target), "length_m": link.length_m}
            for link in hook_up.links
        ],
        "daw": {name: [list(ref) for ref in getattr(hook_up.daw, name)] for name in _DAW_REFS}
        | {"send_tap": hook_up.daw.send_tap},
        "phantom_on": sorted(list(ref) for ref in hook_up.phantom_on),
        "sound_level_db_spl": [[key, level] for key, level in hook_up.sound_level_db_spl],
    }


def hook_up_from_json(data: object) -> HookUp:
    """A hook-up from plain JSON values. Raises ValueError with a sentence on any shape it does not know."""
    keys = {"route", "devices", "links", "daw", "phantom_on", "sound_level_db_spl"}
    fields = mapping_of(data, "A hook-up", keys)
    if fields["route"] not in ROUTE_KEYS:
        raise ValueError(f"A route is one of: {', '.join(ROUTE_KEYS)}.")
    daw = mapping_of(fields["daw"], "The DAW's routing", {*_DAW_REFS, "send_tap"})
    if daw["send_tap"] not in (None, *get_args(SendTap)):
        raise ValueError("A send is taken pre_fader or post_fader.")
    send, main, inputs, outputs = (
        tuple(_ref(ref) for ref in list_of(daw[name], "Ports")) for name in _DAW_REFS
    )
    return HookUp(
        fields["route"],
        tuple(_device_from_json(device) for device in list_of(fields["devices"], "The devices")),
        tuple(_link(link) for link in list_of(fields["links"], "The links")),
        DawRouting(send, main, inputs, outputs, cast(SendTap | None, daw["send_tap"])),
        frozenset(_ref(ref) for ref in list_of(fields["phantom_on"], "Ports with phantom power")),
        tuple(_sound_level(pair) for pair in list_of(fields["sound_level_db_spl"], "The sound levels")),
    )


def _device_to_json(device: Device) -> dict[str, Any]:
    simple = ("key", "name", "kind", *_DEVICE_FACTS, *_DEVICE_SWITCHES, *_DEVICE_NUMBERS)
    return {name: getattr(device, name) for name in simple} | {
        "ports": [port_to_json(port) for port in device.ports]
    }


def _device_from_json(data: object) -> Device:
    keys = {"key", "name", "kind", "ports", *_DEVICE_FACTS, *_DEVICE_SWITCHES, *_DEVICE_NUMBERS}
    fields = mapping_of(data, "A device", keys)
    if fields["kind"] not in GEAR_KINDS:
        raise ValueError(f"A device's kind is one of: {', '.join(GEAR_KINDS)}.")
    if any(fields[name] is not None and not isinstance(fields[name], bool) for name in _DEVICE_FACTS):
        raise ValueError("What is known of a device is true, false or null.")
    if any(not isinstance(fields[name], bool) for name in _DEVICE_SWITCHES):
        raise ValueError("A device's switches are true or false.")
    return Device(
        text_of(fields["key"], "A device's key"),
        text_of(fields["name"], "A device's name"),
        fields["kind"],
        tuple(port_from_json(port) for port in list_of(fields["ports"], "The ports")),
        valve=cast(bool | None, fields["valve"]),
        mains_earthed=cast(bool | None, fields["mains_earthed"]),
        isolated=cast(bool | None, fields["isolated"]),
        ground_lifted=cast(bool, fields["ground_lifted"]),
        inverts=cast(bool, fields["inverts"]),
        rated_load_ohm=number_or_null(fields["rated_load_ohm"], "A rated load"),
        max_spl_db=number_or_null(fields["max_spl_db"], "A highest sound level"),
    )


def _link(data: object) -> Link:
    fields = mapping_of(data, "A link", {"source", "target", "length_m"})
    return Link(
        _ref(fields["source"]), _ref(fields["target"]), number_or_null(fields["length_m"], "A length")
    )


def _ref(data: object) -> PortRef:
    match data:
        case [str(device), str(port)]:
            return PortRef(device, port)
        case _:
            raise ValueError("A port is named by its device's key and its own.")


def _sound_level(data: object) -> tuple[str, float]:
    match data:
        case [str(key), level]:
            return key, number_of(level, "A sound level")
        case _:
            raise ValueError("A sound level is a microphone's key and a number.")
