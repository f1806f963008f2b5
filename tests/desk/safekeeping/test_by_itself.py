"""Backups that nobody asked for: when something changed, never more than needed, never the disk's last room."""

import os
import shutil
from datetime import datetime, timedelta
from pathlib import Path
from types import SimpleNamespace

import pytest

from app import database_file
from app.desk.files.check import check_library
from app.desk.projects import projects
from app.desk.projects.projects import ProjectEntry
from app.desk.safekeeping import by_itself
from app.desk.safekeeping.backups import look_at_backups, made_at
from app.desk.safekeeping.by_itself import BackupsByThemselves, back_up_by_itself, thin_out
from app.library import Library
from app.library_errors import LibraryDamaged, LibraryError

NOW = datetime.now().astimezone()


def made_earlier(path: Path, days: int) -> Path:
    """The backup as if it had been made some days ago, and nothing written since."""
    moment = made_at(path) - timedelta(days=days)
    earlier = path.with_name(f"dialback-0004-{moment:%Y%m%d-%H%M%S}{by_itself.BY_ITSELF}.db")
    return path.rename(earlier)


def written_at(library: Library, moment: datetime) -> None:
    for part in database_file.PARTS:
        if (library.folder / part).exists():
            os.utime(library.folder / part, (moment.timestamp(), moment.timestamp()))


def test_the_first_look_of_a_day_with_changes_makes_one_and_the_next_makes_none(library: Library) -> None:
    backups = BackupsByThemselves(library)
    projects.create_project(library, ProjectEntry("today"))
    backups.look(NOW)
    (made,) = look_at_backups(library.folder)
    assert made.kind == "by itself"
    assert made.holdings is not None
    assert made.holdings.projects == 1
    projects.create_project(library, ProjectEntry("later today"))
    backups.look(NOW)
    assert len(look_at_backups(library.folder)) == 1
    made_earlier(made.path, days=1)
    backups.look(NOW)
    assert len(look_at_backups(library.folder)) == 2


def test_a_library_that_was_only_looked_at_is_not_backed_up_again(library: Library) -> None:
    projects.create_project(library, ProjectEntry("long ago"))
    made = back_up_by_itself(library.folder)
    assert made is not None
    written_at(library, made_at(made) - timedelta(seconds=5))
    assert back_up_by_itself(library.folder) is None
    made_earlier(made, days=3)
    assert back_up_by_itself(library.folder) is not None


def test_what_a_person_asked_for_is_never_thinned_out(library: Library) -> None:
    asked = library.backup()
    for days in range(0, 60, 2):
        made = database_file.back_up(library.database, library.folder / "backups" / "one.db")
        made_earlier(made, days)
    thin_out(library.folder / "backups")
    left = look_at_backups(library.folder)
    assert len(left) <= 1 + 7 + 4 + 12
    assert asked in [backup.path for backup in left]
    assert sum(backup.kind == "by itself" for backup in left) >= 7


def test_the_disk_keeps_room_for_recordings(library: Library, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shutil, "disk_usage", lambda folder: SimpleNamespace(free=900_000_000))
    with pytest.raises(LibraryError, match=r"0\.90 GB left.*dialback backup --to"):
        back_up_by_itself(library.folder)
    backups = BackupsByThemselves(library)
    backups.look(NOW)
    assert "0.90 GB left" in backups.trouble
    assert list((library.folder / "backups").iterdir()) == []
    monkeypatch.undo()
    backups.look(NOW)
    assert backups.trouble == ""
    assert len(look_at_backups(library.folder)) == 1


def test_a_damaged_database_is_not_backed_up_over_good_ones(filled: Library) -> None:
    good = filled.backup()
    filled.close()
    content = bytearray(good.read_bytes())
    content[4096 * 4 : 4096 * 12] = bytes(4096 * 8)
    filled.database.write_bytes(content)
    with pytest.raises(LibraryDamaged, match=r"no backup was made.*dialback check"):
        back_up_by_itself(filled.folder)
    assert list((filled.folder / "backups").iterdir()) == [good]
    assert check_library(filled.folder).problems != ()


def test_what_an_interrupted_backup_left_is_cleared_away_and_is_no_backup(library: Library) -> None:
    left = library.folder / "backups" / "dialback-0004-20260101-000000.db.part"
    left.write_bytes(b"half")
    assert look_at_backups(library.folder) == []
    backups = BackupsByThemselves(library)
    backups.start()
    backups.stop()
    assert not left.exists()
