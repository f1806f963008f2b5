"""When a sound reaches each microphone of a pass, what their sum does, and whether files and tape measure agree."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

from app.desk.passes.pass_sheets import PassSheet, PrintSheet, StepSheet, read_pass
from app.desk.refusals import Complaints
from app.desk.typed_figures import read_figure
from app.drawings.comb import CombOf
from app.library import Readable
from app.signal.figures import AlignmentFigures
from app.trade.distances import LengthUnit, NotAMeasure, read_distance_mm
from app.trade.microphones import (
    Comb,
    LineUp,
    TapeAgainstFiles,
    ThreeToOne,
    comb,
    distance_of_samples_mm,
    distance_to_speaker_mm,
    flight_samples,
    flight_time_s,
    line_up,
    speed_of_sound_m_per_s,
    tape_against_files,
    three_to_one,
)
from app.trade.readings import read_number

ROOM_CELSIUS = 20.0


@dataclass(frozen=True)
class TimesEntry:
    """What was asked, as typed: the room's temperature, and the two paths of the 3:1 rule."""

    celsius: str = ""
    own: str = ""
    spill: str = ""


@dataclass(frozen=True)
class MicTime:
    """One placed microphone: its path from the cone, and how long the sound takes."""

    name: str
    step: StepSheet
    path_mm: float
    time_s: float
    samples: float


@dataclass(frozen=True)
class Level:
    """By how much the second microphone of a pair is louder, and where that is from; None where it is not known."""

    difference_db: float | None
    origin: str


@dataclass(frozen=True)
class MicPair:
    """Two microphones in front of the same sound, the nearer one first.

    `line_up` and `comb` are None where both stand equally far. `is_inverted` is None where no print says; the comb is
    then drawn for the same polarity. `tape` sets the files against the log; `measured_delay_samples` is by how much
    the second print is later than the first, at the project's rate.
    """

    first: MicTime
    second: MicTime
    line_up: LineUp | None
    comb: Comb | None
    drawn: CombOf | None
    level: Level
    is_inverted: bool | None
    tape: TapeAgainstFiles | None
    measured_delay_samples: float | None


@dataclass(frozen=True)
class MicTimes:
    """`unplaced` names the microphones whose distance is not noted."""

    sheet: PassSheet
    celsius: float
    speed_m_per_s: float
    mics: tuple[MicTime, ...]
    unplaced: tuple[str, ...]
    pairs: tuple[MicPair, ...]
    rule: ThreeToOne | None
    mm_per_sample: float
    complaints: dict[str, str]


def read_mic_times(
    library: Readable, pass_id: int, entry: TimesEntry, *, unit: LengthUnit = "mm"
) -> MicTimes:
    """The times at the temperature asked for. What cannot be read is said in `complaints` by field, and 20 °C or
    nothing stands for it."""
    sheet = read_pass(library, pass_id)
    complaints = Complaints()
    celsius = _temperature(complaints, entry.celsius)
    rate = float(sheet.project_sample_rate)
    mics = tuple(
        MicTime(
            step.gear_name,
            step,
            path,
            flight_time_s(path, celsius),
            flight_samples(path, rate, celsius),
        )
        for step in sheet.steps
        if step.kind == "microphone" and (path := _path_mm(step)) is not None
    )
    placed = {mic.step.step_id for mic in mics}
    return MicTimes(
        sheet,
        celsius,
        speed_of_sound_m_per_s(celsius),
        mics,
        tuple(
            step.gear_name for step in sheet.steps if step.kind == "microphone" and step.step_id not in placed
        ),
        tuple(
            _pair(sheet, nearer, farther, celsius)
            for nearer, farther in combinations(sorted(mics, key=lambda mic: mic.path_mm), 2)
        ),
        _rule(complaints, entry, unit),
        distance_of_samples_mm(1.0, rate, celsius),
        complaints.sentences,
    )


def _path_mm(step: StepSheet) -> float | None:
    """From the centre of the cone to the microphone; one without a noted offset counts as at the centre."""
    placement = step.placement
    if placement is None or placement.distance_mm is None:
        return None
    return distance_to_speaker_mm(placement.distance_mm, placement.offset_mm or 0.0)


def _pair(sheet: PassSheet, first: MicTime, second: MicTime, celsius: float) -> MicPair:
    rate = float(sheet.project_sample_rate)
    prints = (_print_of(sheet.prints, first.step), _print_of(sheet.prints, second.step))
    level, is_inverted, delay = _level(prints), _is_inverted(prints), _measured_delay_s(prints)
    delay_s = abs(second.time_s - first.time_s)
    found = drawn = None
    if delay_s >= 1e-6:
        difference = level.difference_db or 0.0
        found = comb(delay_s, level_difference_db=difference, inverted=bool(is_inverted))
        drawn = CombOf(delay_s, difference, bool(is_inverted))
    tape = None
    if delay is not None:
        tape = tape_against_files(second.path_mm - first.path_mm, delay * rate, rate, celsius)
    return MicPair(
        first,
        second,
        line_up(first.path_mm, second.path_mm, rate, celsius) if found is not None else None,
        found,
        drawn,
        level,
        is_inverted,
        tape,
        None if delay is None else delay * rate,
    )


def _print_of(prints: Sequence[PrintSheet], step: StepSheet) -> PrintSheet | None:
    """The newest measured print of a microphone."""
    measured = [item for item in prints if item.step_id == step.step_id and item.measured.figures is not None]
    return measured[-1] if measured else None


def _level(prints: tuple[PrintSheet | None, PrintSheet | None]) -> Level:
    loudness = [
        item.measured.figures.level.integrated_lufs
        for item in prints
        if item is not None and item.measured.figures is not None
    ]
    if len(loudness) < 2:
        return Level(None, "not both have a measured print, so equal levels are assumed")
    first, second = loudness
    if first is None or second is None:
        return Level(None, "one of the prints has no loudness, so equal levels are assumed")
    return Level(second - first, "from the loudness of their prints")


def _alignments(prints: tuple[PrintSheet | None, PrintSheet | None]) -> list[AlignmentFigures]:
    return [
        item.measured.figures.alignment
        for item in prints
        if item is not None
        and item.measured.figures is not None
        and item.measured.figures.alignment is not None
        and item.measured.figures.alignment.is_of_source
    ]


def _is_inverted(prints: tuple[PrintSheet | None, PrintSheet | None]) -> bool | None:
    """Whether one print is upside down against the other, both measured against the source."""
    said = [alignment.polarity for alignment in _alignments(prints)]
    if len(said) < 2 or "unclear" in said:
        return None
    return said[0] != said[1]


def _measured_delay_s(prints: tuple[PrintSheet | None, PrintSheet | None]) -> float | None:
    """By how much the second print is later than the first; what is only said by hand measures no air."""
    if any(item is not None and item.delay_by_hand_samples is not None for item in prints):
        return None
    delays = [
        alignment.delay_ms / 1000.0 for alignment in _alignments(prints) if alignment.delay_ms is not None
    ]
    return delays[1] - delays[0] if len(delays) == 2 else None


def _temperature(complaints: Complaints, text: str) -> float:
    celsius = read_figure(
        complaints, "celsius", text, _celsius, what="a temperature", wanted="degrees Celsius, such as 18"
    )
    return ROOM_CELSIUS if celsius is None else celsius


def _celsius(text: str) -> float | None:
    """A temperature at which the speed of sound is known. Raises ValueError with a sentence for any other."""
    celsius = read_number(text.removesuffix("C").rstrip(), "°")
    try:
        speed_of_sound_m_per_s(ROOM_CELSIUS if celsius is None else celsius)
    except ValueError as error:
        said = f"{error} This is worked out for {ROOM_CELSIUS:.0f} °C.".replace("-", "−")
        raise ValueError(said) from error
    return celsius


def _rule(complaints: Complaints, entry: TimesEntry, unit: LengthUnit) -> ThreeToOne | None:
    """The 3:1 rule for two microphones on two sources; None until both paths are typed."""
    paths = []
    for name in ("own", "spill"):
        text = getattr(entry, name)
        if not text.strip():
            continue
        try:
            path = read_distance_mm(text, unit)
        except NotAMeasure as error:
            complaints.add(name, str(error))
            continue
        if path <= 0.0:
            complaints.add(name, "A microphone stands further than nothing from a source.")
            continue
        paths.append(path)
    return three_to_one(paths[0], paths[1]) if len(paths) == 2 else None
