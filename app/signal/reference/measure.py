"""Measures a printed reference signal: response, delay, distortion by order, level curve and noise of a chain."""

import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from app.signal.alignment.fine import exact_peak
from app.signal.alignment.segments import mono
from app.signal.audio.reading import Samples, Sound
from app.signal.audio.steps import true_step
from app.signal.figures import Polarity
from app.signal.levels.clipping import flat_tops, flatness, really_clipped
from app.signal.levels.third_octaves import FIRST_INDEX, NOMINAL_HZ, edges_hz, mid_hz
from app.signal.reference.deconvolution import (
    Deconvolved,
    OrderResponse,
    deconvolve,
    mean_between,
    mean_power,
    order_response,
)
from app.signal.reference.figures import (
    ORDERS,
    Absent,
    DistortionBand,
    NoiseBand,
    ReferenceFigures,
    ResponseBand,
    ResponsePoint,
    StepFigures,
    unknown,
)
from app.signal.reference.find import (
    STEADY_LIKENESS,
    STEPS_PER_S,
    Clocks,
    compare_clocks,
    envelope_db,
    find_start_s,
)
from app.signal.reference.plan import Part, ReferencePlan
from app.signal.reference.tone_harmonics import ToneHarmonics, tone_harmonics

# Set by hand; not measured singly, unless a line says where it comes from.
MARGIN_S = 0.5
"""What is read before and after the signal."""
ARRIVAL_REACH_S = 0.06
"""How far the sweep's arrival may lie from where the marks put it."""
SAME_CLOCK_PPM = 1.0
"""Over the sweep's 8 s it moves by 0.4 samples of 48 kHz: not worth making the signal anew."""
ABOVE_NOISE = 4.0
"""In power: what is not 6 dB above the noise is not told from it."""
SETTLING_S, ENDING_S = 0.13, 0.03
"""Of a step, left out: until a compressor has settled, and its fade with the chain's delay."""
NOISE_EDGE_S = 0.1
"""Of a silence, left out at either end: what rings on, and a delay."""
NOISE_PIECE_S = 0.34
"""3 Hz a bin, as in a blend's windows."""
CONVERTER_CLIPS = 0.94
"""Flat tops from -0.5 dBFS up are taken for a return that was overloaded; lower ones for the chain's own doing."""
TWIN = 0.7
"""As when prints are aligned: with a peak of the other sign so near in height, polarity is not told."""
FINE_PER_OCTAVE = 24
"""Common practice for drawing a response."""

NOT_FOUND = "The reference signal was not found in this file: it is another recording, a part of it only, or too near the noise."
CLIPPED = "The return was overloaded there: turn its gain down and print again."
UNDER_NOISE = "It is too near the noise to be told from it."
NOTHING_LINEAR = (
    "What came back has no arrival that stands out: it answers at other frequencies than it is fed (an octave pedal, a "
    "ring modulator), or lies in the noise."
)
SWEPT = ("delay_samples", "polarity", "response", "distortion")
BEYOND = "The file does not hold that part of the signal."

Signal = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class _Printed:
    """The print around the signal. Signal time t stands at sample `zero` + t·`rate`."""

    samples: Signal
    zero: float
    rate: float
    offset: int
    clipped: NDArray[np.int64]

    def part(self, start_s: float, stop_s: float) -> Signal | None:
        start, stop = round(self.zero + start_s * self.rate), round(self.zero + stop_s * self.rate)
        return self.samples[start:stop] if start >= 0 and stop <= len(self.samples) else None

    def clips(self, part: Part) -> bool:
        start, stop = self.zero + part.start_s * self.rate, self.zero + part.stop_s * self.rate
        return bool(((self.clipped >= start) & (self.clipped < stop)).any())


@dataclass(frozen=True, slots=True)
class _Noise:
    """`density[k]` is the noise's power at k·`bin_hz`, per sample; None where it is not known."""

    density: Signal | None
    bin_hz: float
    rms_dbfs: float | None
    bands: tuple[NoiseBand, ...]

    def between(self, low_hz: float, high_hz: float) -> float:
        return 0.0 if self.density is None else mean_between(self.density, self.bin_hz, low_hz, high_hz)


def measure_reference(path: Path, plan: ReferencePlan) -> ReferenceFigures:
    """Finds the signal of `plan` in the print at `path` and measures it. Raises UnreadableAudio.

    The print may be longer, at another sample rate, and by another clock. Gains are from what was sent to what came
    back, at the plan's level; third-octaves are means of |H|² over the band. Harmonic n at frequency f is |Hₙ(n·f)| over
    |H₁(f)|, both averaged over third-octaves; a strongly driven chain is described at this drive only.
    """
    with Sound(path) as sound:
        rate = sound.sample_rate
        step_s = max(1, round(rate / STEPS_PER_S)) / rate
        start_s = find_start_s(envelope_db(sound), step_s, plan)
        if start_s is None:
            return unknown(rate, plan.level_dbfs, plan.tone_hz, NOT_FOUND)
        offset = max(0, round((start_s - MARGIN_S) * rate))
        stop = min(sound.frames, round((start_s + plan.length_s + MARGIN_S) * rate))
        read = sound.read(offset, stop - offset)
        tolerance = flatness(true_step(sound))
    samples = mono(read).astype(np.float64)
    clocks = compare_clocks(samples, start_s * rate - offset, plan, rate)
    drift = clocks.drift_ppm or 0.0
    own_rate = rate if abs(drift) < SAME_CLOCK_PPM else rate * (1 + drift * 1e-6)
    rough = _Printed(samples, start_s * rate - offset, own_rate, offset, _clipped(read, tolerance))
    return _measured(rough, plan, clocks, rate)


def _clipped(read: Samples, tolerance: float) -> NDArray[np.int64]:
    """Where runs of clipped samples begin, at the ceiling of a converter alone."""
    starts = []
    for channel in read.T:
        tops = flat_tops(np.ascontiguousarray(channel), tolerance)
        kept = really_clipped(tops, float(np.abs(channel).max(initial=0)), tolerance)
        starts.append(tops.starts[kept & (tops.levels >= CONVERTER_CLIPS)])
    return np.concatenate(starts)


def _measured(rough: _Printed, plan: ReferencePlan, clocks: Clocks, rate: int) -> ReferenceFigures:
    absent: list[Absent] = []
    notes: list[str] = []
    noise = _noise(rough, plan, absent)
    swept = _Swept.of(rough, plan, noise, absent)
    steps = _steps(rough, plan, absent)
    if clocks.drift_ppm is None:
        absent.append(Absent("drift_ppm", "The two marks came back too unlike to compare the clocks."))
    if clocks.likeness < STEADY_LIKENESS:
        notes.append(
            "What came back of two marks that were the same differs: the chain moves (chorus, vibrato), or noise covers "
            "it. The figures are means over it."
        )
    if swept is not None and swept.polarity == "unclear":
        absent.append(Absent("polarity", "The arrival has two peaks of opposite sign that are nearly alike."))
    notes.append(
        f"This describes the chain at {plan.level_dbfs:g} dBFS sent; driven harder or less it answers otherwise."
    )
    clean = swept
    if rough.clips(Part(plan.sweep.start_s, plan.sweep.length_s)):
        absent += [Absent(figure, CLIPPED) for figure in ("response", "distortion")]
        clean = None
    distortion = clean.distortion() if clean else ()
    if distortion and all(band.thd_percent is None for band in distortion):
        absent.append(Absent("distortion", "No harmonic rises above the noise."))
    delay = None if swept is None else swept.zero + rough.offset
    return ReferenceFigures(
        sample_rate=rate,
        sent_dbfs=plan.level_dbfs,
        tone_hz=plan.tone_hz,
        delay_samples=delay,
        delay_ms=None if delay is None else delay / rate * 1000,
        polarity="unclear" if swept is None else swept.polarity,
        drift_ppm=clocks.drift_ppm,
        likeness=clocks.likeness,
        response=clean.response() if clean else (),
        fine=clean.fine() if clean else (),
        distortion=distortion,
        steps=steps,
        noise_floor_dbfs=noise.rms_dbfs,
        noise=noise.bands,
        absent=tuple(absent),
        notes=tuple(notes),
    )


class _Swept:
    """The sweep's part of a print: where it arrived, and the responses of its orders."""

    def __init__(
        self, deconvolved: Deconvolved, lag: float, zero: float, noise: _Noise, polarity: Polarity
    ) -> None:
        self._deconvolved, self._noise = deconvolved, noise
        self.zero, self.polarity = zero, polarity
        self._linear = order_response(deconvolved, lag, 1)
        self._orders = [order_response(deconvolved, lag, order) for order in ORDERS]

    @classmethod
    def of(
        cls, printed: _Printed, plan: ReferencePlan, noise: _Noise, absent: list[Absent]
    ) -> "_Swept | None":
        start = round(printed.zero + (plan.sweep.start_s - MARGIN_S) * printed.rate)
        stop = round(printed.zero + (plan.tail.stop_s - NOISE_EDGE_S) * printed.rate)
        if start < 0 or stop > len(printed.samples):
            absent += [Absent(figure, BEYOND) for figure in SWEPT]
            return None
        deconvolved = deconvolve(printed.samples[start:stop], plan.sweep, printed.rate)
        expected = printed.zero + plan.sweep.start_s * printed.rate - start
        reach = round(ARRIVAL_REACH_S * printed.rate)
        lags = np.arange(round(expected) - reach, round(expected) + reach + 1)
        near = deconvolved.response[lags]
        at = int(np.argmax(np.abs(near)))
        if abs(near[at]) < 8 * float(np.median(np.abs(near))):
            absent += [Absent(figure, NOTHING_LINEAR) for figure in SWEPT]
            return None
        lag, height = exact_peak(deconvolved.spectrum.astype(np.complex64), deconvolved.size, int(lags[at]))
        around = near[max(0, at - round(0.001 * printed.rate)) : at + round(0.001 * printed.rate)]
        twin = float((-np.sign(height) * around).max()) / abs(float(near[at]))
        polarity: Polarity = "unclear" if twin > TWIN else "same" if height > 0 else "inverted"
        return cls(deconvolved, lag, start + lag - plan.sweep.start_s * printed.rate, noise, polarity)

    def response(self) -> tuple[ResponseBand, ...]:
        return tuple(ResponseBand(mid, self._gain_db(*edges_hz(mid))) for mid in self._mids())

    def fine(self) -> tuple[ResponsePoint, ...]:
        half = 2 ** (0.5 / FINE_PER_OCTAVE)
        sweep = self._deconvolved.sweep
        count = int(math.log2(sweep.to_hz / sweep.from_hz) * FINE_PER_OCTAVE)
        grid = [sweep.from_hz * 2 ** ((n + 0.5) / FINE_PER_OCTAVE) for n in range(count)]
        gains = [(hz, self._gain_db(hz / half, hz * half)) for hz in grid]
        return tuple(ResponsePoint(hz, gain) for hz, gain in gains if gain is not None)

    def distortion(self) -> tuple[DistortionBand, ...]:
        bands = []
        for mid in self._mids():
            fundamental = self._known_power(self._linear, *edges_hz(mid))
            shares = [self._share(response, mid, fundamental) for response in self._orders]
            known = [share for share in shares if share is not None]
            thd = 100 * math.sqrt(sum(known)) if known else None
            second, third, fourth, fifth = (
                None if share is None else 10 * math.log10(share) for share in shares
            )
            bands.append(DistortionBand(mid, (second, third, fourth, fifth), thd))
        return tuple(bands)

    def _share(self, response: OrderResponse, mid: float, fundamental: float | None) -> float | None:
        """Power of one order against the fundamental's."""
        low, high = (response.order * edge for edge in edges_hz(mid))
        if fundamental is None or high > self._deconvolved.sweep.to_hz:
            return None
        own = self._known_power(response, low, high)
        return None if own is None else own / fundamental

    def _mids(self) -> list[float]:
        """Third-octaves that lie wholly within the sweep."""
        mids = [mid_hz(FIRST_INDEX + n) for n in range(len(NOMINAL_HZ))]
        sweep = self._deconvolved.sweep
        return [mid for mid in mids if edges_hz(mid)[0] >= sweep.from_hz and edges_hz(mid)[1] <= sweep.to_hz]

    def _gain_db(self, low_hz: float, high_hz: float) -> float | None:
        power = self._known_power(self._linear, low_hz, high_hz)
        return None if power is None else 10 * math.log10(power)

    def _known_power(self, response: OrderResponse, low_hz: float, high_hz: float) -> float | None:
        """The mean power in a band, None where noise alone would come near it."""
        power = mean_power(response, low_hz, high_hz)
        sent = mean_between(
            self._deconvolved.sweep_power, self._deconvolved.rate / self._deconvolved.size, low_hz, high_hz
        )
        noise = self._noise.between(low_hz, high_hz) * response.window_energy / sent
        return power if power > ABOVE_NOISE * noise and power > 1e-20 else None


def _noise(printed: _Printed, plan: ReferencePlan, absent: list[Absent]) -> _Noise:
    """From the silence before the first mark, or else the end of that after the sweep."""
    silences = (plan.lead, Part(plan.tail.stop_s - 0.7, 0.7))
    for silence in silences:
        samples = printed.part(silence.start_s + NOISE_EDGE_S, silence.stop_s - NOISE_EDGE_S)
        if samples is not None:
            break
    else:
        absent.append(Absent("noise", BEYOND))
        return _Noise(None, 1.0, None, ())
    power = float(np.mean(samples**2))
    if power < 1e-18:
        absent.append(Absent("noise", "The silence came back as digital silence."))
        return _Noise(None, 1.0, None, ())
    length = round(NOISE_PIECE_S * printed.rate)
    window = 0.5 - 0.5 * np.cos(2 * np.pi * (np.arange(length) + 0.5) / length)
    starts = range(0, len(samples) - length + 1, length // 2)
    spectra = [scipy.fft.rfft(samples[start : start + length] * window) for start in starts]
    density = np.mean([spectrum.real**2 + spectrum.imag**2 for spectrum in spectra], axis=0) / np.sum(
        window**2
    )
    bin_hz = printed.rate / length
    bands = []
    for mid in (mid_hz(FIRST_INDEX + n) for n in range(len(NOMINAL_HZ))):
        low, high = edges_hz(mid)
        if low > 2 * bin_hz and high < printed.rate / 2:
            level = mean_between(density, bin_hz, low, high) * 2 * (high - low) / printed.rate
            bands.append(NoiseBand(mid, 10 * math.log10(level + 1e-30)))
    return _Noise(density, bin_hz, 10 * math.log10(power), tuple(bands))


def _steps(printed: _Printed, plan: ReferencePlan, absent: list[Absent]) -> tuple[StepFigures, ...]:
    answers: list[tuple[float, ToneHarmonics | None]] = []
    for step in plan.steps:
        samples = printed.part(step.start_s + SETTLING_S, step.start_s + step.length_s - ENDING_S)
        if samples is None:
            absent.append(Absent(f"step at {step.level_dbfs:g} dBFS", BEYOND))
        elif printed.clips(Part(step.start_s, step.length_s)):
            absent.append(Absent(f"step at {step.level_dbfs:g} dBFS", CLIPPED))
            samples = None
        harmonics = None if samples is None else tone_harmonics(samples, plan.tone_hz, printed.rate)
        if harmonics is not None and harmonics.amplitudes[0] is None:
            absent.append(Absent(f"step at {step.level_dbfs:g} dBFS", UNDER_NOISE))
        answers.append((step.level_dbfs, harmonics))
    gains = [_step_gain_db(sent, harmonics) for sent, harmonics in answers]
    quietest = next((gain for gain in gains if gain is not None), None)
    return tuple(
        _step(sent, harmonics, gain, quietest) for (sent, harmonics), gain in zip(answers, gains, strict=True)
    )


def _step_gain_db(sent_dbfs: float, harmonics: ToneHarmonics | None) -> float | None:
    if harmonics is None or harmonics.amplitudes[0] is None:
        return None
    return 20 * math.log10(harmonics.amplitudes[0]) - sent_dbfs


def _step(
    sent_dbfs: float, harmonics: ToneHarmonics | None, gain_db: float | None, quietest: float | None
) -> StepFigures:
    if harmonics is None or gain_db is None or quietest is None:
        return StepFigures(sent_dbfs, None, None, (None, None, None, None), None)
    second, third, fourth, fifth = (harmonics.level_db(order) for order in ORDERS)
    ratio = harmonics.thd_fundamental()
    return StepFigures(
        sent_dbfs=sent_dbfs,
        returned_dbfs=sent_dbfs + gain_db,
        gain_change_db=gain_db - quietest,
        orders_db=(second, third, fourth, fifth),
        thd_percent=None if ratio is None else 100 * ratio,
    )
