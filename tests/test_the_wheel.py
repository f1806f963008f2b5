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
from kept_between_runs import kept
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


def python_of(environment: Path) -> Path:
    return environment / ("Scripts/python.exe" if os.name == "nt" else "bin/python")


@pytest.fixture(scope="module")
def installed(wheel: Path) -> Path:
    """The folder of the programs of a fresh environment with the wheel. What the wheel needs is in another, kept between runs
    with what Python compiled of it."""

    def with_what_it_needs(folder: Path) -> None:
        uv("venv", "--quiet", "--python", sys.executable, folder / "environment", cwd=folder)
        python = python_of(folder / "environment")
        uv("pip", "install", "--quiet", "--python", python, "-r", ROOT / "pyproject.toml", cwd=folder)

    needed = kept("what the wheel needs", [ROOT / "pyproject.toml"], with_what_it_needs) / "environment"
    environment = wheel.parent / "environment"
    uv("venv", "--quiet", "--python", sys.executable, environment, cwd=wheel.parent)
    python = python_of(environment)
    uv("pip", "install", "--quiet", "--no-deps", "--python", python, wheel, cwd=wheel.parent)
    (packages,) = environment.rglob("site-packages")
    (others,) = needed.rglob("site-packages")
    (packages / "what it needs.pth").write_text(f"{others}\n")
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
