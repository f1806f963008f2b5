"""A bundle read by others: the system's unzip and sha256sum, a JSON Schema validator."""

import json
import subprocess
from collections.abc import Iterator
from pathlib import Path

import jsonschema
import pytest
from page_client import client_of
from small_session import SmallSession

from app.desk.bundles.document import schema_json
from app.library import Library


@pytest.fixture
def unpacked(filled: Library, session: SmallSession, tmp_path: Path) -> Iterator[Path]:
    """The small session's bundle as the page sends it, unpacked by Info-ZIP."""
    client = client_of(filled)
    answer = client.post(f"/projects/{session.project}/hand-on", data={"audio": "original"})
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "application/zip"
    packed = tmp_path / "session.zip"
    packed.write_bytes(answer.content)
    tested = subprocess.run(["unzip", "-tq", packed], capture_output=True, text=True, check=True)
    assert "No errors detected" in tested.stdout
    folder = tmp_path / "unpacked"
    subprocess.run(["unzip", "-q", packed, "-d", folder], check=True)
    yield folder
    client.close()


def test_the_checksums_are_what_sha256sum_says(unpacked: Path) -> None:
    checked = subprocess.run(
        ["sha256sum", "--check", "--strict", "SHA256SUMS"],
        cwd=unpacked,
        capture_output=True,
        text=True,
        check=True,
    )
    files = [path for path in unpacked.rglob("*") if path.is_file()]
    assert checked.stdout.count(": OK") == len(files) - 1


def test_the_document_keeps_to_its_published_schema(unpacked: Path) -> None:
    """JSON Schema 2020-12, by the reference validator of the registry."""
    schema = json.loads((unpacked / "session.schema.json").read_text())
    assert schema == json.loads(schema_json())
    validator = jsonschema.Draft202012Validator
    validator.check_schema(schema)
    document = json.loads((unpacked / "session.json").read_text())
    validator(schema).validate(document)
    document["passes"][0]["steps"][0]["settings"][0]["position"] = 1.5
    assert not validator(schema).is_valid(document)


def test_the_pdf_and_the_page_are_what_they_say(unpacked: Path) -> None:
    assert (unpacked / "session log.pdf").read_bytes().startswith(b"%PDF-")
    assert "Boathouse" in (unpacked / "index.html").read_text()
    assert "http" not in (unpacked / "index.html").read_text().replace("http://www.w3.org", "")
