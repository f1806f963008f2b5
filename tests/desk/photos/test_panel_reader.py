"""Photos wait to be read as rows, and are read by a process that may end at any moment."""

import io
import json
from collections.abc import Callable
from typing import Any

import pytest
from small_session import SmallSession

from app.desk import child_processes
from app.desk.measuring import examinations
from app.desk.photos.panel_reader import PanelReader
from app.library import Library
from app.records import Examination, Photo, WorkState

FOUND = {"panel_found": False, "inliers": 0, "controls": [], "reasons": []}


class Child:
    """Answers each order with what `say` writes."""

    def __init__(self, say: Callable[[dict[str, Any], child_processes.Out], None]) -> None:
        self._say = say
        self.stdin = self
        self.stdout = io.BytesIO()
        self.orders: list[dict[str, Any]] = []

    def write(self, line: bytes) -> None:
        self.orders.append(json.loads(line))
        said = io.BytesIO()
        self._say(self.orders[-1], child_processes.Out(said))
        self.stdout = io.BytesIO(said.getvalue())

    def poll(self) -> int | None:
        return None

    def flush(self) -> None: ...
    def close(self) -> None: ...
    def kill(self) -> None: ...
    def wait(self) -> int:
        return -9


@pytest.fixture
def asked(filled: Library, session: SmallSession) -> tuple[int, ...]:
    """A photo that is to be read for two pieces of gear."""
    with filled.writing() as opened:
        photo = opened.get_one(Photo, session.photos[0])
        for gear_id in (session.amp, session.near_mic):
            wanted = {"gear_id": gear_id, "shown_file_id": photo.shown_file_id, "panel": {"photos": []}}
            examinations.want(opened, "panel", photo.original_file_id, wanted=wanted)
        opened.flush()
        rows = opened.query(Examination).filter(Examination.kind == "panel").all()
        return tuple(row.id for row in rows)


def with_child(monkeypatch: pytest.MonkeyPatch, child: Child) -> Child:
    monkeypatch.setattr(child_processes, "start", lambda *_, **__: child)
    return child


def states(library: Library, ids: tuple[int, ...]) -> list[tuple[str, str]]:
    with library.reading() as opened:
        return [(str(row.state), row.reason) for row in (opened.get_one(Examination, each) for each in ids)]


def answers_all(order: dict[str, Any], out: child_processes.Out) -> None:
    for panel in order["panels"]:
        out.answer(json.dumps(FOUND).encode(), row=panel["row"])
    out.say(done=True)


def test_all_that_is_asked_of_a_photo_is_read_at_once(
    filled: Library, asked: tuple[int, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    child = with_child(monkeypatch, Child(answers_all))
    told: list[str] = []
    PanelReader(filled, told.append).work_through()
    assert [[panel["row"] for panel in order["panels"]] for order in child.orders] == [list(asked)]
    assert states(filled, asked) == [("done", ""), ("done", "")]
    assert told == ["examination", "examination"], "a page hears of each as it comes"


def test_what_fails_for_one_piece_of_gear_is_read_for_the_other(
    filled: Library, asked: tuple[int, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    def one(order: dict[str, Any], out: child_processes.Out) -> None:
        out.say(row=asked[0], refused="Its reference is damaged.")
        out.answer(json.dumps(FOUND).encode(), row=asked[1])
        out.say(done=True)

    with_child(monkeypatch, Child(one))
    PanelReader(filled).work_through()
    assert states(filled, asked) == [("failed", "Its reference is damaged."), ("done", "")]


def test_a_process_that_is_killed_in_the_middle_begins_again_and_is_given_up_in_the_end(
    filled: Library, asked: tuple[int, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    def dies(order: dict[str, Any], out: child_processes.Out) -> None:
        if order["panels"][0]["row"] == asked[0]:
            out.answer(json.dumps(FOUND).encode(), row=asked[0])

    child = with_child(monkeypatch, Child(dies))
    PanelReader(filled).work_through()
    assert [len(order["panels"]) for order in child.orders] == [2, 1, 1], "what was told stays told"
    (first, _), (second, reason) = states(filled, asked)
    assert (first, second) == (WorkState.DONE, WorkState.FAILED)
    assert "3 times" in reason


def test_what_was_being_read_when_the_server_ended_waits_again(
    filled: Library, asked: tuple[int, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    examinations.claim_panels(filled)
    examinations.resume(filled)
    assert states(filled, asked) == [("running", "")] * 2, "the measuring process leaves it alone"
    while (other := examinations.claim(filled)) is not None:
        assert other.id not in asked
    child = with_child(monkeypatch, Child(answers_all))
    reader = PanelReader(filled)
    reader.start()
    reader.stop()
    again = PanelReader(filled)
    again.work_through()
    assert [state for state, _ in states(filled, asked)] == ["done", "done"]
    assert len(child.orders) <= 2
