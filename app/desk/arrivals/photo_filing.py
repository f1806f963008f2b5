"""What becomes of a picture that has arrived whole: the photo of the one pass that is being jotted, as if it was dropped there, or
a question on the inbox. The picture itself is always copied in: it is read from the original, long after a phone has deleted it."""

import base64
from dataclasses import asdict, dataclass
from pathlib import Path

from sqlalchemy import select
from sqlalchemy.orm import Session
from sqlmodel import col

from app.desk.arrivals import filing
from app.desk.arrivals.filing import CLOCKS_APART_S, Found, found_of
from app.desk.arrivals.folder_sweep import Stamp
from app.desk.files import stored_files
from app.desk.files.cleaned_pictures import cleaned_picture
from app.desk.files.pictures import CleanPicture, UnusablePicture
from app.desk.passes import drafts
from app.desk.passes.drafts import DraftGone
from app.desk.passes.passes import find_pass
from app.desk.photos import photos
from app.desk.projects.sources import find_source
from app.desk.refusals import NotThere, Refusal
from app.desk.rows import row_of
from app.library import Library, Readable, TakenIn
from app.records import Arrival, Draft, DraftPhoto, Pass, Photo, SourceTrack, StoredFile, WatchedFolder

TAKEN = "Taken in as a photo."
SAME_PICTURE = "The same picture as"
BY_HAND = "It was added as a photo by hand before."


@dataclass(frozen=True)
class WholePicture:
    """A picture as it was read from its first byte to its last, and what a decoder made of it."""

    path: Path
    stamp: Stamp
    original: TakenIn
    picture: CleanPicture


def read_whole(library: Library, path: Path, stamp: Stamp) -> WholePicture:
    """Raises UnusablePicture where it is none, OSError where it cannot be read or kept."""
    with path.open("rb") as stream:
        original = library.files.take_in(stream)
    try:
        picture = cleaned_picture(library.files.path(original.sha256))
    except UnusablePicture:
        stored_files.forget_unless_used(library, original)
        raise
    return WholePicture(path, stamp, original, picture)


def settle(library: Library, arrival_id: int, whole: WholePicture, present: frozenset[str]) -> int | None:
    """Write down a picture that is in the store, and decide where it goes. Returns the draft whose photo it became, if any."""
    with library.reading() as session:
        draft_id = _draft_for(session, arrival_id, whole.stamp)
    taken = None if draft_id is None else photos.put_away(library, whole.original, whole.picture)
    with library.writing() as session:
        row = session.get(Arrival, arrival_id)
        if row is None or row.state != "growing":
            return None
        folder = session.get_one(WatchedFolder, row.folder_id)
        file_id = stored_files.record(session, whole.original, whole.picture.media_type_found)
        row.bytes, row.modified_ns = whole.stamp.bytes, whole.stamp.modified_ns
        if filing.came_before(session, row, folder, file_id, whole.path, present, SAME_PICTURE):
            return None
        row.file_id = file_id
        if _is_photo_of(session, folder.project_id, file_id) and found_of(row).by != "hand":
            row.state, row.reason = "left", BY_HAND
            return None
        filing.supersede(session, row)
        if draft_id is not None and taken is not None:
            try:
                photos.put_into_draft(session, draft_id, taken)
            except DraftGone:  # thrown away meanwhile
                pass
            else:
                _file(row, "draft")
                return draft_id
        _offer(row, whole.picture.thumbnail)
        return None


def give_to_next(library: Library, arrival_id: int, source_id: int) -> int:
    """Make a picture of the inbox a photo of a source's next pass. Returns the draft. Raises Refusal where it is filed."""
    with library.reading() as session:
        find_source(session, source_id)
    draft_id = drafts.open_draft(library, source_id).draft_id
    taken = _taken(library, arrival_id)
    with library.writing() as session:
        photos.put_into_draft(session, draft_id, taken)
        _file(_find(session, arrival_id), "hand")
    return draft_id


def give_to_pass(library: Library, arrival_id: int, pass_id: int) -> None:
    """Make a picture of the inbox a photo of a logged pass. Raises Refusal where it is filed."""
    taken = _taken(library, arrival_id)
    with library.writing() as session:
        find_pass(session, pass_id)
        session.add(Photo(pass_id=pass_id, **taken.recorded(session)))
        _file(_find(session, arrival_id), "hand")


def take_off(library: Library, draft_photo_id: int) -> int:
    """Take a photo off the pass that is being jotted. One that came from a watched folder stands on the inbox again. Returns the draft."""
    with library.writing() as session:
        photo = row_of(session, DraftPhoto, draft_photo_id, "photo")
        thumbnail = session.get_one(StoredFile, photo.thumbnail_file_id)
        path = library.files.path(thumbnail.sha256)
        arrived = session.scalars(
            select(Arrival).where(
                col(Arrival.file_id) == photo.original_file_id,
                col(Arrival.state) == "left",
                col(Arrival.reason) == TAKEN,
            )
        ).first()
        if arrived is not None and path.exists():
            _offer(arrived, path.read_bytes())
        session.delete(photo)
        return photo.draft_id


def thumbnail_of(library: Readable, arrival_id: int) -> bytes:
    with library.reading() as session:
        found = found_of(filing.find_arrival(session, arrival_id))
    if not found.is_picture:
        raise NotThere("picture of the inbox")
    return base64.b64decode(found.thumbnail)


def _draft_for(session: Session, arrival_id: int, stamp: Stamp) -> int | None:
    """The one draft of the project with something in it, if it was begun before the picture was written: between two, nobody can
    tell. What was asked for by hand is asked about."""
    row = session.get(Arrival, arrival_id)
    if row is None or found_of(row).by == "hand":
        return None
    project_id = session.get_one(WatchedFolder, row.folder_id).project_id
    in_work = drafts.in_work(session, project_id)
    if len(in_work) != 1 or stamp.modified_ns / 1e9 < in_work[0].begun_at.timestamp() - CLOCKS_APART_S:
        return None
    return in_work[0].id


def _is_photo_of(session: Session, project_id: int, file_id: int) -> bool:
    """Whether a pass of the project, or one that is being jotted, has this picture."""
    of_pass = (
        select(col(Photo.id))
        .join(Pass, col(Pass.id) == col(Photo.pass_id))
        .join(SourceTrack, col(SourceTrack.id) == col(Pass.source_id))
        .where(col(SourceTrack.project_id) == project_id, col(Photo.original_file_id) == file_id)
    )
    of_draft = (
        select(col(DraftPhoto.id))
        .join(Draft, col(Draft.id) == col(DraftPhoto.draft_id))
        .join(SourceTrack, col(SourceTrack.id) == col(Draft.source_id))
        .where(col(SourceTrack.project_id) == project_id, col(DraftPhoto.original_file_id) == file_id)
    )
    return any(session.scalar(query.limit(1)) is not None for query in (of_pass, of_draft))


def _taken(library: Library, arrival_id: int) -> photos.TakenPhoto:
    with library.reading() as session:
        row = _find(session, arrival_id)
        stored = session.get_one(StoredFile, row.file_id)
        original = TakenIn(stored.sha256, stored.bytes)
    path = library.files.path(original.sha256)
    if not path.exists():
        raise Refusal({"": stored_files.MISSING})
    try:
        return photos.put_away(library, original, cleaned_picture(path))
    except UnusablePicture as error:
        raise Refusal({"": f"“{row.path}”: {error}"}) from error


def _find(session: Session, arrival_id: int) -> Arrival:
    """A picture that stands on the inbox."""
    row = filing.find_arrival(session, arrival_id)
    if not filing.is_open(row) or row.file_id is None or not found_of(row).is_picture:
        raise Refusal({"": f"“{row.path}” is filed or left already. Look at the inbox again."})
    return row


def _file(row: Arrival, by: str) -> None:
    row.state, row.reason, row.found = "left", TAKEN, asdict(Found(by=by))


def _offer(row: Arrival, thumbnail: bytes) -> None:
    by = found_of(row).by
    row.state, row.reason = "offered", filing.REWRITTEN if row.reason == filing.REWRITTEN else ""
    row.found = asdict(Found(by=by, thumbnail=base64.b64encode(thumbnail).decode()))
