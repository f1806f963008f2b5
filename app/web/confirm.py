"""The one page that asks before something is deleted."""

from dataclasses import dataclass
from typing import ClassVar

from app.web.pages import Page


@dataclass(frozen=True)
class ConfirmPage(Page):
    """`action` is where the button posts to; `back` is where the way out leads."""

    template: ClassVar[str] = "confirm.html"

    heading: str
    sentence: str
    button: str
    action: str
    back: str
