from hypothesis import given
from hypothesis import strategies as st

from app.drawings.lettering import shorten, width_of, wrap


def test_words_that_fit_are_left_alone() -> None:
    assert shorten("Small ribbon microphone", 400, 12) == "Small ribbon microphone"


def test_words_that_do_not_fit_end_in_an_ellipsis() -> None:
    shortened = shorten("Small ribbon microphone", 60, 12)
    assert shortened.startswith("Small")
    assert shortened.endswith("…")


def test_words_break_between_words_and_the_last_line_is_shortened() -> None:
    first, last = wrap("Fifteen watt valve combo with one speaker", 80, 12, 2)
    assert first == "Fifteen watt"
    assert last.startswith("valve c")
    assert last.endswith("…")


def test_a_wide_letter_is_taken_as_wider_than_a_narrow_one() -> None:
    assert width_of("W", 10) > width_of("a", 10) > width_of("i", 10)


@given(st.text(), st.floats(30, 500), st.floats(6, 30))
def test_shortened_words_fit(words: str, width: float, size: float) -> None:
    assert width_of(shorten(words, width, size), size) <= width + 1e-6


@given(st.text(), st.floats(30, 500), st.integers(1, 5))
def test_wrapped_words_fit_and_keep_to_their_lines(words: str, width: float, most_lines: int) -> None:
    lines = wrap(words, width, 12, most_lines)
    assert 1 <= len(lines) <= most_lines
    assert all(width_of(line, 12) <= width + 1e-6 for line in lines)
