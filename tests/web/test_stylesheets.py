"""The style sheets and scripts: nothing from elsewhere, and one design in both lights."""

import re
from pathlib import Path

import pytest

STATIC = Path(__file__).parents[2] / "static"
SHEETS = sorted(STATIC.glob("*.css"))
SCRIPTS = sorted(STATIC.glob("*.js"))


def rules_without_comments(sheet: Path) -> str:
    return re.sub(r"/\*.*?\*/", "", sheet.read_text(), flags=re.DOTALL)


def test_the_sheets_and_scripts_are_there() -> None:
    assert {"tokens.css", "base.css", "forms.css", "ledger.css", "drawings.css", "print.css"} <= {
        s.name for s in SHEETS
    }
    assert {"dial.js", "ledger.js", "upload.js"} <= {script.name for script in SCRIPTS}


@pytest.mark.parametrize("file", [*SHEETS, *SCRIPTS], ids=lambda file: file.name)
def test_nothing_is_fetched_from_anywhere_else(file: Path) -> None:
    text = file.read_text()
    assert "//" not in re.sub(r"^\s*//.*$|\s//\s.*$", "", text, flags=re.MULTILINE)
    for target in re.findall(r"url\(\"?([^)\"]+)", text):
        assert (STATIC / target).is_file()


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda sheet: sheet.name)
def test_every_colour_is_a_token(sheet: Path) -> None:
    if sheet.name not in ("tokens.css", "print.css"):
        assert not re.findall(r"#[0-9a-fA-F]{3,8}\b|\brgba?\(|\bhsla?\(", rules_without_comments(sheet))


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda sheet: sheet.name)
def test_no_colour_hangs_on_the_width(sheet: Path) -> None:
    """So contrast that is enough in one theme at one width is enough at any."""
    narrow = re.findall(
        r"@media \([^)]*width[^)]*\) \{(?:[^{}]|\{[^{}]*\})*\}", rules_without_comments(sheet)
    )
    for rules in narrow:
        assert not re.search(
            r"color|background|opacity|fill|stroke|filter|var\(--(ink|faint|accent|edge)", rules
        )


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda sheet: sheet.name)
def test_every_token_that_is_used_is_defined(sheet: Path) -> None:
    text = rules_without_comments(sheet)
    defined = set(re.findall(r"(--[\w-]+):", (STATIC / "tokens.css").read_text() + text))
    assert set(re.findall(r"var\((--[\w-]+)\)", text)) <= defined


def test_the_dim_room_is_the_same_by_choice_and_by_the_systems_wish() -> None:
    text = rules_without_comments(STATIC / "tokens.css")
    chosen = re.search(r':root\[data-theme="dim"\] \{(.*?)\}', text, re.DOTALL)
    wished = re.search(r':root:not\(\[data-theme="paper"\]\) \{(.*?)\}', text, re.DOTALL)
    assert chosen
    assert wished
    assert chosen[1].split() == wished[1].split()


def test_nothing_moves_for_who_asked_for_less_motion() -> None:
    for sheet in SHEETS:
        text = rules_without_comments(sheet)
        moving = re.sub(
            r"@media \(prefers-reduced-motion: no-preference\) \{(?:[^{}]|\{[^{}]*\})*\}", "", text
        )
        assert not re.search(r"\b(transition|animation|scroll-behavior)\b", moving)
