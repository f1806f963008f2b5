"""What a row of a document says, as a hash: so that a later bundle can tell on which side it was changed.

Only what was set is hashed. A field that may be absent can so be added to the document without every row of every
library seeming changed by it.
"""

import hashlib
import json
from collections.abc import Mapping
from typing import Any

from pydantic import BaseModel

from app.desk.bundles.document import Row

FORM = "2:"
"""What a digest as it is kept begins with. Those of the first form begin with nothing: they hashed defaults too."""

FIRST_FIELDS: dict[str, frozenset[str]] = {
    name: frozenset(fields.split())
    for name, fields in {
        "AudioFile": "sha256 bytes media_type file_name",
        "ProjectRow": "uid created_at title artist sample_rate notes print_name_pattern",
        "GearRow": "uid created_at kind name notes",
        "ControlRow": "key spec",
        "LayoutRow": "uid created_at gear_uid version gear_name kind controls ports facts",
        "SourceRow": "uid created_at name instrument recorded_with gain tuning notes file",
        "SettingRow": "control reading position value approximate",
        "PlacementRow": (
            "speaker distance_mm offset_mm angle_deg height_mm pattern pad_db low_cut_hz preamp gain note"
        ),
        "StepRow": "gear_uid layout_uid branch settings placement",
        "BlendRow": "print_uid gain_db nudge_samples inverted",
        "PassRow": (
            "uid created_at source_uid number title notes hook_up levels rating tags steps hook_up_plan "
            "level_inputs blend"
        ),
        "PrintRow": "uid created_at pass_uid gear_uid label file balance_db figures",
        "KeeperRow": "uid created_at pass_uid part reason",
        "PinRow": "gear_uid control x y",
        "PhotoRow": "uid created_at pass_uid gear_uid caption sha256 path pins",
        "NoteRow": "uid created_at pass_uid words",
    }.items()
}
"""The fields that digests of the first form hashed. Nothing is ever added here."""


def digest(row: Row) -> str:
    """What the row says, as a hash that is told from those of other forms."""
    said = row.model_dump(mode="json", exclude=_not_compared(row), exclude_defaults=True)
    return FORM + _hash({name: _without_nothing(value) for name, value in _without_evidence(said).items()})


def is_digest_of(kept: str | None, row: Row) -> bool:
    """Whether a digest of whichever form says what the row says."""
    if kept is None:
        return False
    return kept == (digest(row) if kept.startswith(FORM) else _first_digest(row))


def _first_digest(row: Row) -> str:
    said = row.model_dump(mode="json", exclude=_not_compared(row))
    return _hash(_without_evidence(_as_first(row, said)))


def _without_evidence(said: dict[str, Any]) -> dict[str, Any]:
    """The same without the pictures by which settings were confirmed: they stay behind where photos are left out."""
    for step in said.get("steps", ()):
        for setting in step.get("settings", ()):
            setting.pop("crop", None)
    return said


def _not_compared(row: Row) -> set[str]:
    return {"uid", "created_at", *type(row).NOT_COMPARED}


def _hash(said: Mapping[str, Any]) -> str:
    return hashlib.sha256(json.dumps(said, sort_keys=True).encode()).hexdigest()


def _without_nothing(said: Any) -> Any:
    """The same without what says nothing (null, no words, an empty list), which whatever was written before a field
    was known of a control, a socket or a plan leaves out altogether."""
    match said:
        case dict():
            told = {key: _without_nothing(value) for key, value in said.items()}
            return {key: value for key, value in told.items() if value not in (None, "", [])}
        case list():
            return [_without_nothing(item) for item in said]
        case _:
            return said


def _as_first(part: BaseModel, said: Mapping[str, Any]) -> dict[str, Any]:
    """What was dumped of a part, without fields that are younger than the first form and say nothing."""
    fields = type(part).model_fields
    first = FIRST_FIELDS.get(type(part).__name__, frozenset())
    kept = {}
    for name, value in said.items():
        own = getattr(part, name)
        if name in first or own != fields[name].get_default(call_default_factory=True):
            kept[name] = _as_first_value(own, value)
    return kept


def _as_first_value(own: Any, said: Any) -> Any:
    if isinstance(own, BaseModel):
        return _as_first(own, said)
    if isinstance(own, list):
        return [_as_first_value(item, value) for item, value in zip(own, said, strict=True)]
    return said
