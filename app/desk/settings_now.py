"""How gear stands now, as far as the log knows: as the last pass that was logged with it says."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session
from sqlmodel import col

from app.desk.pass_sheets import SettingSheet, StepSheet, read_pass_sheets
from app.records import ChainStep, Pass


@dataclass(frozen=True)
class LastLogged:
    """A piece of gear on the last pass that was logged with it."""

    pass_id: int
    number: int
    source_name: str
    created_at: datetime
    step: StepSheet

    def setting(self, key: str) -> SettingSheet | None:
        """None where that pass did not note it."""
        return next((line for line in self.step.settings if line.key == key and line.is_set), None)


def read_settings_now(session: Session, gear_ids: Iterable[int]) -> dict[int, LastLogged]:
    """By gear; gear that no pass was logged with is left out."""
    wanted = set(gear_ids)
    last = {gear_id: pass_id for gear_id in wanted if (pass_id := _last_pass(session, gear_id)) is not None}
    sheets = {
        sheet.pass_id: sheet for sheet in read_pass_sheets(session, col(Pass.id).in_(set(last.values())))
    }
    found = {}
    for gear_id, pass_id in last.items():
        sheet = sheets[pass_id]
        step = next(step for step in sheet.steps if step.gear_id == gear_id)
        found[gear_id] = LastLogged(pass_id, sheet.number, sheet.source_name, sheet.created_at, step)
    return found


def _last_pass(session: Session, gear_id: int) -> int | None:
    with_it = (
        select(col(ChainStep.id))
        .where(col(ChainStep.pass_id) == col(Pass.id), col(ChainStep.gear_id) == gear_id)
        .exists()
    )
    newest_first = col(Pass.created_at).desc(), col(Pass.id).desc()
    return session.scalar(select(col(Pass.id)).where(with_it).order_by(*newest_first).limit(1))
