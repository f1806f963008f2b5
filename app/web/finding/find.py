"""Find, by words and by facts."""

from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import ClassVar
from urllib.parse import urlencode

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.desk.finding import find as desk
from app.desk.finding.find import Hit
from app.desk.finding.find_passes import Choices, FactsEntry, Found, are_of_the_shelf, choices, find_passes
from app.desk.refusals import Refusal
from app.trade.facts import ControlFact, as_settings, read_facts, split
from app.web.context import SnapshotDep, UnitDep
from app.web.pages import NOTHING, Page, show

router = APIRouter()

PLACES = {"project": "/projects", "source track": "/sources", "gear": "/gear", "pass": "/passes"}
LONGEST = 200


@dataclass(frozen=True)
class FindPage(Page):
    """`said` are the facts that were read in the words, `as_words` the address that takes them as words after all.
    `found` are passes where facts were asked for, else `hits` whatever holds the words. `or_in` are facts that were
    read without a unit: as said, as it would be in one, and the address for that; `or_as_settings` the words as facts, where
    they could be jotted settings as well."""

    template: ClassVar[str] = "finding/find.html"
    section: ClassVar[str] = "Find"

    sought: str
    said: tuple[str, ...]
    as_words: str
    entry: FactsEntry
    offered: Choices
    found: Found | None
    hits: list[Hit]
    places: dict[str, str]
    errors: Mapping[str, str]
    or_in: tuple[tuple[str, str, str], ...]
    or_as_settings: str


@router.get("/find")
def find(request: Request, library: SnapshotDep, unit: UnitDep, q: str = "", plain: bool = False) -> Response:
    sought = q.strip()[:LONGEST]
    sent = request.query_params
    entry = FactsEntry(**{item.name: sent.get(item.name, "")[:LONGEST] for item in fields(FactsEntry)})
    words, said = (sought, ()) if plain else split(sought)
    found, hits, errors = None, [], NOTHING
    or_as_settings: tuple[ControlFact, ...] = ()
    if said or not entry.is_empty:
        try:
            found = find_passes(library, words, said, entry, unit=unit)
        except Refusal as refusal:
            errors = refusal.sentences
    else:
        hits = desk.find(library, sought)
        jotted = () if plain else as_settings(sought)
        if jotted and hits:
            or_as_settings = jotted if are_of_the_shelf(library, jotted) else ()
        elif jotted:
            told = find_passes(library, "", jotted, entry, unit=unit)
            said, found = ((), None) if told.unknown else (jotted, told)
    page = FindPage(
        sought,
        tuple(fact.text for fact in said),
        "/find?" + urlencode({"q": sought, "plain": "yes"}),
        entry,
        choices(library),
        found,
        hits,
        PLACES,
        errors,
        _or_in(found, sent, sought),
        ", ".join(fact.text for fact in or_as_settings),
    )
    return show(request, page, status_code=422 if errors else 200)


def _or_in(found: Found | None, sent: Mapping[str, str], sought: str) -> tuple[tuple[str, str, str], ...]:
    """Wherever the fact was typed, it stands there in its unit."""

    def address(plain: ControlFact, said: ControlFact) -> str:
        fields = dict(sent) | {"q": sought}
        for name in ("q", "controls"):
            parts = [part.strip() for part in fields.get(name, "").split(",")]
            fields[name] = ", ".join(said.text if plain in _facts_of(part) else part for part in parts)
        return "/find?" + urlencode({name: text for name, text in fields.items() if text})

    return (
        ()
        if found is None
        else tuple((plain.text, said.text, address(plain, said)) for plain, said in found.or_in)
    )


def _facts_of(part: str) -> tuple[ControlFact, ...]:
    try:
        return read_facts(part)
    except ValueError:
        return ()
