"""What a bundle says of a project: `session.json`, whose JSON Schema is made from these models.

Rows are known by their uid, which is the same in every library they have been handed on to, and refer to each other by
it. A later version may add fields; one that reads version 1 can read every document that says version 1.
"""

import json
from collections.abc import Iterator
from typing import Annotated, Any, ClassVar, Literal

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, StringConstraints

VERSION = 1

Uid = Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{32}$")]
Hash = Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{64}$")]
Line = Annotated[str, StringConstraints(max_length=500)]
Text = Annotated[str, StringConstraints(max_length=20_000)]
Number = Annotated[float, Field(allow_inf_nan=False)]
Fraction = Annotated[float, Field(ge=0, le=1)]


class Part(BaseModel):
    """A part of the document. Unknown fields are left out, so that a newer version's additions do no harm."""

    model_config = ConfigDict(frozen=True, extra="ignore")


class Row(Part):
    """A row that both sides may change. `NOT_COMPARED` are the fields that may differ without the row having changed."""

    noun: ClassVar[str]
    NOT_COMPARED: ClassVar[frozenset[str]] = frozenset()

    uid: Uid
    created_at: AwareDatetime


class AudioFile(Part):
    sha256: Hash
    bytes: Annotated[int, Field(ge=0)]
    media_type: Literal["audio/wav", "audio/aiff", "audio/flac"]
    file_name: Line


class ProjectRow(Row):
    noun: ClassVar[str] = "project"

    title: Line
    artist: Line = ""
    sample_rate: Annotated[int, Field(ge=8_000, le=768_000)]
    notes: Text = ""
    print_name_pattern: Line = ""


class GearRow(Row):
    noun: ClassVar[str] = "gear"

    kind: Line
    name: Line
    notes: Text = ""


class ControlRow(Part):
    """`spec` is the control as `trade/scales.py` writes it: name, form, scale, travel, positions, unit, job."""

    key: Line
    spec: dict[str, Any]


class LayoutRow(Row):
    """One version of a piece of gear's controls and ports, as passes were logged with it."""

    noun: ClassVar[str] = "control_layout"
    NOT_COMPARED = frozenset({"version"})

    gear_uid: Uid
    version: Annotated[int, Field(ge=1)]
    gear_name: Line
    kind: Line
    controls: Annotated[list[ControlRow], Field(max_length=200)] = []
    ports: Annotated[list[dict[str, Any]], Field(max_length=64)] | None = None
    facts: dict[str, Any] = {}


class SourceRow(Row):
    noun: ClassVar[str] = "source_track"

    name: Line
    instrument: Line = ""
    recorded_with: Line = ""
    gain: Line = ""
    tuning: Line = ""
    notes: Text = ""
    file: AudioFile | None = None


class SettingRow(Part):
    """`position` is the fraction of the travel, `value` the number on the control's own scale. `crop` is the picture of the control
    by which the reading was confirmed; it goes along with the setting and makes it no other."""

    control: Line
    reading: Line
    position: Fraction | None = None
    value: Number | None = None
    approximate: bool = False
    crop: Hash | None = None


class PlacementRow(Part):
    speaker: Line = ""
    distance_mm: Number | None = None
    offset_mm: Number | None = None
    angle_deg: Number | None = None
    height_mm: Number | None = None
    pattern: Line = ""
    pad_db: Number | None = None
    low_cut_hz: Number | None = None
    preamp: Line = ""
    gain: Line = ""
    note: Line = ""


class StepRow(Part):
    gear_uid: Uid
    layout_uid: Uid
    branch: Line = ""
    settings: Annotated[list[SettingRow], Field(max_length=200)] = []
    placement: PlacementRow | None = None


class BlendRow(Part):
    print_uid: Uid
    gain_db: Number
    nudge_samples: Number
    inverted: bool


class SourceInBlend(Part):
    """The source itself as one lane of a pass's blend."""

    gain_db: Number
    nudge_samples: Number
    inverted: bool


class PassRow(Row):
    """Steps stand in chain order. `hook_up_plan` and `level_inputs` name gear by its uid."""

    noun: ClassVar[str] = "pass"
    NOT_COMPARED = frozenset({"number"})

    source_uid: Uid
    number: Annotated[int, Field(ge=1, le=1_000_000)]
    title: Line = ""
    notes: Text = ""
    hook_up: Text = ""
    levels: Text = ""
    rating: Annotated[int, Field(ge=1, le=5)] | None = None
    tags: Annotated[list[Line], Field(max_length=50)] = []
    steps: Annotated[list[StepRow], Field(max_length=60)] = []
    hook_up_plan: dict[str, Any] | None = None
    level_inputs: dict[str, Any] | None = None
    blend: Annotated[list[BlendRow], Field(max_length=64)] = []
    blend_source: SourceInBlend | None = None


class PrintRow(Row):
    """`gear_uid` is the microphone or return that it is of; `figures` what was measured against its source."""

    noun: ClassVar[str] = "print"
    NOT_COMPARED = frozenset({"figures"})

    pass_uid: Uid
    gear_uid: Uid | None = None
    label: Line = ""
    file: AudioFile
    balance_db: Number = 0.0
    delay_by_hand_samples: Number | None = None
    figures: dict[str, Any] | None = None


class KeeperRow(Row):
    noun: ClassVar[str] = "keeper_mark"

    pass_uid: Uid
    part: Line = ""
    reason: Line = ""


class PinRow(Part):
    """Where a control is to be seen in a photo, as fractions of its width and height."""

    gear_uid: Uid
    control: Line
    x: Fraction
    y: Fraction


class PhotoRow(Row):
    """Of a pass (with `gear_uid`, of that piece's place in it), or of a piece of gear alone. `path` is where the picture
    lies in the bundle, empty where photos were left out."""

    noun: ClassVar[str] = "photo"
    NOT_COMPARED = frozenset({"path", "sha256"})

    pass_uid: Uid | None = None
    gear_uid: Uid | None = None
    caption: Line = ""
    sha256: Hash
    path: Line = ""
    pins: Annotated[list[PinRow], Field(max_length=200)] = []


class NoteRow(Row):
    noun: ClassVar[str] = "note"

    pass_uid: Uid | None = None
    words: Text


class Document(Part):
    """`session.json`: one project with all that its passes need. `audio` and `crops` map a file's SHA-256 to its
    place in the bundle; what was left out is not named there."""

    model_config = ConfigDict(frozen=True, extra="ignore", title="A re-amp session, exported")

    dialback_session: Literal[1] = Field(description="The version of this format.")
    made_at: AwareDatetime
    passes_left_out: bool = Field(default=False, description="Whether only keepers were exported.")
    project: ProjectRow
    gear: Annotated[list[GearRow], Field(max_length=10_000)] = []
    layouts: Annotated[list[LayoutRow], Field(max_length=50_000)] = []
    sources: Annotated[list[SourceRow], Field(max_length=10_000)] = []
    passes: Annotated[list[PassRow], Field(max_length=50_000)] = []
    prints: Annotated[list[PrintRow], Field(max_length=100_000)] = []
    keepers: Annotated[list[KeeperRow], Field(max_length=100_000)] = []
    photos: Annotated[list[PhotoRow], Field(max_length=100_000)] = []
    notes: Annotated[list[NoteRow], Field(max_length=100_000)] = []
    audio: dict[Hash, Line] = {}
    crops: dict[Hash, Line] = {}

    def rows(self) -> Iterator[Row]:
        """Every row, each after those it refers to."""
        yield self.project
        for rows in (
            self.gear,
            self.layouts,
            self.sources,
            self.passes,
            self.prints,
            self.keepers,
            self.photos,
            self.notes,
        ):
            yield from rows


def to_json(document: Document) -> str:
    return document.model_dump_json(indent=1)


def schema_json() -> str:
    """The published JSON Schema (2020-12) of `session.json`."""
    schema = {"$schema": "https://json-schema.org/draft/2020-12/schema"} | Document.model_json_schema(
        by_alias=True
    )
    return json.dumps(schema, indent=1, ensure_ascii=False) + "\n"
