import pytest
from small_session import SmallSession

from app.desk.listening.blends import keep_blend, kept_blends, read_blend_sheet
from app.desk.listening.listening import keep_balance
from app.desk.passes import passes
from app.desk.passes.pass_sheets import read_pass
from app.desk.passes.passes import PassEntry
from app.desk.refusals import NotThere, Refusal
from app.library import Library
from app.signal.listening.blend_figures import BlendSetting


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
    keep_blend(filled, pass_id, {print_id: ("−6", "-255", True), None: ("3", "", False)})
    sheet = read_pass(filled, pass_id)
    source, said, lined_up = sheet.blend
    assert source == f"{sheet.source_name}, dry: +3.0 dB"
    assert said.endswith(": −6.0 dB, nudge 255 samples earlier, flip its polarity")
    assert "to meet the source" in lined_up
    kept = {None: BlendSetting(3.0), print_id: BlendSetting(-6.0, -255.0, True)}
    assert kept_blends(filled, [pass_id]) == {pass_id: kept}


def test_one_lane_alone_is_no_blend_and_a_print_of_another_pass_is_in_none(
    filled: Library, printed: tuple[int, int]
) -> None:
    pass_id, print_id = printed
    for lanes in ({print_id}, {None}, {None, 9999}):
        with pytest.raises(Refusal, match="two or more"):
            keep_blend(filled, pass_id, dict.fromkeys(lanes, ("0", "0", False)))


def test_a_blend_that_leaves_a_print_alone_says_so(filled: Library, printed: tuple[int, int]) -> None:
    pass_id, print_id = printed
    keep_blend(filled, pass_id, {print_id: ("", "0", False), None: ("", "", False)})
    assert all(said.endswith(": as recorded") for said in read_pass(filled, pass_id).blend[:2])


@pytest.mark.parametrize(
    ("gain", "nudge", "field"),
    [("loud", "0", "gain"), ("61", "0", "gain"), ("0", "a bit", "nudge"), ("0", "2000000", "nudge")],
)
def test_what_cannot_be_is_said_at_its_field(
    filled: Library, printed: tuple[int, int], gain: str, nudge: str, field: str
) -> None:
    pass_id, print_id = printed
    with pytest.raises(Refusal) as refused:
        keep_blend(filled, pass_id, {print_id: (gain, nudge, False), None: ("", "", False)})
    assert set(refused.value.sentences) == {f"{field}-{print_id}"}
    assert read_pass(filled, pass_id).blend == ()


def test_a_pass_without_a_print_has_no_blend(filled: Library, session: SmallSession) -> None:
    source = read_pass(filled, session.passes[0]).source_id
    sheet = read_blend_sheet(filled, passes.log_pass(filled, source, PassEntry()))
    assert sheet.figures is None
    assert "no print to blend" in sheet.reason


def test_a_balance_is_kept_within_its_bounds(filled: Library, printed: tuple[int, int]) -> None:
    keep_balance(filled, printed[1], -6.0)
    with pytest.raises(Refusal, match="between"):
        keep_balance(filled, printed[1], 40.0)
    with pytest.raises(NotThere):
        keep_balance(filled, 9999, 0.0)


def test_a_blend_of_a_pass_that_is_not_there(filled: Library) -> None:
    with pytest.raises(NotThere):
        keep_blend(filled, 9999, {})
