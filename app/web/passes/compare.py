"""Compare: a choice of the ledger's columns, with measures and spectra."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any, ClassVar, Literal
from urllib.parse import urlencode

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.desk.listening.blind import TRIALS
from app.desk.passes.compare import (
    curves_against,
    laid_waveforms,
    length_of,
    loudness_curves,
    pair_curves,
    read_compared,
    shown_prints,
)
from app.desk.passes.differences import Difference, difference
from app.desk.passes.ledger import Ledger, build_ledger
from app.desk.passes.pass_sheets import PassSheet
from app.drawings.loudness import loudness
from app.drawings.spectra import spectra
from app.drawings.svg import Drawing
from app.drawings.waveforms import waveforms
from app.web.context import PassIds, RowId, SnapshotDep, UnitDep
from app.web.listening.listening import LaneChoice, lane_choices, source_strip
from app.web.pages import PHONE_WIDTH, Page, show

router = APIRouter()

BESIDE, ALONE = 720, 1080
BESIDE_THE_DRAWING = 3
"""Of more passes, what was turned stands under the drawing."""


Drawn = Literal["spectrum", "loudness", "waveforms"]


@dataclass(frozen=True)
class CompareView:
    """What of the comparison is looked at: the pass that the others are held against, one drawing at a time, and whether
    every print of a pass is drawn; `differing` leaves out the controls that stand the same in all columns."""

    pass_ids: tuple[int, ...]
    base: int
    drawn: Drawn = "spectrum"
    every_print: bool = False
    differing: bool = True

    @property
    def address(self) -> str:
        said: list[tuple[str, object]] = [
            *(("pass", pass_id) for pass_id in self.pass_ids),
            ("base", self.base),
        ]
        if self.drawn != "spectrum":
            said.append(("drawn", self.drawn))
        if self.every_print:
            said.append(("prints", "every"))
        if not self.differing:
            said.append(("rows", "all"))
        return f"/compare?{urlencode(said)}"

    def but(self, **changes: Any) -> "CompareView":
        return replace(self, **changes)


@dataclass(frozen=True)
class ComparePage(Page):
    """`drawings` are of the view's kind, each for a desk and for a phone."""

    template: ClassVar[str] = "passes/compare.html"

    view: CompareView
    ledger: Ledger
    base: PassSheet
    drawings: list[tuple[Drawing, Drawing]]
    differences: dict[int, Difference]
    lanes: tuple[LaneChoice, ...]
    strip: Drawing | None
    query: str
    is_many: bool
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
    base: RowId | None = None,
    drawn: Drawn = "spectrum",
    prints: str = "",
    rows: str = "",
) -> Response:
    passes = read_compared(library, chosen)
    first = next((sheet for sheet in passes if sheet.pass_id == base), passes[0])
    ids = tuple(sheet.pass_id for sheet in passes)
    view = CompareView(ids, first.pass_id, drawn, prints == "every", rows != "all")
    others = [sheet for sheet in passes if sheet is not first]
    page = ComparePage(
        view,
        build_ledger(passes, unit=unit),
        first,
        _drawings(view, first, passes),
        {sheet.pass_id: difference(first, sheet, unit=unit) for sheet in others},
        lane_choices(library, passes),
        source_strip(library, passes[0].source_id),
        urlencode([("pass", pass_id) for pass_id in ids]),
        len(passes) > BESIDE_THE_DRAWING,
    )
    return show(request, page)


def _drawings(
    view: CompareView, base: PassSheet, passes: Sequence[PassSheet]
) -> list[tuple[Drawing, Drawing]]:
    width, height = (BESIDE, 380) if len(passes) <= BESIDE_THE_DRAWING else (ALONE, 232)

    def both(draw: Callable[..., Drawing]) -> tuple[Drawing, Drawing]:
        return draw(width=width, height=height), draw(width=PHONE_WIDTH, height=300)

    prints = shown_prints(base, passes, every_print=view.every_print)
    if view.drawn == "spectrum":
        apart = curves_against(base, passes, every_print=view.every_print)
        return [both(lambda **size: spectra(apart, reference=0, **size))] if apart else []
    if not prints:
        return []
    length_s = length_of(prints)
    if view.drawn == "loudness":
        drawn = loudness_curves(prints)
        return [both(lambda **size: loudness(drawn, length_s, **size))]
    laid = laid_waveforms(prints, length_s)
    ground = next((at for at, (sheet, _, _) in enumerate(prints) if sheet.pass_id == base.pass_id), -1)
    return [both(lambda **size: waveforms(laid, length_s, ground=ground, **size))]
