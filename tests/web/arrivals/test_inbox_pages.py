"""The pages on which prints come in, as a person without JavaScript uses them."""

from pathlib import Path

from page_reader import filled_in, page_of, words
from small_session import SmallSession, picture, tone
from starlette.testclient import TestClient
from watching import Desk

from app.desk.arrivals import inbox, printing
from app.desk.passes.pass_sheets import read_pass
from app.desk.recall import runs
from app.desk.recall.tries import read_tries
from app.library import Library


def test_a_folder_is_watched_and_let_go(
    filled: Library, filled_client: TestClient, session: SmallSession, tmp_path: Path
) -> None:
    takes = tmp_path / "takes of today"
    takes.mkdir()
    here = f"/projects/{session.project}"
    answer = filled_client.post(f"{here}/folders", data={"path": str(takes), "keeps": "refer"})
    assert (answer.status_code, answer.headers["location"]) == (303, f"{here}/printing")
    page = page_of(filled_client.get(f"{here}/printing"))
    assert str(takes) in words(page, "//main")
    again = filled_client.post(f"{here}/folders", data={"path": str(takes)})
    assert again.status_code == 422
    assert "watched already, for Boathouse" in words(page_of(again), "//*[@id='path-error']")


def test_a_folder_that_cannot_be_watched_is_refused_at_its_field(
    filled: Library, filled_client: TestClient, session: SmallSession, tmp_path: Path
) -> None:
    file = tmp_path / "file.wav"
    file.write_bytes(b"RIFF")
    for typed, sentence in (
        ("", "is empty"),
        ("takes", "whole path"),
        (str(tmp_path / "nowhere"), "no such folder"),
        (str(file), "This is a file"),
        (str(filled.folder), "holds the library"),
        ("/", "holds the library"),
        ("\0", "cannot be the path"),
    ):
        answer = filled_client.post(f"/projects/{session.project}/folders", data={"path": typed})
        page = page_of(answer)
        assert answer.status_code == 422
        assert sentence in words(page, "//*[@id='path-error']")
        assert page.xpath("//input[@id='path']/@value") == [typed.replace("\0", "�")]


def test_an_arrival_is_filed_with_one_button(
    filled: Library, filled_client: TestClient, session: SmallSession
) -> None:
    page = page_of(filled_client.get(f"/arrivals/{session.arrival}"))
    (button,) = page.xpath(f"//button[@name='pass_id'][@value='{session.passes[1]}']")
    action = next(button.iterancestors("form")).get("action")
    answer = filled_client.post(action, data={button.get("name"): button.get("value")})
    assert answer.headers["location"] == f"/passes/{session.passes[1]}#prints"
    assert read_pass(filled, session.passes[1]).prints[-1].file_name.startswith("take")
    twice = filled_client.post(action, data={"pass_id": str(session.passes[1])})
    assert twice.status_code == 422
    assert "filed or left already" in words(page_of(twice), "//main")


def test_an_arrival_becomes_a_try_of_an_open_recall_with_one_button(
    filled: Library, filled_client: TestClient, session: SmallSession
) -> None:
    recall_id = runs.begin(filled, session.passes[0])
    page = page_of(filled_client.get(f"/arrivals/{session.arrival}"))
    (button,) = page.xpath(f"//button[@name='recall_id'][@value='{recall_id}']")
    action = next(button.iterancestors("form")).get("action")
    answer = filled_client.post(action, data={button.get("name"): button.get("value")})
    assert answer.headers["location"] == f"/recalls/{recall_id}?stage=check#tries"
    assert [one.file_name for one in read_tries(filled, recall_id).tries] == ["take 1.wav"]


def test_the_list_is_sent_again_only_when_there_is_news(
    filled: Library, filled_client: TestClient, session: SmallSession
) -> None:
    here = f"/projects/{session.project}/inbox/list"
    token = inbox.read_inbox(filled, session.project).token
    assert filled_client.get(here, params={"seen": token}).status_code == 204
    filled_client.post(f"/arrivals/{session.arrival}/leave")
    assert filled_client.get(here, params={"seen": token}).status_code == 200


def test_what_was_left_can_be_ticked_and_brought_in(
    filled: Library, filled_client: TestClient, session: SmallSession
) -> None:
    here = f"/projects/{session.project}/inbox"
    page = page_of(filled_client.get(f"{here}/left"))
    ticks = page.xpath("//input[@type='checkbox']/@value")
    assert len(ticks) == 1
    filled_client.post(f"{here}/bring-in", data={"arrival": ticks})
    assert "On its way" in words(page_of(filled_client.get(here)), "//main")


def test_a_pass_waits_for_its_print_and_waits_no_more(
    filled: Library, filled_client: TestClient, session: SmallSession
) -> None:
    here = f"/passes/{session.passes[1]}"
    filled_client.post(f"{here}/wait")
    shown = words(page_of(filled_client.get(here)), "//*[@id='prints']")
    assert "Waiting for its print since" in shown
    assert page_of(filled_client.get(here)).xpath("//input[@readonly]/@value") == [
        "bass DI pass 2 small ribbon microphone"
    ]
    filled_client.post(f"{here}/call-off")
    assert printing.read_pass_printing(filled, session.passes[1]).waiting_since is None


def test_a_pass_is_saved_and_waits_with_one_press(
    filled: Library, filled_client: TestClient, session: SmallSession
) -> None:
    page = page_of(filled_client.get(f"/sources/{session.bass}/passes/new"))
    form = page.xpath("//form[@id='pass-form']")[0]
    answer = filled_client.post(form.get("action"), data=filled_in(form) | {"do": "save-waiting"})
    made = int(answer.headers["location"].rpartition("/")[2])
    assert printing.read_pass_printing(filled, made).waiting_since is not None


def test_a_file_that_stayed_in_its_folder_and_vanished_is_told_at_its_pass(
    filled: Library, filled_client: TestClient, session: SmallSession, tmp_path: Path
) -> None:
    (tmp_path / "takes").mkdir()
    desk = Desk(filled, tmp_path / "takes", session.project, "refer")
    printing.wait_for_print(filled, session.passes[1])
    path = desk.put("take.wav", tone(0.1, hz=360))
    desk.settle()
    here = f"/passes/{session.passes[1]}"
    print_id = read_pass(filled, session.passes[1]).prints[-1].print_id
    assert filled_client.get(f"/prints/{print_id}/audio").content == path.read_bytes()
    path.rename(path.with_suffix(".away"))
    filled_client.post(f"/prints/{print_id}/look-again")
    assert "is not at" in words(page_of(filled_client.get(here)), "//*[@id='prints']")
    gone = filled_client.get(f"/prints/{print_id}/audio")
    assert gone.status_code == 404
    assert "is not at" in words(page_of(gone), "//main")
    path.with_suffix(".away").rename(path)
    assert filled_client.post(f"/prints/{print_id}/bring-in").status_code == 303
    path.unlink()
    assert filled_client.get(f"/prints/{print_id}/audio").status_code == 200


def test_a_picture_of_the_inbox_becomes_a_photo_with_one_button(
    filled: Library, filled_client: TestClient, session: SmallSession, tmp_path: Path
) -> None:
    (tmp_path / "phone").mkdir()
    inbox.leave_all(filled, session.project)
    desk = Desk(filled, tmp_path / "phone", session.project)
    desk.put("first.jpg", picture(shade=51))
    desk.put("second.jpg", picture(shade=52))
    desk.settle()
    page = page_of(filled_client.get(f"/projects/{session.project}/inbox"))
    shown = page.xpath("//article//img/@src")
    assert len(shown) == 2
    assert filled_client.get(shown[0]).headers["content-type"] == "image/jpeg"
    button = page.xpath("//button[@name='source_id']")[0]
    action = next(button.iterancestors("form")).get("action")
    answer = filled_client.post(action, data={"source_id": button.get("value")})
    assert answer.headers["location"] == f"/sources/{session.bass}/passes/new#draft-photos"
    form = page_of(filled_client.get(answer.headers["location"]))
    assert len(form.xpath("//*[@id='draft-photos']//img")) == 1
    page = page_of(filled_client.get(f"/projects/{session.project}/inbox"))
    assert "The next pass of bass DI" in words(page, "//main")
    (another,) = page.xpath("//article//a[contains(., 'To a pass')]/@href")
    page = page_of(filled_client.get(another))
    (button,) = page.xpath(f"//button[@name='pass_id'][@value='{session.passes[1]}']")
    answer = filled_client.post(
        next(button.iterancestors("form")).get("action"), data={"pass_id": session.passes[1]}
    )
    assert answer.headers["location"] == f"/passes/{session.passes[1]}#photos"
    assert len(read_pass(filled, session.passes[1]).photos) == 1
    (take_off,) = form.xpath("//*[@id='draft-photos']//form[contains(@action, 'take-off')]/@action")
    assert filled_client.post(take_off).headers["location"].endswith("/passes/new#draft-photos")
    page = page_of(filled_client.get(f"/projects/{session.project}/inbox"))
    assert len(page.xpath("//article//img")) == 1, "what was taken off stands here again"
