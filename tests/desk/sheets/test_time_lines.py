import pytest

from app.desk.passes.compare import _moved


def test_a_print_that_is_late_is_pulled_to_the_source() -> None:
    columns = [(0.0, float(k)) for k in range(10)]
    assert _moved(columns, 10.0, 2.0, 10.0) == [*columns[2:], (0.0, 0.0), (0.0, 0.0)]


def test_a_print_that_starts_into_the_source_leaves_its_beginning_empty() -> None:
    columns = [(0.0, 1.0)] * 10
    assert [high for _, high in _moved(columns, 10.0, -3.0, 10.0)] == pytest.approx([0.0] * 3 + [1.0] * 7)


def test_a_shorter_print_ends_where_it_ends() -> None:
    columns = [(-1.0, 1.0)] * 10
    assert [high for _, high in _moved(columns, 5.0, 0.0, 10.0)] == pytest.approx([1.0] * 5 + [0.0] * 5)
