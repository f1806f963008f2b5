"""The process that reads a photo of a panel: `python -m app.desk.processes.reading_panels`, told the photo and those it is read
against, answers with what `dialback read-photo --json` prints, and a crop of each control.

The pictures that are shown are read, for they stand upright and places in them were marked; the originals tell their lens."""

import base64
import json
from pathlib import Path
from typing import Any

import cv2

from app.desk.child_processes import Out, carry_out
from app.panels.picture import UnreadablePhoto, open_picture, told_focal
from app.panels.read import document_of, prepare, read_photo
from app.panels.reference import UnusableReference, reference_of

_QUALITY = 85


def read(told: dict[str, Any], out: Out) -> None:
    reference = reference_of({"photos": [_in_pixels(photo) for photo in told["photos"]]}, Path())
    picture = open_picture(Path(told["photo"]), told_focal(Path(told["original"])))
    reading = read_photo(prepare(reference), picture)
    document: dict[str, Any] = document_of(reading)
    for said, control in zip(document["controls"], reading.controls, strict=True):
        if control.crop is not None:
            stored = cv2.imencode(".jpg", control.crop[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, _QUALITY])[1]
            said["crop"] = base64.b64encode(stored.tobytes()).decode()
    out.write(json.dumps(document).encode())


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
    carry_out(read, UnreadablePhoto, UnusableReference)
