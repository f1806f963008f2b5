"""Switches, slides and lamps by the crops of their states; faders by where their cap lies along its way."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
import numpy.typing as npt

from app.panels.camera import Array
from app.panels.reference import MarkedControl
from app.panels.view import Samples, View, log_colour_of, on_panel

Pixels = npt.NDArray[np.uint8]

CROP_PX = 36
KEPT_REACH = 1.1
"""How far the crop that is kept with a reading goes, in radii of what is marked."""
FADER_STEPS, FADER_ACROSS = 260, 16
_BEYOND = 0.12
"""How far past its ends a fader's way is looked at, as a share of it."""
_AS_LIKE = 0.05
"""Planes whose likeness is this near to the best one's could be the cap's as well."""
_CAP = 0.09
"""Half the length of a cap, as a share of the way, that is compared."""


@dataclass(frozen=True)
class StateReading:
    """position: a state's number, or 0 to 1 of a fader. likeness: to what is known of it; margin: to the next best. apart: by how
    much a fader's position depends on how far its cap stands out, which cannot be told."""

    position: float
    likeness: float
    margin: float
    states_known: int
    size_px: float
    apart: float = 0.0


def read_state(
    marked: list[tuple[View, MarkedControl]], view: View, learnt: Sequence[tuple[float, Pixels]] = ()
) -> StateReading | None:
    """Which of the states that are known looks most like this. `learnt` are crops of states that were met in photos. None where it
    is not in the photo."""
    first_view, first = marked[0]
    centre = np.mean([on_panel(one.placement, control.centre, 0.0) for one, control in marked], axis=0)
    reach = float(np.hypot(*(on_panel(first_view.placement, first.edge, 0.0) - centre)))
    wide = _crop(view, centre, reach * 1.25, round(CROP_PX * 1.25), view.stray(centre, 120.0))
    if wide is None:
        return None
    likeness: dict[float, float] = {}
    for one, control in marked:
        own = on_panel(one.placement, control.centre, 0.0)
        kept = _crop(one, own, reach, CROP_PX, np.zeros(2))
        if kept is not None:
            score = _lit(wide, kept) if control.kind == "lamp" else _best_fit(wide, kept)
            likeness[control.stands_at] = max(score, likeness.get(control.stands_at, -math.inf))
    for stands_at, crop in learnt:
        kept = _as_cropped(crop)
        score = _lit(wide, kept) if first.kind == "lamp" else _best_fit(wide, kept)
        likeness[stands_at] = max(score, likeness.get(stands_at, -math.inf))
    if not likeness:
        return None
    ranked = sorted(likeness.items(), key=lambda item: -item[1])
    margin = ranked[0][1] - ranked[1][1] if len(ranked) > 1 else 0.0
    pixels = reach * view.pixels_per_unit(centre, 0.0)
    return StateReading(ranked[0][0], ranked[0][1], margin, len(ranked), pixels)


def _as_cropped(pixels: Pixels) -> Samples:
    """A kept crop as the references are cropped."""
    side = round(CROP_PX * KEPT_REACH)
    beyond = (side - CROP_PX) // 2
    small = cv2.resize(pixels, (side, side), interpolation=cv2.INTER_AREA)
    return log_colour_of(small[beyond : beyond + CROP_PX, beyond : beyond + CROP_PX])


def _crop(view: View, centre: Array, reach: float, side: int, stray: Array) -> Samples | None:
    along = np.linspace(-reach, reach, side)
    points = np.stack(np.meshgrid(centre[0] + along, centre[1] + along), -1)
    soften = reach * view.pixels_per_unit(centre, 0.0) / side
    return view.log_colour(points, 0.0, stray, soften)


def _best_fit(wide: Samples, kept: Samples) -> float:
    """Correlation of brightness, wherever within the wider crop it fits best."""
    return float(cv2.matchTemplate(wide[..., 0], kept[..., 0], cv2.TM_CCOEFF_NORMED).max())


def _lit(wide: Samples, kept: Samples) -> float:
    """How near a lamp's glow comes to the kept one's: its middle against its surroundings, so that the room's light is left out."""
    return -float(np.abs(_glow(wide, 1.25) - _glow(kept, 1.0)).mean())


def _glow(crop: Samples, reach: float) -> Samples:
    side = np.linspace(-reach, reach, crop.shape[0])
    away = np.hypot(*np.meshgrid(side, side))
    middle, around = crop[away < 0.4], crop[(away > 0.8) & (away < 1.0)]
    return np.asarray(np.median(middle, axis=0) - np.median(around, axis=0), np.float32)


def read_fader(marked: list[tuple[View, MarkedControl]], view: View) -> StateReading | None:
    """The cap of the references, looked for along the way, on planes from the panel up."""
    found: list[StateReading] = []
    steps = np.linspace(-_BEYOND, 1 + _BEYOND, FADER_STEPS)
    per_step = float(steps[1] - steps[0])
    half = round(_CAP / per_step)
    for height in (0.0, 0.03, 0.06, 0.09, 0.13, 0.17):
        scores = []
        size = 0.0
        for one, control in marked:
            assert control.ends is not None
            length = float(
                np.hypot(*(np.subtract(*(on_panel(one.placement, end, 0.0) for end in control.ends))))
            )
            raised = height * length
            ends = [on_panel(one.placement, end, raised) for end in control.ends]
            kept = _strip(one, ends, steps, raised, np.zeros(2))
            seen = _strip(view, ends, steps, raised, view.stray(ends[0] / 2 + ends[1] / 2, 120.0))
            if kept is None or seen is None:
                return None
            size = length * view.pixels_per_unit(ends[0], 0.0)
            at = round((control.stands_at + _BEYOND) / per_step)
            cap = kept[max(0, at - half) : at + half + 1, :, 0]
            fits = cv2.matchTemplate(seen[..., 0], cap, cv2.TM_CCOEFF_NORMED)[:, 0]
            places = steps[np.arange(len(fits))] + (at - max(0, at - half)) * per_step
            scores.append(np.interp(steps, places, fits, left=-1, right=-1))
        joint = np.mean(scores, axis=0)
        inside = (steps > -0.03) & (steps < 1.03)
        joint = np.where(inside, joint, -1)
        peak = int(joint.argmax())
        others = joint[np.abs(steps - steps[peak]) > _CAP]
        position = float(np.clip(steps[peak], 0, 1))
        found.append(StateReading(position, float(joint[peak]), float(joint[peak] - others.max()), 2, size))
    best = max(found, key=lambda each: each.likeness)
    near = [each.position for each in found if each.likeness >= best.likeness - _AS_LIKE]
    return replace(best, apart=max(near) - min(near))


def _strip(view: View, ends: list[Array], steps: Array, height: float, stray: Array) -> Samples | None:
    way = ends[1] - ends[0]
    across = np.array([-way[1], way[0]]) * np.linspace(-0.1, 0.1, FADER_ACROSS)[:, None]
    points = ends[0] + steps[:, None, None] * way + across[None]
    soften = float(np.hypot(*way)) * view.pixels_per_unit(ends[0], height) / FADER_STEPS
    return view.log_colour(points, height, stray, soften)
