"""Audio, photos and downloads: whole, in ranges, under safe names."""

import re

import pytest
from small_session import SmallSession, attach, tone
from starlette.testclient import TestClient

from app.library import Library


def test_a_print_is_served_byte_for_byte(filled_client: TestClient, session: SmallSession) -> None:
    answer = filled_client.get(f"/prints/{session.prints[0]}/audio")
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "audio/wav"
    assert answer.headers["accept-ranges"] == "bytes"
    assert answer.content == tone(0.5, hz=221)


@pytest.mark.parametrize(
    ("asked", "first", "last"),
    [
        ("bytes=0-99", 0, 99),
        ("bytes=44-", 44, 48043),
        ("bytes=-10", 48034, 48043),
        ("bytes=100-100", 100, 100),
    ],
)
def test_a_player_gets_the_part_it_asks_for(
    filled_client: TestClient, session: SmallSession, asked: str, first: int, last: int
) -> None:
    answer = filled_client.get(f"/sources/{session.bass}/audio", headers={"range": asked})
    assert answer.status_code == 206
    assert answer.headers["content-range"] == f"bytes {first}-{last}/48044"
    assert answer.content == tone(0.5)[first : last + 1]


@pytest.mark.parametrize("asked", ["bytes=99999-", "bytes=9-3"])
def test_a_part_that_is_not_there_is_refused(
    filled_client: TestClient, session: SmallSession, asked: str
) -> None:
    answer = filled_client.get(f"/sources/{session.bass}/audio", headers={"range": asked})
    assert answer.status_code in (400, 416)


def test_a_source_without_a_file_has_no_audio(filled_client: TestClient, session: SmallSession) -> None:
    assert filled_client.get(f"/sources/{session.organ}/audio").status_code == 404


def test_a_file_missing_from_the_folder_is_not_there(
    filled_client: TestClient, filled: Library, session: SmallSession
) -> None:
    for path in filled.files.folder.glob("??/*"):
        path.unlink()
    assert filled_client.get(f"/prints/{session.prints[0]}/audio").status_code == 404
    assert filled_client.get(f"/photos/{session.photos[0]}/picture.jpg").status_code == 404
    assert filled_client.get(f"/passes/{session.passes[0]}").status_code == 200


@pytest.mark.parametrize(
    "name",
    [
        "x\r\nSet-Cookie: a=b.wav",
        '"; filename="evil.html',
        "../../x.wav",
        "🎸.wav",
        "a;b,c.wav",
        "%0d%0a.wav",
    ],
)
def test_no_file_name_can_write_into_the_answers_head(
    filled_client: TestClient, filled: Library, session: SmallSession, name: str
) -> None:
    made = attach(filled, session.passes[0], tone(0.1), name)
    answer = filled_client.get(f"/prints/{made}/audio")
    assert answer.status_code == 200
    assert "set-cookie" not in answer.headers
    disposition = answer.headers["content-disposition"]
    assert disposition.startswith("inline")
    assert re.fullmatch(r"[\x20-\x7e]+", disposition)
    assert "/" not in disposition.partition("filename")[2].replace("''", "")


def test_what_was_uploaded_as_audio_is_never_served_as_a_page(
    filled_client: TestClient, filled: Library, session: SmallSession
) -> None:
    sly = tone(0.1)[:12] + b"<html><script>alert(1)</script>" + tone(0.1)
    made = attach(filled, session.passes[0], sly, "page.html")
    answer = filled_client.get(f"/prints/{made}/audio")
    assert answer.headers["content-type"] == "audio/wav"
    assert answer.headers["x-content-type-options"] == "nosniff"


def test_photos_are_served_cleaned_as_jpeg(filled_client: TestClient, session: SmallSession) -> None:
    for name in ("picture", "thumbnail"):
        answer = filled_client.get(f"/photos/{session.photos[0]}/{name}.jpg")
        assert answer.status_code == 200
        assert answer.headers["content-type"] == "image/jpeg"
        assert answer.content.startswith(b"\xff\xd8\xff")
        assert b"Exif" not in answer.content


@pytest.mark.parametrize(
    ("kind", "media_type", "head"),
    [("pdf", "application/pdf", b"%PDF-"), ("csv", "text/csv; charset=utf-8", b"\xef\xbb\xbf")],
)
def test_the_session_log_downloads_under_its_projects_name(
    filled_client: TestClient, session: SmallSession, kind: str, media_type: str, head: bytes
) -> None:
    here = f"/projects/{session.project}"
    filled_client.post(f"{here}/edit", data={"title": 'a/b\\c:d*e?f"g<h>i|j 🎸', "sample_rate": "48000"})
    answer = filled_client.get(f"{here}/log.{kind}")
    assert answer.status_code == 200
    assert answer.headers["content-type"] == media_type
    assert answer.content.startswith(head)
    disposition = answer.headers["content-disposition"]
    assert disposition.startswith("attachment")
    (plain,) = re.findall(r'filename="([^"]*)"', disposition)
    assert re.fullmatch(r"[A-Za-z0-9 ,.\-]+", plain), plain
    assert f"Session%20log%2C%20a-b-c-d-e-f-g-h-i-j%20%F0%9F%8E%B8.{kind}" in disposition


def test_the_recall_sheet_downloads_as_a_pdf(filled_client: TestClient, session: SmallSession) -> None:
    answer = filled_client.get(f"/passes/{session.passes[0]}/recall.pdf")
    assert answer.status_code == 200
    assert answer.content.startswith(b"%PDF-")
    assert "Recall sheet, bass DI, pass 1.pdf" in answer.headers["content-disposition"]


def test_the_static_files_are_served_and_nothing_beside_them(client: TestClient) -> None:
    assert client.get("/static/base.css").status_code == 200
    assert client.get("/static/vendor/htmx.min.js").headers["content-type"].startswith("text/javascript")
    for path in (
        "/static/../pyproject.toml",
        "/static/%2e%2e/pyproject.toml",
        "/static/..%2fapp/cli.py",
        "/static/",
    ):
        assert client.get(path).status_code in (403, 404), path
