"""The keyboard map, and whether this browser wants single keys at all (WCAG 2.2, 2.1.4 Character Key Shortcuts)."""

from dataclasses import dataclass
from typing import ClassVar

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.web.pages import Page, show

router = APIRouter()


@dataclass(frozen=True)
class KeysPage(Page):
    template: ClassVar[str] = "keys.html"
    section: ClassVar[str] = ""


@router.get("/keys")
def show_keys(request: Request) -> Response:
    return show(request, KeysPage())
