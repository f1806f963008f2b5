"""What the prints of a pass do together."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, ClassVar

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse, Response

from app.desk.listening import blends as desk
from app.desk.listening.auditions import want_auditions
from app.desk.listening.blends import BlendSheet
from app.desk.listening.listening import HeardPrint, read_listening
from app.desk.refusals import Refusal
from app.desk.wording import number_in
from app.drawings.spectra import Curve, spectra
from app.drawings.svg import Drawing
from app.library import Readable
from app.signal.listening.blend_figures import BlendSetting, Sum
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
    if want_auditions(library, [pass_id]):
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
    ids = [number for key in form if (number := number_in(key.removeprefix("gain-"))) is not None]
    typed = {
        print_id: (
            words(form, f"gain-{print_id}"),
            words(form, f"nudge-{print_id}"),
            words(form, f"inverted-{print_id}") == "yes",
        )
        for print_id in ids
    }
    try:
        desk.keep_blend(library, pass_id, typed)
    except Refusal as refusal:
        page = _page(library, pass_id, refusal.sentences, {key: words(form, key) for key in form})
        return show(request, page, status_code=422)
    return go_to(here)


@router.get("/passes/{pass_id}/blend/lanes")
def blend_lanes(library: LibraryDep, measuring: MeasuringDep, pass_id: RowId) -> Response:
    """The player's lanes: the blend as it is kept, as it is suggested, and each print alone."""
    if want_auditions(library, [pass_id]):
        measuring.wake()
    with library.snapshot() as snapshot:
        listening = read_listening(snapshot, [pass_id])
        blend = desk.read_blend_sheet(snapshot, pass_id)
    lane = next(each for each in listening.lanes if each.id == f"pass-{pass_id}")
    lanes = [_lane("blend", lane.prints, blend.settings, listening.rate)]
    if blend.figures is not None and blend.figures.suggested is not None:
        lanes.append(_lane("suggested", lane.prints, blend.figures.suggested, listening.rate))
    lanes += [
        _lane(f"alone-{item.print_id}", [item], [BlendSetting()], listening.rate) for item in lane.prints
    ]
    for each in lanes:
        each["is_coming"] = lane.is_coming
    return JSONResponse(
        {
            "rate": listening.rate,
            "length_s": listening.length_s,
            "segment_s": listening.segment_s,
            "lanes": lanes,
        }
    )


@router.get("/passes/{pass_id}/blend/gains")
def blend_gains(library: SnapshotDep, pass_id: RowId) -> Response:
    return JSONResponse(desk.lane_gains(library, pass_id))


def _lane(name: str, prints: Any, settings: Any, rate: int) -> dict[str, Any]:
    return {
        "id": name,
        "is_coming": False,
        "reason": "",
        "prints": [_print(item, setting, rate) for item, setting in zip(prints, settings, strict=True)],
    }


def _print(item: HeardPrint, setting: BlendSetting, rate: int) -> dict[str, Any]:
    return {
        "segments": f"/auditions/{item.key}",
        "delay_s": item.delay_s,
        "nudge_s": setting.nudge_samples / rate,
        "inverted": item.inverted != setting.inverted,
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
    lanes = [LaneChoice("blend", "The blend as it is kept" if blend.is_kept else "All as recorded")]
    if blend.figures is not None and blend.figures.suggested is not None:
        lanes.append(LaneChoice("suggested", "Lined up as suggested"))
    lanes += [LaneChoice(f"alone-{row.print_id}", f"{row.words} alone") for row in blend.rows]
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
    """The sum over the louder print alone, as it is and once lined up."""
    figures = blend.figures
    if figures is None:
        return None
    louder = blend.rows[figures.as_it_is.louder].words
    alone = [
        (band.mid_hz, band.mid_hz, band.sum_dbfs - band.over_louder_db)
        for band in figures.as_it_is.bands
        if band.sum_dbfs is not None and band.over_louder_db is not None
    ]
    curves = [Curve(f"{louder} alone", alone), Curve("sum as it is", _levels(figures.as_it_is))]
    curves += [
        Curve(f"after {_CHANGES[effect.change]}", _levels(effect.after)) for effect in figures.effects[-1:]
    ]
    return spectra(curves, reference=0, width=width, height=320)


_CHANGES = {"nudge": "the nudge", "polarity": "the flip", "both": "nudge and flip"}


def _levels(total: Sum) -> list[tuple[float, float, float | None]]:
    return [(band.mid_hz, band.mid_hz, band.sum_dbfs) for band in total.bands]
