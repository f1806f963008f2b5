"""The top of a curve between samples, by the parabola through three of them.

Exact for a parabola. The peak of a band-limited correlation is none: there the reading leans towards the nearest sample
by up to 0.11 (0.25 reads 0.143), so delays are only begun with it (`fine.exact_peak` ends them).
"""


def parabola_peak(before: float, here: float, after: float) -> tuple[float, float]:
    """Offset of the extreme from the middle sample, in samples, and its height; three equal values have none: 0.

    Smith, Spectral Audio Signal Processing, "Quadratic Interpolation of Spectral Peaks".
    """
    bend = before - 2 * here + after
    if not bend:
        return 0.0, here
    offset = 0.5 * (before - after) / bend
    return offset, here - 0.25 * (before - after) * offset
