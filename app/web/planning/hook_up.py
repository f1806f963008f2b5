"""The hook-up of a pass: route, cables, and the checks before anything is plugged in."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import ClassVar

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.desk.planning import hook_up as desk
from app.desk.planning.hook_up import HookUpSheet, LinkEntry, PlanEntry
from app.desk.planning.pass_drawings import draw_route, draw_signal_flow
from app.desk.recall.plan import cautions_of, piece_of
from app.desk.refusals import Refusal
from app.drawings.svg import Drawing
from app.library import Readable
from app.trade.cautions import Caution, before_cables
from app.trade.routes import ROUTES, VARIANTS, Route, RouteKey, Variant
from app.web.context import LibraryDep, RowId, SnapshotDep
from app.web.forms import SentForm, numbered, words
from app.web.pages import NOTHING, PHONE_WIDTH, Page, go_to, show

router = APIRouter()


@dataclass(frozen=True)
class HookUpPage(Page):
    """`entry` is the form as typed, with one empty row for another cable; `before` are the cautions by the row they stand
    before."""

    template: ClassVar[str] = "planning/hook_up.html"

    plan: HookUpSheet
    entry: PlanEntry
    errors: Mapping[str, str]
    flow_wide: Drawing
    flow_narrow: Drawing
    cautions: tuple[Caution, ...]
    before: Mapping[int, tuple[Caution, ...]]
    route_pictures: Mapping[RouteKey, tuple[Drawing, Drawing]]
    routes: tuple[Route, ...] = ROUTES
    variants: tuple[Variant, ...] = VARIANTS


@router.get("/passes/{pass_id}/hook-up")
def show_hook_up(request: Request, library: SnapshotDep, pass_id: RowId) -> Response:
    return show(request, _page(library, pass_id))


@router.post("/passes/{pass_id}/hook-up")
def save_hook_up(request: Request, library: LibraryDep, form: SentForm, pass_id: RowId) -> Response:
    here = f"/passes/{pass_id}/hook-up"
    if words(form, "do") == "wire":
        desk.wire_anew(library, pass_id)
        return go_to(here)
    if words(form, "do") == "as-drawn":
        desk.keep_as_drawn(library, pass_id)
        return go_to(here)
    entry = _entry(form)
    try:
        desk.save_plan(library, pass_id, entry)
    except Refusal as refusal:
        return show(request, _page(library, pass_id, entry, refusal.sentences), status_code=422)
    return go_to(here)


@router.post("/passes/{pass_id}/hook-up/dismiss")
def dismiss(request: Request, library: LibraryDep, form: SentForm, pass_id: RowId) -> Response:
    finding = words(form, "finding")
    if words(form, "do") == "take-back":
        desk.take_dismissal_back(library, pass_id, finding)
        return go_to(f"/passes/{pass_id}/hook-up#checks")
    try:
        desk.dismiss(library, pass_id, finding, words(form, "reason"))
    except Refusal as refusal:
        errors = {f"reason-{finding}": str(refusal)}
        return show(request, _page(library, pass_id, errors=errors), status_code=422)
    return go_to(f"/passes/{pass_id}/hook-up#checks")


@router.post("/passes/{pass_id}/hook-up/answer")
def answer(library: LibraryDep, form: SentForm, pass_id: RowId) -> Response:
    """A fact that a finding asks about: what the piece of gear is, from now on and for every pass it stands in."""
    desk.answer(library, pass_id, words(form, "gear"), words(form, "fact"), words(form, "answer"))
    return go_to(f"/passes/{pass_id}/hook-up#checks")


def _page(
    library: Readable, pass_id: int, entry: PlanEntry | None = None, errors: Mapping[str, str] = NOTHING
) -> HookUpPage:
    plan = desk.read_hook_up(library, pass_id)
    typed = desk.entry_of(plan) if entry is None else entry
    cautions = cautions_of(plan.sheet, ("hook_up", "power_up", "repatching"))
    pieces = {str(step.gear_id): piece_of(step) for step in plan.sheet.steps}
    ends = [
        (pieces.get(link.source.partition(":")[0]), pieces.get(link.target.partition(":")[0]))
        for link in typed.links
    ]
    return HookUpPage(
        plan,
        replace(typed, links=(*typed.links, LinkEntry())),
        errors,
        draw_signal_flow(plan, width=1080),
        draw_signal_flow(plan, width=PHONE_WIDTH),
        cautions,
        before_cables(cautions, ends),
        {
            route.key: (draw_route(route.key, width=540), draw_route(route.key, width=PHONE_WIDTH))
            for route in ROUTES
        },
    )


def _entry(form: SentForm) -> PlanEntry:
    def ticked(name: str) -> tuple[str, ...]:
        return tuple(value for value in form.getlist(name) if isinstance(value, str))

    return PlanEntry(
        words(form, "route"),
        words(form, "send_tap"),
        ticked("variants"),
        numbered(form, LinkEntry, "links"),
        ticked("main_outputs"),
        ticked("phantom_on"),
        tuple((key.removeprefix("sound-"), words(form, key)) for key in form if key.startswith("sound-")),
    )
