"""Accidents on a real server: it is killed, its disk fills, its measuring process dies. Nothing saved is lost."""

import errno
import http.client
import os
import re
import signal
import struct
import subprocess
import sys
import tempfile
import time
import zlib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlencode, urlsplit

import pytest
from page_reader import page_of, sentence_at
from running_server import get, serving
from small_session import SmallSession, bring_in, tone, wav
from starlette.testclient import TestClient

from app.config import ROOT
from app.desk.files.check import check_library
from app.desk.passes import passes
from app.desk.passes.pass_sheets import read_pass
from app.desk.passes.passes import PassEntry
from app.desk.projects import projects, sources
from app.desk.projects.projects import ProjectEntry
from app.library import Library
from app.records import Measurement

BOUNDARY = "invented-boundary"
MEGABYTE = 1 << 20


def post(address: str, path: str, fields: dict[str, str]) -> http.client.HTTPResponse:
    connection = http.client.HTTPConnection(urlsplit(address).netloc, timeout=60)
    connection.request("POST", path, urlencode(fields), {"Content-Type": "application/x-www-form-urlencoded"})
    answer = connection.getresponse()
    answer.read()
    connection.close()
    return answer


def begin_upload(address: str, path: str, length: int) -> tuple[http.client.HTTPConnection, bytes]:
    """A multipart upload of `length` bytes with its head sent; returns what must follow the bytes."""
    head = (
        f'--{BOUNDARY}\r\nContent-Disposition: form-data; name="file"; filename="long.wav"\r\n'
        "Content-Type: audio/wav\r\n\r\n"
    ).encode()
    tail = f"\r\n--{BOUNDARY}--\r\n".encode()
    connection = http.client.HTTPConnection(urlsplit(address).netloc, timeout=120)
    connection.putrequest("POST", path)
    connection.putheader("Content-Type", f"multipart/form-data; boundary={BOUNDARY}")
    connection.putheader("Content-Length", str(len(head) + length + len(tail)))
    connection.endheaders()
    connection.send(head)
    return connection, tail


def until(done: Callable[[], bool], within_s: float = 150.0) -> None:
    ends = time.monotonic() + within_s
    while not done():
        assert time.monotonic() < ends, "it never came to pass"
        time.sleep(0.05)


def measurements(folder: Path) -> list[Measurement]:
    library = Library(folder)
    with library.reading() as reading:
        found = list(reading.query(Measurement).order_by(Measurement.id))  # type: ignore[arg-type]
    library.close()
    return found


def children_of(pid: int) -> list[int]:
    return [int(child) for child in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]


def test_a_kill_loses_no_saved_row_and_leaves_no_half_file(filled: Library, session: SmallSession) -> None:
    filled.close()
    before = filled.files.names()
    with serving(filled.folder) as (address, process):
        get(f"{address}/projects")
        for number in range(3):
            assert (
                post(address, "/projects", {"title": f"save {number}", "sample_rate": "48000"}).status == 303
            )
        upload, _ = begin_upload(address, f"/passes/{session.passes[0]}/prints", 64 * MEGABYTE)
        upload.send(tone(0.5) + bytes(8 * MEGABYTE))
        until(lambda: any(filled.files.incoming.iterdir()) or bool(_open_deleted(process.pid)))
        measuring = children_of(process.pid)
        process.send_signal(signal.SIGKILL)
        process.wait()
        upload.close()
        until(lambda: not any(Path(f"/proc/{pid}").exists() for pid in measuring))
    with serving(filled.folder) as (address, _):
        assert get(f"{address}/projects")[0] == 200
        assert list(filled.files.incoming.iterdir()) == []
    library = Library.open(filled.folder)
    assert {f"save {number}" for number in range(3)} <= {
        line.title for line in projects.list_projects(library)
    }
    assert [len(read_pass(library, number).prints) for number in session.passes] == [1, 1, 1]
    assert library.files.names() == before
    assert check_library(library.folder).problems == ()
    library.close()


def _open_deleted(pid: int) -> list[str]:
    """The files a process holds that no folder names: where an upload is spooled."""
    found = []
    for handle in Path(f"/proc/{pid}/fd").iterdir():
        try:
            found.append(str(handle.readlink()))
        except OSError:
            continue
    return [name for name in found if name.endswith("(deleted)") and "incoming" in name]


def test_a_measurement_that_was_killed_is_taken_up_again(library: Library) -> None:
    project = projects.create_project(library, ProjectEntry("Boathouse"))
    source = bring_in(library, project, "bass", wav(tone(1.0)[44:] * 60))
    library.close()
    command = [sys.executable, "-m", "app.desk.processes.measuring", str(library.folder)]
    first = subprocess.Popen(command, cwd=ROOT, stdin=subprocess.PIPE)
    until(lambda: measurements(library.folder)[0].state == "running")
    first.kill()
    first.wait()
    assert first.stdin is not None
    first.stdin.close()
    assert measurements(library.folder)[0].state == "running"
    with subprocess.Popen(command, cwd=ROOT, stdin=subprocess.PIPE) as again:
        until(lambda: measurements(library.folder)[0].state == "done")
        assert again.stdin is not None
        again.stdin.close()  # it ends when its parent does
    (row,) = measurements(library.folder)
    assert (row.state, row.tries) == ("done", 2)
    found = sources.read_source(library, source).measured.figures
    assert found is not None
    assert found.file.frames == 60 * 48_000


def test_a_print_is_measured_while_the_page_is_open_and_after_the_measuring_process_died(
    filled: Library, session: SmallSession
) -> None:
    filled.close()
    with serving(filled.folder) as (address, process):
        get(f"{address}/projects")
        until(lambda: all(row.state in ("done", "failed") for row in measurements(filled.folder)))
        (measuring,) = children_of(process.pid)
        os.kill(measuring, signal.SIGKILL)
        audio = tone(1.0, hz=707)
        upload, tail = begin_upload(address, f"/passes/{session.passes[0]}/prints", len(audio))
        upload.send(audio + tail)
        assert upload.getresponse().status == 303
        upload.close()
        until(lambda: measurements(filled.folder)[-1].state == "done")
        assert children_of(process.pid) != [measuring]
        prints = f"{address}/passes/{session.passes[0]}/prints"
        assert get(prints)[0] == 200
        # A foreign print is held against the other sources as well: then the part stops asking.
        until(lambda: "hx-get" not in get(prints)[1].split(">")[0])


def test_a_large_upload_takes_no_memory(filled: Library, session: SmallSession) -> None:
    filled.close()
    length_mb = 300
    with serving(filled.folder) as (address, process):
        for path in ("/projects", f"/passes/{session.passes[0]}"):
            get(f"{address}{path}")
        before_kb = resident_kb(process.pid)
        head = wav(b"", promised_bytes=length_mb * MEGABYTE)
        upload, tail = begin_upload(
            address, f"/passes/{session.passes[0]}/prints", len(head) + length_mb * MEGABYTE
        )
        upload.send(head)
        block = bytes(MEGABYTE)
        for _ in range(length_mb):
            upload.send(block)
        upload.send(tail)
        assert upload.getresponse().status == 303
        upload.close()
        grown_mb = (peak_kb(process.pid) - before_kb) / 1024
        print(f"{length_mb} MB in: the server grew by {grown_mb:.1f} MB")
        assert grown_mb < 40
        assert peak_kb(process.pid) / 1024 < 200, "the server stays below 200 MB"
    library = Library.open(filled.folder)
    assert read_pass(library, session.passes[0]).prints[-1].bytes == 44 + length_mb * MEGABYTE
    library.close()


def resident_kb(pid: int) -> int:
    return _status(pid, "VmRSS")


def peak_kb(pid: int) -> int:
    return _status(pid, "VmHWM")


def _status(pid: int, name: str) -> int:
    (line,) = re.findall(rf"^{name}:\s+(\d+) kB", Path(f"/proc/{pid}/status").read_text(), re.MULTILINE)
    return int(line)


@pytest.fixture
def full_disk(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    def full(*_: Any) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with monkeypatch.context() as patched:
        patched.setattr(os, "fsync", full)
        yield


@pytest.mark.usefixtures("full_disk")
def test_an_upload_onto_a_full_disk_says_so_at_its_field_and_leaves_nothing(
    filled_client: TestClient, filled: Library, session: SmallSession
) -> None:
    before = filled.files.names()
    answer = filled_client.post(
        f"/passes/{session.passes[0]}/prints",
        data={"label": "kept"},
        files={"file": ("x.wav", tone(0.2, hz=606))},
    )
    assert answer.status_code == 422
    sentence = sentence_at(page_of(answer), "Audio files")
    assert "No space left" in sentence
    assert "Make room" in sentence
    assert filled.files.names() == before
    assert list(filled.files.incoming.iterdir()) == []


def test_an_upload_that_cannot_be_spooled_says_so(
    filled_client: TestClient, session: SmallSession, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(self: Any) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with monkeypatch.context() as patched:
        patched.setattr(tempfile.SpooledTemporaryFile, "rollover", full)
        answer = filled_client.post(
            f"/passes/{session.passes[0]}/prints", files={"file": ("x.wav", wav(bytes(3 * MEGABYTE)))}
        )
    assert answer.status_code == 507
    assert "The disk is full" in page_of(answer).text_content()
    assert "content-security-policy" in answer.headers


def test_a_save_onto_a_full_disk_says_so_and_keeps_what_was_there(
    filled_client: TestClient, filled: Library, session: SmallSession
) -> None:
    with filled.engine.connect() as connection:
        pages = connection.exec_driver_sql("PRAGMA page_count").scalar()
        connection.exec_driver_sql(f"PRAGMA max_page_count = {pages}")
        connection.rollback()
    statuses = {
        filled_client.post(
            f"/projects/{session.project}/edit",
            data={"title": "Boathouse", "sample_rate": "48000", "notes": str(number) * 19_000},
        ).status_code
        for number in range(10)
    }
    assert 507 in statuses
    assert statuses <= {303, 507}
    with filled.engine.connect() as connection:
        connection.exec_driver_sql("PRAGMA max_page_count = 1000000")
        connection.rollback()
    assert read_pass(filled, session.passes[0]).project_title == "Boathouse"
    assert check_library(filled.folder).problems == ()


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("drawing.svg", b"<svg xmlns='http://www.w3.org/2000/svg' onload='alert(1)'/>"),
        ("page.jpg", b"<!doctype html><script>alert(1)</script>"),
        ("cut.jpg", b"\xff\xd8\xff\xe0\x00\x10JFIF\x00"),
        ("empty.png", b""),
    ],
)
def test_a_photo_that_is_none_is_said_at_its_field(
    filled_client: TestClient, filled: Library, session: SmallSession, name: str, content: bytes
) -> None:
    before = filled.files.names()
    for owner in (f"/passes/{session.passes[0]}", f"/gear/{session.amp}"):
        answer = filled_client.post(
            f"{owner}/photos", data={"caption": "kept words"}, files={"photo": (name, content)}
        )
        assert answer.status_code == 422
        page = page_of(answer)
        assert f"“{name}”" in sentence_at(page, "Photo")
        assert page.xpath("//input[@name='caption']/@value") == ["kept words"]
    assert filled.files.names() == before


def test_two_saves_at_once_get_two_numbers(filled: Library, session: SmallSession) -> None:
    import threading

    failed: list[Exception] = []

    def log() -> None:
        try:
            for _ in range(5):
                passes.log_pass(filled, session.organ, PassEntry())
        except Exception as error:
            failed.append(error)

    threads = [threading.Thread(target=log) for _ in range(3)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failed == []
    log_sheet = projects.read_project(filled, session.project)
    assert log_sheet.sources[1].passes == 15


def test_a_form_cut_off_half_way_saves_nothing(filled_client: TestClient, filled: Library) -> None:
    before = len(projects.list_projects(filled))
    answer = filled_client.post(
        "/projects",
        content=b'--b\r\nContent-Disposition: form-data; name="title"\r\n\r\nhalf',
        headers={"content-type": "multipart/form-data; boundary=b"},
    )
    assert answer.status_code in (400, 422)
    assert "main" in answer.text
    assert len(projects.list_projects(filled)) == before


def test_a_form_of_endless_fields_is_refused_with_a_page(
    filled_client: TestClient, session: SmallSession
) -> None:
    many = {f"field{number}": "x" for number in range(10_001)}
    answer = filled_client.post(f"/passes/{session.passes[0]}/keeper", data=many)
    assert answer.status_code == 400
    assert page_of(answer).xpath("//main//h1")


def test_a_library_folder_that_goes_away_takes_no_writes_and_says_why(
    filled: Library, session: SmallSession
) -> None:
    filled.close()
    project = {"title": "lost", "sample_rate": "48000"}
    with serving(filled.folder) as (address, _):
        assert get(f"{address}/projects")[0] == 200
        away = filled.folder.rename(filled.folder.with_name("unmounted"))
        assert post(address, "/projects", project).status == 503
        audio = tone(0.2, hz=808)
        for length in (len(audio), 3 * MEGABYTE):
            upload, tail = begin_upload(address, f"/passes/{session.passes[0]}/prints", length)
            upload.send(audio + bytes(length - len(audio)) + tail)
            answer = upload.getresponse()
            said = answer.read().decode()
            upload.close()
            assert answer.status == 503
            assert "is not there any more" in said
            assert "Make room" not in said
        assert not filled.folder.exists()
        page = get(f"{address}/projects")
        assert page[0] in (200, 503)
        assert "is not there any more" in page[1]
        away.rename(filled.folder)
        assert post(address, "/projects", project).status == 303, "it is back"
    library = Library.open(filled.folder)
    assert [line.title for line in projects.list_projects(library)].count("lost") == 1
    assert check_library(library.folder).problems == ()
    library.close()


def test_a_database_that_turns_out_damaged_is_read_on_and_takes_no_writes(filled: Library) -> None:
    copy = filled.backup()
    with filled.reading() as reading:
        (page,) = (
            reading.connection()
            .exec_driver_sql("SELECT rootpage FROM sqlite_master WHERE name = 'ix_project_uid'")
            .one()
        )
    filled.close()
    content = bytearray(copy.read_bytes())
    content[4096 * (page - 1) : 4096 * page] = bytes(4096)
    filled.database.write_bytes(content)
    with serving(filled.folder) as (address, _):
        assert post(address, "/projects", {"title": "met it", "sample_rate": "48000"}).status == 503
        status, shown = get(f"{address}/projects")
        assert status == 200
        assert "Boathouse" in shown
        assert "dialback check" in shown
        assert "dialback restore" in shown
        assert post(address, "/gear", {"name": "fuzz", "kind": "pedal"}).status == 503, (
            "nothing at all is written"
        )


def test_hostile_pictures_take_no_memory_of_the_server(filled: Library, session: SmallSession) -> None:
    filled.close()
    side = 9_900
    rows = zlib.compress((b"\0" + bytes(3 * side)) * side, 1)
    header = struct.pack(">IIBBBBB", side, side, 8, 2, 0, 0, 0)
    picture = b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))
        for name, body in ((b"IHDR", header), (b"IDAT", rows), (b"IEND", b""))
    )
    with serving(filled.folder) as (address, process):
        get(f"{address}/projects")
        for content in (picture, b"\xff\xd8\xff" + bytes(50_000)):
            body = (
                (
                    f'--{BOUNDARY}\r\nContent-Disposition: form-data; name="photo"; filename="panel.png"\r\n'
                    "Content-Type: image/png\r\n\r\n"
                ).encode()
                + content
                + f"\r\n--{BOUNDARY}--\r\n".encode()
            )
            connection = http.client.HTTPConnection(urlsplit(address).netloc, timeout=120)
            connection.request(
                "POST",
                f"/passes/{session.passes[0]}/photos",
                body,
                {"Content-Type": f"multipart/form-data; boundary={BOUNDARY}"},
            )
            assert connection.getresponse().status in (303, 422)
            connection.close()
        peak_mb = peak_kb(process.pid) / 1024
        print(f"{side}×{side} pixels in: the server peaked at {peak_mb:.0f} MB")
        assert peak_mb < 250
