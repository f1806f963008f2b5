"""What stands on the inbox: what a file was recognised as, and where it could go."""

import io
import math
from array import array
from dataclasses import replace
from pathlib import Path

import pytest
from small_session import SmallSession, attach, bring_in, put_on_shelf, step_of, tone, wav
from watching import Desk

from app.desk.arrivals import filing, inbox, printing
from app.desk.files.check import check_library
from app.desk.measuring import examinations
from app.desk.passes import passes
from app.desk.passes.pass_sheets import read_pass
from app.desk.prints import microphones, prints, referred_files
from app.desk.recall import runs, tries
from app.desk.refusals import Refusal
from app.library import Library
from app.records import SourceTrack
from app.signal.figures import Identification, RankedSource, to_json


@pytest.fixture
def desk(filled: Library, session: SmallSession, tmp_path: Path) -> Desk:
    (tmp_path / "takes").mkdir()
    inbox.leave_all(filled, session.project)
    return Desk(filled, tmp_path / "takes", session.project)


def answered(desk: Desk, best: int | None, delay: float | None = None) -> None:
    """The questions about all that arrived, answered as the measuring process would."""
    with desk.library.reading() as reading:
        file_id = None if best is None else reading.get_one(SourceTrack, best).file_id
    while (asked := examinations.claim(desk.library)) is not None:
        named = str(file_id)
        ranking = (RankedSource(named, 0.98 if best else 0.1, delay),)
        examinations.finish(desk.library, asked.id, to_json(Identification(named if best else None, ranking)))


def test_a_print_is_offered_to_its_sources_newest_pass_without_one(desk: Desk, session: SmallSession) -> None:
    desk.put("take.wav", tone(0.4, hz=340))
    desk.settle()
    (offer,) = inbox.read_inbox(desk.library, session.project).offers
    assert offer.state == "coming"
    answered(desk, session.bass, 231.4)
    sheet = inbox.read_inbox(desk.library, session.project)
    (offer,) = sheet.offers
    assert offer.state == "found"
    assert offer.source is not None
    assert offer.source.name == "bass DI"
    assert offer.files[0].delay_samples == 231.4
    assert offer.source.is_new_likelier, "all three passes have a print"
    likely = offer.source.likely_pass
    assert likely is not None
    assert likely.number == 3
    prints.delete_print(desk.library, session.prints[1])
    (offer,) = inbox.read_inbox(desk.library, session.project).offers
    assert offer.source is not None
    likely = offer.source.likely_pass
    assert likely is not None
    assert (likely.number, offer.source.is_new_likelier) == (2, False)


def test_what_arrives_while_a_recall_is_open_is_offered_as_a_try(desk: Desk, session: SmallSession) -> None:
    for row in runs.list_recalls(desk.library, session.passes[2]):
        runs.finish(desk.library, row.recall_id, "")
    recall_id = runs.begin(desk.library, session.passes[2])
    desk.put("take.wav", tone(0.4, hz=348))
    desk.settle()
    answered(desk, session.bass, 3.0)
    (offer,) = inbox.read_inbox(desk.library, session.project).offers
    assert offer.likeliest == "try"
    assert (offer.recalls[0].recall_id, offer.recalls[0].pass_number) == (recall_id, 3)
    tries.take_arrival(desk.library, recall_id, offer.arrival_id)
    (made,) = tries.read_tries(desk.library, recall_id).tries
    assert (made.file_name, made.original_print_id) == ("take.wav", session.prints[2])
    assert not inbox.read_inbox(desk.library, session.project).offers
    runs.finish(desk.library, recall_id, "")
    desk.put("more.wav", tone(0.4, hz=349))
    desk.settle()
    answered(desk, session.bass, 3.0)
    (offer,) = inbox.read_inbox(desk.library, session.project).offers
    assert recall_id not in {recall.recall_id for recall in offer.recalls}


def test_a_print_of_none_of_the_sources_says_so(desk: Desk, session: SmallSession) -> None:
    desk.put("take.wav", tone(0.4, hz=341))
    desk.settle()
    answered(desk, None)
    (offer,) = inbox.read_inbox(desk.library, session.project).offers
    assert (offer.state, offer.source) == ("none", None)


def test_files_recorded_at_once_are_one_offer(desk: Desk, session: SmallSession) -> None:
    desk.put("b.wav", tone(0.4, hz=342), at_s=1.6e9)
    desk.put("a.wav", tone(0.4, hz=343), at_s=1.6e9)
    desk.put("other.wav", tone(0.9, hz=344), at_s=1.6e9)
    desk.settle()
    answered(desk, session.bass, 3.0)
    offers = inbox.read_inbox(desk.library, session.project).offers
    assert sorted([line.path for line in offer.files] for offer in offers) == [
        ["a.wav", "b.wav"],
        ["other.wav"],
    ]


def test_a_new_pass_like_the_last_takes_them_all(desk: Desk, session: SmallSession) -> None:
    for name, hz in (("near.wav", 345), ("far.wav", 346)):
        desk.put(name, tone(0.4, hz=hz), at_s=1.6e9)
    desk.settle()
    (offer,) = inbox.read_inbox(desk.library, session.project).offers
    made = inbox.file_as_new_pass(desk.library, offer.arrival_id, session.bass)
    sheet = read_pass(desk.library, made)
    assert sheet.number == 4
    assert [step.gear_name for step in sheet.steps] == [
        step.gear_name for step in read_pass(desk.library, session.passes[2]).steps
    ]
    assert sorted(item.label for item in sheet.prints) == ["far", "near"]
    with pytest.raises(Refusal):
        inbox.file_as_new_pass(desk.library, offer.arrival_id, session.bass)
    assert len(inbox.read_inbox(desk.library, session.project).lately) == 2


def test_a_print_taken_off_its_pass_stands_on_the_inbox_again(desk: Desk, session: SmallSession) -> None:
    printing.wait_for_print(desk.library, session.passes[0])
    desk.put("take.wav", tone(0.4, hz=347))
    desk.settle()
    assert inbox.count_open(desk.library, session.project) == 0
    prints.delete_print(desk.library, read_pass(desk.library, session.passes[0]).prints[-1].print_id)
    assert inbox.count_open(desk.library, session.project) == 1
    inbox.leave_all(desk.library, session.project)
    assert inbox.count_open(desk.library, session.project) == 0


def test_the_token_is_another_as_soon_as_anything_is(desk: Desk, session: SmallSession) -> None:
    before = inbox.read_inbox(desk.library, session.project).token
    assert inbox.read_inbox(desk.library, session.project).token == before
    desk.put("take.wav", tone(0.4, hz=348))
    desk.settle()
    coming = inbox.read_inbox(desk.library, session.project).token
    answered(desk, session.bass, 1.0)
    found = inbox.read_inbox(desk.library, session.project).token
    assert len({before, coming, found}) == 3


def test_a_project_without_a_watched_folder_has_no_inbox_to_count(
    library: Library, session: SmallSession
) -> None:
    from app.desk.projects.projects import ProjectEntry, create_project

    project = create_project(library, ProjectEntry("Nothing watched"))
    assert inbox.count_open(library, project) is None
    assert not inbox.read_inbox(library, project).is_watched


@pytest.fixture
def referred(filled: Library, session: SmallSession, tmp_path: Path) -> tuple[Desk, Path, int]:
    """A print whose file stayed in its folder, and its id."""
    (tmp_path / "takes").mkdir()
    desk = Desk(filled, tmp_path / "takes", session.project, "refer")
    printing.wait_for_print(filled, session.passes[0])
    path = desk.put("take.wav", tone(0.1, hz=350))
    desk.settle()
    return desk, path, read_pass(filled, session.passes[0]).prints[-1].print_id


def print_of(desk: Desk, session: SmallSession) -> tuple[str, str]:
    item = read_pass(desk.library, session.passes[0]).prints[-1]
    return item.referred_to, item.problem


def test_check_reads_a_referred_file_where_it_lies(referred: tuple[Desk, Path, int]) -> None:
    desk, path, _ = referred
    assert check_library(desk.library.folder).problems == ()
    path.write_bytes(tone(0.1, hz=351))
    (problem,) = check_library(desk.library.folder).problems
    assert problem == f"{path}, which was left where it is, has changed since."
    path.unlink()
    (problem,) = check_library(desk.library.folder).problems
    assert "cannot be read (No such file or directory)" in problem


def test_a_referred_file_is_brought_in_after_all(
    referred: tuple[Desk, Path, int], session: SmallSession
) -> None:
    desk, path, print_id = referred
    assert print_of(desk, session) == (str(path), "")
    referred_files.bring_in(desk.library, print_id)
    path.unlink()
    desk.look()
    assert print_of(desk, session) == ("", "")
    assert check_library(desk.library.folder).problems == ()


def test_a_referred_file_that_changed_is_not_brought_in(
    referred: tuple[Desk, Path, int], session: SmallSession
) -> None:
    desk, path, print_id = referred
    stored = desk.library.files.names()
    path.write_bytes(tone(0.1, hz=352))
    with pytest.raises(Refusal, match="not what it was"):
        referred_files.bring_in(desk.library, print_id)
    assert desk.library.files.names() == stored
    path.unlink()
    with pytest.raises(Refusal, match="is not at"):
        referred_files.bring_in(desk.library, print_id)


def test_looking_again_tells_a_changed_file_from_one_of_another_date(
    referred: tuple[Desk, Path, int], session: SmallSession
) -> None:
    import os

    desk, path, print_id = referred
    original = path.read_bytes()
    path.write_bytes(tone(0.1, hz=353))
    referred_files.look_again(desk.library, print_id)
    assert "was changed" in print_of(desk, session)[1]
    path.write_bytes(original)
    os.utime(path, (1.5e9, 1.5e9))
    referred_files.look_again(desk.library, print_id)
    assert print_of(desk, session)[1] == ""


def test_sources_of_the_same_file_are_one_candidate(desk: Desk, session: SmallSession) -> None:
    bring_in(desk.library, session.project, "bass DI again", tone(0.5))
    attach(desk.library, session.passes[0], tone(0.1, hz=354))
    desk.put("take.wav", tone(0.4, hz=355))
    desk.settle()
    answered(desk, session.bass, 1.0)
    (offer,) = inbox.read_inbox(desk.library, session.project).offers
    assert offer.source is not None
    assert offer.source.name == "bass DI"


def remarks(desk: Desk, session: SmallSession) -> dict[str, tuple[str, ...]]:
    offers = inbox.read_inbox(desk.library, session.project).offers
    return {line.path: line.remarks for offer in offers for line in offer.files}


def test_what_a_header_tells_is_said_before_anything_is_measured(desk: Desk, session: SmallSession) -> None:
    desk.put("slow.wav", tone(0.4, hz=361, sample_rate=44_100))
    desk.put("right.wav", tone(0.6, hz=362))
    desk.settle()
    assert remarks(desk, session) == {
        "slow.wav": ("is at 44.1 kHz, the project at 48 kHz",),
        "right.wav": (),
    }
    answered(desk, session.bass, 12.0)
    assert remarks(desk, session)["slow.wav"] == ("is at 44.1 kHz, its source at 48 kHz",)


def test_a_stereo_file_that_holds_no_more_than_a_mono_one_is_told_at_arrival(
    desk: Desk, session: SmallSession
) -> None:
    left = array("h", (round(9000 * math.sin(at / 7)) for at in range(20_000)))
    other = array("h", (round(9000 * math.sin(at / 9)) for at in range(20_000)))
    for at, (name, right) in enumerate(
        {"same.wav": left, "silent.wav": array("h", bytes(40_000)), "apart.wav": other}.items()
    ):
        both = array("h", (sample for pair in zip(left, right, strict=True) for sample in pair))
        desk.put(name, wav(both.tobytes(), channels=2), at_s=1.6e9 + 100 * at)
    desk.settle()
    assert remarks(desk, session) == {
        "same.wav": ("stereo, but both channels hold the same: a mono file holds as much",),
        "silent.wav": ("stereo, but one channel is silent: a mono file holds as much",),
        "apart.wav": (),
    }


def test_a_file_that_is_the_same_as_another_print_is_told_while_a_pass_waits(
    desk: Desk, session: SmallSession
) -> None:
    desk.put("take 1.wav", tone(0.4, hz=363))
    desk.settle()
    desk.put("take 2.wav", tone(0.4, hz=363))
    desk.settle()
    (line,) = inbox.read_inbox(desk.library, session.project).known
    assert (line.path, line.reason) == ("take 2.wav", "The same audio as “take 1.wav”, which came in before.")


def test_each_file_of_an_offer_is_said_to_be_of_a_microphone(desk: Desk, session: SmallSession) -> None:
    room = put_on_shelf(desk.library, "room microphone", "microphone")
    entry = passes.entry_for_next(desk.library, session.bass)
    both = passes.log_pass(
        desk.library, session.bass, replace(entry, steps=(*entry.steps, step_of(desk.library, room)))
    )
    for name, hz in (("Audio 1.wav", 364), ("Audio 2.wav", 365)):
        desk.put(name, tone(0.4, hz=hz), at_s=1.6e9)
    desk.settle()
    answered(desk, session.bass, 12.0)
    (offer,) = inbox.read_inbox(desk.library, session.project).offers
    assert offer.source is not None
    names = {one.gear_id: one.name for one in offer.source.returns}
    assert [names[line.of or 0] for line in offer.files] == ["small ribbon microphone", "room microphone"]
    first, second = offer.files
    filing.file_under(
        desk.library, offer.arrival_id, both, {first.arrival_id: room, second.arrival_id: session.near_mic}
    )
    assert {item.file_name: item.name for item in read_pass(desk.library, both).prints} == {
        "Audio 1.wav": "room microphone",
        "Audio 2.wav": "small ribbon microphone",
    }


def test_files_that_nobody_told_apart_are_asked_about(desk: Desk, session: SmallSession) -> None:
    room = put_on_shelf(desk.library, "room microphone", "microphone")
    entry = passes.entry_for_next(desk.library, session.bass)
    both = passes.log_pass(
        desk.library, session.bass, replace(entry, steps=(*entry.steps, step_of(desk.library, room)))
    )
    audio = [(f"Audio {number}.wav", io.BytesIO(tone(0.2, hz=370 + number))) for number in (1, 2)]
    assert microphones.attach_prints(desk.library, both, audio) == {}
    sheet = read_pass(desk.library, both)
    assert [item.name for item in sheet.prints] == ["Audio 1.wav", "Audio 2.wav"]
    assert sheet.asks_microphone
    asked = microphones.asked_of(sheet)
    steps = {step.step_id: step.gear_name for step in sheet.steps}
    assert [steps[one.guess or 0] for one in asked] == ["small ribbon microphone", "room microphone"]
    microphones.say_microphones(desk.library, both, {one.print_id: one.guess for one in asked})
    told = read_pass(desk.library, both)
    assert [item.name for item in told.prints] == ["small ribbon microphone", "room microphone"]
    assert microphones.asked_of(told) == ()


def test_files_attached_at_once_are_told_by_their_names(desk: Desk, session: SmallSession) -> None:
    room = put_on_shelf(desk.library, "room microphone", "microphone")
    entry = passes.entry_for_next(desk.library, session.bass)
    both = passes.log_pass(
        desk.library, session.bass, replace(entry, steps=(*entry.steps, step_of(desk.library, room)))
    )
    audio = [
        (f"{name}.wav", io.BytesIO(tone(0.2, hz=380 + at))) for at, name in enumerate(("room", "ribbon"))
    ]
    microphones.attach_prints(desk.library, both, audio)
    assert [item.name for item in read_pass(desk.library, both).prints] == [
        "room microphone",
        "small ribbon microphone",
    ]


def test_a_print_called_after_its_microphone_is_called_after_the_other_once_that_is_said(
    desk: Desk, session: SmallSession
) -> None:
    pass_id = session.passes[0]
    item = read_pass(desk.library, pass_id).prints[0]
    prints.edit_print(desk.library, item.print_id, label=item.microphone, step_id=item.step_id)
    chain = {step.gear_name: step.step_id for step in read_pass(desk.library, pass_id).steps}
    microphones.say_microphones(desk.library, pass_id, {item.print_id: chain["silicon fuzz"]})
    assert read_pass(desk.library, pass_id).prints[0].name == "silicon fuzz"
