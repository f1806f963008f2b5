"""Aligned copies of prints, to drop into any DAW."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, ClassVar
from urllib.parse import quote

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response, StreamingResponse

from app.desk.files.copy_names import STANDARD_PATTERN, WORDS
from app.desk.listening.aligned_copies import CopyOptions, make_aligned_copies
from app.desk.listening.auditions import read_heard_together
from app.desk.listening.blends import kept_blends
from app.desk.passes.pass_sheets import PassSheet, read_passes
from app.desk.refusals import Refusal
from app.library import Readable
from app.web.context import LibraryDep, PassIds, SnapshotDep
from app.web.pages import NOTHING, Page, show

router = APIRouter()

Ticks = Annotated[list[str], Query(alias="with", default_factory=list)]
RIGHTED, TRIMMED, MATCHED, BLENDED = "polarity", "length", "loudness", "blend"
STANDARD = (RIGHTED, TRIMMED)


@dataclass(frozen=True)
class CopiesPage(Page):
    """`ticked` are the options chosen; `words` can stand in the pattern of the names."""

    template: ClassVar[str] = "listening/copies.html"

    passes: tuple[PassSheet, ...]
    pattern: str
    ticked: tuple[str, ...]
    has_blend: bool
    errors: Mapping[str, str]
    words: tuple[str, ...] = WORDS


@router.get("/copies")
def choose(request: Request, library: SnapshotDep, chosen: PassIds, blend: str = "") -> Response:
    ticked = (*STANDARD, BLENDED) if blend else STANDARD
    passes = read_heard_together(library, chosen)
    return show(request, _page(library, passes, STANDARD_PATTERN, ticked, NOTHING))


@router.get("/copies.zip")
def download(
    request: Request,
    library: LibraryDep,
    chosen: PassIds,
    ticked: Ticks,
    pattern: str = STANDARD_PATTERN,
) -> Response:
    options = CopyOptions(
        pattern,
        right_polarity=RIGHTED in ticked,
        trim_to_source=TRIMMED in ticked,
        match_loudness=MATCHED in ticked,
        blends=kept_blends(library, chosen) if BLENDED in ticked else {},
    )
    try:
        copies = make_aligned_copies(library, chosen, options)
    except Refusal as refusal:
        page = _page(library, read_passes(library, chosen), pattern, tuple(ticked), refusal.sentences)
        return show(request, page, status_code=422)
    disposition = f"attachment; filename=\"aligned.zip\"; filename*=UTF-8''{quote(copies.file_name, safe='')}"
    return StreamingResponse(
        copies.chunks, media_type="application/zip", headers={"Content-Disposition": disposition}
    )


def _page(
    library: Readable,
    passes: Sequence[PassSheet],
    pattern: str,
    ticked: tuple[str, ...],
    errors: Mapping[str, str],
) -> CopiesPage:
    is_blended = bool(kept_blends(library, [sheet.pass_id for sheet in passes]))
    return CopiesPage(tuple(passes), pattern, ticked, is_blended, errors)
