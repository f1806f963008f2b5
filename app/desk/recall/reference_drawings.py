"""The drawings of what reference signals told of a chain."""

from dataclasses import dataclass

from app.desk.recall.references import ReferencesSheet
from app.drawings.chain_curves import ChainCurve, chain_curves
from app.drawings.ribbon import Try, ribbon
from app.drawings.svg import Drawing
from app.signal.comparison.tolerances import MATCH_BAND_DB
from app.signal.levels.third_octaves import nominal_hz
from app.signal.reference.figures import ORDERS, ReferenceFigures


@dataclass(frozen=True)
class ReferenceDrawings:
    """`tone` is that of a recall against the original, None where there is none."""

    response: Drawing
    harmonics: Drawing
    tone: Drawing | None


def draw_references(sheet: ReferencesSheet, *, width: int) -> ReferenceDrawings | None:
    """Of the newest prints that are measured: the original's, and the recall's. None where nothing is known yet."""
    newest_of: list[tuple[str, ReferenceFigures]] = []
    for name, prints in (("original", sheet.originals), ("recall", sheet.recalled)):
        answers = [item.examined.answer for item in prints if item.examined.answer is not None]
        if answers and answers[-1].response:
            newest_of.append((name, answers[-1]))
    if not newest_of:
        return None
    response = [
        ChainCurve(name, [(point.hz, point.gain_db) for point in figures.fine]) for name, figures in newest_of
    ]
    name, shown = newest_of[-1]
    harmonics = [_harmonic(shown, order) for order in ORDERS]
    return ReferenceDrawings(
        chain_curves("Response of the chain in dB, a twenty-fourth of an octave wide", response, width=width),
        chain_curves(
            f"Harmonics of the {name} in dB against the fundamental, over its frequency",
            harmonics,
            width=width,
        ),
        _tone(sheet, width),
    )


def _harmonic(figures: ReferenceFigures, order: int) -> ChainCurve:
    points = [(band.mid_hz, band.orders_db[order - ORDERS[0]]) for band in figures.distortion]
    return ChainCurve(
        f"{order}nd" if order == 2 else f"{order}rd" if order == 3 else f"{order}th",
        [(hz, db) for hz, db in points if db is not None],
    )


def _tone(sheet: ReferencesSheet, width: int) -> Drawing | None:
    compared = sheet.compared
    if compared is None or not compared[2].tone:
        return None
    tone = [(band.mid_hz, band.difference_db) for band in compared[2].tone]
    nominal = [(mid, nominal_hz(mid)) for mid, _ in tone]
    return ribbon(
        [Try("recall", tone)], [(mid, MATCH_BAND_DB) for mid, _ in tone], nominal=nominal, width=width
    )
