"""What the next print's track is called in the DAW: proposed by the project's own pattern, one name for each microphone
or return, and recognised again when a file of that name arrives."""

import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sqlalchemy import Select, func, select
from sqlalchemy.orm import Session
from sqlmodel import col

from app.desk.files import copy_names
from app.desk.passes.passes import StepForm
from app.desk.prints.microphones import returns_of
from app.desk.projects.sources import find_source
from app.library import Readable
from app.records import Pass, Project, SourceTrack
from app.trade.gear_kinds import RETURN_KINDS

STANDARD_PATTERN = "{source} pass {pass} {mic}"
WORDS = ("project", "artist", "source", "pass", "title", "mic")

_BETWEEN = re.compile(r"[\s_.\-]+")
_TAKE = re.compile(r" \d{1,4}$")


@dataclass(frozen=True)
class TrackName:
    """`step_id` is the microphone or return in the chain, None where a pass has none or is not logged yet."""

    name: str
    mic: str
    step_id: int | None = None


@dataclass(frozen=True)
class NamedPlace:
    """Where a file of a proposed name belongs."""

    pass_id: int
    step_id: int | None


def names_of_pass(session: Session, pass_id: int) -> tuple[TrackName, ...]:
    """The proposed names of a logged pass, in chain order."""
    row, source, project = session.execute(_passes().where(col(Pass.id) == pass_id)).one()
    return _names(project, source, row.number, row.title, _returns(session, [pass_id]).get(pass_id, ()))


def names_of_next(
    library: Readable, source_id: int, steps: Sequence[StepForm], title: str
) -> tuple[TrackName, ...]:
    """The proposed names of a source's next pass as it stands in its form."""
    returns: list[tuple[int | None, str]] = [
        (None, step.gear_name) for step in steps if step.kind in RETURN_KINDS
    ]
    with library.reading() as session:
        source = find_source(session, source_id)
        project = session.get_one(Project, source.project_id)
        last = session.scalar(select(func.max(col(Pass.number))).where(col(Pass.source_id) == source_id)) or 0
        return _names(project, source, last + 1, title, returns)


def places_by_name(session: Session, project_id: int) -> dict[str, NamedPlace]:
    """Where a file goes by its name alone; a name that two passes would have is left out."""
    passes = session.execute(_passes().where(col(Project.id) == project_id)).all()
    returns = _returns(session, [row.id for row, _, _ in passes])
    places: dict[str, NamedPlace | None] = {}
    for row, source, project in passes:
        for item in _names(project, source, row.number, row.title, returns.get(row.id, ())):
            key = _plain(item.name)
            place = NamedPlace(row.id, item.step_id)
            places[key] = None if key in places else place
    return {key: place for key, place in places.items() if place is not None}


def place_of(file_name: str, places: Mapping[str, NamedPlace]) -> NamedPlace | None:
    """The place of a file called as proposed, whatever a DAW puts between the words or a take's number behind them."""
    plain = _plain(file_name.rsplit("/", 1)[-1].rsplit(".", 1)[0])
    return places.get(plain) or places.get(_TAKE.sub("", plain))


def _names(
    project: Project,
    source: SourceTrack,
    number: int,
    title: str,
    returns: Sequence[tuple[int | None, str]],
) -> tuple[TrackName, ...]:
    common = {
        "project": project.title,
        "artist": project.artist,
        "source": source.name,
        "pass": str(number),
        "title": title,
    }
    returns = returns or [(None, "")]
    pattern = project.print_name_pattern or STANDARD_PATTERN
    made = copy_names.names(pattern, [common | {"mic": mic} for _, mic in returns], "")
    return tuple(TrackName(name, mic, step_id) for name, (step_id, mic) in zip(made, returns, strict=True))


def _passes() -> Select[Pass, SourceTrack, Project]:
    return (
        select(Pass, SourceTrack, Project)
        .join(SourceTrack, col(Pass.source_id) == col(SourceTrack.id))
        .join(Project, col(SourceTrack.project_id) == col(Project.id))
    )


def _returns(session: Session, pass_ids: Sequence[int]) -> dict[int, list[tuple[int | None, str]]]:
    found = returns_of(session, pass_ids)
    return {pass_id: [(one.step_id, one.name) for one in returns] for pass_id, returns in found.items()}


def _plain(text: str) -> str:
    return _BETWEEN.sub(" ", unicodedata.normalize("NFC", text)).strip().casefold()
