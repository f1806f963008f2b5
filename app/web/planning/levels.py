"""The levels of a pass: what the instrument gave, what to send, what comes back."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import ClassVar

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.desk.planning import levels as desk
from app.desk.planning.level_rig import Given, LevelPart
from app.desk.planning.levels import GEAR_FIELDS, LevelsEntry, LevelSheet
from app.desk.refusals import Refusal
from app.drawings.level_diagram import level_diagram
from app.drawings.svg import Drawing
from app.library import Readable
from app.web.context import LibraryDep, RowId, SnapshotDep
from app.web.forms import SentForm, entry_from, words
from app.web.pages import NOTHING, PHONE_WIDTH, Page, go_to, show

router = APIRouter()


@dataclass(frozen=True)
class Way:
    """Where a value is entered, and the words of the link that leads there."""

    href: str
    words: str


@dataclass(frozen=True)
class LevelsPage(Page):
    """`ways` says of each given value where it is entered."""

    template: ClassVar[str] = "planning/levels.html"

    levels: LevelSheet
    entry: LevelsEntry
    errors: Mapping[str, str]
    ways: Mapping[Given, Way]
    diagram_wide: Drawing | None
    diagram_narrow: Drawing | None


@router.get("/passes/{pass_id}/levels")
def show_levels(request: Request, library: SnapshotDep, pass_id: RowId) -> Response:
    return show(request, _page(library, pass_id))


@router.post("/passes/{pass_id}/levels")
def save_levels(request: Request, library: LibraryDep, form: SentForm, pass_id: RowId) -> Response:
    entry = _entry(form)
    try:
        desk.save_levels(library, pass_id, entry)
    except Refusal as refusal:
        return show(request, _page(library, pass_id, entry, refusal.sentences), status_code=422)
    return go_to(f"/passes/{pass_id}/levels")


@router.post("/passes/{pass_id}/levels/answer")
def answer(request: Request, library: LibraryDep, form: SentForm, pass_id: RowId) -> Response:
    """The one figure that the page asks for first; the others stay as they are kept."""
    field, text = words(form, "field"), words(form, "answer")
    entry = desk.with_answer(desk.entry_of(desk.read_levels(library, pass_id)), field, text)
    try:
        desk.save_levels(library, pass_id, entry)
    except Refusal as refusal:
        return show(request, _page(library, pass_id, entry, refusal.sentences), status_code=422)
    return go_to(f"/passes/{pass_id}/levels")


def _page(
    library: Readable, pass_id: int, entry: LevelsEntry | None = None, errors: Mapping[str, str] = NOTHING
) -> LevelsPage:
    levels = desk.read_levels(library, pass_id)
    parts: Iterable[LevelPart] = (levels.recording, *levels.sends, *levels.returns)
    return LevelsPage(
        levels,
        desk.entry_of(levels) if entry is None else entry,
        errors,
        {given: _way(levels, given) for part in parts for given in part.givens},
        level_diagram(levels.runs, width=1080) if levels.runs else None,
        level_diagram(levels.runs, width=PHONE_WIDTH) if levels.runs else None,
    )


def _way(levels: LevelSheet, given: Given) -> Way:
    sheet = levels.sheet
    match given.place:
        case "here":
            return Way(f"#{given.field}", "type it below")
        case "source":
            return Way(f"/sources/{sheet.source_id}", "the source’s page")
        case "pass":
            return Way(f"/passes/{sheet.pass_id}/edit", "the pass’s chain")
        case "hook_up":
            return Way(f"/passes/{sheet.pass_id}/hook-up", "the hook-up")
        case "ports":
            return Way(f"/gear/{given.gear_id}/ports", "its ports and levels")
        case "calibrate":
            return Way(f"/gear/{given.gear_id}/calibrate", "calibrate it")


def _entry(form: SentForm) -> LevelsEntry:
    of_gear = {key: words(form, key) for key in form if key.rpartition("-")[0] in GEAR_FIELDS}
    return replace(entry_from(form, LevelsEntry), of_gear=of_gear)
