import pytest
from small_session import SmallSession

from app.desk.listening.blends import keep_blend, kept_moves, read_blend_sheet
from app.desk.listening.listening import keep_balance
from app.desk.passes.pass_sheets import read_pass
from app.desk.refusals import NotThere, Refusal
from app.library import Library


@pytest.fixture
def printed(filled: Library, session: SmallSession) -> tuple[int, int]:
    """A pass and one of its prints."""
    for pass_id in session.passes:
        prints = read_pass(filled, pass_id).prints
        if prints:
            return pass_id, prints[0].print_id
    raise AssertionError("the small session has a print")


def test_a_kept_blend_stands_in_words_with_its_pass(filled: Library, printed: tuple[int, int]) -> None:
    pass_id, print_id = printed
    keep_blend(filled, pass_id, {print_id: ("−6", "-255", True)})
    said = read_pass(filled, pass_id).blend
    assert said[0].endswith(": −6.0 dB, nudge 255 samples earlier, flip its polarity")
    assert kept_moves(filled, [pass_id]) == (((print_id, -255.0),), (print_id,))


def test_a_blend_that_leaves_a_print_alone_says_so(filled: Library, printed: tuple[int, int]) -> None:
    pass_id, print_id = printed
    keep_blend(filled, pass_id, {print_id: ("", "0", False)})
    assert read_pass(filled, pass_id).blend[0].endswith(": as recorded")


@pytest.mark.parametrize(
    ("gain", "nudge", "field"),
    [("loud", "0", "gain"), ("61", "0", "gain"), ("0", "a bit", "nudge"), ("0", "2000000", "nudge")],
)
def test_what_cannot_be_is_said_at_its_field(
    filled: Library, printed: tuple[int, int], gain: str, nudge: str, field: str
) -> None:
    pass_id, print_id = printed
    with pytest.raises(Refusal) as refused:
        keep_blend(filled, pass_id, {print_id: (gain, nudge, False)})
    assert set(refused.value.sentences) == {f"{field}-{print_id}"}
    assert read_pass(filled, pass_id).blend == ()


def test_a_pass_with_fewer_than_two_prints_has_no_blend(filled: Library, session: SmallSession) -> None:
    sheets = [read_blend_sheet(filled, pass_id) for pass_id in session.passes]
    for sheet in sheets:
        if len(sheet.sheet.prints) < 2:
            assert sheet.figures is None
            assert "two prints" in sheet.reason


def test_a_balance_is_kept_within_its_bounds(filled: Library, printed: tuple[int, int]) -> None:
    keep_balance(filled, printed[1], -6.0)
    with pytest.raises(Refusal, match="between"):
        keep_balance(filled, printed[1], 40.0)
    with pytest.raises(NotThere):
        keep_balance(filled, 9999, 0.0)


def test_a_blend_of_a_pass_that_is_not_there(filled: Library) -> None:
    with pytest.raises(NotThere):
        keep_blend(filled, 9999, {})
