"""What can hurt someone or something, said at the spot where it matters.

Each caution is one sentence and who to defer to; they are common practice of the trade, not a substitute for the maker's
manual, local code or a licensed technician.
"""

from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass
from typing import Literal, get_args

from app.trade.gear_kinds import GearKind

Spot = Literal["hook_up", "power_up", "repatching", "microphone", "listening", "reference_signal"]
SPOTS: tuple[Spot, ...] = get_args(Spot)


@dataclass(frozen=True)
class Piece:
    """A piece of gear as far as cautions go. None means not known, and a caution then speaks up rather than keeps silent."""

    kind: GearKind
    valve: bool | None = None
    ribbon: bool | None = None


@dataclass(frozen=True)
class Caution:
    """`short` is the one line for where the work is, `sentence` says what to do and why, `defer_to` who has the last
    word, `spots` where it is shown; among cables it stands before the first that ends at such a piece (`before` "into"), or
    that begins there."""

    key: str
    spots: tuple[Spot, ...]
    short: str
    sentence: str
    defer_to: str
    concerns: Callable[[Piece], bool]
    before: Literal["into", "out of"] = "out of"


def _may_be_valve_amp(gear: Piece) -> bool:
    return gear.kind == "amp" and gear.valve is not False


def _has_speaker_output(gear: Piece) -> bool:
    return gear.kind in ("amp", "cabinet", "load")


def _may_be_ribbon(gear: Piece) -> bool:
    return gear.kind == "microphone" and gear.ribbon is not False


def _is_mains_gear(gear: Piece) -> bool:
    return gear.kind in ("amp", "preamp", "interface", "other")


CAUTIONS: tuple[Caution, ...] = (
    Caution(
        "valve_amp_needs_its_load",
        ("hook_up", "power_up"),
        "Speaker or load on before a valve amp gets power",
        "Connect the speaker, or a load made for the job and of the right impedance, before a valve amp gets power, "
        "and leave it connected until the amp is off: without one the output transformer and valves can be ruined.",
        "The amp's manual names the load it needs.",
        _may_be_valve_amp,
        before="into",
    ),
    Caution(
        "never_lift_the_mains_earth",
        ("hook_up",),
        "Never lift the mains earth",
        "Never lift, tape over or cut a mains earth to cure hum: it is what keeps a fault from reaching you. "
        "Use the audio ground lift on the re-amp box or DI box, or a transformer.",
        "Local electrical code comes first; a licensed electrician mends the mains.",
        _is_mains_gear,
    ),
    Caution(
        "valve_amp_holds_lethal_voltage",
        ("power_up",),
        "Do not open a valve amp: lethal voltage, also when off",
        "Do not open a valve amp: its capacitors hold a lethal voltage long after it is off and unplugged.",
        "Leave the inside to a licensed technician.",
        _may_be_valve_amp,
        before="into",
    ),
    Caution(
        "turn_down_before_repatching",
        ("repatching",),
        "Turn down and mute before any plug moves",
        "Turn the amp and the monitors down, and mute the return, before any plug is pulled or pushed.",
        "Amps that say so in their manual go to standby or off first.",
        lambda gear: gear.kind in ("amp", "interface", "preamp"),
    ),
    Caution(
        "speaker_output_only_into_a_speaker",
        ("hook_up", "repatching"),
        "A speaker output goes only into a speaker or its load",
        "A speaker output goes only into a speaker or a load made for it, over speaker cable; into a line, microphone "
        "or DI input not made for it, it can destroy both ends.",
        "The manuals of both pieces say what they can take.",
        _has_speaker_output,
    ),
    Caution(
        "phantom_power_and_ribbons",
        ("hook_up", "repatching", "microphone"),
        "Phantom power off before plugging, and off for old ribbons",
        "Switch phantom power off and let it fade before plugging, and keep it from old ribbon microphones: "
        "through a faulty or unbalanced cable it can tear the ribbon.",
        "The microphone's manual says whether it may see phantom power.",
        _may_be_ribbon,
    ),
    Caution(
        "sound_level_and_hearing",
        ("power_up", "microphone", "listening"),
        "Place microphones with the amp turned down: hearing",
        "A cranked amp in a room harms hearing within minutes: place microphones with the amp turned down, "
        "wear protection, and keep count of level and time.",
        "Local rules on noise come first; ask a doctor about ringing or dullness.",
        lambda gear: gear.kind in ("amp", "cabinet"),
    ),
    Caution(
        "sweeps_are_louder_than_playing",
        ("reference_signal",),
        "A sweep is louder than playing: begin low",
        "A sweep holds one level through every frequency, which playing never does: it can burn tweeters and small "
        "speakers and hurt ears. Begin with the level low and the monitors down, stay out of the room or wear protection, "
        "and stop at the first sound of strain.",
        "The manuals of amp and speaker say what they bear; local rules on noise come first.",
        lambda gear: gear.kind in ("amp", "cabinet"),
    ),
)


def cautions_for(gear: Iterable[Piece], spots: Collection[Spot] = SPOTS) -> tuple[Caution, ...]:
    """The cautions that concern at least one piece of the gear at one of these spots, once each."""
    pieces = tuple(gear)
    return tuple(
        caution
        for caution in CAUTIONS
        if any(spot in spots for spot in caution.spots) and any(caution.concerns(piece) for piece in pieces)
    )


def before_cables(
    cautions: Iterable[Caution], cables: Sequence[tuple[Piece | None, Piece | None]]
) -> dict[int, tuple[Caution, ...]]:
    """The cautions by the number of the cable, (from, to), that they stand before; what belongs to none stands before the
    first. An end that is not known concerns nothing."""
    placed: dict[int, tuple[Caution, ...]] = {}
    for caution in cautions:
        ends = (source if caution.before == "out of" else target for source, target in cables)
        at = next((at for at, end in enumerate(ends) if end is not None and caution.concerns(end)), 0)
        placed[at] = (*placed.get(at, ()), caution)
    return placed
