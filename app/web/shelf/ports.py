"""The ports of a piece of gear and what its manual says."""

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from typing import ClassVar

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.desk.refusals import Refusal
from app.desk.shelf import ports as desk
from app.desk.shelf.gear import GearSheet, read_gear
from app.desk.shelf.ports import FactsEntry, PortEntry, PortsEntry
from app.trade.gear_facts import FACT_LABELS, FACTS_OF_KIND, YES_NO
from app.trade.gear_kinds import kind_of
from app.trade.ports import CONNECTOR_LABELS, LEVEL_LABELS, PHANTOM_LABELS, Connector, LevelClass, Phantom
from app.web.context import LibraryDep, RowId, SnapshotDep
from app.web.forms import SentForm, changed_rows, entry_from, numbered, words
from app.web.pages import NOTHING, Page, go_to, show

router = APIRouter()


@dataclass(frozen=True)
class PortsPage(Page):
    """`facts` are those of this kind of gear: (name, label, is yes or no). The others are sent along unseen, so that
    gear which was of another kind for a while keeps what was known of it."""

    template: ClassVar[str] = "shelf/ports.html"
    section: ClassVar[str] = "Gear"

    gear: GearSheet
    entry: PortsEntry
    errors: Mapping[str, str]
    facts: tuple[tuple[str, str, bool], ...]
    facts_of_other_kinds: tuple[str, ...]
    connectors: Mapping[Connector, str]
    levels: Mapping[LevelClass, str]
    phantoms: Mapping[Phantom, str]


@router.get("/gear/{gear_id}/ports")
def edit_ports(request: Request, library: SnapshotDep, gear_id: RowId) -> Response:
    entry = desk.ports_entry(library, gear_id)
    return show(request, _page(read_gear(library, gear_id), entry))


@router.post("/gear/{gear_id}/ports")
def save_ports(request: Request, library: LibraryDep, form: SentForm, gear_id: RowId) -> Response:
    gear = read_gear(library, gear_id)
    entry = PortsEntry(entry_from(form, FactsEntry), numbered(form, PortEntry, "ports"))
    rows = changed_rows(entry.ports, words(form, "do"), PortEntry())
    if rows is not None:
        return show(request, _page(gear, replace(entry, ports=rows)))
    try:
        desk.edit_ports(library, gear_id, entry)
    except Refusal as refusal:
        return show(request, _page(gear, entry, refusal.sentences), status_code=422)
    return go_to(f"/gear/{gear_id}")


def _page(gear: GearSheet, entry: PortsEntry, errors: Mapping[str, str] = NOTHING) -> PortsPage:
    own = FACTS_OF_KIND[kind_of(gear.kind).key]
    facts = tuple((name, FACT_LABELS[name], name in YES_NO) for name in own)
    others = tuple(field.name for field in fields(FactsEntry) if field.name not in own)
    return PortsPage(gear, entry, errors, facts, others, CONNECTOR_LABELS, LEVEL_LABELS, PHANTOM_LABELS)
