import pytest
from small_session import SmallSession

from app.desk.listening import blind
from app.desk.passes.passes import entry_for_next, log_pass
from app.desk.refusals import NotThere, Refusal
from app.desk.sheets.session_log import read_session_log
from app.library import Library
from app.records import HearingTest


@pytest.fixture
def two_passes(filled: Library, session: SmallSession) -> tuple[int, int]:
    source_id = session.bass
    return (
        log_pass(filled, source_id, entry_for_next(filled, source_id)),
        log_pass(filled, source_id, entry_for_next(filled, source_id)),
    )


def test_letters_are_dealt_out_and_named_only_when_asked(
    filled: Library, two_passes: tuple[int, int]
) -> None:
    blind_id = blind.begin_blind(filled, two_passes)
    sheet = blind.read_blind(filled, blind_id)
    assert [lane.letter for lane in sheet.lanes] == ["A", "B"]
    assert {lane.pass_id for lane in sheet.lanes} == set(two_passes)
    assert sheet.revealed_at is None
    blind.reveal(filled, blind_id, {"A": "thin"}, {"A": "2", "B": "1"})
    named = blind.read_blind(filled, blind_id)
    assert named.revealed_at is not None
    assert named.best is not None
    assert named.best.letter == "B"
    assert named.lanes[0].note == "thin"


def test_what_was_said_under_the_letters_stands(filled: Library, two_passes: tuple[int, int]) -> None:
    blind_id = blind.begin_blind(filled, two_passes)
    blind.reveal(filled, blind_id, {"A": "first word"}, {})
    with pytest.raises(Refusal, match="stands"):
        blind.reveal(filled, blind_id, {"A": "second thought"}, {})
    assert blind.read_blind(filled, blind_id).lanes[0].note == "first word"


def test_each_rank_is_given_once(filled: Library, two_passes: tuple[int, int]) -> None:
    blind_id = blind.begin_blind(filled, two_passes)
    with pytest.raises(Refusal) as refused:
        blind.reveal(filled, blind_id, {}, {"A": "1", "B": "1"})
    assert set(refused.value.sentences) == {"rank-A", "rank-B"}
    assert blind.read_blind(filled, blind_id).revealed_at is None


def test_the_order_is_not_always_that_of_the_passes(filled: Library, two_passes: tuple[int, int]) -> None:
    orders = {
        tuple(lane.pass_id for lane in blind.read_blind(filled, blind.begin_blind(filled, two_passes)).lanes)
        for _ in range(40)
    }
    assert len(orders) == 2


def test_a_test_tells_its_score_only_at_the_end(filled: Library, two_passes: tuple[int, int]) -> None:
    test_id = blind.begin_test(filled, *two_passes, 8)
    with filled.reading() as opened:
        xs = opened.get_one(HearingTest, test_id).xs
    for trial, x in enumerate(xs):
        assert blind.read_test(filled, test_id).result is None
        assert blind.pass_of_x(filled, test_id) == (two_passes[0] if x == "A" else two_passes[1])
        blind.answer(filled, test_id, trial, x)
    assert blind.read_test(filled, test_id).result == (
        "8 of 8: a guesser does this well one time in 256. You hear a difference."
    )


def test_an_answer_that_comes_twice_counts_once(filled: Library, two_passes: tuple[int, int]) -> None:
    test_id = blind.begin_test(filled, *two_passes, 8)
    blind.answer(filled, test_id, 0, "A")
    blind.answer(filled, test_id, 0, "B")
    assert blind.read_test(filled, test_id).answered == 1


def test_the_number_of_trials_comes_from_the_list(filled: Library, two_passes: tuple[int, int]) -> None:
    with pytest.raises(Refusal, match="before you start"):
        blind.begin_test(filled, *two_passes, 7)


def test_finished_ones_stay_with_the_source(
    filled: Library, session: SmallSession, two_passes: tuple[int, int]
) -> None:
    unfinished = blind.begin_blind(filled, two_passes)
    finished = blind.begin_blind(filled, two_passes)
    blind.reveal(filled, finished, {}, {"A": "1"})
    found = [sheet.blind_id for sheet in blind.read_blind_choices(filled, [session.bass])]
    assert found == [finished]
    assert unfinished not in found


def test_what_is_not_there_is_said(filled: Library) -> None:
    with pytest.raises(NotThere):
        blind.read_blind(filled, 999)
    with pytest.raises(NotThere):
        blind.read_test(filled, 999)


def test_the_session_log_says_what_was_heard_blind(
    filled: Library, session: SmallSession, two_passes: tuple[int, int]
) -> None:
    blind_id = blind.begin_blind(filled, two_passes)
    blind.reveal(filled, blind_id, {"A": "thin"}, {"A": "2", "B": "1"})
    (source,) = [each for each in read_session_log(filled, session.project).sources if each.heard_blind]
    assert source.source_id == session.bass
    assert "thin" in source.heard_blind[-1]
    assert "ranked 1" in source.heard_blind[-1]
