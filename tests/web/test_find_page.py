"""Find asks which scale is meant where a plain number could be read on two."""

from page_reader import page_of, text_of
from small_session import bring_in, put_on_shelf, step_of
from starlette.testclient import TestClient

from app.desk.passes import passes
from app.desk.passes.passes import PassEntry
from app.desk.projects import projects
from app.desk.projects.projects import ProjectEntry
from app.desk.shelf.control_entries import ControlEntry
from app.library import Library


def test_a_plain_number_is_asked_about_with_one_tap(client: TestClient, library: Library) -> None:
    source = bring_in(library, projects.create_project(library, ProjectEntry("Boathouse")), "bass DI")
    amp = put_on_shelf(library, "combo", "amp", ControlEntry(name="Gain"))
    in_db = ControlEntry(name="Gain", scale="range", low="0", high="60", unit="dB")
    preamp = put_on_shelf(library, "strip", "preamp", in_db)
    plain = passes.log_pass(library, source, PassEntry(steps=(step_of(library, amp, {"Gain": "6"}),)))
    logged = passes.log_pass(library, source, PassEntry(steps=(step_of(library, preamp, {"Gain": "40 dB"}),)))
    for asked in ("/find?q=gain+above+5", "/find?controls=gain+above+5"):
        page = page_of(client.get(asked))
        assert page.xpath(f"//main//a[@href='/passes/{plain}']")
        (other,) = page.xpath("//a[text()='gain above 5 dB']")
        assert "is read on scales without a unit" in text_of(other.getparent())
        answer = page_of(client.get(other.get("href")))
        assert answer.xpath(f"//main//a[@href='/passes/{logged}']")
        assert not answer.xpath(f"//main//a[@href='/passes/{plain}']")


def test_what_is_typed_as_one_jots_it_finds_where_a_control_stood(
    client: TestClient, library: Library
) -> None:
    source = bring_in(library, projects.create_project(library, ProjectEntry("Boathouse")), "bass DI")
    amp = put_on_shelf(library, "combo", "amp", ControlEntry(name="Gain"))
    logged, other = (
        passes.log_pass(library, source, PassEntry(steps=(step_of(library, amp, {"Gain": gain}),)))
        for gain in ("6", "2")
    )
    page = page_of(client.get("/find?q=gain+6"))
    assert page.xpath(f"//main//a[@href='/passes/{logged}']")
    assert not page.xpath(f"//main//a[@href='/passes/{other}']")
    assert "Read as facts: gain about 6" in text_of(page)
    assert "Nothing written" in text_of(page_of(client.get("/find?q=gain+6&plain=yes")))
    assert "Nothing written" in text_of(page_of(client.get("/find?q=verse+6")))


def test_words_that_are_written_somewhere_are_not_taken_for_settings(
    client: TestClient, library: Library
) -> None:
    source = bring_in(library, projects.create_project(library, ProjectEntry("Gain 6 nights")), "bass DI")
    amp = put_on_shelf(library, "combo", "amp", ControlEntry(name="Gain"))
    passes.log_pass(library, source, PassEntry(steps=(step_of(library, amp, {"Gain": "6"}),)))
    page = page_of(client.get("/find?q=gain+6"))
    assert page.xpath("//main//a[starts-with(@href, '/projects/')]")
    (offered,) = page.xpath("//a[text()='gain about 6']")
    assert page_of(client.get(offered.get("href"))).xpath("//main//a[starts-with(@href, '/passes/')]")
