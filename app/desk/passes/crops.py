"""What photos showed of controls when their readings were confirmed: kept with the draft, then with the settings of the pass."""

from collections.abc import Iterable, Mapping

from sqlalchemy import func, select
from sqlalchemy.orm import Session
from sqlmodel import col

from app.desk.refusals import NotThere
from app.desk.shelf.gear import read_controls
from app.library import Readable
from app.records import ChainStep, Control, Draft, DraftCrop, Setting, SettingCrop, StoredFile
from app.trade.readings import UnknownReading, read

SHOWS_THE_SETTING = (
    (col(SettingCrop.step_id) == col(Setting.step_id))
    & (col(SettingCrop.control_id) == col(Setting.control_id))
    & (col(SettingCrop.reading) == col(Setting.reading))
)
"""A picture goes with a setting for as long as that says the reading it was confirmed with."""


def note_in_draft(session: Session, draft_id: int, crops: Mapping[tuple[int, str], tuple[str, int]]) -> None:
    """Keep what was confirmed, by gear and control key: the reading as it was taken, and the picture's file. A draft that was
    saved meanwhile keeps nothing more."""
    if session.get(Draft, draft_id) is None:
        return
    for (gear_id, key), (reading, file_id) in crops.items():
        session.merge(
            DraftCrop(draft_id=draft_id, gear_id=gear_id, control_key=key, reading=reading, file_id=file_id)
        )


def give_to_pass(session: Session, draft_id: int, pass_id: int) -> None:
    """The pictures of a draft become those of the pass's settings, where the reading is still the one that was confirmed."""
    crops = {
        (row.gear_id, row.control_key): row
        for row in session.scalars(select(DraftCrop).where(col(DraftCrop.draft_id) == draft_id))
    }
    if not crops:
        return
    session.flush()
    steps = session.scalars(select(ChainStep).where(col(ChainStep.pass_id) == pass_id)).all()
    controls = read_controls(session, [step.layout_id for step in steps])
    set_to = {
        (row.step_id, row.control_id): row.reading
        for row in session.scalars(
            select(Setting).where(col(Setting.step_id).in_([step.id for step in steps]))
        )
    }
    for step in steps:
        for control in controls.get(step.layout_id, ()):
            crop = crops.get((step.gear_id, control.key))
            reading = set_to.get((step.id, control.control_id))
            if crop is None or reading is None:
                continue
            try:
                is_as_confirmed = read(control.spec, crop.reading).text == reading
            except UnknownReading:
                continue
            if is_as_confirmed:
                session.merge(
                    SettingCrop(
                        step_id=step.id,
                        control_id=control.control_id,
                        reading=reading,
                        file_id=crop.file_id,
                    )
                )


def picture_of(library: Readable, crop_id: int) -> str:
    """The SHA-256 of a kept picture of a control. Raises NotThere for any other file."""
    query = (
        select(col(StoredFile.sha256))
        .join(SettingCrop, col(SettingCrop.file_id) == col(StoredFile.id))
        .where(col(SettingCrop.file_id) == crop_id)
    )
    with library.reading() as session:
        found = session.scalar(query.limit(1))
    if found is None:
        raise NotThere("picture of a control")
    return found


def confirmed_of(session: Session, gear_ids: list[int]) -> dict[int, int]:
    """By gear, how many readings of its photos were confirmed and stand as they were."""
    counts = (
        select(col(ChainStep.gear_id), func.count())
        .join(SettingCrop, col(SettingCrop.step_id) == col(ChainStep.id))
        .join(Setting, SHOWS_THE_SETTING)
        .where(col(ChainStep.gear_id).in_(gear_ids))
        .group_by(col(ChainStep.gear_id))
    )
    return dict(session.execute(counts).all())


def confirmed_pictures(session: Session, gear_ids: Iterable[int]) -> list[tuple[int, str, str, int]]:
    """Of gear the control's key, the reading and the picture's file of each confirmed reading that stands, the newest first."""
    rows = session.execute(
        select(col(ChainStep.gear_id), col(Control.key), col(SettingCrop.reading), col(SettingCrop.file_id))
        .join(SettingCrop, col(SettingCrop.step_id) == col(ChainStep.id))
        .join(Setting, SHOWS_THE_SETTING)
        .join(Control, col(Control.id) == col(SettingCrop.control_id))
        .where(col(ChainStep.gear_id).in_(list(gear_ids)))
        .order_by(col(SettingCrop.created_at).desc(), col(SettingCrop.file_id).desc())
    )
    return [(gear_id, key, reading, file_id) for gear_id, key, reading, file_id in rows.all()]
