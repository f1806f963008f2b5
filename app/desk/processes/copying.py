"""The copying process: `python -m app.desk.processes.copying`, told what to copy, answers with
a zip (`child_processes`). Every print is read twice: first to know how loud it is, then to be written."""

import math
import zipfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, BinaryIO, cast

import numpy as np

from app.desk.child_processes import Out, carry_out
from app.desk.files import broadcast_wave
from app.desk.files.broadcast_wave import Extension
from app.desk.listening.aligned_copies import CopyOrder
from app.desk.listening.loudness_of_part import Balance, loudness_of_part, matching_gains
from app.desk.processes.righting import Standing, standings
from app.signal.audio.reading import Samples, Sound, UnreadableAudio
from app.signal.listening.aligned import aligned_blocks
from app.signal.listening.figures import Moved
from app.signal.listening.hop_powers import TogetherMeter

BLOCK_S = 10
FULL_SCALE = 1 << 23
NOTE_NAME = "what was done.txt"
UNCLEAR = " polarity unclear"
"""Ends the name of a copy of which nothing tells which way up it is."""


@dataclass(frozen=True)
class _Copy:
    """An order, with what was found out at the first reading."""

    order: CopyOrder
    frames: int
    channels: int
    sample_rate: int
    balance: Balance
    standing: Standing

    @property
    def name(self) -> str:
        return (
            self.order.name if self.standing.clear else f"{self.order.name.removesuffix('.wav')}{UNCLEAR}.wav"
        )


def write_copies(orders: Sequence[CopyOrder], match_loudness: bool, out: BinaryIO) -> None:
    """Raises UnreadableAudio before anything is written."""
    copies = [_survey(order, found) for order, found in zip(orders, standings(orders), strict=True)]
    gains = _gains_db(copies, match_loudness)
    with zipfile.ZipFile(out, "w", zipfile.ZIP_STORED) as archive:
        for copy, gain_db in zip(copies, gains, strict=True):
            _write(archive, copy, gain_db)
        lines = [
            f"{copy.name}: {_done(copy, gain_db)}\r\n    {_in_blend(copy, gain_db - max(gains))}"
            f"{copy.order.settings or 'no settings noted'}\r\n"
            for copy, gain_db in zip(copies, gains, strict=True)
        ]
        archive.writestr(NOTE_NAME, "\r\n".join([*lines, ""]))


def _at_fader(level_db: float) -> str:
    rounded = round(level_db, 2)
    return f"{rounded:+.2f}" if rounded else "0"


def _in_blend(copy: _Copy, lowered_db: float) -> str:
    """Where its fader stands in the blend. Copies that were lowered more than the loudest get that back there."""
    if copy.order.fader_db is None:
        return ""
    return f"in the blend: fader at {_at_fader(copy.order.fader_db - lowered_db)} dB\r\n    "


def _survey(order: CopyOrder, standing: Standing) -> _Copy:
    with Sound(Path(order.path)) as sound:
        step = sound.sample_rate * (1 + order.drift_ppm * 1e-6) / order.target_rate
        held = math.ceil((sound.frames - order.last_delay_samples(sound.sample_rate)) / step)
        frames = max(1, held if order.length_s is None else round(order.length_s * order.target_rate))
        meter = TogetherMeter(order.target_rate, (sound.channels,))
        for block in _blocks(sound, order, frames):
            meter.feed([block])
        return _Copy(
            order,
            frames,
            sound.channels,
            sound.sample_rate,
            Balance(meter.figures(), (0.0,), (False,)),
            standing,
        )


def _gains_db(copies: Sequence[_Copy], match_loudness: bool) -> list[float]:
    """Without matching all keep their levels; where one would exceed full scale, all are lowered alike."""
    if match_loudness:
        longest_s = max(copy.frames / copy.order.target_rate for copy in copies)
        return list(matching_gains([copy.balance for copy in copies], 0.0, longest_s).gains_db)
    peak = max(copy.balance.powers.peaks[0] for copy in copies)
    over_db = 20 * math.log10(peak) if peak > 1 else 0.0
    return [-math.ceil(10 * over_db) / 10] * len(copies)


def _write(archive: zipfile.ZipFile, copy: _Copy, gain_db: float) -> None:
    order = copy.order
    length_s = copy.frames / order.target_rate
    loudness = loudness_of_part(copy.balance, 0.0, length_s)
    extension = Extension(
        description=order.description,
        originator="Dialback",
        originator_reference=order.reference,
        originated_at=datetime.fromisoformat(order.originated_at),
        time_reference=order.time_reference,
        coding_history=_coding_history(copy, gain_db),
        loudness_lufs=None if loudness is None else loudness + gain_db,
    )
    head = broadcast_wave.header(
        extension, sample_rate=order.target_rate, channels=copy.channels, frames=copy.frames
    )
    entry = zipfile.ZipInfo(copy.name, datetime.fromisoformat(order.originated_at).timetuple()[:6])
    gain = 10 ** (gain_db / 20) * (-1 if copy.standing.turned else 1)
    with (
        Sound(Path(order.path)) as sound,
        archive.open(entry, "w", force_zip64=True) as file,
    ):
        file.write(head)
        for block in _blocks(sound, order, copy.frames):
            file.write(_packed(block, gain))
        file.write(b"\0" * broadcast_wave.padding(copy.channels, copy.frames))


def _blocks(sound: Sound, order: CopyOrder, frames: int) -> Iterator[Samples]:
    return aligned_blocks(
        sound,
        delay_samples=order.delay_samples,
        drift_ppm=order.drift_ppm,
        target_rate=order.target_rate,
        frames=frames,
        block_frames=BLOCK_S * order.target_rate,
        moved=order.moved,
        mix_down=False,
    )


def _packed(block: Samples, gain: float) -> bytes:
    """24-bit little-endian, interleaved."""
    whole = np.rint(block.astype(np.float64) * (gain * FULL_SCALE))
    kept = np.clip(whole, -FULL_SCALE, FULL_SCALE - 1).astype("<i4")
    return kept.reshape(-1, 1).view(np.uint8)[:, :3].tobytes()


def _coding_history(copy: _Copy, gain_db: float) -> str:
    """EBU R 98: one line for each step, the parameters separated by commas, so none within the text."""
    mode = {1: "mono", 2: "stereo"}.get(copy.channels, "multitrack")
    text = _done(copy, gain_db).replace(",", ";")
    return f"A=PCM,F={copy.order.target_rate},W=24,M={mode},T=Dialback; {text}\r\n"


def _done(copy: _Copy, gain_db: float) -> str:
    order = copy.order
    moved = f"{abs(order.delay_samples):g} samples {'earlier' if order.delay_samples > 0 else 'later'}"
    parts = [moved if order.delay_samples else "not moved"]
    if order.astray:
        parts.append(order.astray)
    if pieces := sum(one.by_s is not None for one in order.moved):
        parts.append(f"laid in {pieces + 1} pieces; see the print's findings")
    if order.drift_ppm:
        parts.append(f"clock righted by {order.drift_ppm:g} ppm")
    if copy.sample_rate != order.target_rate:
        parts.append(f"brought from {copy.sample_rate} to {order.target_rate} Hz")
    parts.append(copy.standing.said)
    parts.append(f"level {gain_db:+.2f} dB" if gain_db else "level as it was")
    return ", ".join(parts)


def copy(told: dict[str, Any], out: Out) -> None:
    orders = [
        CopyOrder(**{**order, "moved": tuple(Moved(**one) for one in order["moved"])})
        for order in told["orders"]
    ]
    write_copies(orders, told["match_loudness"], cast(BinaryIO, out))


if __name__ == "__main__":
    carry_out(copy, UnreadableAudio)
