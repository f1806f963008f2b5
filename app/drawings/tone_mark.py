"""A tone difference small enough for a ledger's cell: a bar a third octave, up for more and down for less."""

from collections.abc import Sequence

from app.drawings import svg
from app.drawings.svg import Drawing
from app.drawings.wording import decibels, hertz

BAR_PX, GAP_PX, HALF_PX = 3, 1, 9
FULL_DB = 6.0
"""A bar of full length; what goes beyond is cut."""

Band = tuple[float, float | None]
"""(nominal_hz, dB); None where there is nothing to compare."""


def tone_mark(bands: Sequence[Band], against: str) -> Drawing:
    """The difference of a print to that of `against`, once both are equally loud."""
    root = svg.sheet(max(1, len(bands)) * (BAR_PX + GAP_PX), 2 * HALF_PX, lettered=False)
    root.set("class", "tone-mark")
    width = len(bands) * (BAR_PX + GAP_PX)
    svg.line(root, (0, HALF_PX), (width, HALF_PX), weight=0.5)
    for index, (_, db) in enumerate(bands):
        if db is None or abs(db) < 0.05:
            continue
        high_px = min(abs(db) / FULL_DB, 1.0) * HALF_PX
        top = HALF_PX - high_px if db > 0 else HALF_PX
        svg.box(
            root,
            (index * (BAR_PX + GAP_PX), top),
            (BAR_PX, high_px),
            weight=0,
            fill="currentColor",
        )
    return svg.finished(root, _finding(bands, against))


def _finding(bands: Sequence[Band], against: str) -> str:
    known = [(db, hz) for hz, db in bands if db is not None]
    if not known:
        return f"Nothing to compare with {against}."
    (high, high_at), (low, low_at) = max(known), min(known)
    return (
        f"Against {against}, equally loud: {decibels(low, signed=True)} dB at {hertz(low_at)} "
        f"to {decibels(high, signed=True)} dB at {hertz(high_at)}."
    )
