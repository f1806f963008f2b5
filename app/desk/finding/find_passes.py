"""Find passes by facts: gear, where a control stands, microphone distance, keeper, date, tag, loudness, and sound."""

import heapq
from collections.abc import Sequence
from dataclasses import dataclass, fields
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

from sqlalchemy import ColumnElement, and_, func, or_, select
from sqlalchemy.orm import Session
from sqlmodel import col

from app.desk.finding.find import passes_with_words
from app.desk.refusals import Complaints
from app.desk.shelf.gear import ShelfLine, list_gear
from app.desk.typed_figures import read_figure
from app.desk.wording import number_in
from app.library import Readable
from app.records import (
    ChainStep,
    Control,
    ControlLayout,
    KeeperMark,
    MicPlacement,
    Pass,
    PassTag,
    Print,
    Project,
    Setting,
    SoundShape,
    SourceTrack,
)
from app.signal.comparison.band_shape import distance_db, unpacked
from app.trade.distances import LengthUnit, read_distance_mm, show_distance
from app.trade.facts import ControlFact, Range, in_unit, is_bare, range_of, read_facts, unit_of
from app.trade.readings import read_number
from app.trade.scales import ControlSpec, spec_from_json

MOST = 60


@dataclass(frozen=True)
class FactsEntry:
    """What is looked for, as typed. `like` is the pass that the found ones are to sound like."""

    gear: str = ""
    controls: str = ""
    instrument: str = ""
    nearest: str = ""
    farthest: str = ""
    keeper: str = ""
    tag: str = ""
    rating: str = ""
    since: str = ""
    until: str = ""
    quietest: str = ""
    loudest: str = ""
    like: str = ""

    @property
    def has_facts(self) -> bool:
        return any(getattr(self, item.name).strip() for item in fields(self) if item.name != "like")

    @property
    def is_empty(self) -> bool:
        return not (self.has_facts or self.like.strip())


@dataclass(frozen=True)
class FoundPass:
    """`matched` says what of the pass the facts meant; `distance_db` how far its sound is from the one asked for."""

    pass_id: int
    title: str
    context: str
    is_keeper: bool
    matched: tuple[str, ...]
    distance_db: float | None


@dataclass(frozen=True)
class Choices:
    """What the form offers."""

    gear: tuple[ShelfLine, ...]
    instruments: tuple[str, ...]
    tags: tuple[str, ...]


@dataclass(frozen=True)
class Found:
    """`unknown` are controls that were asked for and are on no piece of gear; `like` names the pass compared with. `or_in`
    are facts that said plain numbers and were read on scales without a unit, each with what it would be in one that
    other controls of that name have."""

    passes: tuple[FoundPass, ...]
    unknown: tuple[str, ...] = ()
    like: str = ""
    or_in: tuple[tuple[ControlFact, ControlFact], ...] = ()


@dataclass(frozen=True)
class _Meant:
    """A fact with the controls that it can mean, by the range each must stand in. `units` are those of controls that it
    was not taken to mean, for it says plain numbers and others have none."""

    fact: ControlFact
    controls: dict[Range, list[int]]
    specs: dict[int, tuple[str, ControlSpec]]
    units: tuple[str, ...] = ()

    @property
    def condition(self) -> ColumnElement[bool]:
        at = [
            and_(
                col(Setting.control_id).in_(ids),
                (col(Setting.value) if self._is_value(ids) else col(Setting.position)).between(
                    range_.low, range_.high
                ),
            )
            for range_, ids in self.controls.items()
        ]
        steps = select(col(Setting.step_id)).where(or_(*at))
        return col(Pass.id).in_(select(col(ChainStep.pass_id)).where(col(ChainStep.id).in_(steps)))

    def _is_value(self, ids: Sequence[int]) -> bool:
        return self.specs[ids[0]][1].form == "number"


def choices(library: Readable) -> Choices:
    with library.reading() as session:
        instruments = session.scalars(select(col(SourceTrack.instrument)).distinct().order_by("instrument"))
        tags = session.scalars(select(col(PassTag.tag)).distinct().order_by("tag"))
        return Choices(tuple(list_gear(library)), tuple(filter(None, instruments)), tuple(tags))


def find_passes(
    library: Readable,
    words: str,
    said: Sequence[ControlFact],
    entry: FactsEntry,
    *,
    unit: LengthUnit = "mm",
) -> Found:
    """The passes that hold all the words and facts, newest first, or the one that sounds most alike first. Raises
    Refusal with a sentence for each field that cannot be read."""
    complaints = Complaints()
    with library.reading() as session:
        facts = (*said, *_facts(complaints, entry.controls))
        meant = [_meaning(session, fact) for fact in facts]
        wanted = [*_wanted(complaints, entry, unit), *(item.condition for item in meant if item.controls)]
        like = number_in(entry.like)
        complaints.refuse_if_any()
        unknown = tuple(item.fact.text for item in meant if not item.controls)
        if unknown:
            return Found((), unknown)
        or_in = tuple((item.fact, in_unit(item.fact, unit)) for item in meant for unit in item.units)
        if words:
            wanted.append(col(Pass.id).in_(passes_with_words(words)))
        if like is None:
            newest = (
                select(col(Pass.id)).where(*wanted).order_by(col(Pass.created_at).desc(), col(Pass.id).desc())
            )
            ids = dict.fromkeys(session.scalars(newest.limit(MOST)))
            return Found(_described(session, ids, meant, entry, unit), or_in=or_in)
        alike = _most_alike(session, like, wanted)
        return Found(_described(session, alike, meant, entry, unit), (), _name_of(session, like), or_in)


def are_of_the_shelf(library: Readable, facts: Sequence[ControlFact]) -> bool:
    """Whether there are controls that can stand as each of them says."""
    with library.reading() as session:
        return all(_meaning(session, fact).controls for fact in facts)


def _facts(complaints: Complaints, text: str) -> tuple[ControlFact, ...]:
    try:
        return read_facts(text)
    except ValueError as error:
        complaints.add("controls", str(error))
        return ()


def _meaning(session: Session, fact: ControlFact) -> _Meant:
    """The controls whose name, or gear's name and name, begin with the fact's words and that can stand as it says. A
    plain number means scales without a unit, where there are any."""
    words = fact.control.casefold().split()
    named = func.lower(col(ControlLayout.gear_name) + " " + col(Control.name))
    rows = session.execute(
        select(col(Control.id), col(Control.name), col(ControlLayout.gear_name), col(Control.spec))
        .join(ControlLayout, col(Control.layout_id) == col(ControlLayout.id))
        .where(*(named.contains(word, autoescape=True) for word in words))
    )
    meant: dict[int, tuple[Range, str, ControlSpec]] = {}
    for control_id, name, gear_name, stored in rows:
        if not _is_named(words, name, gear_name):
            continue
        spec = spec_from_json(stored)
        range_ = range_of(spec, fact)
        if range_ is not None:
            meant[control_id] = (range_, gear_name, spec)
    units = {unit_of(spec) for _, _, spec in meant.values()}
    others: tuple[str, ...] = ()
    if is_bare(fact) and "" in units:
        others = tuple(sorted(units - {""}))
        meant = {key: value for key, value in meant.items() if not unit_of(value[2])}
    controls: dict[Range, list[int]] = {}
    for control_id, (range_, _, _) in meant.items():
        controls.setdefault(range_, []).append(control_id)
    specs = {control_id: (gear_name, spec) for control_id, (_, gear_name, spec) in meant.items()}
    return _Meant(fact, controls, specs, others)


def _is_named(words: Sequence[str], name: str, gear_name: str) -> bool:
    """Whether the last of the words begins one of the control's name, and all others one of its or the gear's."""
    own = name.casefold().split()
    every = own + gear_name.casefold().split()
    return any(part.startswith(words[-1]) for part in own) and all(
        any(part.startswith(word) for part in every) for word in words
    )


def _wanted(complaints: Complaints, entry: FactsEntry, unit: LengthUnit) -> list[ColumnElement[bool]]:
    wanted: list[ColumnElement[bool]] = []
    gear = number_in(entry.gear)
    if gear is not None:
        wanted.append(_in_chain(col(ChainStep.gear_id) == gear))
    nearest = _distance(complaints, "nearest", entry.nearest, unit)
    farthest = _distance(complaints, "farthest", entry.farthest, unit)
    if nearest is not None or farthest is not None:
        placed = [
            col(MicPlacement.distance_mm).is_not(None),
            *_between(col(MicPlacement.distance_mm), nearest, farthest),
        ]
        wanted.append(_in_chain(col(ChainStep.id).in_(select(col(MicPlacement.step_id)).where(*placed))))
    if instrument := entry.instrument.strip():
        of = select(col(SourceTrack.id)).where(
            func.lower(col(SourceTrack.instrument)).contains(instrument.lower(), autoescape=True)
        )
        wanted.append(col(Pass.source_id).in_(of))
    if entry.keeper:
        wanted.append(col(Pass.id).in_(select(col(KeeperMark.pass_id))))
    if tag := entry.tag.strip():
        tagged = select(col(PassTag.pass_id)).where(func.lower(col(PassTag.tag)) == tag.lower())
        wanted.append(col(Pass.id).in_(tagged))
    rating = number_in(entry.rating)
    if rating is not None:
        wanted.append(col(Pass.rating) >= rating)
    since, until = _day(complaints, "since", entry.since), _day(complaints, "until", entry.until)
    last = None if until is None else until + timedelta(days=1) - timedelta(microseconds=1)
    wanted += _between(col(Pass.created_at), since, last)
    quietest = _loudness(complaints, "quietest", entry.quietest)
    loudest = _loudness(complaints, "loudest", entry.loudest)
    if quietest is not None or loudest is not None:
        loud = _between(col(SoundShape.integrated_lufs), quietest, loudest)
        files = select(col(SoundShape.file_id)).where(*loud)
        wanted.append(col(Pass.id).in_(select(col(Print.pass_id)).where(col(Print.file_id).in_(files))))
    return wanted


def _in_chain(condition: ColumnElement[bool]) -> ColumnElement[bool]:
    return col(Pass.id).in_(select(col(ChainStep.pass_id)).where(condition))


def _between(column: Any, low: Any, high: Any) -> list[ColumnElement[bool]]:
    return ([column >= low] if low is not None else []) + ([column <= high] if high is not None else [])


def _most_alike(
    session: Session, like: int, wanted: Sequence[ColumnElement[bool]]
) -> dict[int, float | None]:
    """The passes whose nearest print is nearest to the first measured print of the pass `like`."""
    prints = select(col(Print.pass_id), col(SoundShape.shape)).join(
        SoundShape, col(Print.file_id) == col(SoundShape.file_id)
    )
    model = session.execute(prints.where(col(Print.pass_id) == like).order_by(col(Print.id)).limit(1)).first()
    if model is None:
        return {}
    sought = unpacked(model.shape)
    others = prints.where(col(Print.pass_id) != like)
    if wanted:
        others = others.join(Pass, col(Print.pass_id) == col(Pass.id)).where(*wanted)
    nearest: dict[int, float | None] = {}
    for pass_id, shape in heapq.nsmallest(
        2 * MOST, session.execute(others), key=lambda row: distance_db(sought, unpacked(row[1]))
    ):
        nearest.setdefault(pass_id, distance_db(sought, unpacked(shape)))
    return dict(list(nearest.items())[:MOST])


def _described(
    session: Session,
    found: dict[int, float | None],
    meant: Sequence[_Meant],
    entry: FactsEntry,
    unit: LengthUnit,
) -> tuple[FoundPass, ...]:
    heads = session.execute(
        select(col(Pass.id), col(Pass.number), col(Pass.title), col(SourceTrack.name), col(Project.title))
        .join(SourceTrack, col(Pass.source_id) == col(SourceTrack.id))
        .join(Project, col(SourceTrack.project_id) == col(Project.id))
        .where(col(Pass.id).in_(found))
    )
    named = {
        pass_id: (f"Pass {number}" + (f": {title}" if title else ""), f"{source}, {project}")
        for pass_id, number, title, source, project in heads
    }
    kept = set(session.scalars(select(col(KeeperMark.pass_id)).where(col(KeeperMark.pass_id).in_(found))))
    matched = _matched_settings(session, found, meant)
    if entry.nearest.strip() or entry.farthest.strip():
        for pass_id, words in _matched_distances(session, found, unit):
            matched.setdefault(pass_id, []).append(words)
    return tuple(
        FoundPass(pass_id, *named[pass_id], pass_id in kept, tuple(matched.get(pass_id, ())), distance)
        for pass_id, distance in found.items()
    )


def _matched_settings(
    session: Session, found: dict[int, float | None], meant: Sequence[_Meant]
) -> dict[int, list[str]]:
    specs = {control_id: spec for item in meant for control_id, spec in item.specs.items()}
    ranges = {
        control_id: range_ for item in meant for range_, ids in item.controls.items() for control_id in ids
    }
    rows = session.execute(
        select(
            col(ChainStep.pass_id),
            col(Setting.control_id),
            col(Setting.reading),
            col(Setting.position),
            col(Setting.value),
        )
        .join(ChainStep, col(Setting.step_id) == col(ChainStep.id))
        .where(col(ChainStep.pass_id).in_(found), col(Setting.control_id).in_(specs))
        .order_by(col(ChainStep.position))
    )
    said: dict[int, list[str]] = {}
    for pass_id, control_id, reading, position, value in rows:
        gear_name, spec = specs[control_id]
        at = value if spec.form == "number" else position
        if at is not None and ranges[control_id].low <= at <= ranges[control_id].high:
            said.setdefault(pass_id, []).append(f"{gear_name}: {spec.name} {reading}")
    return said


def _matched_distances(
    session: Session, found: dict[int, float | None], unit: LengthUnit
) -> list[tuple[int, str]]:
    rows = session.execute(
        select(col(ChainStep.pass_id), col(ControlLayout.gear_name), col(MicPlacement.distance_mm))
        .join(ChainStep, col(MicPlacement.step_id) == col(ChainStep.id))
        .join(ControlLayout, col(ChainStep.layout_id) == col(ControlLayout.id))
        .where(col(ChainStep.pass_id).in_(found), col(MicPlacement.distance_mm).is_not(None))
        .order_by(col(ChainStep.position))
    )
    return [
        (pass_id, f"{name}: {show_distance(distance, unit)}")
        for pass_id, name, distance in rows
        if distance is not None
    ]


def _name_of(session: Session, pass_id: int) -> str:
    named = (
        select(col(Pass.number), col(SourceTrack.name))
        .join(SourceTrack, col(Pass.source_id) == col(SourceTrack.id))
        .where(col(Pass.id) == pass_id)
    )
    row = session.execute(named).first()
    return "" if row is None else f"pass {row.number} of {row.name}"


def _distance(complaints: Complaints, at: str, text: str, unit: LengthUnit) -> float | None:
    def reading(written: str) -> float | None:
        return read_distance_mm(written, unit) if written else None

    return read_figure(complaints, at, text, reading)


def _loudness(complaints: Complaints, at: str, text: str) -> float | None:
    def reading(written: str) -> float | None:
        return read_number(written[:-4] if written.casefold().endswith("lufs") else written)

    return read_figure(complaints, at, text, reading, what="a loudness", wanted="one in LUFS, such as −18")


def _day(complaints: Complaints, at: str, text: str) -> datetime | None:
    """The beginning of a day on this computer's calendar."""
    if not text.strip():
        return None
    try:
        day = date.fromisoformat(text.strip())
        return datetime.combine(day, time()).astimezone().astimezone(UTC)
    except (ValueError, OverflowError):
        complaints.add(at, "Write a day as year, month and day, such as 2026-03-31.")
        return None
