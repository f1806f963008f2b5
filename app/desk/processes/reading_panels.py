"""The process that reads photos of panels: `python -m app.desk.processes.reading_panels`, told on each line a photo and the panels it
is read against. It answers for each panel with what `dialback read-photo --json` prints, and a crop of each control.

Every panel is looked for in a small copy of the photo first, and what is found there is told at once; only then is more looked at
for the others. What was prepared of a panel is kept, for the next photo and on the disk.

The original is read, for it has the most pixels and tells its lens, the way up that it is shown. Panels were marked in pictures as
they are shown.
"""

import base64
import json
import logging
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import cv2

from app.desk import child_processes
from app.desk.child_processes import Out
from app.panels.picture import Picture, UnreadablePhoto, open_picture, told_focal
from app.panels.read import (
    NOT_IN_IT,
    PanelReading,
    PreparedPanel,
    document_of,
    not_found,
    prepare,
    read_found,
)
from app.panels.reference import UnusableReference, reference_of
from app.panels.registration import SearchedPhoto, find_panel, grey_of

MOST_MEMORY_BYTES = 2 << 30
MOST_PREPARED = 6
_QUALITY = 85
log = logging.getLogger(__name__)


class Panels:
    """The panels that photos are read against, prepared once. Those used last are kept."""

    def __init__(self) -> None:
        self._known: dict[str, PreparedPanel] = {}

    def prepared(self, asked: dict[str, Any], kept: Path) -> PreparedPanel:
        """Raises UnusableReference, UnreadablePhoto, OSError."""
        key = json.dumps([asked["photos"], asked["states"]], sort_keys=True)
        panel = self._known.pop(key, None)
        if panel is None:
            photos = [_in_pixels(photo) for photo in asked["photos"]]
            reference = reference_of({"photos": photos, "states": asked["states"]}, Path())
            panel = prepare(reference, kept)
        self._known[key] = panel
        while len(self._known) > MOST_PREPARED:
            self._known.pop(next(iter(self._known)))
        return panel


def run(out: Out) -> None:
    panels = Panels()
    while line := sys.stdin.buffer.readline():
        read(json.loads(line), panels, out)


def read(order: dict[str, Any], panels: Panels, out: Out) -> None:
    """Answer one order: a message for each panel, and one that says that all is said."""
    rows = {panel["row"]: panel for panel in order["panels"]}
    try:
        picture = open_picture(Path(order["original"]), upright=True)
    except (UnreadablePhoto, OSError) as error:
        for row in rows:
            out.say(row=row, refused=_sentence(error))
    else:
        for row, reading in _readings(picture, rows, panels, Path(order["kept"])):
            if isinstance(reading, str):
                out.say(row=row, refused=reading)
            else:
                out.answer(json.dumps(_said(reading)).encode(), row=row)
    out.say(done=True)


def _readings(
    picture: Picture, rows: dict[int, dict[str, Any]], panels: Panels, kept: Path
) -> Iterator[tuple[int, PanelReading | str]]:
    """What was read for each row, or the sentence that says why nothing was."""
    cv2.setNumThreads(1)
    photo = SearchedPhoto(grey_of(picture.pixels))
    left: dict[int, PreparedPanel] = {}
    is_any_found = False
    for row, asked in rows.items():
        try:
            left[row] = panels.prepared(asked, kept)
        except Exception as error:
            yield row, _sentence(error)
    for side_px in photo.sides_px():
        for row, panel in list(left.items()):
            try:
                found = find_panel(list(panel.laid), panel.size, photo, (side_px,))
                if found is not None:
                    is_any_found = True
                    yield row, read_found(left.pop(row), picture, found)
            except Exception as error:
                left.pop(row, None)
                yield row, _sentence(error)
    for row, panel in left.items():
        yield row, not_found(panel, photo, NOT_IN_IT if is_any_found else "")


def _sentence(error: Exception) -> str:
    """For one piece of gear; the others are read all the same."""
    if isinstance(error, UnreadablePhoto | UnusableReference):
        return str(error)
    if isinstance(error, FileNotFoundError):
        return "A photo that this one is read against is missing from the library folder."
    if isinstance(error, OSError):
        return f"The photo's file could not be read ({error.strerror})."
    log.exception("A photo was not read for one piece of gear.", exc_info=error)
    return "Dialback failed at this photo, which is a fault of its own; its log says more."


def _said(reading: PanelReading) -> dict[str, Any]:
    document: dict[str, Any] = document_of(reading)
    for said, control in zip(document["controls"], reading.controls, strict=True):
        if control.crop is not None:
            stored = cv2.imencode(".jpg", control.crop[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, _QUALITY])[1]
            said["crop"] = base64.b64encode(stored.tobytes()).decode()
    return document


def _in_pixels(photo: dict[str, Any]) -> dict[str, Any]:
    wide, high = photo["size"]

    def pixel(place: list[float]) -> list[float]:
        return [place[0] * wide, place[1] * high]

    controls = []
    for control in photo["controls"]:
        places: dict[str, Any] = {at: pixel(control[at]) for at in ("centre", "edge") if at in control}
        if "ends" in control:
            places["ends"] = [pixel(end) for end in control["ends"]]
        controls.append(control | places)
    return {
        "path": photo["path"],
        "corners": [pixel(corner) for corner in photo["corners"]],
        "controls": controls,
        "focal_35mm": told_focal(Path(photo["original"])),
    }


if __name__ == "__main__":
    child_processes.keep_within(MOST_MEMORY_BYTES)
    run(Out(child_processes.own_output()))
