"""The drawings of a recall's tries."""

from dataclasses import dataclass

from app.desk.recall.tries import TriesSheet, TrySheet
from app.drawings.closing_in import Aim, closing_in
from app.drawings.ribbon import Try, ribbon
from app.drawings.svg import Drawing
from app.signal.comparison.tolerances import Tolerances
from app.signal.figures import BandDifference
from app.signal.levels.third_octaves import nominal_hz


@dataclass(frozen=True)
class TryDrawings:
    """`closing` is None where there is but one try to show."""

    bands: Drawing
    closing: Drawing | None


def draw_tries(tries: TriesSheet, *, width: int) -> TryDrawings | None:
    """Those up to the newest that has its figures, and that were compared with the same print; None without one."""
    last = tries.last
    if last is None or last.within is None or last.figures is None or not last.figures.bands:
        return None
    shown = tries.alike(last)
    lines = [
        Try(f"Try {attempt.number}", _points(attempt.figures.bands))
        for attempt in shown
        if attempt.figures is not None
    ]
    mids = {mid for line in lines for mid, _ in line.differences}
    nominal = [(mid, nominal_hz(mid)) for mid in mids]
    bands = ribbon(lines, _points(last.within.bands), nominal=nominal, width=width)
    closing = closing_in(_aims(shown, last.within), width=width) if len(shown) > 1 else None
    return TryDrawings(bands, closing)


def _points(bands: tuple[BandDifference, ...]) -> list[tuple[float, float]]:
    return [(band.mid_hz, band.difference_db) for band in bands]


def _aims(shown: list[TrySheet], within: Tolerances) -> list[Aim]:
    compared = [attempt.figures for attempt in shown if attempt.figures is not None]
    worst = [_worst(attempt) for attempt in shown]
    band_db = next((item[1] for item in reversed(worst) if item is not None), 1.0)
    return [
        Aim("Level", within.level_db, "dB", [match.level_difference_db for match in compared]),
        Aim("Worst band", band_db, "dB", [None if item is None else item[0] for item in worst]),
        Aim("Crest factor", within.crest_db, "dB", [match.crest_difference_db for match in compared]),
        Aim("Distortion", within.drive_db, "dB", [match.drive_difference_db for match in compared]),
    ]


def _worst(attempt: TrySheet) -> tuple[float, float] | None:
    """The band that is furthest out for what it may differ, and what it may differ."""
    if attempt.figures is None or attempt.within is None or not attempt.figures.bands:
        return None
    pairs = zip(attempt.figures.bands, attempt.within.bands, strict=True)
    band, allowed = max(pairs, key=lambda pair: abs(pair[0].difference_db) / pair[1].difference_db)
    return band.difference_db, allowed.difference_db
