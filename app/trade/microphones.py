"""Microphones in front of a cabinet: time of flight, the sum of two of them, and what level they give.

Sources: speed of sound after ISO 9613-1:1993; comb, sums and nulls by superposition; sensitivity as in IEC 60268-4;
sound pressure level re 20 µPa.
"""

from dataclasses import dataclass
from math import cos, hypot, inf, log10, pi, sin, sqrt

from app.trade.levels import dbu_from_volts
from app.trade.sound_pressure import pressure_pa

COLDEST_CELSIUS, HOTTEST_CELSIUS = -20.0, 50.0


def speed_of_sound_m_per_s(temperature_celsius: float = 20.0) -> float:
    """343.2 sqrt((t + 273.15) / 293.15), ISO 9613-1:1993. Raises ValueError for a temperature no session has."""
    if not COLDEST_CELSIUS <= temperature_celsius <= HOTTEST_CELSIUS:
        raise ValueError(f"A room is between {COLDEST_CELSIUS:.0f} and {HOTTEST_CELSIUS:.0f} °C.")
    return 343.2 * sqrt((temperature_celsius + 273.15) / 293.15)


def flight_time_s(distance_mm: float, temperature_celsius: float = 20.0) -> float:
    """Time of flight over a distance; negative for a negative difference of distances."""
    return distance_mm / 1000.0 / speed_of_sound_m_per_s(temperature_celsius)


def flight_samples(distance_mm: float, sample_rate_hz: float, temperature_celsius: float = 20.0) -> float:
    """Time of flight in samples."""
    return flight_time_s(distance_mm, temperature_celsius) * sample_rate_hz


def distance_of_samples_mm(samples: float, sample_rate_hz: float, temperature_celsius: float = 20.0) -> float:
    """The distance sound travels in so many samples."""
    return samples / sample_rate_hz * speed_of_sound_m_per_s(temperature_celsius) * 1000.0


def distance_to_speaker_mm(distance_mm: float, offset_mm: float) -> float:
    """From the centre of the cone to a microphone standing `distance_mm` out and `offset_mm` aside."""
    return hypot(distance_mm, offset_mm)


@dataclass(frozen=True)
class LineUp:
    """What lines two microphones up: the later one pulled earlier by `nudge_samples`, or moved nearer by `move_mm`."""

    later: int
    nudge_samples: float
    move_mm: float


def line_up(
    first_mm: float, second_mm: float, sample_rate_hz: float, temperature_celsius: float = 20.0
) -> LineUp | None:
    """What lines up two microphones at these distances from the source; None when they stand equally far.

    `later` is 0 or 1, the microphone the sound reaches last.
    """
    difference_mm = second_mm - first_mm
    if difference_mm == 0.0:
        return None
    nudge = flight_samples(abs(difference_mm), sample_rate_hz, temperature_celsius)
    return LineUp(1 if difference_mm > 0 else 0, nudge, abs(difference_mm))


@dataclass(frozen=True)
class TapeAgainstFiles:
    """The path difference by the log and by the delay between two prints, both in mm, and the words for it."""

    logged_mm: float
    measured_mm: float
    agrees: bool
    sentence: str


def tape_against_files(
    logged_mm: float, delay_samples: float, sample_rate_hz: float, temperature_celsius: float = 20.0
) -> TapeAgainstFiles:
    """The logged path difference set against the measured delay between two prints.

    They agree within 20 mm or a tenth, whichever is more (our choice: how well a tape is held in front of a cone).
    """
    measured_mm = distance_of_samples_mm(delay_samples, sample_rate_hz, temperature_celsius)
    agrees = abs(measured_mm - logged_mm) <= max(20.0, 0.1 * abs(logged_mm))
    says = f"The files say {measured_mm / 10:.1f} cm, the log says {logged_mm / 10:.1f} cm"
    verdict = "they agree." if agrees else "one of the two is off, or the gear adds a delay of its own."
    return TapeAgainstFiles(logged_mm, measured_mm, agrees, f"{says}: {verdict}".replace("-", "−"))


@dataclass(frozen=True)
class Comb:
    """Peaks and notches of the sum of two paths, in Hz below the limit asked for, and their height and depth in dB.

    `peak_db` and `notch_db` are relative to the louder path alone; `notch_db` is minus infinity for equal paths.
    """

    notches_hz: tuple[float, ...]
    peaks_hz: tuple[float, ...]
    peak_db: float
    notch_db: float

    @property
    def ripple_db(self) -> float:
        return self.peak_db - self.notch_db


def comb(
    delay_s: float, *, level_difference_db: float = 0.0, inverted: bool = False, highest_hz: float = 20_000.0
) -> Comb:
    """The comb of two summed paths, one `delay_s` later, their levels differing by `level_difference_db`.

    Same polarity: notches at (2k+1)/(2 tau), peaks at k/tau; inverted: the other way round. With the quieter path at
    the ratio g, peaks reach 20 log10(1+g) and notches 20 log10(1-g). Raises ValueError for a delay of zero or of more
    than a second.
    """
    if not 1e-8 <= delay_s <= 1.0:
        raise ValueError("A comb belongs to two paths that arrive apart, by no more than a second.")
    periods = range(int(highest_hz * delay_s) + 2)
    in_step = tuple(k / delay_s for k in periods if k / delay_s <= highest_hz)
    halfway = tuple((2 * k + 1) / (2 * delay_s) for k in periods if (2 * k + 1) / (2 * delay_s) <= highest_hz)
    ratio = 10.0 ** (-abs(level_difference_db) / 20.0)
    peak_db = 20.0 * log10(1.0 + ratio)
    notch_db = 20.0 * log10(1.0 - ratio) if ratio < 1.0 else -inf
    notches, peaks = (in_step, halfway) if inverted else (halfway, in_step)
    return Comb(notches, peaks, peak_db, notch_db)


def sum_level_db(
    frequency_hz: float, delay_s: float, *, level_difference_db: float = 0.0, inverted: bool = False
) -> float:
    """The level of two summed paths at one frequency, relative to the louder alone: 20 log10 |1 + g e^(-j w tau)|."""
    ratio = 10.0 ** (-abs(level_difference_db) / 20.0) * (-1.0 if inverted else 1.0)
    phase = 2.0 * pi * frequency_hz * delay_s
    magnitude = hypot(1.0 + ratio * cos(phase), ratio * sin(phase))
    return 20.0 * log10(magnitude) if magnitude > 1e-12 else -inf


def ripple_db(amplitude_ratio: float) -> float:
    """Peak to notch of two paths at the amplitude ratio g below 1: 20 log10((1+g)/(1-g)); infinite at 1."""
    if not 0.0 <= amplitude_ratio <= 1.0:
        raise ValueError("The amplitude ratio of the quieter path to the louder lies between 0 and 1.")
    return 20.0 * log10((1.0 + amplitude_ratio) / (1.0 - amplitude_ratio)) if amplitude_ratio < 1.0 else inf


@dataclass(frozen=True)
class ThreeToOne:
    """How far a second microphone keeps from another's source: the ratio of paths and what ripple it leaves."""

    ratio: float
    spill_db: float
    ripple_db: float
    kept: bool


def three_to_one(own_mm: float, spill_mm: float, gain_difference_db: float = 0.0) -> ThreeToOne:
    """The 3:1 rule for two microphones on two equally loud sources, by the inverse-distance law (common practice).

    `own_mm` from a microphone to its own source, `spill_mm` from the other source to it. It is about two microphones on
    two sources, not on one cabinet. At 3:1 the spill is 9.54 dB down and 6.02 dB of ripple remain.
    Raises ValueError unless both distances are positive.
    """
    if own_mm <= 0.0 or spill_mm <= 0.0:
        raise ValueError("Both distances are above zero.")
    spill_db = 20.0 * log10(own_mm / spill_mm) + gain_difference_db
    ratio = 10.0 ** (-abs(spill_db) / 20.0)
    return ThreeToOne(spill_mm / own_mm, spill_db, ripple_db(ratio), spill_mm >= 3.0 * own_mm)


def microphone_output_volts(sensitivity_mv_per_pa: float, level_db_spl: float) -> float:
    """Open-circuit output in volts rms: sensitivity times pressure."""
    return sensitivity_mv_per_pa / 1000.0 * pressure_pa(level_db_spl)


def microphone_output_dbu(sensitivity_mv_per_pa: float, level_db_spl: float) -> float:
    """Open-circuit output in dBu."""
    return dbu_from_volts(microphone_output_volts(sensitivity_mv_per_pa, level_db_spl))
