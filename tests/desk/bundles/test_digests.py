"""What a row says, as a hash, stays the same hash whatever a later version can say besides."""

import hashlib
import json
from datetime import UTC, datetime
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import create_model

from app.desk.bundles import document as published
from app.desk.bundles.digests import FIRST_FIELDS, digest, is_digest_of
from app.desk.bundles.document import (
    AudioFile,
    GearRow,
    LayoutRow,
    Part,
    PassRow,
    PlacementRow,
    PrintRow,
    ProjectRow,
    Row,
    SettingRow,
    StepRow,
)

AT = datetime(2026, 1, 2, 3, 4, 5, tzinfo=UTC)
HEAD: dict[str, Any] = {"uid": "a" * 32, "created_at": AT}
WAV = AudioFile(sha256="f" * 64, bytes=4400, media_type="audio/wav", file_name="take.wav")
STEP: dict[str, Any] = {
    "gear_uid": "c" * 32,
    "layout_uid": "d" * 32,
    "settings": [SettingRow(control="drive", reading="noon", position=0.5)],
    "placement": PlacementRow(distance_mm=25.0, speaker="left"),
}
PASS = PassRow(
    **HEAD, source_uid="b" * 32, number=3, notes="louder", rating=4, tags=["loud"], steps=[StepRow(**STEP)]
)
PROJECT = ProjectRow(**HEAD, title="Boathouse", sample_rate=48_000)
PRINT = PrintRow(**HEAD, pass_uid="b" * 32, file=WAV, figures={"level": {"peak_dbfs": -3.0}})

FROZEN = {
    "project": (
        PROJECT,
        "2:e0c623f33a0c12e5a7b0c2d81a3752a806e37bf3cd026961e00f289068b83198",
        "8939208505e9c4b7c0ca63b7ed02b6d26dc8064d48fb9cdb1f23dc478ad120fa",
    ),
    "pass": (
        PASS,
        "2:73653723bb3c0bcc99b507603c4030f26a959d842a712b0045a504d459af198f",
        "88cae8d1736dfb14c91d3396f039ccbe860b46bfa86a94acf179053341eb66af",
    ),
    "print": (
        PRINT,
        "2:93a2a7081ca1d37db06fbd4c46378e7729b7fabdd82e94255769c9702982ab65",
        "9dc813a8519e644e519cb47bb1e06a9ce2af7a0727a8983e11f1cf35748e6b97",
    ),
}
"""A row, its digest, and that of the first form, which hashed whatever could be said and began with nothing."""


@pytest.mark.parametrize("row", FROZEN.values(), ids=FROZEN.keys())
def test_digests_are_what_they_were(row: tuple[Row, str, str]) -> None:
    said, now, at_first = row
    assert digest(said) == now
    assert is_digest_of(now, said)
    assert is_digest_of(at_first, said), "those kept by the first form count on"


def test_no_digest_is_that_of_another_row() -> None:
    for said, now, at_first in FROZEN.values():
        for other, _, _ in FROZEN.values():
            if other is not said:
                assert not is_digest_of(now, other)
                assert not is_digest_of(at_first, other)
    assert not is_digest_of(None, PROJECT)


def younger(kind: type[Part], default: Any) -> Any:
    """The same part of the document, as a later version publishes it: with one field more, which may be absent."""
    return create_model(kind.__name__, __base__=kind, added_later=(type(default) | None, default))


@pytest.mark.parametrize("default", ["", 0.0, False, [], None, "as before"])
@given(notes=st.text(max_size=20), title=st.text(max_size=20), rating=st.none() | st.integers(1, 5))
def test_a_field_that_may_be_absent_changes_no_digest(
    default: object, notes: str, title: str, rating: int | None
) -> None:
    said = PASS.model_dump() | {"notes": notes, "title": title, "rating": rating}
    before = PassRow(**said)
    later_steps = [
        younger(StepRow, default)(
            **step
            | {
                "settings": [younger(SettingRow, default)(**line) for line in step["settings"]],
                "placement": younger(PlacementRow, default)(**step["placement"]),
            }
        )
        for step in said["steps"]
    ]
    after = younger(PassRow, default)(**said | {"steps": later_steps})
    assert digest(after) == digest(before)
    assert is_digest_of(digest(before), after)
    assert is_digest_of(_at_first(before), after)


def test_a_younger_field_that_says_something_is_a_change() -> None:
    after = younger(ProjectRow, "")(**PROJECT.model_dump(), added_later="in a church")
    for kept in FROZEN["project"][1:]:
        assert not is_digest_of(kept, after)


def test_what_a_control_or_a_socket_does_not_say_changes_no_digest() -> None:
    """They are written by the trade's own forms, which grow as well."""
    port = {"key": "out", "direction": "out", "max_dbu": 18.0}
    said = {**HEAD, "gear_uid": "c" * 32, "version": 1, "gear_name": "box", "kind": "di_box"}
    before = LayoutRow(**said, ports=[port], facts={"valve": False})
    after = LayoutRow(
        **said,
        ports=[port | {"colour": None, "also": [], "words": ""}],
        facts={"valve": False, "weight": None},
    )
    assert digest(after) == digest(before)
    assert digest(LayoutRow(**said, ports=[port], facts={})) != digest(before), "no is something said"


@given(st.sampled_from(["notes", "name", "kind"]), st.text(min_size=1, max_size=20))
def test_whatever_is_said_otherwise_is_another_digest(field: str, words: str) -> None:
    row = GearRow(**HEAD, kind="pedal", name="fuzz", notes="an old one")
    other = row.model_copy(update={field: words})
    assert (digest(other) == digest(row)) == (other == row)


def test_the_first_form_names_only_what_is_published() -> None:
    for name, fields in FIRST_FIELDS.items():
        assert fields <= set(getattr(published, name).model_fields), name


def _at_first(row: Row) -> str:
    """As the first form reckoned it, which knew the fields of its day."""
    known = FIRST_FIELDS[type(row).__name__] - {"uid", "created_at", *type(row).NOT_COMPARED}
    said = row.model_dump(mode="json", include=set(known))
    for step in said.get("steps", ()):
        step["settings"] = [
            {name: value for name, value in line.items() if name in FIRST_FIELDS["SettingRow"]}
            for line in step["settings"]
        ]
    return hashlib.sha256(json.dumps(said, sort_keys=True).encode()).hexdigest()
