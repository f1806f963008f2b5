import io

import pytest
from pypdf import PdfReader
from small_session import SmallSession
from starlette.testclient import TestClient

from app.desk.passes.notes import RatingEntry, rate_pass
from app.desk.passes.pass_sheets import read_pass
from app.desk.photos import pins
from app.desk.photos.pins import PinEntry, pins_of_pass, put_pin, read_pins, take_pin_out
from app.desk.refusals import NotThere, Refusal
from app.desk.shelf import gear
from app.library import Library


def choice_of(library: Library, photo_id: int, words: str) -> str:
    return next(value for value, said in read_pins(library, photo_id).choices if words in said)


def test_a_pin_says_how_its_control_stood(filled: Library, session: SmallSession) -> None:
    photo = session.photos[0]
    put_pin(filled, photo, PinEntry(choice_of(filled, photo, "Tone"), "25", "60 %"))
    (pin,) = read_pins(filled, photo).pins
    assert (pin.gear_name, pin.control_name, pin.reading) == ("15-watt valve combo", "Tone", "half past 2")
    assert (pin.x, pin.y) == (0.25, 0.6)
    assert pins_of_pass(filled, read_pass(filled, session.passes[0])) == {photo: (pin,)}


def test_the_recall_sheet_in_pdf_carries_pins_rating_tags_and_what_differs(
    filled_client: TestClient, filled: Library, session: SmallSession
) -> None:
    photo = session.photos[0]
    put_pin(filled, photo, PinEntry(choice_of(filled, photo, "Tone"), "25", "60"))
    rate_pass(filled, session.passes[0], RatingEntry("4", "invented, dark"))
    answer = filled_client.get(f"/passes/{session.passes[0]}/recall.pdf")
    said = " ".join(
        word for page in PdfReader(io.BytesIO(answer.content)).pages for word in page.extract_text().split()
    )
    assert "1 15-watt valve combo: Tone half past 2" in said
    assert "Rating 4 of 5" in said
    assert "Tags dark, invented" in said
    assert "from how this gear was last logged" in said


def test_a_control_has_one_pin_in_a_photo(filled: Library, session: SmallSession) -> None:
    photo = session.photos[0]
    control = choice_of(filled, photo, "Tone")
    put_pin(filled, photo, PinEntry(control, "25", "60"))
    put_pin(filled, photo, PinEntry(control, "30", "60"))
    (pin,) = read_pins(filled, photo).pins
    assert pin.x == 0.3
    assert take_pin_out(filled, pin.pin_id) == photo
    assert read_pins(filled, photo).pins == ()
    with pytest.raises(NotThere):
        take_pin_out(filled, pin.pin_id)


def test_a_photo_of_gear_shows_its_controls(filled: Library, session: SmallSession) -> None:
    photo = session.photos[2]
    put_pin(filled, photo, PinEntry(choice_of(filled, photo, "Fuzz"), "0", "100"))
    assert [(pin.control_name, pin.reading) for pin in read_pins(filled, photo).pins] == [("Fuzz", "")]


@pytest.mark.parametrize(
    ("entry", "field"),
    [
        (PinEntry("1:nothing", "10", "10"), "control"),
        (PinEntry("", "10", "10"), "control"),
        (PinEntry("x", "left", "10"), "x"),
        (PinEntry("x", "10", "101"), "y"),
        (PinEntry("x", "nan", "10"), "x"),
    ],
)
def test_a_pin_that_cannot_be_is_refused_at_its_field(
    filled: Library, session: SmallSession, entry: PinEntry, field: str
) -> None:
    with pytest.raises(Refusal) as refused:
        put_pin(filled, session.photos[0], entry)
    assert field in refused.value.sentences


def test_the_pin_of_a_control_that_left_the_gear_is_not_shown(filled: Library, session: SmallSession) -> None:
    photo = session.photos[2]
    pins.put_pin(filled, photo, PinEntry(choice_of(filled, photo, "Fuzz"), "5", "5"))
    entry = gear.gear_entry(filled, session.fuzz)
    gear.edit_gear(filled, session.fuzz, type(entry)(entry.name, entry.kind, entry.notes, ()))
    assert read_pins(filled, photo).pins == ()
