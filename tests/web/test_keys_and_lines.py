"""The jot line at the form, the way to the next pass from anywhere, and the keyboard map."""

import re

import pytest
from page_reader import field, filled_in, form_of, page_of, text_of, texts
from small_session import SmallSession
from starlette.testclient import TestClient

from app.config import ROOT
from app.desk.passes import drafts
from app.desk.passes.pass_sheets import read_pass
from app.library import Library


def test_the_line_says_what_it_would_set_and_what_it_could_mean(
    filled_client: TestClient, session: SmallSession
) -> None:
    answer = filled_client.get(
        f"/drafts/{session.draft}/line", params={"line": "drive 6, tr 5, mic 20, mix 40 %"}
    )
    page = page_of(answer)
    assert texts(page, "//li") == [
        "15-watt valve combo Drive 6 was 7",
        "small ribbon microphone distance 20 mm was 30 mm",
        "15-watt valve combo Mix 40 % as it is",
    ]
    assert "“tr” could be re-amp box Trim or 15-watt valve combo Trim" in text_of(page)
    assert page.xpath("//button[@data-meant='re-amp box Trim 5']/@data-words") == ["tr 5"]


def test_taken_over_it_stands_in_the_draft_and_what_was_not_understood_in_the_line(
    filled_client: TestClient, filled: Library, session: SmallSession
) -> None:
    action = f"/sources/{session.bass}/passes"
    fields = filled_in(form_of(page_of(filled_client.get(f"{action}/new")), action))
    answer = filled_client.post(action, data=fields | {"line": "drive 3.5, level up a bit", "do": "jot"})
    page = page_of(answer)
    assert field(page, "Drive").get("value") == "3.5"
    assert field(page, "Jot").get("value") == "level up a bit"
    assert drafts.read_draft(filled, session.draft).undoes == "Drive 3.5"


def test_saving_takes_the_line_with_it_and_waits_where_it_is_not_understood(
    filled_client: TestClient, filled: Library, session: SmallSession
) -> None:
    action = f"/sources/{session.bass}/passes"
    fields = filled_in(form_of(page_of(filled_client.get(f"{action}/new")), action))
    waits = filled_client.post(action, data=fields | {"line": "drive 3.5, zither 2"})
    assert waits.status_code == 422
    assert field(page_of(waits), "Jot").get("value") == "zither 2"
    saved = filled_client.post(action, data=filled_in(form_of(page_of(waits), action)) | {"line": "mix 10 %"})
    assert saved.status_code == 303
    sheet = read_pass(filled, int(saved.headers["location"].rpartition("/")[2]))
    readings = {line.name: line.reading for step in sheet.steps for line in step.settings}
    assert (readings["Drive"], readings["Mix"]) == ("3.5", "10 %")


def test_a_line_from_the_phone_is_taken_once(filled_client: TestClient, session: SmallSession) -> None:
    sent = {"key": "0123456789ab", "do": "jot", "line": "drive 1, zither 2"}
    answers = [filled_client.post(f"/drafts/{session.draft}/changes", data=sent).json() for _ in range(2)]
    assert answers[0]["line"] == "zither 2"
    assert answers[0]["revision"] == answers[1]["revision"] == 1


@pytest.mark.parametrize(
    ("page", "source"),
    [
        ("/sources/{organ}/edit", "organ"),
        ("/passes/{passes[0]}/levels", "bass"),
        ("/projects/{project}", "bass"),
        ("/gear", "bass"),
        ("/passes/99999", "bass"),
        ("", "bass"),
    ],
)
def test_the_next_pass_is_that_of_the_source_one_is_at_else_of_the_last(
    filled_client: TestClient, session: SmallSession, page: str, source: str
) -> None:
    came_from = "http://127.0.0.1:8427" + page.format(**vars(session))
    answer = filled_client.get("/next", headers={"referer": came_from})
    assert answer.headers["location"] == f"/sources/{getattr(session, source)}/passes/new"


def test_without_a_source_the_way_begins_at_the_projects(client: TestClient) -> None:
    assert client.get("/next").headers["location"] == "/projects"


def test_every_key_is_on_the_map_and_every_key_of_the_map_does_something(client: TestClient) -> None:
    bound = []
    for module in ("places.js", "listening/player.js", "listening/dock.js", "desk.js", "recall.js"):
        script = (ROOT / "static" / module).read_text(encoding="utf-8")
        table = re.search(r"const KEYS = \{(.*?)\n\};", script, re.DOTALL)
        assert table is not None
        bound += re.findall(r'^  "([^"]+)":', table[1], re.MULTILINE)
    assert bound == page_of(client.get("/keys")).xpath("//tr/@data-pressed")


def test_one_module_listens_for_keys() -> None:
    scripts = [*(ROOT / "static").glob("*.js"), *(ROOT / "static/listening").glob("*.js")]
    assert [
        path.name for path in scripts if re.search(r"\bkey(down|up|press)\b", path.read_text("utf-8"))
    ] == ["keys.js"]


def test_single_keys_can_be_switched_off(client: TestClient) -> None:
    assert page_of(client.get("/gear")).xpath("//body/@data-keys") == ["on"]
    client.post("/preferences", data={"keys": "off", "back": "/keys"})
    assert page_of(client.get("/gear")).xpath("//body/@data-keys") == ["off"]
    assert "Single keys are off" in page_of(client.get("/keys")).text_content()
