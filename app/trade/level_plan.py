"""How hard the instrument drove, what to send so that the amp sees the same, and what comes back.

Each figure carries the formula it was made with, filled in, and what is missing where it could not be made.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import sqrt

from app.trade.levels import SINE_CREST_DB, loading_db, volts_from_dbu
from app.trade.microphones import microphone_output_dbu

CONVERTER_HEADROOM_DB = 1.0  # ours: a send is kept this far below full scale, for peaks between the samples
QUIET_SEND_DBFS = -40.0  # ours: below this a converter's noise comes up with what the amp adds
WANTED_RETURN_DBFS = -12.0  # ours: a return's peak where nothing else was asked for
LEAST_HEADROOM_DB = (
    3.0  # ours: less than this on a return is worth a warning; a player plays harder when it counts
)
KNOB_READING_UNCERTAINTY_DB = 2.0  # ours: a gain knob read by eye, where nothing better is known


@dataclass(frozen=True)
class Figure:
    """A number with its unit, the formula it comes from filled in, and its uncertainty (of a level, in dB).

    `value` is None where something is missing; `missing` then says what. `typical` names what it starts from that is not
    known, where typical values of the trade stand in for it.
    """

    label: str
    value: float | None
    unit: str
    formula: str
    uncertainty: float | None = None
    missing: tuple[str, ...] = ()
    typical: tuple[str, ...] = ()

    @property
    def text(self) -> str:
        """ "+2.0 dBu ± 0.7 dB", "1.38 V ± 0.12 V", "120 mV", or "open" where something is missing."""
        if self.value is None:
            return "open"
        if self.unit == "V":
            return volts_text(self.value, self.uncertainty)
        shown = f"{_signed(self.value)} {self.unit}"
        return f"{shown} ± {self.uncertainty:.1f} dB" if self.uncertainty else shown


def standing_in(known: Figure, typical: Figure, within_db: Sequence[float]) -> Figure:
    """The figure as it is known; while it is open, what typical values make of it, with how far each may be off.
    Uncertainties add as independent ones do."""
    if known.value is not None or typical.value is None:
        return known
    uncertainty = sqrt(sum(each**2 for each in within_db))
    if known.unit == "V":
        uncertainty = typical.value * (10.0 ** (uncertainty / 20.0) - 1.0)
    return replace(typical, uncertainty=uncertainty or None, typical=known.missing)


@dataclass(frozen=True)
class DiPath:
    """How the source was recorded: box loss (positive dB), preamp gain, and the input's level at 0 dBFS without gain."""

    input_full_scale_dbu: float | None
    gain_db: float | None
    box_loss_db: float | None = 0.0
    gain_uncertainty_db: float = 0.5
    calibration_uncertainty_db: float = 0.5


@dataclass(frozen=True)
class Drive:
    """What the instrument gave: peak and rms, in dBu and in volts. The peak in dBu is that of a sine with that peak."""

    peak_dbu: Figure
    rms_dbu: Figure
    peak_volts: Figure
    rms_volts: Figure


def how_hard_it_drove(peak_dbfs: float | None, rms_dbfs: float | None, path: DiPath) -> Drive:
    """The instrument's level from its recorded peak and rms and the way it was recorded.

    Instrument = reading + level at 0 dBFS - gain + box loss. `rms_dbfs` is on the plain scale of a print's measures,
    where a full-scale sine reads -3.01; the level at 0 dBFS is that of a full-scale sine, so 3.01 dB is added to it.
    Uncertainties add as independent ones do, root of the sum of squares.
    """
    missing = _missing(
        ("the input's level at 0 dBFS", path.input_full_scale_dbu),
        ("the preamp gain", path.gain_db),
        ("the DI box's loss", path.box_loss_db),
    )
    uncertainty = sqrt(path.gain_uncertainty_db**2 + path.calibration_uncertainty_db**2)

    def in_dbu(label: str, reading: float | None, what: str) -> Figure:
        lacking = missing + _missing((what, reading))
        formula = "reading + level at 0 dBFS − gain + box loss"
        if (
            reading is None
            or path.input_full_scale_dbu is None
            or path.gain_db is None
            or path.box_loss_db is None
        ):
            return Figure(label, None, "dBu", formula, None, lacking)
        value = reading + path.input_full_scale_dbu - path.gain_db + path.box_loss_db
        filled = _sum_text(reading, path.input_full_scale_dbu, -path.gain_db, path.box_loss_db, value)
        return Figure(label, value, "dBu", f"{formula}: {filled}", uncertainty)

    def in_volts(label: str, level: Figure, crest: float, formula: str) -> Figure:
        if level.value is None:
            return Figure(label, None, "V", formula, None, level.missing)
        volts = volts_from_dbu(level.value) * crest
        return Figure(label, volts, "V", formula, volts * (10.0 ** (uncertainty / 20.0) - 1.0))

    peak = in_dbu("Instrument peak", peak_dbfs, "the source's peak level")
    rms_aes17 = None if rms_dbfs is None else rms_dbfs + SINE_CREST_DB
    rms = in_dbu("Instrument rms", rms_aes17, "the source's rms level")
    return Drive(
        peak,
        rms,
        in_volts("Instrument peak", peak, sqrt(2.0), "0.7746 V × 10^(dBu / 20) × √2"),
        in_volts("Instrument rms", rms, 1.0, "0.7746 V × 10^(dBu / 20)"),
    )


@dataclass(frozen=True)
class SendPath:
    """From the DAW's output to the amp's input.

    `box_loss_db` is the re-amp box's loss with its trim fully up (positive dB), `box_trim_db` what its trim takes away
    where it stands (zero or negative). Limits are peak levels of a sine; None where not known.
    """

    output_full_scale_dbu: float | None
    box_loss_db: float | None
    box_trim_db: float | None = None
    box_source_ohm: float | None = None
    amp_input_ohm: float | None = None
    box_max_input_dbu: float | None = None
    amp_max_input_dbu: float | None = None


@dataclass(frozen=True)
class SendPlan:
    """`daw_trim_db` and `box_trim_db` that together make the amp's input see `at_amp_dbu`, and what speaks against it."""

    daw_trim_db: Figure
    box_trim_db: Figure
    at_amp_dbu: Figure
    warnings: tuple[str, ...]


def at_the_amp(peak_dbfs: float | None, daw_trim_db: float, path: SendPath) -> Figure:
    """What the amp's input sees, as a peak in dBu: file peak + trim + level at 0 dBFS - box loss + box trim + loading."""
    formula = "file peak + DAW trim + level at 0 dBFS − box loss + box trim + loading"
    loading = _loading(path)
    missing = _missing(
        ("the source's peak level", peak_dbfs),
        ("the output's level at 0 dBFS", path.output_full_scale_dbu),
        ("the re-amp box's loss", path.box_loss_db),
        ("where the box's trim stands", path.box_trim_db),
        *_impedances(path),
    )
    if (
        peak_dbfs is None
        or path.output_full_scale_dbu is None
        or path.box_loss_db is None
        or path.box_trim_db is None
        or loading is None
    ):
        return Figure("Peak at the amp's input", None, "dBu", formula, None, missing)
    parts = (peak_dbfs, daw_trim_db, path.output_full_scale_dbu, -path.box_loss_db, path.box_trim_db, loading)
    return Figure("Peak at the amp's input", sum(parts), "dBu", f"{formula}: {_sum_text(*parts, sum(parts))}")


def what_to_send(target_peak_dbu: float | None, peak_dbfs: float | None, path: SendPath) -> SendPlan:
    """DAW trim and box trim so that the amp's input sees the instrument's own peak.

    Where the box's trim is known to stand somewhere, the DAW's trim does the rest; otherwise the DAW stays untouched and
    the box's trim does it, and only what the box cannot add is asked of the DAW.
    """
    loading = _loading(path)
    missing = _missing(
        ("the instrument's peak level", target_peak_dbu),
        ("the source's peak level", peak_dbfs),
        ("the output's level at 0 dBFS", path.output_full_scale_dbu),
        ("the re-amp box's loss", path.box_loss_db),
        *_impedances(path),
    )
    if (
        target_peak_dbu is None
        or peak_dbfs is None
        or path.output_full_scale_dbu is None
        or path.box_loss_db is None
        or loading is None
    ):
        unknown = [
            Figure(label, None, unit, _TRIM_FORMULA, None, missing)
            for label, unit in (("DAW trim", "dB"), ("Box trim", "dB"), ("Peak at the amp's input", "dBu"))
        ]
        return SendPlan(unknown[0], unknown[1], unknown[2], ())
    untouched = peak_dbfs + path.output_full_scale_dbu - path.box_loss_db + loading
    needed = target_peak_dbu - untouched
    box_trim = path.box_trim_db if path.box_trim_db is not None else min(0.0, needed)
    daw_trim = needed - box_trim
    filled = f"{_TRIM_FORMULA}: {_sum_text(target_peak_dbu, -peak_dbfs, -path.output_full_scale_dbu, path.box_loss_db, -loading, needed)}"
    at_amp = untouched + box_trim + daw_trim
    return SendPlan(
        Figure("DAW trim", daw_trim, "dB", filled),
        Figure("Box trim", box_trim, "dB", filled),
        Figure("Peak at the amp's input", at_amp, "dBu", filled),
        _send_warnings(peak_dbfs + daw_trim, at_amp, path),
    )


_TRIM_FORMULA = "trims together = wanted at the amp − file peak − level at 0 dBFS + box loss − loading"


def _send_warnings(sent_peak_dbfs: float, at_amp_dbu: float, path: SendPath) -> tuple[str, ...]:
    warnings = []
    if sent_peak_dbfs > -CONVERTER_HEADROOM_DB:
        warnings.append(
            f"The send would peak at {_signed(sent_peak_dbfs)} dBFS: the converter clips before the amp sees that level. "
            "Open the box's trim, or use a box with less loss."
        )
    if sent_peak_dbfs < QUIET_SEND_DBFS:
        warnings.append(
            f"The send would peak at only {_signed(sent_peak_dbfs)} dBFS: the converter's noise comes up with the amp's "
            "gain. Send hotter and turn the box's trim down."
        )
    sent_dbu = sent_peak_dbfs + (path.output_full_scale_dbu or 0.0)
    if path.box_max_input_dbu is not None and sent_dbu > path.box_max_input_dbu:
        over = sent_dbu - path.box_max_input_dbu
        warnings.append(
            f"The re-amp box's input would be overloaded by {over:.1f} dB. Send less and open its trim."
        )
    if path.amp_max_input_dbu is not None and at_amp_dbu > path.amp_max_input_dbu:
        over = at_amp_dbu - path.amp_max_input_dbu
        warnings.append(f"The amp's input would see {over:.1f} dB more than its maximum.")
    return tuple(warnings)


def _impedances(path: SendPath) -> tuple[tuple[str, float | None], ...]:
    return (
        ("the re-amp box's output impedance", path.box_source_ohm),
        ("the input impedance behind the box", path.amp_input_ohm),
    )


def _loading(path: SendPath) -> float | None:
    if path.box_source_ohm is None or path.amp_input_ohm is None:
        return None
    return loading_db(path.box_source_ohm, path.amp_input_ohm)


@dataclass(frozen=True)
class Stage:
    """One stage of a level diagram: what it adds (negative: loses), and the most its input takes as a sine's level."""

    name: str
    gain_db: float
    max_input_dbu: float | None = None


@dataclass(frozen=True)
class LevelPoint:
    """The level entering a stage, its maximum and the headroom left there (None where no maximum is known)."""

    name: str
    level_dbu: float
    max_dbu: float | None
    headroom_db: float | None


def level_diagram(start_dbu: float, stages: Sequence[Stage]) -> tuple[LevelPoint, ...]:
    """The level at the input of each stage, and at the end of the last."""
    points = []
    level = start_dbu
    for stage in stages:
        headroom = None if stage.max_input_dbu is None else stage.max_input_dbu - level
        points.append(LevelPoint(stage.name, level, stage.max_input_dbu, headroom))
        level += stage.gain_db
    points.append(LevelPoint("out", level, None, None))
    return tuple(points)


@dataclass(frozen=True)
class ReturnLevel:
    """What a microphone or a DI return puts out (its peak, as that of a sine), what it reads, how far it is from
    clipping, and the gain for a peak of choice."""

    output_dbu: Figure
    peak_dbfs: Figure
    headroom_db: Figure
    gain_for_target_db: Figure


def microphone_return(
    sensitivity_mv_per_pa: float | None,
    level_db_spl: float | None,
    gain_db: float | None,
    input_full_scale_dbu: float | None,
    *,
    target_peak_dbfs: float = WANTED_RETURN_DBFS,
    crest_db: float | None = SINE_CREST_DB,
) -> ReturnLevel:
    """A microphone's peak: its output at `level_db_spl` + crest beyond a sine's + gain - level at 0 dBFS.

    `level_db_spl` is an rms sound level; `crest_db` the crest factor of what is played (3.01 dB is a sine, an amp's
    often 10 to 15 dB).
    """
    formula = "sensitivity × pressure, in dBu + crest factor − 3.0"
    missing = _missing(
        ("the microphone's sensitivity", sensitivity_mv_per_pa),
        ("the sound level", level_db_spl),
        ("the crest factor", crest_db),
    )
    output = Figure("Microphone's peak", None, "dBu", formula, None, missing)
    if sensitivity_mv_per_pa is not None and level_db_spl is not None and crest_db is not None:
        rms = microphone_output_dbu(sensitivity_mv_per_pa, level_db_spl)
        value = rms + crest_db - SINE_CREST_DB
        filled = _sum_text(rms, crest_db, -SINE_CREST_DB, value)
        output = Figure("Microphone's peak", value, "dBu", f"{formula}: {filled}")
    return _return_level(output, gain_db, input_full_scale_dbu, target_peak_dbfs)


def di_return(
    source_peak_dbu: float | None,
    box_loss_db: float | None,
    gain_db: float | None,
    input_full_scale_dbu: float | None,
    *,
    target_peak_dbfs: float = WANTED_RETURN_DBFS,
) -> ReturnLevel:
    """A DI return's peak: source peak - box loss + gain - level at 0 dBFS."""
    formula = "peak at the box − box loss"
    missing = _missing(("the level at the DI box", source_peak_dbu), ("the DI box's loss", box_loss_db))
    output = Figure("DI box's peak", None, "dBu", formula, None, missing)
    if source_peak_dbu is not None and box_loss_db is not None:
        value = source_peak_dbu - box_loss_db
        output = Figure(
            "DI box's peak", value, "dBu", f"{formula}: {_sum_text(source_peak_dbu, -box_loss_db, value)}"
        )
    return _return_level(output, gain_db, input_full_scale_dbu, target_peak_dbfs)


def _return_level(
    output: Figure, gain_db: float | None, full_scale_dbu: float | None, target_peak_dbfs: float
) -> ReturnLevel:
    peak_formula = "output + gain − level at 0 dBFS"
    gain_formula = "wanted peak + level at 0 dBFS − output"
    lacking = output.missing + _missing(("the input's level at 0 dBFS", full_scale_dbu))
    label = f"Gain for a peak of {_signed(target_peak_dbfs)} dBFS"
    gain = Figure(label, None, "dB", gain_formula, None, lacking)
    if output.value is not None and full_scale_dbu is not None:
        value = target_peak_dbfs + full_scale_dbu - output.value
        filled = _sum_text(target_peak_dbfs, full_scale_dbu, -output.value, value)
        gain = Figure(label, value, "dB", f"{gain_formula}: {filled}")
    if output.value is None or full_scale_dbu is None or gain_db is None:
        lacking += _missing(("the gain", gain_db))
        peak = Figure("Peak", None, "dBFS", peak_formula, None, lacking)
        return ReturnLevel(output, peak, Figure("Headroom", None, "dB", "0 − peak", None, lacking), gain)
    value = output.value + gain_db - full_scale_dbu
    filled = _sum_text(output.value, gain_db, -full_scale_dbu, value)
    return ReturnLevel(
        output,
        Figure("Peak", value, "dBFS", f"{peak_formula}: {filled}"),
        Figure("Headroom", -value, "dB", f"0 − peak: {_sum_text(0.0, -value, -value)}"),
        gain,
    )


def return_warnings(
    level: ReturnLevel, lowest_gain_db: float | None = None, highest_gain_db: float | None = None
) -> tuple[str, ...]:
    """What speaks against a return as it stands: too little headroom, or a gain that the preamp does not have."""
    warnings = []
    peak, gain = level.peak_dbfs.value, level.gain_for_target_db.value
    if peak is not None and peak > -LEAST_HEADROOM_DB:
        says = "The input would clip" if peak >= 0.0 else f"Only {-peak:.1f} dB of headroom would be left"
        turn = "" if gain is None else f" Turn the gain to {_signed(gain)} dB."
        warnings.append(f"{says}: the return would peak at {_signed(peak)} dBFS.{turn}")
    if gain is not None and lowest_gain_db is not None and gain < lowest_gain_db:
        warnings.append(
            f"Even the lowest gain, {_signed(lowest_gain_db)} dB, is {lowest_gain_db - gain:.1f} dB too much: "
            "use the pad."
        )
    if gain is not None and highest_gain_db is not None and gain > highest_gain_db:
        warnings.append(
            f"The gain goes no higher than {_signed(highest_gain_db)} dB, {gain - highest_gain_db:.1f} dB short of that."
        )
    return tuple(warnings)


def _missing(*named: tuple[str, float | None]) -> tuple[str, ...]:
    return tuple(name for name, value in named if value is None)


def _sum_text(*parts: float) -> str:
    """ "−6.0 + 18.0 − 20.0 = −8.0" from the parts and their sum, the last."""
    shown = [f"{'−' if part < 0 else '+'} {abs(part):.1f}" for part in parts[:-1]]
    first = shown[0].removeprefix("+ ").replace("− ", "−")
    return f"{' '.join([first, *shown[1:]])} = {_signed(parts[-1], plus=False)}"


def _signed(value: float, *, plus: bool = True) -> str:
    text = f"{abs(value):.1f}"
    return f"−{text}" if value < 0 and text != "0.0" else f"+{text}" if plus and text != "0.0" else text


KNOWN_TO = 0.5
"""Half its value, 3.5 dB: from there on a range in volts is plainly not even about its middle."""


def volts_text(volts: float, uncertainty: float | None = None) -> str:
    """A voltage to three digits, its uncertainty to two in the same unit: "1.38 V ± 0.37 V", "410 mV". One that is known to a
    factor and no better is a range, to two digits: "0.40 to 2.5 V"."""
    factor, unit = (1.0, "V") if abs(volts) >= 0.9995 else (1000.0, "mV")
    if uncertainty and uncertainty > KNOWN_TO * volts > 0:
        within = 1.0 + uncertainty / volts
        low, high = (_to_digits(bound * factor, 2) for bound in (volts / within, volts * within))
        return f"{low} to {high} {unit}"
    shown = f"{_to_digits(volts * factor, 3)} {unit}"
    return f"{shown} ± {_to_digits(uncertainty * factor, 2)} {unit}" if uncertainty else shown


def _to_digits(value: float, digits: int) -> str:
    whole = 0 if value < 0.9995 else 1 if value < 9.995 else 2 if value < 99.95 else 3
    return f"{value:.{max(0, digits - whole)}f}"
