"""Dropouts are searched in every channel, each by itself: none is missed in the softer one, none made up between two."""

from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from app.signal.levels.spectrum import HOPS_PER_BLOCK, hop_samples
from app.signal.survey import survey_of

RATE = 48000
BLOCK = HOPS_PER_BLOCK * hop_samples(RATE)
Audio = NDArray[np.float64]


def _noise(seed: int) -> Audio:
    return 0.1 * np.random.default_rng(seed).standard_normal(3 * BLOCK)


def _dropouts(tmp_path: Path, *channels: Audio) -> list[tuple[str, int, int]]:
    soundfile.write(tmp_path / "print.wav", np.stack(channels, axis=1), RATE, subtype="FLOAT")
    dropouts = survey_of(tmp_path / "print.wav").dropouts
    return [(dropout.kind, round(dropout.at_s * RATE), dropout.samples) for dropout in dropouts]


@pytest.mark.parametrize("channel", [0, 1])
def test_a_hole_is_found_in_either_channel_however_loud_the_other(channel: int, tmp_path: Path) -> None:
    channels = [_noise(1), _noise(2)]
    channels[channel] *= 0.5
    channels[channel][60000:60700] = 0
    assert _dropouts(tmp_path, *channels) == [("gap", 60000, 700)]


def test_a_buffer_played_twice_in_the_softer_channel_is_dropouts(tmp_path: Path) -> None:
    louder, softer = _noise(1), 0.5 * _noise(2)
    softer[60000:60512] = softer[59488:60000]
    assert _dropouts(tmp_path, louder, softer) == [("repeat", 60000, 512)]


def test_no_gap_is_made_up_where_the_loudest_channel_changes(tmp_path: Path) -> None:
    """The left, the louder, ends for good shortly before a block does; the right plays on."""
    left, right = _noise(1), 0.5 * _noise(2)
    left[BLOCK - 300 :] = 0
    assert _dropouts(tmp_path, left, right) == []


def test_what_both_channels_lose_together_is_one_dropout(tmp_path: Path) -> None:
    channels = [_noise(1), _noise(2)]
    for channel in channels:
        channel[60000:60700] = 0
    assert _dropouts(tmp_path, *channels) == [("gap", 60000, 700)]
