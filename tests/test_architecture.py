"""The house keeps its arrows, and the server stays small."""

import ast
import importlib
import json
import pkgutil
import re
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest
from small_session import SmallSession

import app
from app.config import ROOT

HEAVY = {"numpy", "scipy", "soundfile", "soxr", "typst", "pillow_heif", "cv2"}

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


CALLED_BY_NAME_ELSEWHERE = {
    "process_bind_param": "SQLAlchemy asks a type for it",
    "process_result_value": "SQLAlchemy asks a type for it",
}
SEEN_IN_ITSELF = 10
"""What is named more often than this is named by others as well."""


def test_nothing_is_there_for_tests_alone() -> None:
    """What only a test calls is not tried by its use: it goes, or the test's own code does it. A route is called by its
    address, so what has a decorator is left out, unless it only keeps or shapes."""
    app_folder = Path(app.__file__ or "").parent
    trees = [ast.parse(path.read_text(encoding="utf-8")) for path in app_folder.rglob("*.py")]
    named = Counter(name for tree in trees for name in _names_in(tree))
    for template in (ROOT / "templates").rglob("*.html"):
        named.update(re.findall(r"\w+", template.read_text(encoding="utf-8")))
    defined = [definition for tree in trees for definition in _defined_in(tree)]
    unused = [
        name
        for name, node in defined
        if name not in CALLED_BY_NAME_ELSEWHERE
        and named[name] <= SEEN_IN_ITSELF
        and named[name] == list(_names_in(node)).count(name)
    ]
    assert unused == []
    assert set(CALLED_BY_NAME_ELSEWHERE) <= {name for name, _ in defined}


def _names_in(tree: ast.AST) -> Iterator[str]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Name):
            yield node.id
        elif isinstance(node, ast.Attribute):
            yield node.attr


def _defined_in(module: ast.Module) -> Iterator[tuple[str, ast.AST]]:
    """What a module and its classes define, and where."""
    bodies = [module.body, *(node.body for node in module.body if isinstance(node, ast.ClassDef))]
    for body in bodies:
        for node in body:
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
                keeps = all(
                    re.search("cache|dataclass|property", ast.unparse(d)) for d in node.decorator_list
                )
                if keeps and not node.name.startswith("__"):
                    yield node.name, node
            elif body is module.body and isinstance(node, ast.Assign | ast.AnnAssign):
                for target in node.targets if isinstance(node, ast.Assign) else [node.target]:
                    if isinstance(target, ast.Name):
                        yield target.id, node


def test_tables_are_written_by_the_desk_alone() -> None:
    """A page that writes would own a transaction."""
    for path in (ROOT / "app" / "web").rglob("*.py"):
        assert ".writing()" not in path.read_text(encoding="utf-8"), path.name


def unreasoned_numbers(text: str) -> list[str]:
    """Numeric constants of a module that neither a comment on their line, nor one at the head of the block of lines they stand
    in, nor a docstring directly below says anything about."""
    lines = text.splitlines()
    body = ast.parse(text).body
    unreasoned = []
    for place, statement in enumerate(body):
        if not isinstance(statement, ast.Assign | ast.AnnAssign) or statement.value is None:
            continue
        numbers = [
            part
            for part in ast.walk(statement.value)
            if isinstance(part, ast.Constant) and type(part.value) in (int, float)
        ]
        target = statement.targets[0] if isinstance(statement, ast.Assign) else statement.target
        names = [part.id for part in ast.walk(target) if isinstance(part, ast.Name) and part.id.isupper()]
        if not numbers or not names:
            continue
        below = body[place + 1] if place + 1 < len(body) else None
        told_below = (
            isinstance(below, ast.Expr)
            and isinstance(below.value, ast.Constant)
            and isinstance(below.value.value, str)
            and below.lineno == (statement.end_lineno or 0) + 1
        )
        head = statement.lineno - 1
        while head > 0 and lines[head - 1].strip():
            head -= 1
        own = lines[statement.lineno - 1 : statement.end_lineno]
        told_above = lines[head].startswith("# ") and not lines[head].startswith("# fmt")
        if not (told_below or told_above or any("  # " in line for line in own)):
            unreasoned += names
    return unreasoned


def test_every_number_of_the_measuring_room_says_where_it_comes_from() -> None:
    """That the words are there; whether they are true is for whoever reads them."""
    unreasoned = {
        path.relative_to(ROOT / "app/signal").as_posix(): names
        for path in sorted((ROOT / "app/signal").rglob("*.py"))
        if (names := unreasoned_numbers(path.read_text(encoding="utf-8")))
    }
    assert unreasoned == {}


@pytest.mark.parametrize(
    ("text", "unreasoned"),
    [
        ("A = 1\n", ["A"]),
        ("A, B = 1, -2.5\n", ["A", "B"]),
        ("A = 10 ** (-90 / 20)\n", ["A"]),
        ("A = 1  # a standard's\n", []),
        ('A = 1\n"""A standard\'s."""\n', []),
        ('A = 1\n\n"""Of something else."""\n', ["A"]),
        ('A = 1\nB = 2\n"""Of this alone."""\n', ["A"]),
        ("# By eye.\nA = 1\nB = 2\n\nC = 3\n", ["C"]),
        ("# fmt: off\nA = (\n    1,\n)\n", ["A"]),
        ('NAMES = ("one", "two")\nkind = 2\n', []),
    ],
)
def test_a_number_without_words_is_seen(text: str, unreasoned: list[str]) -> None:
    assert unreasoned_numbers(text) == unreasoned
