"""What was found about a print is one list: every page, sheet and search shows all of it."""

import io
import zipfile
from dataclasses import replace

import pytest
from fastapi.testclient import TestClient
from pypdf import PdfReader
from small_session import attach, bring_in, figures, measured, tone

from app.desk.measuring import findings
from app.desk.passes.pass_sheets import read_pass
from app.desk.passes.passes import PassEntry, log_pass
from app.desk.prints.delays import say_delay
from app.desk.projects import projects
from app.desk.projects.projects import ProjectEntry
from app.library import Library
from app.signal.figures import AlignmentFigures, Between, PrintFigures


def everything() -> tuple[PrintFigures, ...]:
    """Prints that have between them every finding that figures can give."""
    made = figures(clipped=(63.4, 70.0), ends_early_s=4.2)
    faults = replace(made.faults, starts_late_s=1.5)
    one = replace(
        made,
        source=replace(made.file, sample_rate=44_100),
        level=replace(made.level, dc_offset=0.02),
        faults=faults,
        alignment=AlignmentFigures(
            *(37.0, 0.77, "inverted", 0.97, 12.0, True),
            between=(Between(7.0, "lost", 144_000, "", True), Between(9.0, "lost", 128, "")),
        ),
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
    unsure = replace(made, alignment=AlignmentFigures(None, None, "unclear", 0.0, None, None))
    return one, other, unsure


@pytest.fixture
def found(library: Library) -> tuple[int, int, list[int]]:
    """A project with a source, a pass for each of the prints, and a last one that has the first one's file once more,
    and the source's own."""
    project = projects.create_project(library, ProjectEntry("Boathouse", "", "48000", ""))
    source = bring_in(library, project, "bass", tone())
    measured(library, figures(aligned=False))
    passes = []
    for made, hz in zip(everything(), (330.0, 440.0, 550.0), strict=True):
        passes.append(log_pass(library, source, PassEntry()))
        attach(library, passes[-1], tone(hz=hz))
        measured(library, made)
    passes.append(log_pass(library, source, PassEntry()))
    attach(library, passes[-1], tone(hz=330.0))
    attach(library, passes[-1], tone())
    measured(library, figures())
    say_delay(library, read_pass(library, passes[2]).prints[0].print_id, "-12.5")
    return project, source, passes


SAID = findings.by_hand(-12.5)
OF_FILES = [findings.of_another_pass(4, ""), findings.of_another_pass(1, ""), findings.of_the_source_itself()]
SENTENCES = [
    finding.sentence for found in (*map(findings.find, everything()), OF_FILES, [SAID]) for finding in found
]


def test_every_kind_that_figures_can_give_is_tried() -> None:
    kinds = {finding.kind for made in everything() for finding in findings.find(made)}
    assert kinds | {finding.kind for finding in (*OF_FILES, SAID)} == set(findings.WORDS)


def test_every_page_and_sheet_names_every_finding(
    client: TestClient, found: tuple[int, int, list[int]]
) -> None:
    project, source, passes = found
    views = {
        "ledger": client.get(f"/sources/{source}").text,
        "compare": client.get("/compare?" + "&".join(f"pass={one}" for one in passes)).text,
        "pass": "".join(client.get(f"/passes/{one}").text for one in passes),
        "recall sheet": "".join(client.get(f"/passes/{one}/recall").text for one in passes),
        "session log": client.get(f"/projects/{project}/log").text,
        "CSV": client.get(f"/projects/{project}/log.csv").text,
        "PDF": _words_of(client.get(f"/projects/{project}/log.pdf").content),
        "recall PDF": "".join(_words_of(client.get(f"/passes/{one}/recall.pdf").content) for one in passes),
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
        ("edited", 0),
        ("DC", 0),
        ("gap", 0),
        ("silent", 1),
        ("foreign", 1),
        ("unclear", 2),
        ("twice", 0),
        ("placed", 2),
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


def test_a_source_at_another_rate_than_its_project_says_so(client: TestClient, library: Library) -> None:
    project = projects.create_project(library, ProjectEntry("Boathouse", "", "96000", ""))
    source = bring_in(library, project, "bass", tone())
    measured(library, figures(aligned=False))
    for path in (f"/sources/{source}", f"/sources/{source}/measures"):
        assert "is at 48 kHz, the project at 96 kHz" in client.get(path).text


def _plain(words: str) -> str:
    """Without what a line's end or a page's language changes."""
    return "".join(words.replace("&#39;", "'").replace("\u00ad", "").replace("-", "").split())


def _words_of(pdf: bytes) -> str:
    return "".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages)


def _offline_page(bundle: bytes) -> str:
    with zipfile.ZipFile(io.BytesIO(bundle)) as archive:
        return archive.read(next(name for name in archive.namelist() if name.endswith(".html"))).decode()
