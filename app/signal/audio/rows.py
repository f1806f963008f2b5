"""Rows that arrive a few at a time and in the end make one array.

What a header says of a file's length is a good guess and no promise: the room begins as large as it suggests, within
reason, and grows. Room that is never filled takes no memory. (A list of the parts would take as much again when
joined, and lie scattered among the arrays that come and go.)
"""

from typing import Generic, TypeVar

import numpy as np
from numpy.typing import NDArray

Kind = TypeVar("Kind", bound=np.generic)

# For memory and time alone: no result depends on them. Room for 5½ hours of rows each 10 ms; a quarter more at each growing.
MOST_ROOM_AT_FIRST = 2_000_000
GROWTH = 1.25


class Rows(Generic[Kind]):
    """Rows of `width` values, or single ones where it is None."""

    def __init__(self, kind: type[Kind], expected: int, width: int | None = None) -> None:
        shape = () if width is None else (width,)
        self._room: NDArray[Kind] = np.empty((min(max(expected, 1), MOST_ROOM_AT_FIRST), *shape), dtype=kind)
        self._count = 0

    def add(self, rows: NDArray[Kind]) -> None:
        count = self._count + len(rows)
        if count > len(self._room):
            larger = np.empty((int(count * GROWTH), *self._room.shape[1:]), dtype=self._room.dtype)
            larger[: self._count] = self.all
            self._room = larger
        self._room[self._count : count] = rows
        self._count = count

    @property
    def all(self) -> NDArray[Kind]:
        """The rows so far; a view."""
        return self._room[: self._count]
