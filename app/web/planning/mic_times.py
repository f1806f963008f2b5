"""The microphones of a pass: when the sound reaches them, and what their sum does."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.desk.planning.mic_times import MicPair, MicTimes, TimesEntry, read_mic_times
from app.drawings.comb import comb_drawing
from app.drawings.svg import Drawing
from app.web.context import RowId, SnapshotDep, UnitDep
from app.web.pages import PHONE_WIDTH, Page, show

router = APIRouter()


@dataclass(frozen=True)
class PairShown:
    """A pair with the drawing of its sum, for a desk and for a phone; None where both arrive together."""

    pair: MicPair
    wide: Drawing | None
    narrow: Drawing | None


@dataclass(frozen=True)
class MicTimesPage(Page):
    template: ClassVar[str] = "planning/mic_times.html"

    times: MicTimes
    entry: TimesEntry
    pairs: Sequence[PairShown]


@router.get("/passes/{pass_id}/microphones")
def show_mic_times(
    request: Request,
    library: SnapshotDep,
    unit: UnitDep,
    pass_id: RowId,
    celsius: str = "",
    own: str = "",
    spill: str = "",
) -> Response:
    entry = TimesEntry(celsius, own, spill)
    times = read_mic_times(library, pass_id, entry, unit=unit)
    page = MicTimesPage(times, entry, [_shown(pair) for pair in times.pairs])
    return show(request, page, status_code=422 if times.complaints else 200)


def _shown(pair: MicPair) -> PairShown:
    if pair.drawn is None:
        return PairShown(pair, None, None)
    return PairShown(
        pair, comb_drawing(pair.drawn, width=1080), comb_drawing(pair.drawn, width=PHONE_WIDTH, height=240)
    )
