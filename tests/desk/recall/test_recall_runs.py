"""A pass is set up again: what there is to do, what was done of it, and with which gear."""

from dataclasses import replace

import pytest
from small_session import SmallSession, put_on_shelf, step_id_of, turned

from app.desk.passes import passes
from app.desk.passes.pass_sheets import read_pass
from app.desk.planning.hook_up import entry_of, read_hook_up, save_plan
from app.desk.recall import runs
from app.desk.recall.items import GearToSet, Item
from app.desk.recall.runs import RecallSheet, read_gear_to_set, read_recall, summary_of
from app.desk.refusals import NotThere, Refusal
from app.desk.shelf import gear
from app.desk.shelf.control_entries import ControlEntry
from app.library import Library
from app.records import RecallMark


def gear_of(recall: RecallSheet, name: str) -> GearToSet:
    return next(each for each in recall.gear if name in each.step.gear_name)


def item_of(recall: RecallSheet, gear_name: str, name: str) -> Item:
    return next(item for item in gear_of(recall, gear_name).items if item.name == name)


def test_a_recall_lists_what_to_set_in_the_order_of_the_chain(filled: Library, session: SmallSession) -> None:
    recall = read_recall(filled, runs.begin(filled, session.passes[0]))
    assert [each.name for each in recall.gear] == [
        "re-amp box",
        "silicon fuzz",
        "15-watt valve combo",
        "1×12 cabinet",
        "small ribbon microphone",
    ]
    assert recall.items[:2] == (recall.hook_up, recall.levels)
    assert [(item.name, item.reading) for item in recall.gear[1].items] == [("Fuzz", "10 o'clock")]
    assert [item.name for item in recall.gear[3].items] == ["In its place"]
    assert recall.gear[4].items[0].reading.startswith("left, 30 mm from the grille")
    assert len(recall.gear[2].items) == 10


def test_the_photos_of_a_piece_stand_beside_it(filled: Library, session: SmallSession) -> None:
    recall = read_recall(filled, session.recall)
    assert [photo.caption for photo in recall.photos] == ["the amp"]
    assert [photo.photo_id for photo in gear_of(recall, "ribbon").photos] == [session.photos[1]]
    assert [photo.caption for photo in gear_of(recall, "fuzz").photos] == ["inside"]


def test_what_is_checked_off_stays_checked_off(filled: Library, session: SmallSession) -> None:
    key = item_of(read_recall(filled, session.recall), "combo", "Tone").key
    runs.mark(filled, session.recall, {key: True, "hook-up": True}, {key: " the knob  stops at 9 "})
    recall = read_recall(filled, session.recall)
    assert recall.done == 2
    assert item_of(recall, "combo", "Tone").marked.deviation == "the knob stops at 9"
    assert recall.deviations == (("15-watt valve combo, Tone", "the knob stops at 9"),)
    runs.mark(filled, session.recall, {key: False}, {key: ""})
    recall = read_recall(filled, session.recall)
    assert (recall.done, recall.deviations) == (1, ())


def test_what_a_queue_sends_twice_does_not_undo_what_came_in_between(
    filled: Library, session: SmallSession
) -> None:
    runs.mark(filled, session.recall, {"levels": True}, {}, key="ticked")
    runs.mark(filled, session.recall, {"levels": False}, {}, key="taken back")
    runs.mark(filled, session.recall, {"levels": True}, {}, key="ticked")
    assert not runs.read_recall(filled, session.recall).levels.marked.done
    runs.mark(filled, session.recall, {"levels": True}, {}, key="ticked again")
    assert runs.read_recall(filled, session.recall).levels.marked.done


def test_marking_something_that_is_no_item_of_the_pass_changes_nothing(
    filled: Library, session: SmallSession
) -> None:
    runs.mark(filled, session.recall, {"control-999-1": True, "nonsense": True}, {"step-999": "x"})
    assert read_recall(filled, session.recall).done == 0


def test_a_note_that_is_too_long_is_refused_and_nothing_is_kept(
    filled: Library, session: SmallSession
) -> None:
    with pytest.raises(Refusal) as refused:
        runs.mark(filled, session.recall, {"levels": True}, {"hook-up": "x" * 300})
    assert set(refused.value.sentences) == {"deviation-hook-up"}
    assert read_recall(filled, session.recall).done == 0


def test_a_whole_piece_can_be_checked_off_at_once(filled: Library, session: SmallSession) -> None:
    step_id = step_id_of(filled, session.passes[0], session.amp)
    runs.mark_step(filled, session.recall, step_id, done=True)
    recall = read_recall(filled, session.recall)
    assert gear_of(recall, "combo").done == len(gear_of(recall, "combo").items) == recall.done


def test_a_finished_recall_is_changed_only_after_it_was_opened_again(
    filled: Library, session: SmallSession
) -> None:
    runs.finish(filled, session.recall, "As close as it gets.")
    with pytest.raises(Refusal, match="finished"):
        runs.mark(filled, session.recall, {"levels": True}, {})
    (line,) = runs.list_recalls(filled, session.passes[0])
    assert (line.note, line.finished_at is None) == ("As close as it gets.", False)
    runs.open_again(filled, session.recall)
    runs.mark(filled, session.recall, {"levels": True}, {"levels": "no pad"})
    (line,) = runs.list_recalls(filled, session.passes[0])
    assert (line.finished_at, line.deviations, line.tries) == (None, 1, 1)


def test_a_deleted_recall_takes_its_marks_along(filled: Library, session: SmallSession) -> None:
    runs.mark(filled, session.recall, {"levels": True}, {})
    assert runs.delete_recall(filled, session.recall) == session.passes[0]
    with pytest.raises(NotThere):
        read_recall(filled, session.recall)


def test_only_what_was_turned_since_differs_from_now(filled: Library, session: SmallSession) -> None:
    """Pass 2 was logged after pass 1, with two controls of the amp turned; pass 3 left the fuzz out."""
    recall = read_recall(filled, session.recall)
    combo = gear_of(recall, "combo")
    assert {item.name: item.now for item in combo.items if item.differs} == {"Gain": "7", "Bright": "off"}
    assert combo.last is not None
    assert combo.last.pass_id == session.passes[2]
    assert not item_of(recall, "fuzz", "Fuzz").differs
    assert recall.to_touch == (
        "Only 2 of 13 differ from how this gear was last logged: 15-watt valve combo: Gain and Bright."
    )


def test_the_pass_that_was_logged_last_differs_in_nothing(filled: Library, session: SmallSession) -> None:
    said = summary_of(read_gear_to_set(filled, read_pass(filled, session.passes[2])))
    assert said == "Nothing differs from how this gear was last logged."


def test_a_finished_recall_says_how_its_gear_stands_now(filled: Library, session: SmallSession) -> None:
    combo = gear_of(read_recall(filled, session.recall), "combo")
    gain, bright, tone = (
        next(item for item in combo.items if item.name == name) for name in ("Gain", "Bright", "Tone")
    )
    runs.mark(filled, session.recall, {gain.key: True, tone.key: True}, {tone.key: "the knob stops at 9"})
    before = read_recall(filled, session.recall)
    runs.finish(filled, session.recall, "")
    combo = gear_of(read_recall(filled, runs.begin(filled, session.passes[0])), "combo")
    assert combo.last is not None
    assert (combo.last.pass_id, combo.last.was_recalled) == (session.passes[0], True)
    assert {item.name: item.now for item in combo.items if item.differs} == {"Bright": "off", "Tone": None}, (
        "the gain was set back, bright was left as it was, and where the tone stands is not known"
    )
    passes.log_pass(filled, session.bass, passes.entry_for_next(filled, session.bass))
    combo = gear_of(read_recall(filled, runs.begin(filled, session.passes[0])), "combo")
    assert combo.last is not None
    assert not combo.last.was_recalled
    assert {item.name for item in combo.items if item.differs} == {gain.name, bright.name}
    assert read_recall(filled, session.recall).gear == before.gear, (
        "what differed then stays what it had to do"
    )


def test_a_moved_microphone_differs(filled: Library, session: SmallSession) -> None:
    entry = passes.entry_for_next(filled, session.bass)
    steps = [
        replace(step, placement=replace(step.placement, distance="50")) if step.placement else step
        for step in entry.steps
    ]
    passes.log_pass(filled, session.bass, replace(entry, steps=tuple(steps)))
    item = item_of(read_recall(filled, session.recall), "ribbon", "Placement")
    assert item.differs
    assert item.now is not None
    assert "50 mm from the grille" in item.now


def test_another_piece_stands_in_and_what_was_done_is_open_again(
    filled: Library, session: SmallSession
) -> None:
    other = put_on_shelf(
        filled,
        "30-watt valve combo",
        "amp",
        ControlEntry(name="gain", scale="clock"),
        ControlEntry(name="Trim", form="fader", scale="range", low="-6", high="6", unit="dB"),
        ControlEntry(name="Input", form="selector", positions="Low, bright"),
        ControlEntry(name="Presence"),
    )
    step_id = step_id_of(filled, session.passes[0], session.amp)
    runs.mark_step(filled, session.recall, step_id, done=True)
    runs.substitute(filled, session.recall, step_id, other)
    recall = read_recall(filled, session.recall)
    combo = gear_of(recall, "15-watt")
    assert (combo.name, combo.done, combo.untold) == ("30-watt valve combo", 0, ("Presence",))
    carried = {item.name: (item.reading, item.now) for item in combo.items}
    assert carried["gain"] == ("1:30", None)  # 6.5 of 10 by travel: 65 % of 300 degrees from 7:00
    assert carried["Trim"] == ("−3.0 dB", None)
    assert carried["Input"] == ("Low", None)
    assert carried["Mix"] == ("by ear", None)
    assert "no control that answers" in next(item.note for item in combo.items if item.name == "Mix")
    runs.substitute(filled, session.recall, step_id, None)
    assert gear_of(read_recall(filled, session.recall), "15-watt").substitute is None


def test_gear_that_was_written_down_anew_can_be_seen_as_it_is_now(
    filled: Library, session: SmallSession
) -> None:
    """Pass 1 was logged when the amp's Gain was not yet called Drive."""
    combo = gear_of(read_recall(filled, session.recall), "combo")
    assert "written down anew" in combo.trouble
    runs.substitute(filled, session.recall, combo.step.step_id, session.amp)
    combo = gear_of(read_recall(filled, session.recall), "combo")
    assert combo.substitute is not None
    assert combo.substitute.is_same_gear
    drive = combo.items[0]
    assert (drive.name, drive.reading, drive.note, drive.now) == ("Drive", "6.5", "Was Gain 6.5.", "7")


def test_gear_that_was_put_aside_is_said_to_be(filled: Library, session: SmallSession) -> None:
    gear.retire_gear(filled, session.fuzz, retired=True)
    assert "put aside" in gear_of(read_recall(filled, session.recall), "fuzz").trouble


def test_a_step_of_another_pass_takes_no_substitute(filled: Library, session: SmallSession) -> None:
    step_id = step_id_of(filled, session.passes[1], session.amp)
    with pytest.raises(NotThere):
        runs.substitute(filled, session.recall, step_id, session.unused)


def test_the_latest_pass_counts_whatever_its_source(filled: Library, session: SmallSession) -> None:
    entry = passes.entry_for_next(filled, session.organ)
    passes.log_pass(filled, session.organ, turned(filled, entry, session.amp, Tone="8:00"))
    assert item_of(read_recall(filled, session.recall), "combo", "Tone").now == "8:00"


def planned_recall(filled: Library, session: SmallSession) -> int:
    """A recall of a pass whose hook-up was planned."""
    first = session.passes[0]
    save_plan(filled, first, entry_of(read_hook_up(filled, first)))
    return runs.begin(filled, first)


def test_the_hook_up_is_done_once_its_cables_are(filled: Library, session: SmallSession) -> None:
    before = read_recall(filled, planned_recall(filled, session))
    first, *rest = before.cables
    assert rest
    assert not before.hook_up.marked.done
    for cable in before.cables:
        assert not read_recall(filled, before.recall_id).hook_up.marked.done
        runs.mark(filled, before.recall_id, {cable.item.key: True}, {})
    assert read_recall(filled, before.recall_id).hook_up.marked.done
    runs.mark(filled, before.recall_id, {first.item.key: False}, {})
    after = read_recall(filled, before.recall_id)
    assert not after.hook_up.marked.done
    assert after.done == len(rest)


def test_a_hook_up_checked_off_as_a_whole_before_cables_had_ticks_stays_done(
    filled: Library, session: SmallSession
) -> None:
    recall_id = planned_recall(filled, session)
    with filled.writing() as rows:
        rows.add(RecallMark(recall_id=recall_id, item="hook-up", done=True))
    recall = read_recall(filled, recall_id)
    assert recall.hook_up.marked.done
    runs.mark(filled, recall_id, {recall.cables[0].item.key: False}, {})
    assert [cable.item.marked.done for cable in read_recall(filled, recall_id).cables] == [
        False,
        *[True] * (len(recall.cables) - 1),
    ]
