"""A page's words made unbroken (`desk/unbroken.py`), and nothing else of it.

Values of attributes are what scripts, styles and forms go by, and the words of a field or an option are what is sent: they
stay as they are. The environment escapes every ">" in a value, so the first one behind a tag's "<" ends the tag.
"""

import re

from app.desk.unbroken import BEGINS, FIGURE, GAP, NO_BREAK, UNIT, unbroken

_AS_IT_IS = ("<textarea", "<option", "<script", "<style", "<pre")
_WORDS_WITH_A_FIGURE = re.compile(rf">[^<]*{FIGURE}{GAP}{BEGINS}[^<]*")
_FIGURE_IN_AN_ELEMENT = re.compile(rf"> (?={UNIT})")


def unbroken_page(page: str) -> str:
    """The page, its figures and their units joined; also where the figure alone stands in an element: <b>3</b> dB."""

    def joined(found: re.Match[str]) -> str:
        tag = page.rfind("<", 0, found.start())
        return found[0] if page.startswith(_AS_IT_IS, tag) else unbroken(found[0])

    return _FIGURE_IN_AN_ELEMENT.sub(f">{NO_BREAK}", _WORDS_WITH_A_FIGURE.sub(joined, page))
