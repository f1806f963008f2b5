"""Checks against published figures, each kept as a row: `python -m tests.standards.table` prints what they kept.

A test says `LOUDNESS.hold("case 9", found, -23.0, within=0.1, source="EBU Tech 3341, Table 1")`, which asserts and keeps.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

Value = float | str | None | Sequence[float] | Sequence[str]
Tolerance = float | tuple[float, float]


@dataclass(frozen=True, slots=True)
class Row:
    area: str
    row: str
    source: str
    expected: Value
    measured: Value
    below: float
    above: float

    @property
    def share(self) -> float:
        """How much of the tolerance is used up; above 1 is outside. Without a tolerance: 0 or infinite."""
        if not (_is_figures(self.expected) and _is_figures(self.measured)):
            return 0.0 if self.measured == self.expected else math.inf
        expected, measured = _figures(self.expected), _figures(self.measured)
        if len(expected) != len(measured):
            return math.inf
        return max(self._share_of(one - other) for one, other in zip(measured, expected, strict=True))

    def _share_of(self, deviation: float) -> float:
        if math.isnan(deviation):
            return math.inf
        room = self.above if deviation > 0 else self.below
        return abs(deviation) / room if room else (math.inf if deviation else 0.0)

    @property
    def is_inside(self) -> bool:
        return self.share <= 1


ROWS: list[Row] = []


@dataclass(frozen=True, slots=True)
class Area:
    """A part of the table."""

    name: str

    def hold(
        self, row: str, measured: Value, expected: Value, within: Tolerance = 0.0, *, source: str
    ) -> None:
        """Asserts that `measured` is `expected`, at most `within` (or below and above) away from it.

        Checks of the same name and source are one row of the table, which shows the worst of them.
        """
        below, above = within if isinstance(within, tuple) else (within, within)
        kept = Row(self.name, row, source, expected, measured, below, above)
        ROWS.append(kept)
        if not kept.is_inside:
            raise AssertionError(
                f"{row}: measured {measured!r}, expected {expected!r} (-{below:g}, +{above:g}) by {source}"
            )


def _is_figures(value: Value) -> bool:
    if isinstance(value, str) or value is None:
        return False
    return isinstance(value, int | float) or all(isinstance(one, int | float) for one in value)


def _figures(value: Value) -> list[float]:
    if isinstance(value, int | float):
        return [float(value)]
    assert value is not None
    return [float(one) for one in value]


LOUDNESS = Area("Loudness")
TRUE_PEAK = Area("True peak")
BANDS = Area("One-third-octave bands")
DELAY = Area("Delay, polarity, clock drift")
HUM = Area("Mains hum")
FILES = Area("Files")
AREAS = (LOUDNESS, TRUE_PEAK, BANDS, DELAY, HUM, FILES)
