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
    known = [one for one in comparisons if one.level_difference_db is not None]
    if not known:
        return None
    mids = sorted({band.mid_hz for one in known for band in one.bands})
    by_mid = [{band.mid_hz: band.difference_db for band in one.bands} for one in known]
    bands = [(mid, _rms(bands.get(mid) for bands in by_mid)) for mid in mids]
    nulls = [one.null_depth_db for one in known if one.null_depth_db is not None]
    return Spread(
        comparisons=len(known),
        level_db=_rms(one.level_difference_db for one in known),
        delay_samples=_rms(one.delay_difference_samples for one in known if not one.is_excerpt),
        crest_db=_rms(one.crest_difference_db for one in known),
        drive_db=_rms(one.drive_difference_db for one in known),
        bands=tuple(BandDifference(mid, apart) for mid, apart in bands if apart is not None),
        null_depth_db=max(nulls, default=None),
    )


def _rms(differences: Iterable[float | None]) -> float | None:
    squares = [difference**2 for difference in differences if difference is not None]
    return math.sqrt(sum(squares) / len(squares)) if squares else None
