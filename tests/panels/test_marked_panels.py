"""The description of a panel: what it may say, and the sentence for what it may not."""

import json
from pathlib import Path
from typing import Any

import pytest

from app.panels.reference import UnusableReference, load_reference, reference_of

KNOB = {"key": "gain", "kind": "knob", "mark": "line", "centre": [50, 50], "edge": [70, 50], "stands_at": -30}
PHOTO = {"path": "front.jpg", "corners": [[0, 0], [200, 0], [200, 100], [0, 100]], "controls": [KNOB]}


def test_paths_are_relative_to_the_description_and_travel_has_a_usual_value(tmp_path: Path) -> None:
    described = tmp_path / "panel.json"
    described.write_text(json.dumps({"photos": [PHOTO]}))
    (photo,) = load_reference(described).photos
    assert photo.path == tmp_path / "front.jpg"
    assert photo.controls[0].travel_degrees == (-150.0, 150.0)


def test_a_fader_stands_between_its_ends() -> None:
    fader = {"key": "level", "kind": "fader", "ends": [[10, 90], [10, 10]], "stands_at": 0.25}
    (photo,) = reference_of({"photos": [{**PHOTO, "controls": [fader]}]}, Path()).photos
    assert photo.controls[0].centre == (10, 70)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"corners": [[0, 0], [0, 100], [200, 100], [200, 0]]}, "do not go clockwise"),
        ({"corners": [[0, 0], [200, 100], [200, 0], [0, 100]]}, "do not go clockwise"),
        ({"corners": [[0, 0], [1, 1]]}, "four corners"),
        ({"controls": []}, "no control is marked"),
        ({"controls": [KNOB, KNOB]}, "same key"),
        ({"controls": [{**KNOB, "kind": "crank"}]}, "of no kind that can be read"),
        ({"controls": [{**KNOB, "mark": "smudge"}]}, "no mark that is known"),
        ({"controls": [{**KNOB, "edge": [50, 50]}]}, "edge at its centre"),
        ({"controls": [{**KNOB, "stands_at": "noon"}]}, "where a number belongs"),
        ({"controls": [{**KNOB, "stands_at": True}]}, "where a number belongs"),
        ({"controls": [{**KNOB, "travel_degrees": [150, -150]}]}, "clockwise"),
        ({"controls": [{"key": "level", "kind": "fader", "stands_at": 0.5}]}, "two ends"),
        (
            {"controls": [{"key": "level", "kind": "fader", "ends": [[0, 0], [0, 9]], "stands_at": 5}]},
            "0 to 1",
        ),
        ({"path": None}, "path of its picture"),
    ],
)
def test_what_cannot_be_used_gets_a_sentence(change: dict[str, Any], says: str) -> None:
    with pytest.raises(UnusableReference, match=says):
        reference_of({"photos": [{**PHOTO, **change}]}, Path())


@pytest.mark.parametrize("document", [None, [], {}, {"photos": []}, {"photos": {}}])
def test_a_description_without_photos_is_refused(document: Any) -> None:
    with pytest.raises(UnusableReference, match="no photos"):
        reference_of(document, Path())


def test_one_control_is_of_one_kind() -> None:
    other = {**PHOTO, "controls": [{**KNOB, "kind": "lamp"}]}
    with pytest.raises(UnusableReference, match="a knob in one photo and a lamp in another"):
        reference_of({"photos": [PHOTO, other]}, Path())
