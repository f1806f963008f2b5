"""What the knobs do here: learnt from the passes of one source through one chain, two by two and all together, and which
of them would explain what a recall is off by."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import sqrt

from app.desk.passes.pass_sheets import (
    PassSheet,
    PrintSheet,
    SettingSheet,
    read_passes_beside,
    read_passes_of_source,
)
from app.desk.recall.single_turns import SingleTurn, single_turns
from app.desk.recall.tries import TriesSheet
from app.library import Readable
from app.signal.comparison.spread import Spread
from app.signal.comparison.tolerances import HEARD_BELOW_LOUDEST_DB
from app.signal.figures import BandLevel, MatchFigures, PrintFigures
from app.signal.levels.third_octaves import nominal_hz
from app.trade.knob_effects import ControlEffect, HeardPass, KnobEffects, knob_effects
from app.trade.knob_explanations import USUAL_SPREAD_DB, Turn, explanation
from app.trade.placements import changes
from app.trade.readings import show
from app.trade.scales import SCALED_FORMS, STEPPED_FORMS


@dataclass(frozen=True)
class LeftOut:
    """A pass of the source that tells nothing here, and why."""

    pass_id: int
    number: int
    why: str


@dataclass(frozen=True)
class KnobsSheet:
    """`item` is the print of `sheet` whose like were heard, None where it has none that was measured. `heard` are the
    passes that count, `names` each control in words, `mids_hz` the bands of the effects. `turns` are pairs of passes that
    differ in one control alone, among them passes that do not count for the effects."""

    sheet: PassSheet
    item: PrintSheet | None
    heard: tuple[PassSheet, ...]
    left_out: tuple[LeftOut, ...]
    mids_hz: tuple[float, ...]
    effects: KnobEffects
    names: Mapping[str, str]
    turns: tuple[SingleTurn, ...] = ()

    @property
    def rests_on(self) -> str:
        """The passes that the effects rest on: “passes 1, 2 and 5”."""
        *most, last = [str(other.number) for other in self.heard] or ["none"]
        return f"passes {', '.join(most)} and {last}" if most else f"pass {last}"

    def name(self, control: str) -> str:
        return self.names.get(control, control)

    def readings(self, effect: ControlEffect) -> tuple[str, str]:
        """Between which readings a control stood in the passes."""
        line = _settings_by_control(self.sheet)[effect.control]
        return show(line.spec, effect.lowest), show(line.spec, effect.highest)


def read_knobs(library: Readable, pass_id: int, print_id: int | None = None) -> KnobsSheet:
    passes = read_passes_beside(library, pass_id)
    sheet = next(each for each in passes if each.pass_id == pass_id)
    return _knobs(sheet, passes, print_id)


def _knobs(sheet: PassSheet, passes: Sequence[PassSheet], print_id: int | None) -> KnobsSheet:
    """`passes` are all of the source, that of `sheet` among them."""
    measured = [item for item in sheet.prints if item.measured.figures is not None]
    item = next((item for item in measured if print_id in (None, item.print_id)), None)
    if item is None:
        return KnobsSheet(sheet, None, (), (), (), knob_effects(()), {})
    heard: list[tuple[PassSheet, PrintFigures]] = []
    beside: list[tuple[PassSheet, PrintFigures]] = []
    left_out = []
    for other in passes:
        like = _counterpart(sheet, item, other)
        if _chain(other) == _chain(sheet) and like and like.measured.figures and not _why_unheard(like):
            beside.append((other, like.measured.figures))
        why = _why_not(sheet, other, like)
        if why or like is None or like.measured.figures is None:
            left_out.append(LeftOut(other.pass_id, other.number, why))
        else:
            heard.append((other, like.measured.figures))
    mids = _mids_of_all([figures for _, figures in heard])
    told = [
        heard_pass for other, figures in heard if (heard_pass := _heard(other, figures, mids)) is not None
    ]
    controls = _settings_by_control(sheet)
    names = {key: f"{gear_name}, {line.name}" for key, gear_name, line in _turned_controls(sheet)}
    moving = {key for key in controls if any(key in heard_pass.positions for heard_pass in told)}
    return KnobsSheet(
        sheet,
        item,
        tuple(other for other, _ in heard),
        tuple(left_out),
        mids,
        knob_effects(told),
        {key: name for key, name in names.items() if key in moving},
        single_turns(beside),
    )


def explained_by(library: Readable, tries: TriesSheet) -> str:
    """Of the newest try that was compared and does not match: which control would explain it. Empty where none does."""
    last = tries.last
    if last is None or last.figures is None or last.figures.verdict in (None, "match"):
        return ""
    passes = read_passes_of_source(library, tries.sheet.source_id)
    knobs = _knobs(tries.sheet, passes, last.original_print_id)
    return explained(knobs, last.figures, tries.spread.spread)


def explained(knobs: KnobsSheet, figures: MatchFigures, spread: Spread | None) -> str:
    """Which control would explain what a recall is off by, and by how much; empty unless the passes support it."""
    if figures.level_difference_db is None or not knobs.effects.known:
        return ""
    by_band = {nominal_hz(band.mid_hz): band.difference_db for band in figures.bands}
    lines = _settings_by_control(knobs.sheet)
    original = {key: line.position for key, line in lines.items() if line.position is not None}
    cause = explanation(
        knobs.effects,
        [by_band.get(nominal_hz(mid)) for mid in knobs.mids_hz],
        level_db=figures.level_difference_db,
        crest_db=figures.crest_difference_db,
        original=original,
        spread_db=_spread_db(spread),
    )
    if cause is None or any(turn.control not in original for turn in cause.turns):
        return ""
    stood = " and ".join(_stood(knobs, turn, original[turn.control]) for turn in cause.turns)
    return (
        f"It sounds as if {stood}: that would explain {cause.share * 100:.0f} % of the difference, as far as "
        f"{knobs.rests_on} through this chain tell. Only controls are weighed here: a microphone that stands "
        "elsewhere can sound the same."
    )


def _stood(knobs: KnobsSheet, turn: Turn, was: float) -> str:
    """ "15-watt valve combo, Treble stood at 7 (6 to 8) instead of 4" """
    spec = _settings_by_control(knobs.sheet)[turn.control].spec
    at, low, high = (
        show(spec, min(1.0, max(0.0, was + by)))
        for by in (turn.turn, turn.turn - turn.plus_minus, turn.turn + turn.plus_minus)
    )
    return f"{knobs.name(turn.control)} stood at {at} ({low} to {high}) instead of {show(spec, was)}"


def _spread_db(spread: Spread | None) -> float:
    if spread is None or not spread.bands:
        return USUAL_SPREAD_DB
    return max(0.1, sqrt(sum(band.difference_db**2 for band in spread.bands) / len(spread.bands)))


def _why_not(sheet: PassSheet, other: PassSheet, like: PrintSheet | None) -> str:
    """What keeps a pass from telling what a control did: anything else that is not as it is here."""
    if _chain(other) != _chain(sheet):
        return "another chain"
    for mine, theirs in zip(sheet.steps, other.steps, strict=True):
        if mine.placement is not None and theirs.placement is not None:
            moved = changes(mine.placement, theirs.placement, "mm")
            if moved:
                return f"{mine.gear_name} stood elsewhere"
        there = {line.key: line for line in theirs.settings}
        for line in mine.settings:
            another = there.get(line.key)
            if another is None or line.spec.form == "text":
                continue
            if _turns(line) and (another.spec.form, another.spec.scale) == (line.spec.form, line.spec.scale):
                continue
            if not line.is_same(another):
                return f"{mine.gear_name}, {line.name} was not the same, and has no travel to reckon with"
    return _why_unheard(like)


def _chain(sheet: PassSheet) -> list[tuple[int, str]]:
    return [(step.gear_id, step.branch) for step in sheet.steps]


def _why_unheard(like: PrintSheet | None) -> str:
    """What keeps a print from being compared with its like."""
    if like is None or like.measured.figures is None:
        return "no such print that was measured"
    alignment = like.measured.figures.alignment
    if alignment is not None and not alignment.is_of_source:
        return "its print is not, or not surely, of this source"
    if like.measured.figures.level.integrated_lufs is None:
        return "its print has no loudness"
    return ""


def _counterpart(sheet: PassSheet, item: PrintSheet, other: PassSheet) -> PrintSheet | None:
    """The print of another pass by the same microphone or return; of its repeats, the first."""
    if other.pass_id == sheet.pass_id:
        return item
    firsts = [print_sheet for print_sheet in other.prints if print_sheet.repeat_of is None]
    gear = {step.step_id: step.gear_id for step in (*sheet.steps, *other.steps)}
    if item.step_id is not None:
        same = [
            print_sheet
            for print_sheet in firsts
            if gear.get(print_sheet.step_id or 0) == gear.get(item.step_id)
        ]
    else:
        same = [print_sheet for print_sheet in firsts if print_sheet.label == item.label]
    if same:
        return same[0]
    return firsts[0] if len(firsts) == 1 and len(sheet.prints) == 1 else None


def _heard(sheet: PassSheet, figures: PrintFigures, mids: Sequence[float]) -> HeardPass | None:
    loudness = figures.level.integrated_lufs
    if loudness is None:
        return None
    levels = {nominal_hz(band.mid_hz): band.level_dbfs for band in _heard_bands(figures)}
    positions = {key: line.position for key, _, line in _turned_controls(sheet) if line.position is not None}
    bands = tuple(levels.get(nominal_hz(mid)) for mid in mids)
    return HeardPass(positions, bands, loudness, figures.level.crest_db)


def _heard_bands(figures: PrintFigures) -> list[BandLevel]:
    """Far below the loudest band lies what no control does anything to: noise, that falls once prints are equally loud."""
    levels = [(band, band.level_dbfs) for band in figures.bands if band.level_dbfs is not None]
    quietest_dbfs = max((dbfs for _, dbfs in levels), default=0.0) - HEARD_BELOW_LOUDEST_DB
    return [band for band, dbfs in levels if dbfs > quietest_dbfs]


def _mids_of_all(figures: Sequence[PrintFigures]) -> tuple[float, ...]:
    """The bands that are heard in all of them."""
    if not figures:
        return ()
    heard = [{nominal_hz(band.mid_hz) for band in _heard_bands(print_figures)} for print_figures in figures]
    common = set.intersection(*heard)
    return tuple(band.mid_hz for band in figures[0].bands if nominal_hz(band.mid_hz) in common)


def _settings_by_control(sheet: PassSheet) -> dict[str, SettingSheet]:
    return {key: line for key, _, line in _turned_controls(sheet)}


def _turned_controls(sheet: PassSheet) -> Iterator[tuple[str, str, SettingSheet]]:
    """Each control that turns or slides or has two positions: what names it, its gear, its setting."""
    for step in sheet.steps:
        for line in step.settings:
            if _turns(line):
                yield f"{step.gear_id}/{line.key}", step.gear_name, line


def _turns(line: SettingSheet) -> bool:
    return line.spec.form in SCALED_FORMS or (
        line.spec.form in STEPPED_FORMS and len(line.spec.positions) == 2
    )
