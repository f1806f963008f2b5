"""One-third-octave spectra laid over each other, or each minus one of them.

Curves are told apart by dash, weight and the name at their end, never by colour.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import isfinite
from xml.etree.ElementTree import Element, SubElement

from app.drawings import svg
from app.drawings.frequency_plot import DRAWN_RANGE_DB, FrequencyPlot, axis_of, draw_axes, plot_on
from app.drawings.named_lines import LETTERS, Point, draw_line, draw_names, room_beneath, stroke_of
from app.drawings.read_out import Column, with_read_out
from app.drawings.svg import Drawing
from app.drawings.wording import decibels, hertz

Band = tuple[float, float, float | None]


@dataclass(frozen=True)
class Curve:
    """A named spectrum: bands as (nominal_hz, mid_hz, level_dbfs), rising in frequency; None: no level known."""

    name: str
    bands: Sequence[Band]


def spectra(
    curves: Sequence[Curve], *, reference: int | None = None, width: int = 720, height: int = 320
) -> Drawing:
    """Band levels in dBFS over frequency; with `reference`, each curve minus that one in dB.

    A missing level leaves a gap. Levels more than DRAWN_RANGE_DB under the loudest band lie below the drawing, and a
    difference is left out where both its levels do. Raises IndexError where no curve has the reference's number.
    """
    width, height = max(width, 240), max(height, 140)
    drawn = [_finite(curve) for curve in curves]
    if reference is not None:
        drawn = [_minus(curve, drawn[reference]) for curve in drawn]
    finding = _finding(drawn, reference)
    names = [_name(drawn, index, reference) for index in range(len(drawn))]
    root = svg.sheet(width, height + room_beneath(names, width))
    root.set("class", "spectra")
    levels = [level for curve in drawn for _, _, level in curve.bands if level is not None]
    if not levels:
        svg.label(root, (width / 2, height / 2), "No band levels to draw", size=LETTERS, anchor="middle")
        return svg.finished(root, finding)

    mids = [mid for curve in drawn for _, mid, _ in curve.bands]
    low_db, high_db, step_db = axis_of(levels, reference is not None)
    plot = plot_on(
        (width, height),
        (min(mids) * 10**-0.05, max(mids) * 10**0.05),
        (low_db, high_db),
    )
    draw_axes(root, plot, step_db, "dB" if reference is not None else "dBFS")
    ends = [_draw_curve(root, plot, curve, stroke_of(index, reference)) for index, curve in enumerate(drawn)]
    draw_names(root, plot, names, ends, height, plain=reference)
    with_read_out(root, names, _columns(drawn, plot, "dB" if reference is not None else "dBFS"))
    return svg.finished(root, finding)


def _columns(curves: Sequence[Curve], plot: FrequencyPlot, unit: str) -> list[Column]:
    levels = [{mid: level for _, mid, level in curve.bands} for curve in curves]
    bands = sorted({(mid, nominal) for curve in curves for nominal, mid, _ in curve.bands})

    def said(level: float | None) -> str:
        return "–" if level is None else f"{decibels(level, signed=unit == 'dB')} {unit}"

    return [(plot.x(mid), hertz(nominal), [said(each.get(mid)) for each in levels]) for mid, nominal in bands]


def _finite(curve: Curve) -> Curve:
    """The curve without the levels that are not numbers; those below the drawing stay, to be cut by the pen."""
    bands = [
        (nominal, mid, level if level is not None and isfinite(level) else None)
        for nominal, mid, level in curve.bands
        if isfinite(mid) and mid > 0
    ]
    return Curve(curve.name, bands)


def _minus(curve: Curve, reference: Curve) -> Curve:
    levels = {nominal: level for nominal, _, level in reference.bands}
    known = [level for _, _, level in [*curve.bands, *reference.bands] if level is not None]
    lowest = max(known, default=0.0) - DRAWN_RANGE_DB
    bands: list[Band] = []
    for nominal, mid, level in curve.bands:
        other = levels.get(nominal)
        known_pair = level is not None and other is not None and max(level, other) > lowest
        bands.append(
            (nominal, mid, level - other if known_pair and level is not None and other is not None else None)
        )
    return Curve(curve.name, bands)


def _draw_curve(root: Element, plot: FrequencyPlot, curve: Curve, stroke: int) -> Point | None:
    """Draws one curve; returns its right end, None where nothing of it is on the paper."""
    drawn = svg.group(root, class_="curve", stroke_linejoin="round")
    SubElement(drawn, "title").text = svg.written(curve.name)
    end = None
    for piece in _pieces(curve.bands, plot.low_db):
        points = [(plot.x(hz), plot.y(db)) for hz, db in piece]
        end = points[-1]
        draw_line(drawn, points, stroke)
    return end


def _pieces(bands: Sequence[Band], floor_db: float) -> Iterator[list[Point]]:
    """The curve as (hz, db) runs without gaps, cut where it goes below the floor."""
    run: list[Point] = []
    before: Point | None = None
    for _, hz, db in bands:
        here = None if db is None else (hz, db)
        if before and here and (before[1] >= floor_db) != (here[1] >= floor_db):
            run.append(_crossing(before, here, floor_db))
        if here and here[1] >= floor_db:
            run.append(here)
        elif run:
            yield run
            run = []
        before = here
    if run:
        yield run


def _crossing(before: Point, after: Point, floor_db: float) -> Point:
    share = (floor_db - before[1]) / (after[1] - before[1])
    return before[0] * (after[0] / before[0]) ** share, floor_db


def _name(curves: Sequence[Curve], index: int, reference: int | None) -> str:
    return f"{curves[index].name} (reference)" if index == reference else curves[index].name


def _finding(curves: Sequence[Curve], reference: int | None) -> str:
    mids = [nominal for curve in curves for nominal, _, _ in curve.bands]
    if not mids:
        return "One-third-octave spectra: no bands."
    span = f"{hertz(min(mids))} to {hertz(max(mids))}"
    if reference is None:
        said = [_highest(curve) for curve in curves]
        return f"One-third-octave spectra in dBFS, {span}. {' '.join(said)}"
    others = [curve for index, curve in enumerate(curves) if index != reference]
    said = [_furthest(curve) for curve in others]
    return f"One-third-octave levels minus those of {curves[reference].name}, in dB, {span}. {' '.join(said)}"


def _highest(curve: Curve) -> str:
    known = [(level, nominal) for nominal, _, level in curve.bands if level is not None]
    if not known:
        return f"{curve.name}: no levels."
    level, nominal = max(known)
    return f"{curve.name}: highest {decibels(level)} dBFS at {hertz(nominal)}."


def _furthest(curve: Curve) -> str:
    known = [(level, nominal) for nominal, _, level in curve.bands if level is not None]
    if not known:
        return f"{curve.name}: no band in common."
    (high, high_at), (low, low_at) = max(known), min(known)
    return (
        f"{curve.name}: from {decibels(low, signed=True)} dB at {hertz(low_at)} "
        f"to {decibels(high, signed=True)} dB at {hertz(high_at)}."
    )
