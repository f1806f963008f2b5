"""Whether each input is fed with the level it is made for."""

from app.trade.checks.finding import Finding
from app.trade.hook_up import HookUp, PortRef


def line_into_instrument_input(hook_up: HookUp) -> tuple[Finding, ...]:
    """A line output straight into a pedal, an amp or another instrument input."""
    return tuple(
        Finding(
            "line_into_instrument_input",
            "stop",
            f"{joint.from_text} gives line level to {joint.to_text}, which is made for an instrument.",
            "Line level is not instrument level: it is some 24 dB hotter and comes from a low impedance, so the input "
            "distorts, reacts differently and may hum.",
            "Put a re-amp box between them: balanced line in, high-impedance instrument level out.",
            (joint.link.source, joint.link.target),
        )
        for joint in hook_up.joints()
        if joint.out.level == "line" and joint.into.level == "instrument" and not joint.into.accepts("line")
    )


def instrument_into_line_input(hook_up: HookUp) -> tuple[Finding, ...]:
    """A pedal or an instrument straight into a line or microphone input, without a DI box."""
    return tuple(
        Finding(
            "instrument_into_line_input",
            "warn",
            f"{joint.from_text} gives instrument level to {joint.to_text}, which is not made for it.",
            "The input loads the pedal down and wants more level than it gives: treble and noise suffer.",
            "Put a DI box between them, or use an instrument input.",
            (joint.link.source, joint.link.target),
        )
        for joint in hook_up.joints()
        if joint.out.level == "instrument"
        and joint.into.level in ("line", "microphone")
        and not joint.into.accepts("instrument")
    )


def line_into_microphone_input(hook_up: HookUp) -> tuple[Finding, ...]:
    """A line output into an input that only takes a microphone."""
    return tuple(
        Finding(
            "line_into_microphone_input",
            "warn",
            f"{joint.from_text} gives line level to {joint.to_text}, which is made for a microphone.",
            "A microphone input is filled by a level some 40 dB lower and clips.",
            "Use a line input, or a pad.",
            (joint.link.source, joint.link.target),
        )
        for joint in hook_up.joints()
        if joint.out.level == "line" and joint.into.level == "microphone" and not joint.into.accepts("line")
    )


def microphone_without_preamp(hook_up: HookUp) -> tuple[Finding, ...]:
    """A microphone, or a DI box at microphone level, into an input that has no microphone preamp."""
    return tuple(
        Finding(
            "microphone_without_preamp",
            "warn",
            f"{joint.from_text} gives microphone level to {joint.to_text}, which has no microphone preamp.",
            "It needs some 30 to 60 dB more gain; without them the print is buried in noise.",
            "Go through a microphone preamp, or an input that has one.",
            (joint.link.source, joint.link.target),
        )
        for joint in hook_up.joints()
        if joint.out.level == "microphone"
        and not joint.into.accepts("microphone")
        and joint.into.level != "speaker"
    )


def microphone_over_its_maximum(hook_up: HookUp) -> tuple[Finding, ...]:
    """A microphone at a sound level above the most it stands."""
    levels = dict(hook_up.sound_level_db_spl)
    return tuple(
        Finding(
            "microphone_over_its_maximum",
            "warn",
            f"{device.name} stands {device.max_spl_db:g} dB SPL and is given {levels[device.key]:g}.",
            "Above its maximum a microphone distorts by itself, before any preamp.",
            "Move it back, use its pad, turn the amp down, or take a microphone that stands more.",
            (PortRef(device.key, ""),),
        )
        for device in hook_up.devices
        if device.max_spl_db is not None and levels.get(device.key, float("-inf")) > device.max_spl_db
    )


def stereo_into_balanced_input(hook_up: HookUp) -> tuple[Finding, ...]:
    """A stereo TRS output into one balanced input."""
    return tuple(
        Finding(
            "stereo_into_balanced_input",
            "warn",
            f"{joint.from_text} carries left and right; {joint.to_text} takes the difference of the two.",
            "A balanced input keeps left minus right: whatever is the same in both cancels.",
            "Use a lead that splits left and right into two plugs.",
            (joint.link.source, joint.link.target),
            "the definition of a balanced input",
        )
        for joint in hook_up.joints()
        if joint.out.stereo and joint.into.balanced and not joint.into.stereo
    )
