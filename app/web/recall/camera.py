"""A recall held against the camera: a picture in, which controls are off and which way to turn."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import ClassVar

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.desk.recall import camera as desk
from app.desk.recall.camera import CameraSheet
from app.desk.refusals import Refusal
from app.web.context import LibraryDep, ReaderDep, RowId, SnapshotDep
from app.web.forms import SentForm, files, key_of, words
from app.web.pages import NOTHING, Page, go_to, show

router = APIRouter()


@dataclass(frozen=True)
class CameraPage(Page):
    template: ClassVar[str] = "recall/camera.html"

    sheet: CameraSheet
    errors: Mapping[str, str]


@router.get("/recalls/{recall_id}/camera")
def show_camera(request: Request, library: SnapshotDep, recall_id: RowId) -> Response:
    return show(request, CameraPage(desk.read_camera(library, recall_id), NOTHING))


@router.post("/recalls/{recall_id}/camera")
def take_picture(
    request: Request, library: LibraryDep, reader: ReaderDep, form: SentForm, recall_id: RowId
) -> Response:
    chosen = [*files(form, "camera"), *files(form, "photo")]
    try:
        if not chosen:
            raise Refusal({"camera": "Take a picture first, or choose one."})
        for name, stream in chosen:
            if desk.add_photo(library, recall_id, name, stream, key=key_of(form)):
                reader.wake()
    except Refusal as refusal:
        errors = {"camera": " ".join(refusal.sentences.values())}
        return show(request, CameraPage(desk.read_camera(library, recall_id), errors), status_code=422)
    return go_to(f"/recalls/{recall_id}/camera#camera-seen")


@router.post("/recalls/{recall_id}/camera/tick")
def tick(library: LibraryDep, form: SentForm, recall_id: RowId) -> Response:
    """`do` is "right", or the item that is ticked alone."""
    desk.tick(library, recall_id, words(form, "do"))
    return go_to(f"/recalls/{recall_id}/camera#camera-seen")
