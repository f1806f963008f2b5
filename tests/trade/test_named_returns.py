"""Which return a file is of, by its name, its channels and its place."""

import pytest

from app.trade.named_returns import Guess, PrintFile, Return, guess_returns

RIBBON = Return(1, "small ribbon microphone", "microphone")
DYNAMIC = Return(2, "dynamic microphone", "microphone")
DI = Return(3, "active DI box", "di_box")
PAIR = Return(4, "pair of small condensers", "microphone")
BOTH = (RIBBON, DYNAMIC)


def steps(*names: str | PrintFile, returns: tuple[Return, ...], besides: str = "") -> list[int | None]:
    files = [PrintFile(name) if isinstance(name, str) else name for name in names]
    return [guess and guess.step_id for guess in guess_returns(files, returns, taken={9}, besides=besides)]


@pytest.mark.parametrize(
    ("name", "returns", "expected"),
    [
        ("bass pass 3 small ribbon microphone.wav", BOTH, 1),
        ("Ribbon_01.wav", BOTH, 1),
        ("dyn.wav", BOTH, None),
        ("DYNAMIC.aif", BOTH, 2),
        ("print DI.wav", (*BOTH, DI), 3),
        ("direct.wav", (*BOTH, DI), 3),
        ("mic.wav", (RIBBON, DI), 1),
        ("mic.wav", (*BOTH, DI), None),
        ("ribbon or dynamic.wav", BOTH, None),
        ("Audio 1.wav", BOTH, None),
    ],
)
def test_a_name_tells_where_only_one_return_is_meant(
    name: str, returns: tuple[Return, ...], expected: int | None
) -> None:
    assert steps(name, returns=returns) == [expected]


def test_words_of_the_source_say_nothing_of_the_return() -> None:
    assert steps("bass DI pass 3.wav", returns=(*BOTH, DI), besides="bass DI") == [None]
    assert steps("bass DI pass 3 ribbon.wav", returns=(*BOTH, DI), besides="bass DI") == [1]


def test_the_longer_of_two_names_that_stand_there_is_meant() -> None:
    near = Return(5, "ribbon microphone", "microphone")
    assert steps("small ribbon microphone.wav", returns=(RIBBON, near)) == [1]
    assert steps("ribbon microphone.wav", returns=(RIBBON, near)) == [5]


def test_a_number_that_may_be_a_takes_tells_nothing() -> None:
    first, second = Return(6, "ribbon 1", "microphone"), Return(7, "ribbon 2", "microphone")
    assert steps("take 2.wav", returns=(first, second)) == [None]
    assert steps("ribbon 2.wav", returns=(first, second)) == [7]


def test_the_one_stereo_file_is_of_the_pair() -> None:
    files = [PrintFile("Audio 1.wav", 1), PrintFile("Audio 2.wav", 2)]
    found = guess_returns(files, (PAIR, RIBBON))
    assert found == [Guess(1, False), Guess(4, True)]


def test_files_that_say_nothing_are_taken_in_the_chains_order_and_asked_about() -> None:
    files = [PrintFile("Audio 10.wav"), PrintFile("Audio 2.wav")]
    assert guess_returns(files, BOTH) == [Guess(2, False), Guess(1, False)]


def test_what_one_name_says_leaves_the_other() -> None:
    files = [PrintFile("x.wav"), PrintFile("ribbon.wav")]
    assert guess_returns(files, BOTH) == [Guess(2, False), Guess(1, True)]


def test_nothing_is_guessed_where_files_and_returns_are_not_as_many() -> None:
    assert guess_returns([PrintFile("a.wav")], BOTH) == [None]
    assert guess_returns([PrintFile("a.wav"), PrintFile("b.wav")], BOTH, taken={1}) == [None, None]


def test_one_file_of_one_microphone_leaves_no_doubt_unless_it_has_a_print() -> None:
    assert guess_returns([PrintFile("a.wav")], (RIBBON,)) == [Guess(1, True)]
    assert guess_returns([PrintFile("a.wav")], (RIBBON,), taken={1}) == [Guess(1, False)]
