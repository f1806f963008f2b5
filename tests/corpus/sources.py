"""Source tracks for the corpus: real recorded loops, soundfont renderings of invented parts, and synthesised ones.

Everything is mono, 48 kHz, peak at -9 dBFS, with the noise of a quiet input at -90 dBFS.
"""

import shutil
import struct
import subprocess
from functools import lru_cache
from pathlib import Path

import numpy as np
import soundfile
import soxr
from numpy.typing import NDArray

Audio = NDArray[np.float64]

RATE = 48000
LOOPS = Path("/usr/share/lmms/samples")
SOUNDFONT = Path("/usr/share/sounds/sf2/FluidR3_GM.sf2")
SLOT_S = 30.0


class MissingMaterial(Exception):
    """What must be installed for the corpus."""


def loop(name: str) -> Audio:
    """One recorded sample of Debian's lmms-common, mono at 48 kHz."""
    path = LOOPS / name
    if not path.exists():
        raise MissingMaterial(f"{path} is missing: apt-get install lmms-common")
    samples, rate = soundfile.read(path, always_2d=True)
    return np.asarray(soxr.resample(samples.mean(axis=1), rate, RATE, quality="VHQ"))


def finished(samples: Audio, seed: int) -> Audio:
    noise = np.random.default_rng(seed).standard_normal(len(samples)) * 10 ** (-90 / 20)
    return samples / (np.abs(samples).max() + 1e-12) * 10 ** (-9 / 20) + noise


def looped(name: str, seconds: float, seed: int, *, alike: float = 0.0) -> Audio:
    """A recorded loop played over and over, each bar `alike` dB or so louder or softer than the others."""
    rng = np.random.default_rng(seed)
    bar = loop(name)
    times = int(np.ceil(seconds * RATE / len(bar)))
    gains = 10 ** (alike * rng.standard_normal(times) / 20)
    return finished(np.concatenate([bar * gain for gain in gains])[: round(seconds * RATE)], seed)


def arranged(
    names: list[str], seconds: float, seed: int, *, rest: float = 0.3, step_s: float = 0.25
) -> Audio:
    """Recorded one-shots in an invented, slightly human pattern with rests."""
    rng = np.random.default_rng(seed)
    shots = [loop(name) for name in names]
    out = np.zeros(round(seconds * RATE) + RATE * 4)
    for step in range(int(seconds / step_s) - 1):
        if rng.random() < rest:
            continue
        shot = shots[rng.integers(len(shots))]
        at = round((step * step_s + 0.008 * rng.standard_normal() + 0.05) * RATE)
        length = min(len(shot), round(step_s * RATE * rng.choice([1, 2, 3])))
        fade = np.minimum(1, np.arange(length)[::-1] / 480)
        out[at : at + length] += shot[:length] * fade * 10 ** (-rng.random() * 9 / 20)
    return finished(out[: round(seconds * RATE)], seed)


def plucked(
    seconds: float, seed: int, *, lowest_hz: float = 41.2, rest: float = 0.2, step_s: float = 0.3
) -> Audio:
    """Plucked strings (Karplus and Strong, vectorised a period at a time) in an invented line."""
    rng = np.random.default_rng(seed)
    out = np.zeros(round(seconds * RATE) + 4 * RATE)
    scale = np.array([0, 3, 5, 7, 10, 12, 15])
    for step in range(int(seconds / step_s) - 1):
        if rng.random() < rest:
            continue
        hz = lowest_hz * 2 ** (rng.choice(scale) / 12)
        period = round(RATE / hz)
        turn = rng.uniform(-1, 1, period)
        for _ in range(int(rng.integers(2, 14))):
            turn = 0.5 * (turn + np.roll(turn, 1))
        turns = []
        for _ in range(int(step_s * rng.choice([1, 2, 3]) * hz) + 1):
            turns.append(turn)
            turn = 0.996 * (0.7 * turn + 0.3 * np.roll(turn, 1))
        note = np.concatenate(turns)
        note *= np.minimum(1, np.arange(len(note))[::-1] / 600)
        at = round((step * step_s + 0.006 * rng.standard_normal() + 0.05) * RATE)
        out[at : at + len(note)] += note * 10 ** (-rng.random() * 8 / 20)
    return finished(out[: round(seconds * RATE)], seed)


def pad(seconds: float, seed: int, *, chord_s: float = 4.0) -> Audio:
    """A slow pad: beating partials, chords that fade into each other."""
    rng = np.random.default_rng(seed)
    t = np.arange(round(seconds * RATE)) / RATE
    out = np.zeros(len(t))
    for start in np.arange(0, seconds, chord_s):
        shape = np.clip(np.minimum((t - start) / 1.2, (start + chord_s + 1 - t) / 1.2), 0, 1) ** 2
        live = shape > 0
        for semitone in rng.choice(np.arange(0, 24), 4, replace=False):
            hz = 110 * 2 ** (semitone / 12)
            for partial in range(1, 9):
                detune = 1 + 0.002 * rng.standard_normal()
                phase = rng.uniform(0, 2 * np.pi)
                out[live] += (shape[live] / partial) * np.sin(
                    2 * np.pi * hz * partial * detune * t[live] + phase
                )
    return finished(out, seed)


def voice(seconds: float, seed: int) -> Audio:
    """Speech-like: pulses with a wandering pitch and noise, through moving formants, in syllables with pauses."""
    rng = np.random.default_rng(seed)
    count = round(seconds * RATE)
    t = np.arange(count) / RATE
    knots = np.arange(0, seconds + 1, 0.18)
    pitch = np.interp(t, knots, 120 * 2 ** (0.25 * rng.standard_normal(len(knots))))
    loud = np.interp(t, knots, rng.choice([0, 0.3, 0.8, 1.0], len(knots)))
    phase = np.cumsum(pitch) / RATE
    pulses = np.diff(np.floor(phase), prepend=0.0)
    excitation = pulses + 0.02 * rng.standard_normal(count)
    out = np.zeros(count)
    frame, hop = 1536, 768
    window = np.sin((np.arange(frame) + 0.5) * np.pi / frame)
    hz = np.fft.rfftfreq(2 * frame, 1 / RATE)
    formants = np.array(
        [
            rng.uniform(300, 800, len(knots)),
            rng.uniform(900, 2300, len(knots)),
            rng.uniform(2400, 3200, len(knots)),
        ]
    )
    for at in range(0, count - frame, hop):
        gain = 0.003 + sum(
            1 / (1 + ((hz - np.interp(at / RATE, knots, track)) / width) ** 2)
            for track, width in zip(formants, (70, 100, 150), strict=True)
        )
        block = np.fft.irfft(np.fft.rfft(excitation[at : at + frame] * window, 2 * frame) * gain)[:frame]
        out[at : at + frame] += block * window
    return finished(out * loud, seed)


PARTS: dict[str, tuple[int, int]] = {
    # name: (General MIDI programme or -1 for drums, lowest key)
    "finger bass": (33, 28),
    "pick bass": (34, 28),
    "clean guitar": (27, 45),
    "nylon guitar": (24, 45),
    "muted guitar": (28, 45),
    "drawbar organ": (16, 48),
    "electric piano": (4, 45),
    "grand piano": (0, 36),
    "strings": (48, 48),
    "choir": (52, 48),
    "trumpet": (56, 55),
    "tenor sax": (66, 49),
    "drum kit": (-1, 0),
    "drum kit again": (-1, 0),
    "finger bass again": (33, 28),
    "clean guitar again": (27, 45),
}


@lru_cache(maxsize=1)
def _rendering(folder: str) -> Audio:
    if shutil.which("fluidsynth") is None or not SOUNDFONT.exists():
        raise MissingMaterial(
            "fluidsynth and its font are missing: apt-get install fluidsynth fluid-soundfont-gm"
        )
    midi, wav = Path(folder) / "parts.mid", Path(folder) / "parts.wav"
    if not wav.exists():
        midi.write_bytes(_midi())
        command = [
            "fluidsynth",
            "-ni",
            "-q",
            "-R",
            "0",
            "-C",
            "0",
            "-r",
            str(RATE),
            "-O",
            "float",
            "-F",
            str(wav),
        ]
        subprocess.run([*command, str(SOUNDFONT), str(midi)], check=True, capture_output=True)
    return np.asarray(soundfile.read(wav, always_2d=True)[0].mean(axis=1))


def part(name: str, folder: Path, seconds: float = SLOT_S - 2) -> Audio:
    """One invented part, played by a soundfont; "again" is another take of the same part."""
    index = list(PARTS).index(name)
    whole = _rendering(str(folder))
    start = round(index * SLOT_S * RATE)
    return finished(whole[start : start + round(seconds * RATE)].copy(), index)


def _midi() -> bytes:
    events: list[tuple[float, bytes]] = []
    for index, (name, (programme, lowest)) in enumerate(PARTS.items()):
        plain = name.removesuffix(" again")
        rng = np.random.default_rng(list(PARTS).index(plain))
        feel = np.random.default_rng(1000 + index)
        channel = 9 if programme < 0 else index % 9
        origin = index * SLOT_S
        if programme >= 0:
            events.append((origin, bytes([0xC0 | channel, programme])))
        slow = plain in ("strings", "choir", "drawbar organ")
        step_s = 1.6 if slow else 0.24
        for step in range(int((SLOT_S - 3) / step_s)):
            if rng.random() < (0.05 if slow else 0.3):
                continue
            if programme < 0:
                keys = [36] if step % 4 == 0 else [38] if step % 4 == 2 else [42]
                if rng.random() < 0.4:
                    keys.append(42)
                length = 0.1
            else:
                voices = 3 if slow else 1
                keys = [int(lowest + rng.choice([0, 2, 3, 5, 7, 10, 12, 14, 15])) for _ in range(voices)]
                length = step_s * float(rng.choice([0.9, 0.9, 1.8])) if not slow else step_s * 1.05
            at = origin + 0.1 + step * step_s + 0.012 * float(feel.standard_normal())
            for key in set(keys):
                speed = int(np.clip(80 + 18 * feel.standard_normal(), 30, 120))
                events.append((at, bytes([0x90 | channel, key, speed])))
                events.append((at + length, bytes([0x80 | channel, key, 0])))
    events.sort(key=lambda event: event[0])
    track = b"\x00\xff\x51\x03" + (1_000_000).to_bytes(3, "big")
    now = 0
    for at, message in events:
        tick = round(at * 480)
        track += _variable(tick - now) + message
        now = tick
    track += b"\x00\xff\x2f\x00"
    return b"MThd" + struct.pack(">IHHH", 6, 0, 1, 480) + b"MTrk" + struct.pack(">I", len(track)) + track


def _variable(value: int) -> bytes:
    out = bytes([value & 0x7F])
    while value := value >> 7:
        out = bytes([0x80 | (value & 0x7F)]) + out
    return out
