"""What a person decided about a hook-up, as it is kept: everything that is not in the gear itself.

Ports are written "device:port". Names of gear that has left the chain are kept; the checks say that it is missing.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal, cast, get_args

from app.trade.hook_up import DawRouting, Device, HookUp, Link, PortRef, wire
from app.trade.routes import ROUTE_KEYS, VARIANTS, RouteKey

SendTap = Literal["pre_fader", "post_fader"]


@dataclass(frozen=True)
class Dismissal:
    """A finding that the person has looked at and lets stand, and why."""

    finding: str
    reason: str


@dataclass(frozen=True)
class Plan:
    """`sound_levels` holds (device, dB SPL) at microphones. `pairs` are the neighbours in the chain that the links were
    drawn for, None in a plan of before these were kept."""

    route: RouteKey = "print"
    variants: tuple[str, ...] = ()
    links: tuple[Link, ...] = ()
    main_outputs: tuple[PortRef, ...] = ()
    send_tap: SendTap | None = "pre_fader"
    phantom_on: tuple[PortRef, ...] = ()
    sound_levels: tuple[tuple[str, float], ...] = ()
    dismissals: tuple[Dismissal, ...] = ()
    pairs: tuple[tuple[str, str], ...] | None = None

    def hook_up(self, devices: Sequence[Device]) -> HookUp:
        """The hook-up that this plan makes of the gear. What the interface sends and records follows from the
        links; the return's track plays to the main mix."""
        interfaces = {device.key for device in devices if device.kind == "interface"}
        daw = DawRouting(
            send_outputs=tuple(
                dict.fromkeys(link.source for link in self.links if link.source.device in interfaces)
            ),
            main_outputs=self.main_outputs,
            return_inputs=tuple(
                dict.fromkeys(link.target for link in self.links if link.target.device in interfaces)
            ),
            return_outputs=self.main_outputs,
            send_tap=self.send_tap if self.route == "parallel" else None,
        )
        return HookUp(
            self.route,
            tuple(devices),
            self.links,
            daw,
            frozenset(self.phantom_on),
            self.sound_levels,
        )


def starting_plan(paths: Sequence[Sequence[Device]]) -> tuple[Plan, tuple[str, ...]]:
    """A plan for gear in order: the first two line outputs of the interface carry the main mix, everything else is
    wired along the paths. Also returned: a sentence for each pair that could not be joined."""
    main_outputs = tuple(main_outputs_of(device for path in paths for device in path))
    wiring = wire(paths, main_outputs)
    return Plan(links=wiring.links, main_outputs=main_outputs), wiring.gaps


def main_outputs_of(devices: Iterable[Device]) -> list[PortRef]:
    """The outputs that commonly carry the main mix: the first two of the first interface (common practice)."""
    for device in devices:
        if device.kind == "interface":
            outs = sorted(
                (port for port in device.ports if port.direction == "out" and port.number is not None),
                key=lambda port: port.number or 0,
            )
            return [PortRef(device.key, port.key) for port in outs[:2]]
    return []


def plan_to_json(plan: Plan) -> dict[str, Any]:
    written = {
        "route": plan.route,
        "variants": list(plan.variants),
        "links": [
            {"from": ref_text(link.source), "to": ref_text(link.target), "length_m": link.length_m}
            for link in plan.links
        ],
        "main_outputs": [ref_text(ref) for ref in plan.main_outputs],
        "send_tap": plan.send_tap,
        "phantom_on": [ref_text(ref) for ref in plan.phantom_on],
        "sound_levels": [[device, level] for device, level in plan.sound_levels],
        "dismissals": [{"finding": item.finding, "reason": item.reason} for item in plan.dismissals],
    }
    return written if plan.pairs is None else written | {"pairs": [list(pair) for pair in plan.pairs]}


def plan_from_json(data: object) -> Plan:
    """A plan from plain JSON values. Raises ValueError with a sentence on any shape it does not know."""
    if not isinstance(data, Mapping):
        raise ValueError("A plan is a mapping.")
    try:
        route, tap = data["route"], data["send_tap"]
        if route not in ROUTE_KEYS or tap not in (None, *get_args(SendTap)):
            raise ValueError("A plan names one of the known routes and send taps.")
        known = {variant.key for variant in VARIANTS}
        return Plan(
            route=cast(RouteKey, route),
            variants=tuple(str(key) for key in data["variants"] if key in known),
            links=tuple(
                Link(read_ref(item["from"]), read_ref(item["to"]), item["length_m"]) for item in data["links"]
            ),
            main_outputs=tuple(read_ref(text) for text in data["main_outputs"]),
            send_tap=cast(SendTap | None, tap),
            phantom_on=tuple(read_ref(text) for text in data["phantom_on"]),
            sound_levels=tuple((str(device), float(level)) for device, level in data["sound_levels"]),
            dismissals=tuple(
                Dismissal(str(item["finding"]), str(item["reason"])) for item in data["dismissals"]
            ),
            pairs=None
            if data.get("pairs") is None
            else tuple((str(one), str(other)) for one, other in data["pairs"]),
        )
    except (KeyError, TypeError) as error:
        raise ValueError(f"This plan has a part that is not known: {error}.") from error


def ref_text(ref: PortRef) -> str:
    return f"{ref.device}:{ref.port}"


def read_ref(text: object) -> PortRef:
    """A port from "device:port". Raises ValueError."""
    device, colon, port = str(text).partition(":")
    if not (device and colon and port):
        raise ValueError("A port is written as device:port.")
    return PortRef(device, port)


def with_devices(plan: Plan, names: Mapping[str, str]) -> Plan:
    """The plan with its gear under other names, as another library knows it; what names no known gear is left out."""

    def renamed(ref: PortRef) -> PortRef:
        return PortRef(names[ref.device], ref.port)

    def finding(text: str) -> str:
        rule, *places = text.split("|")
        return "|".join((rule, *(ref_text(renamed(read_ref(place))) for place in places)))

    def known(ref: PortRef) -> bool:
        return ref.device in names

    return replace(
        plan,
        links=tuple(
            replace(link, source=renamed(link.source), target=renamed(link.target))
            for link in plan.links
            if known(link.source) and known(link.target)
        ),
        main_outputs=tuple(renamed(ref) for ref in plan.main_outputs if known(ref)),
        phantom_on=tuple(renamed(ref) for ref in plan.phantom_on if known(ref)),
        sound_levels=tuple((names[device], level) for device, level in plan.sound_levels if device in names),
        dismissals=tuple(
            replace(item, finding=finding(item.finding))
            for item in plan.dismissals
            if all(known(read_ref(place)) for place in item.finding.split("|")[1:])
        ),
        pairs=None
        if plan.pairs is None
        else tuple(
            (names[one], names[other]) for one, other in plan.pairs if one in names and other in names
        ),
    )
