"""The page of a pass and of its photos: the head follows the prints, photos are of any piece, pins lead back."""

from page_reader import page_of, text_of, texts
from small_session import SmallSession, attach, bring_in, put_on_shelf, step_of, tone
from starlette.testclient import TestClient

from app.desk.passes import passes
from app.desk.passes.passes import PassEntry
from app.desk.projects import projects
from app.desk.projects.projects import ProjectEntry
from app.library import Library


def test_the_head_follows_when_a_print_comes_by_itself(client: TestClient, library: Library) -> None:
    source = bring_in(library, projects.create_project(library, ProjectEntry("Boathouse")), "bass DI")
    amp = put_on_shelf(library, "combo", "amp")
    pass_id = passes.log_pass(library, source, PassEntry(steps=(step_of(library, amp),)))
    assert "Aligned copies" not in text_of(
        page_of(client.get(f"/passes/{pass_id}")).get_element_by_id("pass-menu")
    )
    attach(library, pass_id, tone(0.5))
    part = page_of(client.get(f"/passes/{pass_id}/prints"))
    head = part.get_element_by_id("pass-menu")
    assert head.get("hx-swap-oob") == "true"
    assert "Aligned copies" in text_of(head)
    whole = page_of(client.get(f"/passes/{pass_id}")).get_element_by_id("pass-menu")
    assert whole.get("hx-swap-oob") is None
    assert text_of(whole) == text_of(head)


def test_a_photo_can_be_of_every_piece_of_the_chain(filled_client: TestClient, session: SmallSession) -> None:
    page = page_of(filled_client.get(f"/passes/{session.passes[0]}"))
    assert texts(page, "//select[@id='photo-step']/option") == [
        "the whole pass",
        "re-amp box",
        "silicon fuzz",
        "15-watt valve combo",
        "1×12 cabinet",
        "small ribbon microphone’s placement",
    ]


def test_pins_lead_back_to_the_pass_or_the_gear(filled_client: TestClient, session: SmallSession) -> None:
    said = set()
    for photo_id in session.photos:
        (back,) = page_of(filled_client.get(f"/photos/{photo_id}/pins")).xpath("//nav[@class='crumbs']//a")
        said.add((text_of(back), back.get("href").partition("#")[0]))
    assert ("Pass 1 of bass DI", f"/passes/{session.passes[0]}") in said
    assert "Photos" not in {words for words, _ in said}
