"""How loud it was and for how long: the dose of the day. Arithmetic, not a medical or legal judgement."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from sqlalchemy import func, select
from sqlalchemy.orm import Session
from sqlmodel import col

from app.desk import wording
from app.desk.projects.projects import find_project
from app.desk.refusals import Complaints
from app.desk.rows import row_of
from app.desk.typed_figures import read_figure
from app.library import Library, Readable
from app.records import Project, SoundLevel
from app.trade.hearing import (
    CEILING_DBA,
    CRITERIA,
    EU_LIMITS,
    Criterion,
    EuropeanLimit,
    Exposure,
    allowed_hours,
    daily_exposure_dba,
    dose_percent,
    remaining_hours,
    time_weighted_average_dba,
)
from app.trade.readings import read_number

QUIETEST_DBA, LOUDEST_DBA = 20.0, 150.0
DAY_MINUTES = 24 * 60.0


@dataclass(frozen=True)
class LevelEntry:
    """A sound level as typed."""

    level: str = ""
    minutes: str = ""
    note: str = ""


@dataclass(frozen=True)
class LoggedLevel:
    """A stretch of the day at one level. `project_title` is empty where it is this project's own."""

    level_id: int
    level_dba: float
    minutes: float
    note: str
    at: datetime
    project_id: int
    project_title: str


@dataclass(frozen=True)
class Dose:
    """A day by one criterion: percent of the dose, the steady eight-hour level that has the same, and the hours left
    at the level logged last."""

    criterion: Criterion
    percent: float
    average_dba: float
    allowed_hours: float
    remaining_hours: float


@dataclass(frozen=True)
class PastDay:
    """A day before today, of this project alone."""

    day: date
    minutes: float
    daily_exposure_dba: float
    percents: tuple[float, ...]


@dataclass(frozen=True)
class EarsSheet:
    """`today` is what was logged today in every project: it is the same pair of ears. `passed` are the EU's daily
    values that were exceeded."""

    project_id: int
    project_title: str
    today: tuple[LoggedLevel, ...]
    doses: tuple[Dose, ...]
    daily_exposure_dba: float
    eu_limits: tuple[tuple[EuropeanLimit, bool], ...]
    is_beyond_ceiling: bool
    past: tuple[PastDay, ...]

    @property
    def minutes(self) -> float:
        return sum(line.minutes for line in self.today)


@dataclass(frozen=True)
class EarsLine:
    """The day in one line: minutes logged, and the percent of the dose by each criterion's name."""

    minutes: float
    percents: tuple[tuple[str, float], ...]

    @property
    def is_past_a_limit(self) -> bool:
        return any(percent > 100 for _, percent in self.percents)


def read_ears(library: Readable, project_id: int, *, now: datetime | None = None) -> EarsSheet:
    start, end = _day_of(now)
    with library.reading() as session:
        title = find_project(session, project_id).title
        today = _logged(session, project_id, start, end)
        past = _past(session, project_id, start)
    exposures = [_exposure(line.level_dba, line.minutes) for line in today]
    last = today[-1].level_dba if today else None
    daily = daily_exposure_dba(exposures)
    return EarsSheet(
        project_id,
        title,
        tuple(today),
        () if last is None else tuple(_dose(criterion, exposures, last) for criterion in CRITERIA),
        daily,
        tuple((limit, daily > limit.daily_dba) for limit in EU_LIMITS),
        any(line.level_dba >= CEILING_DBA for line in today),
        past,
    )


def ears_today(library: Readable, project_id: int, *, now: datetime | None = None) -> EarsLine | None:
    """The day's dose, once a level was logged today in this project; None before that."""
    start, end = _day_of(now)
    with library.reading() as session:
        rows = session.execute(
            select(col(SoundLevel.project_id), col(SoundLevel.level_dba), col(SoundLevel.minutes)).where(
                col(SoundLevel.at) >= start, col(SoundLevel.at) < end
            )
        ).all()
    if not any(row.project_id == project_id for row in rows):
        return None
    exposures = [_exposure(row.level_dba, row.minutes) for row in rows]
    return EarsLine(
        sum(row.minutes for row in rows),
        tuple((criterion.label, dose_percent(criterion, exposures)) for criterion in CRITERIA),
    )


def log_level(library: Library, project_id: int, entry: LevelEntry, *, now: datetime | None = None) -> int:
    """Write a level down as of now. Returns its id."""
    complaints = Complaints()
    level = read_figure(
        complaints,
        "level",
        entry.level,
        lambda text: read_number(_without(text, ("dBA", "dB(A)", "dB A")), "dB"),
        wanted="the level in dBA, such as 94",
        required=True,
    )
    minutes = read_figure(
        complaints,
        "minutes",
        entry.minutes,
        lambda text: read_number(_without(text, ("minutes", "min"))),
        wanted="the time in minutes, such as 25",
        required=True,
    )
    note = wording.line(complaints, "note", "The note", entry.note)
    if level is not None and not QUIETEST_DBA <= level <= LOUDEST_DBA:
        complaints.add(
            "level",
            f"A level in a room lies between {QUIETEST_DBA:.0f} and {LOUDEST_DBA:.0f} dBA; was it read in another unit?",
        )
    if minutes is not None and not 0.0 < minutes <= DAY_MINUTES:
        complaints.add("minutes", "The time is more than nothing, and a day has 1440 minutes.")
    start, end = _day_of(now)
    with library.writing() as session:
        find_project(session, project_id)
        spent = session.scalar(
            select(func.coalesce(func.sum(col(SoundLevel.minutes)), 0.0)).where(
                col(SoundLevel.at) >= start, col(SoundLevel.at) < end
            )
        )
        if minutes is not None and (spent or 0.0) + minutes > DAY_MINUTES:
            complaints.add(
                "minutes", f"With the {spent:.0f} min logged today already, that is more than a day."
            )
        complaints.refuse_if_any()
        assert level is not None
        assert minutes is not None
        row = SoundLevel(project_id=project_id, level_dba=level, minutes=minutes, note=note)
        if now is not None:
            row.at = now
        session.add(row)
        session.flush()
        return row.id


def delete_level(library: Library, level_id: int) -> int:
    """Take a level off the log. Returns its project."""
    with library.writing() as session:
        row = row_of(session, SoundLevel, level_id, "sound level")
        session.delete(row)
        return row.project_id


def _day_of(now: datetime | None) -> tuple[datetime, datetime]:
    """Beginning and end of the day in the local time zone, clock changes counted."""
    day = (datetime.now() if now is None else now).astimezone().date()
    return _midnight(day), _midnight(day + timedelta(days=1))


def _midnight(day: date) -> datetime:
    return datetime.combine(day, time()).astimezone()


def _logged(session: Session, project_id: int, start: datetime, end: datetime) -> list[LoggedLevel]:
    rows = session.execute(
        select(SoundLevel, col(Project.title))
        .join(Project, col(SoundLevel.project_id) == col(Project.id))
        .where(col(SoundLevel.at) >= start, col(SoundLevel.at) < end)
        .order_by(col(SoundLevel.at), col(SoundLevel.id))
    ).all()
    return [
        LoggedLevel(
            row.id,
            row.level_dba,
            row.minutes,
            row.note,
            row.at,
            row.project_id,
            "" if row.project_id == project_id else title,
        )
        for row, title in rows
    ]


def _past(session: Session, project_id: int, before: datetime) -> tuple[PastDay, ...]:
    rows = session.scalars(
        select(SoundLevel)
        .where(col(SoundLevel.project_id) == project_id, col(SoundLevel.at) < before)
        .order_by(col(SoundLevel.at).desc())
    )
    days: dict[date, list[Exposure]] = {}
    for row in rows:
        days.setdefault(row.at.astimezone().date(), []).append(_exposure(row.level_dba, row.minutes))
    return tuple(
        PastDay(
            day,
            sum(spell.hours for spell in exposures) * 60.0,
            daily_exposure_dba(exposures),
            tuple(dose_percent(criterion, exposures) for criterion in CRITERIA),
        )
        for day, exposures in days.items()
    )


def _exposure(level_dba: float, minutes: float) -> Exposure:
    return Exposure(level_dba, minutes / 60.0)


def _dose(criterion: Criterion, exposures: Sequence[Exposure], level_dba: float) -> Dose:
    percent = dose_percent(criterion, exposures)
    return Dose(
        criterion,
        percent,
        time_weighted_average_dba(criterion, percent),
        allowed_hours(criterion, level_dba),
        remaining_hours(criterion, exposures, level_dba),
    )


def _without(text: str, units: Sequence[str]) -> str:
    kept = text.strip()
    for unit in units:
        if kept.casefold().endswith(unit.casefold()):
            return kept[: -len(unit)].rstrip()
    return kept
