"""Setting a pass up again."""

from collections.abc import Collection
from dataclasses import dataclass

from app.desk.passes.pass_sheets import PassSheet, StepSheet
from app.desk.planning.hook_up import HookUpSheet, hook_up_of
from app.desk.planning.levels import LevelSheet, levels_of, planned_lines
from app.library import Readable
from app.trade.cautions import SPOTS, Caution, Piece, Spot, cautions_for
from app.trade.gear_kinds import kind_of
from app.trade.hook_up import ConnectionRow
from app.trade.hook_up_plan import Plan, ref_text

AT_WORK: tuple[Spot, ...] = tuple(spot for spot in SPOTS if spot != "reference_signal")
"""Where setting a pass up again leads."""


@dataclass(frozen=True)
class LetStand:
    """What the hook-up's checks found, and why it may stand."""

    what: str
    reason: str

    @property
    def sentence(self) -> str:
        return f"{self.what} {self.reason}"


@dataclass(frozen=True)
class RecallPlan:
    """How a pass was plugged in and at what levels it ran, as far as that was saved with it.

    `phantom_at` names the inputs with phantom power on, `levels` what was planned (what, how much).
    """

    route: str
    connections: tuple[ConnectionRow, ...]
    phantom_at: tuple[str, ...]
    let_stand: tuple[LetStand, ...]
    levels: tuple[tuple[str, str], ...]


def read_recall_plan(library: Readable, sheet: PassSheet) -> RecallPlan | None:
    """None where neither hook-up nor levels were saved with the pass."""
    levels = levels_of(library, sheet)
    if not levels.plan.is_saved and not levels.is_saved:
        return None
    return _plan(levels)


def let_stand_in(sheet: PassSheet, plan: Plan) -> tuple[LetStand, ...]:
    """What the checks of a saved plan find and the person let stand."""
    return let_stand_of(hook_up_of(sheet, plan))


def let_stand_of(hook_up: HookUpSheet) -> tuple[LetStand, ...]:
    return tuple(
        LetStand(item.finding.what, item.reason) for item in hook_up.findings if item.reason is not None
    )


def cautions_of(sheet: PassSheet, spots: Collection[Spot] = AT_WORK) -> tuple[Caution, ...]:
    """What the gear of a pass asks care for, at these spots of the work. What is not known of a piece (valves, a ribbon) counts as possible."""
    return cautions_for(map(piece_of, sheet.steps), spots)


def piece_of(step: StepSheet) -> Piece:
    return Piece(kind_of(step.kind).key, step.facts.valve, step.facts.ribbon)


def _plan(levels: LevelSheet) -> RecallPlan:
    plan = levels.plan
    lines = tuple(planned_lines(levels)) if levels.is_saved else ()
    if not plan.is_saved:
        return RecallPlan("", (), (), (), lines)
    words = {socket.ref: socket.words for socket in plan.phantom_inputs}
    phantom_on = [ref_text(ref) for ref in plan.plan.phantom_on]
    return RecallPlan(
        plan.route.label,
        plan.connections,
        tuple(words[ref] for ref in phantom_on if ref in words),
        let_stand_of(plan),
        lines,
    )
