"""A waveform without axes, as wide as whatever it lies in: the line that a part is marked on."""

from collections.abc import Sequence
from math import isfinite
from xml.etree.ElementTree import SubElement

from app.drawings import svg
from app.drawings.svg import Drawing


def strip(columns: Sequence[tuple[float, float]], *, height: int = 64) -> Drawing:
    """The lowest and highest sample of each column, scaled so that the highest fills the strip."""
    known = [(low, high) if isfinite(low) and isfinite(high) else (0.0, 0.0) for low, high in columns]
    peak = max((max(abs(low), abs(high)) for low, high in known), default=0.0) or 1.0
    root = svg.sheet(max(1, len(known)), height)
    root.set("class", "strip")
    root.set("preserveAspectRatio", "none")
    middle, reach = height / 2, height / 2 - 1
    upper = [f"{x} {svg.number(middle - reach * high / peak)}" for x, (_, high) in enumerate(known)]
    lower = [f"{x} {svg.number(middle - reach * low / peak)}" for x, (low, _) in enumerate(known)]
    if known:
        outline = "M" + "L".join(upper) + "L" + "L".join(reversed(lower)) + "Z"
        SubElement(root, "path", {"d": outline, "fill": "currentColor"})
    return svg.finished(root, "Waveform of the source", beside_its_reading=True)
