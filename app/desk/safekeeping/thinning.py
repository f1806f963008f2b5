"""Which of a row of backups are kept: the newest of each of the last days, weeks and months that have any."""

from collections.abc import Mapping
from datetime import datetime
from typing import TypeVar

DAYS, WEEKS, MONTHS = 7, 4, 12

Name = TypeVar("Name")


def kept(made_at: Mapping[Name, datetime]) -> set[Name]:
    """Of backups by when they were made. Whoever was away for a year finds as many as before: days without any are not
    counted."""
    newest_first = sorted(made_at, key=lambda name: made_at[name], reverse=True)
    found: set[Name] = set()
    for period, count in (("%Y-%m-%d", DAYS), ("%G-%V", WEEKS), ("%Y-%m", MONTHS)):
        newest: dict[str, Name] = {}
        for name in newest_first:
            newest.setdefault(f"{made_at[name]:{period}}", name)
        found.update(list(newest.values())[:count])
    return found
