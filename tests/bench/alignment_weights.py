"""What the weights of alignment's clues rest on (`app/signal/alignment/evidence.py`): each beside its refit, and shaken.

    uv run --group test python -m tests.bench.alignment_weights [--strangers 1] [--workers 2]

Every print of the corpus is compared with its own source, once as it is and once with buffers lost and heard twice, with other
takes of it where there are some, with its own source two semitones higher, and with strangers. The clues of each pair are taken
as alignment ends with them. A logistic regression on them (with the squares of the weights, in units of their clue's spread, as
penalty; no weight turned round; both kinds of pair counted alike) is fitted to all, and once for each source without any pair
that holds it, on whose prints it is then tried. Each present weight is changed by a fifth either way and left out, with the fit
that each pair ended with held: which lag is chosen may change too, and is not tried anew.

What it printed (three figures: true accepted, true called foreign, foreign accepted):

    104 true pairs, 116 foreign ones; 0 with nothing to fit.
    clue             shown     now   refit   -20 %         +20 %         without
    height             220     4.0    2.92    89  15   0    89  15   0    68  16   5
    agreement          220     3.0    0.00    89  15   0    89  15   0    89  15   0
    steadiest          220     5.0    5.25    89  15   0    89  15   0    88  15   0
    patchiness         124   -25.0   -8.56    89  15   0    89  15   0    89  14   0
    few_stretches        0     3.0    0.00    89  15   0    89  15   0    89  15   0
    coarse_score       220     1.5    1.24    89  15   0    89  15   0    89  15   0
    explained          115     4.0    2.60    89  15   0    89  15   0    89  15   0
    straying           126   -15.0    0.00    89  15   0    89  15   0    90   7   0
    jump_sizes          70    -1.0   -0.61    89  15   0    89  15   0    89  15   1
    constant                   0.0    0.37
    present weights, all pairs:         89  15   0   mean loss 0.5039
    refits, on sources left out:        96   2   1   mean loss 0.1005

All 52 whole prints are accepted by both; the rest are those that lost four buffers in 16 s. There the refit is the better one. The
present weights stay for now: on 53 foreign pairs made by other hands (other takes, other parts of a sequence, transpositions, strangers;
not kept) a refit accepted 10 of them and the present ones 7, for what parts a torn print from another take that wanders, straying
above all, is shown by too few of these pairs. few_stretches is shown by none.
"""

import argparse
import subprocess
import tempfile
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, dataclass, fields, replace
from pathlib import Path
from typing import Any

from app.config import ROOT
from app.signal.alignment.align import ACCEPTED, FOREIGN, compare
from app.signal.alignment.coarse import candidates
from app.signal.alignment.evidence import WEIGHTS, Clues, log_odds, probability
from app.signal.alignment.features import compute_features
from app.signal.alignment.segments import Pair
from app.signal.audio.reading import Sound

import numpy as np  # isort: skip  (after app.signal, which gives its arithmetic one thread)
import soundfile  # isort: skip
from numpy.typing import NDArray  # isort: skip
from scipy.optimize import minimize  # isort: skip

from tests.corpus.cases import Made, all_cases, make
from tests.corpus.made import MADE_BY, corpus_folder, tracks_in
from tests.corpus.sources import RATE
from tests.kept_between_runs import kept_document

NAMES = tuple(field.name for field in fields(Clues))
PENALTY = 1.0
"""On the squares of weights in units of their clue's spread: what clues that part all pairs cannot settle by themselves."""
SHAKEN = 0.2
AGAINST = {"patchiness", "straying", "jump_sizes", "little_shared", "to_and_fro"}
"""Clues that speak against a source; all others speak for it. No fit may turn one round: so few pairs would."""
HIGHER = ", higher"
LOSSES = ((0.21, 513), (0.43, -128), (0.62, 1024), (0.81, 119))
"""Where in a print, as a share of it, so many samples are lost; or heard twice where they are fewer than none."""


@dataclass(frozen=True)
class Compared:
    """One pair: whether it belongs together, and its clues; None where there was nothing to fit."""

    print_name: str
    part: str
    other_part: str
    own: bool
    clues: Clues | None


def part_of(source: str) -> str:
    """Other takes are of the same part."""
    return source.removesuffix(HIGHER).removesuffix(" again").removesuffix(", another line")


@dataclass(frozen=True)
class Asked:
    """A print, its own source, and the names of foreign ones to compare it with."""

    print_name: str
    print_path: Path
    source: str
    source_path: Path
    foreign: tuple[str, ...]


def asked_of(prints: Sequence[Made], names: Sequence[str], strangers: int) -> list[Asked]:
    """Every print with other takes of its source, and with so many strangers."""
    asked = []
    for index, made in enumerate(prints):
        own = made.case.source
        takes = [name for name in names if name != own and part_of(name) == part_of(own)]
        others = [name for name in names if part_of(name) != part_of(own)]
        chosen = [others[(7 * index + 5 * turn) % len(others)] for turn in range(strangers)]
        foreign = tuple(dict.fromkeys([*takes, own + HIGHER, *chosen]))
        asked.append(Asked(made.case.name, made.print_path, own, made.source_path, foreign))
    return asked


def compared(asked: Asked, others: Path) -> list[Compared]:
    """The foreign sources stand in the folder `others` by their names."""
    pairs = [(asked.source, asked.source_path), *((name, others / f"{name}.wav") for name in asked.foreign)]
    taken = compute_features(asked.print_path)
    seen = []
    for name, path in pairs:
        source = compute_features(path)
        with Sound(path) as source_sound, Sound(asked.print_path) as taken_sound:
            found = compare(Pair(source_sound, taken_sound, source, taken), candidates(source, taken))
        clues = None if found is None else found.clues
        own = name == asked.source
        seen.append(Compared(asked.print_name, part_of(asked.source), part_of(name), own, clues))
    return seen


def higher(path: Path) -> None:
    """The same part two semitones higher, at the same pace."""
    ratio = 2 ** (2 / 12)
    tuned = f"asetrate={RATE * ratio:.3f},aresample={RATE},atempo={1 / ratio:.6f}"
    out = path.with_name(f"{path.stem}{HIGHER}.wav")
    command = ("ffmpeg", "-v", "error", "-i", str(path), "-af", tuned, "-c:a", "pcm_s24le", str(out))
    subprocess.run(command, check=True)


def torn(made: Made, folder: Path) -> Path:
    """The print with LOSSES."""
    samples, rate = soundfile.read(made.print_path)
    for share, count in reversed(LOSSES):
        at = round(share * len(samples))
        samples = np.concatenate((samples[:at], samples[at + count :]))
    path = folder / f"torn {made.print_path.name}"
    soundfile.write(path, samples, rate, subtype="PCM_24")
    return path


def measure(strangers: int, workers: int) -> list[dict[str, Any]]:
    folder = corpus_folder()
    tracks = tracks_in(folder)
    prints = [make(case, index, tracks, folder) for index, case in enumerate(all_cases())]
    with tempfile.TemporaryDirectory() as others, ProcessPoolExecutor(workers) as pool:
        for name, samples in tracks.items():
            soundfile.write(Path(others) / f"{name}.wav", samples, RATE, subtype="PCM_24")
            higher(Path(others) / f"{name}.wav")
        asked = asked_of(prints, sorted(tracks), strangers)
        asked += [
            Asked(f"{made.case.name}, torn", torn(made, Path(others)), made.case.source, made.source_path, ())
            for made in prints
        ]
        found = pool.map(compared, asked, [Path(others)] * len(asked))
        return [asdict(pair) for pairs in found for pair in pairs]


def read(documents: Sequence[dict[str, Any]]) -> list[Compared]:
    return [
        Compared(**{**document, "clues": document["clues"] and Clues(**document["clues"])})
        for document in documents
    ]


def fitted(pairs: Sequence[Compared]) -> tuple[Clues, float]:
    """Weights and constant of a logistic regression."""
    clues = np.array([[getattr(pair.clues, name) for name in NAMES] for pair in pairs])
    own = np.array([pair.own for pair in pairs])
    spread = clues.std(axis=0)
    spread[spread == 0] = np.inf  # what no pair shows gets no weight
    scaled = np.hstack([clues / spread, np.ones((len(pairs), 1))])
    counted = np.where(own, 0.5 / own.mean(), 0.5 / (1 - own.mean()))
    signs = np.where(own, 1.0, -1.0)

    def loss(weights: NDArray[np.float64]) -> tuple[float, NDArray[np.float64]]:
        odds = signs * (scaled @ weights)
        slope = -signs * counted / (1 + np.exp(np.clip(odds, -500, 500)))
        penalised = np.append(weights[:-1], 0.0)
        value = float((counted * np.logaddexp(0, -odds)).sum() + PENALTY / 2 * (penalised**2).sum())
        return value, scaled.T @ slope + PENALTY * penalised

    bounds = [(None, 0.0) if name in AGAINST else (0.0, None) for name in NAMES] + [(None, None)]
    best = minimize(loss, np.zeros(scaled.shape[1]), jac=True, method="L-BFGS-B", bounds=bounds).x
    return Clues(*(best[:-1] / spread).tolist()), float(best[-1])


@dataclass(frozen=True)
class Outcome:
    """How many of the true pairs were accepted and called foreign, how many foreign ones were accepted."""

    accepted: int
    called_foreign: int
    foreign_accepted: int
    surprise: float
    """Mean logarithmic loss, both kinds of pair counted alike."""

    def __str__(self) -> str:
        return f"{self.accepted:3d} {self.called_foreign:3d} {self.foreign_accepted:3d}"


def outcome(pairs: Sequence[Compared], odds: Sequence[float]) -> Outcome:
    likely = [probability(float(np.clip(value, -500, 500))) for value in odds]
    own = [value for pair, value in zip(pairs, likely, strict=True) if pair.own]
    foreign = [value for pair, value in zip(pairs, likely, strict=True) if not pair.own]
    surprise = -0.5 * (
        np.log(np.maximum(own, 1e-12)).mean() + np.log(np.maximum(1 - np.array(foreign), 1e-12)).mean()
    )
    return Outcome(
        sum(value >= ACCEPTED for value in own),
        sum(value < FOREIGN for value in own),
        sum(value >= ACCEPTED for value in foreign),
        float(surprise),
    )


def held_out(pairs: Sequence[Compared]) -> tuple[Outcome, Outcome, list[str]]:
    """Present weights and refits, each tried on prints of sources it was not fitted to; and a line for each source."""
    tried: list[Compared] = []
    now: list[float] = []
    refit: list[float] = []
    lines = []
    for part in sorted({pair.part for pair in pairs}):
        weights, constant = fitted([pair for pair in pairs if part not in (pair.part, pair.other_part)])
        left_out = [pair for pair in pairs if pair.part == part]
        odds_now = [log_odds(pair.clues) for pair in left_out if pair.clues is not None]
        odds_refit = [constant + log_odds(pair.clues, weights) for pair in left_out if pair.clues is not None]
        own = sum(pair.own for pair in left_out)
        lines.append(
            f"{part:30s} {own:4d} {len(left_out) - own:7d}   "
            f"{outcome(left_out, odds_now)}   {outcome(left_out, odds_refit)}"
        )
        tried, now, refit = tried + left_out, now + odds_now, refit + odds_refit
    return outcome(tried, now), outcome(tried, refit), lines


def report(pairs: Sequence[Compared]) -> str:
    nothing = [pair for pair in pairs if pair.clues is None]
    pairs = [pair for pair in pairs if pair.clues is not None]
    own = sum(pair.own for pair in pairs)

    def with_weights(weights: Clues) -> Outcome:
        return outcome(pairs, [log_odds(pair.clues, weights) for pair in pairs if pair.clues is not None])

    weights, constant = fitted(pairs)
    now, refit, by_source = held_out(pairs)
    lines = [
        f"{own} true pairs, {len(pairs) - own} foreign ones; {len(nothing)} with nothing to fit.",
        "Three figures: true accepted, true called foreign, foreign accepted.",
        "",
        f"{'clue':16s} {'shown':>5s} {'now':>7s} {'refit':>7s}   {'-20 %':11s}   {'+20 %':11s}   {'without':11s}",
    ]
    for name in NAMES:
        weight = getattr(WEIGHTS, name)
        changed = [
            with_weights(replace(WEIGHTS, **{name: weight * factor}))
            for factor in (1 - SHAKEN, 1 + SHAKEN, 0)
        ]
        shown = sum(getattr(pair.clues, name) != 0 for pair in pairs)
        lines.append(
            f"{name:16s} {shown:5d} {weight:7.1f} {getattr(weights, name):7.2f}   "
            + "   ".join(str(one) for one in changed)
        )
    lines += [
        f"{'constant':16s} {'':5s} {0:7.1f} {constant:7.2f}",
        "",
        f"present weights, all pairs:      {with_weights(WEIGHTS)}   mean loss {with_weights(WEIGHTS).surprise:.4f}",
        f"present weights, source by source: {now}   mean loss {now.surprise:.4f}",
        f"refits, on sources left out:       {refit}   mean loss {refit.surprise:.4f}",
        "",
        f"{'source left out':30s} {'true':>4s} {'foreign':>7s}   {'now':11s}   {'refit':11s}",
        *by_source,
    ]
    return "\n".join(lines)


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--strangers", type=int, default=1, help="foreign sources for each print")
    parser.add_argument("--workers", type=int, default=2)
    asked = parser.parse_args()
    code = (*MADE_BY, ROOT / "app/signal", Path(__file__))
    name = f"alignment clues, {asked.strangers} strangers"
    print(report(read(kept_document(name, code, lambda: measure(asked.strangers, asked.workers)))))


if __name__ == "__main__":
    main()
