"""Audio as it was brought in, byte for byte, served with ranges."""

from fastapi import APIRouter
from fastapi.responses import FileResponse, Response

from app.desk.files.stored_files import FileAway, path_of
from app.desk.prints.prints import AudioFile, audio_of_print, audio_of_source
from app.desk.recall.tries import audio_of_try
from app.desk.refusals import NotThere
from app.library import Readable
from app.web.context import RowId, SnapshotDep

router = APIRouter()


@router.get("/prints/{print_id}/audio")
def print_audio(library: SnapshotDep, print_id: RowId) -> Response:
    return _serve(library, audio_of_print(library, print_id))


@router.get("/sources/{source_id}/audio")
def source_audio(library: SnapshotDep, source_id: RowId) -> Response:
    return _serve(library, audio_of_source(library, source_id))


@router.get("/tries/{try_id}/audio")
def try_audio(library: SnapshotDep, try_id: RowId) -> Response:
    return _serve(library, audio_of_try(library, try_id))


def _serve(library: Readable, audio: AudioFile) -> Response:
    try:
        path = path_of(library, audio.sha256)
    except FileAway as away:
        raise NotThere("audio file", str(away)) from None
    return FileResponse(
        path, media_type=audio.media_type, filename=audio.file_name, content_disposition_type="inline"
    )
