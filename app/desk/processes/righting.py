"""Which way up each print of a pass stands, before copies of them are turned over: as its page says; where a print alone
leaves it unclear, as it stands to the others of its pass, print against print."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from app.desk.listening.aligned_copies import CopyOrder
from app.signal.audio.reading import Samples, Sound
from app.signal.figures import Polarity
from app.signal.listening.aligned import aligned_blocks
from app.signal.listening.blend import measure_together
from app.signal.listening.blend_figures import polarity_between

BLOCK_S = 10


@dataclass(frozen=True)
class Standing:
    """`turned` is what is done about it, `said` is the words for it; where it is not `clear` the copy's name says so."""

    turned: bool
    said: str
    clear: bool = True


def standings(orders: Sequence[CopyOrder]) -> list[Standing]:
    """Raises UnreadableAudio."""
    return [_standing(order, orders) for order in orders]


def _standing(order: CopyOrder, orders: Sequence[CopyOrder]) -> Standing:
    if not order.rights:
        return Standing(order.inverted, "polarity turned over" if order.inverted else "polarity as it was")
    if order.polarity != "unclear":
        is_down = order.polarity == "inverted"
        return Standing(is_down, "polarity turned over" if is_down else "polarity as it was")
    of_pass = [one for one in orders if one.pass_number == order.pass_number]
    known = [one for one in of_pass if one.polarity != "unclear"]
    for other in known:
        between = _between(other, order)
        if between != "unclear":
            is_down = (between == "inverted") != (other.polarity == "inverted")
            what = "polarity turned over" if is_down else "polarity as it was"
            return Standing(is_down, f"{what}: unclear against the source but clear against {other.name}")
    if not known and order is not of_pass[0] and _between(of_pass[0], order) == "inverted":
        first = of_pass[0].name
        return Standing(
            True, f"polarity turned over to agree with {first}: which way up both are is unclear", False
        )
    return Standing(False, "polarity as it was: which way up it is could not be told", False)


def _between(one: CopyOrder, other: CopyOrder) -> Polarity:
    with Sound(Path(one.path)) as first, Sound(Path(other.path)) as second:
        sounds = ((first, one), (second, other))
        frames = min(_frames(sound, order) for sound, order in sounds)

        def together() -> Iterator[list[Samples]]:
            streams = [_blocks(sound, order, frames) for sound, order in sounds]
            return (list(block) for block in zip(*streams, strict=True))

        return polarity_between(measure_together(together, one.target_rate, frames))


def _frames(sound: Sound, order: CopyOrder) -> int:
    step = sound.sample_rate * (1 + order.drift_ppm * 1e-6) / order.target_rate
    held = math.floor((sound.frames - order.delay_samples) / step)
    return max(1, held if order.length_s is None else min(held, round(order.length_s * order.target_rate)))


def _blocks(sound: Sound, order: CopyOrder, frames: int) -> Iterator[Samples]:
    return aligned_blocks(
        sound,
        delay_samples=order.delay_samples,
        drift_ppm=order.drift_ppm,
        target_rate=order.target_rate,
        frames=frames,
        block_frames=BLOCK_S * order.target_rate,
    )
