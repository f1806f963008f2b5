"""What photos say of settings: of a pass that is being jotted or corrected as proposals, of which nothing is taken over unasked."""

import base64
import io
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

from sqlalchemy import select
from sqlalchemy.orm import Session
from sqlmodel import col

from app.desk.files import stored_files
from app.desk.measuring import examinations
from app.desk.passes import crops, drafts
from app.desk.passes.field_names import ReadingField
from app.desk.passes.passes import PassEntry
from app.desk.photos.panel_photos import panels_of
from app.desk.refusals import NotThere
from app.desk.rows import row_of
from app.desk.shelf.gear import LayoutControl, newest_layout, read_controls
from app.library import Library, Readable, TakenIn
from app.records import Draft, DraftPhoto, Examination, Gear, Photo, WorkState
from app.trade.readings import UnknownReading, detents, read, show
from app.trade.scales import STEPPED_FORMS, ControlSpec
from app.trade.travel import position_at_deg

KIND = "panel"
SET_BACK_WITHIN = 0.012
SHOWN_UNTIL = 10


@dataclass(frozen=True)
class Proposal:
    """One control as a photo shows it. `text` is the proposed reading, empty where there is none; `now` what was noted.
    `within` says how exactly it was read, `exactly` the same as a share of the travel; `position` is None where it cannot be told."""

    gear_id: int
    control_id: int
    key: str
    name: str
    spec: ControlSpec
    position: float | None
    exactly: float
    state: str
    text: str
    now: str
    within: str
    confidence: float
    has_crop: bool

    @property
    def field(self) -> str:
        """Its name in a draft."""
        return str(ReadingField(self.gear_id, self.control_id))

    @property
    def is_sure(self) -> bool:
        return self.state == "read" and bool(self.text)

    @property
    def differs(self) -> bool:
        return self.text != self.now


@dataclass(frozen=True)
class PanelProposals:
    """What one photo says of one piece of gear; what differs from what was noted comes first."""

    examination_id: int
    gear_id: int
    gear_name: str
    state: WorkState
    reason: str
    reasons: tuple[str, ...]
    proposals: tuple[Proposal, ...]


@dataclass(frozen=True)
class DraftReadings:
    """`can_be_read` is whether a piece of gear in the chain has a photo in which its controls are marked. `confirmed` counts by gear
    the readings that were taken from photos of it and stand."""

    draft_id: int
    source_id: int
    pass_id: int | None
    photos: int
    can_be_read: bool
    panels: tuple[PanelProposals, ...]
    confirmed: Mapping[int, int]

    @property
    def known(self) -> frozenset[int]:
        """Gear of which enough readings were confirmed for those that stand as they are to be folded away."""
        return frozenset(gear_id for gear_id, count in self.confirmed.items() if count >= SHOWN_UNTIL)

    @property
    def are_all_known(self) -> bool:
        seen = {panel.gear_id for panel in self.panels if panel.proposals}
        return bool(seen) and seen <= self.known

    @property
    def is_coming(self) -> bool:
        return any(panel.state.is_coming for panel in self.panels)

    @property
    def sure(self) -> dict[str, str]:
        """What would be taken over, by field."""
        return {name: text for name, text in self.all_sure.items() if name not in self._as_noted}

    @property
    def all_sure(self) -> dict[str, str]:
        """The same with what stands as it was noted, and is confirmed by the same tap."""
        return {
            proposal.field: proposal.text
            for panel in self.panels
            for proposal in panel.proposals
            if proposal.is_sure
        }

    @property
    def _as_noted(self) -> set[str]:
        return {
            proposal.field for panel in self.panels for proposal in panel.proposals if not proposal.differs
        }


class Photographed(Protocol):
    """A photo of a draft, a pass or a recall."""

    original_file_id: int
    shown_file_id: int


def have_read(library: Library, draft_id: int) -> bool:
    """Have every photo of a draft, and of the pass that it corrects, read for all gear of its chain that can be. What was read
    stays read. Returns whether anything can be; a draft that is gone meanwhile has nothing to be read."""
    with library.writing() as session:
        draft = session.get(Draft, draft_id)
        if draft is None:
            return False
        return want_read(session, _photos(session, draft), _layouts(session, drafts.entry_in(session, draft)))


def want_read(
    session: Session, photos: Sequence[Photographed], layouts: Mapping[int, tuple[LayoutControl, ...]]
) -> bool:
    """Have photos read for the gear of a chain, whose controls are given by gear. Returns whether anything can be."""
    if not photos:
        return False
    panels = panels_of(session, layouts)
    for photo in photos:
        for gear_id, panel in panels.items():
            wanted = {"gear_id": gear_id, "shown_file_id": photo.shown_file_id, "panel": panel}
            examinations.want(session, KIND, photo.original_file_id, wanted=wanted)
    return bool(panels)


def have_prepared(library: Library, photo_id: int) -> None:
    """Have a photo read in which controls were just marked: what is prepared of its panel for that is there when somebody waits for
    a photo of a pass."""
    with library.writing() as session:
        photo = session.get(Photo, photo_id)
        if photo is None or photo.gear_id is None:
            return
        layout = newest_layout(session, photo.gear_id)
        controls = read_controls(session, [layout.id]).get(layout.id, ())
        want_read(session, [photo], {photo.gear_id: controls})


def read_readings(library: Readable, draft_id: int) -> DraftReadings:
    with library.reading() as session:
        draft = drafts.find_draft(session, draft_id)
        entry = drafts.entry_in(session, draft)
        layouts = _layouts(session, entry)
        photos = _photos(session, draft)
        now = {step.gear_id: step.readings for step in entry.steps}
        panels = read_panels(session, photos, layouts, now)
        can_be_read = bool(panels_of(session, layouts))
        confirmed = crops.confirmed_of(session, list(layouts))
        return DraftReadings(
            draft_id, draft.source_id, draft.pass_id, len(photos), can_be_read, panels, confirmed
        )


def read_panels(
    session: Session,
    photos: Sequence[Photographed],
    layouts: Mapping[int, tuple[LayoutControl, ...]],
    now: Mapping[int, Mapping[int, str]],
) -> tuple[PanelProposals, ...]:
    """What photos say of the gear of a chain. `now` is what was noted, by gear and control. Left out are photos in which a piece
    was not found, where it was found in another."""
    rows = session.scalars(
        select(Examination)
        .where(
            col(Examination.kind) == KIND,
            col(Examination.file_id).in_([photo.original_file_id for photo in photos]),
        )
        .order_by(col(Examination.id))
    ).all()
    newest = {(row.file_id, row.wanted["gear_id"]): row for row in rows}
    named = select(col(Gear.id), col(Gear.name)).where(col(Gear.id).in_(list(layouts)))
    names = dict(session.execute(named).all())
    panels = [
        _proposals(row, gear_id, names[gear_id], controls, now.get(gear_id, {}))
        for photo in photos
        for gear_id, controls in layouts.items()
        if (row := newest.get((photo.original_file_id, gear_id))) is not None
    ]
    seen = {panel.gear_id for panel in panels if panel.proposals}
    return tuple(panel for panel in panels if panel.proposals or panel.gear_id not in seen)


def _photos(session: Session, draft: Draft) -> list[Photographed]:
    """Those of a logged pass first, then what was taken since."""
    of_draft = select(DraftPhoto).where(col(DraftPhoto.draft_id) == draft.id).order_by(col(DraftPhoto.id))
    of_pass = select(Photo).where(col(Photo.pass_id) == draft.pass_id).order_by(col(Photo.id))
    logged: list[Photographed] = [] if draft.pass_id is None else list(session.scalars(of_pass))
    return [*logged, *session.scalars(of_draft)]


def take(library: Library, draft_id: int, texts: Mapping[str, str], key: str = "") -> None:
    """Put readings into the draft, as one step of undo, with the pictures that they were confirmed by. Only fields that a
    photo of it speaks of."""
    known = {
        proposal.field: (panel, proposal)
        for panel in read_readings(library, draft_id).panels
        for proposal in panel.proposals
    }
    changes = {name: text for name, text in texts.items() if name in known and text.strip()}
    if not changes:
        return
    pictures = {
        (panel.gear_id, proposal.key): (text, _stored(library, panel.examination_id, proposal.key))
        for name, text in changes.items()
        for panel, proposal in (known[name],)
        if proposal.has_crop
    }
    drafts.jot(library, draft_id, key, changes)
    with library.writing() as session:
        kept = {
            of: (text, stored_files.record(session, taken, "image/jpeg"))
            for of, (text, taken) in pictures.items()
        }
        crops.note_in_draft(session, draft_id, kept)


def _stored(library: Library, examination_id: int, key: str) -> TakenIn:
    return stored_files.take_in(library, "", io.BytesIO(crop_of(library, examination_id, key)))


def crop_of(library: Readable, examination_id: int, key: str) -> bytes:
    """A control from straight above, as a JPEG."""
    with library.reading() as session:
        row = row_of(session, Examination, examination_id, "reading")
        controls = (row.figures or {}).get("controls", ()) if row.kind == KIND else ()
        crop = next((control.get("crop") for control in controls if control["key"] == key), None)
    if crop is None:
        raise NotThere("picture of a control")
    return base64.b64decode(crop)


def _layouts(session: Session, entry: PassEntry) -> dict[int, tuple[LayoutControl, ...]]:
    controls = read_controls(session, [step.layout_id for step in entry.steps])
    return {step.gear_id: controls.get(step.layout_id, ()) for step in entry.steps}


def _proposals(
    row: Examination,
    gear_id: int,
    gear_name: str,
    controls: Iterable[LayoutControl],
    now: Mapping[int, str],
) -> PanelProposals:
    figures = row.figures or {}
    found = {said["key"]: said for said in figures.get("controls", ())} if figures.get("panel_found") else {}
    proposals = [
        _proposal(gear_id, control, found[control.key], now.get(control.control_id, ""))
        for control in controls
        if control.key in found
    ]
    proposals.sort(key=lambda each: (not each.differs, each.state != "look"))
    return PanelProposals(
        row.id,
        gear_id,
        gear_name,
        row.state,
        row.reason,
        tuple(figures.get("reasons", ())),
        tuple(proposals),
    )


def _proposal(gear_id: int, control: LayoutControl, said: Mapping[str, Any], now: str) -> Proposal:
    spec = control.spec
    position = _position(spec, said)
    text = "" if position is None or said["state"] == "unseen" else _as_read(spec, position, now, said)
    sigma = said["sigma_degrees"]
    return Proposal(
        gear_id=gear_id,
        control_id=control.control_id,
        key=control.key,
        name=spec.name,
        spec=spec,
        position=None if said["state"] == "unseen" else position,
        exactly=_exactly(spec, said),
        state=said["state"],
        text=text,
        now=now,
        within=f"± {2 * sigma:.0f}°" if sigma is not None and spec.form not in STEPPED_FORMS else "",
        confidence=said["confidence"],
        has_crop=said.get("crop") is not None,
    )


def _position(spec: ControlSpec, said: Mapping[str, Any]) -> float | None:
    if said["degrees"] is not None:
        return min(1.0, max(0.0, position_at_deg(spec.travel, said["degrees"])))
    if said["position"] is None:
        return None
    if spec.form in STEPPED_FORMS:
        return float(min(1.0, said["position"] / (len(spec.positions) - 1)))
    return float(said["position"])


def _as_read(spec: ControlSpec, position: float, now: str, said: Mapping[str, Any]) -> str:
    """The reading on the control's own scale, no finer than its steps; as it was, where it did not move by more than was seen."""
    exactly = _exactly(spec, said)
    try:
        before = read(spec, now).position
    except UnknownReading:
        before = None
    if before is not None and is_same_place(before, position, exactly):
        return now
    return _plain(spec, show(spec, min(_steps(spec, exactly), key=lambda each: abs(each - position))))


def _plain(spec: ControlSpec, text: str) -> str:
    """ "7", not "7.0", which says more than was seen."""
    shorter = text.replace(".0", "", 1)
    try:
        return shorter if read(spec, shorter).position == read(spec, text).position else text
    except UnknownReading:
        return text


def is_same_place(one: float, other: float, exactly: float) -> bool:
    """Whether two positions differ by no more than was seen, or than a hand sets a knob back to."""
    return abs(one - other) <= max(2 * exactly, SET_BACK_WITHIN)


def _exactly(spec: ControlSpec, said: Mapping[str, Any]) -> float:
    return float(said["sigma_degrees"] or 3.0) / spec.travel.sweep_deg


def _steps(spec: ControlSpec, exactly: float) -> tuple[float, ...]:
    """The scale's steps, of which so many are left out that two lie further apart than the reading is exact."""
    steps = detents(spec)
    if spec.form in STEPPED_FORMS or len(steps) < 12:
        return steps
    apart = steps[len(steps) // 2 + 1] - steps[len(steps) // 2]
    stride = next((each for each in (1, 2, 5) if each * apart >= 1.5 * exactly), 10)
    return (*steps[::stride], steps[-1])
