"""A photo of a piece of gear in which its controls are marked: what photos of passes are read against."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session
from sqlmodel import col

from app.desk.passes import crops
from app.desk.photos.photos import read_photo
from app.desk.refusals import Complaints, NotThere, Refusal
from app.desk.shelf.gear import LayoutControl, newest_layout, read_controls
from app.desk.typed_figures import read_figure
from app.library import Library, Readable
from app.panels.reference import UnusableReference, reference_of
from app.records import PanelPhoto, Photo, PhotoPin
from app.trade.readings import UnknownReading, accepts, read, read_number
from app.trade.scales import STEPPED_FORMS, ControlSpec, spec_from_json, spec_to_json
from app.trade.travel import angle_deg

LOOKS = (
    ("line", "a knob with a line"),
    ("dot", "a knob with a dot"),
    ("arrow", "a pointer, or a knob with an arrow"),
    ("metal", "a metal knob"),
    ("knurled", "a knurled knob"),
    ("notch", "a knob with a notch"),
    ("skirt", "a knob with numbers on its skirt"),
    ("side", "a knob marked on its side only"),
    ("fader", "a fader"),
    ("slide", "a slide or rocker switch"),
    ("switch", "a toggle switch"),
    ("lamp", "a lamp or a lit button"),
)
WITH_STATES = frozenset(("slide", "switch", "lamp"))
NOT_KNOBS = frozenset(("fader", "slide", "switch", "lamp"))
CORNERS = ("top left", "top right", "bottom right", "bottom left")
CORNERS_BEYOND_PERCENT = 30.0
PLACES = ("x", "y", "edge_x", "edge_y")


@dataclass(frozen=True)
class MarkEntry:
    """A control as marked: places in percent of the picture; `stands` is the reading at which it stands in it. Of a fader the
    centre is its cap's place at 0, the edge its place at the other end."""

    look: str = "line"
    x: str = ""
    y: str = ""
    edge_x: str = ""
    edge_y: str = ""
    stands: str = ""

    @property
    def is_marked(self) -> bool:
        return bool((self.edge_x + self.edge_y).strip())


@dataclass(frozen=True)
class PanelEntry:
    """`corners` are x and y of the four in turn; `marks` goes by the control's id."""

    corners: tuple[str, ...] = ("",) * 8
    marks: Mapping[int, MarkEntry] = field(default_factory=dict)


@dataclass(frozen=True)
class PanelSheet:
    """A photo to be marked. `controls` are those of the newest layout that can be seen to stand somewhere."""

    photo_id: int
    caption: str
    width: int
    height: int
    gear_id: int
    gear_name: str
    controls: tuple[LayoutControl, ...]
    entry: PanelEntry
    is_marked: bool
    is_of_older_layout: bool


def read_panel(library: Readable, photo_id: int) -> PanelSheet:
    photo = _photo_of_gear(library, photo_id)
    assert photo.gear_id is not None
    with library.reading() as session:
        layout = newest_layout(session, photo.gear_id)
        controls = _visible(read_controls(session, [layout.id]).get(layout.id, ()))
        row = _marked(session, photo_id)
        pins = session.scalars(
            select(PhotoPin).where(col(PhotoPin.photo_id) == photo_id, col(PhotoPin.gear_id) == photo.gear_id)
        ).all()
        pinned = {pin.control_key: (pin.x, pin.y) for pin in pins}
    return PanelSheet(
        photo_id=photo_id,
        caption=photo.caption,
        width=photo.width,
        height=photo.height,
        gear_id=photo.gear_id,
        gear_name=layout.gear_name,
        controls=controls,
        entry=_entry(controls, row, pinned),
        is_marked=row is not None,
        is_of_older_layout=row is not None
        and not all(_stands_alike(control, row.marks) for control in controls if control.key in row.marks),
    )


def mark_panel(library: Library, photo_id: int, entry: PanelEntry) -> int:
    """Keep what was marked. Returns the piece of gear. Raises Refusal."""
    photo = _photo_of_gear(library, photo_id)
    assert photo.gear_id is not None
    with library.writing() as session:
        layout = newest_layout(session, photo.gear_id)
        controls = _visible(read_controls(session, [layout.id]).get(layout.id, ()))
        complaints = Complaints()
        corners = _corners(complaints, entry)
        marks = {
            control.key: _mark(complaints, control, entry.marks[control.control_id])
            for control in controls
            if control.control_id in entry.marks and entry.marks[control.control_id].is_marked
        }
        complaints.refuse_if_any()
        if not marks:
            raise Refusal({"": "Mark at least one control: tap its centre and drag to its edge."})
        _refuse_what_cannot_be_read(corners, marks, controls)
        row = _marked(session, photo_id)
        if row is None:
            row = PanelPhoto(photo_id=photo_id, layout_id=layout.id, corners=corners, marks=marks)
            session.add(row)
        row.layout_id, row.corners, row.marks = layout.id, corners, marks
    return photo.gear_id


def unmark_panel(library: Library, photo_id: int) -> int:
    """The photo stays; it is no longer read against. Returns the piece of gear."""
    photo = _photo_of_gear(library, photo_id)
    assert photo.gear_id is not None
    with library.writing() as session:
        row = _marked(session, photo_id)
        if row is not None:
            session.delete(row)
    return photo.gear_id


def marked_photos(library: Readable, gear_id: int) -> frozenset[int]:
    """The photos of a piece of gear in which controls are marked."""
    query = select(col(PanelPhoto.photo_id)).join(Photo).where(col(Photo.gear_id) == gear_id)
    with library.reading() as session:
        return frozenset(session.scalars(query))


def panels_of(
    session: Session, layouts: Mapping[int, tuple[LayoutControl, ...]]
) -> dict[int, dict[str, Any]]:
    """By gear what its photos are read against, for the controls of the layout that each has in a chain. What was marked on an
    older layout counts as long as its control is still the same. The document is that of `reference_of`, with places as fractions and
    the photo's files by their ids."""
    rows = session.execute(
        select(PanelPhoto, Photo)
        .join(Photo)
        .where(col(Photo.gear_id).in_(list(layouts)))
        .order_by(col(PanelPhoto.id))
    ).all()
    found: dict[int, dict[str, Any]] = {}
    for row, photo in rows:
        assert photo.gear_id is not None
        same = [control for control in layouts[photo.gear_id] if _stands_alike(control, row.marks)]
        if same:
            described = _described(row.corners, row.marks, same)
            described |= {
                "shown_file_id": photo.shown_file_id,
                "original_file_id": photo.original_file_id,
                "size": [photo.width, photo.height],
            }
            found.setdefault(photo.gear_id, {"photos": []})["photos"].append(described)
    for gear_id, states in _states_met(session, found, layouts).items():
        found[gear_id]["states"] = states
    return found


def _states_met(
    session: Session,
    panels: Mapping[int, Mapping[str, Any]],
    layouts: Mapping[int, tuple[LayoutControl, ...]],
) -> dict[int, list[dict[str, Any]]]:
    """By gear the states of switches and lamps that no reference shows, and a confirmed reading of a photo does: each with the file
    of its newest picture."""
    known: dict[tuple[int, str], set[float]] = {}
    for gear_id, panel in panels.items():
        for described in (each for photo in panel["photos"] for each in photo["controls"]):
            if described["kind"] in WITH_STATES:
                known.setdefault((gear_id, described["key"]), set()).add(described["stands_at"])
    if not known:
        return {}
    controls = {(gear_id, control.key): control for gear_id, layout in layouts.items() for control in layout}
    found: dict[int, list[dict[str, Any]]] = {}
    for gear_id, key, reading, file_id in crops.confirmed_pictures(
        session, {gear_id for gear_id, _ in known}
    ):
        if (gear_id, key) not in known:
            continue
        try:
            position = read(controls[gear_id, key].spec, reading).position
        except UnknownReading:
            continue
        if position is None:
            continue
        stands_at = _state_at(controls[gear_id, key].spec, position)
        if stands_at not in known[gear_id, key]:
            known[gear_id, key].add(stands_at)
            found.setdefault(gear_id, []).append({"key": key, "stands_at": stands_at, "file_id": file_id})
    return found


def _photo_of_gear(library: Readable, photo_id: int) -> Photo:
    photo = read_photo(library, photo_id)
    if photo.gear_id is None:
        raise NotThere("photo of a piece of gear", "Controls are marked in a photo of the gear itself.")
    return photo


def _marked(session: Session, photo_id: int) -> PanelPhoto | None:
    return session.scalars(select(PanelPhoto).where(col(PanelPhoto.photo_id) == photo_id)).first()


def _visible(controls: tuple[LayoutControl, ...]) -> tuple[LayoutControl, ...]:
    return tuple(control for control in controls if control.spec.form not in ("number", "text"))


def _stands_alike(control: LayoutControl, marks: Mapping[str, Any]) -> bool:
    """Whether a control is still what it was when it was marked: a layout that no pass has used is changed in place."""
    if control.key not in marks:
        return False
    now, then = control.spec, spec_from_json(marks[control.key]["spec"])
    return (now.form, now.scale, now.travel, now.positions) == (
        then.form,
        then.scale,
        then.travel,
        then.positions,
    )


def _entry(
    controls: tuple[LayoutControl, ...], row: PanelPhoto | None, pinned: Mapping[str, tuple[float, float]]
) -> PanelEntry:
    marks: dict[int, MarkEntry] = {}
    for control in controls:
        kept = {} if row is None else row.marks.get(control.key, {})
        if kept:
            x, y, edge_x, edge_y = (_percent(value) for value in (*kept["centre"], *kept["edge"]))
            marks[control.control_id] = MarkEntry(kept["look"], x, y, edge_x, edge_y, kept["stands"])
        else:
            place = [_percent(value) for value in pinned.get(control.key, ())]
            marks[control.control_id] = MarkEntry(_usual_look(control.spec), *place)
    corners = (
        ("",) * 8 if row is None else tuple(_percent(value) for corner in row.corners for value in corner)
    )
    return PanelEntry(corners, marks)


def _usual_look(spec: ControlSpec) -> str:
    return {"fader": "fader", "switch": "slide"}.get(spec.form, "line")


def _percent(fraction: float) -> str:
    return f"{100 * fraction:.2f}"


def _corners(complaints: Complaints, entry: PanelEntry) -> list[list[float]]:
    """A corner may lie a little outside of the picture."""
    missing = "Mark the four corners of the panel."
    values = [
        _fraction(
            complaints, f"corner-{at // 2}-{'xy'[at % 2]}", text, missing, beyond=CORNERS_BEYOND_PERCENT
        )
        for at, text in enumerate(entry.corners)
    ]
    return [[values[at], values[at + 1]] for at in range(0, 8, 2)]


def _mark(complaints: Complaints, control: LayoutControl, entry: MarkEntry) -> dict[str, Any]:
    at = f"mark-{control.control_id}"
    name = control.spec.name
    x, y, edge_x, edge_y = (
        _fraction(
            complaints,
            f"{at}-{place}",
            getattr(entry, place),
            f"Tap the centre of {name} and drag to its edge.",
        )
        for place in PLACES
    )
    if entry.look not in dict(LOOKS):
        complaints.add(f"{at}-look", f"Choose what {name} looks like.")
    try:
        if read(control.spec, entry.stands).position is None:
            complaints.add(
                f"{at}-stands", f"Say where {name} stands in this picture. {accepts(control.spec)}"
            )
    except UnknownReading as unknown:
        complaints.add(f"{at}-stands", str(unknown))
    return {
        "look": entry.look,
        "centre": [x, y],
        "edge": [edge_x, edge_y],
        "stands": entry.stands.strip(),
        "spec": spec_to_json(control.spec),
    }


def _fraction(complaints: Complaints, at: str, text: str, missing: str, beyond: float = 0.0) -> float:
    if not text.strip():
        complaints.add(at, missing)
        return 0.0
    wanted = "a place in percent, such as 40"
    percent = read_figure(
        complaints, at, text, lambda typed: read_number(typed, "%"), what="a place", wanted=wanted
    )
    if percent is not None and not -beyond <= percent <= 100.0 + beyond:
        complaints.add(at, f"A place in the picture lies between {-beyond:g} and {100 + beyond:g} %.")
    return round((percent or 0.0) / 100.0, 6)


def _refuse_what_cannot_be_read(
    corners: list[list[float]], marks: Mapping[str, Any], controls: tuple[LayoutControl, ...]
) -> None:
    marked = [control for control in controls if control.key in marks]
    try:
        reference_of({"photos": [{"path": "", **_described(corners, marks, marked)}]}, Path())
    except UnusableReference as unusable:
        raise Refusal({"": str(unusable).replace("In photo 1 ", "").capitalize()}) from unusable


def _described(
    corners: list[list[float]], marks: Mapping[str, Any], controls: list[LayoutControl]
) -> dict[str, Any]:
    return {
        "corners": corners,
        "controls": [_control_described(control, marks[control.key]) for control in controls],
    }


def _control_described(control: LayoutControl, mark: Mapping[str, Any]) -> dict[str, Any]:
    spec, look = control.spec, mark["look"]
    position = read(spec, mark["stands"]).position or 0.0
    kind = look if look in NOT_KNOBS else "knob"
    described: dict[str, Any] = {"key": control.key, "kind": kind}
    if kind == "fader":
        return described | {"ends": [mark["centre"], mark["edge"]], "stands_at": position}
    described |= {"centre": mark["centre"], "edge": mark["edge"]}
    if kind == "knob":
        return described | {
            "mark": look,
            "stands_at": angle_deg(spec.travel, position),
            "travel_degrees": [spec.travel.start_deg, spec.travel.end_deg],
        }
    return described | {"stands_at": _state_at(spec, position)}


def _state_at(spec: ControlSpec, position: float) -> int:
    return round(position * (len(spec.positions) - 1 if spec.form in STEPPED_FORMS else 1))
