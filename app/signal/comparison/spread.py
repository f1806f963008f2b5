"""How far two prints of one chain lie apart though nobody touched it: noise, valves that warm, a room that moves.

Learnt from comparisons (`app.signal.comparison.match`) of prints that were made with the same settings. A difference no larger
than what an unchanged chain does by itself proves no change. Plain values: the web server may use them.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from app.signal.figures import BandDifference, MatchFigures


@dataclass(frozen=True, slots=True)
class Spread:
    """The root mean square of each difference over `comparisons`; None where no comparison knew it.

    With a single comparison that is the difference itself, a rough guide. `null_depth_db` is the shallowest null seen.
    """

    comparisons: int
    level_db: float | None
    delay_samples: float | None
    crest_db: float | None
    drive_db: float | None
    bands: tuple[BandDifference, ...]
    null_depth_db: float | None

    def band_db(self, mid_hz: float) -> float | None:
        """That of the band around `mid_hz`."""
        near = [band.difference_db for band in self.bands if abs(math.log(band.mid_hz / mid_hz)) < 0.05]
        return near[0] if near else None


def spread_of(comparisons: Sequence[MatchFigures]) -> Spread | None:
    """The spread of prints compared in pairs; None where no pair could be compared.

    A pair whose files begin at different places of the source says nothing of the delay.
    """
    compared = [comparison for comparison in comparisons if comparison.level_difference_db is not None]
    if not compared:
        return None
    mids = sorted({band.mid_hz for comparison in compared for band in comparison.bands})
    by_mid = [{band.mid_hz: band.difference_db for band in comparison.bands} for comparison in compared]
    bands = [(mid, _rms(bands.get(mid) for bands in by_mid)) for mid in mids]
    nulls = [comparison.null_depth_db for comparison in compared if comparison.null_depth_db is not None]
    return Spread(
        comparisons=len(compared),
        level_db=_rms(comparison.level_difference_db for comparison in compared),
        delay_samples=_rms(
            comparison.delay_difference_samples for comparison in compared if not comparison.is_excerpt
        ),
        crest_db=_rms(comparison.crest_difference_db for comparison in compared),
        drive_db=_rms(comparison.drive_difference_db for comparison in compared),
        bands=tuple(BandDifference(mid, apart) for mid, apart in bands if apart is not None),
        null_depth_db=max(nulls, default=None),
    )


def _rms(differences: Iterable[float | None]) -> float | None:
    squares = [difference**2 for difference in differences if difference is not None]
    return math.sqrt(sum(squares) / len(squares)) if squares else None
