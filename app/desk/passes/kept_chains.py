"""Chains to begin with: those kept under a name, and those that other sources' passes ran through."""

from dataclasses import dataclass

from sqlalchemy import Select, select
from sqlalchemy.orm import Session
from sqlmodel import col

from app.desk import wording
from app.desk.passes.passes import find_pass
from app.desk.refusals import Complaints
from app.library import Library, Readable
from app.records import ChainStep, ControlLayout, Pass, SourceTrack

OFFERED = 8
"""As many chains of other passes are offered, beside the named ones."""
LOOKED_AT = 60


@dataclass(frozen=True)
class ChainOffer:
    """A chain with its last settings, as it stands on a pass. `name` is empty where nobody named it."""

    pass_id: int
    name: str
    source_name: str
    number: int
    gear: tuple[str, ...]

    @property
    def words(self) -> str:
        return f"{self.name or f'{self.source_name}, pass {self.number}'}: {' > '.join(self.gear)}"


def keep_chain(library: Library, pass_id: int, name: str) -> None:
    """Keep a pass's chain with its settings under a name; an empty one is kept no more. A name that another pass had
    goes to this one. Raises Refusal at "chain_name"."""
    complaints = Complaints()
    name = wording.line(complaints, "chain_name", "The name", name)
    complaints.refuse_if_any()
    with library.writing() as session:
        row = find_pass(session, pass_id)
        if name:
            for other in session.scalars(_named(name)):
                other.chain_name = ""
        row.chain_name = name


def pass_of_chain(session: Session, name: str) -> int | None:
    """The pass whose chain is kept under this name, however it is capitalised."""
    found = session.scalars(_named(name)).first() if name.strip() else None
    return None if found is None else found.id


def offered_chains(library: Readable, source_id: int) -> tuple[ChainOffer, ...]:
    """The named chains by name, then those of the newest passes of all sources, each once."""
    heads = (
        select(col(Pass.id), col(Pass.chain_name), col(SourceTrack.name), col(Pass.number))
        .join(SourceTrack)
        .order_by(col(Pass.created_at).desc(), col(Pass.id).desc())
    )
    with library.reading() as session:
        named = session.execute(heads.where(col(Pass.chain_name) != "")).all()
        others = session.execute(
            heads.where(col(Pass.chain_name) == "", col(Pass.source_id) != source_id).limit(LOOKED_AT)
        ).all()
        gear = _gear_of(session, [row[0] for row in (*named, *others)])
    by_name = sorted(named, key=lambda row: str(row[1]).casefold())
    offers = [ChainOffer(*row, gear.get(row[0], ())) for row in (*by_name, *others)]
    seen: set[tuple[str, ...]] = set()
    kept: list[ChainOffer] = []
    for offer in offers:
        if not offer.name and (offer.gear in seen or not offer.gear):
            continue
        seen.add(offer.gear)
        kept.append(offer)
    return tuple(kept[: len(named) + OFFERED])


def _named(name: str) -> Select[Pass]:
    return select(Pass).where(
        col(Pass.chain_name).collate("NOCASE") == name.strip(), col(Pass.chain_name) != ""
    )


def _gear_of(session: Session, pass_ids: list[int]) -> dict[int, tuple[str, ...]]:
    steps = (
        select(col(ChainStep.pass_id), col(ControlLayout.gear_name))
        .join(ControlLayout, col(ChainStep.layout_id) == col(ControlLayout.id))
        .where(col(ChainStep.pass_id).in_(pass_ids))
        .order_by(col(ChainStep.pass_id), col(ChainStep.position))
    )
    found: dict[int, tuple[str, ...]] = {}
    for pass_id, name in session.execute(steps):
        found[pass_id] = (*found.get(pass_id, ()), name)
    return found
