"""Which microphone a print is of is said from the pass, the ledger and the inbox, each a form that works by itself."""

from dataclasses import replace

import pytest
from page_reader import filled_in, page_of, text_of, texts
from small_session import SmallSession, put_on_shelf, step_of, tone
from starlette.testclient import TestClient

from app.desk.passes import passes
from app.desk.passes.pass_sheets import read_pass
from app.library import Library


@pytest.fixture
def two_mics(filled: Library, session: SmallSession) -> int:
    room = put_on_shelf(filled, "room microphone", "microphone")
    entry = passes.entry_for_next(filled, session.bass)
    return passes.log_pass(filled, session.bass, replace(entry, steps=(*entry.steps, step_of(filled, room))))


def attach_two(client: TestClient, pass_id: int) -> None:
    audio = [("file", (f"Audio {at}.wav", tone(0.2, hz=390 + at), "audio/wav")) for at in (1, 2)]
    answer = client.post(f"/passes/{pass_id}/prints", data={"step_id": "", "label": ""}, files=audio)
    assert answer.headers["location"] == f"/passes/{pass_id}#prints"


@pytest.mark.parametrize(
    ("address", "form"),
    [
        ("/passes/{}", "//section[@id='prints']//form[contains(@class, 'notice')]"),
        ("/passes/{}/judge", "//form[contains(@action, '/microphones')]"),
    ],
)
def test_files_attached_at_once_have_a_row_each_to_say_their_microphone(
    filled: Library, filled_client: TestClient, two_mics: int, address: str, form: str
) -> None:
    attach_two(filled_client, two_mics)
    page = page_of(filled_client.get(address.format(two_mics)))
    (asked,) = page.xpath(form)
    assert len(asked.xpath(".//select")) == 2
    filled_client.post(asked.get("action"), data=filled_in(asked))
    assert [item.name for item in read_pass(filled, two_mics).prints] == [
        "small ribbon microphone",
        "room microphone",
    ]


def test_the_ledger_asks_at_the_columns_head(
    filled: Library, filled_client: TestClient, session: SmallSession, two_mics: int
) -> None:
    attach_two(filled_client, two_mics)
    page = page_of(filled_client.get(f"/sources/{session.bass}"))
    assert texts(page, f"//thead//a[@href='/passes/{two_mics}#prints']") == ["Which microphone?"]


def test_what_was_filed_is_said_anew_from_the_inbox(
    filled: Library, filled_client: TestClient, session: SmallSession
) -> None:
    filled_client.post(f"/arrivals/{session.arrival}/file", data={"pass_id": str(session.passes[1])})
    page = page_of(filled_client.get(f"/projects/{session.project}/inbox"))
    (form,) = page.xpath(f"//form[@action='/passes/{session.passes[1]}/microphones?at=inbox']")
    (summary,) = form.getparent().xpath("./summary")
    (named,) = form.xpath(".//option[normalize-space()='small ribbon microphone']")
    (select,) = form.xpath(".//select")
    answer = filled_client.post(form.get("action"), data={select.get("name"): named.get("value")})
    assert answer.headers["location"] == f"/projects/{session.project}/inbox"
    assert read_pass(filled, session.passes[1]).prints[-1].name == "small ribbon microphone"
    again = page_of(filled_client.get(f"/projects/{session.project}/inbox"))
    (said,) = again.xpath(f"//select[@id='{select.get('id')}']/ancestor::details/summary")
    assert "small ribbon microphone" in text_of(said)
    assert "Which microphone" in text_of(summary) or "small ribbon" in text_of(summary)
