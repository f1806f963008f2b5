from dataclasses import replace

import pytest
from small_session import (
    SmallSession,
    attach,
    bring_in,
    figures,
    measured,
    put_on_shelf,
    step_of,
    tone,
    turned,
)

from app.desk.finding.find_passes import FactsEntry, Found, choices, find_passes
from app.desk.passes import passes
from app.desk.passes.passes import PassEntry
from app.desk.projects import projects
from app.desk.projects.projects import ProjectEntry
from app.desk.refusals import Refusal
from app.desk.shelf.control_entries import ControlEntry
from app.library import Library
from app.records import Pass, PassTag
from app.trade.facts import ControlFact, read_facts


def found(library: Library, words: str = "", facts: str = "", **entry: str) -> Found:
    return find_passes(library, words, read_facts(facts), FactsEntry(**entry))


def ids(answer: Found) -> set[int]:
    return {item.pass_id for item in answer.passes}


def test_a_pass_is_found_by_where_a_control_stood(filled: Library, session: SmallSession) -> None:
    answer = found(filled, facts="fuzz below noon")
    assert ids(answer) == set(session.passes[:2])
    assert answer.passes[-1].matched == ("silicon fuzz: Fuzz 10 o'clock",)
    assert ids(found(filled, facts="fuzz above noon")) == set()


def test_a_renamed_knob_is_found_by_both_its_names(filled: Library, session: SmallSession) -> None:
    assert ids(found(filled, facts="gain between 6 and 7")) == {session.passes[0]}
    assert ids(found(filled, facts="drive about 7")) == set(session.passes[1:])


def test_the_gear_s_name_may_stand_before_the_control_s(filled: Library, session: SmallSession) -> None:
    assert ids(found(filled, facts="valve combo tone above noon")) == set(session.passes)
    assert found(filled, facts="ribbon tone above noon").unknown == ("ribbon tone above noon",)


def test_a_switch_and_a_number_are_facts_too(filled: Library, session: SmallSession) -> None:
    assert ids(found(filled, facts="bright at on")) == {session.passes[0]}
    assert ids(found(filled, facts="mains above 230")) == set(session.passes)
    assert ids(found(filled, facts="mains above 231")) == set()


def test_all_facts_and_words_must_hold_at_once(filled: Library, session: SmallSession) -> None:
    assert ids(found(filled, "neighbours", "fuzz below noon")) == {session.passes[0]}
    assert ids(found(filled, "zeppelin", "fuzz below noon")) == set()
    assert ids(found(filled, gear=str(session.fuzz), keeper="yes")) == {session.passes[0]}


def test_a_microphone_s_distance_is_read_in_any_unit(filled: Library, session: SmallSession) -> None:
    answer = found(filled, nearest="1 in", farthest="3.5 cm")
    assert ids(answer) == set(session.passes)
    assert answer.passes[0].matched == ("small ribbon microphone: 30 mm",)
    assert ids(found(filled, nearest="5 cm")) == set()


def test_tags_ratings_and_days_are_facts(filled: Library, session: SmallSession) -> None:
    with filled.writing() as writing:
        row = writing.get_one(Pass, session.passes[1])
        row.rating = 4
        writing.add(PassTag(pass_id=row.id, tag="Dark"))
        day = row.created_at.astimezone().date().isoformat()
    assert ids(found(filled, tag="dark")) == {session.passes[1]}
    assert ids(found(filled, rating="3")) == {session.passes[1]}
    assert ids(found(filled, rating="5")) == set()
    assert ids(found(filled, since=day, until=day)) == set(session.passes)
    assert ids(found(filled, since="2999-01-01")) == set()
    assert choices(filled).tags == ("Dark",)


def with_sounds(library: Library, session: SmallSession) -> tuple[int, int]:
    """Two more passes: one with a print of the first one's sound, louder; one of quite another sound."""
    measured(library, None, "The small session leaves one print to be measured.")
    made = []
    for tilt_db, gain_db in ((0.0, 12.0), (2.0, 0.0)):
        entry = passes.entry_for_next(library, session.bass)
        pass_id = passes.log_pass(library, session.bass, turned(library, entry, session.amp, Drive="3"))
        attach(library, pass_id, tone(0.2, hz=300 + tilt_db), f"tilt {tilt_db}.wav")
        plain = figures(lufs=-18.3 + gain_db)
        bands = tuple(
            replace(band, level_dbfs=(band.level_dbfs or 0.0) + gain_db + tilt_db * at)
            for at, band in enumerate(plain.bands)
        )
        measured(library, replace(plain, bands=bands))
        made.append(pass_id)
    return made[0], made[1]


def test_what_sounds_alike_comes_first_however_loud(filled: Library, session: SmallSession) -> None:
    same, other = with_sounds(filled, session)
    answer = found(filled, like=str(session.passes[0]))
    assert [item.pass_id for item in answer.passes] == [same, other]
    assert answer.passes[0].distance_db == pytest.approx(0.0, abs=1e-3)
    assert (answer.passes[1].distance_db or 0.0) > 5.0
    assert answer.like == "pass 1 of bass DI"


def test_loudness_is_a_fact(filled: Library, session: SmallSession) -> None:
    same, _ = with_sounds(filled, session)
    assert ids(found(filled, quietest="-10 LUFS")) == {same}
    assert ids(found(filled, quietest="−19", loudest="−18")) >= {session.passes[0]}


def test_alike_and_facts_go_together(filled: Library, session: SmallSession) -> None:
    same, _ = with_sounds(filled, session)
    assert ids(found(filled, like=str(session.passes[0]), quietest="-10")) == {same}


@pytest.mark.parametrize(
    ("field", "typed"),
    [("controls", "much fuzz"), ("nearest", "near"), ("since", "yesterday"), ("loudest", "loud")],
)
def test_what_cannot_be_read_is_said_at_its_field(filled: Library, field: str, typed: str) -> None:
    with pytest.raises(Refusal) as refused:
        find_passes(filled, "", (), FactsEntry(**{field: typed}))
    assert list(refused.value.sentences) == [field]


def test_a_control_nobody_has_is_told(filled: Library) -> None:
    fact = ControlFact("sparkle", "above", "noon")
    assert find_passes(filled, "", (fact,), FactsEntry()).unknown == ("sparkle above noon",)


def _gains(library: Library) -> tuple[int, int]:
    """A pass through an amp with plain numbers at its gain, and one through a preamp whose gain is in dB."""
    source = bring_in(library, projects.create_project(library, ProjectEntry("Boathouse")), "bass DI")
    amp = put_on_shelf(library, "combo", "amp", ControlEntry(name="Gain"))
    in_db = ControlEntry(name="Gain", scale="range", low="0", high="60", unit="dB")
    preamp = put_on_shelf(library, "preamp", "preamp", in_db)
    return (
        passes.log_pass(library, source, PassEntry(steps=(step_of(library, amp, {"Gain": "6"}),))),
        passes.log_pass(library, source, PassEntry(steps=(step_of(library, preamp, {"Gain": "40 dB"}),))),
    )


def test_a_plain_number_means_scales_without_a_unit_and_the_others_are_offered(library: Library) -> None:
    plain, in_db = _gains(library)
    answer = found(library, facts="gain above 5")
    assert ids(answer) == {plain}
    assert [(fact.text, other.text) for fact, other in answer.or_in] == [("gain above 5", "gain above 5 dB")]
    said = found(library, facts="gain above 5 dB")
    assert (ids(said), said.or_in) == ({in_db}, ())
    between = found(library, facts="gain between 5 and 50")
    assert between.or_in == () or between.or_in[0][1].text == "gain between 5 dB and 50 dB"


def test_a_plain_number_means_a_scale_with_a_unit_where_there_is_no_other(library: Library) -> None:
    source = bring_in(library, projects.create_project(library, ProjectEntry("Boathouse")), "bass DI")
    in_db = ControlEntry(name="Gain", scale="range", low="0", high="60", unit="dB")
    preamp = put_on_shelf(library, "preamp", "preamp", in_db)
    logged = passes.log_pass(library, source, PassEntry(steps=(step_of(library, preamp, {"Gain": "40"}),)))
    answer = found(library, facts="gain above 5")
    assert (ids(answer), answer.or_in) == ({logged}, ())


def test_words_beside_facts_may_be_of_gear_in_the_chain(filled: Library, session: SmallSession) -> None:
    assert ids(found(filled, "silicon", "gain between 6 and 7")) == {session.passes[0]}
