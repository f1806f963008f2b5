"""Two passes of a source that differ in one control alone: what that control did, whatever else is known.

Nothing is estimated here: it is one pass beside another, with the difference of their prints. What many passes tell
together (trade/knob_effects.py) comes beside it.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from app.desk.passes.differences import tone_in_words
from app.desk.passes.pass_sheets import PassSheet, SettingSheet, StepSheet
from app.signal.figures import PrintFigures
from app.trade.placements import changes


@dataclass(frozen=True)
class SingleTurn:
    """One control, called `name`, from `was` on one pass to `stands` on a later one, and what the later print says of it:
    its level, its peaks over average, its tone in words."""

    control: str
    name: str
    before: PassSheet
    after: PassSheet
    was: str
    stands: str
    level_db: float
    crest_db: float | None
    tone: str


def single_turns(heard: Sequence[tuple[PassSheet, PrintFigures]]) -> tuple[SingleTurn, ...]:
    """By control: each pass beside the last one before it that differs from it in that control alone."""
    found: list[SingleTurn] = []
    for at, (after, figures) in enumerate(heard):
        told: set[str] = set()
        for before, earlier in reversed(heard[:at]):
            turn = _turn(before, earlier, after, figures)
            if turn is not None and turn.control not in told:
                told.add(turn.control)
                found.append(turn)
    return tuple(sorted(found, key=lambda turn: (turn.name, turn.before.number, turn.after.number)))


def _turn(
    before: PassSheet, earlier: PrintFigures, after: PassSheet, later: PrintFigures
) -> SingleTurn | None:
    turned = _turned(before, after)
    was_lufs, lufs = earlier.level.integrated_lufs, later.level.integrated_lufs
    if turned is None or was_lufs is None or lufs is None:
        return None
    step, was, stands = turned
    crests = (earlier.level.crest_db, later.level.crest_db)
    return SingleTurn(
        f"{step.gear_id}/{stands.key}",
        f"{step.gear_name}, {stands.name}",
        before,
        after,
        was.reading,
        stands.reading,
        lufs - was_lufs,
        None if crests[0] is None or crests[1] is None else crests[1] - crests[0],
        tone_in_words(earlier.bands, later.bands),
    )


def _turned(before: PassSheet, after: PassSheet) -> tuple[StepSheet, SettingSheet, SettingSheet] | None:
    """The one control that both passes know and that stands elsewhere; None where another thing differs, or may."""
    if [(s.gear_id, s.branch) for s in before.steps] != [(s.gear_id, s.branch) for s in after.steps]:
        return None
    found: list[tuple[StepSheet, SettingSheet, SettingSheet]] = []
    for one, other in zip(before.steps, after.steps, strict=True):
        if one.placement and other.placement and changes(one.placement, other.placement, "mm"):
            return None
        stood = {line.key: line for line in one.settings}
        for line in other.settings:
            was = stood.get(line.key)
            if was is None or line.spec.form == "text" or was.is_same(line):
                continue
            if found or not (was.is_set and line.is_set):
                return None
            found.append((other, was, line))
    return found[0] if found else None
