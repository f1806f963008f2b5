"""A database made anew: of a damaged one, of bundles, and of what the files themselves know."""

import io
import os
import random
import sqlite3
import struct
from contextlib import closing
from pathlib import Path

import pytest
from PIL import Image
from small_session import SmallSession, tone

from app import database_file
from app.desk.bundles.writing import BundleOptions, plan_bundle, write_bundle
from app.desk.files.audio_titles import AudioTitle, read_title
from app.desk.files.check import check_library, tidy
from app.desk.passes import drafts
from app.desk.passes.pass_sheets import read_pass
from app.desk.photos.photos import add_photo
from app.desk.projects import projects
from app.desk.projects.projects import ProjectEntry
from app.desk.projects.sources import SourceEntry, create_source
from app.desk.safekeeping.restoring import put_back
from app.desk.safekeeping.salvaging import make_anew
from app.library import Library
from app.library_errors import LibraryError, LibraryLost
from app.records import Photo, SourceTrack

MUCH = 1 << 40


def lose_the_database(library: Library) -> Path:
    """The files are from before today."""
    library.close()
    for name in library.files.names():
        os.utime(library.files.path(name), (1.7e9, 1.7e9))
    for part in database_file.PARTS:
        (library.folder / part).unlink(missing_ok=True)
    return library.folder


def titled(title: str, hz: float) -> bytes:
    """A WAV that says what it is called."""
    said = title.encode() + b"\0" * (2 - len(title) % 2)
    info = b"INFO" + b"INAM" + struct.pack("<I", len(said)) + said
    audio = tone(0.2, hz=hz)
    body = audio[12:] + b"LIST" + struct.pack("<I", len(info)) + info
    return audio[:4] + struct.pack("<I", 4 + len(body)) + b"WAVE" + body


def test_files_alone_become_sources_and_photos_that_are_marked(library: Library) -> None:
    project = projects.create_project(library, ProjectEntry("lost"))
    create_source(
        library, project, SourceEntry("bass"), ("bass.wav", io.BytesIO(titled("Boathouse bass DI", 81)))
    )
    create_source(library, project, SourceEntry("organ"), ("organ.wav", io.BytesIO(tone(0.2, hz=99))))
    noise = Image.frombytes("RGB", (900, 600), random.Random(1).randbytes(900 * 600 * 3))
    written = io.BytesIO()
    noise.save(written, "PNG")
    written.seek(0)
    from app.desk.shelf.gear import GearEntry, add_gear

    add_photo(library, "panel.png", written, gear_id=add_gear(library, GearEntry("amp", "amp")))
    library.files.take_in(io.BytesIO(b"neither sound nor picture"))
    files = library.files.names()
    folder = lose_the_database(library)
    done = make_anew(folder, (), MUCH)
    assert (done.sources, done.photos, done.unknown, done.aside) == (2, 1, 1, None)
    again = Library.open(folder)
    with again.reading() as session:
        names = [row.name for row in session.query(SourceTrack)]
        (photo,) = session.query(Photo)
    assert all(name.startswith("Salvaged 20") for name in names)
    assert any(name.endswith("Boathouse bass DI") for name in names)
    assert photo.caption == "Salvaged"
    assert [line.title[:9] for line in projects.list_projects(again)] == ["Salvaged "]
    assert check_library(folder).problems == ()
    assert tidy(again) == 0, "nothing that was there before is ever tidied away"
    assert again.files.names() == files
    again.close()


def test_bundles_bring_back_what_was_written(filled: Library, session: SmallSession, tmp_path: Path) -> None:
    bundle = tmp_path / "session.zip"
    contents = plan_bundle(filled, session.project, BundleOptions(audio="none"))
    bundle.write_bytes(b"".join(write_bundle(filled, contents, {})))
    broken = tmp_path / "broken.zip"
    broken.write_bytes(b"no zip at all")
    folder = lose_the_database(filled)
    done = make_anew(folder, (bundle, broken), MUCH)
    assert done.bundles == ["Boathouse"]
    (refused,) = done.refused
    assert "broken.zip" in refused
    again = Library.open(folder)
    (boathouse,) = [line for line in projects.list_projects(again) if line.title == "Boathouse"]
    assert boathouse.passes == 3
    assert check_library(folder).problems == ()
    again.close()


def test_of_a_damaged_database_comes_what_can_be_read(filled: Library) -> None:
    copy = filled.backup()
    with filled.reading() as session:
        raw = session.connection()
        (page,) = raw.exec_driver_sql("SELECT rootpage FROM sqlite_master WHERE name = 'setting'").one()
        passes = raw.exec_driver_sql("SELECT count(*) FROM pass").scalar()
    filled.close()
    content = bytearray(copy.read_bytes())
    content[4096 * (page - 1) : 4096 * page] = bytes(4096)
    copy.unlink()
    filled.database.write_bytes(content)
    done = make_anew(filled.folder, (), MUCH)
    assert done.rows.copied["pass"] == passes
    assert done.rows.copied["setting"] == 0
    assert set(done.rows.hurt) == {"setting"}
    assert (done.sources, done.photos) == (0, 0), "every file is known"
    assert done.aside is not None
    assert (done.aside / "dialback.db").read_bytes() == bytes(content)
    again = Library.open(filled.folder)
    assert {line.title for line in projects.list_projects(again)} >= {"Boathouse"}
    boathouse = next(line for line in projects.list_projects(again) if line.title == "Boathouse")
    assert "from a damaged database" in projects.read_project(again, boathouse.project_id).notes
    assert check_library(filled.folder).problems == ()
    again.close()


@pytest.mark.parametrize("seed", range(12))
def test_a_page_of_garbage_anywhere_leaves_something_that_is_whole(filled: Library, seed: int) -> None:
    copy = filled.backup()
    filled.close()
    content = bytearray(copy.read_bytes())
    copy.unlink()
    chance = random.Random(seed)
    page = chance.randrange(1, len(content) // 4096)
    content[4096 * page : 4096 * (page + 1)] = chance.randbytes(4096)
    filled.database.write_bytes(content)
    if check_library(filled.folder).problems:
        make_anew(filled.folder, (), MUCH)
    assert check_library(filled.folder).problems == ()
    Library.open(filled.folder).close()


def test_a_file_that_is_no_database_leaves_the_files_to_salvage(filled: Library) -> None:
    filled.close()
    filled.database.write_bytes(b"not a database at all" * 999)
    done = make_anew(filled.folder, (), MUCH)
    assert done.rows.copied == {}
    assert done.sources > 0
    assert done.aside is not None
    assert check_library(filled.folder).problems == ()


def test_where_a_backup_is_left_it_goes_first(filled: Library) -> None:
    copy = filled.backup()
    folder = lose_the_database(filled)
    with pytest.raises(LibraryError, match=rf"{copy.name}.*dialback restore.*--anyway"):
        make_anew(folder, (), MUCH)
    assert not (folder / "dialback.db").exists()
    assert make_anew(folder, (), MUCH, anyway=True).sources > 0
    put_back(folder, copy.name)
    assert check_library(folder).problems == ()


def test_a_whole_database_and_an_empty_folder_are_left_alone(filled: Library, tmp_path: Path) -> None:
    before = filled.database.read_bytes()
    with pytest.raises(LibraryError, match="nothing to salvage"):
        make_anew(filled.folder, (), MUCH)
    assert filled.database.read_bytes() == before
    (tmp_path / "empty").mkdir()
    with pytest.raises(LibraryLost, match="nothing to salvage"):
        make_anew(tmp_path / "empty", (), MUCH)
    assert not (tmp_path / "empty" / "dialback.db").exists()


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"RIFF",
        b"RIFF\xff\xff\xff\xffWAVELIST\xff\xff\xff\xffINFOINAM\xff\xff\xff\xff",
        b"RIFF\x00\x00\x00\x00WAVEbext\x5a\x02\x00\x00" + b"\xff" * 602,
        b"FORM\x00\x00\x00\x00AIFFNAME\x7f\xff\xff\xff",
    ],
)
def test_a_header_that_is_damaged_says_nothing(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "file").write_bytes(content)
    title = read_title(tmp_path / "file")
    assert title.originated_at is None
    assert len(title.title) < 600


def test_an_aiff_says_its_name_and_bext_its_date(tmp_path: Path) -> None:
    (tmp_path / "a.aiff").write_bytes(b"FORM\0\0\0\x14AIFFNAME\0\0\0\x08Organ DI")
    assert read_title(tmp_path / "a.aiff") == AudioTitle("Organ DI")
    body = (
        b"Bass DI".ljust(256, b"\0")
        + b"desk".ljust(32, b"\0")
        + bytes(32)
        + b"2024-03-05"
        + b"21:10:00"
        + bytes(264)
    )
    (tmp_path / "a.wav").write_bytes(b"RIFF\0\0\0\0WAVEbext" + struct.pack("<I", len(body)) + body)
    title = read_title(tmp_path / "a.wav")
    assert title.title == "Bass DI"
    assert f"{title.originated_at}" == "2024-03-05 21:10:00"


def hurt_a_page(folder: Path) -> None:
    """A page of the database is garbage, and no row is lost by it: it is of an index."""
    database = folder / database_file.NAME
    with closing(sqlite3.connect(database)) as connection:
        of_an_index = "SELECT rootpage FROM sqlite_master WHERE type = 'index' AND tbl_name = 'print' LIMIT 1"
        (page,) = connection.execute(of_an_index).fetchone()
        (size,) = connection.execute("PRAGMA page_size").fetchone()
    content = bytearray(database.read_bytes())
    content[(page - 1) * size : page * size] = random.Random(5).randbytes(size)
    database.write_bytes(content)


def test_a_draft_begun_after_a_salvage_can_be_saved(filled: Library, session: SmallSession) -> None:
    """What became of earlier drafts is remembered under their numbers: those are not given away again."""
    for _ in range(2):
        drafts.save(filled, drafts.open_draft(filled, session.bass).draft_id)
    filled.close()
    hurt_a_page(filled.folder)
    make_anew(filled.folder, (), MUCH, anyway=True)
    again = Library.open(filled.folder)
    draft = drafts.open_draft(again, session.organ)
    pass_id = drafts.save(again, draft.draft_id)
    assert read_pass(again, pass_id).source_id == session.organ
    again.close()


def test_a_damaged_database_that_was_put_aside_is_salvaged_by_its_name(
    filled: Library, session: SmallSession
) -> None:
    backup = filled.folder / "backups" / "before.db"
    database_file.back_up(filled.folder / database_file.NAME, backup, in_use=True)
    late = drafts.save(filled, drafts.open_draft(filled, session.bass).draft_id)
    filled.close()
    hurt_a_page(filled.folder)
    aside = put_back(filled.folder, "before.db").aside
    assert aside is not None
    make_anew(filled.folder, (aside.relative_to(filled.folder),), MUCH, anyway=True)
    again = Library.open(filled.folder)
    assert read_pass(again, late).source_id == session.bass
    again.close()
