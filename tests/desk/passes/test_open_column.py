"""The next pass as a column of the ledger that is not inked yet."""

from dataclasses import replace

from small_session import SmallSession, put_on_shelf

from app.desk.passes import drafts
from app.desk.passes.chain_lines import take_chain, understand_chain
from app.desk.passes.drafts import open_draft, read_draft
from app.desk.passes.open_column import OpenColumn, changed_words, read_open_column, with_open_column
from app.desk.passes.pass_sheets import read_newest, read_pass
from app.desk.projects.sources import read_source
from app.desk.shelf.control_entries import ControlEntry
from app.desk.shelf.gear import list_gear
from app.library import Library


def column_of(library: Library, source: int) -> tuple[OpenColumn, list[str]]:
    """The open column of a source and, in words, what differs in it from the pass before."""
    newest = read_newest(library, source, 5).passes
    draft = open_draft(library, source)
    column = read_open_column(library, read_source(library, source), draft, newest[-1] if newest else None)
    ledger = with_open_column(newest, column)
    turned = [f"{item.what} {item.reading}, was {item.was}" for item in ledger.changes(len(newest))]
    return column, turned


def control_field(library: Library, session: SmallSession, name: str) -> str:
    newest = read_newest(library, session.bass, 1).passes
    column = read_open_column(
        library, read_source(library, session.bass), open_draft(library, session.bass), newest[-1]
    )
    ledger = with_open_column(newest, column)
    return next(row.cells[-1].field for gear in ledger.gear for row in gear.rows if row.label == name)


def test_it_begins_as_the_last_pass_and_nothing_differs(filled: Library, session: SmallSession) -> None:
    column, turned = column_of(filled, session.bass)
    last = read_pass(filled, session.passes[-1])
    assert turned == []
    assert column.sheet.number == last.number + 1
    assert [step.gear_name for step in column.sheet.steps] == [step.gear_name for step in last.steps]
    assert column.complaints == {}


def test_what_is_turned_says_what_stood_before(filled: Library, session: SmallSession) -> None:
    field = control_field(filled, session, "Drive")
    drafts.jot(filled, session.draft, "", {field: "2"})
    _, turned = column_of(filled, session.bass)
    assert turned == ["Drive 2, was 7"]
    drafts.jot(filled, session.draft, "", {field: "70 %"})
    _, turned = column_of(filled, session.bass)
    assert turned == [], "the same place read another way is no change"


def test_what_cannot_be_read_stands_as_typed_with_its_sentence(
    filled: Library, session: SmallSession
) -> None:
    field = control_field(filled, session, "Drive")
    drafts.jot(filled, session.draft, "", {field: "sideways"})
    column, turned = column_of(filled, session.bass)
    assert turned == ["Drive sideways, was 7"]
    assert "sideways" in column.complaints[field]


def test_gear_that_leaves_is_marked_as_loudly_as_a_turned_knob(
    filled: Library, session: SmallSession
) -> None:
    drafts.take_out_gear(filled, session.draft, "", session.amp)
    _, turned = column_of(filled, session.bass)
    assert any(item.startswith(read_gear_name(filled, session.amp)) and "left" in item for item in turned)


def test_words_that_are_as_before_are_not_counted(filled: Library, session: SmallSession) -> None:
    column, _ = column_of(filled, session.bass)
    assert changed_words(column) == ()
    drafts.jot(filled, session.draft, "", {"levels": "Send 3 dB lower."})
    column, _ = column_of(filled, session.bass)
    assert [item.what for item in changed_words(column)] == ["Levels"]


def test_the_older_passes_are_folded_away(filled: Library, session: SmallSession) -> None:
    newest = read_newest(filled, session.bass, 2)
    assert [sheet.number for sheet in newest.passes] == [2, 3]
    assert newest.older == ((session.passes[0], 1),)


def test_a_chain_on_one_line_puts_what_is_new_on_the_shelf(filled: Library, session: SmallSession) -> None:
    put_on_shelf(filled, "silver wah", "pedal", ControlEntry(name="Sweep"))
    before = {line.name for line in list_gear(filled)}
    draft = open_draft(filled, session.organ)
    for step in draft.entry.steps:
        drafts.take_out_gear(filled, draft.draft_id, "", step.gear_id)
    line = "silver wah > phaser > condenser 4 cm"
    assert [piece.name for piece in understand_chain(filled, line)] == ["silver wah", "Phaser", "Condenser"]
    assert {each.name for each in list_gear(filled)} == before, "reading a line makes nothing"
    take_chain(filled, draft.draft_id, "", line)
    chain = read_draft(filled, draft.draft_id).entry.steps
    assert chain[-1].placement is not None
    assert chain[-1].placement.distance == "4 cm"
    assert {line.name for line in list_gear(filled)} == before | {"Phaser", "Condenser"}
    drafts.undo(filled, draft.draft_id, "")
    assert read_draft(filled, draft.draft_id).entry.steps == ()


def read_gear_name(library: Library, gear_id: int) -> str:
    return next(line.name for line in list_gear(library) if line.gear_id == gear_id)


def test_a_placement_that_cannot_be_read_keeps_the_rest(filled: Library, session: SmallSession) -> None:
    field = f"placement-{session.near_mic}-distance"
    drafts.jot(filled, session.draft, "", {field: "near"})
    column, _ = column_of(filled, session.bass)
    assert field in column.complaints
    typed = column.step(session.near_mic)
    assert typed is not None
    assert typed.placement is not None
    assert replace(typed.placement, distance="").distance == ""
    assert typed.placement.distance == "near"
