"""The prints of the corpus: which source through which chain, with what done to it, and so what is true of each."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile

from tests.corpus import gear, sources
from tests.corpus.gear import Piece
from tests.corpus.sources import RATE, Audio

SECONDS = 16.0


@dataclass(frozen=True)
class Case:
    """`sign` is 0 where the chain leaves no polarity. `delay` includes the chain's own arrival."""

    name: str
    hard: bool
    source: str
    chain: tuple[Piece, ...]
    delay: float = 0.0
    inverted: bool = False
    ppm: float = 0.0
    linear_phase: bool = False
    polarity_means_something: bool = True
    cut: tuple[float, float] = (0.0, 1.0)
    muted_in_source: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True)
class Made:
    case: Case
    print_path: Path
    source_path: Path
    delay: float
    sign: int


def source_tracks(folder: Path) -> dict[str, Audio]:
    """Every source by name; six recorded ones, eight from a soundfont, six synthesised."""
    shots = {
        "steel guitar notes": ["instruments/steel_guitar01.ogg"],
        "slapped bass notes": ["instruments/bassslap01.ogg", "instruments/bassslap02.ogg"],
        "piano notes": ["instruments/piano01.ogg", "instruments/piano02.ogg"],
        "pizzicato, sparse": ["instruments/violin_pizzicato01.ogg"],
    }
    tracks = {
        "breakbeat loop": sources.looped("beats/jungle01.ogg", SECONDS, 1, alike=0.5),
        "latin guitar loop": sources.looped("latin/latin_guitar01.ogg", SECONDS, 2, alike=0.3),
        "bass loop": sources.looped("bassloops/tb303_01.ogg", SECONDS, 3, alike=0.5),
    }
    for seed, (name, files) in enumerate(shots.items()):
        rest, step_s = (0.85, 0.5) if "sparse" in name else (0.25, 0.3)
        tracks[name] = sources.arranged(files, SECONDS, 10 + seed, rest=rest, step_s=step_s)
    for name in sources.PARTS:
        tracks[name] = sources.part(name, folder, SECONDS)
    tracks["plucked low string"] = sources.plucked(SECONDS, 20)
    tracks["plucked low string, another line"] = sources.plucked(SECONDS, 21)
    tracks["plucked high string"] = sources.plucked(SECONDS, 22, lowest_hz=110, step_s=0.2)
    tracks["pad"] = sources.pad(SECONDS, 23)
    tracks["slow pad"] = sources.pad(SECONDS, 24, chord_s=7)
    tracks["spoken"] = sources.voice(SECONDS, 25)
    return tracks


def _ordinary() -> list[Case]:
    cab, drive, high = gear.cabinet, gear.overdrive, gear.high_pass
    through: list[tuple[str, tuple[Piece, ...], bool]] = [
        ("finger bass", (cab(1, linear_phase=True),), True),
        ("clean guitar", (cab(2, linear_phase=True),), True),
        ("breakbeat loop", (cab(3, linear_phase=True),), True),
        ("spoken", (cab(4, linear_phase=True),), True),
        ("nylon guitar", (high(20), cab(5)), False),
        ("pick bass", (high(30), drive(2), cab(6)), False),
        ("steel guitar notes", (high(20), drive(4), cab(7)), False),
        ("piano notes", (high(15), cab(8), gear.room(1, 0.4, 0.3)), False),
        ("grand piano", (high(15), gear.peaking(300, -4), gear.peaking(3000, 5)), False),
        ("electric piano", (high(30), drive(3), cab(9)), False),
        ("drawbar organ", (high(30), drive(2), cab(10, top_hz=6500)), False),
        ("drum kit", (gear.compressor(0.05, 4), high(30)), False),
        ("trumpet", (high(30), cab(11)), False),
        ("tenor sax", (high(30), drive(1.5), gear.low_pass(9000)), False),
        ("latin guitar loop", (high(30), drive(3), cab(12), gear.hiss(-65, 1)), False),
        ("slapped bass notes", (gear.compressor(0.05, 3), high(30), cab(13)), False),
        ("muted guitar", (high(30), gear.gate(0.002), drive(4), cab(14)), False),
        ("plucked low string", (high(30), drive(3), cab(15)), False),
        ("plucked high string", (high(30), drive(5), cab(16)), False),
        ("breakbeat loop", (high(30), drive(2), cab(17), gear.room(2, 0.6, 0.4)), False),
        ("bass loop", (high(30), drive(3), cab(18)), False),
        ("spoken", (high(60), gear.compressor(0.03, 5), cab(19, top_hz=7000)), False),
        ("choir", (high(30), cab(20)), False),
        ("strings", (high(30), drive(1.5), cab(21)), False),
        ("clean guitar", (high(30), drive(6), cab(22)), False),
        ("finger bass", (high(20), gear.peaking(80, 5), gear.low_pass(8000)), False),
    ]
    delays = [41.0, 37.25, 512.5, -63.75, 1800.125, 88.4, 4800.0, 240.6, 9.3, 13000.0]
    drifts = [0.0, 0.0, 0.0, 0.0, 22.0, 0.0, 0.0, -45.0]
    return [
        Case(
            f"{source} #{index}",
            hard=False,
            source=source,
            chain=chain,
            delay=delays[index % len(delays)],
            inverted=index % 3 == 1,
            ppm=drifts[index % len(drifts)],
            linear_phase=linear,
        )
        for index, (source, chain, linear) in enumerate(through)
    ]


def _hard() -> list[Case]:
    cab, drive, high, fuzz = gear.cabinet, gear.overdrive, gear.high_pass, gear.fuzz

    def hard(name: str, source: str, *chain: Piece, delay: float = 300.5, **more: object) -> Case:
        return Case(name, True, source, chain, delay=delay, **more)  # type: ignore[arg-type]

    no_sign = {"polarity_means_something": False}
    return [
        hard("heavy fuzz", "clean guitar", high(40), fuzz(150), cab(31), inverted=True),
        hard("fuzz on bass", "finger bass", high(40), fuzz(60), cab(32)),
        hard("gated fuzz", "muted guitar", gear.gate(0.004), fuzz(100), cab(33), delay=2222.0),
        hard("octave down with dry", "clean guitar", gear.octave_down(0.5), drive(2), cab(34), **no_sign),
        hard("octave down with dry, bass", "plucked low string", gear.octave_down(0.7), cab(35), **no_sign),
        hard("octave up", "steel guitar notes", gear.octave_up(), fuzz(10, 0.0), cab(36), **no_sign),
        hard("octave up on organ", "drawbar organ", gear.octave_up(), drive(3), cab(37), **no_sign),
        hard("chorus", "electric piano", gear.chorus(2, 0.8, 0.8), cab(38), inverted=True),
        hard("deep chorus", "latin guitar loop", gear.chorus(3, 2.0, 1.0), cab(39)),
        hard("vibrato", "nylon guitar", gear.vibrato(0.8, 5), **no_sign),
        hard("vibrato and drive", "trumpet", gear.vibrato(0.6, 4.3), drive(3), cab(40), **no_sign),
        hard("long reverb", "piano notes", gear.room(3, 3.0, 1.5), delay=17000.0),
        hard("fuzz into reverb", "clean guitar", fuzz(60), cab(41), gear.room(4, 2.0, 1.0)),
        hard(
            "hard compression and fuzz",
            "tenor sax",
            gear.compressor(0.01, 20),
            fuzz(50),
            cab(42),
            gear.hiss(-50, 2),
        ),
        hard("dark cabinet", "electric piano", gear.low_pass(700, 4), drive(6), cab(43)),
        hard("sparse", "pizzicato, sparse", high(30), drive(8), cab(44), inverted=True),
        hard("repeating loop, fuzz", "breakbeat loop", high(40), fuzz(30), cab(45)),
        hard("repeating loop, wah", "bass loop", gear.wah(), drive(5), cab(46)),
        hard("pad", "pad", high(30), drive(3), cab(47), delay=950.0),
        hard("slow pad, tremolo", "slow pad", gear.tremolo(0.8, 4), drive(3), cab(48)),
        hard("edited source", "grand piano", high(30), drive(3), cab(49), muted_in_source=(0.35, 0.6)),
        hard("edited source, fuzz", "muted guitar", fuzz(40), cab(50), muted_in_source=(0.1, 0.4), ppm=-30.0),
        hard("phaser and fuzz", "plucked high string", gear.phaser(), fuzz(30), cab(51)),
        hard("echo", "spoken", drive(6), gear.echo(0.35, 0.5, 0.7), cab(52)),
        hard("ten seconds out of the middle", "grand piano", high(30), drive(4), cab(53), cut=(0.3, 0.8)),
        hard("five bits", "drum kit", gear.crusher(5), gear.low_pass(3000), cab(54)),
    ]


def all_cases() -> list[Case]:
    return _ordinary() + _hard()


def play(chain: tuple[Piece, ...], samples: Audio) -> Audio:
    for piece in chain:
        samples = piece.play(samples)
    return samples


def make(case: Case, index: int, tracks: dict[str, Audio], folder: Path) -> Made:
    """Writes source and print, and says what is true of them."""
    print_path, source_path = folder / f"print {index}.wav", folder / f"source {index}.wav"
    first = _write(case, index, tracks[case.source], print_path, source_path)
    arrival, sign = gear.arrival(list(case.chain))
    delay = (case.delay + arrival) * (1 + case.ppm * 1e-6) - first
    sign = 0 if not case.polarity_means_something else (-sign if case.inverted else sign)
    return Made(case, print_path, source_path, delay, sign)


def _write(case: Case, index: int, source: Audio, print_path: Path, source_path: Path) -> int:
    """Writes what is not there yet; returns how many samples are cut off the print's beginning."""
    length = len(source) + round(max(0.0, case.delay)) + 2400
    first = round(case.cut[0] * length)
    if print_path.exists() and source_path.exists():
        return first
    print_samples = play(case.chain, gear.delayed(np.pad(source, (0, length - len(source))), case.delay))
    print_samples = -print_samples if case.inverted else print_samples
    if case.ppm:
        print_samples = gear.drifted(print_samples, case.ppm)
    print_samples = print_samples[first : round(case.cut[1] * length)]
    noise = np.random.default_rng(index).standard_normal(len(print_samples)) * 10 ** (-82 / 20)
    print_samples = print_samples / np.abs(print_samples).max() * 10 ** (-6 / 20) + noise
    kept = source.copy()
    a, b = (round(part * len(kept)) for part in case.muted_in_source)
    kept[a:b] = 0
    soundfile.write(print_path, print_samples, RATE, subtype="PCM_24")
    soundfile.write(source_path, kept, RATE, subtype="PCM_24")
    return first
