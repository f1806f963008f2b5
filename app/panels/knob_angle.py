"""How far a knob has turned since its reference: its top unrolled into a ring, compared at every angle.

The top stands out of the panel, so it is looked for on planes at several heights. Light, shadow and glare stay where they are
while the knob turns: a wide circular mean is taken away before anything is compared. The whole ring and the sector round
the mark are compared together; where two references are known, they must agree.
"""

from dataclasses import dataclass

import numpy as np

from app.panels.camera import Array
from app.panels.reference import MarkedControl
from app.panels.view import Samples, View, on_panel

STEPS = 360
RINGS = 22
INNER, OUTER = 0.14, 0.96
HEIGHTS = (0.25, 0.45, 0.65, 0.85, 1.05, 1.25, 1.45)
SKIRT_HEIGHTS = (0.0, 0.1, 0.2, 0.3)
SECTOR_DEGREES = 28.0
BEYOND_TRAVEL_DEGREES = 8.0
SECOND_PEAK_DEGREES = 18
_MEAN_DEGREES = 28.0
_CLIP = 0.5
MOVED_COSTS = 5.0
_COLOUR_WEIGHT = 0.6


@dataclass(frozen=True)
class MarkedKnob:
    """A knob in one reference photo."""

    view: View
    control: MarkedControl


@dataclass(frozen=True)
class KnobReading:
    """What was measured of a knob, and what its confidence is made of.

    peak: likeness at the angle found, from −1 to 1. margin: to the best other angle. apart: degrees between ring and sector;
    references_apart: between what two references say, also of each other. radius_px: of the top. contrast: of the mark, in logarithms.
    """

    degrees: float
    peak: float
    margin: float
    ring_peak: float
    sector_peak: float
    apart: float
    references: int
    references_apart: float
    references_peak: float
    radius_px: float
    contrast: float
    clipped: float
    stays: float
    height: float
    centre: Array
    radius: float


def read_knob(marked: list[MarkedKnob], view: View) -> KnobReading | None:
    """None where the knob is not in the photo."""
    tried: list[_Compared] = []
    best: tuple[_Compared, _Kept] | None = None
    for height in _heights(marked):
        kept = _kept_at(marked, height)
        compared = None if kept is None else _compared_at(marked, kept, view, np.zeros(2))
        if kept is not None and compared is not None:
            tried.append(compared)
            if best is None or compared.top > best[0].top:
                best = compared, kept
    if best is None:
        return None
    found, kept = best
    for reach in (0.1, 0.05):
        for step in ((1, 0), (-1, 0), (0, 1), (0, -1)):
            shifted = _compared_at(marked, kept, view, found.shift + np.array(step) * reach)
            if shifted is not None:
                tried.append(shifted)
                found = max(found, shifted, key=lambda each: each.top)
    return _conclude(marked, kept, found, tried)


@dataclass(frozen=True)
class _Kept:
    """What the references show of a knob whose top stands at `height`."""

    height: float
    axis: Array
    radius: float
    rings: list[Samples]
    contrast: float


@dataclass(frozen=True)
class _Compared:
    """Likeness at each whole degree clockwise from twelve o'clock, for one guess of where the top is."""

    shift: Array
    ring: Samples  # references × STEPS
    sector: Samples
    axis: Array
    radius_px: float
    clipped: float
    within: Samples

    @property
    def joint(self) -> Samples:
        both: Samples = (0.5 * (self.ring + self.sector)).mean(0)
        return np.where(self.within, both, -1.0).astype(np.float32)

    @property
    def top(self) -> float:
        """Less for a centre that had to be moved: sideways to the mark, moving it and turning it look the same."""
        return float(self.joint.max()) - MOVED_COSTS * float(self.shift @ self.shift)


def _heights(marked: list[MarkedKnob]) -> list[float]:
    """In canvas units. Two references that were taken from different sides tell the height; one leaves it open."""
    radius = _axis(marked[0], 0.0)[1]
    shares = SKIRT_HEIGHTS if marked[0].control.mark == "skirt" else HEIGHTS
    if len(marked) > 1:
        low, high = (np.array([_axis(knob, height)[0] for knob in marked[:2]]) for height in (0.0, radius))
        start, slope = low[0] - low[1], (high[0] - high[1]) - (low[0] - low[1])
        leverage = float(np.hypot(*slope)) / radius
        if leverage > 0.12:
            share = float(np.clip(-(start @ slope) / (slope @ slope), shares[0] * 0.6, shares[-1] * 1.1))
            spread = float(np.clip(0.035 / leverage, 0.06, 0.3))
            return [radius * max(0.0, share + spread * step) for step in (-1.5, -0.75, 0, 0.75, 1.5)]
    return [radius * share for share in shares]


def _axis(knob: MarkedKnob, height: float) -> tuple[Array, float]:
    centre = on_panel(knob.view.placement, knob.control.centre, height)
    edge = on_panel(knob.view.placement, knob.control.edge, height)
    return centre, float(np.hypot(*(edge - centre)))


def _kept_at(marked: list[MarkedKnob], height: float) -> _Kept | None:
    axes = [_axis(knob, height) for knob in marked]
    rings = []
    for knob, (centre, radius) in zip(marked, axes, strict=True):
        ring = _unrolled(knob.view, centre, radius, height, np.zeros(2))
        if ring is None:
            return None
        rings.append(_evened(ring))
    axis = np.mean([each[0] for each in axes], axis=0)
    contrast = float(np.sqrt(np.mean(rings[0][..., 0] ** 2)))
    return _Kept(height, axis, float(np.mean([each[1] for each in axes])), rings, contrast)


def _compared_at(marked: list[MarkedKnob], kept: _Kept, view: View, shift: Array) -> _Compared | None:
    axis = kept.axis + shift * kept.radius
    seen = _unrolled(view, axis, kept.radius, kept.height, view.stray(axis, 120.0))
    if seen is None:
        return None
    here = _evened(seen)
    rings, sectors = [], []
    for knob, template in zip(marked, kept.rings, strict=True):
        # What matches when the reference is turned by d stands at the reference's angle plus d.
        turned = _turned(_compared(template, here, knob.control.stands_at), knob.control.stands_at)
        rings.append(turned[0])
        sectors.append(turned[1])
    return _Compared(
        shift=shift,
        ring=np.array(rings),
        sector=np.array(sectors),
        axis=axis,
        radius_px=kept.radius * view.pixels_per_unit(axis, kept.height),
        clipped=float((seen[..., 0] > 0).mean()),
        within=_within_travel(marked[0].control),
    )


def _unrolled(view: View, axis: Array, radius: float, height: float, stray: Array) -> Samples | None:
    angles = np.radians(np.arange(STEPS))[:, None]
    shares = np.linspace(INNER, OUTER, RINGS)[None, :]
    points = np.stack(
        [axis[0] + radius * shares * np.sin(angles), axis[1] - radius * shares * np.cos(angles)], -1
    )
    soften = radius * view.pixels_per_unit(axis, height) / 45
    return view.log_colour(points, height, stray, soften)


_ORDERS = np.arange(STEPS // 2 + 1)
_KEPT = (1 - np.sinc(_ORDERS * _MEAN_DEGREES / 360)).astype(np.float32)[:, None, None]
_WEIGHT = np.sqrt(np.linspace(INNER, OUTER, RINGS)).astype(np.float32)[None, :, None] * np.array(
    [1.0, _COLOUR_WEIGHT, _COLOUR_WEIGHT], np.float32
)


def _evened(ring: Samples) -> Samples:
    """Less its wide circular mean, clipped, weighted by area and colour."""
    spectrum = np.fft.rfft(ring, axis=0) * _KEPT
    even = np.clip(np.fft.irfft(spectrum, STEPS, axis=0), -_CLIP, _CLIP)
    return np.asarray(even * _WEIGHT, np.float32)


def _compared(template: Samples, here: Samples, mark_degrees: float) -> Samples:
    """Normalised likeness of the whole ring, and of the sector of the mark, for each turn of 0 to 359 degrees."""
    seen = np.fft.rfft(here, axis=0)
    energy = (here**2).sum((1, 2))
    ring = np.fft.irfft((seen * np.fft.rfft(template, axis=0).conj()).sum((1, 2)), STEPS)
    ring /= np.sqrt((template**2).sum() * energy.sum()) + 1e-6
    away = np.abs((np.arange(STEPS) - mark_degrees + 180) % 360 - 180)
    mask = (away < SECTOR_DEGREES).astype(np.float32)
    part = template * mask[:, None, None]
    sector = np.fft.irfft((seen * np.fft.rfft(part, axis=0).conj()).sum((1, 2)), STEPS)
    local = np.fft.irfft(np.fft.rfft(energy) * np.fft.rfft(mask).conj(), STEPS)
    floor = 0.1 * float(energy.mean()) * float(mask.sum())
    sector /= np.sqrt((part**2).sum() * np.maximum(local, floor)) + 1e-6
    return np.stack([ring, sector]).astype(np.float32)


def _turned(scores: Samples, degrees: float) -> Samples:
    """Scores over the turn, moved so that they stand over the angle itself; between whole degrees by interpolation."""
    at = np.arange(STEPS) - degrees
    low = np.floor(at).astype(int)
    share = (at - low).astype(np.float32)
    moved: Samples = scores[:, low % STEPS] * (1 - share) + scores[:, (low + 1) % STEPS] * share
    return moved


def _within_travel(control: MarkedControl) -> Samples:
    begin, end = control.travel_degrees
    middle, half = (begin + end) / 2, (end - begin) / 2 + BEYOND_TRAVEL_DEGREES
    away = np.abs((np.arange(STEPS) - middle + 180) % 360 - 180)
    return np.asarray(away <= half, np.float32)


def _conclude(marked: list[MarkedKnob], kept: _Kept, best: _Compared, tried: list[_Compared]) -> KnobReading:
    control = marked[0].control
    joint = best.joint
    at = int(joint.argmax())
    degrees = _parabolic(joint, at)
    away = np.abs((np.arange(STEPS) - at + 180) % 360 - 180)
    margin = float(joint[at] - joint[away > SECOND_PEAK_DEGREES].max())
    allowed = best.within > 0
    ring, sector = (np.where(allowed, each.mean(0), -1).argmax() for each in (best.ring, best.sector))
    each = [int(np.where(allowed, scores, -1).argmax()) for scores in 0.5 * (best.ring + best.sector)]
    references_apart = max((_apart(at, one) for one in each), default=0.0)
    references_peak = 1.0
    if len(marked) > 1:
        known = marked[1].control.stands_at
        own = 0.5 * _turned(
            _compared(kept.rings[0], kept.rings[1], control.stands_at), control.stands_at
        ).sum(0)
        own = np.where(allowed, own, -1)
        references_apart = max(references_apart, _apart(known, float(own.argmax())))
        references_peak = float(own[round(known) % STEPS])
    near = [other for other in tried if other.top > best.top - 0.06]
    stays = max(_apart(at, float(other.joint.argmax())) for other in near)
    begin, end = control.travel_degrees
    middle = (begin + end) / 2
    return KnobReading(
        degrees=float((degrees - middle + 180) % 360 - 180 + middle),
        peak=float(joint[at]),
        margin=margin,
        ring_peak=float(best.ring.mean(0)[at]),
        sector_peak=float(best.sector.mean(0)[at]),
        apart=_apart(float(ring), float(sector)),
        references=len(marked),
        references_apart=references_apart,
        references_peak=references_peak,
        radius_px=best.radius_px,
        contrast=kept.contrast,
        clipped=best.clipped,
        stays=stays,
        height=kept.height,
        centre=best.axis,
        radius=kept.radius,
    )


def _parabolic(scores: Samples, at: int) -> float:
    """The top of the parabola through five points about the highest one."""
    near = np.array([scores[(at + step) % STEPS] for step in (-2, -1, 0, 1, 2)], np.float64)
    if near.min() < -0.99:
        return float(at)
    slope, bend = near @ np.array([-2, -1, 0, 1, 2]) / 10, near @ np.array([2, -1, -2, -1, 2]) / 14
    return float(at if bend >= 0 else at + np.clip(-slope / (2 * bend), -2, 2))


def _apart(one: float, other: float) -> float:
    return float(abs((one - other + 180) % 360 - 180))
