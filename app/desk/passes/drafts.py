"""The draft of a pass: what is being jotted is kept on the server as it is typed, state by state.

There is one draft for the next pass of a source, and one for the correction of a logged pass. Desk and phone write
into the same, field by field, and the last to write a field has it, so neither is ever refused. A draft in which
nothing was changed yet is only an open form: it follows the log. Every jotting comes with a key that the page made
up: the same key again is answered as before and does nothing.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import asdict, dataclass, field, replace
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import delete, select
from sqlalchemy.orm import Session
from sqlmodel import col

from app.desk.passes import crops, passes
from app.desk.passes.draft_fields import change_words, difference, from_json, in_a_unit, to_json, with_fields
from app.desk.passes.passes import PassEntry
from app.desk.receipts import answer_before, receive
from app.desk.refusals import NotThere, Refusal
from app.desk.shelf.gear import find_gear, read_controls
from app.library import Library, Readable
from app.records import Draft, DraftPhoto, DraftState, Gear, Pass, Photo, ReceivedJotting, SourceTrack
from app.records.base import now
from app.trade.distances import LengthUnit

STATES_LIMIT = 200
FIELD_LIMIT = 25_000  # characters; what is longer is refused and not kept
SAME_BREATH = timedelta(seconds=2)  # changes of one field within it are one step of undo


@dataclass(frozen=True)
class DraftSheet:
    """A draft as it stands. `seen` names this very state. `undoes` and `redoes` say what undo and redo would do, None
    where there is nothing to."""

    draft_id: int
    source_id: int
    pass_id: int | None
    entry: PassEntry
    seen: int
    revision: int
    begun_at: datetime
    edited_at: datetime
    is_changed: bool
    undoes: str | None
    redoes: str | None
    photo_ids: tuple[int, ...] = ()

    @property
    def address(self) -> str:
        return address_of(self.source_id, self.pass_id)


@dataclass(frozen=True)
class Jotted:
    """What became of a jotting: `refused` says what in the whole draft could not be saved as it stands, by field."""

    revision: int
    seen: int
    edited_at: datetime
    can_undo: bool
    can_redo: bool
    refused: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class DraftLine:
    """A draft with something in it that is not saved. `number` is the pass it corrects, or would become."""

    draft_id: int
    source_id: int
    source_name: str
    pass_id: int | None
    number: int
    begun_at: datetime
    edited_at: datetime

    @property
    def address(self) -> str:
        return address_of(self.source_id, self.pass_id)


def address_of(source_id: int, pass_id: int | None) -> str:
    """The page of a draft."""
    return f"/sources/{source_id}/passes/new" if pass_id is None else f"/passes/{pass_id}/edit"


class DraftGone(NotThere):
    """`pass_id` is the pass it was saved as, None where that is not known."""

    def __init__(self, pass_id: int | None) -> None:
        super().__init__("draft")
        self.pass_id = pass_id


def open_draft(
    library: Library, source_id: int, *, like: int | None = None, unit: LengthUnit = "mm"
) -> DraftSheet:
    """The draft of a source's next pass, begun if there is none: a copy of pass `like`, else of the last. A draft that
    has something in it is opened as it stands, whatever `like` says."""
    return _open(
        library,
        lambda session: _next_of(session, source_id),
        lambda session, draft: _fresh_next(session, source_id, draft, like, unit),
        lambda session: Draft(source_id=source_id),
    )


def open_edit(library: Library, pass_id: int, *, unit: LengthUnit = "mm") -> DraftSheet:
    """The draft of a correction of a logged pass, begun if there is none."""
    return _open(
        library,
        lambda session: _edit_of(session, pass_id),
        lambda session, draft: _fresh_edit(session, pass_id, draft, unit),
        lambda session: Draft(source_id=passes.find_pass(session, pass_id).source_id, pass_id=pass_id),
    )


def read_draft(library: Readable, draft_id: int) -> DraftSheet:
    with library.reading() as session:
        return _sheet(session, find_draft(session, draft_id))


def read_next(library: Readable, source_id: int) -> DraftSheet | None:
    """The draft of a source's next pass, where something was changed in it."""
    with library.reading() as session:
        draft = _next_of(session, source_id)
        return None if draft is None or not _is_changed(session, draft) else _sheet(session, draft)


def in_work(session: Session, project_id: int) -> list[Draft]:
    """The drafts of next passes of a project that have something in them, a photo at least; the latest first."""
    rows = session.scalars(
        select(Draft)
        .join(SourceTrack, col(Draft.source_id) == col(SourceTrack.id))
        .where(col(SourceTrack.project_id) == project_id, col(Draft.pass_id).is_(None))
        .order_by(col(Draft.edited_at).desc())
    )
    return [draft for draft in rows if _is_changed(session, draft) or _has_photos(session, draft)]


def list_drafts(library: Readable, source_ids: Iterable[int]) -> list[DraftLine]:
    """What is not saved yet of these sources, the latest first."""
    query = (
        select(Draft, col(SourceTrack.name), col(Pass.number))
        .join(SourceTrack, col(Draft.source_id) == col(SourceTrack.id))
        .outerjoin(Pass, col(Draft.pass_id) == col(Pass.id))
        .where(col(Draft.source_id).in_(list(source_ids)), col(Draft.revision) > 0)
        .order_by(col(Draft.edited_at).desc())
    )
    with library.reading() as session:
        return [
            DraftLine(
                draft.id,
                draft.source_id,
                name,
                draft.pass_id,
                number or passes.next_number(session, draft.source_id),
                draft.begun_at,
                draft.edited_at,
            )
            for draft, name, number in session.execute(query).all()
            if _is_changed(session, draft)
        ]


def jot(
    library: Library, draft_id: int, key: str, changes: Mapping[str, str], *, unit: LengthUnit = "mm"
) -> Jotted:
    """Change some fields of a draft. What is no reading is kept as typed and said under `refused`; only what is too
    long to keep is left as it was. Raises DraftGone."""

    def change(session: Session) -> Jotted:
        draft = find_draft(session, draft_id)
        too_long = _too_long(changes)
        kept = {name: text for name, text in changes.items() if name not in too_long}
        _take(session, draft, kept, unit)
        return _jotted(session, draft, unit, too_long)

    return _once(library, key, change)


def undo(library: Library, draft_id: int, key: str = "", *, unit: LengthUnit = "mm") -> Jotted:
    return _once(library, key, lambda session: _step(session, draft_id, unit, back=True))


def redo(library: Library, draft_id: int, key: str = "", *, unit: LengthUnit = "mm") -> Jotted:
    return _once(library, key, lambda session: _step(session, draft_id, unit, back=False))


def discard(library: Library, draft_id: int, key: str = "", *, unit: LengthUnit = "mm") -> Jotted:
    """Throw away what was changed: the draft is as it began. Undo brings it back."""

    def begin_anew(session: Session) -> Jotted:
        draft = find_draft(session, draft_id)
        _push(session, draft, _first(session, draft), "begun anew")
        return _jotted(session, draft, unit)

    return _once(library, key, begin_anew)


def add_gear(library: Library, draft_id: int, key: str, gear_id: int, *, unit: LengthUnit = "mm") -> Jotted:
    """Put a piece of gear where its kind usually stands."""
    return change_entry(
        library,
        draft_id,
        key,
        lambda session, entry: passes.put_in(session, entry, gear_id),
        lambda session: f"{find_gear(session, gear_id).name} added",
        unit,
    )


def take_out_gear(
    library: Library, draft_id: int, key: str, gear_id: int, *, unit: LengthUnit = "mm"
) -> Jotted:
    return change_entry(
        library,
        draft_id,
        key,
        lambda session, entry: passes.without_step(entry, _place_of(entry, gear_id)),
        lambda session: f"{_name_of(session, gear_id)} taken out",
        unit,
    )


def move_gear(
    library: Library, draft_id: int, key: str, gear_id: int, by: int, *, unit: LengthUnit = "mm"
) -> Jotted:
    """Towards the start of the chain (negative) or its end."""
    return change_entry(
        library,
        draft_id,
        key,
        lambda session, entry: passes.with_step_moved(entry, _place_of(entry, gear_id), by),
        lambda session: f"{_name_of(session, gear_id)} moved",
        unit,
    )


def put_at(
    library: Library, draft_id: int, key: str, gear_id: int, other_id: int, *, unit: LengthUnit = "mm"
) -> Jotted:
    """Gear takes the place of another, which moves aside with all that stands between."""

    def moved(session: Session, entry: PassEntry) -> PassEntry:
        place = _place_of(entry, gear_id)
        return passes.with_step_moved(entry, place, _place_of(entry, other_id) - place)

    return change_entry(
        library, draft_id, key, moved, lambda session: f"{_name_of(session, gear_id)} moved", unit
    )


def swap_gear(
    library: Library, draft_id: int, key: str, gear_id: int, for_id: int, *, unit: LengthUnit = "mm"
) -> Jotted:
    """Put another piece of gear in the place of one. What its controls can take over they do; the change says what
    not. Raises Refusal where the other stands in the chain already."""
    said = ""

    def swapped(session: Session, entry: PassEntry) -> PassEntry:
        nonlocal said
        entry, lost = passes.with_gear_swapped(session, entry, gear_id, for_id)
        said = f"; set anew: {', '.join(lost)}" if lost else ""
        return entry

    return change_entry(
        library,
        draft_id,
        key,
        swapped,
        lambda session: f"{_name_of(session, gear_id)} swapped for {_name_of(session, for_id)}{said}",
        unit,
    )


def stand_at_newest(
    library: Library, draft_id: int, key: str, gear_id: int, *, unit: LengthUnit = "mm"
) -> Jotted:
    """A piece of gear as it is on the shelf by now, after a control of it was put right."""
    return change_entry(
        library,
        draft_id,
        key,
        lambda session, entry: passes.with_gear_at_newest(session, entry, gear_id),
        lambda session: f"{_name_of(session, gear_id)} put right",
        unit,
    )


def set_like(library: Library, draft_id: int, key: str, pass_id: int, *, unit: LengthUnit = "mm") -> Jotted:
    """Set everything as it was on a logged pass. What was written in words of this one stays."""

    return change_entry(
        library,
        draft_id,
        key,
        lambda session, entry: as_logged(session, draft_id, entry, pass_id, unit),
        lambda session: f"all as in pass {passes.find_pass(session, pass_id).number}",
        unit,
    )


def as_logged(session: Session, draft_id: int, entry: PassEntry, pass_id: int, unit: LengthUnit) -> PassEntry:
    """A draft's entry with all set as on a logged pass, but for its own words."""
    like = passes.copy_for_next(session, find_draft(session, draft_id).source_id, pass_id, unit)
    return replace(like, title=entry.title, notes=entry.notes, revision=entry.revision)


def begin_empty(library: Library, draft_id: int, key: str, *, unit: LengthUnit = "mm") -> Jotted:
    """Take out the chain and all else that came from another pass, as one step of undo."""
    return change_entry(
        library,
        draft_id,
        key,
        lambda session, entry: passes.begun_empty(entry),
        lambda session: "begun empty",
        unit,
    )


def change_entry(
    library: Library,
    draft_id: int,
    key: str,
    change: Callable[[Session, PassEntry], PassEntry],
    words: Callable[[Session], str],
    unit: LengthUnit,
) -> Jotted:
    """Change a draft as one step of undo, which says what it was in `words`."""

    def do(session: Session) -> Jotted:
        draft = find_draft(session, draft_id)
        entry = entry_in(session, draft)
        changed = change(session, entry)
        if changed != entry:
            _push(session, draft, changed, words(session))
        return _jotted(session, draft, unit)

    return _once(library, key, do)


def _place_of(entry: PassEntry, gear_id: int) -> int:
    """Where in the chain a piece of gear stands; −1 where it does not."""
    return next((at for at, step in enumerate(entry.steps) if step.gear_id == gear_id), -1)


def _name_of(session: Session, gear_id: int) -> str:
    gear = session.get(Gear, gear_id)
    return "what is gone" if gear is None else gear.name


def merge(
    library: Library, draft_id: int, seen: int, typed: PassEntry, *, unit: LengthUnit = "mm"
) -> DraftSheet:
    """Take over a whole form: the fields in which it differs from the state it was shown with. Raises Refusal where
    something is too long to be kept, and takes over the rest."""
    with library.writing() as session:
        draft = find_draft(session, draft_id)
        changes = _changes_of_form(session, draft, seen, typed)
        too_long = _too_long(changes)
        _take(session, draft, {name: text for name, text in changes.items() if name not in too_long}, unit)
        sheet = _sheet(session, draft)
    if too_long:
        raise Refusal(too_long)
    return sheet


def adopt(library: Library, draft_id: int, typed: PassEntry) -> DraftSheet:
    """Put a whole form in the place of what stands in the draft, chain and all: what was typed into one that is gone."""
    with library.writing() as session:
        draft = find_draft(session, draft_id)
        if typed != entry_in(session, draft):
            _push(session, draft, typed, "the form taken over")
        return _sheet(session, draft)


def save(
    library: Library, draft_id: int, key: str = "", *, revision: int = 0, unit: LengthUnit = "mm"
) -> int:
    """Make the draft a pass, or the correction of one, and be done with it. `revision` is that of the logged pass
    which the person has seen, where it is not the one that the draft began with. Returns the pass. Raises Refusal,
    EditedMeanwhile, DraftGone."""
    with library.writing() as session:
        received = answer_before(session, key)
        if received is not None:
            return int(received["pass_id"])
        draft = find_draft(session, draft_id)
        entry = entry_in(session, draft)
        pass_id = draft.pass_id
        if pass_id is None:
            pass_id = passes.write_new(session, draft.source_id, entry, unit)
        else:
            seen = replace(entry, revision=revision or entry.revision)
            passes.write_edit(session, pass_id, seen, unit)
        _give_photos(session, draft_id, pass_id)
        crops.give_to_pass(session, draft_id, pass_id)
        saved = {"pass_id": pass_id}
        receive(session, key, saved)
        receive(session, _fate_of(draft_id), saved)
        session.delete(draft)
        return pass_id


def _give_photos(session: Session, draft_id: int, pass_id: int) -> None:
    """The photos that were taken while the pass was a draft are the pass's."""
    waiting = select(DraftPhoto).where(col(DraftPhoto.draft_id) == draft_id).order_by(col(DraftPhoto.id))
    for row in session.scalars(waiting).all():
        session.add(Photo(pass_id=pass_id, **row.model_dump(exclude={"id", "draft_id"})))
        session.delete(row)


def find_draft(session: Session, draft_id: int) -> Draft:
    draft = session.get(Draft, draft_id)
    if draft is None:
        fate = session.get(ReceivedJotting, _fate_of(draft_id))
        raise DraftGone(None if fate is None else fate.answer["pass_id"])
    return draft


def _once(library: Library, key: str, do: Callable[[Session], Jotted]) -> Jotted:
    with library.writing() as session:
        received = answer_before(session, key)
        if received is not None:
            return Jotted(**received | {"edited_at": datetime.fromisoformat(received["edited_at"])})
        jotted = do(session)
        receive(session, key, asdict(jotted) | {"edited_at": jotted.edited_at.isoformat()})
        return jotted


def _fate_of(draft_id: int) -> str:
    """What became of a draft is kept among the receipts, under a name that no page makes up (they have no spaces)."""
    return f"draft {draft_id}"


def _next_of(session: Session, source_id: int) -> Draft | None:
    mine = select(Draft).where(col(Draft.source_id) == source_id, col(Draft.pass_id).is_(None))
    return session.scalars(mine).first()


def _edit_of(session: Session, pass_id: int) -> Draft | None:
    return session.scalars(select(Draft).where(col(Draft.pass_id) == pass_id)).first()


def _fresh_next(
    session: Session, source_id: int, draft: Draft | None, like: int | None, unit: LengthUnit
) -> PassEntry | None:
    """What the next pass would begin as; None where the draft has something in it, or began as just that."""
    if draft is None:
        return passes.copy_for_next(session, source_id, like, unit)
    if _is_changed(session, draft):
        return None
    began = _first(session, draft)
    if like is None and not _is_logged_since(session, source_id, draft.begun_at):
        like = began.like if session.get(Pass, began.like) is not None else None
    fresh = passes.copy_for_next(session, source_id, like, unit)
    return None if fresh == began else fresh


def _fresh_edit(session: Session, pass_id: int, draft: Draft | None, unit: LengthUnit) -> PassEntry | None:
    if draft is not None and _is_changed(session, draft):
        return None
    fresh = passes.copy_of(session, pass_id, unit)
    return None if draft is not None and fresh == _first(session, draft) else fresh


def _is_logged_since(session: Session, source_id: int, moment: datetime) -> bool:
    newer = select(col(Pass.id)).where(col(Pass.source_id) == source_id, col(Pass.created_at) > moment)
    return session.scalars(newer.limit(1)).first() is not None


def _open(
    library: Library,
    find: Callable[[Session], Draft | None],
    freshly: Callable[[Session, Draft | None], PassEntry | None],
    begin: Callable[[Session], Draft],
) -> DraftSheet:
    """The draft that is there, or another in its place where it would begin differently by now: a page still open on
    the old one's values must not write into this one."""
    with library.reading() as session:
        draft = find(session)
        if draft is not None and freshly(session, draft) is None:
            return _sheet(session, draft)
    with library.writing() as session:
        draft = find(session)
        entry = freshly(session, draft)
        if draft is not None and entry is None:
            return _sheet(session, draft)
        photos: list[dict[str, Any]] = []
        if draft is not None:
            taken = (
                select(DraftPhoto).where(col(DraftPhoto.draft_id) == draft.id).order_by(col(DraftPhoto.id))
            )
            photos = [row.model_dump(exclude={"id", "draft_id"}) for row in session.scalars(taken)]
            session.delete(draft)
            session.flush()
        draft = begin(session)
        session.add(draft)
        session.flush()
        session.add(DraftState(draft_id=draft.id, number=0, entry=to_json(entry or PassEntry())))
        session.add_all(DraftPhoto(draft_id=draft.id, **photo) for photo in photos)
        session.flush()
        return _sheet(session, draft)


def entry_in(session: Session, draft: Draft) -> PassEntry:
    """As it stands."""
    return from_json(session.get_one(DraftState, (draft.id, draft.at)).entry)


def _first(session: Session, draft: Draft) -> PassEntry:
    return from_json(session.get_one(DraftState, (draft.id, 0)).entry)


def _is_changed(session: Session, draft: Draft) -> bool:
    return draft.at > 0 and entry_in(session, draft) != _first(session, draft)


def _has_photos(session: Session, draft: Draft) -> bool:
    photos = select(col(DraftPhoto.id)).where(col(DraftPhoto.draft_id) == draft.id)
    return session.scalar(photos.limit(1)) is not None


def _neighbour(session: Session, draft: Draft, *, back: bool) -> DraftState | None:
    number = col(DraftState.number)
    side = number < draft.at if back else number > draft.at
    rows = select(DraftState).where(col(DraftState.draft_id) == draft.id, side)
    return session.scalars(rows.order_by(number.desc() if back else number).limit(1)).first()


def _take(session: Session, draft: Draft, changes: Mapping[str, str], unit: LengthUnit) -> None:
    """Write the changes into the draft: as its next state, or into the state it stands at where that was the same
    field in the same breath."""
    entry = entry_in(session, draft)
    kept = {name: in_a_unit(name, text, unit) for name, text in changes.items()}
    changed = with_fields(entry, kept)
    differing = difference(entry, changed)
    if not differing:
        return
    controls = read_controls(session, [step.layout_id for step in changed.steps])
    names = {
        control.control_id: control.spec.name for of_layout in controls.values() for control in of_layout
    }
    words = change_words(differing, names)
    before = _neighbour(session, draft, back=True)
    if (
        before is not None
        and now() - draft.edited_at < SAME_BREATH
        and len(differing) == 1
        and difference(from_json(before.entry), entry).keys() == differing.keys()
    ):
        _drop_redoable(session, draft)
        state = session.get_one(DraftState, (draft.id, draft.at))
        state.entry, state.change = to_json(changed), words
        draft.revision += 1
        draft.edited_at = now()
    else:
        _push(session, draft, changed, words)


def _changes_of_form(session: Session, draft: Draft, seen: int, typed: PassEntry) -> dict[str, str]:
    """What a form changed since the state it was shown with; where that is no longer known, all that stands in it."""
    shown = session.get(DraftState, (draft.id, seen))
    return difference(entry_in(session, draft) if shown is None else from_json(shown.entry), typed)


def _push(session: Session, draft: Draft, entry: PassEntry, words: str) -> None:
    """The draft's next state. Those that could have been redone go; of too many, the oldest but the first."""
    _drop_redoable(session, draft)
    moment = now()
    if draft.at == 0:
        draft.begun_at = moment
    draft.revision += 1
    draft.at = draft.revision
    draft.edited_at = moment
    session.add(DraftState(draft_id=draft.id, number=draft.at, entry=to_json(entry), change=words))
    session.flush()
    mine = col(DraftState.draft_id) == draft.id
    number = col(DraftState.number)
    kept = session.scalars(select(number).where(mine).order_by(number.desc()).limit(STATES_LIMIT - 1)).all()
    session.execute(delete(DraftState).where(mine, number > 0, number < kept[-1]))


def _drop_redoable(session: Session, draft: Draft) -> None:
    mine = col(DraftState.draft_id) == draft.id
    session.execute(delete(DraftState).where(mine, col(DraftState.number) > draft.at))


def _step(session: Session, draft_id: int, unit: LengthUnit, *, back: bool) -> Jotted:
    draft = find_draft(session, draft_id)
    state = _neighbour(session, draft, back=back)
    if state is not None:
        draft.at = state.number
        draft.revision += 1
        draft.edited_at = now()
        session.flush()
    return _jotted(session, draft, unit)


def _too_long(fields: Mapping[str, str]) -> dict[str, str]:
    return {
        name: f"This has {len(text):,} characters; {FIELD_LIMIT:,} are the most. It is not kept."
        for name, text in fields.items()
        if len(text) > FIELD_LIMIT
    }


def _jotted(
    session: Session, draft: Draft, unit: LengthUnit, too_long: Mapping[str, str] | None = None
) -> Jotted:
    session.flush()
    return Jotted(
        draft.revision,
        draft.at,
        draft.edited_at,
        _neighbour(session, draft, back=True) is not None,
        _neighbour(session, draft, back=False) is not None,
        passes.complaints_of(session, entry_in(session, draft), unit) | dict(too_long or {}),
    )


def _sheet(session: Session, draft: Draft) -> DraftSheet:
    back, forth = _neighbour(session, draft, back=True), _neighbour(session, draft, back=False)
    here = session.get_one(DraftState, (draft.id, draft.at))
    return DraftSheet(
        draft.id,
        draft.source_id,
        draft.pass_id,
        from_json(here.entry),
        draft.at,
        draft.revision,
        draft.begun_at,
        draft.edited_at,
        _is_changed(session, draft),
        None if back is None else here.change,
        None if forth is None else forth.change,
        tuple(session.scalars(select(col(DraftPhoto.id)).where(col(DraftPhoto.draft_id) == draft.id))),
    )
