"""The figures behind a drawing, for the script that reads them out under the cursor and by keyboard."""

import json
from collections.abc import Sequence
from xml.etree.ElementTree import Element

from app.drawings import svg

Column = tuple[float, str, Sequence[str]]
"""Where it lies across the drawing, what it is ("1 kHz", "0:05"), and the value of each curve there in words."""


def with_read_out(root: Element, names: Sequence[str], columns: Sequence[Column]) -> None:
    """Lay the figures beside the drawing, as data that shows nothing by itself."""
    root.set("data-names", svg.written(json.dumps(list(names), ensure_ascii=False)))
    columns_of = [[round(x, 1), label, list(values)] for x, label, values in columns]
    root.set("data-columns", svg.written(json.dumps(columns_of, ensure_ascii=False)))
