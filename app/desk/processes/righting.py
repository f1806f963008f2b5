"""Which way up each print of a pass stands, before copies of them are turned over: by the same rule as they are heard, on
the files themselves."""

import math
from collections.abc import Iterator, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path

from app.desk.listening.aligned_copies import CopyOrder
from app.signal.audio.reading import Samples, Sound
from app.signal.listening import polarities
from app.signal.listening.aligned import aligned_blocks
from app.signal.listening.blend import measure_together
from app.signal.listening.blend_figures import MeasuredTogether
from app.signal.listening.polarities import standings_of

BLOCK_S = 10
TURNED, KEPT = "polarity turned over", "polarity as it was"


@dataclass(frozen=True)
class Standing:
    """`turned` is what is done about it, `said` is the words for it; where it is not `clear` the copy's name says so."""

    turned: bool
    said: str
    clear: bool = True


def standings(orders: Sequence[CopyOrder]) -> list[Standing]:
    """Raises UnreadableAudio."""
    found: dict[int, Standing] = {}
    for number in dict.fromkeys(order.pass_number for order in orders):
        places = [at for at, one in enumerate(orders) if one.pass_number == number and not one.is_source]
        found |= dict(zip(places, _of_pass([orders[at] for at in places]), strict=True))
    return [found[at] if at in found else _as_chosen(order) for at, order in enumerate(orders)]


def _of_pass(prints: Sequence[CopyOrder]) -> list[Standing]:
    alone = [one.polarity for one in prints]
    asks = len(prints) > 1 and any(one.rights and one.polarity == "unclear" for one in prints)
    told = standings_of(alone, _measured_together(prints) if asks else None)
    return [
        _in_words(one, prints) if order.rights else _as_chosen(order)
        for order, one in zip(prints, told, strict=True)
    ]


def _as_chosen(order: CopyOrder) -> Standing:
    return Standing(order.inverted, TURNED if order.inverted else KEPT)


def _in_words(told: polarities.Standing, prints: Sequence[CopyOrder]) -> Standing:
    what = TURNED if told.is_turned else KEPT
    by = None if told.told_by is None else prints[told.told_by].name
    if told.polarity != "unclear":
        return Standing(
            told.is_turned,
            what if by is None else f"{what}: unclear against the source but clear against {by}",
        )
    if by is not None:
        return Standing(True, f"{what} to agree with {by}: which way up both are is unclear", False)
    return Standing(False, f"{what}: which way up it is could not be told", False)


def _measured_together(prints: Sequence[CopyOrder]) -> MeasuredTogether:
    with ExitStack() as opened:
        sounds = [(opened.enter_context(Sound(Path(one.path))), one) for one in prints]
        frames = min(_frames(sound, order) for sound, order in sounds)

        def together() -> Iterator[list[Samples]]:
            streams = [_blocks(sound, order, frames) for sound, order in sounds]
            return (list(block) for block in zip(*streams, strict=True))

        return measure_together(together, prints[0].target_rate, frames)


def _frames(sound: Sound, order: CopyOrder) -> int:
    step = sound.sample_rate * (1 + order.drift_ppm * 1e-6) / order.target_rate
    held = math.floor((sound.frames - order.last_delay_samples(sound.sample_rate)) / step)
    return max(1, held if order.length_s is None else min(held, round(order.length_s * order.target_rate)))


def _blocks(sound: Sound, order: CopyOrder, frames: int) -> Iterator[Samples]:
    return aligned_blocks(
        sound,
        delay_samples=order.delay_samples,
        drift_ppm=order.drift_ppm,
        target_rate=order.target_rate,
        frames=frames,
        block_frames=BLOCK_S * order.target_rate,
        moved=order.moved,
    )
