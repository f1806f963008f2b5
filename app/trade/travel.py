"""A knob's travel: how far it turns, and where a position lies on the clock face.

Angles count from 12 o'clock, clockwise positive; one clock hour is 30 degrees. A position is a fraction of travel, 0 at
the anticlockwise end and 1 at the clockwise end.
"""

from dataclasses import dataclass

DEGREES_PER_HOUR = 30.0
TRAVEL_SLACK = 0.02  # a reading this far past an end is taken as the end: nobody reads a pointer better


@dataclass(frozen=True)
class Travel:
    """The turn of a knob from end to end; unless said, from 7:00 to 5:00 (300 degrees)."""

    start_deg: float = -150.0
    end_deg: float = 150.0

    def __post_init__(self) -> None:
        for angle in (self.start_deg, self.end_deg):
            if not -360.0 <= angle <= 360.0:
                raise ValueError("A travel's ends lie between -360 and 360 degrees from 12 o'clock.")
        if not 10.0 <= self.sweep_deg <= 350.0:
            raise ValueError("A knob's travel turns clockwise by 10 to 350 degrees.")

    @property
    def sweep_deg(self) -> float:
        return self.end_deg - self.start_deg


def angle_deg(travel: Travel, position: float) -> float:
    """The pointer's angle at a position (0 to 1)."""
    return travel.start_deg + position * travel.sweep_deg


def position_at_deg(travel: Travel, angle: float) -> float:
    """The position at an angle: (angle - start) / sweep, below 0 or above 1 outside the travel.

    An angle may be given in any turn (-60, 300); the turn that lies nearest to the travel counts.
    """
    turns = [angle + 360.0 * turn for turn in (-2, -1, 0, 1, 2)]
    nearest = min(turns, key=lambda a: (max(travel.start_deg - a, a - travel.end_deg, 0.0), abs(a)))
    return (nearest - travel.start_deg) / travel.sweep_deg


def within_travel(position: float) -> float | None:
    """The position held to 0..1 where it misses by no more than the slack; None where it lies outside."""
    if -TRAVEL_SLACK - 1e-9 <= position <= 1.0 + TRAVEL_SLACK + 1e-9:
        return min(1.0, max(0.0, position))
    return None


def clock_text(angle: float) -> str:
    """An angle as a clock position to the minute (half a degree): 75 reads "2:30"."""
    minutes = round(angle / DEGREES_PER_HOUR * 60) % 720
    return f"{minutes // 60 or 12}:{minutes % 60:02d}"
