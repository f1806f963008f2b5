"""The day's dose. Worked examples are those of the criteria's own arithmetic, by hand beside each check."""

from datetime import UTC, datetime, timedelta

import pytest

from app.desk.projects.ears import LevelEntry, delete_level, ears_today, log_level, read_ears
from app.desk.projects.projects import ProjectEntry, create_project
from app.desk.refusals import NotThere, Refusal
from app.library import Library

NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)


@pytest.fixture
def project(library: Library) -> int:
    return create_project(library, ProjectEntry("Boathouse"))


def logged(library: Library, project: int, *spells: tuple[str, str], at: datetime = NOON) -> None:
    for level, minutes in spells:
        log_level(library, project, LevelEntry(level, minutes), now=at)


def test_a_day_by_both_criteria_and_the_eu_s_measure(library: Library, project: int) -> None:
    # 2 h at 94 and 6 h at 85 dBA: NIOSH 275 %, TWA 89.39; L_EX,8h 89.37.
    logged(library, project, ("94", "120"), ("85 dBA", "360 min"))
    ears = read_ears(library, project, now=NOON)
    niosh, osha = ears.doses
    assert niosh.percent == pytest.approx(275.0)
    assert niosh.average_dba == pytest.approx(89.39, abs=5e-3)
    assert osha.percent == pytest.approx(100 * (2 / 4.5948 + 6 / 16), abs=0.01)  # 8 / 2^(4/5) h; 16 h
    assert ears.daily_exposure_dba == pytest.approx(89.37, abs=5e-3)
    assert [passed for _, passed in ears.eu_limits] == [True, True, True]


def test_what_is_left_counts_at_the_level_logged_last(library: Library, project: int) -> None:
    # 30 min at 94 dBA are half of NIOSH's hour; 15 min at 97 dBA the other half; nothing is left.
    logged(library, project, ("94", "30"))
    assert read_ears(library, project, now=NOON).doses[0].remaining_hours == pytest.approx(0.5)
    logged(library, project, ("97", "7.5"), at=NOON + timedelta(minutes=5))
    assert read_ears(library, project, now=NOON).doses[0].remaining_hours == pytest.approx(0.125)
    logged(library, project, ("97", "60"), at=NOON + timedelta(minutes=9))
    assert read_ears(library, project, now=NOON).doses[0].remaining_hours == 0.0


def test_the_day_ends_and_the_days_before_are_kept_by_project(library: Library, project: int) -> None:
    logged(library, project, ("94", "60"), at=NOON - timedelta(days=1))
    logged(library, project, ("88", "240"), at=NOON - timedelta(days=3))
    ears = read_ears(library, project, now=NOON)
    assert (ears.today, ears.doses) == ((), ())
    assert [(day.minutes, round(day.percents[0])) for day in ears.past] == [(60.0, 100), (240.0, 100)]
    assert ears_today(library, project, now=NOON) is None


def test_it_is_the_same_pair_of_ears_in_every_project(library: Library, project: int) -> None:
    other = create_project(library, ProjectEntry("Engine shed"))
    logged(library, other, ("94", "60"))
    assert ears_today(library, project, now=NOON) is None
    logged(library, project, ("94", "30"))
    ears = read_ears(library, project, now=NOON)
    assert ears.doses[0].percent == pytest.approx(150.0)
    assert {line.project_title for line in ears.today} == {"", "Engine shed"}
    line = ears_today(library, project, now=NOON)
    assert line is not None
    assert line.minutes == 90.0
    assert dict(line.percents)["NIOSH"] == pytest.approx(150.0)


def test_a_level_beyond_the_ceiling_is_said_to_be(library: Library, project: int) -> None:
    logged(library, project, ("141", "0.1"))
    assert read_ears(library, project, now=NOON).is_beyond_ceiling


def test_a_deleted_level_no_longer_counts(library: Library, project: int) -> None:
    level_id = log_level(library, project, LevelEntry("94", "30", "close"), now=NOON)
    assert read_ears(library, project, now=NOON).today[0].note == "close"
    assert delete_level(library, level_id) == project
    assert ears_today(library, project, now=NOON) is None
    with pytest.raises(NotThere):
        delete_level(library, level_id)


@pytest.mark.parametrize(
    ("entry", "field", "words"),
    [
        (LevelEntry("", "30"), "level", "This is empty"),
        (LevelEntry("loud", "30"), "level", "is not a number"),
        (LevelEntry("3", "30"), "level", "was it read in another unit?"),
        (LevelEntry("400", "30"), "level", "between 20 and 150 dBA"),
        (LevelEntry("94 V", "30"), "level", "is not a number"),
        (LevelEntry("94", "0"), "minutes", "more than nothing"),
        (LevelEntry("94", "-5"), "minutes", "more than nothing"),
        (LevelEntry("94", "2000"), "minutes", "1440 minutes"),
        (LevelEntry("94", ""), "minutes", "This is empty"),
        (LevelEntry("94", "30", "x" * 300), "note", "200 are the most"),
    ],
)
def test_what_cannot_be_is_said_at_its_field(
    library: Library, project: int, entry: LevelEntry, field: str, words: str
) -> None:
    with pytest.raises(Refusal) as refused:
        log_level(library, project, entry, now=NOON)
    assert words in refused.value.sentences[field]
    assert read_ears(library, project, now=NOON).today == ()


def test_more_than_a_day_in_one_day_is_refused(library: Library, project: int) -> None:
    logged(library, project, ("60", "1400"))
    with pytest.raises(Refusal, match="With the 1400 min logged today already"):
        log_level(library, project, LevelEntry("60", "60"), now=NOON)
