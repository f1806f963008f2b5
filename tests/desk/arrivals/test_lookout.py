"""Files in a watched folder: noticed by content, taken in once they are whole, and once only."""

import os
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from small_session import SmallSession, attach, put_on_shelf, step_of, tone
from watching import Desk

from app.desk.arrivals import filing, printing, watched_folders
from app.desk.arrivals.lookout import PATIENCE_S, STILL_S
from app.desk.measuring import measurements
from app.desk.passes import passes
from app.desk.passes.pass_sheets import read_pass
from app.library import Library
from app.records import Arrival, Examination, ReferredFile, StoredFile


@pytest.fixture
def desk(filled: Library, session: SmallSession, tmp_path: Path) -> Desk:
    (tmp_path / "takes").mkdir()
    return Desk(filled, tmp_path / "takes", session.project)


@pytest.fixture
def referring(filled: Library, session: SmallSession, tmp_path: Path) -> Desk:
    (tmp_path / "takes").mkdir()
    return Desk(filled, tmp_path / "takes", session.project, "refer")


def test_a_file_is_taken_in_once_two_looks_two_seconds_apart_find_it_the_same(desk: Desk) -> None:
    desk.put("take.wav", tone(0.1, hz=301))
    assert desk.look().on_its_way
    assert desk.states() == {"take.wav": "growing"}
    assert desk.look(STILL_S - 0.1).on_its_way, "not two seconds yet"
    looked = desk.look(0.2)
    assert (looked.on_its_way, looked.settled) == (False, 1)
    assert desk.states() == {"take.wav": "offered"}
    assert desk.look().settled == 0


def test_what_a_page_shows_of_a_folder_is_news_once(desk: Desk) -> None:
    assert not desk.look().is_news
    path = desk.put("take.wav", tone(0.1, hz=311))
    assert desk.look().is_news, "it is on its way"
    assert not desk.look(STILL_S / 2).is_news
    assert desk.look(STILL_S).is_news, "it is taken in"
    assert not desk.look().is_news
    path.unlink()
    assert desk.look().is_news
    desk.folder.rename(desk.folder.with_name("elsewhere"))
    assert desk.look().is_news, "the folder cannot be reached"
    assert not desk.look().is_news


def test_a_file_that_grows_is_waited_for(desk: Desk) -> None:
    whole = tone(0.2, hz=302)
    for part in (5000, 9000, 13_000):
        desk.put("take.wav", whole[:part])
        desk.look()
        assert desk.states() == {"take.wav": "growing"}
    desk.put("take.wav", whole)
    desk.settle()
    assert desk.states() == {"take.wav": "offered"}
    with desk.library.reading() as session:
        stored = session.get_one(StoredFile, desk.rows()["take.wav"].file_id)
    assert desk.library.files.path(stored.sha256).read_bytes() == whole


def test_a_header_that_says_the_take_is_not_over_is_given_a_minute(desk: Desk) -> None:
    audio = bytearray(tone(0.1, hz=303))
    audio[40:44] = bytes(4)  # the size of the samples, which many a DAW writes last
    desk.put("take.wav", bytes(audio))
    desk.settle()
    desk.look(10)
    assert desk.states() == {"take.wav": "growing"}
    desk.look(PATIENCE_S)
    assert desk.states() == {"take.wav": "offered"}
    assert not filing.found_of(desk.rows()["take.wav"]).is_finished


def test_content_decides_not_the_name(desk: Desk) -> None:
    desk.put("notes.wav", b"words about the take")
    desk.put("peaks.dat", b"\0" * 4000)
    desk.put(".hidden.wav", tone(0.1, hz=304))
    desk.put("nameless", tone(0.1, hz=305))
    desk.settle()
    assert desk.states() == {"nameless": "offered"}


def test_a_file_that_becomes_audio_later_is_noticed(desk: Desk) -> None:
    desk.put("take.wav", b"")
    desk.settle()
    assert desk.states() == {}
    desk.put("take.wav", tone(0.1, hz=306))
    desk.settle()
    assert desk.states() == {"take.wav": "offered"}


def test_what_was_there_before_is_left_and_can_be_brought_in(
    filled: Library, session: SmallSession, tmp_path: Path
) -> None:
    folder = tmp_path / "takes"
    folder.mkdir()
    hour_ago = time.time() - 3600
    for number in range(40):
        (folder / f"old {number}.wav").write_bytes(tone(0.01, hz=400 + number))
        os.utime(folder / f"old {number}.wav", (hour_ago, hour_ago))
    (folder / "just being recorded.wav").write_bytes(tone(0.01, hz=300))
    desk = Desk(filled, folder, session.project)
    desk.settle()
    states = desk.states()
    assert states.pop("just being recorded.wav") == "offered"
    assert set(states.values()) == {"left"}
    chosen = [desk.rows()["old 3.wav"].id, desk.rows()["old 4.wav"].id]
    assert filing.bring_in(filled, session.project, chosen) == 2
    desk.settle()
    assert desk.states()["old 3.wav"] == "offered"
    assert desk.states()["old 5.wav"] == "left"


def test_an_old_file_that_is_called_otherwise_now_stays_left(
    filled: Library, session: SmallSession, tmp_path: Path
) -> None:
    folder = tmp_path / "takes"
    folder.mkdir()
    (folder / "old.wav").write_bytes(tone(0.01, hz=400))
    os.utime(folder / "old.wav", (1.0e9, 1.0e9))
    desk = Desk(filled, folder, session.project)
    (folder / "old.wav").rename(folder / "older.wav")
    desk.settle()
    assert desk.states() == {"older.wav": "left"}


def test_a_renamed_take_does_not_arrive_twice(desk: Desk) -> None:
    desk.put("take.wav", tone(0.1, hz=307))
    desk.settle()
    (desk.folder / "take.wav").rename(desk.folder / "keeper.wav")
    desk.settle()
    (row,) = desk.rows().values()
    assert (row.path, row.state, row.missing_since) == ("keeper.wav", "offered", None)


def test_the_same_audio_under_two_names_arrives_once(desk: Desk) -> None:
    desk.put("a.wav", tone(0.1, hz=308))
    desk.settle()
    desk.put("b.wav", tone(0.1, hz=308))
    desk.settle()
    assert desk.states() == {"a.wav": "offered", "b.wav": "left"}
    assert "a.wav" in desk.rows()["b.wav"].reason


def test_two_files_of_the_same_name_in_subfolders_are_two(desk: Desk) -> None:
    desk.put("monday/take.wav", tone(0.1, hz=309))
    desk.put("tuesday/take.wav", tone(0.1, hz=310))
    desk.settle()
    assert desk.states() == {"monday/take.wav": "offered", "tuesday/take.wav": "offered"}


def test_a_rewritten_take_is_a_new_arrival_that_says_so(desk: Desk, session: SmallSession) -> None:
    printing.wait_for_print(desk.library, session.passes[1])
    desk.put("take.wav", tone(0.1, hz=311))
    desk.settle()
    assert desk.states() == {"take.wav": "taken"}
    desk.put("take.wav", tone(0.2, hz=312))
    desk.settle()
    row = desk.rows()["take.wav"]
    assert row.state == "offered"
    assert row.reason == filing.REWRITTEN
    assert len(read_pass(desk.library, session.passes[1]).prints) == 2, "the earlier version stays a print"


def test_a_take_that_was_only_touched_is_no_news(desk: Desk) -> None:
    path = desk.put("take.wav", tone(0.1, hz=313))
    desk.settle()
    before = desk.rows()["take.wav"]
    os.utime(path, (1.5e9, 1.5e9))
    desk.settle()
    after = desk.rows()["take.wav"]
    assert (after.id, after.state, after.modified_ns) == (before.id, "offered", int(1.5e18))


def test_a_deleted_take_is_told_and_one_that_comes_back_too(desk: Desk) -> None:
    audio = tone(0.1, hz=314)
    path = desk.put("take.wav", audio, at_s=1.6e9)
    desk.settle()
    path.unlink()
    desk.look()
    assert desk.rows()["take.wav"].missing_since is not None
    assert desk.states() == {"take.wav": "offered"}, "the library has its copy"
    desk.put("take.wav", audio, at_s=1.6e9)
    desk.settle()
    assert desk.rows()["take.wav"].missing_since is None


def test_a_folder_that_cannot_be_reached_is_told_and_nothing_counts_as_deleted(desk: Desk) -> None:
    desk.put("take.wav", tone(0.1, hz=315))
    desk.settle()
    away = desk.folder.with_name("unplugged")
    desk.folder.rename(away)
    desk.look()
    assert "cannot be reached" in watched_folders.read_folder(desk.library, desk.folder_id).problem
    assert desk.rows()["take.wav"].missing_since is None
    away.rename(desk.folder)
    desk.look()
    assert watched_folders.read_folder(desk.library, desk.folder_id).problem == ""


def test_the_source_itself_is_no_print(desk: Desk, session: SmallSession) -> None:
    desk.put("di.wav", tone(0.5))
    desk.settle()
    assert desk.states() == {"di.wav": "left"}
    assert "bass DI" in desk.rows()["di.wav"].reason


def test_what_was_attached_by_hand_is_not_offered(desk: Desk, session: SmallSession) -> None:
    attach(desk.library, session.passes[0], tone(0.1, hz=316))
    desk.put("take.wav", tone(0.1, hz=316))
    desk.settle()
    assert desk.states() == {"take.wav": "taken"}
    assert len(read_pass(desk.library, session.passes[0]).prints) == 2


def test_the_files_of_a_watched_folder_are_never_written_to(desk: Desk) -> None:
    path = desk.put("take.wav", tone(0.1, hz=317), at_s=1.6e9)
    path.chmod(0o444)
    before = (path.read_bytes(), path.stat().st_mtime_ns, path.stat().st_mode, sorted(desk.folder.iterdir()))
    desk.settle()
    desk.look()
    assert desk.states() == {"take.wav": "offered"}
    assert before == (
        path.read_bytes(),
        path.stat().st_mtime_ns,
        path.stat().st_mode,
        sorted(desk.folder.iterdir()),
    )


@pytest.mark.parametrize("keeps", ["copy", "refer"])
def test_whenever_the_server_is_killed_nothing_is_lost_and_nothing_is_there_twice(
    filled: Library, session: SmallSession, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, keeps: str
) -> None:
    """Ended before and after each step of taking a file in, one step later each time."""
    (tmp_path / "takes").mkdir()
    desk = Desk(filled, tmp_path / "takes", session.project, keeps)
    for number in range(4):
        desk.put(f"take {number}.wav", tone(0.05, hz=330 + number))
    steps = 0
    original = filing.settle

    class Killed(BaseException):
        pass

    def killed_at(step: int) -> Callable[..., None]:
        def settle(*of: object, **named: object) -> None:
            nonlocal steps
            steps += 1
            if steps == step:
                raise Killed
            original(*of, **named)  # type: ignore[arg-type]
            if steps + 100 == step:
                raise Killed

        return settle

    for step in (1, 2, 101, 3, 102):
        steps = 0
        monkeypatch.setattr(filing, "settle", killed_at(step))
        desk.begin_anew()
        desk.library.files.empty_incoming()
        try:
            desk.settle()
        except Killed:
            continue
    monkeypatch.setattr(filing, "settle", original)
    desk.begin_anew()
    desk.settle()
    with filled.reading() as reading:
        arrived = reading.query(Arrival).filter_by(folder_id=desk.folder_id).all()
    assert sorted((row.path, row.state) for row in arrived) == [
        (f"take {number}.wav", "offered") for number in range(4)
    ]
    assert len({row.file_id for row in arrived}) == 4


def test_the_print_of_the_pass_that_waits_goes_there(desk: Desk, session: SmallSession) -> None:
    first = session.passes[0]
    printing.wait_for_print(desk.library, session.passes[1])
    printing.wait_for_print(desk.library, first)
    desk.put("audio 07.wav", tone(0.1, hz=318))
    desk.settle()
    sheet = read_pass(desk.library, first)
    assert sheet.prints[-1].file_name == "audio 07.wav"
    assert sheet.prints[-1].measured.is_coming
    assert printing.read_pass_printing(desk.library, first).waiting_since is None
    assert len(read_pass(desk.library, session.passes[1]).prints) == 1, "one pass waits at a time"
    desk.put("audio 08.wav", tone(0.3, hz=319))
    desk.settle()
    assert desk.states()["audio 08.wav"] == "offered", "nobody waits for a second one"


def test_a_file_that_was_written_before_the_pass_waited_is_not_its_print(
    desk: Desk, session: SmallSession
) -> None:
    printing.wait_for_print(desk.library, session.passes[0])
    desk.put("earlier.wav", tone(0.1, hz=320), at_s=time.time() - 30)
    desk.settle()
    assert desk.states() == {"earlier.wav": "offered"}
    assert printing.read_pass_printing(desk.library, session.passes[0]).waiting_since is not None


def test_microphones_recorded_at_once_become_prints_of_one_pass(desk: Desk, session: SmallSession) -> None:
    room = put_on_shelf(desk.library, "room microphone", "microphone")
    entry = passes.entry_for_next(desk.library, session.bass)
    entry = replace(entry, steps=(*entry.steps, step_of(desk.library, room)))
    both = passes.log_pass(desk.library, session.bass, entry)
    printing.wait_for_print(desk.library, both)
    ended_s = time.time()
    desk.put("small ribbon microphone_01.wav", tone(0.4, hz=321), at_s=ended_s)
    desk.put("Room-Microphone take 3.wav", tone(0.4, hz=322), at_s=ended_s + 0.01)
    desk.settle()
    desk.put("talkback.wav", tone(3.0, hz=323))
    desk.settle()
    sheet = read_pass(desk.library, both)
    steps = {step.step_id: step.gear_name for step in sheet.steps}
    assert sorted((item.name, steps[item.step_id or 0]) for item in sheet.prints) == [
        ("room microphone", "room microphone"),
        ("small ribbon microphone", "small ribbon microphone"),
    ]
    assert desk.states()["talkback.wav"] == "offered", "it is longer than the others"


def test_a_file_of_a_proposed_name_needs_no_guess(desk: Desk, session: SmallSession) -> None:
    desk.put("bass DI_pass 3_small ribbon microphone-02.wav", tone(0.1, hz=324))
    printing.wait_for_print(desk.library, session.passes[0])
    desk.settle()
    assert read_pass(desk.library, session.passes[2]).prints[-1].name == "small ribbon microphone"
    assert printing.read_pass_printing(desk.library, session.passes[0]).waiting_since is not None


def test_what_nobody_waits_for_is_identified_against_the_sources(desk: Desk) -> None:
    desk.put("a.wav", tone(0.4, hz=325), at_s=1.6e9)
    desk.put("b.wav", tone(0.4, hz=326), at_s=1.6e9 + 0.01)
    desk.put("the take after.wav", tone(0.4, hz=326.5), at_s=1.6e9 + 0.45)
    desk.settle()
    with desk.library.reading() as session:
        asked = session.query(Examination).all()
    a, b = desk.rows()["a.wav"], desk.rows()["b.wav"]
    assert {a.file_id, b.file_id} <= {row.file_id for row in asked if row.kind == "identify"}
    assert a.together == b.together != ""
    assert desk.rows()["the take after.wav"].together == "", "it ended a take later"


def test_arrivals_are_filed_by_hand_together_or_apart(desk: Desk, session: SmallSession) -> None:
    for name, hz in (("a.wav", 327), ("b.wav", 328), ("c.wav", 329)):
        desk.put(name, tone(0.4, hz=hz), at_s=1.6e9)
    desk.settle()
    filing.part(desk.library, desk.rows()["c.wav"].id)
    filing.file_under(desk.library, desk.rows()["b.wav"].id, session.passes[1])
    assert desk.states() == {"a.wav": "taken", "b.wav": "taken", "c.wav": "offered"}
    filing.leave(desk.library, desk.rows()["c.wav"].id)
    assert desk.rows()["c.wav"].state == "left"
    assert desk.rows()["c.wav"].file_id is None, "its copy may be tidied away"
    with pytest.raises(Exception, match="filed or left already"):
        filing.file_under(desk.library, desk.rows()["a.wav"].id, session.passes[0])


def test_a_referred_file_stays_where_it_is_and_is_told_when_it_changed_or_vanished(
    referring: Desk, session: SmallSession
) -> None:
    path = referring.put("take.wav", tone(0.1, hz=330))
    stored_before = referring.library.files.names()
    referring.settle()
    assert referring.library.files.names() == stored_before

    def problem() -> str:
        with referring.library.reading() as reading:
            return reading.query(ReferredFile).one().problem

    assert problem() == ""
    path.write_bytes(tone(0.1, hz=331))
    referring.look()
    assert "was changed" in problem()
    path.unlink()
    referring.look()
    assert "is not at" in problem()


def test_a_referred_take_that_was_renamed_is_followed(referring: Desk) -> None:
    referring.put("take.wav", tone(0.1, hz=332)).rename(referring.folder / "first.wav")
    referring.settle()
    (referring.folder / "first.wav").rename(referring.folder / "second.wav")
    referring.settle()
    with referring.library.reading() as session:
        referred = session.query(ReferredFile).one()
    assert Path(referred.path).name == "second.wav"
    assert referred.problem == ""


def test_nothing_is_measured_while_a_pass_of_a_quiet_project_waits(desk: Desk, session: SmallSession) -> None:
    attach(desk.library, session.passes[0], tone(0.1, hz=333))
    quiet = replace(printing.printing_entry(desk.library, session.project), quiet="yes")
    printing.set_printing(desk.library, session.project, quiet)
    printing.wait_for_print(desk.library, session.passes[1])
    assert measurements.claim(desk.library) is None
    desk.put("take.wav", tone(0.1, hz=334))
    desk.settle()
    assert measurements.claim(desk.library) is not None, "the print is there: measuring goes on"
    printing.wait_for_print(desk.library, session.passes[1])
    assert measurements.claim(desk.library) is None
    printing.call_off(desk.library, session.passes[1])
    assert measurements.claim(desk.library) is not None
