"""Where the DAW and the cables lead: loops, doubled sockets, sends that carry too much."""

from collections import Counter

from app.trade.checks.finding import Finding
from app.trade.hook_up import HookUp, PortRef


def send_is_also_main_output(hook_up: HookUp) -> tuple[Finding, ...]:
    """The output that feeds the re-amp box also carries the main mix."""
    shared = [ref for ref in hook_up.daw.send_outputs if ref in hook_up.daw.main_outputs]
    return tuple(
        Finding(
            "send_is_also_main_output",
            "stop",
            f"{_socket(hook_up, ref)} carries the send and the main mix at once.",
            "The whole mix goes through the amp, the return with it, and loud.",
            "Send from an output of its own.",
            (ref,),
        )
        for ref in shared
    )


def return_into_its_own_send(hook_up: HookUp) -> tuple[Finding, ...]:
    """The return's track plays to the output that feeds the re-amp box."""
    looped = [ref for ref in hook_up.daw.return_outputs if ref in hook_up.daw.send_outputs]
    return tuple(
        Finding(
            "return_into_its_own_send",
            "stop",
            f"The return plays into {_socket(hook_up, ref)}, which feeds the amp it comes from.",
            "That is a loop: it howls, at once and at full level.",
            "Send the return's track to the main mix alone, and never monitor it into the send.",
            (ref,),
        )
        for ref in looped
    )


def parallel_send_after_the_fader(hook_up: HookUp) -> tuple[Finding, ...]:
    """A parallel send taken after the fader."""
    if hook_up.route != "parallel" or hook_up.daw.send_tap != "post_fader":
        return ()
    return (
        Finding(
            "parallel_send_after_the_fader",
            "warn",
            "The parallel send is taken after the fader.",
            "Every move of the dry fader changes how hard the amp is driven, and the settings cannot be found again.",
            "Take the send before the fader.",
            hook_up.daw.send_outputs,
        ),
    )


def port_used_twice(hook_up: HookUp) -> tuple[Finding, ...]:
    """One output or one input with two cables on it. Several microphones may share one speaker."""
    uses = Counter(
        ref
        for joint in hook_up.joints()
        for ref, port in ((joint.link.source, joint.out), (joint.link.target, joint.into))
        if port.connector != "air"
    )
    return tuple(
        Finding(
            "port_used_twice",
            "warn",
            f"{_socket(hook_up, ref)} has {count} cables on it.",
            "A socket takes one plug; two outputs joined work against each other.",
            "Use another socket, or a splitter made for the job.",
            (ref,),
        )
        for ref, count in uses.items()
        if count > 1
    )


def chain_with_a_loop(hook_up: HookUp) -> tuple[Finding, ...]:
    """Gear whose output leads back to its own input without passing through the interface."""
    following: dict[str, set[str]] = {}
    for joint in hook_up.joints():
        if "interface" not in (joint.source.kind, joint.target.kind):
            following.setdefault(joint.source.key, set()).add(joint.target.key)
    looped = [key for key in following if key in _reached_from(key, following)]
    if not looped:
        return ()
    names = ", ".join(device.name for device in hook_up.devices if device.key in looped)
    return (
        Finding(
            "chain_with_a_loop",
            "stop",
            f"The chain leads back into itself: {names}.",
            "A loop with gain in it howls.",
            "Take out the connection that leads back.",
            tuple(PortRef(key, "") for key in looped),
        ),
    )


def gear_without_ports(hook_up: HookUp) -> tuple[Finding, ...]:
    """Gear that has no sockets written down."""
    return tuple(
        Finding(
            "gear_without_ports",
            "warn",
            f"{device.name} has no inputs or outputs written down.",
            "Nothing can be checked or listed about its cables.",
            "Add its ports, or start from those of its kind.",
            (PortRef(device.key, ""),),
        )
        for device in hook_up.devices
        if not device.ports
    )


def connection_to_missing_gear(hook_up: HookUp) -> tuple[Finding, ...]:
    """A connection, or a DAW route, to gear or a port that is no longer there."""
    ends = [end for link in hook_up.links for end in (link.source, link.target)]
    routed = [*hook_up.daw.send_outputs, *hook_up.daw.main_outputs]
    routed += [*hook_up.daw.return_inputs, *hook_up.daw.return_outputs]
    missing = tuple(dict.fromkeys(ref for ref in (*ends, *routed) if hook_up.port(ref) is None))
    if not missing:
        return ()
    names = " and ".join(dict.fromkeys(_socket(hook_up, ref) for ref in missing))
    return (
        Finding(
            "connection_to_missing_gear",
            "note",
            f"Connections lead to {names}: no longer there.",
            "The gear or its port was taken away after this hook-up was written; the rest of it still stands.",
            "Wire it anew, or choose what stands in its place now.",
            missing,
        ),
    )


def _reached_from(start: str, following: dict[str, set[str]]) -> set[str]:
    reached: set[str] = set()
    ahead = list(following.get(start, ()))
    while ahead:
        key = ahead.pop()
        if key not in reached:
            reached.add(key)
            ahead += following.get(key, ())
    return reached


def _socket(hook_up: HookUp, ref: PortRef) -> str:
    device, port = hook_up.device(ref.device), hook_up.port(ref)
    if device and port:
        return f"{device.name}, {port.label.lower()}"
    return f"{device.name}, a port that was removed" if device else "gear that was removed"
