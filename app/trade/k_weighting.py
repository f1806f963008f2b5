"""The K-weighting of ITU-R BS.1770-5 at a frequency, for levels that are known by band."""

from cmath import exp, pi
from math import log10

RATE_HZ = 48_000.0
SHELF = ((1.53512485958697, -2.69169618940638, 1.19839281085285), (1.0, -1.69065929318241, 0.73248077421585))
HIGH_PASS = ((1.0, -2.0, 1.0), (1.0, -1.99004745483398, 0.99007225036621))
"""Annex 1, Tables 1 and 2: (b, a) of the two stages at 48 kHz."""


def k_weighting_db(frequency_hz: float) -> float:
    """The gain in dB at a frequency above 0 and below 24 kHz."""
    if not 0.0 < frequency_hz < RATE_HZ / 2:
        raise ValueError("The weighting is known above 0 and below 24 kHz.")
    z = exp(-2j * pi * frequency_hz / RATE_HZ)
    gain = 1.0
    for b, a in (SHELF, HIGH_PASS):
        gain *= abs(b[0] + b[1] * z + b[2] * z * z) / abs(a[0] + a[1] * z + a[2] * z * z)
    return 20.0 * log10(gain)
