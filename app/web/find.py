"""Find."""

from dataclasses import dataclass
from typing import ClassVar

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.desk import find as desk
from app.desk.find import Hit
from app.web.context import LibraryDep
from app.web.pages import Page, show

router = APIRouter()

PLACES = {"project": "/projects", "source track": "/sources", "gear": "/gear", "pass": "/passes"}


@dataclass(frozen=True)
class FindPage(Page):
    template: ClassVar[str] = "find/find.html"
    section: ClassVar[str] = "Find"

    sought: str
    hits: list[Hit]
    places: dict[str, str]


@router.get("/find")
def find(request: Request, library: LibraryDep, q: str = "") -> Response:
    sought = q.strip()[:200]
    return show(request, FindPage(sought, desk.find(library, sought), PLACES))
