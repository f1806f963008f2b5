"""Bringing a bundle in: what of it is new, the same, changed there, here or on both sides; and merging it.

Each row is compared with what both sides last agreed on, which `shared_row` keeps. What was changed on one side alone
is taken from there; what was changed on both is the person's choice, row by row, and their own stays unless they say
otherwise. Nothing is deleted, and what was deleted here does not come back by itself.
"""

import io
import zipfile
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from sqlalchemy import delete, select
from sqlalchemy.orm import Session
from sqlmodel import col

from app.desk.bundles.differences import Difference, differences
from app.desk.bundles.digests import digest, is_digest_of
from app.desk.bundles.document import (
    AudioFile,
    Document,
    GearRow,
    KeeperRow,
    LayoutRow,
    NoteRow,
    PassRow,
    PhotoRow,
    PrintRow,
    ProjectRow,
    Row,
    SourceRow,
    StepRow,
)
from app.desk.bundles.reading import Bundle, UnreadableBundle
from app.desk.bundles.rows import known_rows
from app.desk.files import stored_files
from app.desk.files.pictures import UnusablePicture, clean_picture
from app.desk.measuring import measurements
from app.library import Library, Readable, TakenIn
from app.records import (
    Blend,
    ChainStep,
    Control,
    ControlLayout,
    Gear,
    HookUpPlan,
    KeeperMark,
    Measurement,
    MicPlacement,
    Note,
    Pass,
    PassTag,
    Photo,
    PhotoPin,
    Print,
    Project,
    Setting,
    SharedRow,
    SourceTrack,
)
from app.records.base import now
from app.signal.figures import ALGORITHM_VERSION
from app.trade.hook_up_plan import plan_from_json, plan_to_json, with_devices

State = Literal["new", "same", "changed there", "changed here", "changed on both sides", "deleted here"]
TABLES: dict[type[Row], Any] = {
    ProjectRow: Project,
    GearRow: Gear,
    LayoutRow: ControlLayout,
    SourceRow: SourceTrack,
    PassRow: Pass,
    PrintRow: Print,
    KeeperRow: KeeperMark,
    PhotoRow: Photo,
    NoteRow: Note,
}


@dataclass(frozen=True)
class Change:
    """One row of the bundle beside what is here; `differences` where it is to be taken, or to be chosen."""

    uid: str
    noun: str
    name: str
    state: State
    differences: tuple[Difference, ...] = ()

    @property
    def is_a_choice(self) -> bool:
        return self.state in ("changed on both sides", "deleted here")


@dataclass(frozen=True)
class Preview:
    """`without_audio` counts the prints and sources whose audio the bundle does not hold, nor this library."""

    title: str
    is_new: bool
    changes: tuple[Change, ...]
    without_audio: int
    renumbered: tuple[str, ...]

    @property
    def brings_nothing(self) -> bool:
        """Whether bringing it in would change nothing here."""
        return all(change.state in ("same", "changed here") for change in self.changes)

    def of_state(self, state: str) -> tuple[Change, ...]:
        return tuple(change for change in self.changes if change.state == state)

    def count(self, state: str, noun: str) -> int:
        return sum(change.noun == noun for change in self.of_state(state))


@dataclass(frozen=True)
class Merged:
    project_id: int
    taken: int
    left_out: int


def preview(library: Readable, bundle: Bundle) -> Preview:
    document = bundle.document
    with library.reading() as session:
        changes = _changes(session, document)
        held = library.files.names()
        audio = [row.file.sha256 for row in document.sources if row.file] + [
            row.file.sha256 for row in document.prints
        ]
        new = {change.uid for change in changes if change.state == "new"}
        taken = _taken_numbers(session, document)
        renumbered = tuple(
            f"pass {row.number}" + (f": {row.title}" if row.title else "")
            for row in document.passes
            if row.uid in new and row.number in taken.get(row.source_uid, set())
        )
        return Preview(
            document.project.title,
            document.project.uid in new,
            tuple(changes),
            sum(sha256 not in bundle.audio and sha256 not in held for sha256 in audio),
            renumbered,
        )


def _changes(session: Session, document: Document) -> list[Change]:
    mine = known_rows(session, document)
    agreed = dict(session.execute(select(col(SharedRow.uid), col(SharedRow.digest))).all())
    private = set(session.scalars(select(col(Note.uid)).where(col(Note.private))))
    found = []
    for row in document.rows():
        if row.uid in private:
            continue
        here = mine.get(row.uid)
        state = _state(row, here, agreed.get(row.uid))
        told = state in ("changed there", "changed on both sides")
        differing = differences(here, row, document) if told and here is not None else ()
        found.append(Change(row.uid, row.noun, _name(row), state, differing))
    return found


def _state(theirs: Row, mine: Row | None, agreed: str | None) -> State:
    if mine is None:
        return "new" if agreed is None else "deleted here"
    if digest(mine) == digest(theirs):
        return "same"
    if is_digest_of(agreed, mine):
        return "changed there"
    if is_digest_of(agreed, theirs):
        return "changed here"
    return "changed on both sides"


def _name(row: Row) -> str:
    match row:
        case ProjectRow():
            return row.title
        case GearRow() | SourceRow():
            return row.name
        case LayoutRow():
            return f"{row.gear_name}, version {row.version}"
        case PassRow():
            return f"pass {row.number}" + (f": {row.title}" if row.title else "")
        case PrintRow():
            return row.label or row.file.file_name
        case KeeperRow():
            return row.part or row.reason or "keeper"
        case PhotoRow():
            return row.caption or "photo"
        case NoteRow():
            return row.words[:80]
        case _:
            return row.uid


def _taken_numbers(session: Session, document: Document) -> dict[str, set[int]]:
    rows = session.execute(
        select(col(SourceTrack.uid), col(Pass.number))
        .join(Pass, col(Pass.source_id) == col(SourceTrack.id))
        .where(col(SourceTrack.uid).in_([row.uid for row in document.sources]))
    )
    taken: dict[str, set[int]] = {}
    for uid, number in rows:
        taken.setdefault(uid, set()).add(number)
    return taken


def merge(library: Library, bundle: Bundle, theirs: Collection[str] = ()) -> Merged:
    """Bring the bundle in: files first, then all rows in one transaction. `theirs` are the rows that were changed on
    both sides, or deleted here, and are to be as they are there. Raises UnreadableBundle where a file is not what the
    document says; then nothing was changed."""
    taken = _take_files(library, bundle)
    try:
        with library.writing() as session:
            changes = _changes(session, bundle.document)
            wanted = {
                change.uid
                for change in changes
                if change.state in ("new", "changed there") or (change.is_a_choice and change.uid in theirs)
            }
            writing = _Writing(session, library, bundle.document, taken)
            written = {row.uid for row in bundle.document.rows() if row.uid in wanted and writing.write(row)}
            writing.write_blends(written)
            agree(session, bundle.document, {change.uid for change in changes} - (wanted - written))
            project = session.scalars(
                select(Project).where(col(Project.uid) == bundle.document.project.uid)
            ).first()
            if project is None:
                raise UnreadableBundle(
                    "Its project was deleted here. Choose to have it back, or nothing of it can come."
                )
            return Merged(project.id, len(written), len(wanted - written))
    except BaseException:
        for item in taken.values():
            stored_files.forget_unless_used(library, item)
        raise


def _take_files(library: Library, bundle: Bundle) -> dict[str, TakenIn]:
    """Every audio file and photo of the bundle, in the store under the hash that the document says."""
    taken: dict[str, TakenIn] = {}
    held = library.files.names()
    with zipfile.ZipFile(bundle.path) as archive:
        for sha256, name in (*bundle.audio.items(), *bundle.photos.items()):
            if sha256 in held or sha256 in taken:
                continue
            try:
                with archive.open(name) as stream:
                    item = library.files.take_in(stream)  # type: ignore[arg-type]
            except (zipfile.BadZipFile, EOFError) as error:
                _forget(library, taken)
                raise UnreadableBundle(f"“{name[:80]}” in it is damaged ({error}).") from error
            taken[item.sha256] = item
            if item.sha256 != sha256:
                _forget(library, taken)
                raise UnreadableBundle(f"“{name[:80]}” in it is not the file that its list says.")
    return taken


def _forget(library: Library, taken: dict[str, TakenIn]) -> None:
    for item in taken.values():
        stored_files.forget_unless_used(library, item)


def agree(session: Session, document: Document, uids: Collection[str]) -> None:
    """Keep what these rows of the document say as what both sides now agree on."""
    for row in document.rows():
        if row.uid in uids:
            session.merge(SharedRow(uid=row.uid, noun=row.noun, digest=digest(row), shared_at=now()))


class _Writing:
    """Writes rows of a document into a library. A row whose company is not here is left out."""

    def __init__(
        self, session: Session, library: Library, document: Document, taken: dict[str, TakenIn]
    ) -> None:
        self.session = session
        self.library = library
        self.taken = taken
        self.document = document
        self.rows = {row.uid: row for row in document.rows()}

    def write(self, row: Row) -> bool:
        """Whether it could be written."""
        match row:
            case ProjectRow():
                done = self._plain(row) is not None
            case GearRow():
                done = self._plain(row) is not None
            case LayoutRow():
                done = self._layout(row)
            case SourceRow():
                done = self._source(row)
            case PassRow():
                done = self._pass(row)
            case PrintRow():
                done = self._print(row)
            case KeeperRow():
                done = self._of_pass(row, row.pass_uid)
            case PhotoRow():
                done = self._photo(row)
            case NoteRow():
                done = self._note(row)
            case _:
                done = False
        self.session.flush()
        return done

    def write_blends(self, wanted: Collection[str]) -> None:
        """Once the prints are there that they are of."""
        for row in self.document.passes:
            pass_id = self._id(Pass, row.uid)
            if row.uid not in wanted or pass_id is None:
                continue
            settings = {
                str(print_id): {
                    "gain_db": item.gain_db,
                    "nudge_samples": item.nudge_samples,
                    "inverted": item.inverted,
                }
                for item in row.blend
                if (print_id := self._id(Print, item.print_uid)) is not None
            }
            there = self.session.get(Blend, pass_id)
            if settings:
                self.session.merge(Blend(pass_id=pass_id, settings=settings))
            elif there is not None:
                self.session.delete(there)

    def _find(self, table: Any, uid: str | None) -> Any:
        return self.session.scalars(select(table).where(col(table.uid) == uid)).first()

    def _id(self, table: Any, uid: str | None) -> int | None:
        found = self._find(table, uid)
        return None if found is None else int(found.id)

    def _plain(self, row: Row, **more: Any) -> Any:
        """The row written as it is said, new or over the one that is here."""
        table = TABLES[type(row)]
        there = self._find(table, row.uid)
        said = {
            name: getattr(row, name)
            for name in type(row).model_fields
            if name in table.model_fields and name not in ("uid", "created_at")
        } | more
        if there is None:
            there = table(uid=row.uid, created_at=row.created_at, **said)
            self.session.add(there)
        else:
            for name, value in said.items():
                setattr(there, name, value)
        self.session.flush()
        return there

    def _layout(self, row: LayoutRow) -> bool:
        gear_id = self._id(Gear, row.gear_uid)
        if gear_id is None:
            return False
        there = self._find(ControlLayout, row.uid)
        if there is None:
            version = self._version_for(gear_id, row.version)
            there = ControlLayout(
                uid=row.uid,
                gear_id=gear_id,
                version=version,
                gear_name=row.gear_name,
                kind=row.kind,
                created_at=row.created_at,
                ports=row.ports,
                facts=row.facts,
            )
            self.session.add(there)
            self.session.flush()
            self._controls(there.id, row, may_change=True)
            return True
        used = self.session.scalars(
            select(col(ChainStep.id)).where(col(ChainStep.layout_id) == there.id).limit(1)
        )
        is_free = used.first() is None  # a pass was logged with any other, which stays as it was then
        if is_free:
            there.gear_name, there.kind = row.gear_name, row.kind
            there.ports, there.facts = row.ports, row.facts
        self._controls(there.id, row, may_change=is_free)
        return True

    def _version_for(self, gear_id: int, version: int) -> int:
        """The version's own number while it is free. Else it goes in under the newest, so that this library's own
        layout stays the one that a new pass is logged with."""
        numbers = {
            layout.version: layout
            for layout in self.session.scalars(
                select(ControlLayout).where(col(ControlLayout.gear_id) == gear_id)
            )
        }
        if not numbers or (version not in numbers and version < max(numbers)):
            return version
        newest = numbers[max(numbers)]
        free = newest.version
        newest.version += 1
        self.session.flush()
        return free

    def _controls(self, layout_id: int, row: LayoutRow, *, may_change: bool) -> None:
        there = {
            control.key: control
            for control in self.session.scalars(select(Control).where(col(Control.layout_id) == layout_id))
        }
        for position, item in enumerate(row.controls):
            control = there.get(item.key)
            if control is None:
                control = Control(
                    layout_id=layout_id,
                    key=item.key,
                    position=position,
                    name=item.spec["name"],
                    spec=item.spec,
                )
                self.session.add(control)
            elif may_change:
                control.position, control.name, control.spec = position, item.spec["name"], item.spec

    def _source(self, row: SourceRow) -> bool:
        project_id = self._id(Project, self.document.project.uid)
        if project_id is None:
            return False
        file_id = None if row.file is None else self._file(row.file)
        name = "" if row.file is None else row.file.file_name
        self._plain(row, project_id=project_id, file_id=file_id, file_name=name)
        if row.file is not None and file_id is not None and self._is_held(row.file):
            measurements.want(self.session, file_id, None)
        return True

    def _file(self, file: AudioFile) -> int:
        return stored_files.record(self.session, TakenIn(file.sha256, file.bytes), file.media_type)

    def _is_held(self, file: AudioFile) -> bool:
        return file.sha256 in self.taken or self.library.files.path(file.sha256).exists()

    def _pass(self, row: PassRow) -> bool:
        source_id = self._id(SourceTrack, row.source_uid)
        chain = [self._step(step) for step in row.steps]
        if source_id is None or not all(chain):
            return False
        there = self._find(Pass, row.uid)
        number = self._number_for(source_id, row.number) if there is None else there.number
        edited = {"edited_at": now(), "revision": 1 if there is None else there.revision + 1}
        made = self._plain(row, source_id=source_id, number=number, **edited)
        self.session.execute(delete(PassTag).where(col(PassTag.pass_id) == made.id))
        self.session.add_all(PassTag(pass_id=made.id, tag=tag) for tag in dict.fromkeys(row.tags))
        self._steps(made.id, row.steps)
        names = {
            uid: str(gear_id)
            for step in row.steps
            if (gear_id := self._id(Gear, uid := step.gear_uid)) is not None
        }
        plan = (
            {}
            if row.hook_up_plan is None
            else plan_to_json(with_devices(plan_from_json(row.hook_up_plan), names))
        )
        levels = _with_gear(row.level_inputs or {}, names)
        if plan or levels:
            self.session.merge(HookUpPlan(pass_id=made.id, plan=plan, levels=levels))
        return True

    def _number_for(self, source_id: int, number: int) -> int:
        taken = set(self.session.scalars(select(col(Pass.number)).where(col(Pass.source_id) == source_id)))
        return number if number not in taken else max(taken) + 1

    def _step(self, step: StepRow) -> tuple[int, int] | None:
        gear_id, layout = self._id(Gear, step.gear_uid), self._find(ControlLayout, step.layout_uid)
        return (
            None if gear_id is None or layout is None or layout.gear_id != gear_id else (gear_id, layout.id)
        )

    def _steps(self, pass_id: int, steps: Sequence[StepRow]) -> None:
        """The chain as the document says it. A step that stays keeps its id, and with it its prints and photos."""
        there = {
            step.gear_id: step
            for step in self.session.scalars(select(ChainStep).where(col(ChainStep.pass_id) == pass_id))
        }
        for position, said in enumerate(steps):
            ids = self._step(said)
            assert ids is not None  # looked up before
            gear_id, layout_id = ids
            step = there.pop(gear_id, None)
            if step is None:
                step = ChainStep(pass_id=pass_id, position=position, gear_id=gear_id, layout_id=layout_id)
                self.session.add(step)
            step.position, step.branch, step.layout_id = position, said.branch, layout_id
            self.session.flush()
            self.session.execute(delete(Setting).where(col(Setting.step_id) == step.id))
            self.session.execute(delete(MicPlacement).where(col(MicPlacement.step_id) == step.id))
            self._settings(step.id, layout_id, said)
            if said.placement is not None:
                self.session.add(MicPlacement(step_id=step.id, **said.placement.model_dump()))
        for step in there.values():
            self.session.delete(step)

    def _settings(self, step_id: int, layout_id: int, said: StepRow) -> None:
        controls = dict(
            self.session.execute(
                select(col(Control.key), col(Control.id)).where(col(Control.layout_id) == layout_id)
            ).all()
        )
        by_key = {item.control: item for item in said.settings if item.control in controls and item.reading}
        self.session.add_all(
            Setting(step_id=step_id, control_id=controls[key], **item.model_dump(exclude={"control"}))
            for key, item in by_key.items()
        )

    def _step_id(self, pass_id: int | None, gear_uid: str | None) -> int | None:
        return self.session.scalars(
            select(col(ChainStep.id))
            .join(Gear, col(ChainStep.gear_id) == col(Gear.id))
            .where(col(ChainStep.pass_id) == pass_id, col(Gear.uid) == gear_uid)
        ).first()

    def _print(self, row: PrintRow) -> bool:
        owner = self._find(Pass, row.pass_uid)
        if owner is None:
            return False
        file_id = self._file(row.file)
        self._plain(
            row,
            pass_id=owner.id,
            step_id=self._step_id(owner.id, row.gear_uid),
            file_id=file_id,
            file_name=row.file.file_name,
        )
        source_file_id = self.session.get_one(SourceTrack, owner.source_id).file_id
        if self._is_held(row.file):
            measurements.want(self.session, file_id, source_file_id)
        elif row.figures is not None:
            self._keep_figures(file_id, source_file_id, row.figures)
        return True

    def _keep_figures(self, file_id: int, source_file_id: int | None, figures: dict[str, Any]) -> None:
        """What was measured there of a file that is not here."""
        there = self.session.scalars(
            select(col(Measurement.id)).where(
                col(Measurement.file_id) == file_id,
                col(Measurement.source_file_id).is_not_distinct_from(source_file_id),
            )
        )
        if there.first() is None:
            self.session.add(
                Measurement(
                    file_id=file_id,
                    source_file_id=source_file_id,
                    algorithm_version=ALGORITHM_VERSION,
                    state="done",
                    figures=figures,
                    finished_at=now(),
                )
            )

    def _of_pass(self, row: Row, pass_uid: str) -> bool:
        pass_id = self._id(Pass, pass_uid)
        if pass_id is None:
            return False
        self._plain(row, pass_id=pass_id)
        return True

    def _note(self, row: NoteRow) -> bool:
        pass_id = self._id(Pass, row.pass_uid)
        project_id = self._id(Project, self.document.project.uid)
        if project_id is None or (row.pass_uid is not None and pass_id is None):
            return False
        self._plain(row, project_id=project_id, pass_id=pass_id)
        return True

    def _photo(self, row: PhotoRow) -> bool:
        pass_id = self._id(Pass, row.pass_uid)
        gear_id = self._id(Gear, row.gear_uid)
        owners = {
            "pass_id": pass_id,
            "step_id": self._step_id(pass_id, row.gear_uid) if pass_id else None,
            "gear_id": None if row.pass_uid else gear_id,
        }
        if (row.pass_uid and pass_id is None) or (not row.pass_uid and gear_id is None):
            return False
        there = self._find(Photo, row.uid)
        if there is None:
            picture = self._picture(row)
            if picture is None:
                return False
            there = self._plain(row, **owners, **picture)
        else:
            there.caption = row.caption
        self.session.execute(delete(PhotoPin).where(col(PhotoPin.photo_id) == there.id))
        for pin in {(pin.gear_uid, pin.control): pin for pin in row.pins}.values():
            of = self._id(Gear, pin.gear_uid)
            if of is not None:
                self.session.add(
                    PhotoPin(photo_id=there.id, gear_id=of, control_key=pin.control, x=pin.x, y=pin.y)
                )
        return True

    def _picture(self, row: PhotoRow) -> dict[str, Any] | None:
        """The photo cleaned again, as any that comes in; None where the bundle does not hold it."""
        path = self.library.files.path(row.sha256)
        if not path.exists():
            return None
        try:
            picture = clean_picture(path)
        except UnusablePicture as error:
            raise UnreadableBundle(f"The photo “{row.caption[:60]}” in it: {error}") from error
        stored = {
            "original_file_id": (TakenIn(row.sha256, path.stat().st_size), picture.media_type_found),
            "shown_file_id": (self.library.files.take_in(io.BytesIO(picture.shown)), "image/jpeg"),
            "thumbnail_file_id": (self.library.files.take_in(io.BytesIO(picture.thumbnail)), "image/jpeg"),
        }
        self.taken |= {item.sha256: item for item, _ in stored.values()}
        ids = {name: stored_files.record(self.session, *of) for name, of in stored.items()}
        return {"width": picture.width, "height": picture.height, **ids}


def _with_gear(levels: dict[str, Any], names: dict[str, str]) -> dict[str, Any]:
    gear: Iterable[dict[str, Any]] = levels.get("gear", [])
    kept = [item | {"gear": names[item["gear"]]} for item in gear if item["gear"] in names]
    return {key: value for key, value in levels.items() if key != "gear"} | ({"gear": kept} if kept else {})
