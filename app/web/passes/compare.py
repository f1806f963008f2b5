"""Compare: a choice of the ledger's columns, with measures and spectra."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar
from urllib.parse import urlencode

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.desk.listening.blind import TRIALS
from app.desk.passes.compare import (
    TimeLine,
    curves,
    length_of,
    loudness_curves,
    pair_curves,
    read_compared,
    time_lines,
)
from app.desk.passes.differences import Difference, difference, differences
from app.desk.passes.ledger import Ledger, build_ledger
from app.desk.passes.pass_sheets import PassSheet
from app.drawings.loudness import loudness
from app.drawings.spectra import spectra
from app.drawings.svg import Drawing
from app.drawings.waveform import waveform
from app.web.context import PassIds, SnapshotDep, UnitDep
from app.web.listening.listening import LaneChoice, lane_choices, source_strip
from app.web.pages import PHONE_WIDTH, Page, show

router = APIRouter()


@dataclass(frozen=True)
class ComparePage(Page):
    """`minus` is the number of the curve that the others are drawn against, if one is chosen; `only_differences`
    leaves out the controls that stand the same in all columns. The spectra are drawn for a desk and for a phone."""

    template: ClassVar[str] = "passes/compare.html"

    ledger: Ledger
    spectra_wide: Drawing | None
    spectra_narrow: Drawing | None
    curve_names: Sequence[str]
    minus: int | None
    only_differences: bool
    differences: list[Difference]
    waveforms: list[tuple[str, Drawing, Drawing]]
    loudness_wide: Drawing | None
    loudness_narrow: Drawing | None
    lanes: tuple[LaneChoice, ...]
    strip: Drawing | None
    query: str
    trials: tuple[int, ...] = TRIALS


@dataclass(frozen=True)
class PairPart(Page):
    """Two ticked passes, under the ledger: what was turned and what the prints say of it. Drawn is what each microphone
    holds more or less of on the second than on the first."""

    template: ClassVar[str] = "passes/pair.html"

    difference: Difference
    drawn_wide: Drawing | None
    drawn_narrow: Drawing | None
    query: str


@router.get("/compare/pair")
def compare_pair(request: Request, library: SnapshotDep, unit: UnitDep, chosen: PassIds) -> Response:
    passes = read_compared(library, chosen)[:2]
    said = difference(*passes, unit=unit)
    apart = pair_curves(*passes)
    wide = spectra(apart, reference=0, width=1080, height=260) if apart else None
    narrow = spectra(apart, reference=0, width=PHONE_WIDTH, height=260) if apart else None
    query = urlencode([("pass", sheet.pass_id) for sheet in passes])
    return show(request, PairPart(said, wide, narrow, query))


@router.get("/compare")
def compare(
    request: Request,
    library: SnapshotDep,
    unit: UnitDep,
    chosen: PassIds,
    minus: int | None = None,
    only: str = "",
) -> Response:
    passes = read_compared(library, chosen)
    overlaid = curves(passes)
    minus = minus if minus is not None and 0 <= minus < len(overlaid) else None
    if minus is not None:
        overlaid = curves(passes, without_noise=True)
    page = ComparePage(
        build_ledger(passes, unit=unit),
        spectra(overlaid, reference=minus, width=1080, height=380) if overlaid else None,
        spectra(overlaid, reference=minus, width=PHONE_WIDTH, height=300) if overlaid else None,
        [curve.name for curve in overlaid],
        minus,
        only == "differences",
        differences(passes, unit=unit),
        [(line.name, _waveform(line, 1080), _waveform(line, PHONE_WIDTH)) for line in time_lines(passes)],
        _loudness(passes, 1080),
        _loudness(passes, PHONE_WIDTH),
        lane_choices(library, passes),
        source_strip(library, passes[0].source_id),
        urlencode([("pass", sheet.pass_id) for sheet in passes]),
    )
    return show(request, page)


def _waveform(line: TimeLine, width: int) -> Drawing:
    return waveform(line.columns, line.length_s, faults=line.faults, width=width, height=96)


def _loudness(passes: Sequence[PassSheet], width: int) -> Drawing | None:
    drawn = loudness_curves(passes)
    return loudness(drawn, length_of(passes), width=width) if drawn else None
