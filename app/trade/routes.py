"""The ways to route a re-amp through a DAW, in words that fit any DAW (common practice)."""

from dataclasses import dataclass, replace
from typing import Literal, get_args

RouteKey = Literal["print", "insert", "parallel"]
ROUTE_KEYS: tuple[RouteKey, ...] = get_args(RouteKey)


@dataclass(frozen=True)
class Route:
    """One way to route: when it suits, and the steps before, during and after the print. {send} and {back} stand for the
    sockets, until `at` fills them in."""

    key: RouteKey
    label: str
    suits: str
    before: tuple[str, ...]
    during: tuple[str, ...]
    after: tuple[str, ...]

    def at(self, send: str, back: str) -> "Route":
        """The steps with the interface's sockets named, as far as they are known: "output 3", "inputs 1 and 2"."""
        send = f"the interface’s {send}" if send else "the interface output"
        back = f"the interface’s {back}" if back else "the input it comes back to"

        def filled(steps: tuple[str, ...]) -> tuple[str, ...]:
            return tuple(step.format(send=send, back=back) for step in steps)

        return replace(self, before=filled(self.before), during=filled(self.during), after=filled(self.after))


ROUTES: tuple[Route, ...] = (
    Route(
        "print",
        "Print to a new track",
        "The plainest way: the source leaves the mix for the amp, and the return is recorded beside it.",
        (
            "Feed the re-amp box alone: take the source track off the main mix and give it {send} as its output.",
            "Take every processor off the source track, or bypass it, unless the amp is meant to hear it.",
            "Make a new track with {back} as its input, and its output on the main mix.",
            "Arm the new track, and see that it is not routed to {send}.",
            "Play the loudest part and set the return's gain so that it peaks well below full scale.",
        ),
        (
            "Record from before the first note to after the last has died away.",
            "Keep hands off the gain and the source's fader while it runs.",
        ),
        (
            "Disarm the new track.",
            "Mute the source track, or set its output back to the main mix.",
            "Note the routing with the pass.",
        ),
    ),
    Route(
        "insert",
        "Hardware insert",
        "The amp is heard at once on the source's own channel, and printed when it is right.",
        (
            "Put a hardware insert on the source's channel: send on {send}, return on {back}.",
            "Take pedals without an amp back through a DI box, or an instrument input.",
            "Let the DAW measure the insert's round trip and compensate for it; where it cannot, line the print up afterwards.",
            "Set the return's gain so that it peaks well below full scale.",
        ),
        (
            "Turn the knobs while it plays.",
            "When it is right, print the channel in real time to a new track.",
        ),
        (
            "Bypass or remove the insert, so that nothing plays through the amp unasked.",
            "Mute the source track.",
            "Note the routing with the pass.",
        ),
    ),
    Route(
        "parallel",
        "Parallel send",
        "The dry source stays in the mix, and the amp is blended beside it.",
        (
            "Feed the re-amp box from {send} by a pre-fader send of the source track at unity.",
            "See that this output is not part of the main mix.",
            "Make a new track with {back} as its input; give it no send of its own to the re-amp output.",
            "Solo the return to set its gain and its sound.",
        ),
        (
            "Record the return while the source plays.",
            "Line the return up with the dry source before judging the blend: the two comb until they meet.",
        ),
        (
            "Disarm the return's track.",
            "Mute the source's send.",
            "Note the routing and the blend with the pass.",
        ),
    ),
)


@dataclass(frozen=True)
class Variant:
    """A turn on any of the routes: when it applies and what it changes."""

    key: str
    label: str
    says: str


VARIANTS: tuple[Variant, ...] = (
    Variant(
        "pedals_and_virtual_amp",
        "Pedals only, a virtual amp after the return",
        "The pedals come back through a DI box or an instrument input; the virtual amp sits on the return's track, so that "
        "it stays adjustable and the print holds the pedals alone.",
    ),
    Variant(
        "amp_while_tracking",
        "Amp heard while tracking",
        "The instrument goes into the DI box; its through output feeds the amp and its microphone-level output is recorded, "
        "so that the player hears the amp and the source stays dry.",
    ),
    Variant(
        "combined_box",
        "Send and return in one box",
        "One box does the re-amp send and the DI return; watch that its send and its return do not share a ground when "
        "the loop hums, and use its ground lift.",
    ),
    Variant(
        "several_sources",
        "Several sources",
        "Keys, drums or voice go out one at a time, each with its own level at the amp; a mix of them shares one "
        "distortion and is a sound of its own.",
    ),
    Variant(
        "stereo",
        "Stereo",
        "Two outputs, two re-amp boxes and two returns, or the same box twice, left then right; keep the settings and "
        "the levels of both alike.",
    ),
    Variant(
        "two_amps",
        "Two amps at once",
        "One send per amp, or a re-amp box with two isolated outputs; check the polarity of the two returns against "
        "each other, and lift the audio ground of one.",
    ),
)


def route(key: str) -> Route:
    """The route with this key. Raises ValueError with a sentence where there is none."""
    for known in ROUTES:
        if known.key == key:
            return known
    raise ValueError(f"A route is one of: {', '.join(known.label for known in ROUTES)}.")
