"""How loud any part of a pass is at any balance of its prints, and the gains that make passes equally loud.

Plain arithmetic on `HopPowers`, so the server can answer at once: the gating is that of ITU-R BS.1770-5 (400 ms
blocks, 100 ms apart, gates at -70 LUFS and 10 LU below), the powers are measured of the very audio that is heard.
"""

import json
import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import accumulate
from operator import add, sub
from pathlib import Path

from app.desk.listening.measured_together import folder_of
from app.desk.refusals import NotThere
from app.library import Readable
from app.signal.listening.figures import HOP_S, HopPowers, hop_powers_from_json

HOPS_PER_BLOCK = 4
ABSOLUTE_GATE_LUFS, RELATIVE_GATE_LU = -70.0, -10.0
LOUDSPEAKERS = 2
"""What powers are summed over. A mono print comes from both, but its file is one channel to a meter (BS.1770)."""


@dataclass(frozen=True)
class Balance:
    """Prints that sound together: their powers, and for each its gain in decibels and whether it is turned over.
    `nudged_db` is what moving them against one another adds to their sum, over the whole length."""

    powers: HopPowers
    gains_db: tuple[float, ...]
    inverted: tuple[bool, ...]
    nudged_db: float = 0.0

    def gains(self) -> list[float]:
        return [
            (-1.0 if turned else 1.0) * 10 ** (gain_db / 20)
            for gain_db, turned in zip(self.gains_db, self.inverted, strict=True)
        ]


@dataclass(frozen=True)
class Matched:
    """What to raise each balance by (in fact lower: none is above 0 dB), and how loud each was in that part.

    `loudness_lufs` is None where the standard gives none. `is_gated` is False where the part is too short or too
    quiet in some balance, and plain K-weighted power was matched instead; a balance that is silent there is left
    as it is. `headroom_db` is what all were lowered by, alike, because some balance could exceed full scale.
    """

    gains_db: tuple[float, ...]
    loudness_lufs: tuple[float | None, ...]
    is_gated: bool
    headroom_db: float


def read_hop_powers(library: Readable, key: str) -> HopPowers:
    """Of a lane's prints, by its `loudness_key`. Raises NotThere."""
    path = folder_of(library, key) / "loudness.json"
    try:
        return _read(path, path.stat().st_mtime_ns)
    except (OSError, ValueError, KeyError) as error:
        raise NotThere("audition") from error


@lru_cache(maxsize=32)
def _read(path: Path, changed_ns: int) -> HopPowers:
    return hop_powers_from_json(json.loads(path.read_text(encoding="utf-8")))


def loudness_of_part(balance: Balance, from_s: float, to_s: float) -> float | None:
    """Integrated loudness in LUFS of the whole 100 ms hops within the part, as a meter would read the balance's own
    file (a mono one as one channel). None under 400 ms, and where nothing rises above -70 LUFS."""
    share = 1 / LOUDSPEAKERS if balance.powers.channels == 1 else 1.0
    power = _gated_power([share * hop for hop in _hops(balance, from_s, to_s)])
    return None if power is None else _lufs(power)


def matching_gains(balances: Sequence[Balance], from_s: float, to_s: float) -> Matched:
    """Gains that make the part equally loud in all balances as they come from two loudspeakers, by lowering the
    louder ones to the quietest."""
    parts = [_hops(balance, from_s, to_s) for balance in balances]
    powers = [_gated_power(hops) for hops in parts]
    is_gated = all(power is not None for power, hops in zip(powers, parts, strict=True) if any(hops))
    if not is_gated:
        powers = [math.fsum(hops) / len(hops) if any(hops) else None for hops in parts]
    quietest = min((power for power in powers if power is not None), default=1.0)
    gains_db = [0.0 if power is None else 10 * math.log10(quietest / power) for power in powers]
    peaks_db = [gain + _peak_bound_db(balance) for gain, balance in zip(gains_db, balances, strict=True)]
    headroom_db = max(0.0, *peaks_db) if peaks_db else 0.0
    return Matched(
        gains_db=tuple(gain - headroom_db for gain in gains_db),
        loudness_lufs=tuple(loudness_of_part(balance, from_s, to_s) for balance in balances),
        is_gated=is_gated,
        headroom_db=headroom_db,
    )


def _peak_bound_db(balance: Balance) -> float:
    """No sample of the balance can be higher than this."""
    bound = math.fsum(
        abs(gain) * peak for gain, peak in zip(balance.gains(), balance.powers.peaks, strict=True)
    )
    return 20 * math.log10(bound) if bound > 0 else -math.inf


def _hops(balance: Balance, from_s: float, to_s: float) -> list[float]:
    """The power of each whole hop of the part, both loudspeakers together."""
    first = max(0, math.ceil(from_s / HOP_S - 1e-6))
    last = math.floor(to_s / HOP_S + 1e-6)
    gains = balance.gains()
    total: list[float] = []
    for (one, other), powers in zip(balance.powers.pairs(), balance.powers.powers, strict=True):
        weight = gains[one] * gains[other] * (1 if one == other else 2)
        weighted = [weight * power for power in powers[first:last]]
        total = list(map(add, total, weighted)) if total else weighted
    nudged = 10 ** (balance.nudged_db / 10)
    return [max(0.0, power) * nudged for power in total]


def _gated_power(hops: list[float]) -> float | None:
    """The mean power of the gating blocks that pass both gates (BS.1770-5 Annex 1)."""
    summed = [0.0, *accumulate(hops)]
    blocks = [power / HOPS_PER_BLOCK for power in map(sub, summed[HOPS_PER_BLOCK:], summed)]
    absolute = 10 ** ((ABSOLUTE_GATE_LUFS + 0.691) / 10)
    loud = [power for power in blocks if power > absolute]
    if not loud:
        return None
    relative = math.fsum(loud) / len(loud) * 10 ** (RELATIVE_GATE_LU / 10)
    kept = [power for power in loud if power > relative]
    return math.fsum(kept) / len(kept)


def _lufs(power: float) -> float:
    return -0.691 + 10 * math.log10(power)
