"""Facts that one looks for beside words: “fuzz above noon”, “treble between 3 and 5”.

What is typed into the one box is taken apart at its commas. A part that says a control, a relation and a reading is a
fact; every other part is words.
"""

import re
from dataclasses import dataclass, replace
from typing import Literal

from app.trade.readings import UnknownReading, read
from app.trade.scale_values import falls
from app.trade.scales import ControlSpec, PercentScale

Relation = Literal["above", "below", "about", "between", "at"]
RELATIONS: dict[str, Relation] = {
    "above": "above",
    "over": "above",
    "more than": "above",
    "below": "below",
    "under": "below",
    "less than": "below",
    "about": "about",
    "around": "about",
    "at": "at",
    "between": "between",
}
NEAR = 0.05
"""How far from a position, as a fraction of travel, still counts as about there."""

_SAID = re.compile(
    rf"(?P<control>\S.*?)\s+(?P<relation>{'|'.join(RELATIONS)})\s+(?P<reading>\S.*)", re.IGNORECASE
)
_READING = re.compile(
    r"[-+−]?[\d.,]|(?:noon|half|quarter|a quarter|just|max|min|full|one|two|three|four|five|six|seven|eight|nine|ten"
    r"|eleven|twelve|flat|middle|unity)\b",
    re.IGNORECASE,
)
_AS_JOTTED = re.compile(
    rf"(?P<control>[^\W\d_].*?)\s+(?:(?:{'|'.join(RELATIONS)})\s+)?(?P<reading>(?:{_READING.pattern}).*)",
    re.IGNORECASE,
)
_BARE = re.compile(r"[-+−]?\s*[\d.,]+")


@dataclass(frozen=True)
class ControlFact:
    """Where a control must stand. `control` is its name, or the gear's and its; `until` the far end of a range."""

    control: str
    relation: Relation
    reading: str
    until: str = ""

    @property
    def text(self) -> str:
        until = f" and {self.until}" if self.until else ""
        return f"{self.control} {self.relation} {self.reading}{until}"


@dataclass(frozen=True)
class Range:
    """Positions (or values, of a number that has no travel) from `low` to `high`, both counted in. `low` may be minus
    and `high` plus infinity."""

    low: float
    high: float


def split(text: str) -> tuple[str, tuple[ControlFact, ...]]:
    """What was typed, as (the words, the facts)."""
    words, facts = [], []
    for part in text.split(","):
        fact = fact_of(part)
        if fact is None:
            words.append(part.strip())
        else:
            facts.append(fact)
    return " ".join(filter(None, words)), tuple(facts)


def fact_of(part: str) -> ControlFact | None:
    """The fact that one part says; None where it says none. “At” alone is too common a word to be one here."""
    said = _SAID.fullmatch(part.strip())
    if said is None or not _READING.match(said["reading"]) or said["relation"].casefold() == "at":
        return None
    return _fact(said)


def as_settings(text: str) -> tuple[ControlFact, ...]:
    """What was typed as one jots it (“treble 5.5, gain noon”): each part a control and about where it stands. Nothing where
    any part says something else; whether there are such controls is not known here."""
    parts = [_AS_JOTTED.fullmatch(part.strip()) for part in text.split(",")]
    return (
        tuple(ControlFact(said["control"], "about", said["reading"].strip()) for said in parts if said)
        if all(parts)
        else ()
    )


def read_facts(text: str) -> tuple[ControlFact, ...]:
    """Facts with commas between, as typed where nothing else is meant. Raises ValueError with a sentence."""
    facts = []
    for part in filter(None, (part.strip() for part in text.split(","))):
        said = _SAID.fullmatch(part)
        if said is None:
            raise ValueError(
                f"“{part[:60]}” does not say where a control stands. Write such as: fuzz above noon, treble between 3 "
                "and 5, bright at on."
            )
        facts.append(_fact(said))
    return tuple(facts)


def _fact(said: re.Match[str]) -> ControlFact:
    relation = RELATIONS[" ".join(said["relation"].casefold().split())]
    reading, until = said["reading"], ""
    if relation == "between":
        reading, _, until = reading.partition(" and ")
        if not until.strip():
            relation, until = "about", ""
    return ControlFact(said["control"], relation, reading.strip(), until.strip())


def range_of(spec: ControlSpec, fact: ControlFact) -> Range | None:
    """The positions of this control (values, where it has no travel) that the fact means; None where the control
    cannot stand as it says."""
    at = _number(spec, fact.reading)
    if at is None:
        return None
    turned = spec.scale is not None and falls(spec)
    match fact.relation:
        case "above" | "below":
            up = (fact.relation == "above") != turned
            return Range(at + _step(at), float("inf")) if up else Range(float("-inf"), at - _step(at))
        case "between":
            until = _number(spec, fact.until)
            return None if until is None else Range(min(at, until), max(at, until))
        case "about" if spec.scale is not None:
            return Range(at - NEAR, at + NEAR)
        case _:
            return Range(at - _step(at), at + _step(at))


def unit_of(spec: ControlSpec) -> str:
    """The unit that a control is read in; empty where its scale is plain numbers, a clock or names."""
    if isinstance(spec.scale, PercentScale):
        return "%"
    return spec.unit if spec.scale is None else getattr(spec.scale, "unit", "")


def is_bare(fact: ControlFact) -> bool:
    """Whether the fact says plain numbers, that a scale with a unit and one without could both mean."""
    return all(_BARE.fullmatch(text) for text in (fact.reading, fact.until) if text)


def in_unit(fact: ControlFact, unit: str) -> ControlFact:
    """The same fact, said in a unit."""
    until = f"{fact.until} {unit}" if fact.until else ""
    return replace(fact, reading=f"{fact.reading} {unit}", until=until)


def _number(spec: ControlSpec, text: str) -> float | None:
    try:
        reading = read(spec, text)
    except UnknownReading:
        return None
    return reading.value if spec.form == "number" else reading.position


def _step(at: float) -> float:
    """Less than any hand can set."""
    return 1e-6 * max(1.0, abs(at))
