"""One name for one thing: what pages, scripts, sentences and the guide no longer call it."""

import ast
import re
from collections.abc import Iterator

import pytest

from app.config import ROOT

OLD = {
    "Reload": r"[Ll]ook again|[Rr]efresh\b|[Ss]how anew",
    "Recording folder": r"[Ww]atched folder|[Pp]rint folder",
    "Save": r"<button[^>]*>\s*Keep\s*<|[Kk]eep (this|the) (chain|blend|hook-up|name)|[Kk]eep these",
    "Remove or Undo": r"[Tt]ake (it |this )?back\b|[Pp]ut it back\b",
    "Rating and tags": r"\b[Ss]tars\b|[Mm]arks out of",
    "Accepted, because…": r"Dismissed|[Ss]et aside because",
    "Ignored files": r"[Ll]eft alone</a>|[Ff]iles left\b|[Ll]eft files",
    "Next pass from this": r"[Nn]ext (pass )?like this|[Nn]ew pass from|[Ll]og the next|[Aa]nother like",
    "Export session, Import session": r"[Hh]and(ed)? on\b(?! to)|[Mm]ake the bundle|[Bb]ring in (a |the )?session",
    "Matched for listening": r"made fair|[Ff]airness<|matched in level",
    "Blind results": r"[Bb]lind log\b",
    "Reveal": r"[Uu]nveil|[Ss]how (the|their) names",
    "Listening to": r"Heard, all|[Hh]eard now\b",
    "Check by sound": r"[Pp]roof by|[Tt]est by ear",
    "Delay": r"\b[Ll]ateness\b",
    "Crest factor": r"\b[Cc]rest\b(?!\s+factor)",
    "fader at 0 dB, at minimum gain": r"\bat nothing\b|fader at nought",
    "no sign of nothing": r"\+0(\.0)? dB",
    "1 kHz": r"\b1000 Hz|\b1\.0 kHz",
}


def sentences() -> Iterator[tuple[str, str]]:
    """What a person may read, with where it stands. Names of fields and rows are no sentences, but do no harm here."""
    for path in sorted((ROOT / "templates").rglob("*.html")):
        without_notes = re.sub(r"\{#.*?#\}", "", path.read_text(), flags=re.DOTALL)
        yield (
            str(path.relative_to(ROOT)),
            re.sub(r"\{[{%].*?[%}]\}", _said_in, without_notes, flags=re.DOTALL),
        )
    for path in sorted((ROOT / "static").rglob("*.js")):
        if "vendor" not in path.parts:
            words = re.findall(
                r"\"[^\"\n]+\"|`[^`]+`", re.sub(r"(?m)(^|\s)//.*$|/\*.*?\*/", "", path.read_text())
            )
            yield str(path.relative_to(ROOT)), "\n".join(words)
    yield "README.md", (ROOT / "README.md").read_text()
    for path in sorted((ROOT / "app").rglob("*.py")):
        yield str(path.relative_to(ROOT)), "\n".join(_strings(ast.parse(path.read_text())))


def _said_in(expression: re.Match[str]) -> str:
    return " ".join(re.findall(r"\"[^\"]* [^\"]*\"", expression[0]))


def _strings(module: ast.Module) -> Iterator[str]:
    """Strings of two words and more that are no docstrings."""
    said = {id(node.value) for node in ast.walk(module) if isinstance(node, ast.Expr)}
    for node in ast.walk(module):
        if isinstance(node, ast.Constant) and id(node) not in said and " " in str(node.value):
            yield str(node.value)


@pytest.fixture(scope="module")
def written() -> list[tuple[str, str]]:
    return list(sentences())


@pytest.mark.parametrize("name", OLD)
def test_a_thing_has_one_name(written: list[tuple[str, str]], name: str) -> None:
    old = re.compile(OLD[name])
    found = {where: said[0] for where, words in written if (said := old.search(words))}
    assert found == {}, name


def test_every_old_word_would_be_found() -> None:
    said = "Look again. Watched folders. Keep this chain. Take back. 4 stars. Dismissed. Files left. Next like this. Hand on. "
    said += "made fair. Blind log. Unveil. Heard now. Proof by. Lateness. The crest. at nothing. +0.0 dB. 1000 Hz."
    assert [name for name, old in OLD.items() if not re.search(old, said)] == []
