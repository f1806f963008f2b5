"""Compare two to eight passes in one grid."""

from collections.abc import Sequence

from sqlmodel import col

from app.desk.pass_sheets import PassSheet, read_pass_sheets
from app.desk.refusals import NotThere, Refusal
from app.drawings.spectra import Curve
from app.library import Library
from app.records import Pass

FEWEST, MOST = 2, 8


def read_compared(library: Library, pass_ids: Sequence[int]) -> list[PassSheet]:
    """The chosen passes, oldest first. Raises Refusal unless they are two to eight passes of one source."""
    wanted = list(dict.fromkeys(pass_ids))
    if not FEWEST <= len(wanted) <= MOST:
        raise Refusal({"": f"Choose {FEWEST} to {MOST} passes to compare; {len(wanted)} were chosen."})
    with library.reading() as session:
        found = read_pass_sheets(session, col(Pass.id).in_(wanted))
    if len(found) < len(wanted):
        raise NotThere("pass")
    if len({sheet.source_id for sheet in found}) > 1:
        raise Refusal(
            {
                "": "These passes are of different sources, so their prints cannot be compared. Choose passes of one source."
            }
        )
    return found


def curves(passes: Sequence[PassSheet]) -> list[Curve]:
    """The one-third-octave spectrum of every measured print."""
    return [
        Curve(
            f"Pass {sheet.number}" + (f", {item.label}" if item.label else ""),
            [(band.nominal_hz, band.mid_hz, band.level_dbfs) for band in item.measured.figures.bands],
        )
        for sheet in passes
        for item in sheet.prints
        if item.measured.figures is not None
    ]
