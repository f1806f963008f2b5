import pytest
from small_session import SmallSession

from app.desk.passes import drafts, notes, passes
from app.desk.passes.notes import NoteEntry, RatingEntry
from app.desk.passes.pass_sheets import read_pass
from app.desk.passes.passes import PassEntry
from app.desk.recall import runs
from app.desk.refusals import NotThere, Refusal
from app.desk.sheets.session_log import read_session_log
from app.desk.sheets.sheets import session_log_csv, session_log_pdf
from app.desk.sheets.time_line import read_time_line
from app.desk.shelf import gear
from app.library import Library


def test_a_rating_and_tags_are_the_persons_own_and_replace_those_before(
    filled: Library, session: SmallSession
) -> None:
    number = session.passes[0]
    notes.rate_pass(filled, number, RatingEntry("4", "woolly, for the chorus,, Woolly"))
    sheet = read_pass(filled, number)
    assert (sheet.rating, sheet.tags) == (4, ("for the chorus", "woolly"))
    assert notes.tags_in_use(filled, session.project) == ("for the chorus", "woolly")
    notes.rate_pass(filled, number, RatingEntry("", "bright"))
    assert (read_pass(filled, number).rating, read_pass(filled, number).tags) == (None, ("bright",))


@pytest.mark.parametrize(
    ("entry", "field"),
    [
        (RatingEntry("6", ""), "rating"),
        (RatingEntry("", "x" * 41), "tags"),
        (RatingEntry("", ",".join(str(number) for number in range(21))), "tags"),
    ],
)
def test_what_cannot_be_a_rating_or_a_tag_is_said(
    filled: Library, session: SmallSession, entry: RatingEntry, field: str
) -> None:
    with pytest.raises(Refusal) as refused:
        notes.rate_pass(filled, session.passes[0], entry)
    assert list(refused.value.sentences) == [field]


def test_a_private_note_stands_on_the_time_line_and_in_nothing_that_is_handed_on(
    filled: Library, session: SmallSession
) -> None:
    notes.note_project(filled, session.project, NoteEntry("the tide is in"))
    notes.note_pass(filled, session.passes[1], NoteEntry("the singer was late", "yes"))
    notes.note_pass(filled, session.passes[1], NoteEntry("=1+1 is no formula"))
    notes.rate_pass(filled, session.passes[1], RatingEntry("2", "thin"))
    said = [m.words for day in read_time_line(filled, session.project).days for m in day.moments]
    assert {"the tide is in", "the singer was late"} <= set(said)
    log = read_session_log(filled, session.project)
    table = session_log_csv(log)
    assert "the tide is in" in table
    assert "'=1+1 is no formula" in table
    assert "late" not in table
    assert ",rating,2,,2.0,of 5" in table
    assert session_log_pdf(log).startswith(b"%PDF")


def test_an_empty_note_is_refused_and_a_note_can_be_taken_back(
    filled: Library, session: SmallSession
) -> None:
    with pytest.raises(Refusal):
        notes.note_pass(filled, session.passes[0], NoteEntry("  "))
    notes.note_pass(filled, session.passes[0], NoteEntry("a slip"))
    (line,) = notes.read_notes_of_pass(filled, session.passes[0])
    assert notes.delete_note(filled, line.note_id) == (session.project, session.passes[0])
    with pytest.raises(NotThere):
        notes.delete_note(filled, line.note_id)


def test_the_time_line_tells_what_happened_in_its_order_and_what_is_open(
    filled: Library, session: SmallSession
) -> None:
    recall = runs.begin(filled, session.passes[0])
    passes.log_pass(filled, session.organ, PassEntry(title="no print yet"))
    line = read_time_line(filled, session.project)
    moments = [moment for day in reversed(line.days) for moment in day.moments]
    assert [moment.at for moment in moments] == sorted(moment.at for moment in moments)
    kinds = [moment.what for moment in moments if moment.of.startswith("bass DI")]
    assert kinds[:4] == ["source", "pass", "pass", "pass"]
    assert kinds.count("print") == 3
    assert kinds.index("keeper") > kinds.index("print")
    assert f"/recalls/{recall}" in [moment.address for moment in moments if moment.what == "recall"]
    assert line.without_print == (("organ line, pass 1", "/passes/4"),)
    assert line.without_keeper == (("organ line", f"/sources/{session.organ}"),)


def test_gear_swapped_takes_over_what_answers_and_says_what_does_not(
    filled: Library, session: SmallSession
) -> None:
    other = gear.add_gear(filled, gear.gear_entry(filled, session.amp))
    draft = drafts.open_draft(filled, session.bass, like=session.passes[0])
    drafts.swap_gear(filled, draft.draft_id, "", session.amp, other)
    now = drafts.read_draft(filled, draft.draft_id)
    before, after = draft.entry.steps[2], now.entry.steps[2]
    assert after.gear_id == other
    assert sorted(after.readings.values()) == sorted(before.readings.values())
    assert now.undoes == "15-watt valve combo swapped for 15-watt valve combo"
    drafts.swap_gear(filled, draft.draft_id, "", session.fuzz, session.unused)
    assert (
        drafts.read_draft(filled, draft.draft_id).undoes
        == "silicon fuzz swapped for spare DI box; set anew: Fuzz"
    )
    with pytest.raises(Refusal):
        drafts.swap_gear(filled, draft.draft_id, "", session.box, other)
    drafts.undo(filled, draft.draft_id)
    drafts.undo(filled, draft.draft_id)
    assert drafts.read_draft(filled, draft.draft_id).entry == draft.entry
