"""Which prints of a pass are upside down: one answer for what is heard, blended and copied. No numpy."""

from collections.abc import Sequence
from dataclasses import dataclass

from app.signal.figures import Polarity
from app.signal.listening.blend_figures import MeasuredTogether, polarity_between


@dataclass(frozen=True)
class Standing:
    """How a print stands to its source, and whether it is turned over to be heard or copied. `told_by` is the other print
    that tells, by its place in the pass. Of prints that are all unclear, those that disagree with the first are turned:
    which way up they are stays unclear, but they do not cancel one another."""

    polarity: Polarity
    is_turned: bool
    told_by: int | None = None


def standings_of(alone: Sequence[Polarity], measured: MeasuredTogether | None) -> tuple[Standing, ...]:
    """Of each print of a pass, in the order of `measured`: what was measured of it alone; where that is unclear, what its
    correlation with a clear one says, the surest first; where none is clear, how it stands to the first."""
    return tuple(_standing(index, alone, measured) for index in range(len(alone)))


def _standing(index: int, alone: Sequence[Polarity], measured: MeasuredTogether | None) -> Standing:
    if alone[index] != "unclear" or measured is None:
        return Standing(alone[index], alone[index] == "inverted")
    surest_first = sorted(measured.pairs, key=lambda pair: -pair.confidence)
    for pair in surest_first:
        other = {pair.first: pair.second, pair.second: pair.first}.get(index)
        if other is None or alone[other] == "unclear":
            continue
        found = _product(alone[other], polarity_between(measured.only((pair.first, pair.second))))
        if found != "unclear":
            return Standing(found, found == "inverted", other)
    if index and all(one == "unclear" for one in alone):
        is_against = polarity_between(measured.only((0, index))) == "inverted"
        return Standing("unclear", is_against, 0 if is_against else None)
    return Standing("unclear", False)


def _product(one: Polarity, other: Polarity) -> Polarity:
    if "unclear" in (one, other):
        return "unclear"
    return "same" if one == other else "inverted"
