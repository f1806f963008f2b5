"""The levels of a pass: how hard the instrument drove, what to send, what comes back.

Whatever is logged already is filled in: the source's measured level, facts of the chain's gear, settings that say dB.
For what is not known, typical values of the trade stand in, and are said to be.
What a person adds is kept with the pass (`LevelInputs`). Nothing is derived from a knob without printed dB.
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from functools import partial
from itertools import groupby

from app.desk.passes.pass_sheets import PassSheet, read_pass
from app.desk.passes.passes import find_pass
from app.desk.planning.hook_up import HookUpSheet, hook_up_as_kept
from app.desk.planning.level_returns import return_parts
from app.desk.planning.level_rig import (
    Given,
    LevelPart,
    Rig,
    gear_field,
    with_typical,
)
from app.desk.planning.level_sends import recording_part, send_parts
from app.desk.projects.sources import SourceSheet, read_source
from app.desk.refusals import Complaints
from app.desk.typed_figures import read_figure
from app.drawings.level_diagram import LevelRun
from app.library import Library, Readable
from app.records import HookUpPlan
from app.trade.calibration import read_level_dbu
from app.trade.level_inputs import (
    GearInputs,
    LevelInputs,
    check_input,
    inputs_from_json,
    inputs_to_json,
)
from app.trade.readings import read_number


@dataclass(frozen=True)
class NextQuestion:
    """The one thing to find out next: what is not known, how many figures rest on it, and how many there are; then the
    `others` that are not known, with how many figures rest on each."""

    given: Given
    figures: int
    of: int
    others: tuple[tuple[Given, int], ...] = ()


@dataclass(frozen=True)
class LevelSheet:
    """The levels of a pass. `is_saved` is false while nobody has kept any with it."""

    plan: HookUpSheet
    inputs: LevelInputs
    is_saved: bool
    recording: LevelPart
    sends: tuple[LevelPart, ...]
    returns: tuple[LevelPart, ...]
    runs: tuple[LevelRun, ...]
    has_interface: bool
    question: NextQuestion | None = None

    @property
    def sheet(self) -> PassSheet:
        return self.plan.sheet


@dataclass(frozen=True)
class LevelsEntry:
    """The levels form as typed; `of_gear` holds what belongs to one piece of gear, by the field's name "what-key"."""

    recording_full_scale_dbu: str = ""
    recording_gain_db: str = ""
    recording_gain_uncertainty_db: str = ""
    recording_box_loss_db: str = ""
    wanted_peak_dbu: str = ""
    daw_trim_db: str = ""
    crest_db: str = ""
    wanted_return_dbfs: str = ""
    of_gear: Mapping[str, str] = field(default_factory=dict)


GEAR_FIELDS = tuple(item.name for item in fields(GearInputs) if item.name != "gear")


def read_levels(library: Readable, pass_id: int) -> LevelSheet:
    return levels_of(library, read_pass(library, pass_id))


def levels_of(library: Readable, logged: PassSheet) -> LevelSheet:
    plan = hook_up_as_kept(library, logged)
    source = read_source(library, plan.sheet.source_id)
    with library.reading() as session:
        row = session.get(HookUpPlan, logged.pass_id)
        kept = {} if row is None else row.levels
    inputs = inputs_from_json(kept)
    recording, sends, returns, runs, has_interface = _parts(Rig(plan, inputs), source)
    filled = _parts(Rig(plan, inputs, with_typical=True), source)
    recording = with_typical(recording, filled[0])
    sends = tuple(map(with_typical, sends, filled[1]))
    returns = tuple(map(with_typical, returns, filled[2]))
    return LevelSheet(
        plan,
        inputs,
        bool(kept),
        recording,
        sends,
        returns,
        runs,
        has_interface,
        _next_question(recording, (*sends, *returns), is_coming=source.measured.is_coming),
    )


def _parts(
    rig: Rig, source: SourceSheet
) -> tuple[LevelPart, tuple[LevelPart, ...], tuple[LevelPart, ...], tuple[LevelRun, ...], bool]:
    recording, drive, peak = recording_part(rig, source)
    sends, send_runs = send_parts(rig, recording, drive, peak)
    returns, return_runs = return_parts(rig)
    return recording, sends, returns, (*send_runs, *return_runs), rig.interface is not None


def _next_question(
    recording: LevelPart, others: Sequence[LevelPart], *, is_coming: bool
) -> NextQuestion | None:
    """What is not known and the most figures rest on; of as many, what is the furthest off. The instrument's peak is
    asked for by what it is worked out from, and nobody is asked for what is being measured."""
    asked: dict[tuple[str, str, int | None], list[Given]] = {}
    for part in (recording, *others):
        for figure in part.figures:
            for given in part.lacking(figure):
                is_worked_out = given.field == "wanted_peak_dbu"
                for each in recording.lacking(recording.figures[0]) if is_worked_out else (given,):
                    if each.place == "source" and is_coming:
                        continue
                    asked.setdefault((each.label, each.place, each.gear_id), []).append(each)
    if not asked:
        return None
    of_one = max(asked.values(), key=lambda same: (len(same), max(each.within_db or 0.0 for each in same)))
    count = sum(len(part.figures) for part in (recording, *others))
    rest = sorted(
        ((same[0], len(same)) for same in asked.values() if same is not of_one), key=lambda one: -one[1]
    )
    return NextQuestion(of_one[0], len(of_one), count, tuple(rest))


def entry_of(levels: LevelSheet) -> LevelsEntry:
    """The form that would keep these figures unchanged."""
    inputs = levels.inputs
    typed = {
        name: _typed(name, getattr(inputs, name)) for name in _FIELDS if getattr(inputs, name) is not None
    }
    of_gear = {
        gear_field(name, item.gear): _typed(name, value)
        for item in inputs.gear
        for name in GEAR_FIELDS
        if (value := getattr(item, name)) is not None
    }
    return LevelsEntry(**typed, of_gear=of_gear)


def save_levels(library: Library, pass_id: int, entry: LevelsEntry) -> None:
    """Keep the typed figures with their pass. Those of gear that the form does not show stay as they were."""
    inputs = _checked(entry)
    shown = {at.rpartition("-")[2] for at in entry.of_gear}
    with library.writing() as session:
        find_pass(session, pass_id)
        row = session.get(HookUpPlan, pass_id)
        if row is None:
            row = HookUpPlan(pass_id=pass_id)
            session.add(row)
        others = tuple(item for item in inputs_from_json(row.levels).gear if item.gear not in shown)
        row.levels = inputs_to_json(replace(inputs, gear=(*inputs.gear, *others)))


def with_answer(entry: LevelsEntry, name: str, text: str) -> LevelsEntry:
    """The form with one more figure typed, whether it is of the pass or of a piece of gear."""
    if name in _FIELDS:
        answer: dict[str, str] = {name: text}
        return replace(entry, **answer)  # type: ignore[arg-type]
    return replace(entry, of_gear={**entry.of_gear, name: text})


def planned_lines(levels: LevelSheet) -> list[tuple[str, str]]:
    """The levels in short lines (what, how much), as a recall sheet has them: a line a quantity; what is open is left
    out."""
    parts: Iterable[LevelPart] = (levels.recording, *levels.sends, *levels.returns)
    return [
        (
            f"{part.gear_name}: {label}" if part.gear_name else label,
            " · ".join(figure.text for figure in same),
        )
        for part in parts
        for label, same in groupby(
            (figure for figure in part.noted if figure.value is not None), key=lambda figure: figure.label
        )
    ]


_FIELDS = tuple(item.name for item in fields(LevelInputs) if item.name != "gear")


def _typed(name: str, value: float) -> str:
    unit = (
        "dB SPL"
        if name.endswith("_spl")
        else {"dbu": "dBu", "dbfs": "dBFS"}.get(name.rsplit("_", 1)[-1], "dB")
    )
    return f"{value:.10g} {unit}".replace("-", "−")


def _checked(entry: LevelsEntry) -> LevelInputs:
    complaints = Complaints()
    values = {name: _number(complaints, name, name, getattr(entry, name)) for name in _FIELDS}
    of_gear: dict[str, dict[str, float]] = {}
    for at, text in entry.of_gear.items():
        name, _, gear = at.rpartition("-")
        value = _number(complaints, at, name, text) if name in GEAR_FIELDS and gear else None
        if value is not None:
            of_gear.setdefault(gear, {})[name] = value
    complaints.refuse_if_any()
    return LevelInputs(
        **values, gear=tuple(GearInputs(gear, **known) for gear, known in sorted(of_gear.items()))
    )


def _number(complaints: Complaints, at: str, name: str, text: str) -> float | None:
    """A typed figure in the unit of its field."""
    what = f"a level in {'dBu, dBV or V' if name.endswith('_dbu') else 'dB'}"
    return read_figure(
        complaints, at, text, partial(_read_input, name), what=what, wanted=f"{what}, such as 18 or −6.5"
    )


def _read_input(name: str, text: str) -> float | None:
    if name.endswith("_dbu"):
        value = read_level_dbu(text)
    else:
        for unit in ("dB SPL", "dBFS", "dB"):
            text = re.sub(rf"\s*{unit}$", "", text, flags=re.IGNORECASE)
        value = read_number(text)
    return None if value is None else check_input(name, value)
