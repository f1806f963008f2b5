"""Listening: lanes and gains for the player, blind choices, A–B–X tests."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, ClassVar

from fastapi import APIRouter, Request
from fastapi.responses import FileResponse, JSONResponse, Response

from app.desk.listening import blind as blind_desk
from app.desk.listening import listening as desk
from app.desk.listening.auditions import make_again, segment_path, want_auditions
from app.desk.listening.blind import BlindSheet, TestSheet
from app.desk.listening.listening import HeardLane, Listening, lane_id
from app.desk.passes.pass_sheets import PassSheet
from app.desk.projects.sources import read_source
from app.desk.refusals import Refusal
from app.desk.wording import number_in
from app.drawings.strip import strip
from app.drawings.svg import Drawing
from app.library import Library, Readable
from app.web.context import LibraryDep, MeasuringDep, PassIds, RowId, Seconds, SnapshotDep
from app.web.forms import SentForm, words
from app.web.pages import FOR_GOOD, NOTHING, Page, go_to, show

router = APIRouter()


@dataclass(frozen=True)
class LaneChoice:
    """A lane as the player's buttons show it."""

    id: str
    words: str
    prints: tuple[Any, ...] = ()


@dataclass(frozen=True)
class BlindPage(Page):
    template: ClassVar[str] = "listening/blind.html"

    blind: BlindSheet
    source_name: str
    lanes: tuple[LaneChoice, ...]
    strip: Drawing | None
    errors: Mapping[str, str]
    typed: Mapping[str, str]


@dataclass(frozen=True)
class TestPage(Page):
    template: ClassVar[str] = "listening/blind_test.html"

    test: TestSheet
    source_name: str
    lanes: tuple[LaneChoice, ...]
    strip: Drawing | None


@router.get("/compare/lanes")
def lanes_of_passes(library: LibraryDep, measuring: MeasuringDep, chosen: PassIds) -> Response:
    _ask_for(library, measuring, chosen)
    with library.snapshot() as snapshot:
        listening = desk.read_listening(snapshot, chosen)
    return JSONResponse(_document(listening, {lane.id: lane.id for lane in listening.lanes}))


@router.post("/compare/lanes")
def try_passes_again(library: LibraryDep, measuring: MeasuringDep, chosen: PassIds) -> Response:
    return _try_again(library, measuring, chosen)


@router.get("/compare/gains")
def gains_of_passes(library: SnapshotDep, chosen: PassIds, from_s: Seconds, to_s: Seconds) -> Response:
    return JSONResponse(desk.gains_of_part(library, chosen, from_s, to_s))


@router.get("/auditions/{key}/{number}.flac")
def segment(library: SnapshotDep, key: str, number: int) -> Response:
    return FileResponse(segment_path(library, key, number), media_type="audio/flac", headers=FOR_GOOD)


@router.post("/prints/{print_id}/balance")
def keep_balance(library: LibraryDep, form: SentForm, print_id: RowId) -> Response:
    try:
        balance_db = float(words(form, "balance_db"))
    except ValueError as error:
        raise Refusal({"balance_db": "A balance is a number of decibels."}) from error
    desk.keep_balance(library, print_id, balance_db)
    return Response(status_code=204)


@router.post("/blind")
def begin_blind(library: LibraryDep, form: SentForm) -> Response:
    return go_to(f"/blind/{blind_desk.begin_blind(library, _sent_ids(form))}")


@router.get("/blind/{blind_id}")
def show_blind(request: Request, library: SnapshotDep, blind_id: RowId) -> Response:
    return show(request, _blind_page(library, blind_id))


@router.post("/blind/{blind_id}")
def reveal(request: Request, library: LibraryDep, form: SentForm, blind_id: RowId) -> Response:
    letters = blind_desk.LETTERS
    notes = {letter: words(form, f"note-{letter}") for letter in letters}
    ranks = {letter: words(form, f"rank-{letter}") for letter in letters}
    try:
        blind_desk.reveal(library, blind_id, notes, ranks)
    except Refusal as refusal:
        typed = {key: words(form, key) for key in form}
        page = _blind_page(library, blind_id, refusal.sentences, typed)
        return show(request, page, status_code=422)
    return go_to(f"/blind/{blind_id}")


@router.get("/blind/{blind_id}/lanes")
def blind_lanes(library: LibraryDep, measuring: MeasuringDep, blind_id: RowId) -> Response:
    named = _letters(blind_desk.read_blind(library, blind_id))
    return JSONResponse(_renamed(library, measuring, named))


@router.post("/blind/{blind_id}/lanes")
def try_blind_again(library: LibraryDep, measuring: MeasuringDep, blind_id: RowId) -> Response:
    named = _letters(blind_desk.read_blind(library, blind_id))
    return _try_again(library, measuring, list(named.values()))


@router.get("/blind/{blind_id}/gains")
def blind_gains(library: SnapshotDep, blind_id: RowId, from_s: Seconds, to_s: Seconds) -> Response:
    return JSONResponse(_gains(library, _letters(blind_desk.read_blind(library, blind_id)), from_s, to_s))


@router.post("/tests")
def begin_test(library: LibraryDep, form: SentForm) -> Response:
    pair = _sent_ids(form)
    if len(pair) != 2:
        raise Refusal({"": "Choose exactly two passes for this test."})
    trials = number_in(words(form, "trials")) or 0
    return go_to(f"/tests/{blind_desk.begin_test(library, pair[0], pair[1], trials)}")


@router.get("/tests/{test_id}")
def show_test(request: Request, library: SnapshotDep, test_id: RowId) -> Response:
    test = blind_desk.read_test(library, test_id)
    source = read_source(library, test.source_id)
    lanes = tuple(LaneChoice(name, name) for name in ("A", "B", "X"))
    return show(request, TestPage(test, source.name, lanes, source_strip(library, test.source_id)))


@router.post("/tests/{test_id}")
def answer(library: LibraryDep, form: SentForm, test_id: RowId) -> Response:
    trial = number_in(words(form, "trial"))
    if trial is None:
        raise Refusal(
            {"": "This answer does not say which trial it is of. Go back to the test and answer there."}
        )
    blind_desk.answer(library, test_id, trial, words(form, "said"))
    return go_to(f"/tests/{test_id}")


@router.get("/tests/{test_id}/lanes")
def test_lanes(library: LibraryDep, measuring: MeasuringDep, test_id: RowId) -> Response:
    return JSONResponse(_renamed(library, measuring, _abx(library, test_id)))


@router.post("/tests/{test_id}/lanes")
def try_test_again(library: LibraryDep, measuring: MeasuringDep, test_id: RowId) -> Response:
    test = blind_desk.read_test(library, test_id)
    return _try_again(library, measuring, [test.pass_a, test.pass_b])


@router.get("/tests/{test_id}/gains")
def test_gains(library: SnapshotDep, test_id: RowId, from_s: Seconds, to_s: Seconds) -> Response:
    return JSONResponse(_gains(library, _abx(library, test_id), from_s, to_s))


def lane_choices(library: Readable, passes: Sequence[PassSheet]) -> tuple[LaneChoice, ...]:
    """The buttons of the compare page's player."""
    listening = desk.listening_to(library, passes)
    return tuple(LaneChoice(lane.id, lane.words, lane.prints) for lane in listening.lanes)


def _ask_for(library: Library, measuring: MeasuringDep, pass_ids: Sequence[int]) -> None:
    if want_auditions(library, pass_ids):
        measuring.wake()


def _try_again(library: Library, measuring: MeasuringDep, pass_ids: Sequence[int]) -> Response:
    """Have what failed made anew."""
    make_again(library, pass_ids)
    measuring.wake()
    return Response(status_code=204)


def _document(listening: Listening, names: Mapping[str, str]) -> dict[str, Any]:
    """The lanes as the player reads them, each under the name it goes by on that page."""
    by_id = {lane.id: lane for lane in listening.lanes}
    return {
        "rate": listening.rate,
        "length_s": listening.length_s,
        "segment_s": listening.segment_s,
        "lanes": [_lane(by_id[known], name) for name, known in names.items() if known in by_id],
    }


def _lane(lane: HeardLane, name: str) -> dict[str, Any]:
    return {
        "id": name,
        "is_coming": lane.is_coming,
        "has_failed": lane.has_failed,
        "reason": lane.reason,
        "unaligned": lane.unaligned,
        "prints": [
            {
                "segments": f"/auditions/{item.key}",
                "delay_s": item.delay_s,
                "nudge_s": item.nudge_s,
                "inverted": item.inverted,
                "gain": 10 ** (item.balance_db / 20),
                "scale": 10 ** (-item.scale_db / 20),
            }
            for item in lane.prints
        ],
    }


def _renamed(library: Library, measuring: MeasuringDep, named: Mapping[str, int]) -> dict[str, Any]:
    pass_ids = list(dict.fromkeys(named.values()))
    _ask_for(library, measuring, pass_ids)
    listening = desk.read_listening(library, pass_ids)
    return _document(listening, {name: lane_id(pass_id) for name, pass_id in named.items()})


def _gains(library: Readable, named: Mapping[str, int], from_s: Seconds, to_s: Seconds) -> dict[str, float]:
    gains = desk.gains_of_part(library, list(dict.fromkeys(named.values())), from_s, to_s)
    return {name: gains[lane_id(pass_id)] for name, pass_id in named.items() if lane_id(pass_id) in gains}


def _letters(blind: BlindSheet) -> dict[str, int]:
    return {lane.letter: lane.pass_id for lane in blind.lanes}


def _abx(library: Readable, test_id: int) -> dict[str, int]:
    test = blind_desk.read_test(library, test_id)
    return {"A": test.pass_a, "B": test.pass_b, "X": blind_desk.pass_of_x(library, test_id)}


def _blind_page(
    library: Readable,
    blind_id: int,
    errors: Mapping[str, str] = NOTHING,
    typed: Mapping[str, str] = NOTHING,
) -> BlindPage:
    blind = blind_desk.read_blind(library, blind_id)
    source = read_source(library, blind.source_id)
    lanes = tuple(LaneChoice(lane.letter, lane.letter) for lane in blind.lanes)
    return BlindPage(blind, source.name, lanes, source_strip(library, blind.source_id), errors, typed)


def source_strip(library: Readable, source_id: int) -> Drawing | None:
    figures = read_source(library, source_id).measured.figures
    return None if figures is None else strip(figures.overview.columns)


def _sent_ids(form: SentForm) -> list[int]:
    numbers = [number_in(value) for value in form.getlist("pass") if isinstance(value, str)]
    return [number for number in numbers if number is not None]
