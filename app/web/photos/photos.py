"""Photos of passes, placements and gear. Only the cleaned picture and its thumbnail are ever served."""

from fastapi import APIRouter, Request
from fastapi.responses import FileResponse, Response

from app.desk.photos import photos as desk
from app.desk.refusals import NotThere, Refusal
from app.library import Readable
from app.web.confirm import ConfirmPage
from app.web.context import LibraryDep, RowId, SnapshotDep, UnitDep
from app.web.forms import SentForm, files, gather, key_of, whole_number, words
from app.web.pages import FOR_GOOD, go_to, show
from app.web.passes.passes import pass_page
from app.web.shelf.gear import gear_page

router = APIRouter()

CHOOSE_FIRST = "Choose a photo first."


@router.post("/passes/{pass_id}/photos")
def add_to_pass(
    request: Request, library: LibraryDep, unit: UnitDep, form: SentForm, pass_id: RowId
) -> Response:
    refused = _add(library, form, pass_id=pass_id)
    if refused:
        page = pass_page(library, pass_id, unit, refused, {"caption": words(form, "caption")})
        return show(request, page, status_code=422)
    return go_to(f"/passes/{pass_id}#photos")


@router.post("/gear/{gear_id}/photos")
def add_to_gear(request: Request, library: LibraryDep, form: SentForm, gear_id: RowId) -> Response:
    refused = _add(library, form, gear_id=gear_id)
    if refused:
        page = gear_page(library, gear_id, refused, {"caption": words(form, "caption")})
        return show(request, page, status_code=422)
    return go_to(f"/gear/{gear_id}#photos")


@router.get("/photos/{photo_id}/picture.jpg")
def picture(library: SnapshotDep, photo_id: RowId) -> Response:
    return jpeg(library, desk.picture_of(library, photo_id))


@router.get("/photos/{photo_id}/thumbnail.jpg")
def thumbnail(library: SnapshotDep, photo_id: RowId) -> Response:
    return jpeg(library, desk.picture_of(library, photo_id, thumbnail=True))


@router.get("/photos/{photo_id}/delete")
def ask_to_delete(request: Request, library: SnapshotDep, photo_id: RowId) -> Response:
    photo = desk.read_photo(library, photo_id)
    page = ConfirmPage(
        "Delete this photo?",
        f"{photo.caption or 'The photo'} leaves the log for good.",
        "Delete the photo",
        f"/photos/{photo_id}/delete",
        f"/passes/{photo.pass_id}#photos" if photo.pass_id is not None else f"/gear/{photo.gear_id}#photos",
    )
    return show(request, page)


@router.post("/photos/{photo_id}/delete")
def delete_photo(library: LibraryDep, photo_id: RowId) -> Response:
    pass_id, gear_id = desk.delete_photo(library, photo_id)
    return go_to(f"/passes/{pass_id}#photos" if pass_id is not None else f"/gear/{gear_id}#photos")


def _add(
    library: LibraryDep, form: SentForm, *, pass_id: int | None = None, gear_id: int | None = None
) -> dict[str, str]:
    """Take in every photo chosen. Returns what was refused, a sentence for each field; the others are kept."""
    chosen = [*files(form, "photo"), *files(form, "camera")]
    if not chosen:
        return {"photo": CHOOSE_FIRST}
    refused: dict[str, list[str]] = {}
    for name, stream in chosen:
        try:
            desk.add_photo(
                library,
                name,
                stream,
                pass_id=pass_id,
                gear_id=gear_id,
                step_id=whole_number(form, "step_id"),
                caption=words(form, "caption"),
                key=key_of(form),
            )
        except Refusal as refusal:
            gather(refused, refusal)
    return {field: " ".join(sentences) for field, sentences in refused.items()}


def jpeg(library: Readable, sha256: str) -> Response:
    path = library.files.path(sha256)
    if not path.exists():
        raise NotThere("photo's file")
    return FileResponse(path, media_type="image/jpeg", headers=FOR_GOOD)
