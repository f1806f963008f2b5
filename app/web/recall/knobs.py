"""What the knobs do here."""

from dataclasses import dataclass
from typing import ClassVar

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.desk.recall.knobs import KnobsSheet, read_knobs
from app.drawings.knob_effect import EffectBand, knob_effect
from app.drawings.svg import Drawing
from app.signal.levels.third_octaves import nominal_hz
from app.trade.knob_effects import ControlEffect
from app.web.context import RowId, SnapshotDep
from app.web.pages import PHONE_WIDTH, Page, show

router = APIRouter()


@dataclass(frozen=True)
class EffectLine:
    """A control's effect, in figures and drawn; `stood` between which readings it stood in the passes."""

    name: str
    stood: tuple[str, str]
    effect: ControlEffect
    wide: Drawing | None
    narrow: Drawing | None


@dataclass(frozen=True)
class KnobsPage(Page):
    """`not_enough` gives each reason and the controls in words."""

    template: ClassVar[str] = "recall/knobs.html"

    knobs: KnobsSheet
    effects: tuple[EffectLine, ...]
    not_enough: tuple[tuple[str, tuple[str, ...]], ...]


@router.get("/passes/{pass_id}/knobs")
def show_knobs(request: Request, library: SnapshotDep, pass_id: RowId, of: RowId | None = None) -> Response:
    knobs = read_knobs(library, pass_id, of)
    effects = tuple(_line(knobs, effect) for effect in knobs.effects.known)
    return show(request, KnobsPage(knobs, effects, _not_enough(knobs)))


def _line(knobs: KnobsSheet, effect: ControlEffect) -> EffectLine:
    name = knobs.name(effect.control)
    bands: list[EffectBand] = [
        (nominal_hz(mid), mid, band.db, band.plus_minus_db)
        for mid, band in zip(knobs.mids_hz, effect.bands, strict=True)
        if band is not None
    ]
    wide, narrow = (knob_effect(name, bands, width=width) if bands else None for width in (1080, PHONE_WIDTH))
    return EffectLine(name, knobs.readings(effect), effect, wide, narrow)


def _not_enough(knobs: KnobsSheet) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """By reason, the controls of which it holds. Controls that were moved together stay together."""
    alone: dict[str, list[str]] = {}
    together = []
    for entry in knobs.effects.not_enough:
        names = [knobs.name(control) for control in entry.controls]
        if len(names) == 1:
            alone.setdefault(entry.reason, []).extend(names)
        else:
            together.append((entry.reason, tuple(names)))
    return (*together, *((reason, tuple(names)) for reason, names in alone.items()))
