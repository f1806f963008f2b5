"""What the player needs: lanes with their files, and the gains that make a part of them equally loud."""

from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import select
from sqlmodel import col

from app.desk.listening import auditions
from app.desk.listening.auditions import Lane
from app.desk.listening.loudness_of_part import Balance, matching_gains, read_hop_powers
from app.desk.passes.pass_sheets import PassSheet
from app.desk.prints.prints import find_print
from app.desk.refusals import Refusal
from app.library import Library, Readable
from app.records import Print, WorkState
from app.signal.listening.figures import SEGMENT_S

LEAST_BALANCE_DB, MOST_BALANCE_DB = -24.0, 12.0
SOURCE = "source"


@dataclass(frozen=True)
class HeardPrint:
    """`key` names its audition; `scale_db` is what its samples were lowered by to fit into their files."""

    print_id: int | None
    words: str
    key: str
    delay_s: float
    inverted: bool
    balance_db: float
    scale_db: float


@dataclass(frozen=True)
class HeardLane:
    """One lane of the player: a pass (id "pass-3") or the source."""

    id: str
    words: str
    is_coming: bool
    has_failed: bool
    reason: str
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
    balances = _balances(library, lanes)
    rate = next((lane.sample_rate for lane in lanes if lane.sample_rate), None) or 48_000
    length_s = max((lane.duration_s for lane in lanes), default=0.0)
    return Listening(rate, length_s, SEGMENT_S, tuple(_heard(lane, balances) for lane in lanes))


def gains_of_part(library: Readable, pass_ids: Sequence[int], from_s: float, to_s: float) -> dict[str, float]:
    """By lane id, the gain in dB that makes this part of all lanes as loud as the quietest."""
    lanes = [lane for lane in auditions.read_auditions(library, pass_ids) if lane.loudness_key and lane.heard]
    balances = _balances(library, lanes)
    together = [
        Balance(
            read_hop_powers(library, lane.loudness_key or ""),
            tuple(balances.get(item.print_id, 0.0) for item in lane.heard),
            tuple(item.is_turned for item in lane.heard),
        )
        for lane in lanes
    ]
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
        find_print(session, print_id).balance_db = balance_db


def _heard(lane: Lane, balances: dict[int | None, float]) -> HeardLane:
    words = "The source" if lane.pass_id is None else f"Pass {lane.number}"
    return HeardLane(
        lane_id(lane.pass_id),
        words + (f": {lane.title}" if lane.pass_id is not None and lane.title else ""),
        lane.state == "coming",
        any(item.state == WorkState.FAILED for item in lane.prints),
        lane.reason,
        tuple(
            HeardPrint(
                item.print_id,
                item.label or item.file_name,
                item.key or "",
                item.delay_s or 0.0,
                item.is_turned,
                balances.get(item.print_id, 0.0),
                item.scale_db,
            )
            for item in lane.heard
        ),
    )


def _balances(library: Readable, lanes: Sequence[Lane]) -> dict[int | None, float]:
    ids = [item.print_id for lane in lanes for item in lane.prints if item.print_id is not None]
    with library.reading() as session:
        rows = session.execute(select(col(Print.id), col(Print.balance_db)).where(col(Print.id).in_(ids)))
        return dict(rows.all())
