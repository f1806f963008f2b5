"""How this browser likes its pages: theme, unit of length and single keys, kept in cookies."""

from fastapi import APIRouter
from fastapi.responses import Response

from app.web.forms import SentForm, words
from app.web.pages import THEMES, go_to

router = APIRouter()

A_YEAR_S = 365 * 24 * 3600
CHOICES = {"theme": THEMES, "unit": ("mm", "in"), "keys": ("on", "off")}


@router.post("/preferences")
def prefer(form: SentForm) -> Response:
    back = words(form, "back")
    answer = go_to(back if back.startswith("/") and not back.startswith(("//", "/\\")) else "/")
    for name, allowed in CHOICES.items():
        value = words(form, name)
        if value in allowed:
            answer.set_cookie(name, value, max_age=A_YEAR_S, samesite="strict", httponly=True)
    return answer
