"""Where measuring cannot tell how late a print came back, a person says so, and every part takes it."""

from dataclasses import replace

import pytest
from small_session import SmallSession, attach, figures, measured, tone

from app.desk.arrivals import moving
from app.desk.bundles import writing
from app.desk.bundles.rows import read_document
from app.desk.finding import find
from app.desk.listening.auditions import read_places
from app.desk.measuring.measurements import Measured
from app.desk.passes.leads import lead_of
from app.desk.passes.ledger import build_ledger
from app.desk.passes.pass_sheets import PrintSheet, read_pass, read_passes_of_source
from app.desk.prints.delays import likely_delay, say_delay
from app.desk.refusals import Refusal
from app.library import Library
from app.signal.figures import AlignmentFigures, PrintFigures

UNTOLD = AlignmentFigures(None, None, "unclear", 0.0, None, None)


def untold() -> PrintFigures:
    return replace(figures(), alignment=UNTOLD)


@pytest.fixture
def unplaced(filled: Library, session: SmallSession) -> int:
    """A print of the second pass; those of the first came back 37 samples late."""
    measured(filled, figures())
    made = attach(filled, session.passes[1], tone(0.2, hz=900), "room.wav", label="room")
    measured(filled, untold())
    return made


def print_of(library: Library, pass_id: int, print_id: int) -> PrintSheet:
    return next(item for item in read_pass(library, pass_id).prints if item.print_id == print_id)


def test_a_print_without_a_delay_is_told_what_the_nearest_pass_came_back_late_by(
    filled: Library, session: SmallSession, unplaced: int
) -> None:
    assert print_of(filled, session.passes[1], unplaced).is_unplaced
    likely = likely_delay(filled, read_pass(filled, session.passes[1]))
    assert likely is not None
    assert (likely.pass_number, likely.delay_samples) == (1, 37.0)
    assert likely_delay(filled, read_pass(filled, session.passes[0])) is None, "all of it is known"


@pytest.mark.parametrize(
    ("typed", "samples"),
    [("230", 230.0), ("−12.5", -12.5), ("230 samples", 230.0), ("5 ms", 240.0), ("", None)],
)
def test_a_delay_is_said_in_samples_or_milliseconds(
    filled: Library, session: SmallSession, unplaced: int, typed: str, samples: float | None
) -> None:
    say_delay(filled, unplaced, typed)
    assert print_of(filled, session.passes[1], unplaced).delay_by_hand_samples == samples


@pytest.mark.parametrize("typed", ["soon", "1e12", "3 dB", "99999999999 ms"])
def test_what_is_no_delay_is_refused_at_its_field(filled: Library, unplaced: int, typed: str) -> None:
    with pytest.raises(Refusal) as refused:
        say_delay(filled, unplaced, typed)
    assert list(refused.value.sentences) == [f"delay-{unplaced}"]


def test_a_delay_by_hand_moves_whatever_is_moved_by_a_measured_one(
    filled: Library, session: SmallSession, unplaced: int
) -> None:
    pass_id = session.passes[1]
    say_delay(filled, unplaced, "230")
    sheet = read_pass(filled, pass_id)
    item = next(one for one in sheet.prints if one.print_id == unplaced)
    lead = lead_of(one.measured.figures for one in sheet.prints if one.print_id == unplaced)
    assert lead is not None
    assert lead.delay_samples == 230
    assert "set by hand, to 230 samples" in [finding.sentence for finding in item.measured.findings][-1]
    row = next(
        row
        for row in build_ledger(read_passes_of_source(filled, session.bass)).measures
        if row.label == "delay"
    )
    assert any("230.0" in line for cell in row.cells for line in cell.lines)
    placed = [one for one in read_places(filled, [pass_id]) if one.shown.print_id == unplaced]
    assert not placed[0].shown.astray


def test_with_the_field_emptied_it_is_as_it_was_measured(
    filled: Library, session: SmallSession, unplaced: int
) -> None:
    before = print_of(filled, session.passes[1], unplaced)
    say_delay(filled, unplaced, "230")
    say_delay(filled, unplaced, "")
    assert print_of(filled, session.passes[1], unplaced) == before


def test_it_is_found(filled: Library, session: SmallSession, unplaced: int) -> None:
    assert find.find(filled, "placed") == []
    say_delay(filled, unplaced, "230")
    assert [hit.row_id for hit in find.find(filled, "placed")] == [session.passes[1]]


def test_it_is_handed_on_and_digests_of_prints_without_one_stay(
    filled: Library, session: SmallSession, unplaced: int
) -> None:
    say_delay(filled, unplaced, "230")
    with filled.reading() as reading:
        document = read_document(reading, session.project)
    rows = {row.label: row.delay_by_hand_samples for row in document.prints}
    assert rows.pop("room") == 230
    assert set(rows.values()) == {None}


def test_a_print_that_was_not_measured_takes_no_delay() -> None:
    waiting = Measured("waiting")  # type: ignore[arg-type]
    assert waiting.placed_by_hand(230) is waiting


def test_it_was_said_against_its_source_and_goes_when_the_print_belongs_to_another(
    filled: Library, session: SmallSession, unplaced: int
) -> None:
    say_delay(filled, unplaced, "230")
    moving.move_to_pass(filled, unplaced, session.passes[0])
    assert print_of(filled, session.passes[0], unplaced).delay_by_hand_samples == 230, "the same source"
    other = moving.move_to_new_pass(filled, unplaced, session.organ)
    assert print_of(filled, other, unplaced).delay_by_hand_samples is None


def test_the_bundles_own_player_takes_it_too_whatever_the_print_was_called(
    filled: Library, session: SmallSession, unplaced: int
) -> None:
    item = print_of(filled, session.passes[1], unplaced)
    foreign = replace(untold(), alignment=replace(UNTOLD, is_of_source=False))
    placed = replace(item, measured=replace(item.measured, figures=foreign).placed_by_hand(480.0))
    assert writing._late_s(replace(placed, measured=replace(item.measured, figures=foreign))) == 0.0
    assert writing._late_s(placed) == pytest.approx(480.0 / foreign.file.sample_rate)
