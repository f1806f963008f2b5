"""A print on the wrong pass is moved with one action; a pass that waited does not keep what is none of its source."""

from dataclasses import replace
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from small_session import SmallSession, bring_in, figures, tone
from sqlalchemy import select
from watching import Desk

from app.desk.arrivals import inbox, moving, printing
from app.desk.measuring import examinations
from app.desk.passes.pass_sheets import PassSheet, PrintSheet, read_pass
from app.desk.refusals import Refusal
from app.library import Library
from app.records import Measurement, SourceTrack
from app.signal.figures import AlignmentFigures, Identification, RankedSource, to_json


@pytest.fixture
def desk(filled: Library, session: SmallSession, tmp_path: Path) -> Desk:
    (tmp_path / "takes").mkdir()
    inbox.leave_all(filled, session.project)
    return Desk(filled, tmp_path / "takes", session.project)


def filed(desk: Desk, session: SmallSession) -> PrintSheet:
    """A recording that the first pass waited for."""
    printing.wait_for_print(desk.library, session.passes[0])
    desk.put("take.wav", tone(0.4, hz=347))
    desk.settle()
    return read_pass(desk.library, session.passes[0]).prints[-1]


def heard(
    desk: Desk, session: SmallSession, item: PrintSheet, *, is_of_source: bool, confidence: float
) -> None:
    """As the measuring process does once it has measured the file against the pass's source."""
    source_file_id = read_pass(desk.library, session.passes[0]).source_file_id
    assert source_file_id is not None
    alignment = AlignmentFigures(None, None, "unclear", confidence, None, is_of_source)
    moving.place_by_sound(desk.library, item.file_id, source_file_id, alignment)


def test_a_waiting_pass_gives_a_foreign_recording_to_the_inbox_and_waits_on(
    desk: Desk, session: SmallSession
) -> None:
    for item in read_pass(desk.library, session.passes[0]).prints:
        moving.move_to_pass(desk.library, item.print_id, session.passes[1])
    item = filed(desk, session)
    heard(desk, session, item, is_of_source=False, confidence=0.95)
    sheet = read_pass(desk.library, session.passes[0])
    assert sheet.prints == ()
    (offer,) = inbox.read_inbox(desk.library, session.project).offers
    said = f"Pass 1 of {sheet.source_name} waited for its print; this does not sound like one of {sheet.source_name}."
    assert offer.files[0].reason == said
    assert offer.state == "coming", "it is found out of which source it is"
    assert printing.read_pass_printing(desk.library, session.passes[0]).waiting_since is not None


@pytest.mark.parametrize(("is_of_source", "confidence"), [(True, 0.97), (False, 0.5)])
def test_a_waiting_pass_keeps_what_is_of_its_source_or_doubtful(
    desk: Desk, session: SmallSession, is_of_source: bool, confidence: float
) -> None:
    item = filed(desk, session)
    heard(desk, session, item, is_of_source=is_of_source, confidence=confidence)
    assert read_pass(desk.library, session.passes[0]).prints[-1].print_id == item.print_id


def test_what_was_kept_once_is_not_taken_away_when_it_is_measured_again(
    desk: Desk, session: SmallSession
) -> None:
    item = filed(desk, session)
    heard(desk, session, item, is_of_source=True, confidence=0.97)
    heard(desk, session, item, is_of_source=False, confidence=0.97)
    assert read_pass(desk.library, session.passes[0]).prints[-1].print_id == item.print_id


def other_source(desk: Desk, session: SmallSession) -> tuple[int, int]:
    """Another source of the project, and its file."""
    source_id = bring_in(desk.library, session.project, "guitar DI", tone(0.5, hz=110))
    with desk.library.reading() as reading:
        file_id = reading.get_one(SourceTrack, source_id).file_id
    assert file_id is not None
    return source_id, file_id


def test_a_foreign_print_offers_the_source_that_it_is_of_and_goes_there(
    desk: Desk, session: SmallSession, filled_client: TestClient
) -> None:
    source_id, file_id = other_source(desk, session)
    item = read_pass(desk.library, session.passes[0]).prints[0]
    heard(desk, session, item, is_of_source=False, confidence=0.95)
    while (asked := examinations.claim(desk.library)) is not None:
        ranking = (RankedSource(str(file_id), 0.98, 12.0),)
        examinations.finish(desk.library, asked.id, to_json(Identification(str(file_id), ranking)))
    foreign = AlignmentFigures(None, None, "unclear", 0.95, None, False)
    with desk.library.writing() as writing:
        for row in writing.scalars(select(Measurement).where(Measurement.file_id == item.file_id)):
            row.figures = to_json(replace(figures(), alignment=foreign))
    page = filled_client.get(f"/passes/{session.passes[0]}").text
    assert "by its sound a print of guitar DI." in page
    filled_client.post(f"/prints/{item.print_id}/move", data={"to": f"source-{source_id}"})
    moved = [sheet for sheet in passes_of(desk, source_id) if sheet.prints]
    assert [sheet.prints[0].print_id for sheet in moved] == [item.print_id]
    assert moved[0].prints[0].measured.is_coming, "it is measured against the source there"


def passes_of(desk: Desk, source_id: int) -> list[PassSheet]:
    with desk.library.reading() as reading:
        sources = inbox.sources_of(reading, reading.get_one(SourceTrack, source_id).project_id)
    ids = [one.pass_id for source in sources if source.source_id == source_id for one in source.passes]
    return [read_pass(desk.library, pass_id) for pass_id in ids]


def test_a_moved_print_keeps_its_microphone_where_the_chain_there_has_it(
    desk: Desk, session: SmallSession
) -> None:
    first, second = (read_pass(desk.library, session.passes[at]) for at in (0, 1))
    item = first.prints[0]
    moving.move_to_pass(desk.library, item.print_id, second.pass_id)
    moved = next(
        one for one in read_pass(desk.library, second.pass_id).prints if one.print_id == item.print_id
    )
    assert (moved.label, moved.microphone) == (item.label, item.microphone)


def test_what_cannot_move_is_told_at_its_form(
    desk: Desk, session: SmallSession, filled_client: TestClient
) -> None:
    item = read_pass(desk.library, session.passes[0]).prints[0]
    with pytest.raises(Refusal, match="on this pass already"):
        moving.move_to_pass(desk.library, item.print_id, session.passes[0])
    for to, sentence in (("", "Choose where this print belongs first."), ("inbox", "attached by hand")):
        answer = filled_client.post(f"/prints/{item.print_id}/move", data={"to": to})
        assert answer.status_code == 422
        assert sentence in answer.text


def test_a_print_that_came_by_itself_goes_back_to_the_inbox(
    desk: Desk, session: SmallSession, filled_client: TestClient
) -> None:
    item = filed(desk, session)
    filled_client.post(f"/prints/{item.print_id}/move", data={"to": "inbox"})
    assert inbox.count_open(desk.library, session.project) == 1
    assert item.print_id not in [one.print_id for one in read_pass(desk.library, session.passes[0]).prints]
