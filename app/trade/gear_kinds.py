"""The kinds of gear in a re-amp session and where each usually stands in the chain."""

from dataclasses import dataclass
from typing import Literal, get_args

GearKind = Literal[
    "amp",
    "cabinet",
    "pedal",
    "microphone",
    "preamp",
    "reamp_box",
    "di_box",
    "interface",
    "load",
    "other",
]


@dataclass(frozen=True)
class Kind:
    """A kind of gear: its key and the word people read."""

    key: GearKind
    label: str


KINDS: tuple[Kind, ...] = (
    Kind("amp", "Amp"),
    Kind("cabinet", "Cabinet"),
    Kind("pedal", "Pedal"),
    Kind("microphone", "Microphone"),
    Kind("preamp", "Preamp"),
    Kind("reamp_box", "Re-amp box"),
    Kind("di_box", "DI box"),
    Kind("interface", "Interface"),
    Kind("load", "Load"),
    Kind("other", "Other"),
)
RETURN_KINDS: tuple[GearKind, ...] = ("microphone", "di_box", "load")
"""What a print comes back from; one chain may have several."""
GEAR_KINDS: tuple[GearKind, ...] = get_args(GearKind)


def kind_of(key: str) -> Kind:
    """The kind with this key. Raises ValueError with a sentence where there is none."""
    for kind in KINDS:
        if kind.key == key:
            return kind
    raise ValueError(f"Gear is one of: {', '.join(kind.label for kind in KINDS)}; not {key!r}.")


def kind_label(key: str) -> str:
    """The word people read for a kind's key."""
    return kind_of(key).label


def chain_place(key: str) -> int:
    """Where a kind usually stands along the signal's way, from the interface's output to the recording preamp.

    Common practice. Gear of equal place stands in the order it is plugged in.
    """
    order = (("interface",), ("reamp_box",), ("pedal", "other"), ("amp",), ("cabinet", "load"))
    for place, kinds in enumerate(order):
        if key in kinds:
            return place
    return len(order) + (key == "preamp")


def kind_word(key: str) -> str:
    """A kind's word as it stands inside a sentence: "amp", "re-amp box", "DI box"."""
    label = kind_label(key)
    return label if label[:2].isupper() else label.lower()
