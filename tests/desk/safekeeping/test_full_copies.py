"""A full copy elsewhere: only what is missing is copied, hashes are verified, and a library comes back from it."""

import errno
import json
import os
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, BinaryIO

import pytest
from filelock import FileLock
from small_session import SmallSession, attach, tone

from app.desk.files.check import check_library
from app.desk.projects import projects
from app.desk.safekeeping import full_copies
from app.desk.safekeeping.full_copies import copy_everything, last_copy
from app.desk.safekeeping.restoring import bring_files, put_back
from app.library import FileStore, Library, TakenIn
from app.library_errors import LibraryError


@pytest.fixture
def elsewhere(tmp_path: Path) -> Path:
    return tmp_path / "other disk" / "copy"


def test_a_library_comes_back_from_its_copy_alone(filled: Library, elsewhere: Path, tmp_path: Path) -> None:
    done = copy_everything(filled.folder, elsewhere)
    assert (done.new, done.damaged, done.missing) == (18, (), 0)
    fresh = tmp_path / "new computer"
    restored = put_back(fresh, str(elsewhere))
    assert (restored.brought, restored.missing, restored.aside) == (18, 0, None)
    assert check_library(fresh).problems == ()
    library = Library.open(fresh)
    assert [line.title for line in projects.list_projects(library)] == [
        line.title for line in projects.list_projects(filled)
    ]
    library.close()


def test_only_what_is_new_is_copied(filled: Library, session: SmallSession, elsewhere: Path) -> None:
    copy_everything(filled.folder, elsewhere)
    assert copy_everything(filled.folder, elsewhere).new == 0
    attach(filled, session.passes[0], tone(0.3, hz=515))
    done = copy_everything(filled.folder, elsewhere)
    assert (done.new, done.last.files) == (1, 19)


def test_what_was_removed_here_stays_there(filled: Library, elsewhere: Path) -> None:
    copy_everything(filled.folder, elsewhere)
    name = next(iter(filled.files.names()))
    filled.files.remove(name)
    done = copy_everything(filled.folder, elsewhere)
    assert (done.last.files, done.missing) == (18, 0)
    assert put_back_closed(filled, elsewhere).brought == 1
    assert check_library(filled.folder).problems == ()


def put_back_closed(library: Library, chosen: Path) -> Any:
    library.close()
    return put_back(library.folder, str(chosen))


def test_a_file_that_changed_here_is_named_and_never_copied_over_a_good_one(
    filled: Library, elsewhere: Path
) -> None:
    copy_everything(filled.folder, elsewhere)
    name = sorted(filled.files.names())[0]
    good = (elsewhere / "files" / name[:2] / name).read_bytes()
    filled.files.path(name).write_bytes(b"cut short")
    done = copy_everything(filled.folder, elsewhere)
    assert done.damaged == (name,)
    assert (elsewhere / "files" / name[:2] / name).read_bytes() == good
    last = last_copy(filled.folder)
    assert last is not None
    assert last.damaged == 1


def test_what_rotted_in_the_copy_is_found_when_asked_and_copied_again(
    filled: Library, elsewhere: Path
) -> None:
    copy_everything(filled.folder, elsewhere)
    name = next(iter(filled.files.names()))
    rotten = elsewhere / "files" / name[:2] / name
    rotten.write_bytes(bytes(rotten.stat().st_size))
    assert copy_everything(filled.folder, elsewhere).new == 0, "not looked at"
    assert copy_everything(filled.folder, elsewhere, verify=True).new == 1
    assert rotten.read_bytes() == filled.files.path(name).read_bytes()


def test_a_copy_that_was_cut_off_is_gone_on_with_and_has_no_database_until_it_is_whole(
    filled: Library, elsewhere: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = last_copy(filled.folder)
    took_in = FileStore.take_in
    count = 0

    def full_after_five(self: FileStore, stream: BinaryIO) -> TakenIn:
        nonlocal count
        count += 1
        if count > 5:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), str(elsewhere))
        return took_in(self, stream)

    with monkeypatch.context() as patched:
        patched.setattr(FileStore, "take_in", full_after_five)
        with pytest.raises(LibraryError, match=r"not complete \(No space left.*goes on from there"):
            copy_everything(filled.folder, elsewhere)
    assert list((elsewhere / "backups").glob("*.db")) == []
    assert last_copy(filled.folder) == before is None
    with pytest.raises(LibraryError, match="no backups"):
        put_back(filled.folder, str(elsewhere))
    done = copy_everything(filled.folder, elsewhere)
    assert done.new == 18 - 5
    assert [path.name for path in (elsewhere / "backups").iterdir()] == [done.database.name]


def test_files_alone_come_back_for_those_that_are_missing_or_damaged(
    filled: Library, elsewhere: Path
) -> None:
    copy_everything(filled.folder, elsewhere)
    missing, damaged, *_ = sorted(filled.files.names())
    filled.files.remove(missing)
    rotten = bytes(filled.files.path(damaged).stat().st_size)
    filled.files.path(damaged).write_bytes(rotten)
    filled.close()
    before = filled.database.read_bytes()
    assert bring_files(filled.folder, elsewhere) == (2, ())
    assert check_library(filled.folder).problems == ()
    assert filled.database.read_bytes() == before
    assert (filled.folder / "put-aside" / f"damaged-{damaged}").read_bytes() == rotten
    with pytest.raises(LibraryError, match="no folder with a full copy"):
        bring_files(filled.folder, elsewhere / "backups")


def test_a_disk_that_does_not_keep_what_is_written_is_told(
    filled: Library, elsewhere: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def rot(path: Path) -> None:
        path.write_bytes(b"something else")

    monkeypatch.setattr(full_copies, "_let_go", rot)
    with pytest.raises(LibraryError, match="cannot be relied on"):
        copy_everything(filled.folder, elsewhere)


@pytest.mark.parametrize("where", [".", "backups/copy", ".."])
def test_the_copy_must_lie_apart(filled: Library, where: str) -> None:
    with pytest.raises(LibraryError, match="within each other"):
        copy_everything(filled.folder, filled.folder / where)


def test_a_library_is_no_place_for_the_copy_of_another(filled: Library, tmp_path: Path) -> None:
    other = Library.open(tmp_path / "other")
    other.close()
    with pytest.raises(LibraryError, match="a library itself"):
        copy_everything(filled.folder, other.folder)


def test_two_at_once_do_not_meet(filled: Library, elsewhere: Path) -> None:
    elsewhere.mkdir(parents=True)
    with FileLock(elsewhere / "copying.lock"), pytest.raises(LibraryError, match="just now"):
        copy_everything(filled.folder, elsewhere)


def test_what_was_left_where_it_is_is_counted_as_outside(filled: Library, elsewhere: Path) -> None:
    with filled.writing() as session:
        session.connection().exec_driver_sql(
            "INSERT INTO stored_file (sha256, bytes, media_type, created_at) VALUES (?, 9, 'audio/wav', ?)",
            ("f" * 64, "2026-01-01 00:00:00"),
        )
        session.connection().exec_driver_sql(
            "INSERT INTO referred_file (file_id, path, bytes, modified_ns, problem, checked_at) "
            "SELECT max(id), '/elsewhere/x.wav', 9, 0, '', '2026-01-01 00:00:00' FROM stored_file"
        )
    done = copy_everything(filled.folder, elsewhere)
    assert (done.elsewhere, done.missing) == (1, 0)


def test_how_old_the_last_copy_is_counts_from_its_end(filled: Library, elsewhere: Path) -> None:
    assert last_copy(filled.folder) is None
    copy_everything(filled.folder, elsewhere)
    last = last_copy(filled.folder)
    assert last is not None
    assert (last.age_days, last.is_old, last.files) == (0, False, 18)
    aged(filled.folder, days=8)
    last = last_copy(filled.folder)
    assert last is not None
    assert (last.age_days, last.is_old) == (8, True)


def aged(folder: Path, days: int) -> None:
    note = folder / full_copies.NOTE
    said = json.loads(note.read_text())
    said["finished_at"] = (datetime.now(UTC) - timedelta(days=days)).isoformat()
    note.write_text(json.dumps(said))


@pytest.mark.parametrize("said", ["", "{", "[]", "{}", '{"finished_at": 3}', "null"])
def test_a_note_that_cannot_be_read_is_no_note(library: Library, said: str) -> None:
    (library.folder / full_copies.NOTE).write_text(said)
    assert last_copy(library.folder) is None
