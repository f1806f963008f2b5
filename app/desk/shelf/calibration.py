"""What an interface puts out and takes in at 0 dBFS: from its manual, or measured with a tone, a voltmeter and a loop."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal, get_args

from app.desk.files.broadcast_wave import pcm_format
from app.desk.refusals import Complaints, Refusal
from app.desk.shelf.gear import GearSheet, read_gear
from app.desk.shelf.ports import know_facts, read_facts
from app.desk.typed_figures import read_figure
from app.library import Library, Readable
from app.signal.audio.containers import chunk
from app.trade.calibration import (
    CALIBRATION_TONE_HZ,
    LevelUnit,
    MixUp,
    input_full_scale_dbu,
    likely_mix_up,
    output_full_scale_dbu,
    read_level_dbu,
)
from app.trade.gear_facts import GearFacts
from app.trade.readings import read_number

Way = Literal["output_manual", "output_measured", "input_manual", "input_looped"]
TONE_SECONDS = 10
TONE_SAMPLE_RATE = 48_000
FADE_SECONDS = 0.02
TONE_LEVELS_DBFS = (-6.0, -12.0, -18.0, -20.0)
METER_UNITS: tuple[LevelUnit, ...] = get_args(LevelUnit)


@dataclass(frozen=True)
class CalibrationEntry:
    """The calibration form as typed. `accept` is the level that the person was asked about and says is right."""

    way: str = ""
    manual: str = ""
    tone_dbfs: str = "-18"
    reading: str = ""
    unit: str = "V"
    sent_dbfs: str = "-18"
    looped_dbfs: str = ""
    gain_db: str = "0"
    accept: str = ""


@dataclass(frozen=True)
class Doubt:
    """A measured level that a mix-up of units would explain: it is kept only once the person says so."""

    way: Way
    known_dbu: float
    measured_dbu: float
    mix_up: MixUp


@dataclass(frozen=True)
class CalibrationSheet:
    gear: GearSheet
    facts: GearFacts


def read_calibration(library: Readable, gear_id: int) -> CalibrationSheet:
    """An interface and what is known of its levels. Raises Refusal for gear that is none."""
    gear = read_gear(library, gear_id)
    if gear.kind != "interface":
        raise Refusal({"": f"{gear.name} is not an interface; only an interface is calibrated."})
    return CalibrationSheet(gear, read_facts(library, gear_id))


def calibrate(library: Library, gear_id: int, entry: CalibrationEntry) -> Doubt | None:
    """Write down the level at 0 dBFS that the form says. Returns a Doubt, with nothing written, where it disagrees
    with what was known by just what a mix-up of units makes."""
    known = read_calibration(library, gear_id).facts
    if entry.way not in get_args(Way):
        raise Refusal({"": "Choose one of the ways to calibrate."})
    complaints = Complaints()
    value = _LEVEL_OF[entry.way](complaints, entry, known)
    complaints.refuse_if_any()
    if value is None:
        raise AssertionError("a way to calibrate gives a level or a complaint")
    is_output = entry.way.startswith("output")
    before = known.output_full_scale_dbu if is_output else known.input_full_scale_dbu
    mix_up = None if before is None else likely_mix_up(before, value)
    if before is not None and mix_up is not None and entry.accept != accepted(value):
        way: Way = entry.way  # type: ignore[assignment]
        return Doubt(way, before, value, mix_up)
    know_facts(library, gear_id, **{f"{'output' if is_output else 'input'}_full_scale_dbu": value})
    return None


def accepted(level_dbu: float) -> str:
    """How the form repeats the level that it asked about."""
    return f"{level_dbu:.6f}"


def tone_wav(level_dbfs: float) -> bytes:
    """Ten seconds of a 1 kHz sine as a mono 24-bit WAV file at 48 kHz, faded in and out.

    `level_dbfs` is on AES17's scale, where a full-scale sine is 0: the sine's peak is 10^(level / 20) of full scale.
    Raises ValueError for a level above 0 or below −80 dBFS.
    """
    if not -80.0 <= level_dbfs <= 0.0:
        raise ValueError("The calibration tone plays between −80 and 0 dBFS.")
    full_scale = 2**23 - 1
    period = round(TONE_SAMPLE_RATE / CALIBRATION_TONE_HZ)
    peak: float = 10.0 ** (level_dbfs / 20.0) * full_scale
    wave = [peak * math.sin(2.0 * math.pi * at / period) for at in range(period)]
    frames = TONE_SECONDS * TONE_SAMPLE_RATE
    fade = round(FADE_SECONDS * TONE_SAMPLE_RATE)  # a whole number of periods

    def faded(at: int) -> float:
        return wave[at % period] * 0.5 * (1.0 - math.cos(math.pi * at / fade))

    start = b"".join(_sample(faded(at)) for at in range(fade))
    steady = b"".join(_sample(value) for value in wave) * ((frames - 2 * fade) // period)
    end = b"".join(_sample(-faded(at)) for at in range(fade, 0, -1))
    data = start + steady + end
    layout = pcm_format(TONE_SAMPLE_RATE, channels=1)
    return chunk(b"RIFF", b"WAVE" + chunk(b"fmt ", layout) + chunk(b"data", data))


def _sample(value: float) -> bytes:
    return round(value).to_bytes(3, "little", signed=True)


def _from_manual(complaints: Complaints, entry: CalibrationEntry, known: GearFacts) -> float | None:
    at = f"{entry.way}-manual"
    value = read_figure(
        complaints,
        at,
        entry.manual,
        read_level_dbu,
        wanted="a level such as +18 dBu, 6 dBV or 2.2 V",
        required=True,
    )
    if value is not None and not -40.0 <= value <= 40.0:
        complaints.add(at, "A level at 0 dBFS lies between −40 and 40 dBu; is the unit right?")
    return value


def _measured(complaints: Complaints, entry: CalibrationEntry, known: GearFacts) -> float | None:
    tone = read_figure(
        complaints,
        "tone_dbfs",
        entry.tone_dbfs,
        _dbfs,
        wanted="the tone's level in dBFS, such as −18",
        required=True,
    )
    reading = read_figure(
        complaints, "reading", entry.reading, wanted="the meter's reading as a number", required=True
    )
    if entry.unit not in METER_UNITS:
        complaints.add("unit", "Choose the unit that the meter shows.")
        return None
    if tone is None or reading is None:
        return None
    unit: LevelUnit = entry.unit
    return _worked_out(complaints, "reading", lambda: output_full_scale_dbu(reading, unit, tone))


def _looped(complaints: Complaints, entry: CalibrationEntry, known: GearFacts) -> float | None:
    sent = read_figure(
        complaints,
        "sent_dbfs",
        entry.sent_dbfs,
        _dbfs,
        wanted="the tone's level in dBFS, such as −18",
        required=True,
    )
    looped = read_figure(
        complaints, "looped_dbfs", entry.looped_dbfs, _dbfs, wanted="the DAW's reading in dBFS", required=True
    )
    gain = read_figure(
        complaints, "gain_db", entry.gain_db, _db, wanted="the input's gain in dB, 0 for none", required=True
    )
    output = known.output_full_scale_dbu
    if output is None:
        complaints.add("looped_dbfs", "Calibrate the output first: the loop needs to know what it is fed.")
    if sent is None or looped is None or gain is None or output is None:
        return None
    if not -80.0 <= sent <= 0.0:
        complaints.add("sent_dbfs", "The calibration tone plays between −80 and 0 dBFS.")
        return None
    if not -100.0 <= gain <= 100.0:
        complaints.add("gain_db", "A gain lies between −100 and 100 dB.")
        return None
    return _worked_out(complaints, "looped_dbfs", lambda: input_full_scale_dbu(output + sent + gain, looped))


_LEVEL_OF: dict[str, Callable[[Complaints, CalibrationEntry, GearFacts], float | None]] = {
    "output_manual": _from_manual,
    "output_measured": _measured,
    "input_manual": _from_manual,
    "input_looped": _looped,
}


def _dbfs(text: str) -> float | None:
    return read_number(text.strip().removesuffix("FS").removesuffix("fs"), "dB")


def _db(text: str) -> float | None:
    return read_number(text, "dB")


def _worked_out(complaints: Complaints, at: str, level_dbu: Callable[[], float]) -> float | None:
    try:
        return level_dbu()
    except ValueError as error:
        complaints.add(at, str(error))
        return None
