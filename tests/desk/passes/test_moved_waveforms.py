"""A print's waveform on its source's line of time."""

from dataclasses import replace

from small_session import figures

from app.desk.passes.compare import _moved
from app.signal.figures import AlignmentFigures, Overview, PrintFigures


def print_of(columns: int, duration_s: float, late_s: float) -> PrintFigures:
    made = figures()
    return replace(
        made,
        file=replace(made.file, duration_s=duration_s),
        overview=Overview(tuple((0.0, float(k)) for k in range(columns)), ()),
        alignment=AlignmentFigures(late_s * 48_000, late_s * 1000, "same", 1.0, None, True),
    )


def highest(made: list[tuple[float, float] | None]) -> list[float | None]:
    return [None if column is None else column[1] for column in made]


def test_a_print_that_is_late_is_pulled_to_the_source() -> None:
    assert highest(_moved(print_of(10, 10.0, 2.0), 10.0)) == [2, 3, 4, 5, 6, 7, 8, 9, None, None]


def test_a_print_that_starts_into_the_source_leaves_its_beginning_empty() -> None:
    assert highest(_moved(print_of(10, 10.0, -3.0), 10.0)) == [None, None, None, 0, 1, 2, 3, 4, 5, 6]


def test_a_shorter_print_ends_where_it_ends() -> None:
    assert highest(_moved(print_of(10, 5.0, 0.0), 10.0)) == [1, 3, 5, 7, 9, *[None] * 5]
