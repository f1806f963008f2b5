"""What was found about a print is one list: every page, sheet and search shows all of it."""

import io
import zipfile
from dataclasses import replace

import pytest
from fastapi.testclient import TestClient
from pypdf import PdfReader
from small_session import attach, bring_in, figures, measured, tone

from app.desk.measuring import findings
from app.desk.passes.passes import PassEntry, log_pass
from app.desk.projects import projects
from app.desk.projects.projects import ProjectEntry
from app.library import Library
from app.signal.figures import AlignmentFigures, PrintFigures


def everything() -> tuple[PrintFigures, PrintFigures]:
    """Two prints that have between them every finding that figures can give."""
    made = figures(clipped=(63.4, 70.0), ends_early_s=4.2)
    faults = replace(made.faults, starts_late_s=1.5)
    one = replace(
        made,
        source=replace(made.file, sample_rate=44_100),
        level=replace(made.level, dc_offset=0.02),
        faults=faults,
        alignment=AlignmentFigures(37.0, 0.77, "inverted", 0.97, 12.0, True),
    )
    silent = replace(
        made.faults,
        silent=True,
        clipped_runs=(),
        dropouts=(),
        hum=None,
        ends_early_s=None,
        channels="one silent",
    )
    other = replace(made, faults=silent, alignment=AlignmentFigures(None, None, "unclear", 0.1, None, False))
    return one, other


@pytest.fixture
def found(library: Library) -> tuple[int, int, list[int]]:
    """A project with a source of two passes, each with one of the prints."""
    project = projects.create_project(library, ProjectEntry("Boathouse", "", "48000", ""))
    source = bring_in(library, project, "bass", tone())
    measured(library, figures(aligned=False))
    passes = []
    for made, hz in zip(everything(), (330.0, 440.0), strict=True):
        passes.append(log_pass(library, source, PassEntry()))
        attach(library, passes[-1], tone(hz=hz))
        measured(library, made)
    return project, source, passes


SENTENCES = [finding.sentence for made in everything() for finding in findings.find(made)]


def test_every_kind_that_figures_can_give_is_tried() -> None:
    kinds = {finding.kind for made in everything() for finding in findings.find(made)}
    assert kinds == set(findings.WORDS)


def test_every_page_and_sheet_names_every_finding(
    client: TestClient, found: tuple[int, int, list[int]]
) -> None:
    project, source, (first, second) = found
    views = {
        "ledger": client.get(f"/sources/{source}").text,
        "compare": client.get(f"/compare?pass={first}&pass={second}").text,
        "pass": client.get(f"/passes/{first}").text + client.get(f"/passes/{second}").text,
        "recall sheet": client.get(f"/passes/{first}/recall").text
        + client.get(f"/passes/{second}/recall").text,
        "session log": client.get(f"/projects/{project}/log").text,
        "CSV": client.get(f"/projects/{project}/log.csv").text,
        "PDF": _words_of(client.get(f"/projects/{project}/log.pdf").content),
        "recall PDF": "".join(
            _words_of(client.get(f"/passes/{one}/recall.pdf").content) for one in (first, second)
        ),
        "bundle": _offline_page(client.post(f"/projects/{project}/hand-on", data={"audio": "all"}).content),
    }
    lacking = {
        name: missing
        for name, words in views.items()
        if (missing := [sentence for sentence in SENTENCES if _plain(sentence) not in _plain(words)])
    }
    assert not lacking


@pytest.mark.parametrize(
    ("word", "which"),
    [
        ("hum", 0),
        ("clipped", 0),
        ("late", 0),
        ("early", 0),
        ("inverted", 0),
        ("drift", 0),
        ("DC", 0),
        ("gap", 0),
        ("silent", 1),
        ("foreign", 1),
    ],
)
def test_a_word_for_a_finding_finds_the_passes_whose_prints_have_it(
    client: TestClient, found: tuple[int, int, list[int]], word: str, which: int
) -> None:
    _, _, passes = found
    page = client.get(f"/find?q={word}").text
    assert f'href="/passes/{passes[which]}"' in page
    assert f'href="/passes/{passes[1 - which]}"' not in page or word == "late"
    assert "finding of a print" in page


def _plain(words: str) -> str:
    """Without what a line's end or a page's language changes."""
    return "".join(words.replace("&#39;", "'").replace("\u00ad", "").replace("-", "").split())


def _words_of(pdf: bytes) -> str:
    return "".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages)


def _offline_page(bundle: bytes) -> str:
    with zipfile.ZipFile(io.BytesIO(bundle)) as archive:
        return archive.read(next(name for name in archive.namelist() if name.endswith(".html"))).decode()
