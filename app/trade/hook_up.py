"""The hook-up of a session: which socket goes to which over what cable, and what the DAW is set to.

A hook-up is a set of devices with ports, the links between the ports, and the DAW's routing. `wire` makes the links from
gear in order; `connection_list` writes them down to be ticked off. The rules in `checks` read the same hook-up.
"""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Literal, NamedTuple

from app.trade.cables import Cable, cable_between
from app.trade.gear_kinds import GearKind
from app.trade.ports import CONNECTOR_LABELS, Port
from app.trade.routes import RouteKey


class PortRef(NamedTuple):
    """A port of a device, by their keys."""

    device: str
    port: str


@dataclass(frozen=True)
class Device:
    """A piece of gear as it stands in the hook-up. None means not known.

    `isolated` is true where a transformer (or the like) parts input from output, `ground_lifted` where its audio ground
    is lifted, `mains_earthed` where its case is on the mains earth, `inverts` where it turns polarity over. `ribbon` says
    whether a microphone is one, `own_speaker` whether an amp has a speaker built in.
    `rated_load_ohm` is what an amp's speaker output wants, `max_spl_db` what a microphone stands.
    """

    key: str
    name: str
    kind: GearKind
    ports: tuple[Port, ...]
    valve: bool | None = None
    own_speaker: bool | None = None
    ribbon: bool | None = None
    mains_earthed: bool | None = None
    isolated: bool | None = None
    ground_lifted: bool = False
    inverts: bool = False
    rated_load_ohm: float | None = None
    max_spl_db: float | None = None

    def port(self, key: str) -> Port | None:
        return next((port for port in self.ports if port.key == key), None)


@dataclass(frozen=True)
class Link:
    """A cable (or the air) from an output to an input."""

    source: PortRef
    target: PortRef
    length_m: float | None = None

    def __post_init__(self) -> None:
        if self.length_m is not None and not 0.0 <= self.length_m <= 1000.0:
            raise ValueError("A cable is between 0 and 1000 m long.")


@dataclass(frozen=True)
class DawRouting:
    """What the DAW sends where.

    `send_outputs` carry the source to the re-amp box, `main_outputs` the mix; `return_inputs` are recorded;
    `return_outputs` are where the return's track plays to. `send_tap` matters on a parallel send.
    """

    send_outputs: tuple[PortRef, ...] = ()
    main_outputs: tuple[PortRef, ...] = ()
    return_inputs: tuple[PortRef, ...] = ()
    return_outputs: tuple[PortRef, ...] = ()
    send_tap: Literal["pre_fader", "post_fader"] | None = None


@dataclass(frozen=True)
class HookUp:
    """A whole hook-up. `phantom_on` names inputs with phantom power on, `sound_level_db_spl` the level at microphones."""

    route: RouteKey
    devices: tuple[Device, ...]
    links: tuple[Link, ...]
    daw: DawRouting = field(default_factory=DawRouting)
    phantom_on: frozenset[PortRef] = frozenset()
    sound_level_db_spl: tuple[tuple[str, float], ...] = ()

    def device(self, key: str) -> Device | None:
        return next((device for device in self.devices if device.key == key), None)

    def port(self, ref: PortRef) -> Port | None:
        device = self.device(ref.device)
        return device.port(ref.port) if device else None

    def joints(self) -> Iterator["Joint"]:
        """Every link whose two ends are still there, with both ends looked up."""
        for link in self.links:
            source, target = self.device(link.source.device), self.device(link.target.device)
            out, into = self.port(link.source), self.port(link.target)
            if source and target and out and into:
                yield Joint(link, source, out, target, into)


@dataclass(frozen=True)
class Joint:
    """A link with its two ends looked up."""

    link: Link
    source: Device
    out: Port
    target: Device
    into: Port

    @property
    def cable(self) -> Cable:
        return cable_between(self.out, self.into)

    @property
    def from_text(self) -> str:
        return f"{self.source.name}, {self.out.label.lower()}"

    @property
    def to_text(self) -> str:
        return f"{self.target.name}, {self.into.label.lower()}"


@dataclass(frozen=True)
class Wiring:
    """Links made from gear in order, and a sentence for each pair that could not be joined."""

    links: tuple[Link, ...]
    gaps: tuple[str, ...]


def wire(
    paths: Sequence[Sequence[Device]],
    main_outputs: Sequence[PortRef] = (),
    *,
    made: Sequence[Link] = (),
    without: Collection[tuple[str, str]] = (),
) -> Wiring:
    """Links along each path of gear, sockets chosen for their level, connector and number.

    A path runs from the interface's output through the gear to the interface's input; two amps at once are two paths
    that begin alike. Main outputs are left alone, and a socket is used once as long as another fits as well. A microphone
    whose preamp has another one in every input goes round it, into a microphone input of what comes behind.
    Links that are `made` already stay; pairs of gear in `without` are not joined.
    """
    links = list(made)
    gaps: list[str] = []
    for path in paths:
        for source, target in pairwise(_with_room(path, links)):
            if (source.key, target.key) in without or _is_joined(source, target, links):
                continue
            link = _best_link(source, target, tuple(links), main_outputs)
            if link is None:
                gaps.append(_gap_sentence(source, target))
            else:
                links.append(link)
    return Wiring(tuple(links), tuple(dict.fromkeys(gaps)))


def _with_room(path: Sequence[Device], links: Sequence[Link]) -> list[Device]:
    """The path without a preamp that is full, where a microphone finds an input behind it."""
    joined = {(link.source.device, link.target.device) for link in links}
    used = {link.target for link in links}

    def has_room(device: Device, *, for_microphone: bool = False) -> bool:
        return any(
            port.direction == "in"
            and port.connector != "air"
            and PortRef(device.key, port.key) not in used
            and (port.accepts("microphone") or not for_microphone)
            for port in device.ports
        )

    kept: list[Device] = []
    for at, device in enumerate(path):
        before = kept[-1] if kept else None
        is_full = (
            before is not None
            and (before.kind, device.kind) == ("microphone", "preamp")
            and (before.key, device.key) not in joined
            and not has_room(device)
        )
        if not (is_full and at + 1 < len(path) and has_room(path[at + 1], for_microphone=True)):
            kept.append(device)
    return kept


def _is_joined(source: Device, target: Device, links: Sequence[Link]) -> bool:
    """Whether a pair needs no (further) cable. A box with several channels, such as a preamp that two microphones run
    into, needs as many ways on as come in, as long as both ends have sockets free."""
    between = [link for link in links if (link.source.device, link.target.device) == (source.key, target.key)]
    if not between:
        return False
    coming_in = sum(link.target.device == source.key for link in links)
    used = {link.source for link in links} | {link.target for link in links}
    made_for = source.port(between[0].source.port)
    free_out = [
        port
        for port in source.ports
        if port.direction == "out"
        and PortRef(source.key, port.key) not in used
        and made_for is not None
        and port.level == made_for.level
        and port.connector != "air"
    ]
    free_in = [
        port
        for port in target.ports
        if port.direction == "in" and PortRef(target.key, port.key) not in used and port.connector != "air"
    ]
    return len(between) >= coming_in or not free_out or not free_in


def _best_link(
    source: Device, target: Device, made: tuple[Link, ...], main_outputs: Sequence[PortRef]
) -> Link | None:
    used = {link.source for link in made} | {link.target for link in made}

    def cost(out: Port, into: Port) -> tuple[int, ...]:
        refs = (PortRef(source.key, out.key), PortRef(target.key, into.key))
        return (
            refs[0] in main_outputs,
            0 if out.level == into.level else 1 if into.accepts(out.level) else 2,
            sum(ref in used for ref, port in zip(refs, (out, into), strict=True) if port.connector != "air"),
            out.connector != into.connector,
            out.number or 0,
            into.number or 0,
        )

    outs = [port for port in source.ports if port.direction == "out"]
    ins = [port for port in target.ports if port.direction == "in"]
    pairs = [
        (out, into) for out in outs for into in ins if (out.connector == "air") == (into.connector == "air")
    ]
    if not pairs:
        return None
    out, into = min(pairs, key=lambda pair: cost(*pair))
    return Link(PortRef(source.key, out.key), PortRef(target.key, into.key))


def _gap_sentence(source: Device, target: Device) -> str:
    outs = [port for port in source.ports if port.direction == "out"]
    ins = [port for port in target.ports if port.direction == "in"]
    if not outs:
        return f"{source.name} has no output to go on from; add its ports."
    if not ins:
        return f"{target.name} has no input to go into; add its ports."
    if all(port.connector == "air" for port in ins):
        return f"{source.name} has no speaker for {target.name} to stand in front of; add a cabinet or its built-in speaker."
    return f"{source.name} only makes sound; put a microphone between it and {target.name}."


@dataclass(frozen=True)
class ConnectionRow:
    """One line of the list that is ticked off while plugging; `key` names its two sockets, `look` is what to see to at
    this plug, or empty."""

    number: int
    key: str
    from_text: str
    to_text: str
    cable: str
    length_m: float | None
    look: str


def connection_list(hook_up: HookUp) -> tuple[ConnectionRow, ...]:
    """Every connection, in the order in which it was wired."""
    return tuple(
        ConnectionRow(
            number,
            f"{_socket_key(joint.link.source)}-{_socket_key(joint.link.target)}",
            joint.from_text,
            joint.to_text,
            joint.cable.text,
            joint.link.length_m,
            _look(hook_up, joint),
        )
        for number, joint in enumerate(hook_up.joints(), 1)
    )


def _socket_key(ref: PortRef) -> str:
    return f"{ref.device}.{ref.port}"


def _look(hook_up: HookUp, joint: Joint) -> str:
    if joint.link.source in hook_up.daw.send_outputs:
        return "carries the send alone, not the main mix"
    if joint.out.level == "speaker":
        return "plugged in at both ends before the amp gets power"
    if joint.out.level == "sound":
        return "placed with the amp turned down"
    if joint.into.phantom == "supplies":
        if joint.out.phantom == "needs":
            return "phantom power on after plugging, with the return muted"
        return "phantom power off"
    return ""


def socket_text(port: Port) -> str:
    """A socket in words: "Output 3 (¼-inch TRS, balanced)"."""
    return f"{port.label} ({CONNECTOR_LABELS[port.connector]}{', balanced' if port.balanced else ''})"
