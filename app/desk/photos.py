"""Photos of a pass, a microphone's placement or a piece of gear."""

import io
from typing import BinaryIO

from sqlalchemy.orm import Session

from app.desk import stored_files, wording
from app.desk.gear import find_gear
from app.desk.passes import find_pass, step_of_pass
from app.desk.pictures import UnusablePicture, clean_picture
from app.desk.refusals import Complaints, NotThere, Refusal
from app.library import Library
from app.records import Photo, StoredFile


def add_photo(
    library: Library,
    file_name: str,
    stream: BinaryIO,
    *,
    pass_id: int | None = None,
    step_id: int | None = None,
    gear_id: int | None = None,
    caption: str = "",
) -> int:
    """Take a photo in: the original as it is, and a cleaned picture and a thumbnail, which alone are ever served.

    It belongs to a pass (with `step_id`, to that microphone's placement) or to a piece of gear.
    """
    complaints = Complaints()
    caption = wording.line(complaints, "caption", "The caption", caption)
    complaints.refuse_if_any()
    with library.reading() as session:
        _check_owner(session, pass_id, gear_id)
    name = wording.file_name(file_name)
    original = stored_files.take_in(library, "photo", stream)
    try:
        picture = clean_picture(library.files.path(original.sha256))
    except UnusablePicture as error:
        stored_files.forget_unless_used(library, original)
        raise Refusal({"photo": f"“{name}”: {error}"}) from error
    shown = stored_files.take_in(library, "photo", io.BytesIO(picture.shown))
    thumbnail = stored_files.take_in(library, "photo", io.BytesIO(picture.thumbnail))
    with library.writing() as session:
        _check_owner(session, pass_id, gear_id)
        photo = Photo(
            pass_id=pass_id,
            step_id=step_of_pass(session, pass_id, step_id),
            gear_id=gear_id,
            caption=caption,
            width=picture.width,
            height=picture.height,
            original_file_id=stored_files.record(session, original, picture.media_type_found),
            shown_file_id=stored_files.record(session, shown, "image/jpeg"),
            thumbnail_file_id=stored_files.record(session, thumbnail, "image/jpeg"),
        )
        session.add(photo)
        session.flush()
        return photo.id


def read_photo(library: Library, photo_id: int) -> Photo:
    with library.reading() as session:
        return _find(session, photo_id)


def picture_of(library: Library, photo_id: int, *, thumbnail: bool = False) -> str:
    """The SHA-256 of the cleaned picture, or of its thumbnail."""
    with library.reading() as session:
        photo = _find(session, photo_id)
        file_id = photo.thumbnail_file_id if thumbnail else photo.shown_file_id
        return session.get_one(StoredFile, file_id).sha256


def delete_photo(library: Library, photo_id: int) -> tuple[int | None, int | None]:
    """Returns the pass and the piece of gear it was of, one of which is None."""
    with library.writing() as session:
        photo = _find(session, photo_id)
        session.delete(photo)
        return photo.pass_id, photo.gear_id


def _find(session: Session, photo_id: int) -> Photo:
    photo = session.get(Photo, photo_id)
    if photo is None:
        raise NotThere("photo")
    return photo


def _check_owner(session: Session, pass_id: int | None, gear_id: int | None) -> None:
    if pass_id is not None:
        find_pass(session, pass_id)
    if gear_id is not None:
        find_gear(session, gear_id)
