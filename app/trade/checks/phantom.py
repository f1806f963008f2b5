"""Phantom power where it must not be, and where it is wanted."""

from app.trade.checks.finding import Finding
from app.trade.hook_up import HookUp


def phantom_where_it_must_not_be(hook_up: HookUp) -> tuple[Finding, ...]:
    """Phantom power on towards a source that must not see it, or over an unbalanced or line-level connection."""
    found = []
    for joint in hook_up.joints():
        if joint.link.target not in hook_up.phantom_on:
            continue
        if joint.out.phantom == "must_not":
            reason, severity = "is not to see phantom power", "stop"
        elif not joint.out.balanced:
            reason, severity = (
                "is unbalanced, so phantom power reaches it as a voltage across its output",
                "stop",
            )
        elif joint.out.level == "line":
            reason, severity = "is a line output, which phantom power can harm", "warn"
        else:
            continue
        found.append(
            Finding(
                "phantom_where_it_must_not_be",
                "stop" if severity == "stop" else "warn",
                f"Phantom power is on at {joint.to_text}, and {joint.from_text} {reason}.",
                "It can tear an old ribbon and upset or damage an output not made for it.",
                "Mute the return, switch phantom power off, and let it fade before plugging or unplugging. "
                "The maker's manual says what may see it.",
                (joint.link.source, joint.link.target),
            )
        )
    return tuple(found)


def phantom_missing(hook_up: HookUp) -> tuple[Finding, ...]:
    """A microphone or box that needs phantom power, on an input where it is off or cannot be had."""
    return tuple(
        Finding(
            "phantom_missing",
            "warn",
            f"{joint.from_text} needs phantom power, and it is off at {joint.to_text}.",
            "Without it there is no signal, or a weak and distorted one.",
            "With the return muted, switch phantom power on there, or use an input or a supply that has it.",
            (joint.link.source, joint.link.target),
            "IEC 61938 (P48)",
        )
        for joint in hook_up.joints()
        if joint.out.phantom == "needs" and joint.link.target not in hook_up.phantom_on
    )
