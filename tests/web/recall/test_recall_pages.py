"""A recall worked through in the browser, with script and without."""

from typing import Any

import pytest
from page_reader import form_of, page_of, text_of, texts, words
from small_session import SmallSession, put_on_shelf, step_id_of
from starlette.testclient import TestClient

from app.desk.child_processes import ChildFailed
from app.desk.recall.runs import read_recall
from app.library import Library


@pytest.fixture
def here(session: SmallSession) -> str:
    return f"/recalls/{session.recall}"


def button(page: Any, name: str) -> Any:
    """The one button of this name."""
    found = [each for each in page.iter("button") if text_of(each) == name]
    assert len(found) == 1, f"{len(found)} buttons are called {name}"
    return found[0]


def press(client: TestClient, here: str, name: str, **fields: str) -> Any:
    """Press a button of the list, with what stands in its fields."""
    pressed = button(page_of(client.get(here)), name)
    return client.post(f"{here}/items", data={"do": pressed.get("value")} | fields)


def test_a_recall_is_begun_from_its_pass(filled_client: TestClient, session: SmallSession) -> None:
    page = page_of(filled_client.get(f"/passes/{session.passes[1]}/recalls"))
    form_of(page, f"/passes/{session.passes[1]}/recalls")
    answer = filled_client.post(f"/passes/{session.passes[1]}/recalls")
    assert answer.status_code == 303
    page = page_of(filled_client.get(answer.headers["location"]))
    assert words(page, "//h1") == "Recall of bass DI, pass 2"


def test_checking_off_is_counted_and_leads_back_to_the_item(
    filled_client: TestClient, filled: Library, session: SmallSession, here: str
) -> None:
    answer = press(filled_client, here, "Check off Tone")
    assert answer.status_code == 303
    place = answer.headers["location"].partition("#")[2]
    page = page_of(filled_client.get(here))
    assert text_of(page.get_element_by_id(place).find("h3")) == "Tone"
    assert words(page, "//*[@id='recall-progress']") == "1 of 16 checked off"
    press(filled_client, here, "Done Tone")
    assert read_recall(filled, session.recall).done == 0


def test_whichever_button_is_pressed_the_notes_are_kept(
    filled_client: TestClient, filled: Library, session: SmallSession, here: str
) -> None:
    press(filled_client, here, "Check off Mix", **{"deviation-levels": "the pad is stuck"})
    recall = read_recall(filled, session.recall)
    assert recall.levels.marked.deviation == "the pad is stuck"
    assert not recall.levels.marked.done


def test_a_note_that_cannot_be_kept_stays_in_its_field_with_a_sentence(
    filled_client: TestClient, filled: Library, session: SmallSession, here: str
) -> None:
    answer = press(filled_client, here, "Check off Mix", **{"deviation-levels": "x" * 300})
    assert answer.status_code == 422
    page = page_of(answer)
    assert page.get_element_by_id("deviation-levels").value == "x" * 300
    assert "300 characters" in text_of(page.get_element_by_id("deviation-levels-error"))
    assert read_recall(filled, session.recall).done == 0


def test_a_button_with_script_brings_its_item_and_the_count_only(
    filled_client: TestClient, here: str
) -> None:
    page = page_of(filled_client.get(here))
    pressed = button(page, "Check off Tone")
    assert pressed.get("hx-post") == f"{here}/items"
    item = page.get_element_by_id(pressed.get("hx-target").removeprefix("#"))
    assert pressed in list(item.iter("button"))
    assert pressed.get("hx-select") == pressed.get("hx-target")
    assert pressed.get("hx-select-oob") == "#recall-progress"


def test_only_what_differs_can_be_shown(filled_client: TestClient, here: str) -> None:
    page = page_of(filled_client.get(f"{here}?only=differences"))
    assert texts(page, "//*[contains(@class, 'recall-item ') or @class='recall-item']/h3") == [
        "Gain",
        "Bright",
    ]
    answer = press(filled_client, here, "Check off Gain", only="differences")
    assert answer.headers["location"].startswith(f"{here}?only=differences#item-")


def test_what_is_done_goes_from_what_is_open(filled_client: TestClient, here: str) -> None:
    press(filled_client, here, "All of it is set: 15-watt valve combo")
    page = page_of(filled_client.get(f"{here}?only=open"))
    assert "15-watt" not in " ".join(texts(page, "//section//h2"))


def test_another_piece_is_chosen_and_said(
    filled_client: TestClient, filled: Library, session: SmallSession, here: str
) -> None:
    other = put_on_shelf(filled, "spare fuzz", "pedal")
    step_id = step_id_of(filled, session.passes[0], session.fuzz)
    answer = filled_client.post(
        f"{here}/items", data={"do": f"substitute-{step_id}", f"substitute-{step_id}": str(other)}
    )
    assert answer.headers["location"] == f"{here}#gear-{step_id}"
    section = page_of(filled_client.get(here)).get_element_by_id(f"gear-{step_id}")
    assert "Stands in for silicon fuzz." in text_of(section)
    assert "by ear" in text_of(section)


def test_cautions_come_before_what_is_plugged(filled_client: TestClient, here: str) -> None:
    page = page_of(filled_client.get(here))
    sections = page.xpath("//form[@id='setting-up']/section")
    assert "speaker" in text_of(sections[0].xpath(".//*[@class='cautions']")[0])
    microphone = [each for each in sections if "ribbon microphone" in text_of(each.find(".//h2"))]
    assert len(microphone[0].xpath(".//*[@class='cautions']")) == 1


def test_a_finished_recall_shows_how_it_came_out_and_offers_no_button(
    filled_client: TestClient, here: str
) -> None:
    filled_client.post(f"{here}/finish", data={"do": "finish", "note": "Near enough."})
    page = page_of(filled_client.get(here))
    assert "Near enough." in text_of(page.get_element_by_id("finish"))
    assert page.xpath("//button[starts-with(@id, 'do-')]") == []
    filled_client.post(f"{here}/finish", data={"do": "open"})
    assert len(page_of(filled_client.get(here)).xpath("//button[starts-with(@id, 'do-')]")) == 16


def test_a_sheet_that_could_not_be_set_whole_is_told_in_a_sentence(
    filled_client: TestClient, session: SmallSession, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken_off(*order: object, **more: object) -> bytes:
        raise ChildFailed("It ended with -9 before it was done.")

    monkeypatch.setattr("app.desk.child_processes.made_by", broken_off)
    answer = filled_client.get(f"/passes/{session.passes[0]}/recall.pdf")
    assert answer.status_code == 503
    assert "try it once more" in page_of(answer).text_content()
