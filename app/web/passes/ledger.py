"""A source's ledger as one looks at it: which rows, which passes, and the open column at its right end."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Annotated, ClassVar, Literal
from urllib.parse import urlencode

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import Response

from app.desk.arrivals.track_names import TrackName, names_of_next
from app.desk.passes import drafts, passes
from app.desk.passes.compare import base_of, tones_against
from app.desk.passes.drafts import DraftGone, DraftSheet
from app.desk.passes.jot_lines import SettingLine, understand_notes
from app.desk.passes.kept_chains import ChainOffer, offered_chains
from app.desk.passes.ledger import GearRows, Ledger, Row, Turned, build_ledger
from app.desk.passes.open_column import OpenColumn, cell_of, changed_words, read_open_column, with_open_column
from app.desk.passes.pass_sheets import PassSheet, read_newest
from app.desk.projects.sources import SourceSheet, read_source
from app.desk.shelf.gear import ShelfLine, list_gear
from app.drawings.svg import Drawing
from app.drawings.tone_mark import tone_mark
from app.library import Library, Readable
from app.trade.distances import LengthUnit
from app.web.context import LibraryDep, RowId, SnapshotDep, UnitDep
from app.web.pages import Page, show

router = APIRouter()

Show = Literal["changes", "all", "prints"]
FEWEST, MOST = 5, 400
MORE_AT_ONCE = 8


@dataclass(frozen=True)
class LedgerView:
    """`rows` says which rows are shown, `passes` how many of the newest, `unfolded` of which gear all is shown,
    `base` the pass that the prints are held against, where one was chosen."""

    source_id: int
    rows: Show | None = None
    passes: int = FEWEST
    unfolded: tuple[int, ...] = ()
    is_open: bool = False
    is_single: bool = False
    base: int | None = None

    @property
    def shown(self) -> Show:
        """An open column shows every row, for any may be turned, and so does a pass that stands alone, unless the person
        chose otherwise."""
        return self.rows or ("all" if self.is_open or self.is_single else "changes")

    @property
    def is_widened(self) -> bool:
        """Whether earlier passes were asked for already."""
        return self.passes > FEWEST

    @property
    def address(self) -> str:
        return f"/sources/{self.source_id}/ledger?{self.query}"

    @property
    def query(self) -> str:
        said: list[tuple[str, object]] = [
            ("passes", self.passes),
            *(("unfolded", gear_id) for gear_id in self.unfolded),
        ]
        if self.rows is not None:
            said.append(("rows", self.rows))
        if self.is_open:
            said.append(("column", "open"))
        if self.base is not None:
            said.append(("base", self.base))
        return urlencode(said)

    def showing(self, rows: Show) -> "LedgerView":
        return replace(self, rows=rows, unfolded=())

    def unfolding(self, gear_id: int) -> "LedgerView":
        return replace(self, unfolded=tuple(sorted({*self.unfolded, gear_id})))

    def folding(self, gear_id: int) -> "LedgerView":
        return replace(self, unfolded=tuple(each for each in self.unfolded if each != gear_id))

    def against(self, pass_id: int) -> "LedgerView":
        return replace(self, base=pass_id)

    def with_more(self) -> "LedgerView":
        return replace(self, passes=self.passes + MORE_AT_ONCE)


@dataclass(frozen=True)
class LedgerSheet:
    """All that the ledger's part of the page shows. `older` are passes that are folded away: id and number; `noted` is what
    the draft's notes say and nothing is set at yet; `tones` are drawn by print, against that of `base`;
    `chains` are what an empty chain could begin as."""

    view: LedgerView
    ledger: Ledger
    older: tuple[tuple[int, int], ...]
    column: OpenColumn | None
    turned: tuple[Turned, ...]
    shelf: tuple[ShelfLine, ...]
    noted: tuple[SettingLine, ...]
    names: tuple[TrackName, ...]
    base: PassSheet | None
    tones: Mapping[int, Drawing]
    chains: tuple[ChainOffer, ...] = ()


@dataclass(frozen=True)
class LedgerPart(Page):
    """The ledger alone: asked for again whenever something of it changed."""

    template: ClassVar[str] = "passes/ledger.html"

    source: SourceSheet
    sheet: LedgerSheet


@dataclass(frozen=True)
class CellsPart(Page):
    """Some cells of the open column and its head, each for its own place on the page."""

    template: ClassVar[str] = "passes/cells.html"

    column: OpenColumn
    turned: tuple[Turned, ...]
    cells: tuple[tuple[GearRows, Row], ...]


@dataclass(frozen=True)
class TurnedPart(Page):
    """What was turned since the pass before, for the page on which one jots by phone."""

    template: ClassVar[str] = "passes/turned.html"

    draft: DraftSheet
    turned: tuple[Turned, ...]


def view_of(
    source_id: RowId,
    rows: Show | None = None,
    passes: Annotated[int, Query(ge=1, le=MOST)] = FEWEST,
    unfolded: Annotated[list[RowId] | None, Query()] = None,
    column: str = "",
    base: RowId | None = None,
) -> LedgerView:
    unfolded_gear = tuple(unfolded or ())[:60]
    return LedgerView(source_id, rows, max(passes, FEWEST), unfolded_gear, column == "open", base=base)


ViewDep = Annotated[LedgerView, Depends(view_of)]


@router.get("/sources/{source_id}/ledger")
def show_ledger(
    request: Request, library: LibraryDep, unit: UnitDep, view: ViewDep, like: RowId | None = None
) -> Response:
    draft = draft_at_hand(library, view, like=like, unit=unit)
    with library.snapshot() as snapshot:
        source = read_source(snapshot, view.source_id)
        page = LedgerPart(source, read_ledger(snapshot, source, view, draft, unit=unit))
    return show(request, page)


@router.get("/drafts/{draft_id}/cells")
def show_cells(
    request: Request,
    library: SnapshotDep,
    unit: UnitDep,
    draft_id: RowId,
    field: Annotated[list[str] | None, Query()] = None,
) -> Response:
    """Nothing, where the pass was saved meanwhile: the page is about to show it in ink."""
    draft = _unsaved(library, draft_id)
    if draft is None:
        return Response(status_code=204)
    column, ledger = _beside_the_last(library, read_source(library, draft.source_id), draft, unit)
    asked = {cell_of(name) for name in field or ()}
    cells = tuple((gear, row) for gear in ledger.gear for row in gear.rows if row.cells[-1].field in asked)
    return show(request, CellsPart(column, _turned(ledger, column), cells))


@router.get("/drafts/{draft_id}/turned")
def show_turned(request: Request, library: SnapshotDep, unit: UnitDep, draft_id: RowId) -> Response:
    draft = _unsaved(library, draft_id)
    if draft is None:
        return Response(status_code=204)
    turned = turned_of(library, read_source(library, draft.source_id), draft, unit)
    return show(request, TurnedPart(draft, turned))


def _unsaved(library: Readable, draft_id: int) -> DraftSheet | None:
    """None once it is a pass. Raises DraftGone where nobody knows what became of it."""
    try:
        return drafts.read_draft(library, draft_id)
    except DraftGone as gone:
        if gone.pass_id is None:
            raise
        return None


def draft_at_hand(
    library: Library, view: LedgerView, *, like: int | None, unit: LengthUnit
) -> DraftSheet | None:
    """The draft of the next pass, where the person asked for its column, or where something stands in it already."""
    if view.is_open:
        return drafts.open_draft(library, view.source_id, like=like, unit=unit)
    return drafts.read_next(library, view.source_id)


def read_ledger(
    library: Readable, source: SourceSheet, view: LedgerView, draft: DraftSheet | None, *, unit: LengthUnit
) -> LedgerSheet:
    newest = read_newest(library, source.source_id, view.passes)
    view = replace(view, is_open=draft is not None, is_single=len(newest.passes) == 1)
    base = base_of(newest.passes, view.base)
    tones = {} if base is None else _tones(newest.passes, base)
    if draft is None:
        ledger = build_ledger(newest.passes, unit=unit)
        return LedgerSheet(view, ledger, newest.older, None, (), (), (), (), base, tones)
    before = newest.passes[-1] if newest.passes else None
    column = read_open_column(library, source, draft, before, unit=unit)
    ledger = with_open_column(newest.passes, column, unit=unit)
    in_chain = {step.gear_id for step in draft.entry.steps}
    shelf = tuple(line for line in list_gear(library) if not line.is_retired and line.gear_id not in in_chain)
    steps = passes.step_forms(library, draft.entry)
    noted = understand_notes(library, draft.entry, unit=unit)
    names = names_of_next(library, source.source_id, steps, draft.entry.title)
    turned = _turned(ledger, column)
    chains = () if draft.entry.steps else offered_chains(library, source.source_id)
    return LedgerSheet(view, ledger, newest.older, column, turned, shelf, noted, names, base, tones, chains)


def _tones(passes: Iterable[PassSheet], base: PassSheet) -> dict[int, Drawing]:
    against = f"pass {base.number}"
    return {
        print_id: tone_mark([(nominal, db) for nominal, _, db in curve.bands], against)
        for sheet in passes
        if sheet is not base
        for print_id, curve in tones_against(base, sheet).items()
    }


def turned_of(
    library: Readable, source: SourceSheet, draft: DraftSheet, unit: LengthUnit
) -> tuple[Turned, ...]:
    """What a draft of the next pass changes of the pass before."""
    column, ledger = _beside_the_last(library, source, draft, unit)
    return _turned(ledger, column)


def _beside_the_last(
    library: Readable, source: SourceSheet, draft: DraftSheet, unit: LengthUnit
) -> tuple[OpenColumn, Ledger]:
    """The open column, and the ledger of it and the pass before alone."""
    newest = read_newest(library, source.source_id, 1).passes
    column = read_open_column(library, source, draft, newest[-1] if newest else None, unit=unit)
    return column, with_open_column(newest, column, unit=unit)


def _turned(ledger: Ledger, column: OpenColumn) -> tuple[Turned, ...]:
    """What differs from the pass before; of a first pass nothing does."""
    if column.before is None:
        return ()
    return (*ledger.changes(len(ledger.passes) - 1), *changed_words(column))
