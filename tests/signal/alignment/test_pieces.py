"""The pieces of a print: what is said of each fits what was lost, heard twice, or edited."""

import pytest

from app.signal.alignment.pieces import Change, Line, beside, dropouts_of, pieces_of, placed_by
from app.signal.figures import AlignmentFigures, Between, Dropout, Piece

RATE = 48_000
LINE = Line(RATE, 480.0, 0.0, True, "same", 0.97)


def parted(*changes: Change) -> tuple[tuple[Piece, ...], tuple[Between, ...]]:
    return pieces_of(LINE, changes, source_s=20.0, print_s=30.0)


def places(pieces: tuple[Piece, ...]) -> list[tuple[float, ...]]:
    return [
        pytest.approx((one.print_from_s, one.print_to_s, one.source_from_s, one.source_to_s))
        for one in pieces
    ]


def test_a_print_whose_delay_never_jumps_is_one_piece_of_all_it_plays() -> None:
    pieces, between = parted()
    assert places(pieces) == [(0.01, 20.01, 0.0, 20.0)]
    assert between == ()


def test_what_was_lost_stands_in_the_source_between_two_pieces() -> None:
    pieces, (lost,) = parted(Change(5.01, -4800))
    assert places(pieces) == [(0.01, 5.01, 0.0, 5.0), (5.01, 19.91, 5.1, 20.0)]
    assert (lost.kind, lost.samples, lost.is_edit) == ("lost", 4800, False)


def test_what_was_cut_out_of_the_source_since_stands_in_the_print_between_two_pieces() -> None:
    pieces, (cut,) = parted(Change(5.01, 2 * RATE))
    assert places(pieces) == [(0.01, 5.01, 0.0, 5.0), (7.01, 22.01, 5.0, 20.0)]
    assert (cut.kind, cut.samples, cut.is_edit) == ("cut from the source since", 2 * RATE, True)


def test_what_is_heard_twice_belongs_to_both() -> None:
    pieces, (again,) = parted(Change(5.01, 480))
    assert places(pieces) == [(0.01, 5.01, 0.0, 5.0), (5.01, 20.02, 4.99, 20.0)]
    assert again.kind == "repeated"


def test_a_moment_is_found_in_the_print_and_back_in_the_source() -> None:
    pieces, _ = parted(Change(5.01, -2 * RATE), Change(10.01, RATE))
    figures = AlignmentFigures(480.0, 10.0, "same", 0.97, 0.0, True, pieces)
    for source_s, print_s in ((4.0, 4.01), (8.0, 6.01), (12.5, 11.51), (25.0, 24.01)):
        assert figures.in_print_s(source_s) == pytest.approx(print_s)
        assert figures.in_source_s(print_s) == pytest.approx(source_s)
    assert figures.in_print_s(6.0) is None, "the print does not hold it"


def test_an_edit_is_no_dropout() -> None:
    changes = (Change(5.0, -128), Change(9.0, 3 * RATE), Change(12.0, 64))
    assert dropouts_of(changes, RATE) == (Dropout(5.0, "skip", 128), Dropout(12.0, "repeat", 64))


def test_a_place_is_taken_from_the_print_itself_where_it_tells_one() -> None:
    found = (Dropout(6.2, "repeat", 512), Dropout(7.0, "gap", 300))
    (change,) = placed_by([Change(5.0, 513)], found)
    assert change == Change(6.2, 513)
    assert beside(found, dropouts_of([change], RATE)) == found
