"""How gear stands now, as far as the log knows: as the last pass that was logged with it says, or a later recall."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from sqlalchemy import Select, literal, select, union_all
from sqlalchemy.orm import Session
from sqlmodel import col

from app.desk.passes.pass_sheets import SettingSheet, StepSheet, read_steps
from app.desk.recall.keys import control_key, placement_key
from app.records import ChainStep, Pass, Recall, RecallMark, RecallSubstitute, SourceTrack


@dataclass(frozen=True)
class LastLogged:
    """A piece of gear on the last pass that was logged with it, or that a recall finished since then set it back to.
    What was not checked off of a recall is as it was before; what deviated is not known, and not in `step`."""

    pass_id: int
    number: int
    source_name: str
    at: datetime
    step: StepSheet
    was_recalled: bool = False

    def setting(self, key: str) -> SettingSheet | None:
        """None where that pass did not note it."""
        return next((line for line in self.step.settings if line.key == key and line.is_set), None)


def read_settings_now(
    session: Session, gear_ids: Iterable[int], *, before: datetime | None = None
) -> dict[int, LastLogged]:
    """By gear; gear that no pass was logged with is left out. With `before`, how it stood at that moment: what was logged
    or finished from then on does not count."""
    wanted = set(gear_ids)
    last = _each(session, {gear_id: _last_pass(gear_id, before) for gear_id in wanted})
    logged = _logged(session, last)
    ids = _each(session, {gear_id: _last_recall(gear_id, at.at, before) for gear_id, at in logged.items()})
    if not ids:
        return logged
    rows = session.scalars(select(Recall).where(col(Recall.id).in_(ids.values())))
    recalls = {row.id: row for row in rows}
    recalled = {gear_id: recalls[recall_id] for gear_id, recall_id in ids.items()}
    marks: dict[int, list[RecallMark]] = {}
    for mark in session.scalars(select(RecallMark).where(col(RecallMark.recall_id).in_(recalls))):
        marks.setdefault(mark.recall_id, []).append(mark)
    set_back_to = _logged(session, {gear_id: row.pass_id for gear_id, row in recalled.items()})
    return logged | {
        gear_id: _set_back(logged[gear_id], set_back_to[gear_id], row, marks.get(row.id, ()))
        for gear_id, row in recalled.items()
    }


def _each(session: Session, asked: Mapping[int, Select[Any]]) -> dict[int, int]:
    """By gear the id that its question answers with, all asked at once; gear without an answer is left out."""
    if not asked:
        return {}
    rows = [select(literal(gear_id), one.scalar_subquery()) for gear_id, one in asked.items()]
    return {gear_id: found for gear_id, found in session.execute(union_all(*rows)) if found is not None}


def _logged(session: Session, pass_of: Mapping[int, int]) -> dict[int, LastLogged]:
    """By gear how it stood on its pass."""
    if not pass_of:
        return {}
    pass_ids = set(pass_of.values())
    rows = session.execute(
        select(col(Pass.id), col(Pass.number), col(SourceTrack.name), col(Pass.created_at))
        .join(SourceTrack, col(Pass.source_id) == col(SourceTrack.id))
        .where(col(Pass.id).in_(pass_ids))
    )
    heads = {row.id: row for row in rows}
    chains = read_steps(session, pass_ids)
    found = {}
    for gear_id, pass_id in pass_of.items():
        head = heads[pass_id]
        step = next(step for step in chains[pass_id] if step.gear_id == gear_id)
        found[gear_id] = LastLogged(head.id, head.number, head.name, head.created_at, step)
    return found


def _last_pass(gear_id: int, before: datetime | None) -> Select[Any]:
    with_it = (
        select(col(ChainStep.id))
        .where(col(ChainStep.pass_id) == col(Pass.id), col(ChainStep.gear_id) == gear_id)
        .exists()
    )
    newest_first = col(Pass.created_at).desc(), col(Pass.id).desc()
    logged = select(col(Pass.id)).where(with_it)
    if before is not None:
        logged = logged.where(col(Pass.created_at) < before)
    return logged.order_by(*newest_first).limit(1)


def _last_recall(gear_id: int, since: datetime, before: datetime | None) -> Select[Any]:
    """The last one finished since then in which this gear itself was set."""
    stood_in_for = (
        select(col(RecallSubstitute.step_id))
        .where(
            col(RecallSubstitute.recall_id) == col(Recall.id),
            col(RecallSubstitute.step_id) == col(ChainStep.id),
        )
        .exists()
    )
    set_in_it = (
        select(col(ChainStep.id))
        .where(
            col(ChainStep.pass_id) == col(Recall.pass_id), col(ChainStep.gear_id) == gear_id, ~stood_in_for
        )
        .correlate(Recall)
        .exists()
    )
    finished = select(col(Recall.id)).where(col(Recall.finished_at) > since, set_in_it)
    if before is not None:
        finished = finished.where(col(Recall.finished_at) < before)
    return finished.order_by(col(Recall.finished_at).desc(), col(Recall.id).desc()).limit(1)


def _set_back(before: LastLogged, to: LastLogged, recall: Recall, marks: Sequence[RecallMark]) -> LastLogged:
    done = {row.item for row in marks if row.done and not row.deviation}
    deviating = {row.item for row in marks if row.deviation}
    settings = []
    for line in to.step.settings:
        item = control_key(to.step.step_id, line.control_id)
        stands = line if item in done else None if item in deviating else before.setting(line.key)
        if stands is not None:
            settings.append(stands)
    placed = placement_key(to.step.step_id)
    placement = (
        to.step.placement if placed in done else None if placed in deviating else before.step.placement
    )
    step = replace(to.step, settings=tuple(settings), placement=placement)
    assert recall.finished_at is not None
    return replace(to, at=recall.finished_at, step=step, was_recalled=True)
