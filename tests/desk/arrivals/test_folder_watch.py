"""The thread that keeps looking: it waits between two looks, also where there is nothing to be told of."""

import pytest

from app.desk.arrivals import folder_watch
from app.desk.arrivals.folder_watch import FolderWatch
from app.library import Library


def test_between_looks_at_folders_that_cannot_be_reached_there_is_a_pause(
    library: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(folder_watch, "SHORTEST_PAUSE_S", 0.01)
    watch = FolderWatch(library, lambda: None, lambda: None, lambda draft_id: None)
    untold = watch._changes_in([])
    assert [next(untold, None) for _ in range(3)] == [False, False, False]
    watch.look_soon()
    assert next(untold, None) is None
