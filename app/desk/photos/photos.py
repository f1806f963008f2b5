"""Photos of a pass, a microphone's placement or a piece of gear."""

import io
from dataclasses import dataclass
from typing import Any, BinaryIO

from sqlalchemy.orm import Session

from app.desk import wording
from app.desk.files import stored_files
from app.desk.files.cleaned_pictures import cleaned_picture
from app.desk.files.pictures import CleanPicture, UnusablePicture
from app.desk.passes.drafts import DraftGone, find_draft
from app.desk.passes.passes import find_pass, step_of_pass
from app.desk.receipts import answer_before, receive
from app.desk.refusals import Complaints, Refusal
from app.desk.rows import row_of
from app.desk.shelf.gear import find_gear
from app.library import Library, Readable, TakenIn
from app.records import DraftPhoto, Photo, StoredFile


def add_photo(
    library: Library,
    file_name: str,
    stream: BinaryIO,
    *,
    pass_id: int | None = None,
    step_id: int | None = None,
    gear_id: int | None = None,
    caption: str = "",
    key: str = "",
) -> int:
    """Take a photo in: the original as it is, and a cleaned picture and a thumbnail, which alone are ever served. The
    same `key` again does nothing.

    It belongs to a pass (with `step_id`, to that microphone's placement) or to a piece of gear.
    """
    caption = _caption(caption)
    with library.reading() as session:
        if answer_before(session, key) is None:
            _check_owner(session, pass_id, gear_id)
    taken = take_in(library, file_name, stream)
    with library.writing() as session:
        before = answer_before(session, key)
        if before is not None:
            return int(before["photo_id"])
        _check_owner(session, pass_id, gear_id)
        photo = Photo(
            pass_id=pass_id,
            step_id=step_of_pass(session, pass_id, step_id),
            gear_id=gear_id,
            caption=caption,
            **taken.recorded(session),
        )
        session.add(photo)
        session.flush()
        receive(session, key, {"photo_id": photo.id})
        return photo.id


def add_to_draft(
    library: Library, draft_id: int, file_name: str, stream: BinaryIO, *, caption: str = "", key: str = ""
) -> None:
    """Take in a photo of a pass that is still being jotted, or was saved meanwhile. Raises DraftGone where that was
    thrown away."""
    caption = _caption(caption)
    taken = take_in(library, file_name, stream)
    with library.writing() as session:
        if answer_before(session, key) is not None:
            return
        put_into_draft(session, draft_id, taken, caption)
        receive(session, key, {"draft_id": draft_id})


def put_into_draft(session: Session, draft_id: int, taken: "TakenPhoto", caption: str = "") -> None:
    """The same of a photo that is in the store."""
    row: DraftPhoto | Photo
    try:
        find_draft(session, draft_id)
        row = DraftPhoto(draft_id=draft_id, caption=caption, **taken.recorded(session))
    except DraftGone as gone:
        if gone.pass_id is None:
            raise
        row = Photo(pass_id=gone.pass_id, caption=caption, **taken.recorded(session))
    session.add(row)


@dataclass(frozen=True)
class TakenPhoto:
    """A photo's three files, in the store."""

    original: TakenIn
    media_type: str
    shown: TakenIn
    thumbnail: TakenIn
    width: int
    height: int

    def recorded(self, session: Session) -> dict[str, Any]:
        """What a row says of them."""
        return {
            "width": self.width,
            "height": self.height,
            "original_file_id": stored_files.record(session, self.original, self.media_type),
            "shown_file_id": stored_files.record(session, self.shown, "image/jpeg"),
            "thumbnail_file_id": stored_files.record(session, self.thumbnail, "image/jpeg"),
        }


def take_in(library: Library, file_name: str, stream: BinaryIO) -> TakenPhoto:
    name = wording.file_name(file_name)
    original = stored_files.take_in(library, "photo", stream)
    try:
        picture = cleaned_picture(library.files.path(original.sha256))
    except UnusablePicture as error:
        stored_files.forget_unless_used(library, original)
        raise Refusal({"photo": f"“{name}”: {error}"}) from error
    return put_away(library, original, picture)


def put_away(library: Library, original: TakenIn, picture: CleanPicture) -> TakenPhoto:
    """The pictures that are shown of an original, into the store beside it."""
    return TakenPhoto(
        original,
        picture.media_type_found,
        stored_files.take_in(library, "photo", io.BytesIO(picture.shown)),
        stored_files.take_in(library, "photo", io.BytesIO(picture.thumbnail)),
        picture.width,
        picture.height,
    )


def _caption(text: str) -> str:
    complaints = Complaints()
    caption = wording.line(complaints, "caption", "The caption", text)
    complaints.refuse_if_any()
    return caption


def read_photo(library: Readable, photo_id: int) -> Photo:
    with library.reading() as session:
        return _find(session, photo_id)


def picture_of(library: Readable, photo_id: int, *, thumbnail: bool = False) -> str:
    """The SHA-256 of the cleaned picture, or of its thumbnail."""
    with library.reading() as session:
        photo = _find(session, photo_id)
        file_id = photo.thumbnail_file_id if thumbnail else photo.shown_file_id
        return session.get_one(StoredFile, file_id).sha256


def draft_thumbnail(library: Readable, photo_id: int) -> str:
    """The SHA-256 of the thumbnail of a draft's photo."""
    with library.reading() as session:
        row = row_of(session, DraftPhoto, photo_id, "photo")
        return session.get_one(StoredFile, row.thumbnail_file_id).sha256


def delete_photo(library: Library, photo_id: int) -> tuple[int | None, int | None]:
    """Returns the pass and the piece of gear it was of, one of which is None."""
    with library.writing() as session:
        photo = _find(session, photo_id)
        session.delete(photo)
        return photo.pass_id, photo.gear_id


def _find(session: Session, photo_id: int) -> Photo:
    return row_of(session, Photo, photo_id, "photo")


def _check_owner(session: Session, pass_id: int | None, gear_id: int | None) -> None:
    if pass_id is not None:
        find_pass(session, pass_id)
    if gear_id is not None:
        find_gear(session, gear_id)
