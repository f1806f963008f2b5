"""The third-octave bands of IEC 61260-1:2014 (base ten) as plain numbers, without numpy."""

import math

# fmt: off
NOMINAL_HZ = (  # IEC 61260-1:2014 Annex E
    20.0, 25.0, 31.5, 40.0, 50.0, 63.0, 80.0, 100.0, 125.0, 160.0, 200.0, 250.0, 315.0, 400.0, 500.0, 630.0,
    800.0, 1000.0, 1250.0, 1600.0, 2000.0, 2500.0, 3150.0, 4000.0, 5000.0, 6300.0, 8000.0, 10000.0, 12500.0, 16000.0,
    20000.0,
)
# fmt: on
FIRST_INDEX = -17  # derived: 1000 · 10^(-17/10) is 19.95 Hz, whose name is 20 Hz


def mid_hz(index: int) -> float:
    """The exact mid-band frequency of band `index`, 0 being 1 kHz (IEC 61260-1:2014, eq. 2, base ten)."""
    return float(1000 * 10 ** (index / 10))


def edges_hz(mid: float) -> tuple[float, float]:
    """Lower and upper band-edge frequency (IEC 61260-1:2014, eqs. 4 and 5)."""
    return float(mid * 10**-0.05), float(mid * 10**0.05)


def nominal_hz(mid: float) -> float:
    """The label of the band around this frequency."""
    return min(NOMINAL_HZ, key=lambda nominal: abs(math.log(nominal / mid)))


def in_words(mid: float) -> str:
    """“315 Hz”, “2.5 kHz”."""
    hz = nominal_hz(mid)
    return f"{hz / 1000:g} kHz" if hz >= 1000 else f"{hz:g} Hz"
