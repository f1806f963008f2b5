"""Which prints of a pass are upside down: one answer for what is heard, blended and copied. No numpy."""

from collections.abc import Sequence

from app.signal.figures import Polarity
from app.signal.listening.blend_figures import MeasuredTogether, polarity_between


def polarities_of(alone: Sequence[Polarity], measured: MeasuredTogether | None) -> tuple[Polarity, ...]:
    """Each print's polarity against the source, in the order of `measured`: what was measured of it alone; where that
    is unclear, what its correlation with a clear one says. It stays unclear where neither tells."""
    found = list(alone)
    if measured is None or "unclear" not in alone:
        return tuple(found)
    surest_first = sorted(measured.pairs, key=lambda pair: -pair.confidence)
    for pair in surest_first:
        for unclear, clear in ((pair.first, pair.second), (pair.second, pair.first)):
            if found[unclear] == "unclear" and alone[clear] != "unclear":
                found[unclear] = _product(
                    alone[clear], polarity_between(measured.only((pair.first, pair.second)))
                )
    return tuple(found)


def _product(one: Polarity, other: Polarity) -> Polarity:
    if "unclear" in (one, other):
        return "unclear"
    return "same" if one == other else "inverted"
