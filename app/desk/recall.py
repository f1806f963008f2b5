"""Setting a pass up again."""

from app.desk.pass_sheets import PassSheet
from app.trade.cautions import Caution, Piece, cautions_for
from app.trade.gear_kinds import kind_of


def cautions_of(sheet: PassSheet) -> tuple[Caution, ...]:
    """What the gear of a pass asks care for. What is not known of a piece (valves, a ribbon) counts as possible."""
    return cautions_for(
        Piece(kind_of(step.kind).key, step.facts.valve, step.facts.ribbon) for step in sheet.steps
    )
