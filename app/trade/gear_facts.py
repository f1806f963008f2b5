"""What a manual or a measurement says of a piece of gear, beyond its controls and ports."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields, replace
from math import isfinite
from typing import Any

from app.trade.gear_kinds import GearKind

YES_NO = ("valve", "own_speaker", "ribbon", "mains_earthed", "isolated", "inverts")


@dataclass(frozen=True)
class GearFacts:
    """None means not known.

    `own_speaker`: an amp's speaker is built in, as a combo's is. `isolated`: a transformer (or the like) parts input from output. `inverts`: it turns polarity over.
    `loss_db`: what a re-amp or DI box takes away with its trim fully up (positive). `rated_load_ohm`: what an amp's
    speaker output wants. Levels at 0 dBFS are those of a sine; an input's with nothing added by its gain.
    Raises ValueError with a sentence for a value that cannot be.
    """

    valve: bool | None = None
    own_speaker: bool | None = None
    ribbon: bool | None = None
    mains_earthed: bool | None = None
    isolated: bool | None = None
    inverts: bool | None = None
    loss_db: float | None = None
    rated_load_ohm: float | None = None
    max_spl_db: float | None = None
    sensitivity_mv_per_pa: float | None = None
    output_full_scale_dbu: float | None = None
    input_full_scale_dbu: float | None = None
    lowest_gain_db: float | None = None
    highest_gain_db: float | None = None

    def __post_init__(self) -> None:
        for name, low, high, sentence in (
            ("loss_db", -40.0, 80.0, "A box's loss lies between −40 and 80 dB."),
            (
                "rated_load_ohm",
                0.1,
                1e4,
                "A speaker load lies between 0.1 and 10,000 ohms; usual are 4, 8 and 16.",
            ),
            (
                "max_spl_db",
                60.0,
                200.0,
                "A microphone's greatest sound level lies between 60 and 200 dB SPL.",
            ),
            ("sensitivity_mv_per_pa", 0.01, 1000.0, "A sensitivity lies between 0.01 and 1000 mV/Pa."),
            ("output_full_scale_dbu", -40.0, 40.0, "A level at 0 dBFS lies between −40 and 40 dBu."),
            ("input_full_scale_dbu", -40.0, 40.0, "A level at 0 dBFS lies between −40 and 40 dBu."),
            ("lowest_gain_db", -100.0, 100.0, "A gain lies between −100 and 100 dB."),
            ("highest_gain_db", -100.0, 100.0, "A gain lies between −100 and 100 dB."),
        ):
            value = getattr(self, name)
            if value is not None and not low <= value <= high:
                raise ValueError(sentence)


FACT_LABELS: dict[str, str] = {
    "valve": "Has valves",
    "own_speaker": "Has its own speaker",
    "ribbon": "Is a ribbon microphone",
    "mains_earthed": "Is on the mains earth",
    "isolated": "A transformer parts input and output",
    "inverts": "Turns polarity over",
    "loss_db": "Loss of the box, trim fully up (dB)",
    "rated_load_ohm": "Speaker load it wants (ohms)",
    "max_spl_db": "Greatest sound level (dB SPL)",
    "sensitivity_mv_per_pa": "Sensitivity (mV/Pa)",
    "output_full_scale_dbu": "Output level at 0 dBFS",
    "input_full_scale_dbu": "Input level at 0 dBFS, at minimum gain",
    "lowest_gain_db": "Lowest gain (dB)",
    "highest_gain_db": "Highest gain (dB)",
}
"""What each fact is called, with its unit, where it is asked for."""

FACTS_OF_KIND: dict[GearKind, tuple[str, ...]] = {
    "amp": ("valve", "own_speaker", "mains_earthed", "rated_load_ohm"),
    "cabinet": ("rated_load_ohm",),
    "pedal": ("inverts", "mains_earthed", "isolated"),
    "microphone": ("ribbon", "sensitivity_mv_per_pa", "max_spl_db", "inverts"),
    "preamp": ("mains_earthed", "lowest_gain_db", "highest_gain_db", "inverts"),
    "reamp_box": ("isolated", "loss_db", "inverts", "mains_earthed"),
    "di_box": ("isolated", "loss_db", "inverts", "mains_earthed"),
    "interface": (
        "mains_earthed",
        "output_full_scale_dbu",
        "input_full_scale_dbu",
        "lowest_gain_db",
        "highest_gain_db",
    ),
    "load": ("rated_load_ohm", "isolated", "loss_db"),
    "other": ("mains_earthed", "isolated", "inverts", "loss_db"),
}
"""The facts that are asked of each kind of gear."""


SAFETY_FACTS = ("valve", "own_speaker", "ribbon", "rated_load_ohm", "max_spl_db")
"""What a piece of gear is, as far as it can be hurt or hurt somebody: what is known of these today counts for old passes
too, for it is today's gear that is plugged in again."""


def as_known_today(then: GearFacts, today: GearFacts) -> tuple[GearFacts, frozenset[str]]:
    """The facts of a piece as a pass was logged with them, with what was not known then and is today, and with the
    facts of safety as they are known today. Also returned: the names of those that were noted after the pass."""
    since = {
        name: now
        for item in fields(GearFacts)
        if (now := getattr(today, (name := item.name))) is not None
        and now != getattr(then, name)
        and (getattr(then, name) is None or name in SAFETY_FACTS)
    }
    return replace(then, **since), frozenset(since)


def fact_in_words(name: str, value: float | bool | None) -> str:
    """ "Has its own speaker: yes"."""
    said = "not known" if value is None else ("yes" if value else "no") if name in YES_NO else f"{value:.6g}"
    return f"{FACT_LABELS[name]}: {said}".replace(": -", ": −")


def learnt_in_words(before: GearFacts, after: GearFacts) -> tuple[str, ...]:
    """What is said of a piece otherwise than before: "Has its own speaker: yes (not known before)"."""
    said = []
    for item in fields(GearFacts):
        was, now = getattr(before, item.name), getattr(after, item.name)
        if was != now:
            said.append(f"{fact_in_words(item.name, now)} ({_value_of(item.name, was)} before)")
    return tuple(said)


def _value_of(name: str, value: float | bool | None) -> str:
    return fact_in_words(name, value).rpartition(": ")[2]


def facts_to_json(facts: GearFacts) -> dict[str, Any]:
    """Only what is known, as plain JSON values."""
    return {name: value for name, value in asdict(facts).items() if value is not None}


def facts_from_json(data: object) -> GearFacts:
    """Facts from plain JSON values. Raises ValueError with a sentence on any shape it does not know."""
    if not isinstance(data, Mapping) or not set(data) <= {field.name for field in fields(GearFacts)}:
        raise ValueError("Facts of a piece of gear are a mapping of known names.")
    for name, value in data.items():
        if name in YES_NO:
            if not isinstance(value, bool):
                raise ValueError(f"Whether it is so ({name}) is true or false.")
        elif isinstance(value, bool) or not isinstance(value, int | float) or not isfinite(value):
            raise ValueError(f"The value of {name} is a number.")
    return GearFacts(**data)
