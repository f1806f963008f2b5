"""What the player needs: lanes with their files, and the gains that make a part of them equally loud.

A pass with a kept blend is heard as that blend; any other as its prints together, each at its balance.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from sqlalchemy import select
from sqlmodel import col

from app.desk.listening import auditions
from app.desk.listening.auditions import Lane, LanePrint
from app.desk.listening.blends import MUTED, LaneId, kept_blends, weighted_level_db
from app.desk.listening.loudness_of_part import Balance, matching_gains, read_hop_powers
from app.desk.listening.measured_together import read_measured_together
from app.desk.passes.pass_sheets import PassSheet
from app.desk.prints.prints import find_print
from app.desk.refusals import Refusal
from app.library import Library, Readable
from app.records import Blend, Print, WorkState
from app.signal.listening.blend_figures import BlendSetting, sum_of
from app.signal.listening.figures import SEGMENT_S

LEAST_BALANCE_DB, MOST_BALANCE_DB = -24.0, 12.0
SOURCE = "source"
DEFAULT_RATE = 48_000


@dataclass(frozen=True)
class HeardPrint:
    """`key` names its audition; `scale_db` is what its samples were lowered by to fit into their files. `print_id` is None for
    the source that is blended with the prints; it stands behind them."""

    print_id: int | None
    words: str
    key: str
    delay_s: float
    inverted: bool
    balance_db: float
    nudge_s: float
    scale_db: float


@dataclass(frozen=True)
class HeardLane:
    """One lane of the player: a pass (id "pass-3") or the source. `unaligned` says of what is heard in it that its place on
    the source's time line is not known, empty where nothing is."""

    id: str
    words: str
    is_coming: bool
    has_failed: bool
    reason: str
    unaligned: str
    prints: tuple[HeardPrint, ...]


@dataclass(frozen=True)
class Listening:
    rate: int
    length_s: float
    segment_s: int
    lanes: tuple[HeardLane, ...]


def lane_id(pass_id: int | None) -> str:
    return SOURCE if pass_id is None else f"pass-{pass_id}"


def read_listening(library: Readable, pass_ids: Sequence[int]) -> Listening:
    """The lanes of these passes and their source, the source first."""
    return _listening(library, auditions.read_auditions(library, pass_ids))


def listening_to(library: Readable, sheets: Sequence[PassSheet]) -> Listening:
    """The same for passes of one source that were read already."""
    return _listening(library, auditions.auditions_of(library, sheets))


def _listening(library: Readable, lanes: Sequence[Lane]) -> Listening:
    kept = _kept(library, lanes)
    rate = next((lane.sample_rate for lane in lanes if lane.sample_rate), None) or DEFAULT_RATE
    length_s = max((lane.duration_s for lane in lanes), default=0.0)
    return Listening(rate, length_s, SEGMENT_S, tuple(_heard(lane, kept) for lane in lanes))


def gains_of_part(library: Readable, pass_ids: Sequence[int], from_s: float, to_s: float) -> dict[str, float]:
    """By lane id, the gain in dB that makes this part of all lanes as loud as the quietest."""
    lanes = [lane for lane in auditions.read_auditions(library, pass_ids) if lane.loudness_key and lane.heard]
    kept = _kept(library, lanes)
    together = [_balance(library, lane, _settings(lane, kept)) for lane in lanes]
    if not together:
        return {}
    matched = matching_gains(together, from_s, to_s)
    return {lane_id(lane.pass_id): gain for lane, gain in zip(lanes, matched.gains_db, strict=True)}


def keep_balance(library: Library, print_id: int, balance_db: float) -> None:
    """How loud a print stands beside the others of its pass, kept with the pass."""
    if not LEAST_BALANCE_DB <= balance_db <= MOST_BALANCE_DB:
        raise Refusal(
            {"balance_db": f"A balance lies between {LEAST_BALANCE_DB:g} and {MOST_BALANCE_DB:g} dB."}
        )
    with library.writing() as session:
        item = find_print(session, print_id)
        blend = session.get(Blend, item.pass_id)
        if blend is not None and (own := blend.settings.get(str(print_id))) is not None:
            blend.settings = {**blend.settings, str(print_id): {**own, "gain_db": balance_db}}
        else:
            item.balance_db = balance_db


@dataclass(frozen=True)
class _Kept:
    """What is kept of how prints sound together: blends by pass, and by print the balance where there is no blend."""

    blends: Mapping[int, Mapping[LaneId, BlendSetting]]
    balances: Mapping[int, float]


def _kept(library: Readable, lanes: Sequence[Lane]) -> _Kept:
    ids = [item.print_id for lane in lanes for item in lane.prints if item.print_id is not None]
    with library.reading() as session:
        rows = session.execute(select(col(Print.id), col(Print.balance_db)).where(col(Print.id).in_(ids)))
        balances = dict(rows.all())
    passes = [lane.pass_id for lane in lanes if lane.pass_id is not None]
    return _Kept(kept_blends(library, passes), balances)


def _blend_of(lane: Lane, kept: _Kept) -> Mapping[LaneId, BlendSetting] | None:
    """The blend that is kept with the pass, where two or more of it can be heard."""
    blend = None if lane.pass_id is None else kept.blends.get(lane.pass_id)
    return blend if blend and sum(item.print_id in blend for item in lane.heard) > 1 else None


def _settings(lane: Lane, kept: _Kept) -> tuple[BlendSetting, ...]:
    """How each of what can be heard sounds in its lane."""
    blend = _blend_of(lane, kept)
    if blend is not None:
        return tuple(blend.get(item.print_id, MUTED) for item in lane.heard)
    source = BlendSetting() if lane.pass_id is None else MUTED
    return tuple(
        source
        if item.print_id is None
        else BlendSetting(kept.balances[item.print_id], inverted=item.is_turned)
        for item in lane.heard
    )


def _balance(library: Readable, lane: Lane, settings: Sequence[BlendSetting]) -> Balance:
    key = lane.loudness_key or ""
    return Balance(
        read_hop_powers(library, key),
        tuple(setting.gain_db for setting in settings),
        tuple(setting.inverted for setting in settings),
        _nudged_db(library, key, settings) if any(setting.nudge_samples for setting in settings) else 0.0,
    )


def _nudged_db(library: Readable, key: str, settings: Sequence[BlendSetting]) -> float:
    spectra = read_measured_together(library, key).spectra
    nudged = weighted_level_db(sum_of(spectra, settings))
    as_it_lies = weighted_level_db(sum_of(spectra, [replace(one, nudge_samples=0.0) for one in settings]))
    return 0.0 if nudged is None or as_it_lies is None else nudged - as_it_lies


def _unaligned(sounding: Sequence[LanePrint]) -> str:
    astray = next((item.astray for item in sounding if item.astray), "")
    return f"Not aligned: {astray}" if astray else ""


def _heard(lane: Lane, kept: _Kept) -> HeardLane:
    words = "The source" if lane.pass_id is None else f"Pass {lane.number}"
    words += f": {lane.title}" if lane.pass_id is not None and lane.title else ""
    rate = lane.sample_rate or DEFAULT_RATE
    sounding = [
        (item, setting)
        for item, setting in zip(lane.heard, _settings(lane, kept), strict=True)
        if setting != MUTED
    ]
    sounding.sort(key=lambda one: one[0].print_id is None)
    return HeardLane(
        lane_id(lane.pass_id),
        words + (", as blended" if _blend_of(lane, kept) else ""),
        lane.state == "coming",
        any(item.state == WorkState.FAILED for item in lane.prints),
        lane.reason,
        _unaligned([item for item, _ in sounding]),
        tuple(
            HeardPrint(
                item.print_id,
                item.label or item.file_name,
                item.key or "",
                item.delay_s or 0.0,
                setting.inverted,
                setting.gain_db,
                setting.nudge_samples / rate,
                item.scale_db,
            )
            for item, setting in sounding
        ),
    )
