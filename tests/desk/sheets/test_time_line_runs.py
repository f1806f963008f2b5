"""Runs of equal entries of a time line stand together; what a person wrote stands by itself."""

from datetime import UTC, datetime, timedelta

from app.desk.sheets.time_line import Day, Moment, What

AT = datetime(2026, 3, 4, 9, 0, tzinfo=UTC)


def day(*kinds: What) -> Day:
    moments = [
        Moment(AT + timedelta(minutes=minute), what, "bass, pass 1", "", "/passes/1")
        for minute, what in enumerate(kinds)
    ]
    return Day(AT.date(), tuple(moments))


def lengths(found: Day) -> list[int]:
    return [len(run) for run in found.runs]


def test_three_of_a_kind_in_a_row_stand_together() -> None:
    assert lengths(day("pass", "print", "print", "print", "pass")) == [1, 3, 1]


def test_two_of_a_kind_stay_apart() -> None:
    assert lengths(day("pass", "pass", "print", "print")) == [1, 1, 1, 1]


def test_what_a_person_wrote_stays_apart() -> None:
    assert lengths(day("note", "note", "note", "keeper", "keeper", "keeper")) == [1] * 6


def test_nothing_is_lost_or_moved() -> None:
    found = day("source", "source", "source", "note", "print", "print", "print", "print")
    assert tuple(moment for run in found.runs for moment in run) == found.moments
