"""Phantom power where it must not be, and where it is wanted."""

from app.trade.checks.finding import Finding, Question
from app.trade.hook_up import HookUp, Joint


def phantom_on_a_ribbon(hook_up: HookUp) -> tuple[Finding, ...]:
    """Phantom power on towards a ribbon microphone, or one that nobody has said is none. What the microphone is counts,
    whatever its port says: a port is what its kind starts with until somebody looks at it."""
    found = []
    for joint in hook_up.joints():
        if joint.link.target not in hook_up.phantom_on:
            continue
        for first in _where_it_reaches(hook_up, joint):
            microphone = first.source
            if microphone.ribbon is False or (microphone.ribbon is None and microphone.kind != "microphone"):
                continue
            is_known = microphone.ribbon is True
            found.append(
                Finding(
                    "phantom_on_a_ribbon",
                    "stop",
                    f"Phantom power is on at {joint.to_text}, and {microphone.name} is a ribbon microphone."
                    if is_known
                    else f"Phantom power is on at {joint.to_text}: is {microphone.name} a ribbon microphone?",
                    "A worn cable, a patch bay or a plug half in puts its 48 V across the ribbon, and tears or stretches it.",
                    "Mute the return, switch phantom power off, and let it fade before plugging or unplugging. "
                    + (
                        "An active ribbon that is made for phantom power is the exception; the maker's manual says so."
                        if is_known
                        else "Leave it off until you know; the maker's manual says what the microphone is."
                    ),
                    (first.link.source, joint.link.target),
                    asks=()
                    if is_known
                    else (Question(microphone.key, "ribbon", f"Is {microphone.name} a ribbon microphone?"),),
                )
            )
    return tuple(found)


def _where_it_reaches(hook_up: HookUp, joint: Joint) -> list[Joint]:
    """The connections that phantom power at the end of this one comes to: its own, and those into a patch bay or
    splitter on the way, which lets it through unless a transformer parts its two sides."""
    reached, ahead = [joint], [joint]
    while ahead:
        passed = ahead.pop().source
        if passed.kind != "other" or passed.isolated:
            continue
        for before in hook_up.joints():
            if before.target.key == passed.key and before.into.balanced and before not in reached:
                reached.append(before)
                ahead.append(before)
    return reached


def phantom_where_it_must_not_be(hook_up: HookUp) -> tuple[Finding, ...]:
    """Phantom power on towards a source that must not see it, or over an unbalanced or line-level connection."""
    found = []
    for joint in hook_up.joints():
        if joint.link.target not in hook_up.phantom_on:
            continue
        if joint.source.kind == "microphone" and joint.source.ribbon is not False:
            continue  # said by `phantom_on_a_ribbon`
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
