"""The little linear algebra that a regression on some tens of controls needs, so that the server can do it at once."""

from collections.abc import Sequence

Matrix = list[list[float]]


def inverse(matrix: Sequence[Sequence[float]]) -> Matrix:
    """By Gauss and Jordan with partial pivoting. Raises ZeroDivisionError where the matrix has none."""
    size = len(matrix)
    rows = [
        [*map(float, row), *(float(at == index) for at in range(size))] for index, row in enumerate(matrix)
    ]
    for column in range(size):
        pivot = max(range(column, size), key=lambda at: abs(rows[at][column]))
        rows[column], rows[pivot] = rows[pivot], rows[column]
        scale = 1 / rows[column][column]
        leading = [value * scale for value in rows[column]]
        rows[column] = leading
        for at, row in enumerate(rows):
            if at != column and row[column]:
                factor = row[column]
                rows[at] = [value - factor * lead for value, lead in zip(row, leading, strict=True)]
    return [row[size:] for row in rows]


def product(matrix: Sequence[Sequence[float]], vector: Sequence[float]) -> list[float]:
    return [sum(a * b for a, b in zip(row, vector, strict=True)) for row in matrix]


def gram(columns: Sequence[Sequence[float]]) -> Matrix:
    """The products of every column with every other."""
    return [[sum(a * b for a, b in zip(one, other, strict=True)) for other in columns] for one in columns]
