"""A project's rows as a bundle's document says them."""

from collections.abc import Collection, Iterable, Sequence
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session
from sqlmodel import col

from app.desk.bundles.document import (
    AudioFile,
    BlendRow,
    ControlRow,
    Document,
    GearRow,
    KeeperRow,
    LayoutRow,
    NoteRow,
    PassRow,
    PhotoRow,
    PinRow,
    PlacementRow,
    PrintRow,
    ProjectRow,
    Row,
    SettingRow,
    SourceInBlend,
    SourceRow,
    StepRow,
)
from app.desk.passes.crops import SHOWS_THE_SETTING
from app.desk.rows import row_of
from app.desk.shelf.gear import read_controls
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
from app.signal.figures import ALGORITHM_VERSION
from app.trade.hook_up_plan import plan_from_json, plan_to_json, with_devices
from app.trade.scales import spec_to_json


def read_document(session: Session, project_id: int, *, keepers_only: bool = False) -> Document:
    """The project as it stands, without private notes. Nothing in it says where it was kept."""
    project = row_of(session, Project, project_id, "project")
    sources = _all(session, SourceTrack, col(SourceTrack.project_id) == project_id)
    passes = _all(session, Pass, col(Pass.source_id).in_([row.id for row in sources]))
    keepers = _all(session, KeeperMark, col(KeeperMark.pass_id).in_([row.id for row in passes]))
    if keepers_only:
        kept = {row.pass_id for row in keepers}
        passes = [row for row in passes if row.id in kept]
    ids = [row.id for row in passes]
    steps = _all(session, ChainStep, col(ChainStep.pass_id).in_(ids), by=col(ChainStep.position))
    prints = _all(session, Print, col(Print.pass_id).in_(ids))
    layouts = _all(session, ControlLayout, col(ControlLayout.id).in_({row.layout_id for row in steps}))
    gear = _all(session, Gear, col(Gear.id).in_({row.gear_id for row in steps}))
    photos = _all(
        session,
        Photo,
        col(Photo.pass_id).in_(ids) | col(Photo.gear_id).in_([row.id for row in gear]),
    )
    notes = _all(
        session,
        Note,
        col(Note.project_id) == project_id,
        col(Note.private).is_(False),
        col(Note.pass_id).is_(None) | col(Note.pass_id).in_(ids),
    )
    files = _files(session, [*(row.file_id for row in sources), *(row.file_id for row in prints)])
    uid_of_gear = {row.id: row.uid for row in gear}
    uid_of_pass = {row.id: row.uid for row in passes}
    gear_of_step = {row.id: uid_of_gear[row.gear_id] for row in steps}
    source_file_of = {row.id: row.file_id for row in sources}
    source_of_pass = {row.id: row.source_id for row in passes}
    measured = _measured(
        session, {(row.file_id, source_file_of[source_of_pass[row.pass_id]]) for row in prints}
    )
    return Document(
        dialback_session=1,
        made_at=now(),
        passes_left_out=keepers_only,
        project=ProjectRow(**_said(project, ProjectRow)),
        gear=[GearRow(**_said(row, GearRow)) for row in gear],
        layouts=_layouts(session, layouts, uid_of_gear),
        sources=[
            SourceRow(**_said(row, SourceRow), file=_audio(files, row.file_id, row.file_name))
            for row in sources
        ],
        passes=_passes(
            session, passes, {row.id: row.uid for row in sources}, steps, layouts, uid_of_gear, prints
        ),
        prints=[
            PrintRow(
                **_said(row, PrintRow),
                pass_uid=uid_of_pass[row.pass_id],
                gear_uid=gear_of_step.get(row.step_id or 0),
                file=_audio(files, row.file_id, row.file_name),
                figures=measured.get((row.file_id, source_file_of[source_of_pass[row.pass_id]])),
            )
            for row in prints
        ],
        keepers=[
            KeeperRow(**_said(row, KeeperRow), pass_uid=uid_of_pass[row.pass_id])
            for row in keepers
            if row.pass_id in uid_of_pass
        ],
        photos=_photos(session, photos, uid_of_pass, uid_of_gear, gear_of_step),
        notes=[NoteRow(**_said(row, NoteRow), pass_uid=uid_of_pass.get(row.pass_id or 0)) for row in notes],
    )


def known_rows(session: Session, document: Document) -> dict[str, Row]:
    """Of the rows that a document names, those that are here, as they stand here."""
    project = session.scalars(select(Project).where(col(Project.uid) == document.project.uid)).first()
    known = {} if project is None else {row.uid: row for row in read_document(session, project.id).rows()}
    gear = _all(session, Gear, col(Gear.uid).in_([row.uid for row in document.gear]))
    layouts = _all(session, ControlLayout, col(ControlLayout.uid).in_([row.uid for row in document.layouts]))
    uid_of_gear = {row.id: row.uid for row in gear}
    known |= {row.uid: GearRow(**_said(row, GearRow)) for row in gear}
    mine = [row for row in layouts if row.gear_id in uid_of_gear]
    return known | {row.uid: row for row in _layouts(session, mine, uid_of_gear)}


def _all(session: Session, table: type, *where: Any, by: Any = None) -> list[Any]:
    order = (by,) if by is not None else ()
    return list(session.scalars(select(table).where(*where).order_by(*order, col(table.id))))  # type: ignore[attr-defined]


def _said(row: Any, kind: type) -> dict[str, Any]:
    """The fields that the row and its place in the document share."""
    return {
        name: getattr(row, name)
        for name in kind.model_fields  # type: ignore[attr-defined]
        if name in type(row).model_fields
    }


def _files(session: Session, ids: Iterable[int | None]) -> dict[int, StoredFile]:
    rows = session.scalars(select(StoredFile).where(col(StoredFile.id).in_({key for key in ids if key})))
    return {row.id: row for row in rows}


def _audio(files: dict[int, StoredFile], file_id: int | None, name: str) -> Any:
    if file_id is None:
        return None
    row = files[file_id]
    return AudioFile(sha256=row.sha256, bytes=row.bytes, media_type=row.media_type, file_name=name)  # type: ignore[arg-type]


def _measured(
    session: Session, pairs: Collection[tuple[int, int | None]]
) -> dict[tuple[int, int | None], Any]:
    rows = session.execute(
        select(col(Measurement.file_id), col(Measurement.source_file_id), col(Measurement.figures)).where(
            col(Measurement.file_id).in_({file_id for file_id, _ in pairs}),
            col(Measurement.state) == WorkState.DONE,
            col(Measurement.algorithm_version) == ALGORITHM_VERSION,
        )
    )
    return {(file_id, source): figures for file_id, source, figures in rows if (file_id, source) in pairs}


def _layouts(
    session: Session, layouts: Sequence[ControlLayout], uid_of_gear: dict[int, str]
) -> list[LayoutRow]:
    controls = read_controls(session, [row.id for row in layouts])
    return [
        LayoutRow(
            **_said(row, LayoutRow),
            gear_uid=uid_of_gear[row.gear_id],
            controls=[
                ControlRow(key=control.key, spec=spec_to_json(control.spec))
                for control in controls.get(row.id, ())
            ],
        )
        for row in layouts
    ]


def _passes(
    session: Session,
    passes: Sequence[Pass],
    uid_of_source: dict[int, str],
    steps: Sequence[ChainStep],
    layouts: Sequence[ControlLayout],
    uid_of_gear: dict[int, str],
    prints: Sequence[Print],
) -> list[PassRow]:
    ids = [row.id for row in passes]
    uid_of_layout = {row.id: row.uid for row in layouts}
    settings = _settings(session, ids)
    placements = {
        row.step_id: row
        for row in session.scalars(
            select(MicPlacement).where(col(MicPlacement.step_id).in_([step.id for step in steps]))
        )
    }
    tags: dict[int, list[str]] = {}
    for row in session.scalars(select(PassTag).where(col(PassTag.pass_id).in_(ids)).order_by("tag")):
        tags.setdefault(row.pass_id, []).append(row.tag)
    plans = {
        row.pass_id: row
        for row in session.scalars(select(HookUpPlan).where(col(HookUpPlan.pass_id).in_(ids)))
    }
    blends = {row.pass_id: row for row in session.scalars(select(Blend).where(col(Blend.pass_id).in_(ids)))}
    uid_of_print = {(row.pass_id, str(row.id)): row.uid for row in prints}
    names = {str(key): uid for key, uid in uid_of_gear.items()}
    chains: dict[int, list[StepRow]] = {}
    for step in steps:
        place = placements.get(step.id)
        chains.setdefault(step.pass_id, []).append(
            StepRow(
                gear_uid=uid_of_gear[step.gear_id],
                layout_uid=uid_of_layout[step.layout_id],
                branch=step.branch,
                settings=settings.get(step.id, []),
                placement=None if place is None else PlacementRow(**place.model_dump(exclude={"step_id"})),
            )
        )
    return [
        PassRow(
            **_said(row, PassRow),
            source_uid=uid_of_source[row.source_id],
            tags=tags.get(row.id, []),
            steps=chains.get(row.id, []),
            hook_up_plan=_plan(plans.get(row.id), names),
            level_inputs=_levels(plans.get(row.id), names),
            blend=[
                BlendRow(print_uid=uid_of_print[row.id, key], **said)
                for key, said in (blends[row.id].settings.items() if row.id in blends else ())
                if (row.id, key) in uid_of_print
            ],
            blend_source=_source_in_blend(blends.get(row.id)),
        )
        for row in passes
    ]


def _source_in_blend(blend: Blend | None) -> SourceInBlend | None:
    said = None if blend is None else blend.settings.get(SOURCE_LANE)
    return None if said is None else SourceInBlend(**said)


def _settings(session: Session, pass_ids: Sequence[int]) -> dict[int, list[SettingRow]]:
    rows = session.execute(
        select(Setting, col(Control.key), col(StoredFile.sha256))
        .join(Control, col(Setting.control_id) == col(Control.id))
        .join(ChainStep, col(Setting.step_id) == col(ChainStep.id))
        .outerjoin(SettingCrop, SHOWS_THE_SETTING)
        .outerjoin(StoredFile, col(SettingCrop.file_id) == col(StoredFile.id))
        .where(col(ChainStep.pass_id).in_(pass_ids))
        .order_by(col(Setting.step_id), col(Control.key))
    )
    found: dict[int, list[SettingRow]] = {}
    for row, key, crop in rows:
        found.setdefault(row.step_id, []).append(SettingRow(**_said(row, SettingRow), control=key, crop=crop))
    return found


def _plan(row: HookUpPlan | None, names: dict[str, str]) -> dict[str, Any] | None:
    if row is None or not row.plan:
        return None
    return plan_to_json(with_devices(plan_from_json(row.plan), names))


def _levels(row: HookUpPlan | None, names: dict[str, str]) -> dict[str, Any] | None:
    if row is None or not row.levels:
        return None
    gear = [
        item | {"gear": names[item["gear"]]} for item in row.levels.get("gear", []) if item["gear"] in names
    ]
    return {key: value for key, value in row.levels.items() if key != "gear"} | (
        {"gear": gear} if gear else {}
    )


def _photos(
    session: Session,
    photos: Sequence[Photo],
    uid_of_pass: dict[int, str],
    uid_of_gear: dict[int, str],
    gear_of_step: dict[int, str],
) -> list[PhotoRow]:
    shown = _files(session, [row.shown_file_id for row in photos])
    pins: dict[int, list[PinRow]] = {}
    ids = [row.id for row in photos]
    for pin in session.scalars(
        select(PhotoPin).where(col(PhotoPin.photo_id).in_(ids)).order_by(col(PhotoPin.id))
    ):
        if pin.gear_id in uid_of_gear:
            row = PinRow(gear_uid=uid_of_gear[pin.gear_id], control=pin.control_key, x=pin.x, y=pin.y)
            pins.setdefault(pin.photo_id, []).append(row)
    return [
        PhotoRow(
            **_said(row, PhotoRow),
            pass_uid=uid_of_pass.get(row.pass_id or 0),
            gear_uid=gear_of_step.get(row.step_id or 0) if row.pass_id else uid_of_gear[row.gear_id or 0],
            sha256=shown[row.shown_file_id].sha256,
            pins=pins.get(row.id, []),
        )
        for row in photos
    ]
