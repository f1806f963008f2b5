"""Logging passes: begin the next one as a copy of the last, change what changed, save."""

from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, field, replace

from sqlalchemy import delete, func, select
from sqlalchemy.orm import Session
from sqlmodel import col

from app.desk import wording
from app.desk.passes import placements
from app.desk.passes.field_names import BranchField, PlacementField, ReadingField
from app.desk.passes.pass_sheets import StepSheet, read_pass_sheets
from app.desk.passes.placements import PlacementEntry
from app.desk.projects.sources import find_source
from app.desk.refusals import Complaints, EditedMeanwhile, NotThere, Refusal
from app.desk.rows import row_of
from app.desk.shelf.gear import LayoutControl, newest_layouts, read_controls
from app.library import Library, Readable
from app.records import ChainStep, ControlLayout, HookUpPlan, MicPlacement, Pass, Setting, SourceTrack
from app.records.base import now
from app.trade.distances import LengthUnit
from app.trade.gear_kinds import chain_place
from app.trade.level_inputs import for_another_source
from app.trade.placements import Placement
from app.trade.readings import Reading, UnknownReading, read, readings, show
from app.trade.scales import ControlSpec
from app.trade.substitutes import Stood, answers

STEPS_LIMIT = 60
GONE = "Gear that is no longer on the shelf"


@dataclass(frozen=True)
class StepEntry:
    """One piece of gear in the chain as typed: a reading for each control id."""

    gear_id: int
    layout_id: int
    branch: str = ""
    readings: dict[int, str] = field(default_factory=dict)
    placement: PlacementEntry | None = None


@dataclass(frozen=True)
class PassEntry:
    """A pass's form as typed. `revision` is that of the pass being edited, 0 for a new one; `like` is the pass that a
    new one began as a copy of, 0 for none."""

    title: str = ""
    notes: str = ""
    hook_up: str = ""
    levels: str = ""
    steps: tuple[StepEntry, ...] = ()
    revision: int = 0
    like: int = 0


@dataclass(frozen=True)
class BegunAs:
    """The pass of another source that a first pass began as a copy of."""

    pass_id: int
    number: int
    source_name: str


@dataclass(frozen=True)
class ControlForm:
    """A control of the pass form: what was typed, where that stands, and every way to read it."""

    field: str
    control_id: int
    spec: ControlSpec
    typed: str
    position: float | None
    all_readings: str


@dataclass(frozen=True)
class StepForm:
    index: int
    gear_id: int
    layout_id: int
    gear_name: str
    kind: str
    branch: str
    controls: tuple[ControlForm, ...]
    placement: PlacementEntry | None

    @property
    def branch_field(self) -> str:
        return str(BranchField(self.gear_id))

    def placement_field(self, measure: str) -> str:
        return str(PlacementField(self.gear_id, measure))


def entry_for_next(
    library: Library, source_id: int, from_pass_id: int | None = None, *, unit: LengthUnit = "mm"
) -> PassEntry:
    """The next pass's form: a copy of the given pass, else of the source's last, else of the last pass that the
    project logged at all, else empty. Gear stands at its newest layout, settings carried over by control."""
    with library.reading() as session:
        return copy_for_next(session, source_id, from_pass_id, unit)


def copy_for_next(session: Session, source_id: int, from_pass_id: int | None, unit: LengthUnit) -> PassEntry:
    source = find_source(session, source_id)
    base = _base_pass(session, source, from_pass_id)
    if base is None:
        return PassEntry()
    sheet = read_pass_sheets(session, col(Pass.id) == base)[0]
    newest = newest_layouts(session, [step.gear_id for step in sheet.steps])
    controls = read_controls(session, [layout.id for layout in newest.values()])
    steps = tuple(_carried_over(step, newest[step.gear_id], controls, unit) for step in sheet.steps)
    return PassEntry(hook_up=sheet.hook_up, levels=sheet.levels, steps=steps, like=sheet.pass_id)


def begun_as(library: Readable, source_id: int, entry: PassEntry) -> BegunAs | None:
    """Of which other source's pass an entry is a copy; None where it is of none, or of a pass of its own source."""
    if not entry.like:
        return None
    like = (
        select(col(Pass.id), col(Pass.number), col(SourceTrack.name))
        .join(SourceTrack)
        .where(col(Pass.id) == entry.like, col(Pass.source_id) != source_id)
    )
    with library.reading() as session:
        row = session.execute(like).first()
    return None if row is None else BegunAs(*row)


def begun_empty(entry: PassEntry) -> PassEntry:
    """The entry without what it began as a copy of: only what was written of this pass stays."""
    return PassEntry(title=entry.title, notes=entry.notes, revision=entry.revision)


def entry_of(library: Library, pass_id: int, *, unit: LengthUnit = "mm") -> PassEntry:
    """A logged pass as the form that would save it unchanged."""
    with library.reading() as session:
        return copy_of(session, pass_id, unit)


def copy_of(session: Session, pass_id: int, unit: LengthUnit) -> PassEntry:
    sheets = read_pass_sheets(session, col(Pass.id) == pass_id)
    if not sheets:
        raise NotThere("pass")
    sheet = sheets[0]
    steps = tuple(
        StepEntry(
            step.gear_id,
            step.layout_id,
            step.branch,
            {line.control_id: line.reading for line in step.settings},
            _placement_entry(step, unit),
        )
        for step in sheet.steps
    )
    return PassEntry(sheet.title, sheet.notes, sheet.hook_up, sheet.levels, steps, sheet.revision)


def with_gear(library: Library, entry: PassEntry, gear_id: int) -> PassEntry:
    """The entry with a piece of gear put where its kind usually stands: after the last of its own side."""
    with library.reading() as session:
        return put_in(session, entry, gear_id)


def put_last(session: Session, entry: PassEntry, gear_id: int) -> PassEntry:
    """The entry with a piece of gear at the end of its chain."""
    step = _step_at_newest(_layout_to_add(session, entry, gear_id))
    return replace(entry, steps=(*entry.steps, step))


def _layout_to_add(session: Session, entry: PassEntry, gear_id: int) -> ControlLayout:
    layout = newest_layouts(session, [gear_id]).get(gear_id)
    if layout is None:
        raise NotThere("piece of gear")
    if any(step.gear_id == gear_id for step in entry.steps):
        raise Refusal(
            {"chain": f"{layout.gear_name} is in this chain already; one piece of gear stands in one place."}
        )
    return layout


def _step_at_newest(layout: ControlLayout) -> StepEntry:
    placement = PlacementEntry() if layout.kind == "microphone" else None
    return StepEntry(layout.gear_id, layout.id, placement=placement)


def put_in(session: Session, entry: PassEntry, gear_id: int) -> PassEntry:
    layout = _layout_to_add(session, entry, gear_id)
    kinds = dict(
        session.execute(
            select(col(ControlLayout.id), col(ControlLayout.kind)).where(
                col(ControlLayout.id).in_([step.layout_id for step in entry.steps])
            )
        ).all()
    )
    place = chain_place(layout.kind)
    at = len(entry.steps)
    while at and chain_place(kinds.get(entry.steps[at - 1].layout_id, "other")) > place:
        at -= 1
    return replace(entry, steps=(*entry.steps[:at], _step_at_newest(layout), *entry.steps[at:]))


def with_gear_swapped(
    session: Session, entry: PassEntry, gear_id: int, for_id: int
) -> tuple[PassEntry, list[str]]:
    """The entry with one piece of gear in the place of another, and the names of the controls that could not be
    taken over. By travel nothing is: two knobs seldom work alike over their way, and nobody read it there."""
    if any(step.gear_id == for_id for step in entry.steps):
        raise Refusal({"chain": "That piece of gear stands in this chain already."})
    at = next((at for at, step in enumerate(entry.steps) if step.gear_id == gear_id), None)
    layout = newest_layouts(session, [for_id]).get(for_id)
    if at is None or layout is None:
        raise NotThere("piece of gear")
    step = entry.steps[at]
    controls = read_controls(session, [step.layout_id, layout.id])
    stood = [
        stood
        for control in controls.get(step.layout_id, ())
        if (stood := _stood(control, step.readings.get(control.control_id, "")))
    ]
    new = controls.get(layout.id, ())
    ids = {control.key: control.control_id for control in new}
    carried: dict[int, str] = {}
    lost = []
    for answer in answers(stood, [(control.key, control.spec) for control in new]):
        if answer.key is not None and answer.carried.way in ("as it was", "by name", "by unit"):
            carried[ids[answer.key]] = answer.carried.reading
        else:
            lost.append(answer.stood.spec.name)
    placement = (step.placement or PlacementEntry()) if layout.kind == "microphone" else None
    other = StepEntry(for_id, layout.id, step.branch, carried, placement)
    return replace(entry, steps=(*entry.steps[:at], other, *entry.steps[at + 1 :])), lost


def _stood(control: LayoutControl, typed: str) -> Stood | None:
    try:
        reading = read(control.spec, typed)
    except UnknownReading:
        return None
    if not reading.text:
        return None
    return Stood(control.key, control.spec, reading.text, reading.position, reading.value)


def with_gear_at_newest(session: Session, entry: PassEntry, gear_id: int) -> PassEntry:
    """The entry with a piece of gear at its newest layout: each control that it still has keeps what was typed."""
    layout = newest_layouts(session, [gear_id]).get(gear_id)
    if layout is None:
        raise NotThere("piece of gear")
    controls = read_controls(session, [layout.id, *(step.layout_id for step in entry.steps)])
    ids = {control.key: control.control_id for control in controls.get(layout.id, ())}

    def moved(step: StepEntry) -> StepEntry:
        if step.gear_id != gear_id or step.layout_id == layout.id:
            return step
        readings = {
            ids[control.key]: typed
            for control in controls.get(step.layout_id, ())
            if (typed := step.readings.get(control.control_id, "")) and control.key in ids
        }
        return replace(step, layout_id=layout.id, readings=readings)

    return replace(entry, steps=tuple(moved(step) for step in entry.steps))


def without_step(entry: PassEntry, index: int) -> PassEntry:
    return replace(entry, steps=tuple(step for at, step in enumerate(entry.steps) if at != index))


def with_step_moved(entry: PassEntry, index: int, by: int) -> PassEntry:
    """The entry with one step moved towards the start (negative) or the end of the chain."""
    steps = list(entry.steps)
    if not 0 <= index < len(steps):
        return entry
    step = steps.pop(index)
    steps.insert(max(0, index + by), step)
    return replace(entry, steps=tuple(steps))


def step_forms(library: Readable, entry: PassEntry) -> tuple[StepForm, ...]:
    """What the form shows of each step of an entry, whether or not all of it can be read. Gear that was deleted since
    is shown as such, to be taken out."""
    layout_ids = {step.layout_id for step in entry.steps}
    with library.reading() as session:
        layouts = {
            layout.id: layout
            for layout in session.scalars(select(ControlLayout).where(col(ControlLayout.id).in_(layout_ids)))
        }
        controls = read_controls(session, layout_ids)
    forms = []
    for index, step in enumerate(entry.steps):
        layout = layouts.get(step.layout_id)
        forms.append(
            StepForm(
                index,
                step.gear_id,
                step.layout_id,
                GONE if layout is None else layout.gear_name,
                "other" if layout is None else layout.kind,
                step.branch,
                tuple(
                    _control_form(step.gear_id, control, step.readings.get(control.control_id, ""))
                    for control in controls.get(step.layout_id, ())
                ),
                step.placement,
            )
        )
    return tuple(forms)


def all_readings(spec: ControlSpec, position: float | None) -> str:
    """A position on every scale the control has, as one line."""
    if position is None:
        return ""
    return " · ".join(reading.text for reading in readings(spec, position))


def log_pass(library: Library, source_id: int, entry: PassEntry, *, unit: LengthUnit = "mm") -> int:
    """Save a new pass of a source under the next free number. Returns its id."""
    with library.writing() as session:
        return write_new(session, source_id, entry, unit)


def write_new(session: Session, source_id: int, entry: PassEntry, unit: LengthUnit) -> int:
    find_source(session, source_id)
    steps, words = _checked(session, entry, unit)
    row = Pass(source_id=source_id, number=next_number(session, source_id))
    _set_words(row, words)
    session.add(row)
    session.flush()
    _write_steps(session, row.id, steps)
    _copy_plan(session, entry.like, row)
    return row.id


def write_edit(session: Session, pass_id: int, entry: PassEntry, unit: LengthUnit) -> None:
    row = find_pass(session, pass_id)
    if row.revision != entry.revision:
        raise EditedMeanwhile("pass", row.revision)
    steps, words = _checked(session, entry, unit)
    _set_words(row, words)
    row.revision += 1
    row.edited_at = now()
    _write_steps(session, pass_id, steps)


def set_readings(session: Session, pass_id: int, readings: Mapping[tuple[int, int], str]) -> None:
    """Set some controls of a logged pass, by (gear, control), as a correction of it: what it was open as elsewhere is
    told that it was edited. An empty reading takes the setting away."""
    row = find_pass(session, pass_id)
    steps = {
        step.gear_id: step
        for step in session.scalars(select(ChainStep).where(col(ChainStep.pass_id) == pass_id))
    }
    for (gear_id, control_id), text in readings.items():
        step = steps[gear_id]
        controls = {
            item.control_id: item for item in read_controls(session, [step.layout_id])[step.layout_id]
        }
        reading = read(controls[control_id].spec, text)
        session.execute(
            delete(Setting).where(col(Setting.step_id) == step.id, col(Setting.control_id) == control_id)
        )
        if reading.text:
            session.add(_setting(step.id, control_id, reading))
    if readings:
        row.revision += 1
        row.edited_at = now()


def _setting(step_id: int, control_id: int, reading: Reading) -> Setting:
    return Setting(
        step_id=step_id,
        control_id=control_id,
        reading=reading.text,
        position=reading.position,
        value=reading.value,
        approximate=reading.approximate,
    )


def complaints_of(session: Session, entry: PassEntry, unit: LengthUnit) -> dict[str, str]:
    """What keeps an entry from being saved, a sentence for each field."""
    complaints = Complaints()
    _checked_words(complaints, entry)
    _checked_steps(session, complaints, entry, unit)
    return complaints.sentences


def next_number(session: Session, source_id: int) -> int:
    last = session.scalar(select(func.max(col(Pass.number))).where(col(Pass.source_id) == source_id))
    return (last or 0) + 1


def is_saved_as(library: Library, pass_id: int, entry: PassEntry, *, unit: LengthUnit = "mm") -> bool:
    """Whether the entry, saved, would say just what the pass says: a form that was sent twice."""
    with library.reading() as session:
        if session.get(Pass, pass_id) is None:
            return False
        saved = copy_of(session, pass_id, unit)
        try:
            return _checked(session, saved, unit) == _checked(session, entry, unit)
        except Refusal:
            return False


def delete_pass(library: Library, pass_id: int) -> int:
    """Returns the source it was of. Its audio stays in the file store until that is tidied."""
    with library.writing() as session:
        row = find_pass(session, pass_id)
        session.delete(row)
        return row.source_id


def find_pass(session: Session, pass_id: int) -> Pass:
    return row_of(session, Pass, pass_id, "pass")


def step_of_pass(session: Session, pass_id: int | None, step_id: int | None) -> int | None:
    """The step, if it belongs to the pass."""
    step = None if step_id is None else session.get(ChainStep, step_id)
    return step_id if step is not None and step.pass_id == pass_id else None


def _base_pass(session: Session, source: SourceTrack, from_pass_id: int | None) -> int | None:
    if from_pass_id is not None:
        return find_pass(session, from_pass_id).id
    own = (
        select(col(Pass.id))
        .where(col(Pass.source_id) == source.id)
        .order_by(col(Pass.number).desc())
        .limit(1)
    )
    last = (
        select(col(Pass.id))
        .join(SourceTrack)
        .where(col(SourceTrack.project_id) == source.project_id)
        .order_by(col(Pass.id).desc())
        .limit(1)
    )
    return session.scalar(own) or session.scalar(last)


def _carried_over(
    step: StepSheet, layout: ControlLayout, controls: dict[int, tuple[LayoutControl, ...]], unit: LengthUnit
) -> StepEntry:
    """The step at the newest layout. A control whose scale has changed keeps its position, read anew."""
    before = {line.key: line for line in step.settings}
    carried: dict[int, str] = {}
    for control in controls.get(layout.id, ()):
        line = before.get(control.key)
        if line is None or not line.is_set:
            continue
        same_scale = (line.spec.scale, line.spec.travel) == (control.spec.scale, control.spec.travel)
        carried[control.control_id] = (
            line.reading
            if same_scale or line.position is None or control.spec.form != line.spec.form
            else show(control.spec, line.position)
        )
    return StepEntry(step.gear_id, layout.id, step.branch, carried, _placement_entry(step, unit))


def _placement_entry(step: StepSheet, unit: LengthUnit) -> PlacementEntry | None:
    if step.placement is not None:
        return placements.entry_of(step.placement, unit)
    return PlacementEntry() if step.kind == "microphone" else None


def _control_form(gear_id: int, control: LayoutControl, typed: str) -> ControlForm:
    try:
        position = read(control.spec, typed).position
    except UnknownReading:
        position = None
    return ControlForm(
        field=str(ReadingField(gear_id, control.control_id)),
        control_id=control.control_id,
        spec=control.spec,
        typed=typed,
        position=position,
        all_readings=all_readings(control.spec, position),
    )


@dataclass(frozen=True)
class _CheckedStep:
    gear_id: int
    layout_id: int
    branch: str
    settings: dict[int, Reading]
    placement: Placement | None


def _checked(
    session: Session, entry: PassEntry, unit: LengthUnit
) -> tuple[list[_CheckedStep], dict[str, str]]:
    """The whole entry, read. Raises Refusal with a sentence for each field that cannot be kept as typed."""
    complaints = Complaints()
    words = _checked_words(complaints, entry)
    steps = _checked_steps(session, complaints, entry, unit)
    complaints.refuse_if_any()
    return steps, words


def _checked_words(complaints: Complaints, entry: PassEntry) -> dict[str, str]:
    return {
        "title": wording.line(complaints, "title", "The title", entry.title),
        "notes": wording.notes(complaints, "notes", "The notes", entry.notes),
        "hook_up": wording.notes(complaints, "hook_up", "The hook-up notes", entry.hook_up),
        "levels": wording.notes(complaints, "levels", "The level notes", entry.levels),
    }


def _checked_steps(
    session: Session, complaints: Complaints, entry: PassEntry, unit: LengthUnit
) -> list[_CheckedStep]:
    """Every step read against its layout, with a complaint for each reading that is not known."""
    if len(entry.steps) > STEPS_LIMIT:
        complaints.add("chain", f"A chain has at most {STEPS_LIMIT} pieces of gear.")
    layouts = {
        layout.id: layout
        for layout in session.scalars(
            select(ControlLayout).where(col(ControlLayout.id).in_([step.layout_id for step in entry.steps]))
        )
    }
    controls = read_controls(session, [step.layout_id for step in entry.steps])
    steps = []
    for step in entry.steps:
        layout = layouts.get(step.layout_id)
        if layout is None or layout.gear_id != step.gear_id:
            complaints.add(
                "chain",
                "A piece of this chain was deleted from the shelf meanwhile. Take it out of the chain.",
            )
            continue
        settings = {}
        for control in controls.get(step.layout_id, ()):
            try:
                reading = read(control.spec, step.readings.get(control.control_id, ""))
            except UnknownReading as error:
                complaints.add(str(ReadingField(step.gear_id, control.control_id)), str(error))
                continue
            if reading.text:
                settings[control.control_id] = reading
        placement = None
        if step.placement is not None:
            placement = placements.read_entry(complaints, step.gear_id, step.placement, unit)
        branch = wording.line(complaints, str(BranchField(step.gear_id)), "The branch", step.branch)
        steps.append(_CheckedStep(step.gear_id, step.layout_id, branch, settings, placement))
    if len({step.gear_id for step in steps}) < len(steps):
        complaints.add("chain", "One piece of gear stands twice in this chain. Remove one of the two.")
    return steps


def _set_words(row: Pass, words: dict[str, str]) -> None:
    for name, value in words.items():
        setattr(row, name, value)


def _write_steps(session: Session, pass_id: int, steps: Iterable[_CheckedStep]) -> None:
    """Make the chain of a pass be `steps`. A step that stays keeps its id, and with it its prints and photos."""
    there = {
        row.gear_id: row
        for row in session.scalars(select(ChainStep).where(col(ChainStep.pass_id) == pass_id)).all()
    }
    for position, step in enumerate(steps):
        row = there.pop(step.gear_id, None)
        if row is None:
            row = ChainStep(
                pass_id=pass_id, position=position, gear_id=step.gear_id, layout_id=step.layout_id
            )
            session.add(row)
        row.position, row.branch, row.layout_id = position, step.branch, step.layout_id
        session.flush()
        session.execute(delete(Setting).where(col(Setting.step_id) == row.id))
        for control_id, reading in step.settings.items():
            session.add(_setting(row.id, control_id, reading))
        _write_placement(session, row.id, step.placement)
    for row in there.values():
        session.delete(row)


def _copy_plan(session: Session, from_pass_id: int, to_pass: Pass) -> None:
    """A pass begun as a copy of another is plugged in the same way, until said otherwise. How its source was recorded
    is carried over to passes of the same source alone."""
    plan, like = session.get(HookUpPlan, from_pass_id), session.get(Pass, from_pass_id)
    if plan is not None and like is not None:
        is_same = like.source_id == to_pass.source_id
        levels = plan.levels if is_same else for_another_source(plan.levels)
        session.add(HookUpPlan(pass_id=to_pass.id, plan=plan.plan, levels=levels))


def _write_placement(session: Session, step_id: int, placement: Placement | None) -> None:
    there = session.get(MicPlacement, step_id)
    if placement is None:
        if there is not None:
            session.delete(there)
        return
    session.merge(MicPlacement(step_id=step_id, **asdict(placement)))
