import pytest
from small_session import figures

from app.signal.comparison.band_shape import BANDS, distance_db, packed, shape_of, unpacked
from app.signal.figures import BandLevel
from app.signal.levels.third_octaves import mid_hz


def bands(levels: dict[int, float], *, gain_db: float = 0.0) -> tuple[BandLevel, ...]:
    """31 bands at −40 dBFS, some of them at a level of their own."""
    return tuple(
        BandLevel(round(mid_hz(at)), mid_hz(at), levels.get(at, -40.0) + gain_db) for at in range(-17, 14)
    )


def test_a_gain_changes_nothing_of_the_shape() -> None:
    one, louder = shape_of(bands({0: -20.0})), shape_of(bands({0: -20.0}, gain_db=9.0))
    assert one is not None
    assert louder is not None
    assert distance_db(one, louder) == pytest.approx(0.0, abs=1e-9)


def test_the_distance_is_the_rms_difference_once_the_means_agree() -> None:
    """One band of 24 up by 6 dB: the mean rises by 0.25, so rms is sqrt((5.75² + 23·0.25²)/24)."""
    flat, raised = shape_of(bands({})), shape_of(bands({0: -34.0}))
    assert flat is not None
    assert raised is not None
    assert distance_db(flat, raised) == pytest.approx(((5.75**2 + 23 * 0.25**2) / 24) ** 0.5)


def test_what_lies_far_under_the_strongest_band_counts_as_quiet_and_no_more() -> None:
    noise, silence = bands({0: 0.0, -10: -90.0}), bands({0: 0.0, -10: -140.0})
    assert shape_of(noise) == shape_of(silence)


def test_bands_outside_50_hz_to_10_khz_do_not_count() -> None:
    assert shape_of(bands({-17: -10.0, 13: -10.0})) == shape_of(bands({}))


def test_a_shape_is_read_back_as_it_was_packed() -> None:
    shape = shape_of(figures().bands)
    assert shape is not None
    assert len(shape) == BANDS
    assert unpacked(packed(shape)) == pytest.approx(shape, abs=1e-5)


def test_without_any_level_there_is_no_shape() -> None:
    assert shape_of([BandLevel(1000, 1000.0, None)]) is None
    assert shape_of([]) is None
