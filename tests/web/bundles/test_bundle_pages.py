"""A bundle made, looked into and brought in through the pages."""

import csv
import io
import shutil
import zipfile
from pathlib import Path

import lxml.html  # type: ignore[import-untyped]
from page_client import client_of
from page_reader import page_of, sentence_at, text_of, words
from small_session import SmallSession, confirm_by_picture, picture
from starlette.testclient import TestClient

from app.desk.prints.prints import audio_of_print
from app.library import Library


def bundle_of(client: TestClient, session: SmallSession, **options: str) -> bytes:
    answer = client.post(f"/projects/{session.project}/hand-on", data=options)
    assert answer.status_code == 200
    assert "Boathouse%20session.zip" in answer.headers["content-disposition"]
    return answer.content


def test_a_bundle_goes_from_one_library_to_another(
    filled_client: TestClient, session: SmallSession, empty_folder: Path, tmp_path: Path
) -> None:
    sent = bundle_of(filled_client, session, audio="original", photos="yes", passes="all")
    shutil.copytree(empty_folder, tmp_path / "there")
    library = Library(tmp_path / "there")
    there = client_of(library)
    looked_into = there.post("/bring-in", files={"bundle": ("session.zip", io.BytesIO(sent))})
    assert looked_into.status_code == 303
    preview = there.get(looked_into.headers["location"])
    assert preview.status_code == 200
    assert "not in the library yet" in text_of(page_of(preview))
    brought_in = there.post(looked_into.headers["location"])
    assert brought_in.status_code == 303
    assert words(page_of(there.get(brought_in.headers["location"])), "//h1") == "Boathouse"
    again = there.get(looked_into.headers["location"])
    assert again.status_code == 422
    assert "not here any more" in text_of(page_of(again))
    there.close()
    library.close()


def test_what_was_changed_on_both_sides_is_asked(filled_client: TestClient, session: SmallSession) -> None:
    sent = bundle_of(filled_client, session)
    filled_client.post(
        f"/projects/{session.project}/edit", data={"title": "Boathouse", "sample_rate": "96000"}
    )
    doctored = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(sent)) as old, zipfile.ZipFile(doctored, "w") as new:
        for entry in old.infolist():
            content = old.read(entry)
            if entry.filename == "session.json":
                content = content.replace(b'"Invented Trio"', b'"Invented Duo"')
            new.writestr(entry, content)
    doctored.seek(0)
    looked_into = filled_client.post("/bring-in", files={"bundle": ("session.zip", doctored)})
    page = page_of(filled_client.get(looked_into.headers["location"]))
    (tick,) = page.xpath("//input[starts-with(@name, 'theirs-')]/@name")
    filled_client.post(looked_into.headers["location"], data={tick: "yes"})
    assert "Invented Duo" in filled_client.get(f"/projects/{session.project}").text


def test_something_else_than_a_bundle_is_refused_at_the_field(client: TestClient) -> None:
    answer = client.post("/bring-in", files={"bundle": ("notes.txt", io.BytesIO(b"hello"))})
    assert answer.status_code == 422
    assert "not a bundle that can be opened" in sentence_at(page_of(answer), "Bundle")
    assert "Choose the zip" in sentence_at(page_of(client.post("/bring-in", data={})), "Bundle")


def test_a_key_that_is_none_is_not_in_the_library(client: TestClient) -> None:
    assert client.get("/bring-in/..%2F..%2Fdialback.db").status_code == 404
    assert client.get("/bring-in/abc").status_code == 404


def test_the_page_says_beforehand_what_leaves(filled_client: TestClient, session: SmallSession) -> None:
    said = text_of(page_of(filled_client.get(f"/projects/{session.project}/hand-on")))
    assert "2 sources, 3 passes, 3 prints, 5 pieces of gear" in said
    assert "4 audio files" in said
    assert "no audio" in text_of(
        page_of(filled_client.get(f"/projects/{session.project}/hand-on?audio=none"))
    )


def test_a_damaged_file_is_named_and_can_be_left_out(
    filled_client: TestClient, filled: Library, session: SmallSession
) -> None:
    here = f"/projects/{session.project}/hand-on"
    damaged = filled.files.path(audio_of_print(filled, session.prints[0]).sha256)
    damaged.write_bytes(bytes(damaged.stat().st_size))
    refused = filled_client.post(here, data={"audio": "original"})
    assert refused.status_code == 422
    assert "near" in sentence_at(page_of(refused), "Leave out what is damaged")
    sent = filled_client.post(here, data={"audio": "original", "leave_out": "yes"})
    assert sent.status_code == 200
    assert sent.headers["content-type"] == "application/zip"


def test_what_a_photo_showed_of_a_control_stands_on_the_bundles_own_page_and_the_table_says_so(
    filled: Library, filled_client: TestClient, session: SmallSession
) -> None:
    content = picture(96, 96, shade=61)
    step, line = confirm_by_picture(filled, session.passes[0], content)
    with zipfile.ZipFile(io.BytesIO(bundle_of(filled_client, session))) as bundle:
        page = lxml.html.fromstring(bundle.read("index.html"))
        (shown,) = page.xpath("//img[starts-with(@src, 'photos/controls/')]")
        assert bundle.read(shown.get("src")) == content
        assert shown.get("alt").startswith(f"{line.name} of {step.gear_name}")
        table = list(csv.DictReader(io.StringIO(bundle.read("session log.csv").decode("utf-8-sig"))))
    said = [row for row in table if row["about"] == "photo"]
    assert [(row["gear"], row["item"]) for row in said] == [(step.gear_name, line.name)]
    with zipfile.ZipFile(io.BytesIO(bundle_of(filled_client, session, photos="no"))) as bundle:
        assert b"photos/controls/" not in bundle.read("index.html")
