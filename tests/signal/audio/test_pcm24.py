"""24-bit samples read straight from a file are those libsndfile reads, bit for bit."""

import io
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest
import soundfile
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from app.signal.audio.reading import Sound


@given(
    st.integers(1, 4).flatmap(
        lambda channels: arrays.arrays(
            np.int32,
            st.tuples(st.integers(1, 40), st.just(channels)),
            elements=st.integers(-(2**23), 2**23 - 1),
        )
    ),
    st.sampled_from(["WAV", "WAVEX", "RF64"]),
    st.integers(-5, 45),
    st.integers(1, 50),
)
def test_any_stretch_equals_libsndfile_s(samples: np.ndarray, kind: str, start: int, count: int) -> None:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "invented.wav"
        soundfile.write(path, samples << 8, 48000, subtype="PCM_24", format=kind)
        expected = np.zeros((count, samples.shape[1]), dtype=np.float32)
        whole = soundfile.read(path, dtype="float32", always_2d=True)[0]
        for row in range(count):
            if 0 <= start + row < len(whole):
                expected[row] = whole[start + row]
        with Sound(path) as sound:
            np.testing.assert_array_equal(sound.read(start, count), expected)


def test_chunks_before_and_after_the_samples_are_passed_over(tmp_path: Path) -> None:
    plain = io.BytesIO()
    soundfile.write(plain, np.linspace(-1, 1, 1001), 48000, subtype="PCM_24", format="WAV")
    body = plain.getvalue()
    at = body.index(b"data")
    odd = b"note" + (5).to_bytes(4, "little") + b"dummy\0"
    whole = body[:at] + odd + body[at:] + b"\0" * (len(body) % 2) + odd
    (tmp_path / "with.wav").write_bytes(whole[:4] + (len(whole) - 8).to_bytes(4, "little") + whole[8:])
    (tmp_path / "plain.wav").write_bytes(body)
    with Sound(tmp_path / "with.wav") as one, Sound(tmp_path / "plain.wav") as other:
        np.testing.assert_array_equal(one.read(0, 1001), other.read(0, 1001))
        assert one.frames == other.frames == 1001


@pytest.mark.parametrize("cut", [1, 3, 500])
def test_a_file_cut_short_is_read_as_far_as_it_goes(tmp_path: Path, cut: int) -> None:
    path = tmp_path / "cut.wav"
    soundfile.write(path, np.linspace(-1, 1, 1000), 48000, subtype="PCM_24")
    path.write_bytes(path.read_bytes()[:-cut])
    whole = soundfile.read(path, dtype="float32")[0]
    with Sound(path) as sound:
        blocks = [block.copy() for _, block in sound.blocks(256)]
    np.testing.assert_array_equal(np.concatenate(blocks)[:, 0], whole)
