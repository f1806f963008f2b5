"""What the prints of a pass do together."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, ClassVar

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse, Response

from app.desk.listening import blends as desk
from app.desk.listening.auditions import LanePrint, make_again, want_auditions
from app.desk.listening.blends import MUTED, BlendSheet, HeardBlend
from app.desk.refusals import Refusal
from app.desk.wording import number_in
from app.drawings.spectra import Curve, spectra
from app.drawings.svg import Drawing
from app.library import Readable
from app.records import SOURCE_LANE
from app.signal.listening.blend_figures import BlendSetting, Sum
from app.signal.listening.figures import SEGMENT_S
from app.web.context import LibraryDep, MeasuringDep, RowId, SnapshotDep
from app.web.forms import SentForm, words
from app.web.listening.listening import LaneChoice, source_strip
from app.web.pages import NOTHING, PHONE_WIDTH, Page, go_to, show

router = APIRouter()


@dataclass(frozen=True)
class BlendPage(Page):
    """`typed` is what stood in the form that was refused, by field."""

    template: ClassVar[str] = "listening/blend.html"

    blend: BlendSheet
    lanes: tuple[LaneChoice, ...]
    strip: Drawing | None
    sum_wide: Drawing | None
    sum_narrow: Drawing | None
    errors: Mapping[str, str]
    typed: Mapping[str, str]


@router.get("/passes/{pass_id}/blend")
def show_blend(request: Request, library: LibraryDep, measuring: MeasuringDep, pass_id: RowId) -> Response:
    if want_auditions(library, [pass_id], with_source=True):
        measuring.wake()
    with library.snapshot() as snapshot:
        page = _page(snapshot, pass_id)
    return show(request, page)


@router.post("/passes/{pass_id}/blend")
def keep_blend(request: Request, library: LibraryDep, form: SentForm, pass_id: RowId) -> Response:
    here = f"/passes/{pass_id}/blend"
    if words(form, "do") == "suggested":
        desk.keep_suggested(library, pass_id)
        return go_to(here)
    lanes = [key.removeprefix("gain-") for key in form if key.startswith("gain-")]
    typed = {
        None if lane == SOURCE_LANE else number_in(lane): (
            words(form, f"gain-{lane}"),
            words(form, f"nudge-{lane}"),
            words(form, f"inverted-{lane}") == "yes",
        )
        for lane in lanes
        if words(form, f"in-{lane}") == "yes" and (lane == SOURCE_LANE or number_in(lane) is not None)
    }
    try:
        desk.keep_blend(library, pass_id, typed)
    except Refusal as refusal:
        page = _page(library, pass_id, refusal.sentences, {key: words(form, key) for key in form})
        return show(request, page, status_code=422)
    return go_to(here)


@router.get("/passes/{pass_id}/blend/lanes")
def blend_lanes(library: LibraryDep, measuring: MeasuringDep, pass_id: RowId) -> Response:
    """The player's lanes: the blend as it is kept, as it is suggested, as it came back, and each lane alone."""
    if want_auditions(library, [pass_id], with_source=True):
        measuring.wake()
    with library.snapshot() as snapshot:
        blend = desk.read_blend_sheet(snapshot, pass_id)
    return JSONResponse(
        {
            "rate": blend.rate,
            "length_s": max((item.duration_s for item in blend.lanes), default=0.0),
            "segment_s": SEGMENT_S,
            "lanes": [_lane(choice, blend) for choice in _choices(blend)],
        }
    )


@router.post("/passes/{pass_id}/blend/lanes")
def try_again(library: LibraryDep, measuring: MeasuringDep, pass_id: RowId) -> Response:
    """Have what failed made anew."""
    make_again(library, [pass_id], with_source=True)
    measuring.wake()
    return Response(status_code=204)


@router.get("/passes/{pass_id}/blend/gains")
def blend_gains(library: SnapshotDep, pass_id: RowId) -> Response:
    return JSONResponse(desk.lane_gains(library, pass_id))


def _choices(blend: BlendSheet) -> tuple[HeardBlend, ...]:
    """While nothing is ready, the blend that is on its way."""
    return blend.heard or (HeardBlend("blend", "The blend", (MUTED,) * len(blend.lanes)),)


def _lane(choice: HeardBlend, blend: BlendSheet) -> dict[str, Any]:
    return {
        "id": choice.id,
        "is_coming": blend.is_coming,
        "has_failed": blend.has_failed,
        "reason": "",
        "prints": [
            _print(item, setting, blend.rate)
            for item, setting in zip(blend.lanes, choice.settings, strict=True)
            if setting != MUTED
        ],
    }


def _print(item: LanePrint, setting: BlendSetting, rate: int) -> dict[str, Any]:
    """Polarity is as the blend says and no righting on top: beside the source it is heard."""
    return {
        "segments": f"/auditions/{item.key}",
        "delay_s": item.delay_s or 0.0,
        "nudge_s": setting.nudge_samples / rate,
        "inverted": setting.inverted,
        "gain": 10 ** (setting.gain_db / 20),
        "scale": 10 ** (-item.scale_db / 20),
    }


def _page(
    library: Readable,
    pass_id: int,
    errors: Mapping[str, str] = NOTHING,
    typed: Mapping[str, str] = NOTHING,
) -> BlendPage:
    blend = desk.read_blend_sheet(library, pass_id)
    lanes = [LaneChoice(choice.id, choice.words) for choice in _choices(blend)]
    return BlendPage(
        blend,
        tuple(lanes),
        source_strip(library, blend.sheet.source_id),
        _drawn(blend, 1080),
        _drawn(blend, PHONE_WIDTH),
        errors,
        typed,
    )


def _drawn(blend: BlendSheet, width: int) -> Drawing | None:
    """The sum over the louder print of each band, as it is and once lined up."""
    figures = blend.figures
    if figures is None:
        return None
    louder = [
        (band.mid_hz, band.mid_hz, band.sum_dbfs - band.over_louder_db)
        for band in figures.as_it_is.bands
        if band.sum_dbfs is not None and band.over_louder_db is not None
    ]
    curves = [
        Curve("the louder of them in each band", louder),
        Curve("sum as it is", _levels(figures.as_it_is)),
    ]
    curves += [
        Curve(f"after {_CHANGES[effect.change]}", _levels(effect.after)) for effect in figures.effects[-1:]
    ]
    return spectra(curves, reference=0, width=width, height=320)


_CHANGES = {"nudge": "the nudge", "polarity": "the flip", "both": "nudge and flip"}


def _levels(total: Sum) -> list[tuple[float, float, float | None]]:
    return [(band.mid_hz, band.mid_hz, band.sum_dbfs) for band in total.bands]
