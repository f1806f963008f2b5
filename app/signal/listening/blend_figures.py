"""What prints of one pass do together, as plain values and plain arithmetic.

Nothing here imports numpy, so the web server may answer at once for any levels, nudges and polarities: `blend_of`
works on cross-spectra that were measured once (`app.signal.listening.blend`). Spectra add by superposition: the power of a
sum is Σ gᵢ gⱼ Cᵢⱼ exp(j2πf(nᵢ - nⱼ)), C being the cross-spectrum and n the nudges in seconds.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

from app.signal.figures import Polarity
from app.signal.levels.third_octaves import FIRST_INDEX, NOMINAL_HZ
from app.signal.stored_json import read_stored

LOWEST_INDEX, HIGHEST_INDEX = FIRST_INDEX, FIRST_INDEX + len(NOMINAL_HZ) - 1  # 20 Hz to 20 kHz
CONTENT_FLOOR_DB = -60.0
"""A band that lies this far below the sum's strongest is left out: it says nothing about what is heard."""
SURE_CORRELATION = 0.1
"""Below it, turning a print over changes so little that no polarity is suggested."""


@dataclass(frozen=True, slots=True)
class CrossSpectra:
    """Mean spectra of prints that sound together, in bins `bin_hz` wide from 0 Hz on.

    `powers[i][k]` is the mean square of print i in bin k, over both loudspeakers, a mono print coming from both;
    `real` and `imaginary` hold the cross-spectrum Xᵢ · conj(Xⱼ) of each pair i < j, in the order (0, 1), (0, 2), …,
    (1, 2), ….
    """

    sample_rate: int
    bin_hz: float
    powers: tuple[tuple[float, ...], ...]
    real: tuple[tuple[float, ...], ...]
    imaginary: tuple[tuple[float, ...], ...]

    def pairs(self) -> list[tuple[int, int]]:
        prints = range(len(self.powers))
        return [(first, second) for first in prints for second in prints if second > first]


@dataclass(frozen=True, slots=True)
class PairFigures:
    """How two prints lie to one another, from the audio. `delay_samples` is how much later the second arrives, None
    where that cannot be told; `polarity` is that of the arrival itself."""

    first: int
    second: int
    delay_samples: float | None
    polarity: Polarity
    confidence: float


@dataclass(frozen=True, slots=True)
class MeasuredTogether:
    """What is measured once of a pass's prints, and serves every blend of them."""

    spectra: CrossSpectra
    pairs: tuple[PairFigures, ...]

    def only(self, chosen: Sequence[int]) -> "MeasuredTogether":
        """The same of some of them, numbered anew in their old order."""
        numbers = {old: new for new, old in enumerate(chosen)}
        rows = [
            index
            for index, (first, second) in enumerate(self.spectra.pairs())
            if first in numbers and second in numbers
        ]
        spectra = CrossSpectra(
            self.spectra.sample_rate,
            self.spectra.bin_hz,
            tuple(self.spectra.powers[index] for index in chosen),
            tuple(self.spectra.real[index] for index in rows),
            tuple(self.spectra.imaginary[index] for index in rows),
        )
        pairs = tuple(
            replace(pair, first=numbers[pair.first], second=numbers[pair.second])
            for pair in self.pairs
            if pair.first in numbers and pair.second in numbers
        )
        return MeasuredTogether(spectra, pairs)


@dataclass(frozen=True, slots=True)
class BlendSetting:
    """What is done to one print: `nudge_samples` above 0 moves it later, below 0 earlier."""

    gain_db: float = 0.0
    nudge_samples: float = 0.0
    inverted: bool = False


@dataclass(frozen=True, slots=True)
class BlendBand:
    """One third-octave band of IEC 61260-1: the sum's level (plain scale, both loudspeakers), and how far it lies
    above whichever print is the louder in that band; None where there is nothing to speak of. Against one and the same
    print throughout, a band that this print hardly holds would read as a huge gain."""

    mid_hz: float
    sum_dbfs: float | None
    over_louder_db: float | None


@dataclass(frozen=True, slots=True)
class Sum:
    """A sum at certain settings. `over_louder_db` is its whole level over that of the louder print alone, number `louder`;
    `correlations` are the pairs', -1 to 1, in the order of `CrossSpectra.pairs`, None where one is silent."""

    settings: tuple[BlendSetting, ...]
    louder: int
    over_louder_db: float | None
    bands: tuple[BlendBand, ...]
    correlations: tuple[float | None, ...]


@dataclass(frozen=True, slots=True)
class Effect:
    """What one suggested change does on its own: the sum after it, and by how much each band (mid_hz, dB) and the
    whole change against the sum as it is."""

    change: Literal["nudge", "polarity", "both"]
    after: Sum
    whole_db: float | None
    bands_db: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class BlendFigures:
    """`suggested` is what lines all up with the print that arrives first, as settings with today's gains; None where
    nothing can be told, and `notes` say why."""

    as_it_is: Sum
    pairs: tuple[PairFigures, ...]
    suggested: tuple[BlendSetting, ...] | None
    effects: tuple[Effect, ...]
    notes: tuple[str, ...] = ()


def blend_of(
    measured: MeasuredTogether, settings: Sequence[BlendSetting], polarities: Sequence[Polarity] = ()
) -> BlendFigures:
    """The sum of the prints at these settings, and what lining them up would do to it. `polarities` are the prints'
    against their source, where they are known: they outrank what the prints' correlation says."""
    now = sum_of(measured.spectra, settings)
    unknown: list[Polarity] = ["unclear"] * len(settings)
    suggested = _suggestion(measured, settings, polarities or unknown)
    if suggested is None:
        note = "How the prints lie to one another could not be told from their audio."
        return BlendFigures(now, measured.pairs, None, (), (note,))
    nudged = tuple(
        BlendSetting(at.gain_db, new.nudge_samples, at.inverted)
        for at, new in zip(settings, suggested, strict=True)
    )
    turned = tuple(
        BlendSetting(at.gain_db, at.nudge_samples, new.inverted)
        for at, new in zip(settings, suggested, strict=True)
    )
    effects: list[Effect] = []
    if nudged != tuple(settings):
        effects.append(_effect("nudge", measured.spectra, now, nudged))
    if turned != tuple(settings):
        effects.append(_effect("polarity", measured.spectra, now, turned))
    if len(effects) == 2:
        effects.append(_effect("both", measured.spectra, now, suggested))
    return BlendFigures(now, measured.pairs, suggested, tuple(effects))


def sum_of(spectra: CrossSpectra, settings: Sequence[BlendSetting]) -> Sum:
    """The sum of the prints at these settings, by band and as a whole."""
    bins = len(spectra.powers[0])
    gains = [10 ** (setting.gain_db / 20) * (-1 if setting.inverted else 1) for setting in settings]
    own = [
        [gain * gain * power for power in powers] for gain, powers in zip(gains, spectra.powers, strict=True)
    ]
    whole = [math.fsum(powers) for powers in own]
    total = [math.fsum(column) for column in zip(*own, strict=True)]
    correlations: list[float | None] = []
    for index, (first, second) in enumerate(spectra.pairs()):
        weight = gains[first] * gains[second]
        apart_samples = settings[first].nudge_samples - settings[second].nudge_samples
        cross = _turned(spectra, index, apart_samples, bins)
        together = weight * math.fsum(cross)
        if whole[first] > 0 and whole[second] > 0:
            correlations.append(together / math.sqrt(whole[first] * whole[second]))
        else:
            correlations.append(None)
        total = [power + 2 * weight * shared for power, shared in zip(total, cross, strict=True)]
    louder = max(range(len(whole)), key=whole.__getitem__)
    summed_bands = _bands(spectra, total)
    bands_alone = [_bands(spectra, powers) for powers in own]
    louder_bands = [max(column, key=lambda band: band[1]) for column in zip(*bands_alone, strict=True)]
    floor = max((power for _, power in summed_bands + louder_bands), default=0.0) * 10 ** (
        CONTENT_FLOOR_DB / 10
    )
    bands = [
        BlendBand(
            mid,
            _level_db(power),
            _ratio_db(power, alone) if max(power, alone) > floor else None,
        )
        for (mid, power), (_, alone) in zip(summed_bands, louder_bands, strict=True)
    ]
    return Sum(
        tuple(settings),
        louder,
        _ratio_db(math.fsum(total), whole[louder]),
        tuple(bands),
        tuple(correlations),
    )


def polarity_between(measured: MeasuredTogether) -> Polarity:
    """How the second of two prints stands to the first: as their arrivals say; where that is unclear, by what their sum
    would do once they are lined up."""
    (pair,) = measured.pairs
    if pair.polarity != "unclear":
        return pair.polarity
    nudge = -round(pair.delay_samples or 0.0)
    (alike,) = sum_of(measured.spectra, (BlendSetting(), BlendSetting(nudge_samples=nudge))).correlations
    if alike is None or abs(alike) < SURE_CORRELATION:
        return "unclear"
    return "same" if alike > 0 else "inverted"


def measured_together_from_json(document: dict[str, Any]) -> MeasuredTogether:
    """The inverse of `dataclasses.asdict` after a journey through JSON."""
    return read_stored(MeasuredTogether, document)


def _suggestion(
    measured: MeasuredTogether, settings: Sequence[BlendSetting], polarities: Sequence[Polarity]
) -> tuple[BlendSetting, ...] | None:
    """Nudges to the print that arrives first, in whole samples, and the polarities that are its own, or else add to
    it then."""
    delays = [0.0, *(pair.delay_samples for pair in measured.pairs if pair.first == 0)]
    known = [delay for delay in delays if delay is not None]
    if len(known) < 2:
        return None
    earliest = min(known)
    reference = delays.index(earliest)
    nudges = [
        at.nudge_samples if delay is None else float(round(earliest - delay))
        for at, delay in zip(settings, delays, strict=True)
    ]
    plain = [BlendSetting(at.gain_db, nudge) for at, nudge in zip(settings, nudges, strict=True)]
    lined_up = sum_of(measured.spectra, plain)
    agreement = dict(zip(measured.spectra.pairs(), lined_up.correlations, strict=True))
    kept = settings[reference].inverted
    turned = []
    for index, at in enumerate(settings):
        pair = (min(index, reference), max(index, reference))
        alike = agreement.get(pair)
        if index != reference and "unclear" not in (polarities[index], polarities[reference]):
            turned.append(kept != (polarities[index] != polarities[reference]))
        elif index == reference or alike is None or abs(alike) < SURE_CORRELATION or delays[index] is None:
            turned.append(at.inverted)
        else:
            turned.append(kept != (alike < 0))
    return tuple(
        BlendSetting(at.gain_db, nudge, inverted)
        for at, nudge, inverted in zip(settings, nudges, turned, strict=True)
    )


def _effect(
    change: Literal["nudge", "polarity", "both"],
    spectra: CrossSpectra,
    now: Sum,
    settings: Sequence[BlendSetting],
) -> Effect:
    after = sum_of(spectra, settings)
    bands = tuple(
        (new.mid_hz, new.sum_dbfs - old.sum_dbfs)
        for old, new in zip(now.bands, after.bands, strict=True)
        if old.sum_dbfs is not None
        and new.sum_dbfs is not None
        and (old.over_louder_db is not None or new.over_louder_db is not None)
    )
    whole = (
        None
        if now.over_louder_db is None or after.over_louder_db is None
        else after.over_louder_db - now.over_louder_db
    )
    return Effect(change, after, whole, bands)


def _turned(spectra: CrossSpectra, index: int, apart_samples: float, bins: int) -> list[float]:
    """The real part of a pair's cross-spectrum once the first print is nudged by that much more than the second."""
    if apart_samples == 0:
        return list(spectra.real[index])
    turn = -2 * math.pi * spectra.bin_hz / spectra.sample_rate * apart_samples
    angles = [turn * bin_number for bin_number in range(bins)]
    return [
        real * math.cos(angle) - imaginary * math.sin(angle)
        for real, imaginary, angle in zip(spectra.real[index], spectra.imaginary[index], angles, strict=True)
    ]


def _bands(spectra: CrossSpectra, powers: Sequence[float]) -> list[tuple[float, float]]:
    """(mid-band frequency, power) of third-octave bands (IEC 61260-1:2014, base ten, eqs. 2, 4 and 5), a bin that
    straddles an edge being shared in proportion."""
    summed = [0.0]
    for power in powers:
        summed.append(summed[-1] + max(0.0, power))

    def below(hz: float) -> float:
        at = min(max(hz / spectra.bin_hz + 0.5, 0.0), len(powers))
        whole = int(at)
        return summed[whole] + (at - whole) * (max(0.0, powers[whole]) if whole < len(powers) else 0.0)

    mids = (1000 * 10 ** (index / 10) for index in range(LOWEST_INDEX, HIGHEST_INDEX + 1))
    return [
        (mid, below(mid * 10**0.05) - below(mid * 10**-0.05))
        for mid in mids
        if mid * 10**0.05 <= spectra.sample_rate / 2
    ]


def _level_db(power: float) -> float | None:
    return 10 * math.log10(power) if power > 1e-20 else None


def _ratio_db(power: float, reference: float) -> float | None:
    return 10 * math.log10(power / reference) if power > 1e-20 and reference > 1e-20 else None
