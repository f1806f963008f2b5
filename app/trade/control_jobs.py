"""What a control does, as far as levels and the checks of a hook-up have to know it: whatever it is called."""

from typing import Literal, get_args

Job = Literal[
    "", "gain", "pad", "output_level", "polarity", "ground_lift", "phantom", "output_used", "input_used"
]
JOBS: tuple[Job, ...] = get_args(Job)
JOB_WORDS: dict[Job, str] = {
    "": "Nothing of these",
    "gain": "Gain of an input",
    "pad": "Pad",
    "output_level": "Level of the output",
    "polarity": "Polarity",
    "ground_lift": "Audio ground lift",
    "phantom": "Phantom power",
    "output_used": "Which output is used",
    "input_used": "Which input is used",
}
_TURNED_OVER = frozenset(
    ("inverted", "invert", "reversed", "reverse", "flipped", "180", "180°", "−", "-", "on")
)
_ON = frozenset(("on", "in", "48 v", "+48 v", "48v", "+48v", "engaged", "yes"))
_OFF = frozenset(("off", "out", "0 v", "none", "no"))
_LIFTED = frozenset(("lifted", "lift", "open"))


def job_by_name(name: str) -> Job:
    """What a control of this name usually does. Common practice."""
    words = name.casefold()
    for part, job in _BY_NAME:
        if part in words:
            return job
    return ""


_BY_NAME: tuple[tuple[str, Job], ...] = (
    ("make-up", ""),
    ("phantom", "phantom"),
    ("output used", "output_used"),
    ("input used", "input_used"),
    ("polarity", "polarity"),
    ("ground", "ground_lift"),
    ("pad", "pad"),
    ("gain", "gain"),
    ("output", "output_level"),
)


def is_turned_over(position: str) -> bool:
    """Whether a polarity switch at the position of this name turns the signal over."""
    return position.strip().casefold() in _TURNED_OVER


def is_on(position: str) -> bool | None:
    """Whether a switch at the position of this name is on; None where the name does not say."""
    at = position.strip().casefold()
    return True if at in _ON else False if at in _OFF else None


def is_lifted(control_name: str, position: str) -> bool:
    """Whether an audio ground switch at this position has lifted the ground. Bare “on” says so only of a switch that
    is called a lift: where it is unclear, the ground counts as joined."""
    at = position.strip().casefold()
    return at in _LIFTED or (at == "on" and "lift" in control_name.casefold())
