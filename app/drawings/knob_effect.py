"""What a control did to the third-octave bands over its whole travel, and how surely that is known."""

from collections.abc import Sequence

from app.drawings import svg
from app.drawings.frequency_plot import axis_of, draw_axes, plot_on
from app.drawings.read_out import with_read_out
from app.drawings.svg import Drawing
from app.drawings.wording import decibels, hertz

EffectBand = tuple[float, float, float, float]
"""(nominal_hz, mid_hz, dB, what it may be off by in dB)."""


def knob_effect(name: str, bands: Sequence[EffectBand], *, width: int = 720, height: int = 220) -> Drawing:
    """The effect as a line within the grey of its uncertainty; where that leaves out 0, the effect is sure and dotted."""
    width, height = max(width, 240), max(height, 140)
    root = svg.sheet(width, height)
    root.set("class", "knob-effect")
    edges = [db + side * off for _, _, db, off in bands for side in (1, -1)]
    low_db, high_db, step_db = axis_of(edges, True)
    mids = [mid for _, mid, _, _ in bands]
    plot = plot_on((width, height), (min(mids) * 10**-0.05, max(mids) * 10**0.05), (low_db, high_db))
    draw_axes(root, plot, step_db, "dB")
    upper = [(plot.x(mid), plot.y(db + off)) for _, mid, db, off in bands]
    lower = [(plot.x(mid), plot.y(db - off)) for _, mid, db, off in bands]
    outline = "M" + "L".join(f"{svg.number(x)} {svg.number(y)}" for x, y in [*upper, *reversed(lower)]) + "Z"
    svg.path(root, outline, weight=0.75, fill="currentColor", fill_opacity="0.1", stroke_opacity="0.35")
    svg.polyline(root, [(plot.x(mid), plot.y(db)) for _, mid, db, _ in bands], weight=2.0)
    for _, mid, db, off in bands:
        if abs(db) > off:
            svg.dot(root, (plot.x(mid), plot.y(db)), 2.8)
    said = [
        (plot.x(mid), hertz(nominal), [f"{decibels(db, signed=True)} dB ± {decibels(off)}"])
        for nominal, mid, db, off in bands
    ]
    with_read_out(root, [name], said)
    return svg.finished(root, _finding(name, bands))


def _finding(name: str, bands: Sequence[EffectBand]) -> str:
    sure = [band for band in bands if abs(band[2]) > band[3]]
    if not sure:
        return f"{name}, over its whole travel: no band surely changed."
    nominal, _, db, off = max(sure, key=lambda band: abs(band[2]))
    return (
        f"{name}, over its whole travel: {len(sure)} of {len(bands)} bands surely changed, most "
        f"{decibels(db, signed=True)} dB ± {decibels(off)} at {hertz(nominal)}."
    )
