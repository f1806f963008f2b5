"""`dialback read-photo`: the contract that others may build on."""

import json
import subprocess
import sys
from pathlib import Path

import pytest
from jsonschema import validate

from app.cli import main
from app.config import ROOT
from tests.panels.conftest import Pictures

COMMAND = "from app.cli import main; main()"
ANSWER = {
    "type": "object",
    "required": ["panel_found", "inliers", "controls", "reasons"],
    "properties": {
        "panel_found": {"type": "boolean"},
        "inliers": {"type": "integer"},
        "reasons": {"type": "array", "items": {"type": "string"}},
        "controls": {
            "type": "array",
            "items": {
                "type": "object",
                "required": ["key", "state", "degrees", "sigma_degrees", "position", "confidence"],
                "properties": {
                    "state": {"enum": ["read", "look", "unseen"]},
                    "degrees": {"type": ["number", "null"]},
                    "sigma_degrees": {"type": ["number", "null"]},
                    "position": {"type": ["number", "null"]},
                    "confidence": {"type": "number", "minimum": 0, "maximum": 1},
                },
            },
        },
    },
}


def _dialback(*arguments: str | Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", COMMAND, *map(str, arguments)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )


def test_it_prints_one_document(pictures: Pictures) -> None:
    done = _dialback(
        "read-photo", pictures.folder / "ordinary.jpg", "--panel", pictures.labelled.description, "--json"
    )
    assert done.returncode == 0, done.stderr
    document = json.loads(done.stdout)
    validate(document, ANSWER)
    assert document["panel_found"]
    kinds = {body.key: body.kind for body in pictures.labelled.panel.bodies}
    for control in document["controls"]:
        assert (control["degrees"] is not None) == (kinds[control["key"]] == "knob")


def test_what_cannot_be_done_is_a_sentence_with_exit_code_1(
    pictures: Pictures, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def ended_with(*arguments: str | Path) -> tuple[object, str, str]:
        monkeypatch.setattr(sys, "argv", ["dialback", "read-photo", *map(str, arguments)])
        with pytest.raises(SystemExit) as ended:
            main()
        return ended.value.code, *capsys.readouterr()

    panel = pictures.labelled.description
    code, said, told = ended_with(tmp_path / "lost.jpg", "--panel", panel)
    assert (code, said) == (1, "")
    assert "lost.jpg cannot be read" in told
    (tmp_path / "panel.json").write_text("{}")
    code, said, told = ended_with(
        pictures.folder / "ordinary.jpg", "--panel", tmp_path / "panel.json", "--json"
    )
    assert (code, said) == (1, "")
    assert "has no photos" in told
    assert ended_with(pictures.folder / "ordinary.jpg")[0] == 2
