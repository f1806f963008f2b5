"""The house keeps its arrows, and the server stays small."""

import importlib
import json
import pkgutil
import subprocess
import sys
from pathlib import Path

import pytest
from small_session import SmallSession

import app
from app.config import ROOT

HEAVY = {"numpy", "scipy", "soundfile", "soxr", "typst", "pillow_heif"}

SERVED = """
import json, sys
from pathlib import Path
from starlette.testclient import TestClient
from app.config import Settings
from app.library import Library
from app.web.app import create_app

library = Library.open(Path(sys.argv[1]))
app = create_app(library, Settings(library=library.folder))
client = TestClient(app, base_url="http://127.0.0.1:8427", client=("127.0.0.1", 50_000))
for path in sys.argv[2:]:
    assert client.get(path).status_code == 200, path
print(json.dumps(sorted({name.split(".")[0] for name in sys.modules})))
"""


def test_arrows_run_one_way() -> None:
    linted = subprocess.run(
        [sys.executable, "-c", "from importlinter.cli import lint_imports_command; lint_imports_command()"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert linted.returncode == 0, linted.stdout


def test_the_server_never_loads_what_only_measuring_needs(
    filled_folder: tuple[Path, SmallSession], tmp_path: Path
) -> None:
    import shutil

    folder, session = filled_folder
    shutil.copytree(folder, tmp_path / "library")
    first, second, _ = session.passes
    pages = [
        "/projects",
        f"/projects/{session.project}",
        f"/projects/{session.project}/log",
        f"/projects/{session.project}/log.csv",
        f"/sources/{session.bass}",
        f"/sources/{session.bass}/passes/new",
        f"/passes/{first}",
        f"/passes/{first}/recall",
        f"/compare?pass={first}&pass={second}",
        f"/gear/{session.amp}",
        "/find?q=fuzz",
    ]
    served = subprocess.run(
        [sys.executable, "-c", SERVED, str(tmp_path / "library"), *pages],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert served.returncode == 0, served.stderr
    loaded = set(json.loads(served.stdout))
    assert {"fastapi", "sqlmodel", "jinja2"} <= loaded, "the server did run"
    assert loaded & HEAVY == set()
    assert "alembic" not in loaded, "a library that is up to date opens without it"


@pytest.mark.parametrize("room", ["app.trade", "app.signal.figures", "app.drawings"])
def test_a_room_of_plain_values_loads_nothing_heavy(room: str) -> None:
    module = importlib.import_module(room)
    names = [room]
    if hasattr(module, "__path__"):
        names += [found.name for found in pkgutil.walk_packages(module.__path__, f"{room}.")]
    code = f"import sys; [__import__(name) for name in {names!r}]; print(*sys.modules)"
    loaded = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout.split()
    assert {name.split(".")[0] for name in loaded} & (HEAVY | {"fastapi", "sqlalchemy", "jinja2"}) == set()


def test_every_module_says_what_it_is_for() -> None:
    """Records excepted: a table's class says it."""
    silent = []
    for path in Path(app.__file__ or "").parent.rglob("*.py"):
        text = path.read_text(encoding="utf-8")
        if text.strip() and "records" not in path.parts and not text.startswith('"""'):
            silent.append(path.name)
    assert silent == []


def test_tables_are_written_by_the_desk_alone() -> None:
    """A page that writes would own a transaction."""
    for path in (ROOT / "app" / "web").rglob("*.py"):
        assert ".writing()" not in path.read_text(encoding="utf-8"), path.name
