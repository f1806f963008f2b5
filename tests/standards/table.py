"""Runs the checks of this folder and prints their rows as a table: `python -m tests.standards.table`."""

import contextlib
import math
import sys
from pathlib import Path

import pytest

from tests.standards.rows import AREAS, ROWS, Row, Value

HEADS = ("row", "source", "expected", "measured", "tolerance", "inside")


def main() -> int:
    with contextlib.redirect_stdout(sys.stderr):
        result = pytest.main([str(Path(__file__).parent), "-n0"])
    for area in AREAS:
        print(f"\n### {area.name}\n")
        print(f"| {' | '.join(HEADS)} |\n|{'---|' * len(HEADS)}")
        for rows in _grouped([row for row in ROWS if row.area == area.name]):
            print(f"| {' | '.join(_cells(rows))} |")
    return result


def _grouped(rows: list[Row]) -> list[list[Row]]:
    groups: dict[tuple[str, str], list[Row]] = {}
    for row in rows:
        groups.setdefault((row.row, row.source), []).append(row)
    return list(groups.values())


def _cells(rows: list[Row]) -> list[str]:
    worst = max(rows, key=lambda row: row.share)
    name = worst.row if len(rows) == 1 else f"{worst.row} (worst of {len(rows)})"
    decimals = _decimals(worst)
    return [
        name,
        worst.source,
        _shown(worst.expected, decimals),
        _shown(worst.measured, decimals),
        _tolerance(worst),
        "yes" if worst.is_inside else "**NO**",
    ]


def _decimals(row: Row) -> int | None:
    """One figure below the tolerance's first."""
    finest = min((room for room in (row.below, row.above) if room), default=0)
    return max(0, 1 - math.floor(math.log10(finest))) if finest else None


def _shown(value: Value, decimals: int | None) -> str:
    if value is None:
        return "none"
    if isinstance(value, str):
        return value
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float):
        return f"{value:g}" if decimals is None else f"{value:.{decimals}f}"
    return ", ".join(_shown(one, decimals) for one in value)


def _tolerance(row: Row) -> str:
    if row.below == row.above:
        return f"±{row.below:g}" if row.below else "exact"
    return f"+{row.above:g} −{row.below:g}"


if __name__ == "__main__":
    sys.exit(main())
