"""Rows of a document written into a library.

What is here of what the document names is read once for each table, and each kind of row is written as a whole before
the next that refers to it: what a bundle costs does not grow with a query or more for each of its rows.
"""

import io
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from typing import Any, TypeVar

from sqlalchemy import delete, select
from sqlalchemy.orm import Session
from sqlmodel import col

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
    SettingRow,
    SourceRow,
    StepRow,
)
from app.desk.bundles.reading import UnreadableBundle
from app.desk.files.cleaned_pictures import cleaned_picture
from app.desk.files.pictures import UnusablePicture
from app.desk.measuring import measurements
from app.library import Library, TakenIn
from app.records import (
    SOURCE_LANE,
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
    SettingCrop,
    SourceTrack,
    StoredFile,
    WorkState,
)
from app.records.base import now
from app.signal.figures import ALGORITHM_VERSION, print_figures_from_json
from app.trade.hook_up_plan import plan_from_json, plan_to_json, with_devices

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
R = TypeVar("R", bound=Row)
MOST_CROP_BYTES, MOST_CROP_PX = 65_536, 256
ASKED_AT_ONCE = 10_000
"""SQLite takes some 32,000 values in one statement."""


class TakingOver:
    """Writes rows of a document into a library. A row whose company is not here is left out.

    `_here` is what stands here of what the document names, by table and uid, with what was written since.
    """

    def __init__(
        self, session: Session, library: Library, document: Document, taken: dict[str, TakenIn]
    ) -> None:
        self._session = session
        self._library = library
        self._document = document
        self._taken = taken
        named = _named(document)
        self._here = {
            table: {row.uid: row for row in self._all(table, table.uid, named[table])}
            for table in TABLES.values()
        }
        self._stored: dict[str, StoredFile] = {}
        self._step_ids: dict[tuple[int, int], int] = {}

    def write(self, wanted: Collection[str]) -> set[str]:
        """Write the rows of these uids, each kind after those it refers to. Returns which could be written."""
        document = self._document

        def stage(rows: Iterable[R], write: Callable[[Sequence[R]], Sequence[R]]) -> set[str]:
            chosen = {row.uid: row for row in rows if row.uid in wanted}
            done = write(list(chosen.values())) if chosen else ()
            self._session.flush()
            return {row.uid for row in done}

        written = stage([document.project], self._plain_ones)
        written |= stage(document.gear, self._plain_ones)
        written |= stage(document.layouts, self._layouts)
        written |= stage(document.sources, self._sources)
        written |= stage(document.passes, self._passes)
        written |= stage(document.prints, self._prints)
        written |= stage(document.keepers, self._keepers)
        written |= stage(document.photos, self._photos)
        written |= stage(document.notes, self._notes)
        self._blends([row for row in document.passes if row.uid in written])
        return written

    def _all(self, table: Any, column: Any, values: Iterable[Any]) -> list[Any]:
        """The rows whose column has one of these values."""
        found: list[Any] = []
        for some in _at_once(values):
            found += self._session.scalars(select(table).where(col(column).in_(some)))
        return found

    def _delete(self, column: Any, values: Iterable[Any]) -> None:
        for some in _at_once(values):
            self._session.execute(delete(column.class_).where(col(column).in_(some)))

    def _id(self, table: Any, uid: str | None) -> int | None:
        found = self._here[table].get(uid)
        return None if found is None else int(found.id)

    def _plain(self, row: Row, **more: Any) -> Any:
        """The row written as it is said, new or over the one that is here."""
        table = TABLES[type(row)]
        there = self._here[table].get(row.uid)
        said = {
            name: getattr(row, name)
            for name in type(row).model_fields
            if name in table.model_fields and name not in ("uid", "created_at")
        } | more
        if there is None:
            there = table(uid=row.uid, created_at=row.created_at, **said)
            self._here[table][row.uid] = there
            self._session.add(there)
        else:
            for name, value in said.items():
                setattr(there, name, value)
        return there

    def _plain_ones(self, rows: Sequence[R]) -> Sequence[R]:
        for row in rows:
            self._plain(row)
        return rows

    def _layouts(self, rows: Sequence[LayoutRow]) -> list[LayoutRow]:
        written = [row for row in rows if self._id(Gear, row.gear_uid) is not None]
        known = self._here[ControlLayout]
        stood = {row.uid for row in written if row.uid in known}
        used = self._layouts_in_use([known[uid].id for uid in stood])
        versions: dict[int, dict[int, ControlLayout]] = {}
        for layout in self._all(
            ControlLayout, ControlLayout.gear_id, [self._id(Gear, row.gear_uid) for row in written]
        ):
            versions.setdefault(layout.gear_id, {})[layout.version] = layout
        known_gear = set(versions)
        for row in written:
            gear_id = self._id(Gear, row.gear_uid) or 0
            if row.uid not in stood:
                of_gear = versions.setdefault(gear_id, {})
                if gear_id in known_gear:
                    version = self._version_for(of_gear, row.version)
                else:  # its layouts stand in their own order
                    version = row.version if row.version not in of_gear else max(of_gear) + 1
                layout = self._plain(row, gear_id=gear_id, version=version)
                of_gear[version] = layout
            elif (
                known[row.uid].id not in used
            ):  # a pass was logged with any other, which stays as it was then
                there = known[row.uid]
                there.gear_name, there.kind = row.gear_name, row.kind
                there.ports, there.facts = row.ports, row.facts
        self._session.flush()
        self._controls(written, used)
        return written

    def _layouts_in_use(self, layout_ids: Sequence[int]) -> set[int]:
        used: set[int] = set()
        for some in _at_once(layout_ids):
            column = col(ChainStep.layout_id)
            used |= set(self._session.scalars(select(column).where(column.in_(some)).distinct()))
        return used

    def _version_for(self, versions: dict[int, ControlLayout], version: int) -> int:
        """The version's own number while it is free. Else it goes in under the newest, so that this library's own
        layout stays the one that a new pass is logged with."""
        if version not in versions and version < max(versions):
            return version
        free = max(versions)
        newest = versions.pop(free)
        newest.version = free + 1
        versions[free + 1] = newest
        self._session.flush()
        return free

    def _controls(self, rows: Sequence[LayoutRow], used: Collection[int]) -> None:
        known = self._here[ControlLayout]
        ids = {row.uid: int(known[row.uid].id) for row in rows}
        there = {
            (control.layout_id, control.key): control
            for control in self._all(Control, Control.layout_id, ids.values())
        }
        for row in rows:
            layout_id = ids[row.uid]
            for position, item in enumerate(row.controls):
                control = there.get((layout_id, item.key))
                if control is None:
                    control = Control(
                        layout_id=layout_id,
                        key=item.key,
                        position=position,
                        name=item.spec["name"],
                        spec=item.spec,
                    )
                    there[layout_id, item.key] = control
                    self._session.add(control)
                elif layout_id not in used:
                    control.position, control.name, control.spec = position, item.spec["name"], item.spec

    def _sources(self, rows: Sequence[SourceRow]) -> Sequence[SourceRow]:
        project_id = self._id(Project, self._document.project.uid)
        if project_id is None:
            return ()
        file_ids = self._record_audio(row.file for row in rows if row.file is not None)
        for row in rows:
            file_id = None if row.file is None else file_ids[row.file.sha256]
            name = "" if row.file is None else row.file.file_name
            self._plain(row, project_id=project_id, file_id=file_id, file_name=name)
        self._measure(
            (file_ids[row.file.sha256], None)
            for row in rows
            if row.file is not None and self._is_held(row.file)
        )
        return rows

    def _record_audio(self, files: Iterable[AudioFile]) -> dict[str, int]:
        """The ids of these files by their SHA-256, new or already there."""
        return self._record((self._as_it_is(file), file.media_type) for file in files)

    def _as_it_is(self, file: AudioFile) -> TakenIn:
        """How large a file is tells the file; only of one that is not here the document is believed."""
        if file.sha256 in self._taken:
            return self._taken[file.sha256]
        path = self._library.files.path(file.sha256)
        return TakenIn(file.sha256, path.stat().st_size if path.exists() else file.bytes)

    def _record(self, files: Iterable[tuple[TakenIn, str]]) -> dict[str, int]:
        wanted = {taken.sha256: (taken, media_type) for taken, media_type in files}
        unknown = [sha256 for sha256 in wanted if sha256 not in self._stored]
        self._stored |= {row.sha256: row for row in self._all(StoredFile, StoredFile.sha256, unknown)}
        for sha256, (taken, media_type) in wanted.items():
            if sha256 not in self._stored:
                row = StoredFile(sha256=sha256, bytes=taken.bytes, media_type=media_type)
                self._stored[sha256] = row
                self._session.add(row)
        self._session.flush()
        return {sha256: int(self._stored[sha256].id) for sha256 in wanted}

    def _measure(self, pairs: Iterable[tuple[int, int | None]]) -> None:
        for some in _at_once(pairs):
            measurements.want(self._session, *some)

    def _is_held(self, file: AudioFile) -> bool:
        return file.sha256 in self._taken or self._library.files.path(file.sha256).exists()

    def _passes(self, rows: Sequence[PassRow]) -> list[PassRow]:
        written = [
            row
            for row in rows
            if self._id(SourceTrack, row.source_uid) is not None and all(map(self._step, row.steps))
        ]
        numbers: dict[int, set[int]] = {}
        for there in self._all(
            Pass, Pass.source_id, [self._id(SourceTrack, row.source_uid) for row in written]
        ):
            numbers.setdefault(there.source_id, set()).add(there.number)
        for row in written:
            source_id = self._id(SourceTrack, row.source_uid) or 0
            there = self._here[Pass].get(row.uid)
            if there is None:
                taken = numbers.setdefault(source_id, set())
                number = row.number if row.number not in taken else max(taken) + 1
                taken.add(number)
            else:
                number = there.number
            edited = {"edited_at": now(), "revision": 1 if there is None else there.revision + 1}
            self._plain(row, source_id=source_id, number=number, **edited)
        self._session.flush()
        of_pass = {int(self._here[Pass][row.uid].id): row for row in written}
        self._delete(PassTag.pass_id, of_pass)
        self._session.add_all(
            PassTag(pass_id=pass_id, tag=tag)
            for pass_id, row in of_pass.items()
            for tag in dict.fromkeys(row.tags)
        )
        self._steps(of_pass)
        self._plans(of_pass)
        return written

    def _step(self, step: StepRow) -> tuple[int, int] | None:
        gear_id, layout = self._id(Gear, step.gear_uid), self._here[ControlLayout].get(step.layout_uid)
        return (
            None if gear_id is None or layout is None or layout.gear_id != gear_id else (gear_id, layout.id)
        )

    def _steps(self, of_pass: dict[int, PassRow]) -> None:
        """The chains as the document says them. A step that stays keeps its id, and with it its prints and photos."""
        stood = self._all(ChainStep, ChainStep.pass_id, of_pass)
        there = {(step.pass_id, step.gear_id): step for step in stood}
        said_of = []
        for pass_id, row in of_pass.items():
            for position, said in enumerate(row.steps):
                ids = self._step(said)
                assert ids is not None  # looked up before
                gear_id, layout_id = ids
                step = there.pop((pass_id, gear_id), None)
                if step is None:
                    step = ChainStep(pass_id=pass_id, position=position, gear_id=gear_id, layout_id=layout_id)
                    self._session.add(step)
                step.position, step.branch, step.layout_id = position, said.branch, layout_id
                said_of.append((step, said))
        kept = [step.id for step in stood]
        self._delete(Setting.step_id, kept)
        self._delete(MicPlacement.step_id, kept)
        for step in there.values():
            self._session.delete(step)
        self._session.flush()
        controls = {
            (control.layout_id, control.key): control.id
            for control in self._all(Control, Control.layout_id, [step.layout_id for step, _ in said_of])
        }
        seen: list[tuple[int, int, SettingRow]] = []
        for step, said in said_of:
            by_key = {
                item.control: item
                for item in said.settings
                if (step.layout_id, item.control) in controls and item.reading
            }
            self._session.add_all(
                Setting(
                    step_id=step.id,
                    control_id=controls[step.layout_id, key],
                    **item.model_dump(exclude={"control", "crop"}),
                )
                for key, item in by_key.items()
            )
            seen += [
                (step.id, controls[step.layout_id, key], item)
                for key, item in by_key.items()
                if item.crop is not None
            ]
            if said.placement is not None:
                self._session.add(MicPlacement(step_id=step.id, **said.placement.model_dump()))
        self._crops(seen)

    def _crops(self, seen: Sequence[tuple[int, int, SettingRow]]) -> None:
        """By what pictures the settings were confirmed, as far as the bundle brought these along. Those that are here of
        settings that say the same stay."""
        held = {
            sha256: TakenIn(sha256, size)
            for sha256 in {item.crop for _, _, item in seen if item.crop is not None}
            if (size := self._size_of_crop(sha256)) is not None
        }
        file_ids = self._record((taken, "image/jpeg") for taken in held.values())
        for step_id, control_id, item in seen:
            if item.crop in file_ids:
                self._session.merge(
                    SettingCrop(
                        step_id=step_id,
                        control_id=control_id,
                        reading=item.reading,
                        file_id=file_ids[item.crop],
                    )
                )

    def _size_of_crop(self, sha256: str) -> int | None:
        """Of a picture that is fit to be shown as it came; None of any other."""
        path = self._library.files.path(sha256)
        if not path.exists() or path.stat().st_size > MOST_CROP_BYTES:
            return None
        try:
            picture = cleaned_picture(path)
        except UnusablePicture:
            return None
        is_crop = (
            picture.media_type_found == "image/jpeg" and max(picture.width, picture.height) <= MOST_CROP_PX
        )
        return path.stat().st_size if is_crop else None

    def _plans(self, of_pass: dict[int, PassRow]) -> None:
        there = {row.pass_id: row for row in self._all(HookUpPlan, HookUpPlan.pass_id, of_pass)}
        for pass_id, row in of_pass.items():
            names = {
                step.gear_uid: str(gear_id)
                for step in row.steps
                if (gear_id := self._id(Gear, step.gear_uid)) is not None
            }
            plan = (
                {}
                if row.hook_up_plan is None
                else plan_to_json(with_devices(plan_from_json(row.hook_up_plan), names))
            )
            levels = _with_gear(row.level_inputs or {}, names)
            if not plan and not levels:
                continue
            if pass_id in there:
                there[pass_id].plan, there[pass_id].levels = plan, levels
            else:
                self._session.add(HookUpPlan(pass_id=pass_id, plan=plan, levels=levels))

    def _step_id(self, pass_id: int | None, gear_uid: str | None) -> int | None:
        """Of a pass that is written by now, the step of a piece of gear."""
        gear_id = self._id(Gear, gear_uid)
        if not self._step_ids:
            ids = [row.id for row in self._here[Pass].values()]
            self._step_ids = {
                (step.pass_id, step.gear_id): step.id for step in self._all(ChainStep, ChainStep.pass_id, ids)
            }
        return None if pass_id is None or gear_id is None else self._step_ids.get((pass_id, gear_id))

    def _prints(self, rows: Sequence[PrintRow]) -> list[PrintRow]:
        written = [row for row in rows if row.pass_uid in self._here[Pass]]
        file_ids = self._record_audio(row.file for row in written)
        owners = {row.uid: self._here[Pass][row.pass_uid] for row in written}
        source_files = {
            source.id: source.file_id
            for source in self._all(
                SourceTrack, SourceTrack.id, [owner.source_id for owner in owners.values()]
            )
        }
        to_measure, told = [], {}
        for row in written:
            owner = owners[row.uid]
            file_id = file_ids[row.file.sha256]
            self._plain(
                row,
                pass_id=owner.id,
                step_id=self._step_id(owner.id, row.gear_uid),
                file_id=file_id,
                file_name=row.file.file_name,
            )
            pair = (file_id, source_files[owner.source_id])
            if self._is_held(row.file):
                to_measure.append(pair)
            elif row.figures is not None:
                told[pair] = row.figures
        self._measure(to_measure)
        self._keep_figures(told)
        return written

    def _keep_figures(self, told: dict[tuple[int, int | None], dict[str, Any]]) -> None:
        """What was measured there of files that are not here."""
        there = {
            (row.file_id, row.source_file_id)
            for row in self._all(Measurement, Measurement.file_id, [file_id for file_id, _ in told])
        }
        for (file_id, source_file_id), figures in told.items():
            if (file_id, source_file_id) not in there:
                measured = Measurement(
                    file_id=file_id,
                    source_file_id=source_file_id,
                    algorithm_version=ALGORITHM_VERSION,
                    state=WorkState.DONE,
                    figures=figures,
                    finished_at=now(),
                )
                self._session.add(measured)
                known = print_figures_from_json(measurements.NO_OVERVIEW | figures)
                measurements.keep_learnt(self._session, measured, known)

    def _keepers(self, rows: Sequence[KeeperRow]) -> list[KeeperRow]:
        written = [row for row in rows if row.pass_uid in self._here[Pass]]
        for row in written:
            self._plain(row, pass_id=self._id(Pass, row.pass_uid))
        return written

    def _notes(self, rows: Sequence[NoteRow]) -> list[NoteRow]:
        project_id = self._id(Project, self._document.project.uid)
        if project_id is None:
            return []
        written = [row for row in rows if row.pass_uid is None or row.pass_uid in self._here[Pass]]
        for row in written:
            self._plain(row, project_id=project_id, pass_id=self._id(Pass, row.pass_uid))
        return written

    def _photos(self, rows: Sequence[PhotoRow]) -> list[PhotoRow]:
        known = self._here[Photo]
        owned = [
            row
            for row in rows
            if (row.pass_uid in self._here[Pass] if row.pass_uid else row.gear_uid in self._here[Gear])
        ]
        pictures = {
            row.uid: picture
            for row in owned
            if row.uid not in known and (picture := self._picture(row)) is not None
        }
        file_ids = self._record(of for picture in pictures.values() for of in picture.files)
        written = [row for row in owned if row.uid in known or row.uid in pictures]
        for row in written:
            if row.uid in known:
                known[row.uid].caption = row.caption
                continue
            picture = pictures[row.uid]
            original, shown, thumbnail = (file_ids[taken.sha256] for taken, _ in picture.files)
            pass_id = self._id(Pass, row.pass_uid)
            self._plain(
                row,
                pass_id=pass_id,
                step_id=self._step_id(pass_id, row.gear_uid),
                gear_id=None if row.pass_uid else self._id(Gear, row.gear_uid),
                width=picture.width,
                height=picture.height,
                original_file_id=original,
                shown_file_id=shown,
                thumbnail_file_id=thumbnail,
            )
        self._session.flush()
        ids = {row.uid: int(known[row.uid].id) for row in written}
        self._delete(PhotoPin.photo_id, ids.values())
        for row in written:
            for pin in {(pin.gear_uid, pin.control): pin for pin in row.pins}.values():
                of = self._id(Gear, pin.gear_uid)
                if of is not None:
                    self._session.add(
                        PhotoPin(photo_id=ids[row.uid], gear_id=of, control_key=pin.control, x=pin.x, y=pin.y)
                    )
        return written

    def _picture(self, row: PhotoRow) -> "_Picture | None":
        """The photo cleaned again, as any that comes in; None where the bundle does not hold it."""
        path = self._library.files.path(row.sha256)
        if not path.exists():
            return None
        try:
            picture = cleaned_picture(path)
        except UnusablePicture as error:
            raise UnreadableBundle(f"The photo “{row.caption[:60]}” in it: {error}") from error
        files = (
            (TakenIn(row.sha256, path.stat().st_size), picture.media_type_found),
            (self._library.files.take_in(io.BytesIO(picture.shown)), "image/jpeg"),
            (self._library.files.take_in(io.BytesIO(picture.thumbnail)), "image/jpeg"),
        )
        self._taken |= {item.sha256: item for item, _ in files}
        return _Picture(picture.width, picture.height, files)

    def _blends(self, rows: Sequence[PassRow]) -> None:
        """Once the prints are there that they are of."""
        of_pass = {int(self._here[Pass][row.uid].id): row for row in rows}
        there = {row.pass_id: row for row in self._all(Blend, Blend.pass_id, of_pass)}
        for pass_id, row in of_pass.items():
            settings = {
                str(print_id): {
                    "gain_db": item.gain_db,
                    "nudge_samples": item.nudge_samples,
                    "inverted": item.inverted,
                }
                for item in row.blend
                if (print_id := self._id(Print, item.print_uid)) is not None
            }
            if row.blend_source is not None:
                settings[SOURCE_LANE] = row.blend_source.model_dump()
            if settings and pass_id in there:
                there[pass_id].settings = settings
            elif settings:
                self._session.add(Blend(pass_id=pass_id, settings=settings))
            elif pass_id in there:
                self._session.delete(there[pass_id])


@dataclass(frozen=True)
class _Picture:
    """A cleaned photo: the file as it came, as it is shown, and its thumbnail."""

    width: int
    height: int
    files: tuple[tuple[TakenIn, str], ...]


def _named(document: Document) -> dict[Any, set[str]]:
    """By table what the document names by uid, as a row or by a reference to one."""
    named: dict[Any, set[str]] = {table: set() for table in TABLES.values()}
    for row in document.rows():
        named[TABLES[type(row)]].add(row.uid)
        for field, table in (("gear_uid", Gear), ("pass_uid", Pass), ("source_uid", SourceTrack)):
            if uid := getattr(row, field, None):
                named[table].add(uid)
    for made in document.passes:
        named[Gear] |= {step.gear_uid for step in made.steps}
        named[ControlLayout] |= {step.layout_uid for step in made.steps}
        named[Print] |= {item.print_uid for item in made.blend}
    for photo in document.photos:
        named[Gear] |= {pin.gear_uid for pin in photo.pins}
    return named


def _with_gear(levels: dict[str, Any], names: dict[str, str]) -> dict[str, Any]:
    gear: Iterable[dict[str, Any]] = levels.get("gear", [])
    kept = [item | {"gear": names[item["gear"]]} for item in gear if item["gear"] in names]
    return {key: value for key, value in levels.items() if key != "gear"} | ({"gear": kept} if kept else {})


def _at_once(values: Iterable[Any]) -> Iterator[list[Any]]:
    """Each value once, as many at a time as one statement takes."""
    left = iter(dict.fromkeys(values))
    while some := list(islice(left, ASKED_AT_ONCE)):
        yield some
