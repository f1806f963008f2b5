"""A chain typed on one line: the shelf first, then the layouts to start from."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.trade.chain_line import LINE_LIMIT, OnShelf, read_chain

BOX = OnShelf(1, "Passive re-amp box", "reamp_box")
FUZZ = OnShelf(2, "Silicon fuzz", "pedal")
COMBO = OnShelf(3, "15-watt valve combo", "amp")
RIBBON = OnShelf(4, "Small ribbon", "microphone")
OTHER_RIBBON = OnShelf(5, "Long ribbon", "microphone")


def layouts(line: str) -> list[str]:
    return [piece.start.key for piece in read_chain(line, []) if piece.start is not None]


def test_a_whole_chain_is_made_of_layouts_where_the_shelf_is_empty() -> None:
    line = "interface > re-amp box > overdrive > combo > ribbon 30 mm > preamp"
    assert layouts(line) == ["interface", "reamp_box", "overdrive", "combo", "ribbon_microphone", "preamp"]
    ribbon = read_chain(line, [])[4]
    assert (ribbon.name, ribbon.distance, ribbon.kind) == ("Ribbon", "30 mm", "microphone")


@pytest.mark.parametrize(
    ("words", "key"),
    [
        ("reamp", "reamp_box"),
        ("bass amp", "bass_amp"),
        ("amp", "single_channel_amp"),
        ("germanium fuzz", "fuzz"),
        ("chorus", "modulation"),
        ("di", "di_box"),
        ("cab", "cabinet"),
        ("condenser mic", "condenser_microphone"),
        ("singing saw", "empty"),
    ],
)
def test_words_of_the_trade_lead_to_a_layout(words: str, key: str) -> None:
    assert layouts(words) == [key]


def test_what_is_on_the_shelf_is_taken_from_there() -> None:
    shelf = [BOX, FUZZ, COMBO, RIBBON]
    pieces = read_chain("reamp > fuzz > valve combo > ribbon 2 in", shelf)
    assert [piece.known for piece in pieces] == [BOX, FUZZ, COMBO, RIBBON]
    assert pieces[3].distance == "2 in"


def test_no_piece_is_taken_twice_and_near_ones_are_named() -> None:
    first, second, third = read_chain("ribbon > ribbon > ribbon", [RIBBON, OTHER_RIBBON])
    assert {first.known, second.known} == {RIBBON, OTHER_RIBBON}
    assert first.others == ("Small ribbon",)
    assert third.known is None


@pytest.mark.parametrize("between", [", ", " + ", "+", " & ", " and "])
def test_microphones_side_by_side_are_as_many_as_are_named(between: str) -> None:
    line = f"interface > fuzz > amp > dynamic 25 mm{between}ribbon 100 mm"
    *_, one, other = read_chain(line, [])
    assert (one.name, one.distance, one.kind) == ("Dynamic", "25 mm", "microphone")
    assert (other.name, other.distance, other.kind) == ("Ribbon", "100 mm", "microphone")
    assert read_chain(line, []) == read_chain(line.replace(between, " > "), [])


@pytest.mark.parametrize(
    ("line", "names"),
    [
        (
            "amp > old dynamic, 2,5 cm, small ribbon at 10 cm and my mic",
            ["Amp", "Old dynamic", "Small ribbon", "My mic"],
        ),
        ("amp > ribbon, ribbon", ["Amp", "Small ribbon", "Ribbon"]),
        ("amp > ribbon, figure of eight", ["Amp", "Ribbon, figure of eight"]),
        ("amp > dynamic and cone", ["Amp", "Dynamic and cone"]),
        ("amp > near pair, dynamic + condenser 4 cm", ["Amp", "Near pair, dynamic + condenser"]),
        ("near pair, dynamic + condenser", ["Near pair, dynamic + condenser"]),
    ],
)
def test_only_microphones_are_parted_and_no_name_of_the_shelf(line: str, names: list[str]) -> None:
    shelf = [RIBBON, OnShelf(6, "Near pair, dynamic + condenser", "microphone")]
    assert [piece.name for piece in read_chain(line, shelf)] == names


def test_a_number_that_is_no_distance_belongs_to_the_name() -> None:
    (piece,) = read_chain("fuzz 2", [])
    assert (piece.name, piece.distance) == ("Fuzz 2", "")


def test_a_line_that_is_too_long_says_so() -> None:
    with pytest.raises(ValueError, match="at most 600 characters"):
        read_chain("x" * (LINE_LIMIT + 1), [])


@given(st.text(max_size=200))
def test_whatever_is_typed_is_read(line: str) -> None:
    for piece in read_chain(line, [BOX, RIBBON]):
        assert piece.name
        assert piece.known is not None or piece.start is not None
