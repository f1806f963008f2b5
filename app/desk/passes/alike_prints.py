"""Which prints of several passes are of one microphone or return, so that they stand in one row and are compared."""

from collections.abc import Sequence

from app.desk.passes.pass_sheets import PrintSheet

PrintLine = list[PrintSheet | None]


def alike_prints(columns: Sequence[Sequence[PrintSheet]]) -> list[PrintLine]:
    """The prints of these passes in lines, an entry a pass: those of one piece of gear, whatever it was called when, else
    those of one name. The last pass leads; where a pass has several of one, its second stands in a second line."""
    lines: list[PrintLine] = []
    for at in reversed(range(len(columns))):
        left = list(columns[at])
        for rank in (3, 2, 1):
            for line in lines:
                item = next((one for one in left if line[at] is None and _rank(one, line) == rank), None)
                if item is not None:
                    line[at] = item
                    left.remove(item)
        lines += [[item if place == at else None for place in range(len(columns))] for item in left]
    return lines


def _rank(item: PrintSheet, line: PrintLine) -> int:
    return max(_likeness(item, other) for other in line if other is not None)


def _likeness(one: PrintSheet, other: PrintSheet) -> int:
    """3 of the same gear under the same name, 2 of the same gear, 1 of the same name: two pieces of gear of one name are
    not alike, but what a person called alike is."""
    is_named_alike = one.name == other.name
    if one.gear_id is not None and one.gear_id == other.gear_id:
        return 3 if is_named_alike else 2
    is_gear_known = one.gear_id is not None and other.gear_id is not None
    return int(is_named_alike and (one.is_said or not is_gear_known))
