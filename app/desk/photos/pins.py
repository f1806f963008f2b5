"""Pins in a photo: where a control is to be seen, with how it stood."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session
from sqlmodel import col

from app.desk.passes.pass_sheets import PassSheet, read_pass_sheets
from app.desk.photos.photos import read_photo
from app.desk.refusals import Complaints
from app.desk.rows import row_of
from app.desk.shelf.gear import newest_layout, read_controls
from app.desk.typed_figures import read_figure
from app.desk.wording import number_in
from app.library import Library, Readable
from app.records import Gear, Pass, Photo, PhotoPin, SourceTrack
from app.trade.readings import read_number


@dataclass(frozen=True)
class PinEntry:
    """A pin as typed: `control` is "gear id:control key", the place in percent from the left and from the top."""

    control: str = ""
    x: str = ""
    y: str = ""


@dataclass(frozen=True)
class PinLine:
    """`x` and `y` are fractions of the picture; `reading` is empty where the control was not noted."""

    pin_id: int
    number: int
    gear_name: str
    control_name: str
    reading: str
    x: float
    y: float


@dataclass(frozen=True)
class PinSheet:
    """A photo with its pins; `choices` are the controls that it could show, as (value, words). `back_to`
    names the pass or the piece of gear that it is of."""

    photo_id: int
    caption: str
    width: int
    height: int
    back: str
    back_to: str
    pins: tuple[PinLine, ...]
    choices: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class _Known:
    gear_name: str
    control_name: str
    reading: str


def read_pins(library: Readable, photo_id: int) -> PinSheet:
    photo = read_photo(library, photo_id)
    with library.reading() as session:
        known = _controls_of(session, photo)
        pins = _pins(session, [photo_id], known).get(photo_id, ())
        back_to = _whose(session, photo)
    back = f"/passes/{photo.pass_id}#photos" if photo.pass_id is not None else f"/gear/{photo.gear_id}#photos"
    choices = tuple(
        (
            f"{gear_id}:{key}",
            f"{item.gear_name}: {item.control_name}" + (f", {item.reading}" if item.reading else ""),
        )
        for (gear_id, key), item in known.items()
    )
    return PinSheet(photo_id, photo.caption, photo.width, photo.height, back, back_to, pins, choices)


def _whose(session: Session, photo: Photo) -> str:
    if photo.pass_id is None:
        gear = session.get(Gear, photo.gear_id)
        return "" if gear is None else gear.name
    row = session.get_one(Pass, photo.pass_id)
    return f"Pass {row.number} of {session.get_one(SourceTrack, row.source_id).name}"


def pins_of_pass(library: Readable, sheet: PassSheet) -> dict[int, tuple[PinLine, ...]]:
    """By photo id the pins of a pass's photos, for the recall sheet."""
    with library.reading() as session:
        return _pins(session, [photo.photo_id for photo in sheet.photos], _controls_in(sheet))


def put_pin(library: Library, photo_id: int, entry: PinEntry) -> None:
    """Put a control's pin into a photo, or move it there. Raises Refusal."""
    photo = read_photo(library, photo_id)
    complaints = Complaints()
    x, y = (_fraction(complaints, name, getattr(entry, name)) for name in ("x", "y"))
    gear, _, key = entry.control.partition(":")
    with library.writing() as session:
        known = _controls_of(session, photo)
        gear_id = number_in(gear) or 0
        if (gear_id, key) not in known:
            complaints.add("control", "Choose the control that is to be seen here.")
        complaints.refuse_if_any()
        assert x is not None
        assert y is not None
        there = session.scalars(
            select(PhotoPin).where(
                col(PhotoPin.photo_id) == photo_id,
                col(PhotoPin.gear_id) == gear_id,
                col(PhotoPin.control_key) == key,
            )
        ).first()
        if there is None:
            session.add(PhotoPin(photo_id=photo_id, gear_id=gear_id, control_key=key, x=x, y=y))
        else:
            there.x, there.y = x, y


def take_pin_out(library: Library, pin_id: int) -> int:
    """Returns its photo."""
    with library.writing() as session:
        pin = row_of(session, PhotoPin, pin_id, "pin")
        session.delete(pin)
        return pin.photo_id


def _fraction(complaints: Complaints, at: str, text: str) -> float | None:
    wanted = "a place in percent, such as 40"
    percent = read_figure(
        complaints,
        at,
        text,
        lambda typed: read_number(typed, "%"),
        what="a place",
        wanted=wanted,
        required=True,
    )
    if percent is not None and not 0.0 <= percent <= 100.0:
        complaints.add(at, "A place in the picture lies between 0 and 100 %.")
        return None
    return None if percent is None else percent / 100.0


def _controls_of(session: Session, photo: Photo) -> dict[tuple[int, str], _Known]:
    """What a photo could show: the controls of the pass's chain as they stood, or of the piece of gear."""
    if photo.pass_id is not None:
        (sheet,) = read_pass_sheets(session, col(Pass.id) == photo.pass_id)
        return _controls_in(sheet)
    assert photo.gear_id is not None  # a photo is of one or the other
    layout = newest_layout(session, photo.gear_id)
    return {
        (photo.gear_id, control.key): _Known(layout.gear_name, control.spec.name, "")
        for control in read_controls(session, [layout.id]).get(layout.id, ())
    }


def _controls_in(sheet: PassSheet) -> dict[tuple[int, str], _Known]:
    return {
        (step.gear_id, line.key): _Known(step.gear_name, line.name, line.reading)
        for step in sheet.steps
        for line in step.settings
    }


def _pins(
    session: Session, photo_ids: Collection[int], known: Mapping[tuple[int, str], _Known]
) -> dict[int, tuple[PinLine, ...]]:
    """By photo, numbered in the order they were put; a photo without any is left out."""
    rows = session.scalars(
        select(PhotoPin).where(col(PhotoPin.photo_id).in_(photo_ids)).order_by(col(PhotoPin.id))
    )
    found: dict[int, tuple[PinLine, ...]] = {}
    for row in rows:
        item = known.get((row.gear_id, row.control_key))
        if item is not None:
            before = found.get(row.photo_id, ())
            pin = PinLine(
                row.id, len(before) + 1, item.gear_name, item.control_name, item.reading, row.x, row.y
            )
            found[row.photo_id] = (*before, pin)
    return found
