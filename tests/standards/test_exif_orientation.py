"""Exif tag 0x0112, Orientation (JEITA CP-3451): how stored pixels are turned to be displayed."""

from __future__ import annotations

import io
from pathlib import Path

import pillow_heif
import pytest
from PIL import Image

from app.desk.files.pictures import clean_picture
from tests.standards.rows import FILES

pillow_heif.register_heif_opener()

BLOCK_PX = 32
GREYS = {1: 20, 2: 60, 3: 100, 4: 150, 5: 200, 6: 250}
STORED = [[1, 2], [3, 4], [5, 6]]

# From the standard's definition: where row 0 and column 0 of the stored pixels belong on the display.
DISPLAYED = {
    1: [[1, 2], [3, 4], [5, 6]],  # top / left
    2: [[2, 1], [4, 3], [6, 5]],  # top / right
    3: [[6, 5], [4, 3], [2, 1]],  # bottom / right
    4: [[5, 6], [3, 4], [1, 2]],  # bottom / left
    5: [[1, 3, 5], [2, 4, 6]],  # left / top
    6: [[5, 3, 1], [6, 4, 2]],  # right / top
    7: [[6, 4, 2], [5, 3, 1]],  # right / bottom
    8: [[2, 4, 6], [1, 3, 5]],  # left / bottom
}


def stored_picture() -> Image.Image:
    picture = Image.new("RGB", (2 * BLOCK_PX, 3 * BLOCK_PX))
    for row, numbers in enumerate(STORED):
        for column, number in enumerate(numbers):
            grey = GREYS[number]
            picture.paste((grey, grey, grey), (column * BLOCK_PX, row * BLOCK_PX, *_end(column, row)))
    return picture


def _end(column: int, row: int) -> tuple[int, int]:
    return (column + 1) * BLOCK_PX, (row + 1) * BLOCK_PX


def blocks(jpeg: bytes) -> list[list[int]]:
    """Which numbered block each displayed block is, by its grey."""
    picture = Image.open(io.BytesIO(jpeg)).convert("L")
    columns, rows = picture.width // BLOCK_PX, picture.height // BLOCK_PX
    middle = BLOCK_PX // 2

    def number(column: int, row: int) -> int:
        grey = picture.getpixel((column * BLOCK_PX + middle, row * BLOCK_PX + middle))
        assert isinstance(grey, int)
        return min(GREYS, key=lambda candidate: abs(GREYS[candidate] - grey))

    return [[number(column, row) for column in range(columns)] for row in range(rows)]


@pytest.mark.parametrize("suffix", ["jpg", "png", "webp"])
@pytest.mark.parametrize("orientation", DISPLAYED)
def test_a_stored_photo_is_displayed_as_its_orientation_says(
    tmp_path: Path, orientation: int, suffix: str
) -> None:
    exif = Image.Exif()
    exif[0x0112] = orientation
    photo = tmp_path / f"photo.{suffix}"
    stored_picture().save(photo, exif=exif)

    clean = clean_picture(photo)

    FILES.hold(
        f"picture of orientation {orientation}, rows as displayed",
        [f"{row}" for row in blocks(clean.shown)],
        [f"{row}" for row in DISPLAYED[orientation]],
        source="Exif, JEITA CP-3451, tag 0x0112",
    )
    assert blocks(clean.thumbnail) == DISPLAYED[orientation]
    assert (clean.width, clean.height) == (
        len(DISPLAYED[orientation][0]) * BLOCK_PX,
        len(DISPLAYED[orientation]) * BLOCK_PX,
    )


@pytest.mark.parametrize("orientation", DISPLAYED)
def test_a_heic_photo_stands_as_its_own_transforms_say(tmp_path: Path, orientation: int) -> None:
    """ISO/IEC 23008-12 puts the turn into item properties; a reader must not turn once more by Exif.

    The encoder writes both, as phones do.
    """
    exif = Image.Exif()
    exif[0x0112] = orientation
    photo = tmp_path / "photo.heic"
    stored_picture().save(photo, exif=exif.tobytes(), quality=90)

    assert blocks(clean_picture(photo).shown) == DISPLAYED[orientation]


@pytest.mark.parametrize("orientation", [0, 9, 255])
def test_an_orientation_the_standard_does_not_know_turns_nothing(tmp_path: Path, orientation: int) -> None:
    exif = Image.Exif()
    exif[0x0112] = orientation
    photo = tmp_path / "photo.jpg"
    stored_picture().save(photo, exif=exif)

    assert blocks(clean_picture(photo).shown) == STORED
