"""A chain begun from one line: what of it is on the shelf stands in the draft, and what is not is put there first."""

from dataclasses import replace

from sqlalchemy import select
from sqlalchemy.orm import Session
from sqlmodel import col

from app.desk.passes import drafts, passes
from app.desk.passes.kept_chains import pass_of_chain
from app.desk.passes.passes import PassEntry
from app.desk.refusals import Refusal
from app.desk.shelf.gear import put_on_shelf, starting_entry
from app.library import Library, Readable
from app.records import Gear
from app.trade.chain_line import OnShelf, Piece, read_chain
from app.trade.distances import LengthUnit


def understand_chain(library: Readable, line: str, *, unit: LengthUnit = "mm") -> tuple[Piece, ...]:
    """What a line would put into the chain, piece by piece; nothing of a kept chain's name. Raises Refusal at "chain"."""
    with library.reading() as session:
        return () if pass_of_chain(session, line) is not None else _read(session, line, unit)


def take_chain(
    library: Library, draft_id: int, key: str, line: str, *, unit: LengthUnit = "mm"
) -> drafts.Jotted:
    """Make a line the draft's chain, behind what stands there; the name of a kept chain takes that, with its settings, in
    the place of all. Gear that is not on the shelf is put there with its usual
    controls. Raises Refusal at "chain"."""

    def with_chain(session: Session, entry: PassEntry) -> PassEntry:
        kept = pass_of_chain(session, line)
        if kept is not None:
            return drafts.as_logged(session, draft_id, entry, kept, unit)
        pieces = _read(session, line, unit)
        if not pieces:
            raise Refusal({"chain": "Type the gear in the order the signal goes through it, with > between."})
        for piece in pieces:
            gear_id = _gear_of(session, piece)
            entry = passes.put_last(session, entry, gear_id)
            last = entry.steps[-1]
            if piece.distance and last.placement is not None:
                placed = replace(last.placement, distance=piece.distance)
                entry = replace(entry, steps=(*entry.steps[:-1], replace(last, placement=placed)))
        return entry

    return drafts.change_entry(library, draft_id, key, with_chain, lambda session: "the chain", unit)


def _gear_of(session: Session, piece: Piece) -> int:
    if piece.known is not None:
        return piece.known.gear_id
    start = "empty" if piece.start is None else piece.start.key
    return put_on_shelf(session, replace(starting_entry(start), name=piece.name))


def _read(session: Session, line: str, unit: LengthUnit) -> tuple[Piece, ...]:
    rows = session.execute(
        select(col(Gear.id), col(Gear.name), col(Gear.kind)).where(col(Gear.retired_at).is_(None))
    )
    shelf = [OnShelf(gear_id, name, kind) for gear_id, name, kind in rows]
    try:
        return read_chain(line, shelf, unit)
    except ValueError as error:
        raise Refusal({"chain": str(error)}) from error
