"""The one page that asks before something is deleted."""

from dataclasses import dataclass
from pathlib import Path
from typing import ClassVar

from app.desk.safekeeping.backups import newest_made_at
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


def way_back(folder: Path) -> str:
    """What becomes of what is deleted from the library in this folder."""
    made_at = newest_made_at(folder)
    if made_at is None:
        return "This cannot be undone here, and there is no backup yet: make one first (Backups, at the foot of the page)."
    return (
        f"This cannot be undone here. The newest backup is of {made_at:%Y-%m-%d %H:%M}; what was logged since then is in "
        "none (Backups, at the foot of the page, makes one and says how one is put back)."
    )
