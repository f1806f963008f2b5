"""What a check finds in a hook-up."""

from dataclasses import dataclass
from typing import Literal

from app.trade.hook_up import PortRef

Severity = Literal["stop", "warn", "note"]
"""stop: can hurt gear or ears, or makes the print useless; warn: likely to spoil it; note: worth a look."""

COMMON_PRACTICE = "common practice"


@dataclass(frozen=True)
class Question:
    """A fact of a piece of gear, yes or no, on which a finding rests and which is not known."""

    device: str
    fact: str
    words: str


@dataclass(frozen=True)
class Finding:
    """One thing found: `what` is there, `why` it matters, how to `mend` it, and the `source` that says so.

    `rule` is the name of the check, stable, so that a person's dismissal of it can be kept. `where` names the ports or
    the devices (with an empty port) it is about, which tells two findings of one rule apart. `asks` are the facts that
    would settle it.
    """

    rule: str
    severity: Severity
    what: str
    why: str
    mend: str
    where: tuple[PortRef, ...]
    source: str = COMMON_PRACTICE
    asks: tuple[Question, ...] = ()
