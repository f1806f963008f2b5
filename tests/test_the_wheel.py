"""What people install: one package with all that the house needs inside, which runs from any folder."""

import json
import os
import re
import signal
import subprocess
import sys
import zipfile
from pathlib import Path

import machine
import pytest
from running_server import get
from small_session import tone

from app.config import ROOT

IN_THE_WAY = ("PYTHONPATH", "VIRTUAL_ENV", "UV_RUN_RECURSION_DEPTH", "DIALBACK_LIBRARY")
OUTSIDE = {name: value for name, value in os.environ.items() if name not in IN_THE_WAY}


def uv(*arguments: str | Path, cwd: Path) -> None:
    done = subprocess.run(
        [machine.UV, *map(str, arguments)], cwd=cwd, env=OUTSIDE, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    uv("build", "--quiet", "--wheel", "--out-dir", folder, ROOT, cwd=folder)
    (built,) = folder.glob("*.whl")
    return built


@pytest.fixture(scope="module")
def installed(wheel: Path) -> Path:
    """The folder of the programs of a fresh environment with the wheel, and what it needs linked from uv's cache."""
    environment = wheel.parent / "environment"
    uv("venv", "--quiet", "--python", sys.executable, environment, cwd=wheel.parent)
    python = environment / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
    uv("pip", "install", "--quiet", "--python", python, wheel, cwd=wheel.parent)
    return python.parent


def test_the_wheel_puts_one_name_among_the_packages(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as packed:
        names = packed.namelist()
    tops = {name.split("/")[0] for name in names}
    assert {top for top in tops if not top.endswith(".dist-info")} == {"dialback"}
    assert len(tops) == 2
    kept = {
        path.relative_to(ROOT).as_posix()
        for room in ("templates", "static", "migrations")
        for path in (ROOT / room).rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }
    assert {f"dialback/{name}" for name in kept} - set(names) == set()


def test_the_installed_demo_answers_from_another_folder(installed: Path, tmp_path: Path) -> None:
    process = subprocess.Popen(
        [installed / "dialback", "demo", "--no-browser", "--port", "0"],
        cwd=tmp_path,
        env=OUTSIDE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None
    assert process.stderr is not None
    try:
        address = next(
            (line.split()[3] for line in process.stdout if line.startswith("Dialback is at")), None
        )
        assert address is not None, process.stderr.read()
        status, page = get(f"{address}/projects")
        assert status == 200
        assert "Low Water Ledger" in page
        styles = re.findall(r'href="(/static/[^"]+\.css[^"]*)"', page)
        assert styles
        assert get(f"{address}{styles[0]}")[0] == 200
        process.send_signal(signal.SIGINT)
        assert process.wait(timeout=30) == 0
    finally:
        process.kill()
        process.communicate()


def test_the_installed_command_measures(installed: Path, tmp_path: Path) -> None:
    (tmp_path / "tone.wav").write_bytes(tone(1.0))
    done = subprocess.run(
        [installed / "dialback", "measure", "tone.wav", "--json"],
        cwd=tmp_path,
        env=OUTSIDE,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)["file"]["frames"] == 48_000
