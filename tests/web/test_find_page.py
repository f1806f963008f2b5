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
