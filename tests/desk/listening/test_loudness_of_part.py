"""Passes are made equally loud by plain arithmetic, also where the standard has no number."""

import math
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.desk.listening.loudness_of_part import Balance, loudness_of_part, matching_gains, read_hop_powers
from app.desk.refusals import NotThere
from app.library import Library
from app.signal.listening.figures import HopPowers


def steady(level_db: float, hops: int = 50, *, peak: float = 0.1, channels: int = 1) -> Balance:
    """One print whose every hop has this power per loudspeaker."""
    power = 2 * 10 ** (level_db / 10)
    return Balance(HopPowers(channels, (peak,), ((power,) * hops,)), (0.0,), (False,))


def pair(gains_db: tuple[float, float], inverted: tuple[bool, bool], *, alike: float) -> Balance:
    """Two equally loud prints whose signals agree by `alike` (-1 to 1)."""
    powers = HopPowers(1, (0.1, 0.1), ((0.02,) * 50, (0.02 * alike,) * 50, (0.02,) * 50))
    return Balance(powers, gains_db, inverted)


def test_a_mono_file_reads_one_channel_and_a_stereo_one_both() -> None:
    assert loudness_of_part(steady(-20), 0, 5) == pytest.approx(-20.691)
    assert loudness_of_part(steady(-20, channels=2), 0, 5) == pytest.approx(-20.691 + 10 * math.log10(2))


def test_matched_alike_as_they_are_heard_mono_and_stereo_need_the_same_gain() -> None:
    matched = matching_gains([steady(-20), steady(-20, channels=2)], 0, 5)
    assert matched.gains_db == (0.0, 0.0)


@pytest.mark.parametrize(
    ("alike", "inverted", "expected_db"),
    [
        (1.0, (False, False), 20 * math.log10(2)),
        (0.0, (False, False), 10 * math.log10(2)),
        (-0.5, (False, True), 10 * math.log10(3)),
    ],
)
def test_two_prints_together_are_as_loud_as_their_sum(
    alike: float, inverted: tuple[bool, bool], expected_db: float
) -> None:
    one = loudness_of_part(pair((0.0, -200.0), inverted, alike=alike), 0, 5)
    both = loudness_of_part(pair((0.0, 0.0), inverted, alike=alike), 0, 5)
    assert one is not None
    assert both is not None
    assert both - one == pytest.approx(expected_db, abs=1e-6)


def test_two_prints_that_cancel_have_no_loudness() -> None:
    assert loudness_of_part(pair((0.0, 0.0), (False, True), alike=1.0), 0, 5) is None


def test_a_part_counts_whole_hops_within_it() -> None:
    powers = HopPowers(1, (0.1,), (tuple([2.0] * 10 + [0.02] * 10),))
    balance = Balance(powers, (0.0,), (False,))
    assert loudness_of_part(balance, 0.95, 1.99) == pytest.approx(-20.691)
    assert loudness_of_part(balance, 1.61, 1.99) is None
    assert loudness_of_part(balance, -3.0, 99.0) is not None


def test_a_loop_of_a_quarter_second_is_matched_by_its_plain_power() -> None:
    matched = matching_gains([steady(-20), steady(-26)], 1.0, 1.25)
    assert not matched.is_gated
    assert matched.gains_db == (pytest.approx(-6), 0.0)
    assert matched.loudness_lufs == (None, None)


def test_a_pass_that_is_silent_there_is_left_as_it_is_and_quietens_nobody() -> None:
    silent = Balance(HopPowers(1, (0.0,), ((0.0,) * 50,)), (0.0,), (False,))
    matched = matching_gains([steady(-20), silent, steady(-23)], 0, 5)
    assert matched.gains_db == (pytest.approx(-3), 0.0, 0.0)
    assert matched.is_gated


def test_a_balance_that_could_exceed_full_scale_lowers_all_alike() -> None:
    hot = Balance(
        HopPowers(1, (0.9, 0.9), ((0.02,) * 50, (0.02,) * 50, (0.02,) * 50)), (0.0, 0.0), (False, False)
    )
    matched = matching_gains([hot, steady(-10)], 0, 5)
    assert matched.headroom_db == pytest.approx(20 * math.log10(1.8))
    assert matched.gains_db[0] == pytest.approx(-20 * math.log10(1.8))
    loudness = [value for value in matched.loudness_lufs if value is not None]
    assert loudness[0] + matched.gains_db[0] == pytest.approx(loudness[1] + matched.gains_db[1])


def test_nothing_to_match_needs_no_gain() -> None:
    assert matching_gains([], 0, 5).gains_db == ()


@given(
    levels=st.lists(st.floats(-60, -5), min_size=1, max_size=8),
    peaks=st.lists(st.floats(0.01, 4), min_size=8, max_size=8),
)
def test_matched_balances_are_equally_loud_never_raised_and_never_clip(
    levels: list[float], peaks: list[float]
) -> None:
    balances = [steady(level, peak=peak) for level, peak in zip(levels, peaks, strict=False)]
    matched = matching_gains(balances, 0, 5)
    after = [level + gain for level, gain in zip(levels, matched.gains_db, strict=True)]
    assert max(after) - min(after) < 1e-5
    assert max(matched.gains_db) <= 1e-9
    assert all(
        peak * 10 ** (gain / 20) <= 1 + 1e-9 for peak, gain in zip(peaks, matched.gains_db, strict=False)
    )


@pytest.mark.parametrize("written", [None, "", "{}", '{"channels": 1, "peaks": [0.5]}'])
def test_data_that_is_not_there_or_not_whole_is_told(library: Library, written: str | None) -> None:
    folder: Path = library.auditions / ("a" * 32)
    if written is not None:
        folder.mkdir()
        (folder / "loudness.json").write_text(written)
    with pytest.raises(NotThere):
        read_hop_powers(library, "a" * 32)
