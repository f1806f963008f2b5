"""Pictures in a watched folder: the photo of the pass that is being jotted, or a question on the inbox."""

import io
import os
import time
from pathlib import Path

import pillow_heif
import pytest
from PIL import Image
from small_session import SmallSession, picture, tone
from watching import Desk

from app.desk.arrivals import filing, inbox, photo_filing
from app.desk.arrivals.lookout import PATIENCE_S, STILL_S
from app.desk.files.check import check_library
from app.desk.passes import drafts
from app.desk.passes.pass_sheets import read_pass
from app.desk.photos import photos
from app.desk.refusals import Refusal
from app.library import Library
from app.records import DraftPhoto, Photo, StoredFile


@pytest.fixture
def desk(filled: Library, session: SmallSession, tmp_path: Path) -> Desk:
    (tmp_path / "phone").mkdir()
    inbox.leave_all(filled, session.project)
    return Desk(filled, tmp_path / "phone", session.project)


def jotted(library: Library, source_id: int) -> int:
    draft = drafts.open_draft(library, source_id).draft_id
    drafts.jot(library, draft, "", {"title": "being jotted"})
    return draft


def photos_of(library: Library, draft_id: int) -> int:
    return len(drafts.read_draft(library, draft_id).photo_ids)


def as_written(kind: str) -> bytes:
    made = io.BytesIO()
    image = Image.effect_noise((96, 64), 40).convert("RGB")
    if kind == "HEIF":
        pillow_heif.from_pillow(image).save(made)
    else:
        image.save(made, kind)
    return made.getvalue()


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "HEIF"])
def test_a_picture_goes_to_the_one_pass_that_is_being_jotted(
    desk: Desk, session: SmallSession, kind: str
) -> None:
    draft = jotted(desk.library, session.bass)
    content = as_written(kind)
    path = desk.put("IMG 0001", content)
    written = path.stat()
    assert desk.look().on_its_way
    assert photos_of(desk.library, draft) == 0, "not two seconds yet"
    looked = desk.look(STILL_S)
    assert (looked.settled, looked.photographed) == (1, (draft,))
    assert photos_of(desk.library, draft) == 1
    assert inbox.read_inbox(desk.library, session.project).offers == ()
    (photo,) = inbox.read_inbox(desk.library, session.project).photographed
    assert (photo.path, photo.source_name, photo.pass_id) == ("IMG 0001", "bass DI", None)
    assert path.read_bytes() == content
    assert path.stat().st_mtime_ns == written.st_mtime_ns
    with desk.library.reading() as reading:
        row = reading.query(DraftPhoto).filter_by(draft_id=draft).one()
        stored = reading.get_one(StoredFile, row.original_file_id)
    assert desk.library.files.path(stored.sha256).read_bytes() == content, "the original is kept whole"
    saved = drafts.save(desk.library, draft)
    assert len(read_pass(desk.library, saved).photos) == 1
    (photo,) = inbox.read_inbox(desk.library, session.project).photographed
    assert photo.pass_id == saved


def test_without_a_pass_that_is_jotted_it_stands_on_the_inbox(desk: Desk, session: SmallSession) -> None:
    drafts.open_draft(desk.library, session.bass)  # only looked at
    desk.put("a.jpg", picture(shade=31))
    desk.settle()
    (offer,) = inbox.read_inbox(desk.library, session.project).offers
    assert offer.state == "picture"
    assert offer.source is not None
    assert offer.source.name == "bass DI", "of the newest pass"
    shown = Image.open(io.BytesIO(photo_filing.thumbnail_of(desk.library, offer.arrival_id)))
    assert shown.size == (64, 48)
    assert inbox.open_arrivals(desk.library, session.project) == (), "it is no print to attach"
    with pytest.raises(Refusal, match="picture, which is no print"):
        filing.file_under(desk.library, offer.arrival_id, session.passes[0])
    draft = photo_filing.give_to_next(desk.library, offer.arrival_id, session.bass)
    assert photos_of(desk.library, draft) == 1
    assert inbox.read_inbox(desk.library, session.project).offers == ()
    with pytest.raises(Refusal, match="filed or left already"):
        photo_filing.give_to_pass(desk.library, offer.arrival_id, session.passes[0])
    desk.put("b.jpg", picture(shade=32))
    desk.settle()
    assert photos_of(desk.library, draft) == 2, "what follows the first goes with it"


def test_between_two_passes_that_are_jotted_it_is_asked(desk: Desk, session: SmallSession) -> None:
    jotted(desk.library, session.bass)
    jotted(desk.library, session.organ)
    desk.put("a.jpg", picture(shade=33))
    desk.settle()
    (offer,) = inbox.read_inbox(desk.library, session.project).offers
    assert offer.source is not None
    assert offer.source.name == "organ line", "jotted last"


def test_a_picture_of_before_the_pass_was_begun_is_not_of_it(desk: Desk, session: SmallSession) -> None:
    now = time.time()
    draft = jotted(desk.library, session.bass)
    desk.put("earlier.jpg", picture(shade=34), at_s=now - 5)
    desk.settle()
    assert photos_of(desk.library, draft) == 0
    assert desk.states() == {"earlier.jpg": "offered"}


def test_pictures_of_before_the_folder_was_watched_are_left_whenever_they_come(desk: Desk) -> None:
    hour_ago = time.time() - 3600
    desk.put("old.jpg", picture(shade=35), at_s=hour_ago)
    desk.put("old.wav", tone(0.1, hz=366), at_s=hour_ago)
    desk.settle()
    assert desk.states() == {"old.jpg": "left", "old.wav": "offered"}
    row = desk.rows()["old.jpg"]
    filing.bring_in(desk.library, 1, [row.id])
    desk.settle()
    assert desk.states()["old.jpg"] == "offered"


def test_what_lay_there_when_the_folder_was_named_is_listed_as_ignored(
    filled: Library, session: SmallSession, tmp_path: Path
) -> None:
    folder = tmp_path / "phone"
    folder.mkdir()
    (folder / "old.jpg").write_bytes(picture(shade=36))
    hour_ago = time.time() - 3600
    os.utime(folder / "old.jpg", (hour_ago, hour_ago))
    desk = Desk(filled, folder, session.project)
    desk.settle()
    assert desk.states() == {"old.jpg": "left"}


def test_the_same_picture_twice_is_once(desk: Desk, session: SmallSession) -> None:
    draft = jotted(desk.library, session.bass)
    desk.put("a.jpg", picture(shade=37))
    desk.settle()
    desk.put("copy of a.jpg", picture(shade=37))
    desk.settle()
    assert photos_of(desk.library, draft) == 1
    assert desk.rows()["copy of a.jpg"].reason.startswith("The same picture as “a.jpg”")
    photos.add_to_draft(desk.library, draft, "b.jpg", io.BytesIO(picture(shade=38)))
    desk.put("b.jpg", picture(shade=38))
    desk.settle()
    assert photos_of(desk.library, draft) == 2
    assert desk.rows()["b.jpg"].reason == photo_filing.BY_HAND


def test_a_picture_that_is_still_synced_is_waited_for(desk: Desk, session: SmallSession) -> None:
    draft = jotted(desk.library, session.bass)
    whole = as_written("JPEG")
    desk.put("a.jpg", whole[: len(whole) // 2])
    desk.settle()
    desk.look()
    assert desk.states() == {"a.jpg": "growing"}
    desk.put("a.jpg", whole)
    desk.settle()
    assert photos_of(desk.library, draft) == 1


def test_one_that_stays_half_fails_with_a_sentence_and_can_be_tried_again(
    desk: Desk, session: SmallSession
) -> None:
    draft = jotted(desk.library, session.bass)
    unused = check_library(desk.library.folder).unused
    whole = as_written("JPEG")
    desk.put("a.jpg", whole[: len(whole) // 2])
    desk.settle()
    desk.look(PATIENCE_S)
    assert desk.states() == {"a.jpg": "failed"}
    (failed,) = inbox.read_inbox(desk.library, session.project).failed
    assert "cut short or damaged" in failed.reason
    assert photos_of(desk.library, draft) == 0
    assert check_library(desk.library.folder).unused == unused, "nothing is kept of it"
    desk.put("a.jpg", whole)
    filing.bring_in(desk.library, session.project, [failed.arrival_id])
    desk.settle()
    assert desk.states() == {"a.jpg": "offered"}, "what was asked for by hand is asked about"


def test_a_photo_taken_off_the_pass_stands_on_the_inbox_again(desk: Desk, session: SmallSession) -> None:
    draft = jotted(desk.library, session.bass)
    desk.put("a.jpg", picture(shade=39))
    desk.settle()
    (photo_id,) = drafts.read_draft(desk.library, draft).photo_ids
    assert photo_filing.take_off(desk.library, photo_id) == draft
    assert photos_of(desk.library, draft) == 0
    (offer,) = inbox.read_inbox(desk.library, session.project).offers
    photo_filing.give_to_pass(desk.library, offer.arrival_id, session.passes[1])
    assert len(read_pass(desk.library, session.passes[1]).photos) == 1
    with desk.library.reading() as reading:
        assert reading.query(Photo).filter_by(pass_id=session.passes[1]).count() == 1


def test_a_picture_is_copied_where_recordings_stay(
    filled: Library, session: SmallSession, tmp_path: Path
) -> None:
    (tmp_path / "phone").mkdir()
    desk = Desk(filled, tmp_path / "phone", session.project, "refer")
    path = desk.put("a.jpg", picture(shade=40))
    desk.settle()
    path.unlink()
    desk.look()
    (offer,) = (one for one in inbox.read_inbox(filled, session.project).offers if one.state == "picture")
    assert offer.files[0].is_missing
    photo_filing.give_to_pass(filled, offer.arrival_id, session.passes[0])
    assert read_pass(filled, session.passes[0]).photos


def test_a_pass_opened_anew_keeps_its_photos(filled: Library, session: SmallSession) -> None:
    """A draft that nothing was typed into follows the log, and what was photographed for it stays."""
    draft = drafts.open_draft(filled, session.bass).draft_id
    photos.add_to_draft(filled, draft, "a.jpg", io.BytesIO(picture(shade=41)))
    anew = drafts.open_draft(filled, session.bass, like=session.passes[0])
    assert anew.draft_id != draft
    assert len(anew.photo_ids) == 1
