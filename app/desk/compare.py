"""Compare two to eight passes in one grid."""

from collections.abc import Iterator, Sequence

from sqlmodel import col

from app.desk.pass_sheets import PassSheet, PrintSheet, read_pass_sheets
from app.desk.refusals import NotThere, Refusal
from app.drawings.loudness import LoudnessCurve
from app.drawings.spectra import Curve
from app.library import Library
from app.records import Pass
from app.signal.figures import PrintFigures

FEWEST, MOST = 2, 8


def read_compared(library: Library, pass_ids: Sequence[int]) -> list[PassSheet]:
    """The chosen passes, oldest first. Raises Refusal unless they are two to eight passes of one source."""
    wanted = list(dict.fromkeys(pass_ids))
    if not FEWEST <= len(wanted) <= MOST:
        raise Refusal({"": f"Choose {FEWEST} to {MOST} passes to compare; {len(wanted)} were chosen."})
    with library.reading() as session:
        found = read_pass_sheets(session, col(Pass.id).in_(wanted), with_overviews=True)
    if len(found) < len(wanted):
        raise NotThere("pass")
    if len({sheet.source_id for sheet in found}) > 1:
        raise Refusal(
            {
                "": "These passes are of different sources, so their prints cannot be compared. Choose passes of one source."
            }
        )
    return found


def loudness_curves(passes: Sequence[PassSheet]) -> list[LoudnessCurve]:
    """Short-term loudness of every measured print, on the source's time line where its delay is known."""
    found = []
    for sheet, item, figures in _measured(passes):
        alignment = figures.alignment
        late_s = (alignment.delay_ms or 0.0) / 1000 if alignment is not None else 0.0
        points = [(point.at_s - late_s, point.lufs) for point in figures.overview.loudness]
        found.append(LoudnessCurve(_name(sheet, item), points))
    return found


def length_of(passes: Sequence[PassSheet]) -> float:
    """The longest measured print's, in seconds."""
    return max((figures.file.duration_s for _, _, figures in _measured(passes)), default=0.0)


def curves(passes: Sequence[PassSheet]) -> list[Curve]:
    """The one-third-octave spectrum of every measured print."""
    return [
        Curve(_name(sheet, item), [(band.nominal_hz, band.mid_hz, band.level_dbfs) for band in figures.bands])
        for sheet, item, figures in _measured(passes)
    ]


def _measured(passes: Sequence[PassSheet]) -> Iterator[tuple[PassSheet, PrintSheet, PrintFigures]]:
    for sheet in passes:
        for item in sheet.prints:
            if item.measured.figures is not None:
                yield sheet, item, item.measured.figures


def _name(sheet: PassSheet, item: PrintSheet) -> str:
    return f"Pass {sheet.number}" + (f", {item.label}" if item.label else "")
