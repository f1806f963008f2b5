from page_reader import field, filled_in, form_of, page_of, texts
from small_session import SmallSession
from starlette.testclient import TestClient

from app.desk.passes import drafts
from app.library import Library


def test_a_note_is_kept_from_the_pass_the_time_line_and_the_pass_form(
    filled_client: TestClient, filled: Library, session: SmallSession
) -> None:
    first = session.passes[0]
    assert filled_client.post(f"/passes/{first}/notes", data={"words": "warm", "private": "yes"}).is_redirect
    assert filled_client.post(f"/projects/{session.project}/notes", data={"words": "high tide"}).is_redirect
    action = f"/sources/{session.bass}/passes"
    page = page_of(filled_client.get(f"{action}/new"))
    typed = filled_in(form_of(page, action)) | {"title": "half typed", "note-words": "lamp out", "do": "note"}
    again = page_of(filled_client.post(action, data=typed))
    assert field(again, "Title").get("value") == "half typed"
    line = page_of(filled_client.get(f"/projects/{session.project}/timeline"))
    said = texts(line, "//li[contains(@class, 'moment')]//p")
    assert [words for words in said if words in ("warm", "high tide", "lamp out")] == [
        "warm",
        "high tide",
        "lamp out",
    ]
    assert "stays here" in line.text_content()
    assert "lamp out" in page_of(filled_client.get(f"/projects/{session.project}/log")).text_content()


def test_an_empty_note_is_said_at_its_field(filled_client: TestClient, session: SmallSession) -> None:
    for address in (f"/passes/{session.passes[0]}/notes", f"/projects/{session.project}/notes"):
        answer = filled_client.post(address, data={"words": " "})
        assert answer.status_code == 422
        assert "The note is empty" in page_of(answer).text_content()


def test_a_rating_shows_on_the_pass_the_ledger_and_the_recall_sheet(
    filled_client: TestClient, session: SmallSession
) -> None:
    first = session.passes[0]
    filled_client.post(f"/passes/{first}/rating", data={"rating": "4", "tags": "woolly, late"})
    for address in (f"/passes/{first}", f"/sources/{session.bass}", f"/passes/{first}/recall"):
        assert "4 of 5 late, woolly" in page_of(filled_client.get(address)).text_content(), address
    refused = filled_client.post(f"/passes/{first}/rating", data={"rating": "9", "tags": "kept as typed"})
    assert refused.status_code == 422
    assert field(page_of(refused), "Tags").get("value") == "kept as typed"


def test_what_is_not_saved_is_told_on_the_project_and_the_source(
    filled_client: TestClient, filled: Library, session: SmallSession
) -> None:
    drafts.jot(filled, session.draft, "", {"title": "later"})
    page = page_of(filled_client.get(f"/projects/{session.project}"))
    told = page.xpath("//p[contains(@class, 'unsaved')]/a")
    assert [link.text for link in told] == ["Pass 4 of bass DI", "The recall of pass 1 of bass DI"]
    assert filled_client.get(told[0].get("href")).status_code == 200
    source = page_of(filled_client.get(f"/sources/{session.bass}"))
    assert source.xpath("//input[@name='title']/@value") == ["later"], "it stands there as the open column"
    assert source.xpath("//p[contains(@class, 'unsaved')]") == []


def test_a_pass_can_be_tried_on_the_other_source_and_begun_from_any(
    filled_client: TestClient, session: SmallSession
) -> None:
    links = page_of(filled_client.get(f"/passes/{session.passes[0]}")).xpath("//main//a/@href")
    assert f"/sources/{session.organ}/passes/new?like={session.passes[0]}" in links
    ledger = page_of(filled_client.get(f"/sources/{session.bass}")).xpath("//main//a/@href")
    assert f"/sources/{session.bass}/passes/new?like={session.passes[1]}" in ledger
