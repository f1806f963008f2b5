"""A chain that worked is taken whole, with its settings, wherever the next session begins."""

import pytest
from small_session import SmallSession

from app.desk.finding.find import find
from app.desk.passes import drafts
from app.desk.passes.chain_lines import take_chain, understand_chain
from app.desk.passes.kept_chains import keep_chain, offered_chains
from app.desk.passes.pass_sheets import read_pass
from app.desk.projects.sources import SourceEntry, create_source
from app.desk.refusals import Refusal
from app.library import Library


@pytest.fixture
def fresh(filled: Library, session: SmallSession) -> int:
    """A source that nothing was tried on yet."""
    return create_source(filled, session.project, SourceEntry("new take"), None)


def begun_empty(filled: Library, source_id: int) -> int:
    draft_id = drafts.open_draft(filled, source_id).draft_id
    drafts.begin_empty(filled, draft_id, "")
    return draft_id


def test_the_name_of_a_kept_chain_takes_its_gear_and_its_settings(
    filled: Library, session: SmallSession, fresh: int
) -> None:
    keep_chain(filled, session.passes[0], "Shed crunch")
    draft_id = begun_empty(filled, fresh)
    assert understand_chain(filled, "shed CRUNCH") == ()
    take_chain(filled, draft_id, "", "shed crunch")
    entry = drafts.read_draft(filled, draft_id).entry
    kept = read_pass(filled, session.passes[0])
    assert [step.gear_id for step in entry.steps] == [step.gear_id for step in kept.steps]
    assert {reading for step in entry.steps for reading in step.readings.values() if reading} >= {
        line.reading for step in kept.steps for line in step.settings if line.is_set
    }


def test_a_name_goes_to_the_pass_that_took_it_last(filled: Library, session: SmallSession) -> None:
    first, second = session.passes[:2]
    keep_chain(filled, first, "Shed crunch")
    keep_chain(filled, second, "shed crunch")
    assert read_pass(filled, first).chain_name == ""
    assert read_pass(filled, second).chain_name == "shed crunch"


def test_named_chains_are_offered_first_and_others_once(
    filled: Library, session: SmallSession, fresh: int
) -> None:
    keep_chain(filled, session.passes[0], "Shed crunch")
    offers = offered_chains(filled, fresh)
    assert offers[0].name == "Shed crunch"
    assert all(not offer.name for offer in offers[1:])
    assert len({offer.gear for offer in offers}) == len(offers)


def test_a_chain_is_found_by_its_name_and_kept_no_more_without_one(
    filled: Library, session: SmallSession
) -> None:
    keep_chain(filled, session.passes[0], "Shed crunch")
    assert any(hit.row_id == session.passes[0] for hit in find(filled, "shed crunch"))
    keep_chain(filled, session.passes[0], "")
    assert not any(hit.row_id == session.passes[0] for hit in find(filled, "shed crunch"))


def test_a_name_too_long_to_be_one_is_refused(filled: Library, session: SmallSession) -> None:
    with pytest.raises(Refusal) as refused:
        keep_chain(filled, session.passes[0], "x" * 5000)
    assert "chain_name" in refused.value.sentences
