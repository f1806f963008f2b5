"""Amps, what hangs on their speaker outputs, and what must not."""

from app.trade.checks.finding import Finding, Question
from app.trade.hook_up import Device, HookUp, PortRef

SAME_LOAD_TOLERANCE = 0.1  # rated impedances are nominal; 8 ohm against 7.5 is no mismatch


def speaker_output_into_something_else(hook_up: HookUp) -> tuple[Finding, ...]:
    """A speaker output into anything but a speaker, or a load or box made for it."""
    return tuple(
        Finding(
            "speaker_output_into_something_else",
            "stop",
            f"{joint.from_text} is a speaker output, and {joint.to_text} is not made for one.",
            "It carries tens of volts at amps of current: it can destroy the input, and leaves the amp without its load.",
            "Connect the speaker or a load made for the job, and take the signal from the load's line output or a "
            "microphone. The manuals of both pieces have the last word.",
            (joint.link.source, joint.link.target),
        )
        for joint in hook_up.joints()
        if joint.out.level == "speaker" and not joint.into.accepts("speaker")
    )


def valve_amp_without_load(hook_up: HookUp) -> tuple[Finding, ...]:
    """A valve amp with neither a speaker nor a load on any of its speaker outputs, and none of its own."""
    return tuple(
        Finding(
            "valve_amp_without_load",
            "stop" if amp.valve else "warn",
            _unloaded(amp),
            "Driven without a load, its voltages rise until they arc: the output transformer and valves can be ruined.",
            "Connect a speaker or a proper load of the right impedance before it gets power. "
            "The amp's manual names the load it needs.",
            (PortRef(amp.key, ""),),
            "widely published service advice",
            _asked_of(amp),
        )
        for amp in hook_up.devices
        if amp.kind == "amp"
        and amp.valve is not False
        and _has_speaker_output(amp)
        and not _has_load(hook_up, amp)
    )


def _unloaded(amp: Device) -> str:
    if amp.own_speaker is None:
        also = "" if amp.valve else ", and is it a valve amp"
        return f"{amp.name} has no speaker and no load connected. Has it its own speaker{also}?"
    return f"{amp.name} has no speaker and no load connected{'' if amp.valve else '; is it a valve amp?'}."


def _asked_of(amp: Device) -> tuple[Question, ...]:
    asked = []
    if amp.own_speaker is None:
        asked.append(Question(amp.key, "own_speaker", f"Has {amp.name} its own speaker?"))
    if amp.valve is None:
        asked.append(Question(amp.key, "valve", f"Has {amp.name} valves?"))
    return tuple(asked)


def attenuator_without_speaker(hook_up: HookUp) -> tuple[Finding, ...]:
    """A load that an amp drives, with a speaker output of its own and nothing on it: an attenuator."""
    return tuple(
        Finding(
            "attenuator_without_speaker",
            "warn",
            f"{load.name} has no speaker connected behind it.",
            "Many attenuators take away a part of the power only: without their speaker the amp has no proper load.",
            "Connect the speaker, unless its manual says that it is a full load by itself.",
            (PortRef(load.key, ""),),
        )
        for load in hook_up.devices
        if load.kind == "load"
        and _has_speaker_output(load)
        and any(joint.target.key == load.key and joint.out.level == "speaker" for joint in hook_up.joints())
        and not _speakers_on(hook_up, load)
    )


def load_of_the_wrong_impedance(hook_up: HookUp) -> tuple[Finding, ...]:
    """An amp whose one speaker or load has another impedance than the amp is set to."""
    found = []
    for joint in hook_up.joints():
        rated = joint.source.rated_load_ohm
        actual = joint.target.rated_load_ohm or joint.into.impedance_ohm
        if joint.out.level != "speaker" or joint.into.level != "speaker" or rated is None or actual is None:
            continue
        if _speakers_on(hook_up, joint.source) != 1 or abs(actual - rated) <= SAME_LOAD_TOLERANCE * rated:
            continue
        if joint.source.valve is False and actual > rated:
            continue  # a solid-state amp may be loaded more lightly, never more heavily
        found.append(
            Finding(
                "load_of_the_wrong_impedance",
                "stop" if actual < rated else "warn",
                f"{joint.source.name} wants {rated:g} Ω, and {joint.target.name} is {actual:g} Ω.",
                "A load below the rating draws more current than the output is made for; above it, a valve amp's voltages rise.",
                "Set the amp's impedance selector or socket to match, or use another cabinet or load. "
                "The amp's manual has the last word.",
                (joint.link.source, joint.link.target),
            )
        )
    return tuple(found)


def speaker_fed_without_power_amp(hook_up: HookUp) -> tuple[Finding, ...]:
    """A cabinet or load fed with anything but a speaker output."""
    return tuple(
        Finding(
            "speaker_fed_without_power_amp",
            "warn",
            f"{joint.from_text} gives no speaker level, and {joint.to_text} needs an amp's power.",
            "Next to nothing will be heard from it.",
            "Put the amp between them.",
            (joint.link.source, joint.link.target),
        )
        for joint in hook_up.joints()
        if joint.into.level == "speaker" and not joint.into.accepts(joint.out.level)
    )


def _has_speaker_output(amp: Device) -> bool:
    return any(port.direction == "out" and port.level == "speaker" for port in amp.ports)


def _has_load(hook_up: HookUp, amp: Device) -> bool:
    if amp.own_speaker is not None:
        built_in = amp.own_speaker
    else:
        built_in = any(port.direction == "out" and port.connector == "air" for port in amp.ports)
    return built_in or _speakers_on(hook_up, amp) > 0


def _speakers_on(hook_up: HookUp, amp: Device) -> int:
    return sum(
        joint.source.key == amp.key and joint.out.level == "speaker" and joint.into.accepts("speaker")
        for joint in hook_up.joints()
    )
