"""From a picture to readings in the column of the next pass: marked once on the shelf, read while one jots, taken over when asked."""

import errno
import html
import io
import json
import pickle
import re
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

import cv2
import pytest
from page_reader import page_of, words
from small_session import SmallSession, picture, put_on_shelf
from sqlalchemy import update
from starlette.testclient import TestClient

from app.desk import child_processes
from app.desk.files.check import check_library
from app.desk.files.cleaned_pictures import cleaned_picture
from app.desk.files.pictures import CleanPicture
from app.desk.measuring import examinations
from app.desk.passes import drafts
from app.desk.passes.field_names import ReadingField
from app.desk.passes.pass_sheets import read_pass
from app.desk.photos import panel_photos, panel_reader, panel_readings
from app.desk.photos.panel_photos import MarkEntry, PanelEntry
from app.desk.photos.panel_reader import PanelReader
from app.desk.photos.photos import add_photo, add_to_draft, delete_photo
from app.desk.processes import reading_panels
from app.desk.recall import camera, runs
from app.desk.refusals import NotThere, Refusal
from app.desk.shelf import gear
from app.desk.shelf.control_entries import ControlEntry
from app.library import Library
from app.records import Examination, Photo, WorkState
from app.trade.readings import read
from app.trade.travel import angle_deg, clock_text
from tests.kept_between_runs import kept
from tests.panels.conftest import READ_BY, Pictures
from tests.panels.rendered.invented import Body


@dataclass(frozen=True)
class Bench:
    """A piece of gear whose panel is the invented one, its reference photos, and the draft of a pass with it in the chain."""

    gear_id: int
    photos: tuple[int, ...]
    draft_id: int
    knobs: dict[str, Body]
    names: dict[int, str]

    def truth(self, pictures: Pictures, field: str) -> float:
        control_id = int(field.rpartition("-")[2])
        return pictures.ordinary.truths[self.names[control_id]].stands_at


@pytest.fixture
def bench(filled: Library, session: SmallSession, pictures: Pictures) -> Bench:
    knobs = {body.key: body for body in pictures.labelled.panel.bodies if body.kind == "knob"}
    controls = tuple(ControlEntry(name=key, scale="clock") for key in knobs)
    gear_id = put_on_shelf(filled, "Panel under the lamp", "pedal", *controls)
    photos = []
    for at in (0, 1):
        name = f"reference_{at}.jpg"
        stream = io.BytesIO((pictures.folder / name).read_bytes())
        photo_id = add_photo(filled, name, stream, gear_id=gear_id)
        panel_photos.mark_panel(filled, photo_id, marked(filled, photo_id, pictures, at))
        photos.append(photo_id)
    draft = drafts.open_draft(filled, session.bass)
    drafts.add_gear(filled, draft.draft_id, "", gear_id)
    newest = gear.read_gear(filled, gear_id).newest
    names = {control.control_id: control.spec.name for control in newest.controls}
    return Bench(gear_id, tuple(photos), draft.draft_id, knobs, names)


STATES = ("down", "up")


def marked(library: Library, photo_id: int, pictures: Pictures, at: int) -> PanelEntry:
    """What a person would mark in a reference photo, from its description."""
    described = json.loads(pictures.labelled.description.read_text())["photos"][at]
    by_key: dict[str, Any] = {control["key"]: control for control in described["controls"]}
    high, wide = cv2.imread(str(pictures.folder / described["path"])).shape[:2]

    def percent(place: list[float]) -> tuple[str, str]:
        return f"{100 * place[0] / wide:.3f}", f"{100 * place[1] / high:.3f}"

    marks = {}
    for control in panel_photos.read_panel(library, photo_id).controls:
        said = by_key[control.spec.name]
        is_knob = said["kind"] == "knob"
        stands = clock_text(said["stands_at"]) if is_knob else STATES[int(said["stands_at"])]
        look = said["mark"] if is_knob else said["kind"]
        marks[control.control_id] = MarkEntry(look, *percent(said["centre"]), *percent(said["edge"]), stands)
    return PanelEntry(tuple(text for corner in described["corners"] for text in percent(corner)), marks)


CLEANED: dict[str, CleanPicture] = {}
"""The pictures that are shown of a photo, by its file: cleaning them has tests of its own."""


@pytest.fixture(autouse=True)
def cleaned_once(monkeypatch: pytest.MonkeyPatch) -> None:
    def cleaned(path: Path) -> CleanPicture:
        if path.name not in CLEANED:
            CLEANED[path.name] = cleaned_picture(path)
        return CLEANED[path.name]

    monkeypatch.setattr("app.desk.photos.photos.cleaned_picture", cleaned)


class Answers(child_processes.Out):
    def __init__(self) -> None:
        super().__init__(io.BytesIO())
        self.bodies: list[bytes] = []

    def answer(self, body: bytes, **_: Any) -> None:
        self.bodies.append(body)


class ReadHere:
    """Stands for the process that reads, and reads in this one."""

    def __init__(self) -> None:
        self.stdin = self
        self.stdout = io.BytesIO()

    def write(self, line: bytes) -> None:
        order = json.loads(line)
        keys = [control["key"] for panel in order["panels"] for control in panel["photos"][0]["controls"]]
        known, answers = self.answers(order, keys)
        here = io.BytesIO()
        out = child_processes.Out(here)
        for panel, answer in zip(order["panels"], answers, strict=True):
            for before, now in zip(known, keys, strict=False):
                answer = answer.replace(before.encode(), now.encode())
            out.answer(answer, row=panel["row"])
        out.say(done=True)
        self.stdout = io.BytesIO(here.getvalue())

    def answers(self, order: dict[str, Any], keys: list[str]) -> tuple[list[str], list[bytes]]:
        """What is read of a photo, and the keys of the controls then: read once for the code that reads."""

        def read(folder: Path) -> None:
            out = Answers()
            reading_panels.read(order, reading_panels.Panels(), out)
            (folder / "answers").write_bytes(pickle.dumps((keys, out.bodies)))

        kinds = "".join(
            control["kind"][0]
            for panel in order["panels"]
            for photo in panel["photos"]
            for control in photo["controls"]
        )
        states = "".join(str(state["stands_at"]) for panel in order["panels"] for state in panel["states"])
        name = f"panel, answers for {Path(order['original']).name[:12]} {kinds} {states}".strip()
        folder = kept(name, (*READ_BY, Path(__file__)), read)
        known, bodies = pickle.loads((folder / "answers").read_bytes())
        return known, bodies

    def flush(self) -> None: ...
    def close(self) -> None: ...
    def poll(self) -> None: ...
    def kill(self) -> None: ...
    def wait(self) -> None: ...


@pytest.fixture
def read_here(monkeypatch: pytest.MonkeyPatch) -> None:
    """Photos are read in this process, when a test says so: a child would load OpenCV again for each."""
    monkeypatch.setattr(PanelReader, "wake", lambda reader: None)
    begin = child_processes.start

    def start(module: str, *arguments: str, **options: Any) -> Any:
        return ReadHere() if module == panel_reader.MODULE else begin(module, *arguments, **options)

    monkeypatch.setattr(child_processes, "start", start)


def photographed(library: Library, bench: Bench, pictures: Pictures, name: str = "ordinary.jpg") -> None:
    add_to_draft(library, bench.draft_id, name, io.BytesIO((pictures.folder / name).read_bytes()))
    assert panel_readings.have_read(library, bench.draft_id)
    PanelReader(library).work_through()


@pytest.mark.usefixtures("read_here")
def test_a_photo_of_the_panel_becomes_proposals_and_what_is_taken_stands_in_the_draft(
    filled: Library, bench: Bench, pictures: Pictures, filled_client: TestClient
) -> None:
    photographed(filled, bench, pictures)
    readings = panel_readings.read_readings(filled, bench.draft_id)
    assert not readings.is_coming
    (panel,) = readings.panels
    assert panel.state == WorkState.DONE, panel.reason
    assert {proposal.name for proposal in panel.proposals} == set(bench.knobs)
    assert readings.sure, "something is sure in an ordinary photo"
    before = drafts.read_draft(filled, bench.draft_id).entry
    step = next(step for step in before.steps if step.gear_id == bench.gear_id)
    assert not any(step.readings.values()), "nothing is taken over by itself"
    specs = {
        control.control_id: control.spec for control in gear.read_gear(filled, bench.gear_id).newest.controls
    }
    for field, text in readings.sure.items():
        spec = specs[int(field.rpartition("-")[2])]
        position = read(spec, text).position
        assert position is not None
        assert abs(angle_deg(spec.travel, position) - bench.truth(pictures, field)) < 10
    page = filled_client.get(f"/drafts/{bench.draft_id}/readings").text
    assert "rendered photos only" in page
    crops = re.findall(r"/panel-readings/\d+/[^\"]+\.jpg", page)
    assert len(crops) == len(bench.knobs)
    assert filled_client.get(html.unescape(crops[0])).content.startswith(b"\xff\xd8")
    filled_client.post(f"/drafts/{bench.draft_id}/readings", data={"do": "sure"})
    kept = drafts.read_draft(filled, bench.draft_id)
    now = next(step for step in kept.entry.steps if step.gear_id == bench.gear_id).readings
    taken = {str(ReadingField(bench.gear_id, control_id)): text for control_id, text in now.items() if text}
    assert taken == readings.sure
    assert panel_readings.read_readings(filled, bench.draft_id).sure == {}


@pytest.mark.usefixtures("read_here")
def test_a_confirmed_reading_keeps_its_picture_for_as_long_as_it_stands(
    filled: Library, bench: Bench, pictures: Pictures, filled_client: TestClient
) -> None:
    photographed(filled, bench, pictures)
    readings = panel_readings.read_readings(filled, bench.draft_id)
    first, second, *_ = readings.sure.items()
    panel_readings.take(filled, bench.draft_id, {first[0]: first[1], second[0]: second[1]})
    drafts.jot(filled, bench.draft_id, "", {second[0]: "7:30"})
    pass_id = drafts.save(filled, bench.draft_id)

    def with_pictures() -> dict[int, int | None]:
        step = next(step for step in read_pass(filled, pass_id).steps if step.gear_id == bench.gear_id)
        return {line.control_id: line.crop_id for line in step.settings if line.crop_id is not None}

    kept = with_pictures()
    assert list(kept) == [int(first[0].rpartition("-")[2])], "the other was typed over before it was saved"
    address = f"/crops/{next(iter(kept.values()))}.jpg"
    for page in (
        f"/passes/{pass_id}",
        f"/sources/{read_pass(filled, pass_id).source_id}?rows=all",
        f"/passes/{pass_id}/recall",
    ):
        assert address in filled_client.get(page).text, page
    assert filled_client.get(address).content.startswith(b"\xff\xd8")
    with filled.reading() as session:
        other = session.query(Photo.original_file_id).first()
    assert filled_client.get(f"/crops/{other[0]}.jpg").status_code == 404, "no other file is served there"
    report = check_library(filled.folder)
    assert not report.problems
    edit = drafts.open_edit(filled, pass_id)
    drafts.jot(filled, edit.draft_id, "", {first[0]: "noon" if first[1] != "noon" else "1:00"})
    drafts.save(filled, edit.draft_id)
    assert with_pictures() == {}, "it is no evidence of another reading"
    edit = drafts.open_edit(filled, pass_id)
    drafts.jot(filled, edit.draft_id, "", {first[0]: first[1]})
    drafts.save(filled, edit.draft_id)
    assert with_pictures() == kept


def logged(library: Library, bench: Bench, texts: dict[str, str]) -> int:
    """A pass with these readings, by field."""
    drafts.jot(library, bench.draft_id, "", texts)
    return drafts.save(library, bench.draft_id)


@pytest.mark.usefixtures("read_here")
def test_a_photo_of_a_pass_logged_long_ago_becomes_a_correction_of_it(
    filled: Library, bench: Bench, pictures: Pictures, filled_client: TestClient
) -> None:
    pass_id = logged(filled, bench, {"title": "before there was a reference"})
    stream = io.BytesIO((pictures.folder / "ordinary.jpg").read_bytes())
    add_photo(filled, "ordinary.jpg", stream, pass_id=pass_id)
    assert f'action="/passes/{pass_id}/readings"' in filled_client.get(f"/passes/{pass_id}").text
    page = filled_client.post(f"/passes/{pass_id}/readings").headers["location"]
    PanelReader(filled).work_through()
    readings = panel_readings.read_readings(filled, int(page.split("/")[2]))
    assert readings.pass_id == pass_id
    assert readings.sure
    there = filled_client.post(page, data={"do": "sure"}).headers["location"]
    assert there.startswith(f"/passes/{pass_id}/edit")
    assert not [line for step in read_pass(filled, pass_id).steps for line in step.settings if line.crop_id]
    drafts.save(filled, readings.draft_id)
    step = next(step for step in read_pass(filled, pass_id).steps if step.gear_id == bench.gear_id)
    kept = {str(ReadingField(bench.gear_id, line.control_id)): line for line in step.settings if line.crop_id}
    assert set(kept) == set(readings.sure)
    assert read_pass(filled, pass_id).revision == 2


@pytest.mark.usefixtures("read_here")
def test_a_recall_is_told_by_the_camera_what_is_off_and_which_way_to_turn(
    filled: Library, bench: Bench, pictures: Pictures, filled_client: TestClient
) -> None:
    photographed(filled, bench, pictures)
    first, second, *_ = panel_readings.read_readings(filled, bench.draft_id).sure.items()
    truth = bench.truth(pictures, second[0])
    elsewhere = clock_text(truth - 60 if truth > 0 else truth + 60)
    pass_id = logged(filled, bench, {first[0]: first[1], second[0]: elsewhere})
    recall_id = runs.begin(filled, pass_id)
    here = f"/recalls/{recall_id}/camera"
    assert f'href="{here}"' in filled_client.get(f"/recalls/{recall_id}").text
    refused = filled_client.post(here, files={"camera": ("notes.txt", b"words", "text/plain")})
    assert refused.status_code == 422
    assert "not a picture" in refused.text
    content = (pictures.folder / "ordinary.jpg").read_bytes()
    assert filled_client.post(here, files={"camera": ("ordinary.jpg", content, "image/jpeg")}).is_redirect
    PanelReader(filled).work_through()
    seen = {
        control.item.rpartition("-")[2]: control for control in camera.read_camera(filled, recall_id).controls
    }
    right, off = (seen[field.rpartition("-")[2]] for field in (first[0], second[0]))
    assert (right.verdict, off.verdict) == ("right", "off")
    assert off.says.startswith("to the left" if truth > 0 else "to the right")
    assert f"{elsewhere} not " in off.says
    assert set(seen) == {field.rpartition("-")[2] for field in (first[0], second[0])}, (
        "only what the pass noted"
    )
    page = filled_client.get(here).text
    assert html.escape(off.says) in page
    assert "Tick the 1 control that is right" in page
    filled_client.post(f"{here}/tick", data={"do": "right"})
    filled_client.post(f"{here}/tick", data={"do": "hook-up"})
    done = {item.key for item in runs.read_recall(filled, recall_id).items if item.marked.done}
    assert done == {right.item}, "what is off stays open, and so does what no photo speaks of"
    assert not check_library(filled.folder).problems


@pytest.mark.usefixtures("read_here")
def test_two_who_confirm_at_once_each_have_theirs_and_who_comes_after_the_save_is_shown_the_pass(
    filled: Library, bench: Bench, pictures: Pictures, filled_client: TestClient
) -> None:
    photographed(filled, bench, pictures)
    sure = panel_readings.read_readings(filled, bench.draft_id).sure
    first, second, *_ = sure.items()
    with ThreadPoolExecutor(2) as two:
        list(two.map(lambda one: panel_readings.take(filled, bench.draft_id, dict([one])), (first, second)))
    step = next(
        step
        for step in drafts.read_draft(filled, bench.draft_id).entry.steps
        if step.gear_id == bench.gear_id
    )
    assert sorted(text for text in step.readings.values() if text) == sorted([first[1], second[1]])
    pass_id = drafts.save(filled, bench.draft_id)
    saved = next(step for step in read_pass(filled, pass_id).steps if step.gear_id == bench.gear_id)
    assert sum(line.crop_id is not None for line in saved.settings) == 2
    answer = filled_client.post(f"/drafts/{bench.draft_id}/readings", data={"do": "sure"})
    assert answer.headers["location"] == f"/passes/{pass_id}"


@pytest.mark.usefixtures("read_here")
def test_a_full_disk_takes_nothing_and_says_so(
    filled: Library,
    bench: Bench,
    pictures: Pictures,
    filled_client: TestClient,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    photographed(filled, bench, pictures)
    before = drafts.read_draft(filled, bench.draft_id).entry

    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(type(filled.files), "take_in", full)
    answer = filled_client.post(f"/drafts/{bench.draft_id}/readings", data={"do": "sure"})
    assert answer.status_code == 422
    assert "Make room on the disk" in answer.text
    assert drafts.read_draft(filled, bench.draft_id).entry == before


@pytest.mark.usefixtures("read_here")
def test_what_was_read_is_not_read_again_because_sound_is_measured_anew(
    filled: Library, bench: Bench, pictures: Pictures
) -> None:
    photographed(filled, bench, pictures)
    with filled.writing() as session:
        session.execute(update(Examination).values(algorithm_version=1))
    examinations.resume(filled)
    (panel,) = panel_readings.read_readings(filled, bench.draft_id).panels
    assert panel.state == WorkState.DONE
    assert panel.proposals


@pytest.mark.usefixtures("read_here")
def test_one_reading_is_nudged_and_taken_alone(
    filled: Library, bench: Bench, pictures: Pictures, filled_client: TestClient
) -> None:
    photographed(filled, bench, pictures)
    (panel,) = panel_readings.read_readings(filled, bench.draft_id).panels
    field = panel.proposals[0].field
    filled_client.post(f"/drafts/{bench.draft_id}/readings", data={"do": field, f"reading-{field}": "noon"})
    entry = drafts.read_draft(filled, bench.draft_id).entry
    now = next(step for step in entry.steps if step.gear_id == bench.gear_id).readings
    assert [text for text in now.values() if text] == ["noon"]
    drafts.undo(filled, bench.draft_id)
    entry = drafts.read_draft(filled, bench.draft_id).entry
    assert not any(next(step for step in entry.steps if step.gear_id == bench.gear_id).readings.values())
    foreign = {"do": "control-1-1", "reading-control-1-1": "noon"}
    assert filled_client.post(f"/drafts/{bench.draft_id}/readings", data=foreign).is_redirect
    assert drafts.read_draft(filled, bench.draft_id).entry == entry, (
        "only what a photo speaks of can be taken"
    )


@pytest.mark.usefixtures("read_here")
def test_a_photo_of_something_else_proposes_nothing_and_says_why(
    filled: Library, bench: Bench, pictures: Pictures, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What the reader says of a foreign photo stands in `test_reading_photos.py`."""
    answer = {"panel_found": False, "inliers": 0, "controls": [], "reasons": ["It was not recognised."]}
    monkeypatch.setattr(ReadHere, "answers", lambda *_: ([], [json.dumps(answer).encode()]))
    photographed(filled, bench, pictures, "foreign.jpg")
    readings = panel_readings.read_readings(filled, bench.draft_id)
    (panel,) = readings.panels
    assert panel.proposals == ()
    assert "not recognised" in panel.reasons[-1]
    assert readings.sure == {}


def test_a_reference_that_was_deleted_is_read_against_no_more(
    filled: Library, bench: Bench, pictures: Pictures
) -> None:
    for photo_id in bench.photos:
        delete_photo(filled, photo_id)
    add_to_draft(filled, bench.draft_id, "x.jpg", io.BytesIO((pictures.folder / "ordinary.jpg").read_bytes()))
    assert not panel_readings.have_read(filled, bench.draft_id)
    assert not panel_readings.read_readings(filled, bench.draft_id).can_be_read


def test_a_control_that_was_changed_since_is_left_out_and_the_others_are_read(
    filled: Library, bench: Bench, session: SmallSession
) -> None:
    entry = gear.gear_entry(filled, bench.gear_id)
    first, *others = entry.controls
    gear.edit_gear(
        filled, bench.gear_id, replace(entry, controls=(replace(first, travel_end="4:00"), *others))
    )
    drafts.stand_at_newest(filled, bench.draft_id, "", bench.gear_id)
    newest = gear.read_gear(filled, bench.gear_id).newest
    with filled.reading() as reading:
        panels = panel_photos.panels_of(reading, {bench.gear_id: newest.controls})
    kept = {control["key"] for control in panels[bench.gear_id]["photos"][0]["controls"]}
    assert kept == {control.key for control in newest.controls[1:]}
    assert panel_photos.read_panel(filled, bench.photos[0]).is_of_older_layout


def test_marks_come_back_as_they_were_saved_and_pins_are_taken_over(
    filled: Library, bench: Bench, pictures: Pictures, filled_client: TestClient
) -> None:
    sheet = panel_photos.read_panel(filled, bench.photos[0])
    assert sheet.is_marked
    again = panel_photos.mark_panel(filled, bench.photos[0], sheet.entry)
    assert again == bench.gear_id
    assert panel_photos.read_panel(filled, bench.photos[0]).entry == sheet.entry
    page = filled_client.get(f"/gear/{bench.gear_id}").text
    assert page.count("Marked to be read from") == 2
    panel_photos.unmark_panel(filled, bench.photos[0])
    assert panel_photos.marked_photos(filled, bench.gear_id) == {bench.photos[1]}


def test_a_panel_is_prepared_as_soon_as_it_is_marked(
    filled: Library, bench: Bench, filled_client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    woken: list[bool] = []
    monkeypatch.setattr(PanelReader, "wake", lambda reader: woken.append(True))
    photo_id = bench.photos[0]
    entry = panel_photos.read_panel(filled, photo_id).entry
    sent = {f"corner-{at // 2}-{'xy'[at % 2]}": text for at, text in enumerate(entry.corners)}
    for control_id, mark in entry.marks.items():
        sent |= {f"mark-{control_id}-{name}": text for name, text in asdict(mark).items()}
    assert not examinations.panels_wait(filled)
    assert filled_client.post(f"/photos/{photo_id}/panel", data=sent).is_redirect
    (row,) = examinations.claim_panels(filled)
    assert row.wanted["gear_id"] == bench.gear_id
    assert len(row.wanted["panel"]["photos"]) == 2, "both are prepared together"
    assert woken == [True]


def test_what_is_marked_wrongly_gets_its_sentence_and_loses_nothing(
    filled: Library, bench: Bench, filled_client: TestClient
) -> None:
    sheet = panel_photos.read_panel(filled, bench.photos[0])
    control = sheet.controls[0]
    marks = dict(sheet.entry.marks)
    marks[control.control_id] = replace(marks[control.control_id], stands="a quarter past the moon")
    with pytest.raises(Refusal) as refused:
        panel_photos.mark_panel(filled, bench.photos[0], replace(sheet.entry, marks=marks))
    assert f"mark-{control.control_id}-stands" in refused.value.sentences
    turned = sheet.entry.corners[2:] + sheet.entry.corners[:2]
    crossed = (*turned[:2], *turned[4:6], *turned[2:4], *turned[6:])
    with pytest.raises(Refusal, match="clockwise"):
        panel_photos.mark_panel(filled, bench.photos[0], replace(sheet.entry, corners=crossed))
    with pytest.raises(Refusal, match="at least one control"):
        panel_photos.mark_panel(filled, bench.photos[0], replace(sheet.entry, marks={}))
    sent = {f"corner-{at // 2}-{'xy'[at % 2]}": text for at, text in enumerate(sheet.entry.corners)}
    sent[f"mark-{control.control_id}-edge_x"] = "half way"
    answer = filled_client.post(f"/photos/{bench.photos[0]}/panel", data=sent)
    assert answer.status_code == 422
    assert "half way" in answer.text


def test_controls_are_marked_in_a_photo_of_gear_only(filled: Library, session: SmallSession) -> None:
    with pytest.raises(NotThere, match="photo of the gear itself"):
        panel_photos.read_panel(filled, session.photos[0])


def test_a_picture_in_which_nothing_can_be_read_fails_with_its_reason(filled: Library, bench: Bench) -> None:
    """Through the process that reads, which knows so before it has read anything else."""
    add_to_draft(filled, bench.draft_id, "small.jpg", io.BytesIO(picture()))
    assert panel_readings.have_read(filled, bench.draft_id)
    reader = PanelReader(filled)
    reader.work_through()
    reader.stop()
    (panel,) = panel_readings.read_readings(filled, bench.draft_id).panels
    assert panel.state == WorkState.FAILED
    assert "too small to read a knob in" in panel.reason


@pytest.mark.usefixtures("read_here")
def test_every_reading_is_shown_beside_its_picture_until_ten_of_the_piece_were_confirmed(
    filled: Library, session: SmallSession, bench: Bench, pictures: Pictures, filled_client: TestClient
) -> None:
    confirmed, draft = 0, bench.draft_id
    while True:
        photographed(filled, replace(bench, draft_id=draft), pictures)
        readings = panel_readings.read_readings(filled, draft)
        here = f"/drafts/{draft}/readings"
        page = page_of(filled_client.get(here))
        shown = len(page.xpath("//ul[@class='read-list']/li"))
        folded = len(page.xpath("//details/ul[@class='read-list']/li"))
        assert shown == len(page.xpath("//ul[@class='read-list']//img")) == len(bench.knobs)
        assert readings.confirmed.get(bench.gear_id, 0) == confirmed
        if confirmed >= panel_readings.SHOWN_UNTIL:
            break
        assert folded == 0, f"{confirmed} were confirmed"
        assert "rendered photos only" in words(page, "//main")
        confirmed += len(readings.all_sure)
        filled_client.post(here, data={"do": "sure"})
        drafts.save(filled, draft)
        draft = drafts.open_draft(filled, session.bass).draft_id
    assert folded == len(readings.all_sure) > 0, "all of them stand as noted"
    assert f"{folded} controls stand as noted" in words(page, "//details/summary")
    assert "rendered photos only" not in words(page, "//main")
    field, text = next(iter(readings.all_sure.items()))
    drafts.jot(filled, draft, "", {field: "noon" if text != "noon" else "1:00"})
    page = page_of(filled_client.get(f"/drafts/{draft}/readings"))
    assert len(page.xpath("//details/ul[@class='read-list']/li")) == folded - 1, "what differs is shown again"


@pytest.mark.usefixtures("read_here")
def test_a_switch_is_read_in_a_state_that_no_reference_shows_once_a_reading_of_it_was_confirmed(
    filled: Library, session: SmallSession, pictures: Pictures
) -> None:
    bodies = [body for body in pictures.labelled.panel.bodies if body.kind in ("knob", "slide")]
    controls = [
        ControlEntry(name=body.key, scale="clock")
        if body.kind == "knob"
        else ControlEntry(name=body.key, form="switch", positions=", ".join(STATES))
        for body in bodies
    ]
    (slide,) = (body.key for body in bodies if body.kind == "slide")
    assert pictures.labelled.references[1].truths[slide].stands_at == 1
    assert pictures.ordinary.truths[slide].stands_at == 0
    gear_id = put_on_shelf(filled, "Panel with a slide", "pedal", *controls)
    stream = io.BytesIO((pictures.folder / "reference_1.jpg").read_bytes())
    photo_id = add_photo(filled, "reference_1.jpg", stream, gear_id=gear_id)
    panel_photos.mark_panel(filled, photo_id, marked(filled, photo_id, pictures, 1))
    newest = gear.read_gear(filled, gear_id).newest
    (control,) = (control for control in newest.controls if control.spec.name == slide)
    field = str(ReadingField(gear_id, control.control_id))
    of_gear = Bench(gear_id, (photo_id,), 0, {}, {})

    def seen(name: str) -> tuple[int, panel_readings.Proposal]:
        draft = drafts.open_draft(filled, session.bass).draft_id
        if not any(step.gear_id == gear_id for step in drafts.read_draft(filled, draft).entry.steps):
            drafts.add_gear(filled, draft, "", gear_id)
        photographed(filled, replace(of_gear, draft_id=draft), pictures, name)
        (panel,) = panel_readings.read_readings(filled, draft).panels
        return draft, next(each for each in panel.proposals if each.key == control.key)

    draft, proposal = seen("ordinary.jpg")
    assert (proposal.text, proposal.is_sure) == ("up", False), "the one state that is known"
    panel_readings.take(filled, draft, {field: "down"})
    drafts.save(filled, draft)
    with filled.reading() as reading:
        panel = panel_photos.panels_of(reading, {gear_id: newest.controls})[gear_id]
    (state,) = panel["states"]
    assert (state["key"], state["stands_at"]) == (control.key, 0)
    draft, proposal = seen("reference_0.jpg")
    assert proposal.text == "down", "it was met before"
    panel_readings.take(filled, draft, {field: "down"})
    drafts.save(filled, draft)
    with filled.reading() as reading:
        panel = panel_photos.panels_of(reading, {gear_id: newest.controls})[gear_id]
    assert len(panel["states"]) == 1, "one picture of each state"
