"""What is known of a piece of gear, in the checks of every pass it stands in."""

from dataclasses import replace

import pytest
from small_session import SmallSession, put_on_shelf, step_of

from app.desk.passes import passes
from app.desk.passes.pass_sheets import read_pass
from app.desk.passes.passes import PassEntry
from app.desk.planning import hook_up
from app.desk.planning.hook_up import entry_of, read_hook_up, save_plan
from app.desk.recall.plan import cautions_of
from app.desk.refusals import Refusal
from app.desk.shelf import gear
from app.desk.shelf.ports import know_facts
from app.library import Library


def with_phantom_on(library: Library, session: SmallSession) -> tuple[int, int]:
    """A pass with phantom power on at a microphone of which nothing is known, and the microphone."""
    microphone = put_on_shelf(library, "unlabelled microphone", "microphone")
    steps = tuple(step_of(library, gear_id) for gear_id in (session.cabinet, microphone, session.interface))
    made = passes.log_pass(library, session.bass, PassEntry(steps=steps))
    plan = read_hook_up(library, made)
    on = tuple(f"{ref.device}:{ref.port}" for ref in plan.hook_up.daw.return_inputs)
    save_plan(library, made, replace(entry_of(plan), phantom_on=on))
    return made, microphone


def rules(library: Library, pass_id: int) -> dict[str, str]:
    return {item.finding.rule: item.finding.severity for item in read_hook_up(library, pass_id).findings}


def test_phantom_on_a_microphone_stops_until_it_is_said_to_be_no_ribbon(
    filled: Library, session: SmallSession
) -> None:
    made, microphone = with_phantom_on(filled, session)
    assert rules(filled, made)["phantom_on_a_ribbon"] == "stop"
    hook_up.answer(filled, made, str(microphone), "ribbon", "no")
    assert "phantom_on_a_ribbon" not in rules(filled, made)


def test_a_ribbon_that_is_known_as_one_only_later_stops_on_the_passes_of_before(
    filled: Library, session: SmallSession
) -> None:
    made, microphone = with_phantom_on(filled, session)
    know_facts(filled, microphone, ribbon=False)
    assert "phantom_on_a_ribbon" not in rules(filled, made)
    know_facts(filled, microphone, ribbon=True)
    assert rules(filled, made)["phantom_on_a_ribbon"] == "stop"
    (step,) = (step for step in read_pass(filled, made).steps if step.gear_id == microphone)
    assert "ribbon" in step.known_since


def test_cautions_know_what_was_learnt_since(filled: Library, session: SmallSession) -> None:
    made, microphone = with_phantom_on(filled, session)
    before = cautions_of(read_pass(filled, made))
    know_facts(filled, microphone, ribbon=False)
    after = cautions_of(read_pass(filled, made))
    assert len(after) < len(before)


def test_a_combo_of_the_single_channel_layout_is_asked_once_for_all_its_passes(
    filled: Library, session: SmallSession
) -> None:
    combo = gear.add_gear(filled, gear.starting_entry("single_channel_amp"))
    know_facts(filled, combo, valve=True)
    chain = (session.interface, session.box, combo, session.near_mic)
    steps = tuple(step_of(filled, gear_id) for gear_id in chain)
    old, other = (passes.log_pass(filled, session.bass, PassEntry(steps=steps)) for _ in range(2))
    assert rules(filled, old)["valve_amp_without_load"] == "stop"
    assert read_hook_up(filled, old).gaps
    hook_up.answer(filled, old, str(combo), "own_speaker", "yes")
    for made in (old, other):
        sheet = read_hook_up(filled, made)
        assert "valve_amp_without_load" not in {item.finding.rule for item in sheet.findings}
        assert sheet.gaps == (), "a microphone stands in front of its own speaker"
        assert any("Has its own speaker: yes" in words for words in sheet.known_since)
    newest = gear.read_gear(filled, combo).newest
    assert newest.learnt == ("Has its own speaker: yes (not known before)",)


def test_a_combo_made_from_its_layout_needs_no_answer(filled: Library, session: SmallSession) -> None:
    combo = gear.add_gear(filled, gear.starting_entry("combo_with_extension"))
    know_facts(filled, combo, valve=True)
    chain = (session.interface, session.box, combo, session.near_mic)
    steps = tuple(step_of(filled, gear_id) for gear_id in chain)
    made = passes.log_pass(filled, session.bass, PassEntry(steps=steps))
    assert read_hook_up(filled, made).gaps == ()
    assert rules(filled, made) == {}


def test_what_is_not_asked_cannot_be_answered(filled: Library, session: SmallSession) -> None:
    with pytest.raises(Refusal, match="not asked any more"):
        hook_up.answer(filled, session.passes[0], str(session.amp), "isolated", "yes")
