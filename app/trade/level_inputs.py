"""What a person adds to a pass's levels: the figures that are neither measured, nor set, nor facts of a piece of gear."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields
from typing import Any

from app.trade.json_values import list_of, number_of, text_of

_GAIN = (-100.0, 100.0, "A gain or trim lies between −100 and 100 dB.")
_FULL_SCALE = (-40.0, 40.0, "A level at 0 dBFS lies between −40 and 40 dBu.")
LIMITS: Mapping[str, tuple[float, float, str]] = {
    "recording_full_scale_dbu": _FULL_SCALE,
    "recording_gain_db": _GAIN,
    "recording_gain_uncertainty_db": (0.0, 20.0, "An uncertainty lies between 0 and 20 dB."),
    "recording_box_loss_db": (-40.0, 80.0, "A box's loss lies between −40 and 80 dB."),
    "wanted_peak_dbu": (-80.0, 40.0, "A peak at an amp's input lies between −80 and 40 dBu."),
    "daw_trim_db": _GAIN,
    "crest_db": (0.0, 60.0, "A crest factor lies between 0 and 60 dB; a sine has 3, an amp often 10 to 15."),
    "wanted_return_dbfs": (-60.0, 0.0, "A wanted peak lies between −60 and 0 dBFS."),
    "trim_db": (-120.0, 0.0, "A trim takes level away: write it as 0 or below, such as −6 dB."),
    "gain_db": _GAIN,
    "sound_level_db_spl": (0.0, 194.0, "A sound level lies between 0 and 194 dB SPL."),
    "input_peak_dbu": (-80.0, 40.0, "A peak at a DI box's input lies between −80 and 40 dBu."),
}
"""For each figure: lowest, highest, and the sentence for what lies outside."""


@dataclass(frozen=True)
class GearInputs:
    """What was typed for one piece of gear, named by its key in the hook-up.

    `trim_db`: what a re-amp box's trim takes away where it stands. `gain_db`: everything between a microphone or DI box
    and the converter. `sound_level_db_spl`: rms, at a microphone. `input_peak_dbu`: the peak at a DI box's input, as
    that of a sine. Raises ValueError with a sentence for a value that cannot be.
    """

    gear: str
    trim_db: float | None = None
    gain_db: float | None = None
    sound_level_db_spl: float | None = None
    input_peak_dbu: float | None = None

    def __post_init__(self) -> None:
        _check(self)


@dataclass(frozen=True)
class LevelInputs:
    """The typed figures of one pass; None where nothing was typed.

    `recording_...` is how the source was recorded; levels at 0 dBFS are those of a sine, with no gain added.
    `wanted_peak_dbu` is the peak wanted at the first input behind the re-amp box, where that is not the instrument's
    own. Raises ValueError with a sentence for a value that cannot be.
    """

    recording_full_scale_dbu: float | None = None
    recording_gain_db: float | None = None
    recording_gain_uncertainty_db: float | None = None
    recording_box_loss_db: float | None = None
    wanted_peak_dbu: float | None = None
    daw_trim_db: float | None = None
    crest_db: float | None = None
    wanted_return_dbfs: float | None = None
    gear: tuple[GearInputs, ...] = ()

    def __post_init__(self) -> None:
        _check(self)

    def of(self, gear: str) -> GearInputs:
        """What was typed for a piece of gear, all None where nothing was."""
        return next((item for item in self.gear if item.gear == gear), GearInputs(gear))


def check_input(name: str, value: float) -> float:
    """The value, if it can be. Raises ValueError with the sentence that says what can."""
    low, high, sentence = LIMITS[name]
    if not low <= value <= high:
        raise ValueError(sentence)
    return value


def inputs_to_json(inputs: LevelInputs) -> dict[str, Any]:
    """Only what was typed, as plain JSON values."""
    known = _typed(asdict(inputs))
    if inputs.gear:
        known["gear"] = [_typed(asdict(item)) for item in inputs.gear]
    else:
        known.pop("gear", None)
    return known


def inputs_from_json(data: object) -> LevelInputs:
    """The figures from plain JSON values. Raises ValueError with a sentence on any shape it does not know."""
    values = _of_known_names(data, {field.name for field in fields(LevelInputs)}, "A pass's levels")
    gear = []
    for item in list_of(values.get("gear", []), "The figures of gear"):
        of_one = _of_known_names(item, {field.name for field in fields(GearInputs)}, "A piece's figures")
        key = text_of(of_one.get("gear"), "A piece of gear")
        gear.append(GearInputs(key, **_numbers(of_one)))
    if len({item.gear for item in gear}) < len(gear):
        raise ValueError("Each piece of gear has its figures once.")
    return LevelInputs(**_numbers(values), gear=tuple(gear))


def for_another_source(document: Mapping[str, Any]) -> dict[str, Any]:
    """The kept document without what belongs to the source it was typed for: how that was recorded, and how hot it is
    sent. What stands at the gear stays."""
    return {name: value for name, value in document.items() if name not in _OF_THE_SOURCE}


_OF_THE_SOURCE = frozenset(
    name
    for name in LIMITS
    if name.startswith("recording_") or name in ("wanted_peak_dbu", "daw_trim_db", "crest_db")
)


def _check(inputs: LevelInputs | GearInputs) -> None:
    for field in fields(inputs):
        value = getattr(inputs, field.name)
        if field.name in LIMITS and value is not None:
            check_input(field.name, value)


def _typed(values: Mapping[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in values.items() if value is not None}


def _of_known_names(data: object, names: set[str], what: str) -> Mapping[str, object]:
    if not isinstance(data, Mapping) or not set(data) <= names:
        raise ValueError(f"{what} are a mapping of known names.")
    return data


def _numbers(values: Mapping[str, object]) -> dict[str, float]:
    return {
        name: number_of(value, f"The value of {name}") for name, value in values.items() if name != "gear"
    }
