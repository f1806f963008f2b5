"""A pass as it was logged, whole: the one thing that the ledger, the compare page, the recall sheet, the session log
and the exports show."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

from sqlalchemy import BindParameter, bindparam, func, select
from sqlalchemy.orm import Session, aliased
from sqlmodel import col

from app.desk.measuring import findings, measurements
from app.desk.measuring.findings import Finding
from app.desk.measuring.measurements import Measured
from app.desk.passes.crops import SHOWS_THE_SETTING
from app.desk.passes.leads import lined_up_in_words
from app.desk.refusals import NotThere
from app.desk.shelf.gear import newest_layouts, read_controls
from app.desk.shelf.ports import facts_of, ports_of
from app.drawings.wording import decibels
from app.library import Readable
from app.records import (
    SOURCE_LANE,
    Blend,
    ChainStep,
    ControlLayout,
    KeeperMark,
    MicPlacement,
    Pass,
    PassTag,
    Photo,
    Print,
    PrintRepeat,
    Project,
    ReferredFile,
    Setting,
    SettingCrop,
    SourceTrack,
    StoredFile,
    WorkState,
)
from app.trade.gear_facts import GearFacts, as_known_today
from app.trade.gear_kinds import RETURN_KINDS
from app.trade.placements import Placement
from app.trade.ports import Port, ports_as_known_today
from app.trade.scales import ControlSpec


@dataclass(frozen=True)
class SettingSheet:
    """A control's setting on one pass. `reading` is empty and `position` None where it was not noted. `crop_id` is the file of
    what a photo showed of it when this reading was confirmed."""

    control_id: int
    key: str
    spec: ControlSpec
    reading: str
    position: float | None
    value: float | None
    approximate: bool
    crop_id: int | None = None

    @property
    def name(self) -> str:
        return self.spec.name

    @property
    def is_set(self) -> bool:
        return bool(self.reading)

    def is_same(self, other: "SettingSheet") -> bool:
        """Whether both say the same position: of a knob its place, of a switch its name, of a number its value, else
        the same words."""
        if self.spec.positions or other.spec.positions:
            return self.step_name.casefold() == other.step_name.casefold()
        if self.position is not None and other.position is not None:
            return abs(self.position - other.position) < 1e-6
        if self.value is not None and other.value is not None:
            return self.value == other.value and self.spec.unit == other.spec.unit
        return self.reading == other.reading

    @property
    def step_name(self) -> str:
        """The name of the position that a switch or selector stands at, whichever way it was read."""
        if not self.spec.positions or self.position is None:
            return self.reading
        return self.spec.positions[round(self.position * (len(self.spec.positions) - 1))]


@dataclass(frozen=True)
class PhotoSheet:
    photo_id: int
    caption: str
    width: int
    height: int
    step_id: int | None
    sha256: str


@dataclass(frozen=True)
class StepSheet:
    """`facts` and `ports` are those of the gear as it was logged, with what has become known since; `known_since` names
    what that is: a fact, or "port figure"."""

    step_id: int
    gear_id: int
    layout_id: int
    layout_version: int
    gear_name: str
    kind: str
    branch: str
    settings: tuple[SettingSheet, ...]
    placement: Placement | None
    ports: tuple[Port, ...] = ()
    facts: GearFacts = field(default_factory=GearFacts)
    known_since: frozenset[str] = frozenset()

    @property
    def has_positions(self) -> bool:
        """Whether a control of it stands somewhere that one can see."""
        return any(line.position is not None for line in self.settings)


@dataclass(frozen=True)
class PrintSheet:
    """`referred_to` is where its file was left, empty where the library has it; `problem` says that it has vanished or
    changed there. `repeat_of` is the print of this pass whose settings it was made with again, untouched. A delay
    by hand stands in the figures of `measured` too, in the place of the measured one. `microphone` is what the gear of
    its step, `gear_id`, was called when the pass was logged."""

    print_id: int
    label: str
    step_id: int | None
    file_id: int
    file_name: str
    sha256: str
    bytes: int
    measured: Measured
    referred_to: str = ""
    problem: str = ""
    repeat_of: int | None = None
    microphone: str = ""
    delay_by_hand_samples: float | None = None
    gear_id: int | None = None

    @property
    def is_said(self) -> bool:
        """Whether a person called it otherwise than its file or its microphone."""
        return self.label not in ("", self.file_name, self.file_name.rpartition(".")[0], self.microphone)

    @property
    def name(self) -> str:
        """What every page and sheet calls it: as a person said, else by its microphone or return, else by its file. A
        label that is only the file's name says nothing that the microphone does not say better."""
        return self.label if self.is_said else self.microphone or self.label or self.file_name

    @property
    def is_unplaced(self) -> bool:
        """Whether it was measured, and where it lies against its source is not known all the same."""
        figures = self.measured.figures
        return (
            figures is not None and figures.alignment is not None and figures.alignment.delay_samples is None
        )

    @property
    def is_in_trouble(self) -> bool:
        """Whether its file is not what it was, or could not be measured."""
        return bool(self.problem) or self.measured.state == WorkState.FAILED


@dataclass(frozen=True)
class KeeperSheet:
    keeper_id: int
    part: str
    reason: str
    created_at: datetime


@dataclass(frozen=True)
class PassSheet:
    pass_id: int
    number: int
    title: str
    source_id: int
    source_name: str
    source_file_id: int | None
    project_id: int
    project_title: str
    project_sample_rate: int
    notes: str
    hook_up: str
    levels: str
    revision: int
    created_at: datetime
    edited_at: datetime
    steps: tuple[StepSheet, ...]
    prints: tuple[PrintSheet, ...]
    keepers: tuple[KeeperSheet, ...]
    photos: tuple[PhotoSheet, ...]
    blend: tuple[str, ...] = ()
    rating: int | None = None
    tags: tuple[str, ...] = ()
    chain_name: str = ""

    @property
    def print_to_see(self) -> PrintSheet | None:
        """Of its prints the one that is looked at first: what asks for help, else the first."""
        asks_for_help = (item for item in self.prints if item.is_in_trouble or item.is_unplaced)
        return next(asks_for_help, next(iter(self.prints), None))

    @property
    def is_keeper(self) -> bool:
        return bool(self.keepers)

    @property
    def is_being_measured(self) -> bool:
        return any(item.measured.is_coming for item in self.prints)

    @property
    def asks_microphone(self) -> bool:
        """Whether nobody said which microphone or return a print is of, and the chain has some."""
        return any(item.step_id is None for item in self.prints) and any(
            step.kind in RETURN_KINDS for step in self.steps
        )

    @property
    def settings_in_words(self) -> str:
        """What was set, in chain order, on one line: “silicon fuzz: Fuzz noon, Level 3; combo: Gain 6.5”."""
        said = [
            (
                step.gear_name,
                ", ".join(f"{line.name} {line.reading}" for line in step.settings if line.is_set),
            )
            for step in self.steps
        ]
        return "; ".join(f"{gear}: {settings}" for gear, settings in said if settings)

    @property
    def name(self) -> str:
        return f"Pass {self.number}" + (f": {self.title}" if self.title else "")


def read_pass(library: Readable, pass_id: int) -> PassSheet:
    with library.reading() as session:
        found = read_pass_sheets(session, col(Pass.id) == pass_id, with_overviews=True)
    if not found:
        raise NotThere("pass")
    return found[0]


def read_passes(library: Readable, pass_ids: Iterable[int]) -> list[PassSheet]:
    """By source and number. Raises NotThere where any of them is not there."""
    wanted = set(pass_ids)
    with library.reading() as session:
        found = read_pass_sheets(session, col(Pass.id).in_(wanted))
    if not wanted or len(found) < len(wanted):
        raise NotThere("pass")
    return found


def read_passes_of_source(library: Readable, source_id: int) -> list[PassSheet]:
    """Oldest first."""
    with library.reading() as session:
        return read_pass_sheets(session, col(Pass.source_id) == source_id)


def read_passes_beside(library: Readable, pass_id: int) -> list[PassSheet]:
    """All passes of a pass's source, oldest first, itself among them. Raises NotThere."""
    source_id = select(col(Pass.source_id)).where(col(Pass.id) == pass_id).scalar_subquery()
    with library.reading() as session:
        found = read_pass_sheets(session, col(Pass.source_id) == source_id)
    if not found:
        raise NotThere("pass")
    return found


@dataclass(frozen=True)
class Newest:
    """The newest passes of a source, oldest first; of those before them, id and number alone."""

    passes: list[PassSheet]
    older: tuple[tuple[int, int], ...]


def read_newest(library: Readable, source_id: int, most: int) -> Newest:
    with library.reading() as session:
        numbers = session.execute(
            select(col(Pass.id), col(Pass.number))
            .where(col(Pass.source_id) == source_id)
            .order_by(col(Pass.number))
        ).all()
        older = numbers[: max(0, len(numbers) - most)]
        first = numbers[len(older)].number if len(older) < len(numbers) else 0
        chosen = (col(Pass.source_id) == source_id, col(Pass.number) >= first)
        return Newest(read_pass_sheets(session, *chosen), tuple((row.id, row.number) for row in older))


def read_pass_before(library: Readable, sheet: PassSheet) -> PassSheet | None:
    """The pass of its source that was logged before it, if there is one."""
    with library.reading() as session:
        number = session.scalar(
            select(func.max(col(Pass.number))).where(
                col(Pass.source_id) == sheet.source_id, col(Pass.number) < sheet.number
            )
        )
        if number is None:
            return None
        return read_pass_sheets(session, col(Pass.source_id) == sheet.source_id, col(Pass.number) == number)[
            0
        ]


def read_pass_sheets(session: Session, *where: Any, with_overviews: bool = False) -> list[PassSheet]:
    """The passes that `where` selects, by project, source and number, in a fixed number of queries. The figures of
    their prints come without the overviews, unless asked for."""
    heads = session.execute(_HEADS.where(*where)).all()
    ids = [row.id for row, _, _ in heads]
    steps = read_steps(session, ids)
    tags = _tags(session, ids)
    keepers = _keepers(session, ids)
    photos = _photos(session, col(Photo.pass_id), ids)
    blends: dict[int, dict[str, Any]] = dict(session.execute(_BLENDS, {"pass_ids": ids}).all())
    gear_of: dict[int | None, tuple[int, str]] = {
        step.step_id: (step.gear_id, step.gear_name) for chain in steps.values() for step in chain
    }
    source_files = {row.id: source.file_id for row, source, _ in heads}
    prints = _prints(session, source_files, gear_of, with_overviews)
    return [
        PassSheet(
            pass_id=row.id,
            number=row.number,
            title=row.title,
            source_id=row.source_id,
            source_name=source.name,
            source_file_id=source.file_id,
            project_id=project.id,
            project_title=project.title,
            project_sample_rate=project.sample_rate,
            notes=row.notes,
            hook_up=row.hook_up,
            levels=row.levels,
            revision=row.revision,
            created_at=row.created_at,
            edited_at=row.edited_at,
            steps=tuple(steps.get(row.id, ())),
            prints=tuple(prints.get(row.id, ())),
            keepers=tuple(keepers.get(row.id, ())),
            photos=tuple(photos.get(row.id, ())),
            blend=_blend_in_words(blends.get(row.id, {}), prints.get(row.id, ()), source.name),
            rating=row.rating,
            chain_name=row.chain_name,
            tags=tuple(tags.get(row.id, ())),
        )
        for row, source, project in heads
    ]


def _blend_in_words(
    settings: Mapping[str, Any], prints: Sequence[PrintSheet], source_name: str
) -> tuple[str, ...]:
    """The kept blend as the log says it: “room microphone: nudge 255 samples earlier, flip its polarity”. The source
    stands first where it is heard beside the prints, and then it is said how these are lined up with it."""
    said = [
        _lane_in_words(f"{source_name}, dry" if item is None else item.name, settings[key])
        for key, item in ((SOURCE_LANE, None), *((str(item.print_id), item) for item in prints))
        if key in settings
    ]
    if SOURCE_LANE in settings and len(said) > 1:
        said.append(lined_up_in_words(item.measured.figures for item in prints))
    return tuple(said)


def _lane_in_words(name: str, setting: Mapping[str, Any]) -> str:
    what = []
    if setting["gain_db"]:
        what.append(f"{decibels(setting['gain_db'], signed=True)} dB")
    if setting["nudge_samples"]:
        side = "later" if setting["nudge_samples"] > 0 else "earlier"
        what.append(f"nudge {abs(setting['nudge_samples']):g} samples {side}")
    if setting["inverted"]:
        what.append("flip its polarity")
    return f"{name}: {', '.join(what) or 'as recorded'}"


def read_gear_photos(library: Readable, gear_id: int) -> tuple[PhotoSheet, ...]:
    with library.reading() as session:
        return tuple(_photos(session, col(Photo.gear_id), [gear_id]).get(gear_id, ()))


def read_photos_of_gear(session: Session, gear_ids: Iterable[int]) -> dict[int, tuple[PhotoSheet, ...]]:
    """By gear; what has none is left out."""
    found = _photos(session, col(Photo.gear_id), list(gear_ids))
    return {gear_id: tuple(photos) for gear_id, photos in found.items()}


def read_steps(session: Session, pass_ids: Collection[int]) -> dict[int, list[StepSheet]]:
    """By pass its chain as it was set, for what needs nothing else of the pass."""
    of_passes = {"pass_ids": list(pass_ids)}
    rows = session.execute(_STEPS, of_passes).all()
    layout_ids = {row.layout_id for row in rows}
    controls = read_controls(session, layout_ids)
    layouts = session.scalars(_LAYOUTS, {"layout_ids": list(layout_ids)}).all()
    newest = newest_layouts(session, {row.gear_id for row in layouts})
    known = {row.id: _known_of(row, newest[row.gear_id]) for row in layouts}
    settings = {
        (step_id, control_id): (reading, position, value, approximate, crop_id)
        for step_id, control_id, reading, position, value, approximate, crop_id in session.execute(
            _SETTINGS, of_passes
        )
    }
    placements = {row.step_id: placement_of(row) for row in session.scalars(_PLACEMENTS, of_passes)}
    found: dict[int, list[StepSheet]] = {}
    for pass_id, step_id, gear_id, layout_id, branch, version, gear_name, kind in rows:
        lines = tuple(
            SettingSheet(
                control.control_id,
                control.key,
                control.spec,
                *settings.get((step_id, control.control_id), ("", None, None, False, None)),
            )
            for control in controls.get(layout_id, ())
        )
        found.setdefault(pass_id, []).append(
            StepSheet(
                step_id,
                gear_id,
                layout_id,
                version,
                gear_name,
                kind,
                branch,
                lines,
                placements.get(step_id),
                *known[layout_id],
            )
        )
    return found


def _known_of(
    layout: ControlLayout, newest: ControlLayout
) -> tuple[tuple[Port, ...], GearFacts, frozenset[str]]:
    """Ports and facts of a layout with what became known since, and what that is."""
    facts, learnt = as_known_today(facts_of(layout), facts_of(newest))
    ports, figures = ports_as_known_today(ports_of(layout), ports_of(newest))
    return ports, facts, learnt | figures


def placement_of(row: MicPlacement) -> Placement:
    return Placement(**row.model_dump(exclude={"step_id"}))


def _prints(
    session: Session,
    source_file_of: dict[int, int | None],
    gear_of: Mapping[int | None, tuple[int, str]],
    with_overviews: bool,
) -> dict[int, list[PrintSheet]]:
    twins = _twins(session, source_file_of)
    rows = session.execute(_PRINTS, {"pass_ids": list(source_file_of)}).all()
    pairs = {(row.file_id, source_file_of[row.pass_id]) for row, *_ in rows}
    measured = measurements.read_measured(session, pairs, with_overview=with_overviews)
    found: dict[int, list[PrintSheet]] = {}
    for row, sha256, size, referred_to, problem, repeat_of in rows:
        own = measured[row.file_id, source_file_of[row.pass_id]]
        if row.file_id == source_file_of[row.pass_id]:
            own = replace(own, findings=(findings.of_the_source_itself(), *own.findings))
        elif row.id in twins:
            own = replace(own, findings=(*own.findings, twins[row.id]))
        if row.delay_by_hand_samples is not None:
            own = own.placed_by_hand(row.delay_by_hand_samples)
        gear_id, microphone = gear_of.get(row.step_id, (None, ""))
        found.setdefault(row.pass_id, []).append(
            PrintSheet(
                row.id,
                row.label,
                row.step_id,
                row.file_id,
                row.file_name,
                sha256,
                size,
                own,
                referred_to,
                problem,
                repeat_of,
                microphone,
                row.delay_by_hand_samples,
                gear_id,
            )
        )
    return found


def _twins(session: Session, pass_ids: Iterable[int]) -> dict[int, Finding]:
    """By print, what there is to say of the first other pass that has the same file."""
    return {
        print_id: findings.of_another_pass(number, "" if is_of_same else name)
        for print_id, number, name, is_of_same in session.execute(_TWINS, {"pass_ids": list(pass_ids)})
    }


def _tags(session: Session, pass_ids: list[int]) -> dict[int, list[str]]:
    found: dict[int, list[str]] = {}
    for row in session.scalars(_TAGS, {"pass_ids": pass_ids}):
        found.setdefault(row.pass_id, []).append(row.tag)
    return found


def _keepers(session: Session, pass_ids: list[int]) -> dict[int, list[KeeperSheet]]:
    found: dict[int, list[KeeperSheet]] = {}
    for row in session.scalars(_KEEPERS, {"pass_ids": pass_ids}):
        found.setdefault(row.pass_id, []).append(KeeperSheet(row.id, row.part, row.reason, row.created_at))
    return found


def _photos(session: Session, owner: Any, owner_ids: list[int]) -> dict[int, list[PhotoSheet]]:
    rows = session.execute(
        select(owner, Photo, col(StoredFile.sha256))
        .join(StoredFile, col(Photo.shown_file_id) == col(StoredFile.id))
        .where(col(owner).in_(owner_ids))
        .order_by(col(Photo.id))
    )
    found: dict[int, list[PhotoSheet]] = {}
    for owner_id, row, sha256 in rows:
        found.setdefault(owner_id, []).append(
            PhotoSheet(row.id, row.caption, row.width, row.height, row.step_id, sha256)
        )
    return found


# Building a statement takes SQLAlchemy longer than SQLite takes to answer it, and every page reads these: each is built once.
_PASS_IDS: BindParameter[int] = bindparam("pass_ids", expanding=True)
_HEADS = (
    select(Pass, SourceTrack, Project)
    .join(SourceTrack, col(Pass.source_id) == col(SourceTrack.id))
    .join(Project, col(SourceTrack.project_id) == col(Project.id))
    .order_by(col(SourceTrack.project_id), col(Pass.source_id), col(Pass.number))
)
_BLENDS = select(col(Blend.pass_id), col(Blend.settings)).where(col(Blend.pass_id).in_(_PASS_IDS))
_STEPS = (
    select(
        col(ChainStep.pass_id),
        col(ChainStep.id),
        col(ChainStep.gear_id),
        col(ChainStep.layout_id),
        col(ChainStep.branch),
        col(ControlLayout.version),
        col(ControlLayout.gear_name),
        col(ControlLayout.kind),
    )
    .join(ControlLayout, col(ChainStep.layout_id) == col(ControlLayout.id))
    .where(col(ChainStep.pass_id).in_(_PASS_IDS))
    .order_by(col(ChainStep.pass_id), col(ChainStep.position))
)
_LAYOUTS = select(ControlLayout).where(col(ControlLayout.id).in_(bindparam("layout_ids", expanding=True)))
_SETTINGS = (
    select(
        col(Setting.step_id),
        col(Setting.control_id),
        col(Setting.reading),
        col(Setting.position),
        col(Setting.value),
        col(Setting.approximate),
        col(SettingCrop.file_id),
    )
    .outerjoin(SettingCrop, SHOWS_THE_SETTING)
    .join(ChainStep, col(Setting.step_id) == col(ChainStep.id))
    .where(col(ChainStep.pass_id).in_(_PASS_IDS))
)
_PLACEMENTS = (
    select(MicPlacement)
    .join(ChainStep, col(MicPlacement.step_id) == col(ChainStep.id))
    .where(col(ChainStep.pass_id).in_(_PASS_IDS))
)
_PRINTS = (
    select(
        Print,
        col(StoredFile.sha256),
        col(StoredFile.bytes),
        func.coalesce(col(ReferredFile.path), ""),
        func.coalesce(col(ReferredFile.problem), ""),
        col(PrintRepeat.first_id),
    )
    .join(StoredFile, col(Print.file_id) == col(StoredFile.id))
    .outerjoin(ReferredFile, col(ReferredFile.file_id) == col(StoredFile.id))
    .outerjoin(PrintRepeat, col(PrintRepeat.print_id) == col(Print.id))
    .where(col(Print.pass_id).in_(_PASS_IDS))
    .order_by(col(Print.id))
)
_OTHER, _ELSEWHERE, _SOURCE, _HERE = aliased(Print), aliased(Pass), aliased(SourceTrack), aliased(Pass)
_TWINS = (
    select(
        col(Print.id),
        col(_ELSEWHERE.number),
        col(_SOURCE.name),
        col(_ELSEWHERE.source_id) == col(_HERE.source_id),
    )
    .join(_OTHER, (col(_OTHER.file_id) == col(Print.file_id)) & (col(_OTHER.pass_id) != col(Print.pass_id)))
    .join(_ELSEWHERE, col(_ELSEWHERE.id) == col(_OTHER.pass_id))
    .join(_SOURCE, col(_SOURCE.id) == col(_ELSEWHERE.source_id))
    .join(_HERE, col(_HERE.id) == col(Print.pass_id))
    .where(col(Print.pass_id).in_(_PASS_IDS))
    .order_by(col(_OTHER.id).desc())
)
_TAGS = select(PassTag).where(col(PassTag.pass_id).in_(_PASS_IDS)).order_by(func.lower(col(PassTag.tag)))
_KEEPERS = select(KeeperMark).where(col(KeeperMark.pass_id).in_(_PASS_IDS)).order_by(col(KeeperMark.id))
