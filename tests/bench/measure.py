"""Time and memory of the measuring room beside ffmpeg, in one run; medians of several rounds.

    uv run --group test python -m tests.bench.measure [--rounds 5]

Five minutes of mono 24-bit at 48 kHz with its source: in process with the source's features kept (at most 0.5 of
ffmpeg's `ebur128=peak=true` on the print alone), and the whole command with a source never seen before (at most 1.0).
Then identify among 50 sources of four minutes, and the memory of a three-hour file.
"""

import argparse
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from app.signal.alignment.identify import identify
from app.signal.measure import measure_print

import numpy as np  # isort: skip  (after app.signal, which gives its arithmetic one thread)
import soundfile  # isort: skip

RATE = 48000
COMMAND = "from app.cli import main; main()"
MEMORY = """
import sys
from pathlib import Path
from app.signal.measure import measure_print
measure_print(Path(sys.argv[1]), Path(sys.argv[2]) if len(sys.argv) > 2 else None)
# not getrusage: its peak is inherited from whoever started this process
status = dict(line.split(":", 1) for line in open("/proc/self/status"))
print(int(status["VmHWM"].split()[0]) / 1024)
"""


def _playing(seconds: float, seed: int) -> np.ndarray:
    """Decaying notes of an invented line, with a little noise."""
    rng = np.random.default_rng(seed)
    out = np.zeros(round(seconds * RATE), dtype=np.float32)
    t = np.arange(round(0.6 * RATE)) / RATE
    for start in np.arange(0, seconds - 1, 0.25):
        hz = 82.4 * 2 ** (rng.integers(0, 24) / 12)
        note = sum(np.sin(2 * np.pi * hz * k * t) / k for k in (1, 2, 3, 5, 8)) * np.exp(-t / 0.25)
        at = round((start + 0.01 * rng.random()) * RATE)
        out[at : at + len(t)] += (0.15 * rng.random() * note).astype(np.float32)
    return out + (1e-4 * rng.standard_normal(len(out))).astype(np.float32)


def _print_of(source: np.ndarray, seed: int) -> np.ndarray:
    driven = np.tanh(4 * np.concatenate((np.zeros(333, dtype=np.float32), source[:-333])))
    smooth = np.convolve(driven, np.hanning(9) / np.hanning(9).sum(), "same")
    noise = np.random.default_rng(seed).standard_normal(len(smooth)) * 10 ** (-75 / 20)
    return np.asarray(0.5 * smooth + noise, dtype=np.float32)


def _median_s(action: Callable[[], object], rounds: int) -> float:
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        action()
        times.append(time.perf_counter() - start)
    return statistics.median(times)


def _run(*command: str) -> str:
    """As a user's machine runs it, which keeps bytecode from one start to the next."""
    kept = {key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}
    return subprocess.run(command, check=True, capture_output=True, text=True, env=kept).stdout


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=5)
    rounds = parser.parse_args().rounds
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        source_path, print_path, kept = folder / "source.wav", folder / "print.wav", folder / "kept"
        samples = _playing(300, 1)
        soundfile.write(source_path, samples, RATE, subtype="PCM_24")
        soundfile.write(print_path, _print_of(samples, 2), RATE, subtype="PCM_24")
        ffmpeg = ("ffmpeg", "-nostats", "-i", str(print_path), "-af", "ebur128=peak=true", "-f", "null", "-")
        command = (
            *(sys.executable, "-c", COMMAND, "measure"),
            *(str(print_path), "--source", str(source_path), "--json"),
        )
        measure_print(print_path, source_path, features_folder=kept)
        _run(*command)
        peer, ours, whole = [], [], []
        for _ in range(rounds):
            peer.append(_median_s(lambda: _run(*ffmpeg), 1))
            ours.append(_median_s(lambda: measure_print(print_path, source_path, features_folder=kept), 1))
            whole.append(_median_s(lambda: _run(*command), 1))
        figures = {
            "ffmpeg_s": statistics.median(peer),
            "in_process_s": statistics.median(ours),
            "whole_process_s": statistics.median(whole),
        }
        figures["in_process_ratio"] = figures["in_process_s"] / figures["ffmpeg_s"]
        figures["whole_process_ratio"] = figures["whole_process_s"] / figures["ffmpeg_s"]
        figures["peak_memory_mb"] = float(
            _run(sys.executable, "-c", MEMORY, str(print_path), str(source_path))
        )

        many = []
        for seed in range(50):
            many.append(folder / f"source {seed}.wav")
            soundfile.write(many[-1], _playing(240, 100 + seed), RATE, subtype="PCM_24")
        soundfile.write(folder / "one.wav", _print_of(soundfile.read(many[17])[0], 3), RATE, subtype="PCM_24")
        first = _median_s(lambda: identify(folder / "one.wav", many, features_folder=kept), 1)
        figures["identify_50_first_time_s"] = first
        figures["identify_50_s"] = _median_s(
            lambda: identify(folder / "one.wav", many, features_folder=kept), rounds
        )
        assert identify(folder / "one.wav", many, features_folder=kept).best == str(many[17])
        for path in many:
            path.unlink()

        long = folder / "long.wav"
        with soundfile.SoundFile(long, "w", RATE, 1, "PCM_24") as file:
            for _ in range(36):
                file.write(_print_of(samples, 4))
        figures["three_hours_memory_mb"] = float(_run(sys.executable, "-c", MEMORY, str(long), str(long)))
    print(json.dumps({key: round(value, 3) for key, value in figures.items()}, indent=2))


if __name__ == "__main__":
    main()
