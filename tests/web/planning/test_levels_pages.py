"""Levels, microphones, ears and calibration as pages: what is typed, what is answered, what is linked."""

import pytest
from level_session import LevelSession, fill
from page_reader import field, filled_in, form_of, page_of, sentence_at, text_of, texts, words
from starlette.testclient import TestClient

from app.desk.planning.levels import read_levels
from app.desk.shelf.ports import read_facts
from app.library import Library


def reading(page: object, label: str) -> str:
    """The large figure under a label."""
    return words(
        page, f"//dl[starts-with(@class, 'levels')]/div[dt='{label}']/dd/span[starts-with(@class, 'reading')]"
    )


def test_typed_levels_are_kept_and_answer_at_once(
    client: TestClient, library: Library, logged: LevelSession
) -> None:
    here = f"/passes/{logged.pass_id}/levels"
    sent = filled_in(form_of(page_of(client.get(here)), here)) | {"recording_box_loss_db": "20 dB"}
    answer = client.post(here, data=sent)
    assert (answer.status_code, answer.headers["location"]) == (303, here)
    page = page_of(client.get(here))
    assert reading(page, "DAW trim to send with") == "+2.1 dB"
    assert field(page, "Loss of the DI box, dB").get("value") == "20 dB"
    formulas = texts(page, "//dl[starts-with(@class, 'levels')]//details")
    assert any("−6.0 + 18.0 − 30.0 + 20.0 = 2.0" in formula for formula in formulas)


def test_an_open_figure_leads_to_where_its_lack_is_entered(client: TestClient, logged: LevelSession) -> None:
    page = page_of(client.get(f"/passes/{logged.pass_id}/levels"))
    assert "±" in reading(page, "DAW trim to send with")
    assert words(page, "//div[dt='DAW trim to send with']/dd/strong") == "typical"
    links = page.xpath("//section[@id='next-question']//li/a/@href")
    assert links, "what else is not known is named in the same place"
    assert {link for link in links if link.startswith("#")} <= {
        f"#{found}" for found in page.xpath("//input/@id")
    }
    starts = page.xpath("//table[@class='plain-table']//a/@href")
    assert f"/gear/{logged.interface}/calibrate" in starts
    assert f"/gear/{logged.box}/ports" in starts


def test_what_the_most_figures_rest_on_is_asked_for_first_and_kept_at_once(
    client: TestClient, library: Library, logged: LevelSession
) -> None:
    here = f"/passes/{logged.pass_id}/levels"
    page = page_of(client.get(here))
    assert words(page, "//section[@id='next-question']/h2") == "Find out next: the DI box's loss"
    assert len(page.xpath("//*[contains(@class, 'is-main')]")) == 1, "one thing to do next"
    sent = {"field": "recording_box_loss_db", "answer": "20 dB"}
    assert client.post(f"{here}/answer", data=sent).status_code == 303
    assert read_levels(library, logged.pass_id).inputs.recording_box_loss_db == 20.0
    refused = client.post(f"{here}/answer", data=sent | {"answer": "loud"})
    assert refused.status_code == 422
    assert "is not a level in dB" in sentence_at(page_of(refused), "Loss of the DI box, dB")


def test_a_level_that_cannot_be_is_said_at_its_field_and_what_was_typed_stays(
    client: TestClient, library: Library, logged: LevelSession
) -> None:
    here = f"/passes/{logged.pass_id}/levels"
    sent = {
        "recording_gain_db": "400",
        "daw_trim_db": "-3",
        f"trim_db-{logged.box}": "6 dB",
        f"sound_level_db_spl-{logged.near}": "very",
    }
    answer = client.post(here, data=sent)
    assert answer.status_code == 422
    page = page_of(answer)
    assert "between −100 and 100 dB" in sentence_at(page, "Gain, dB")
    assert "takes level away" in sentence_at(page, "Trim of passive re-amp box, dB")
    assert "is not a level in dB" in sentence_at(page, "Sound level at dynamic microphone, dB SPL")
    assert field(page, "DAW trim as it stands, dB").get("value") == "-3"
    assert not read_levels(library, logged.pass_id).is_saved


def test_a_pass_without_interface_or_box_says_so_and_links_to_its_chain(
    client: TestClient, library: Library
) -> None:
    logged = fill(library, with_interface=False)
    page = page_of(client.get(f"/passes/{logged.pass_id}/levels"))
    assert "no interface in this pass" in words(page, "//p[@class='notice']")
    assert page.xpath("//p[@class='notice']/a/@href") == [f"/passes/{logged.pass_id}/edit"]


def test_the_level_diagram_is_drawn_for_a_desk_and_for_a_phone(
    client: TestClient, logged: LevelSession
) -> None:
    page = page_of(client.get(f"/passes/{logged.pass_id}/levels"))
    labels = page.xpath("//figure//svg/@aria-label")
    assert len(labels) == 2
    assert labels[0].startswith("Level diagram, peaks. Send: Interface output")


def test_the_pass_links_to_its_levels_and_microphones(client: TestClient, logged: LevelSession) -> None:
    page = page_of(client.get(f"/passes/{logged.pass_id}"))
    assert {f"/passes/{logged.pass_id}/levels", f"/passes/{logged.pass_id}/microphones"} <= set(
        page.xpath("//main//a/@href")
    )


def test_microphones_show_their_times_at_the_temperature_asked_for(
    client: TestClient, logged: LevelSession
) -> None:
    page = page_of(client.get(f"/passes/{logged.pass_id}/microphones?celsius=0"))
    # 50 mm at 331.286 m/s: 0.151 ms, 7.2 samples at 48 kHz
    assert texts(page, "//table//tbody/tr") == ["dynamic microphone50 mm0.1517.2"]
    assert "331.3 m/s at 0.0 °C" in text_of(page.xpath("//details")[0])


def test_an_absurd_temperature_is_said_at_its_field(client: TestClient, logged: LevelSession) -> None:
    answer = client.get(f"/passes/{logged.pass_id}/microphones?celsius=900&own=1&spill=-4")
    assert answer.status_code == 422
    page = page_of(answer)
    assert "between −20 and 50 °C" in sentence_at(page, "Temperature of the room, °C")
    assert "negative" in sentence_at(page, "From it to the other source")
    assert field(page, "Temperature of the room, °C").get("value") == "900"


def test_a_logged_level_shows_the_dose_and_a_line_on_the_project_and_past_a_limit_on_the_source(
    client: TestClient, logged: LevelSession
) -> None:
    here = f"/projects/{logged.project}/ears"
    assert "Hearing today" not in client.get(f"/projects/{logged.project}").text
    assert client.post(here, data={"level": "94", "minutes": "30", "note": "combo"}).status_code == 303
    page = page_of(client.get(here))
    assert reading(page, "Dose by NIOSH") == "50 %"
    assert reading(page, "Dose by OSHA") == "11 %"  # 0.5 h of 4 h 35 min
    assert "not a medical or legal judgement" in text_of(page.xpath("//li[@class='caution']")[0])
    line = words(page_of(client.get(f"/projects/{logged.project}")), "//p[a='Hearing today']")
    assert line == "Hearing today: 30 min logged, NIOSH dose 50 %, OSHA dose 11 %"
    source = f"/sources/{logged.source}"
    assert "Hearing today" not in client.get(source).text
    client.post(here, data={"level": "94", "minutes": "40", "note": "combo"})
    line = words(page_of(client.get(source)), "//p[a='Hearing today']")
    assert line == "Hearing today: 70 min logged, NIOSH dose 117 %, OSHA dose 25 %"


def test_a_level_in_the_wrong_unit_is_said_at_its_field(client: TestClient, logged: LevelSession) -> None:
    answer = client.post(f"/projects/{logged.project}/ears", data={"level": "0.02 V", "minutes": "x"})
    assert answer.status_code == 422
    assert "is not a number" in sentence_at(page_of(answer), "Level where you sit, dBA")
    assert field(page_of(answer), "Level where you sit, dBA").get("value") == "0.02 V"


def test_an_interface_is_calibrated_from_its_page(
    client: TestClient, library: Library, logged: LevelSession
) -> None:
    assert f"/gear/{logged.interface}/calibrate" in client.get(f"/gear/{logged.interface}").text
    assert "calibrate" not in client.get(f"/gear/{logged.box}").text
    here = f"/gear/{logged.interface}/calibrate"
    measured = {"way": "output_measured", "tone_dbfs": "-18", "reading": "0.9", "unit": "V"}
    assert client.post(here, data=measured).status_code == 303
    # 0.9 V is +1.303 dBu at −18 dBFS
    assert read_facts(library, logged.interface).output_full_scale_dbu == pytest.approx(19.303, abs=5e-4)


def test_a_likely_mix_up_is_asked_about_and_kept_only_on_a_word(
    client: TestClient, library: Library, logged: LevelSession
) -> None:
    here = f"/gear/{logged.interface}/calibrate"
    answer = client.post(
        here, data={"way": "output_measured", "tone_dbfs": "-18", "reading": "0", "unit": "dBV"}
    )
    assert answer.status_code == 422
    page = page_of(answer)
    assert "2.2 dB off" in words(page, "//section[@role='alert']/p[1]")
    assert read_facts(library, logged.interface).output_full_scale_dbu == 18.0
    sure = next(form for form in page.iter("form") if "It is right, save it" in text_of(form))
    assert client.post(here, data=dict(sure.form_values())).status_code == 303
    assert read_facts(library, logged.interface).output_full_scale_dbu == pytest.approx(20.2185, abs=5e-5)


def test_the_tone_is_a_download_and_an_impossible_one_a_sentence(
    client: TestClient, logged: LevelSession
) -> None:
    here = f"/gear/{logged.interface}/calibrate"
    for link in page_of(client.get(here)).xpath("//a[@download]/@href"):
        answer = client.get(link)
        assert answer.headers["content-type"] == "audio/wav"
        assert len(answer.content) == 44 + 480_000 * 3
    loud = client.get(f"{here}/tone.wav?level=6")
    assert loud.status_code == 422
    assert "between −80 and 0 dBFS" in loud.text


def test_gear_that_is_no_interface_has_no_calibration(client: TestClient, logged: LevelSession) -> None:
    answer = client.get(f"/gear/{logged.box}/calibrate")
    assert answer.status_code == 422
    assert "is not an interface" in answer.text


@pytest.mark.parametrize(
    "path", ["/passes/99/levels", "/passes/99/microphones", "/gear/99/calibrate", "/projects/99/ears"]
)
def test_what_is_not_there_says_so(client: TestClient, path: str) -> None:
    assert client.get(path).status_code == 404
    if not path.endswith("microphones"):
        assert client.post(path, data={"level": "90", "minutes": "1"}).status_code == 404


def test_the_recall_sheet_repeats_cables_and_levels_once_they_are_saved(
    client: TestClient, logged: LevelSession
) -> None:
    here = f"/passes/{logged.pass_id}"
    assert page_of(client.get(f"{here}/recall")).xpath("//table") == []
    plan = filled_in(form_of(page_of(client.get(f"{here}/hook-up")), f"{here}/hook-up"))
    assert client.post(f"{here}/hook-up", data=plan | {"do": "save"}).status_code == 303
    assert client.post(f"{here}/levels", data={"recording_box_loss_db": "20"}).status_code == 303
    page = page_of(client.get(f"{here}/recall"))
    assert len(page.xpath("//table[contains(@class, 'cable-list')]/tbody/tr")) == 6
    planned = texts(page, "//dl[contains(@class, 'planned-levels')]/div")
    assert "passive re-amp box: DAW trim to send with+2.1 dB" in planned
    assert client.get(f"{here}/recall.pdf").content.startswith(b"%PDF")
