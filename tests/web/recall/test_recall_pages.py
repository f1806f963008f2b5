"""A recall worked through in the browser, with script and without."""

from dataclasses import replace
from typing import Any

import pytest
from page_reader import form_of, page_of, text_of, texts, words
from small_session import SmallSession, bring_in, put_on_shelf, step_id_of, step_of, tone
from starlette.testclient import TestClient

from app.desk.child_processes import ChildFailed
from app.desk.passes.passes import PassEntry, entry_for_next, log_pass
from app.desk.recall import runs
from app.desk.recall.runs import read_recall
from app.desk.shelf.control_entries import ControlEntry
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
    pressed = button(page_of(client.get(f"{here}?only=all")), name)
    return client.post(f"{here}/items", data={"do": pressed.get("value"), "only": "all"} | fields)


def test_a_recall_is_begun_from_its_pass(filled_client: TestClient, session: SmallSession) -> None:
    page = page_of(filled_client.get(f"/passes/{session.passes[1]}/recalls"))
    form_of(page, f"/passes/{session.passes[1]}/recalls")
    answer = filled_client.post(f"/passes/{session.passes[1]}/recalls")
    assert answer.status_code == 303
    page = page_of(filled_client.get(answer.headers["location"]))
    assert words(page, "//h1") == "Recall of bass DI, pass 2"


def stage_at(page: Any) -> str:
    """The heading of the one stage that is shown."""
    return " / ".join(
        text_of(each) for each in page.xpath("//form[@id='setting-up']/section[not(@hidden)]//h2")
    )


def test_what_is_ticked_is_counted_and_its_stage_stays_until_all_of_it_is_done(
    filled_client: TestClient, filled: Library, session: SmallSession, here: str
) -> None:
    amp = f"gear-{step_id_of(filled, session.passes[0], session.amp)}"
    answer = press(filled_client, here, "Set Tone", stage=amp)
    assert answer.status_code == 303
    page = page_of(filled_client.get(answer.headers["location"]))
    assert stage_at(page).startswith("15-watt valve combo")
    assert words(page, "//*[@id='recall-progress']") == "1 of 16 done"
    press(filled_client, here, "Set Tone")
    assert read_recall(filled, session.recall).done == 0
    answer = press(filled_client, here, "Plugged Hook-up", stage="hook-up")
    assert stage_at(page_of(filled_client.get(answer.headers["location"]))) == "Levels"


def test_a_page_with_script_is_told_whether_a_tick_was_taken(
    filled_client: TestClient, filled: Library, session: SmallSession, here: str
) -> None:
    told = {"Accept": "application/json"}
    assert filled_client.post(f"{here}/items", data={"do": "done-levels"}, headers=told).status_code == 200
    assert read_recall(filled, session.recall).levels.marked.done
    filled_client.post(f"{here}/finish", data={"do": "finish"})
    answer = filled_client.post(f"{here}/items", data={"do": "undo-levels"}, headers=told)
    assert answer.status_code == 422
    assert "finished" in answer.json()["refused"][""]


def test_whichever_button_is_pressed_the_notes_are_kept(
    filled_client: TestClient, filled: Library, session: SmallSession, here: str
) -> None:
    press(filled_client, here, "Set Mix", **{"deviation-levels": "the pad is stuck"})
    recall = read_recall(filled, session.recall)
    assert recall.levels.marked.deviation == "the pad is stuck"
    assert not recall.levels.marked.done


def test_a_note_that_cannot_be_kept_stays_in_its_field_with_a_sentence(
    filled_client: TestClient, filled: Library, session: SmallSession, here: str
) -> None:
    answer = press(filled_client, here, "Set Mix", **{"deviation-levels": "x" * 300})
    assert answer.status_code == 422
    page = page_of(answer)
    assert stage_at(page) == "Levels"
    assert page.get_element_by_id("deviation-levels").value == "x" * 300
    assert "300 characters" in text_of(page.get_element_by_id("deviation-levels-error"))
    assert read_recall(filled, session.recall).done == 0


def test_only_what_differs_can_be_shown(filled_client: TestClient, here: str) -> None:
    page = page_of(filled_client.get(f"{here}?only=differences"))
    assert texts(page, "//*[contains(@class, 'recall-item ') or @class='recall-item']/h3") == [
        "Gain",
        "Bright",
    ]
    answer = press(filled_client, here, "Set Gain", only="differences", stage="hook-up")
    assert answer.headers["location"] == f"{here}?only=differences&stage=hook-up#stage"
    assert (
        page_of(filled_client.get(here))
        .xpath("//*[@aria-label='What is gone through']/a[@aria-current]")[0]
        .text
        == "Differs"
    )


def test_what_is_done_goes_from_what_is_open(
    filled_client: TestClient, filled: Library, session: SmallSession, here: str
) -> None:
    press(filled_client, here, "Tick the rest of 15-watt valve combo")
    page = page_of(filled_client.get(f"{here}?only=open"))
    amp = f"stage-gear-{step_id_of(filled, session.passes[0], session.amp)}"
    assert page.get_element_by_id(amp).xpath(".//*[@class='tick-off']") == []
    assert texts(page, "//*[@id='stages']//li[@class='is-done']//*[@class='stage-name']") == [
        "15-watt valve combo"
    ]


def test_another_piece_is_chosen_and_said(
    filled_client: TestClient, filled: Library, session: SmallSession, here: str
) -> None:
    other = put_on_shelf(filled, "spare fuzz", "pedal")
    step_id = step_id_of(filled, session.passes[0], session.fuzz)
    answer = filled_client.post(
        f"{here}/items", data={"do": f"substitute-{step_id}", f"substitute-{step_id}": str(other)}
    )
    assert answer.headers["location"].startswith(f"{here}?only=differences&stage=gear-{step_id}")
    section = page_of(filled_client.get(f"{here}?only=all")).get_element_by_id(f"stage-gear-{step_id}")
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
    page = page_of(filled_client.get(f"{here}?only=all"))
    assert len(page.xpath("//button[starts-with(@id, 'do-')]")) == 16


def test_a_finished_recall_keeps_its_count_and_opens_on_its_result(
    filled_client: TestClient, filled: Library, session: SmallSession, here: str
) -> None:
    recall = read_recall(filled, session.recall)
    runs.mark(filled, session.recall, {item.key: True for item in recall.items if item.differs}, {})
    counted = words(page_of(filled_client.get(here)), "//*[@id='recall-progress']")
    filled_client.post(f"{here}/finish", data={"do": "finish", "note": ""})
    page = page_of(filled_client.get(here))
    assert words(page, "//*[@id='recall-progress']") == counted
    assert page.xpath("//*[@id='next-open']") == []
    assert words(page, "//nav[@id='stages']//a[@aria-current]/span[@class='stage-name']") == "Check by sound"
    whole = page_of(filled_client.get(f"{here}?only=all"))
    stood = whole.xpath("//li[contains(@class, 'is-as-it-is')]//p[@class='now']")
    assert stood
    assert {text_of(each) for each in stood} == {"stood so already"}
    assert "Not done" not in text_of(whole)


def test_a_sheet_that_could_not_be_set_whole_is_told_in_a_sentence(
    filled_client: TestClient, session: SmallSession, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken_off(*order: object, **more: object) -> bytes:
        raise ChildFailed("It ended with -9 before it was done.")

    monkeypatch.setattr("app.desk.child_processes.made_by", broken_off)
    answer = filled_client.get(f"/passes/{session.passes[0]}/recall.pdf")
    assert answer.status_code == 503
    assert "try it once more" in page_of(answer).text_content()


def test_what_is_gone_through_stays_when_a_try_is_brought_in(
    filled_client: TestClient, session: SmallSession, here: str
) -> None:
    page = page_of(filled_client.get(f"{here}?only=all&stage=check"))
    (form,) = page.xpath("//form[@data-lands-at='tries']")
    sent = {field.get("name"): field.get("value") or "" for field in form.xpath(".//input[@type='hidden']")}
    assert sent["only"] == "all"
    file = {"file": ("again.wav", tone(0.5, hz=231), "audio/wav")}
    answer = filled_client.post(f"{here}/tries", data=sent, files=file)
    assert "only=all" in (answer.headers.get("location") or str(answer.url))
    refused = filled_client.post(f"{here}/tries", data=sent)
    assert refused.status_code == 422
    assert page_of(refused).xpath("//nav[@aria-label='What is gone through']/a[@aria-current]/text()") == [
        "All"
    ]


def test_what_nobody_noted_is_said_and_left_as_usual(
    filled_client: TestClient, filled: Library, session: SmallSession
) -> None:
    amp = put_on_shelf(filled, "spare combo", "amp", ControlEntry(name="Gain"), ControlEntry(name="Presence"))
    source = bring_in(filled, session.project, "verse")
    logged = log_pass(filled, source, PassEntry(steps=(step_of(filled, amp, {"Gain": "6"}),)))
    recall = runs.begin(filled, logged)
    assert "Not noted: Presence. Leave it as usual." in text_of(
        page_of(filled_client.get(f"/recalls/{recall}"))
    )
    at_home = text_of(page_of(filled_client.get(f"/projects/{session.project}")))
    assert "The recall of pass 1 of verse" in at_home


def test_the_camera_is_offered_where_a_control_has_a_position(
    filled: Library, filled_client: TestClient, session: SmallSession
) -> None:
    remark = ControlEntry(name="Remark", form="text")
    microphone = put_on_shelf(filled, "microphone with a remark", "microphone", remark)
    entry = entry_for_next(filled, session.bass)
    said = step_of(filled, microphone, {"Remark": "on a towel"})
    pass_id = log_pass(filled, session.bass, replace(entry, steps=(*entry.steps, said)))
    recall = runs.begin(filled, pass_id)
    page = page_of(filled_client.get(f"/recalls/{recall}"))
    offered = page.xpath("//section[contains(@class, 'recall-stage')][.//a[text()='Camera']]//h2/text()")
    names = [words.strip() for words in offered]
    assert "15-watt valve combo" in names
    assert "microphone with a remark" not in names
    assert "microphone with a remark" in [
        words.strip() for words in page.xpath("//section[contains(@class, 'recall-stage')]//h2/text()")
    ]
