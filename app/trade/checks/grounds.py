"""Hum, long leads and polarity."""

from app.trade.checks.finding import Finding
from app.trade.hook_up import Device, HookUp, Joint, PortRef

LONG_UNBALANCED_M = 6.0  # common practice: about twenty feet


def long_unbalanced_run(hook_up: HookUp) -> tuple[Finding, ...]:
    """An unbalanced cable longer than about 6 m."""
    return tuple(
        Finding(
            "long_unbalanced_run",
            "note",
            f"{joint.from_text} to {joint.to_text} is {joint.link.length_m:g} m of unbalanced cable.",
            "Its capacitance takes treble from a high-impedance source, and it picks up hum.",
            f"Keep it under {LONG_UNBALANCED_M:g} m: move the box nearer to the amp and make the balanced side long.",
            (joint.link.source, joint.link.target),
        )
        for joint in hook_up.joints()
        if joint.cable.kind in ("unbalanced", "insert") and (joint.link.length_m or 0.0) > LONG_UNBALANCED_M
    )


def two_earthed_devices_without_isolation(hook_up: HookUp) -> tuple[Finding, ...]:
    """Two devices on the mains earth, joined over an unbalanced connection with nothing that parts their grounds."""
    found: dict[frozenset[str], Finding] = {}
    for start in hook_up.devices:
        if not start.mains_earthed:
            continue
        for other in _earthed_over_unbalanced(hook_up, start):
            pair = frozenset((start.key, other.key))
            found.setdefault(
                pair,
                Finding(
                    "two_earthed_devices_without_isolation",
                    "note",
                    f"{start.name} and {other.name} are both earthed, and nothing parts their grounds.",
                    "The two earths and the cable's screen make a loop that can hum.",
                    "If it hums, lift the audio ground on the re-amp box or DI box, or put a transformer between them. "
                    "Never lift the mains earth.",
                    (PortRef(start.key, ""), PortRef(other.key, "")),
                ),
            )
    return tuple(found.values())


def polarity_turned_over(hook_up: HookUp) -> tuple[Finding, ...]:
    """An odd number of polarity flips between the send and a return, by boxes that invert or by pin-3-hot sockets."""
    return tuple(
        Finding(
            "polarity_turned_over",
            "note",
            f"The print comes back upside down at {joint.to_text}: {'; '.join(flips)}.",
            "Against the source or another return it thins the sum instead of adding to it.",
            "Turn the polarity over once more: at a box, at the preamp, or in the DAW.",
            (joint.link.target,),
            "AES14-1992 (XLR pin 2 is hot)",
        )
        for joint, flips in _returns_with_flips(hook_up)
        if len(flips) % 2
    )


def _earthed_over_unbalanced(hook_up: HookUp, start: Device) -> list[Device]:
    seen: set[tuple[str, bool]] = {(start.key, False)}
    ahead = [(start, False)]
    reached: dict[str, Device] = {}
    while ahead:
        device, unbalanced = ahead.pop()
        for joint in hook_up.joints():
            if joint.cable.kind == "none" or device.key not in (joint.source.key, joint.target.key):
                continue
            other = joint.target if joint.source.key == device.key else joint.source
            crossed = unbalanced or joint.cable.kind in ("unbalanced", "insert")
            if (
                other.key == start.key
                or (other.key, crossed) in seen
                or other.isolated
                or other.ground_lifted
            ):
                continue
            seen.add((other.key, crossed))
            if other.mains_earthed and crossed:
                reached[other.key] = other
            if not other.mains_earthed:
                ahead.append((other, crossed))
    return list(reached.values())


def _returns_with_flips(hook_up: HookUp) -> list[tuple[Joint, tuple[str, ...]]]:
    """Each connection into an interface that a send reaches, with the polarity flips on the way.

    A device is passed once for an even and once for an odd number of flips, so that no tangle of cables takes long.
    """
    joints = list(hook_up.joints())
    ahead: list[tuple[Joint, tuple[str, ...]]] = [
        (joint, ()) for joint in joints if joint.source.kind == "interface"
    ]
    passed: set[tuple[PortRef, bool]] = set()
    returns = []
    while ahead:
        joint, flips = ahead.pop(0)
        if _swaps_pins(joint):
            flips = (*flips, _pins(joint))
        if joint.target.kind == "interface":
            if (joint.link.target, len(flips) % 2 == 1) not in passed:
                passed.add((joint.link.target, len(flips) % 2 == 1))
                returns.append((joint, flips))
            continue
        if joint.target.inverts:
            flips = (*flips, f"{joint.target.name} inverts")
        state = (PortRef(joint.target.key, ""), len(flips) % 2 == 1)
        if state not in passed:
            passed.add(state)
            ahead += [(onward, flips) for onward in joints if onward.source.key == joint.target.key]
    return returns


def _swaps_pins(joint: Joint) -> bool:
    return joint.cable.kind == "balanced" and joint.out.hot_pin != joint.into.hot_pin


def _pins(joint: Joint) -> str:
    return f"pin {joint.out.hot_pin} hot at {joint.from_text} meets pin {joint.into.hot_pin} hot at {joint.to_text}"
