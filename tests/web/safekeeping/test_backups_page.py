"""The backups page, and what the projects page says of a copy that is old."""

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

from page_reader import page_of
from starlette.testclient import TestClient

from app.desk.safekeeping.full_copies import NOTE, copy_everything
from app.library import Library


def test_backups_are_shown_with_what_they_hold_and_how_one_is_put_back(
    filled_client: TestClient, filled: Library
) -> None:
    words = page_of(filled_client.get("/backups")).text_content()
    assert "There are none yet" in words
    assert f"dialback restore BACKUP --library {filled.folder}" in words
    assert filled_client.post("/backups", follow_redirects=False).status_code == 303
    page = page_of(filled_client.get("/backups"))
    (line,) = page.xpath("//ul[@class='list']/li")
    (made,) = (filled.folder / "backups").glob("*.db")
    assert made.name in line.text_content()
    assert "2 projects, 3 passes, last entry" in line.text_content()


def test_a_backup_that_cannot_be_put_back_says_why(filled_client: TestClient, filled: Library) -> None:
    (filled.folder / "backups" / "broken.db").write_bytes(b"no database" * 999)
    assert "Cannot be put back: it cannot be read" in page_of(filled_client.get("/backups")).text_content()


def test_a_full_copy_is_shown_and_the_projects_page_speaks_of_it_only_once_it_is_old(
    filled_client: TestClient, filled: Library, tmp_path: Path
) -> None:
    assert "No full copy of this library is known" in page_of(filled_client.get("/backups")).text_content()
    copy_everything(filled.folder, tmp_path / "other disk")
    words = page_of(filled_client.get("/backups")).text_content()
    assert str(tmp_path / "other disk") in words
    assert "18 files" in words
    assert "full copy" not in page_of(filled_client.get("/projects")).text_content()
    said = json.loads((filled.folder / NOTE).read_text())
    said["finished_at"] = (datetime.now(UTC) - timedelta(days=9)).isoformat()
    (filled.folder / NOTE).write_text(json.dumps(said))
    words = page_of(filled_client.get("/projects")).text_content()
    assert "The last full copy of this library is 9 days old." in words
    assert str(tmp_path) not in words, "a phone need not know this computer's folders"
    assert "9 days old" in page_of(filled_client.get("/backups")).text_content()
