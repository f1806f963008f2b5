"""A photo of a panel is read against photos in which its controls were marked. Rendered ones: real ones are not ours to keep."""

import io
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from app.demo import panel as drawn
from app.panels.confidence import SURE, chance_of_state
from app.panels.picture import UnreadablePhoto, open_picture
from app.panels.read import PanelReading, prepare, read_photo
from app.panels.reference import reference_of
from app.panels.states import StateReading
from tests.panels.conftest import ALONE, Pictures
from tests.panels.rendered.photographed import Photo
from tests.panels.rendered.sets import is_on_top


@pytest.fixture(scope="session")
def read(readings: dict[str, PanelReading]) -> PanelReading:
    return readings["ordinary"]


def _off(degrees: float, truth: float) -> float:
    return abs((degrees - truth + 180) % 360 - 180)


def test_knobs_with_their_mark_on_top_are_read_within_five_degrees(
    pictures: Pictures, read: PanelReading
) -> None:
    panel = pictures.labelled.panel
    knobs = [
        control for control in read.controls if control.degrees is not None and is_on_top(panel, control.key)
    ]
    assert len(knobs) >= 3
    for knob in knobs:
        assert _off(knob.degrees or 0, pictures.ordinary.truths[knob.key].stands_at) < 5, knob.key


def test_nothing_is_sure_and_wrong(
    pictures: Pictures, readings: dict[str, PanelReading], read: PanelReading
) -> None:
    for reading, photo in ((read, pictures.ordinary), (readings["hard"], pictures.hard)):
        for key, off in _sure(reading, photo):
            assert off < 10, key
    assert _sure(read, pictures.ordinary), "an ordinary photo has something that is sure"


def _sure(reading: PanelReading, photo: Photo) -> list[tuple[str, float]]:
    """Each control that is said to be read, with degrees, or hundreds of a state, by which it is wrong."""
    found = []
    for control in reading.controls:
        truth = photo.truths[control.key].stands_at
        if control.state == "read" and control.degrees is not None:
            found.append((control.key, _off(control.degrees, truth)))
        elif control.state == "read":
            found.append((control.key, 300 * abs((control.position or 0) - truth)))
    return found


def test_every_control_is_answered_with_a_crop_from_above(pictures: Pictures, read: PanelReading) -> None:
    assert read.panel_found
    assert [control.key for control in read.controls] == [body.key for body in pictures.labelled.panel.bodies]
    for control in read.controls:
        assert control.crop is not None
        assert control.crop.shape == (96, 96, 3)
        assert float(np.std(control.crop)) > 2, "it shows something"


def test_a_second_photo_of_a_reference_at_an_angle_lets_more_be_sure(
    readings: dict[str, PanelReading], read: PanelReading
) -> None:
    assert sum(control.confidence for control in readings[ALONE].controls) < sum(
        control.confidence for control in read.controls
    )


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("foreign", "not recognised"),
        ("mirrored", "mirrored"),
        ("black", "nearly black"),
        ("blurred", "blurred"),
    ],
)
def test_a_photo_that_shows_no_panel_is_told_why_and_read_nothing(
    readings: dict[str, PanelReading], name: str, says: str
) -> None:
    reading = readings[name]
    assert not reading.panel_found
    assert {control.state for control in reading.controls} == {"unseen"}
    assert all(control.degrees is None and control.position is None for control in reading.controls)
    assert says in reading.reasons[-1]


def test_what_lies_outside_of_a_cropped_photo_is_not_seen_and_never_guessed(
    pictures: Pictures, readings: dict[str, PanelReading]
) -> None:
    reading = readings["cropped"]
    width, height = pictures.ordinary.picture.shape[1] // 3, pictures.ordinary.picture.shape[0] // 2
    for control in reading.controls:
        truth = pictures.ordinary.truths[control.key]
        x, y = truth.centre
        if x - truth.radius_px > width or y - truth.radius_px > height:
            assert control.state == "unseen", control.key


def test_a_screenshot_of_a_photo_is_read_as_the_photo_or_left_open_but_never_surely_wrong(
    pictures: Pictures, readings: dict[str, PanelReading]
) -> None:
    """It tells no focal length, and the panel is not where a lens would have it."""
    reading = readings["screenshot"]
    assert reading.panel_found
    for key, off in _sure(reading, pictures.ordinary):
        assert off < 10, key


def test_a_file_that_is_no_photo_is_a_sentence(tmp_path: Path) -> None:
    (tmp_path / "notes.jpg").write_bytes(b"\xff\xd8\xff\xe0 not much of a picture")
    with pytest.raises(UnreadablePhoto, match=r"notes\.jpg cannot be read as a photo"):
        open_picture(tmp_path / "notes.jpg")


def test_a_picture_that_would_fill_the_memory_is_refused_before_it_is_decoded(tmp_path: Path) -> None:
    import struct
    import zlib

    head = struct.pack(">IIBBBBB", 20_000, 20_000, 8, 2, 0, 0, 0)
    chunk = b"IHDR" + head
    data = b"IDAT" + zlib.compress(b"")
    blocks = b"".join(
        struct.pack(">I", len(each) - 4) + each + struct.pack(">I", zlib.crc32(each))
        for each in (chunk, data)
    )
    (tmp_path / "bomb.png").write_bytes(b"\x89PNG\r\n\x1a\n" + blocks)
    with pytest.raises(UnreadablePhoto, match="more than 100 million pixels"):
        open_picture(tmp_path / "bomb.png")


def test_a_photo_held_sideways_is_opened_the_way_up_that_it_is_shown(tmp_path: Path) -> None:
    """Exif (JEITA CP-3451): 6 is shown turned a quarter clockwise, 8 the other way, 3 upside down."""
    from PIL import Image

    stored = np.zeros((300, 400, 3), np.uint8)
    stored[:150, :200] = 255  # its stored top left
    for orientation, corner in ((1, (0, 0)), (6, (0, -1)), (8, (-1, 0)), (3, (-1, -1))):
        exif = Image.Exif()
        exif[0x0112] = orientation
        path = tmp_path / f"{orientation}.png"
        Image.fromarray(stored).save(path, exif=exif)
        assert tuple(open_picture(path).pixels[0, 0]) == (255, 255, 255), (
            "as stored, where nothing else is asked"
        )
        shown = open_picture(path, upright=True)
        assert tuple(shown.pixels[corner]) == (255, 255, 255)
        assert shown.scale == 1.0


def test_identical_knobs_side_by_side_are_told_apart_in_a_heic_that_tells_nothing_of_its_lens(
    tmp_path: Path,
) -> None:
    """The drawn panel of the invented session: six knobs of one kind in a row."""
    import pillow_heif
    from PIL import Image

    stands = dict(zip(drawn.KNOBS, (-140.0, -75.0, -20.0, 35.0, 90.0, 145.0), strict=True))
    (tmp_path / "marked.png").write_bytes(drawn.draw_panel({}))
    picture = Image.open(io.BytesIO(drawn.draw_panel(stands, from_aside=True)))
    pillow_heif.from_pillow(picture).save(tmp_path / "now.heic", quality=80)
    controls = []
    for name in drawn.KNOBS:
        x, y = drawn.centre_of(name)
        controls.append(
            {"key": name, "kind": "knob", "centre": [x, y], "edge": [x + drawn.RADIUS, y], "stands_at": 0.0}
        )
    described = {
        "path": "marked.png",
        "corners": [list(each) for each in drawn.corners()],
        "controls": controls,
    }
    reading = read_photo(
        prepare(reference_of({"photos": [described]}, tmp_path)), open_picture(tmp_path / "now.heic")
    )
    assert reading.panel_found
    for control in reading.controls:
        assert _off(control.degrees or 0.0, stands[control.key]) < 4, control.key
    assert "does not tell its focal length" in reading.reasons[0]


def test_a_fader_that_the_height_of_its_cap_moves_further_than_it_may_be_off_is_looked_at() -> None:
    plain = StateReading(0.4, likeness=0.98, margin=0.5, states_known=2, size_px=240.0, apart=0.02)
    assert chance_of_state("fader", plain) >= SURE
    assert chance_of_state("fader", replace(plain, apart=0.04)) < SURE
