"""The first pass of a source: where its chain comes from, how to begin without it, and gear made on the way."""

import pytest
from page_reader import filled_in, form_of, page_of, text_of, texts
from small_session import SmallSession
from starlette.testclient import TestClient

from app.desk.passes import drafts
from app.desk.shelf.gear import list_gear
from app.library import Library


def test_a_first_column_says_of_which_pass_it_is_a_copy_and_can_begin_empty(
    filled_client: TestClient, filled: Library, session: SmallSession
) -> None:
    here = f"/sources/{session.organ}?column=open"
    head = page_of(filled_client.get(here)).xpath("//*[@id='open-head']")[0]
    assert "As bass DI, pass 3." in text_of(head)
    assert head.xpath(f".//a[@href='/passes/{session.passes[2]}']")
    draft = drafts.open_draft(filled, session.organ)
    drafts.jot(filled, draft.draft_id, "", {"title": "organ, first"})
    assert filled_client.post(f"/drafts/{draft.draft_id}/changes", data={"do": "empty"}).status_code == 200
    entry = drafts.read_draft(filled, draft.draft_id).entry
    assert (entry.title, entry.steps, entry.like, entry.hook_up, entry.levels) == (
        "organ, first",
        (),
        0,
        "",
        "",
    )
    emptied = page_of(filled_client.get(here))
    assert "bass DI" not in text_of(emptied.xpath("//*[@id='open-head']")[0])
    assert emptied.xpath("//*[@id='chain-line']")
    drafts.undo(filled, draft.draft_id)
    assert drafts.read_draft(filled, draft.draft_id).entry.steps == draft.entry.steps


def test_the_form_of_a_first_pass_says_so_too(
    filled_client: TestClient, filled: Library, session: SmallSession
) -> None:
    action = f"/sources/{session.organ}/passes"
    page = page_of(filled_client.get(f"{action}/new"))
    assert "The chain is as bass DI, pass 3." in page.text_content()
    emptied = page_of(filled_client.post(action, data=filled_in(form_of(page, action)) | {"do": "empty"}))
    assert "The chain is as" not in emptied.text_content()
    assert not drafts.open_draft(filled, session.organ).entry.steps


def test_a_pass_like_an_earlier_one_of_its_own_source_says_nothing_of_another(
    filled_client: TestClient, session: SmallSession
) -> None:
    page = page_of(filled_client.get(f"/sources/{session.bass}?column=open"))
    assert not page.xpath("//*[@id='open-head']//button[@value='empty']")


@pytest.mark.parametrize("at", ["column", "form"])
def test_gear_made_on_the_way_stands_in_the_chain_one_came_from(
    filled_client: TestClient, filled: Library, session: SmallSession, at: str
) -> None:
    draft = drafts.open_draft(filled, session.organ)
    back = f"/sources/{session.organ}" + ("?column=open" if at == "column" else "/passes/new")
    if at == "column":
        links = page_of(filled_client.get(back)).xpath("//a[starts-with(@href, '/gear/new')]/@href")
    else:
        action = f"/sources/{session.organ}/passes"
        fields = filled_in(form_of(page_of(filled_client.get(back)), action)) | {"title": "with a limiter"}
        links = [filled_client.post(action, data=fields | {"do": "gear"}).headers["location"]]
        assert drafts.read_draft(filled, draft.draft_id).entry.title == "with a limiter"
    start = page_of(filled_client.get(links[0]))
    page = page_of(filled_client.get(start.xpath("//a[contains(@href, 'start=fuzz')]/@href")[0]))
    assert back in page.xpath("//a[text()='Cancel']/@href")
    fields = filled_in(form_of(page, "/gear")) | {"name": "germanium fuzz"}
    refused = page_of(filled_client.post("/gear", data=fields | {"name": ""}))
    again = filled_in(form_of(refused, "/gear")) | {"name": "germanium fuzz"}
    assert filled_client.post("/gear", data=again).headers["location"] == back
    made = next(line.gear_id for line in list_gear(filled) if line.name == "germanium fuzz")
    assert made in [step.gear_id for step in drafts.read_draft(filled, draft.draft_id).entry.steps]


def test_gear_made_for_a_correction_stands_in_the_pass_that_is_edited(
    filled_client: TestClient, filled: Library, session: SmallSession
) -> None:
    pass_id = session.passes[0]
    draft = drafts.open_edit(filled, pass_id)
    page = page_of(filled_client.get(f"/gear/new?start=fuzz&into={draft.draft_id}"))
    fields = filled_in(form_of(page, "/gear")) | {"name": "germanium fuzz"}
    assert filled_client.post("/gear", data=fields).headers["location"] == f"/passes/{pass_id}/edit"
    assert "germanium fuzz" in " ".join(texts(page_of(filled_client.get(f"/passes/{pass_id}/edit")), "//h2"))


def test_gear_made_for_a_draft_that_is_gone_is_on_the_shelf(
    filled_client: TestClient, filled: Library, session: SmallSession
) -> None:
    draft = drafts.open_draft(filled, session.bass)
    page = page_of(filled_client.get(f"/gear/new?start=fuzz&into={draft.draft_id}"))
    drafts.save(filled, draft.draft_id)
    answer = filled_client.post("/gear", data=filled_in(form_of(page, "/gear")) | {"name": "germanium fuzz"})
    made = next(line.gear_id for line in list_gear(filled) if line.name == "germanium fuzz")
    assert answer.headers["location"] == f"/gear/{made}"
