"""Third-octave differences over the ribbon within which they do not count: one line for each try, the older the fainter.

Lines are told apart by dash, weight and the name at their end; that the older are fainter only helps the eye.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from app.drawings import svg
from app.drawings.frequency_plot import FrequencyPlot, axis_of, draw_axes, plot_on
from app.drawings.named_lines import LETTERS, draw_line, draw_names, room_beneath
from app.drawings.read_out import with_read_out
from app.drawings.svg import Drawing
from app.drawings.wording import decibels, hertz

MOST_TRIES = 5
FAINTEST = 0.4

Differences = Sequence[tuple[float, float]]
"""(mid_hz, dB), rising in frequency."""


@dataclass(frozen=True)
class Try:
    name: str
    differences: Differences


def ribbon(
    tries: Sequence[Try],
    tolerance: Differences,
    *,
    nominal: Sequence[tuple[float, float]],
    width: int = 720,
    height: int = 300,
) -> Drawing:
    """The last tries, oldest first, against `tolerance`, the dB up to which each band still counts as a match.
    `nominal` gives each band its name: (mid_hz, nominal_hz)."""
    width, height = max(width, 240), max(height, 160)
    newest_first = [one for one in tries if one.differences][-MOST_TRIES:][::-1]
    names = [one.name for one in newest_first]
    root = svg.sheet(width, height + room_beneath(names, width))
    root.set("class", "ribbon")
    if not newest_first or not tolerance:
        svg.label(root, (width / 2, height / 2), "No bands to compare", size=LETTERS, anchor="middle")
        return svg.finished(root, "Third-octave differences: no bands to compare.")
    mids = [mid for one in newest_first for mid, _ in one.differences] + [mid for mid, _ in tolerance]
    values = [db for one in newest_first for _, db in one.differences]
    edges = [edge for _, db in tolerance for edge in (db, -db)]
    low_db, high_db, step_db = axis_of([*values, *edges], True)
    plot = plot_on(
        (width, height),
        (min(mids) * 10**-0.05, max(mids) * 10**0.05),
        (low_db, high_db),
    )
    draw_axes(root, plot, step_db, "dB")
    upper = [(plot.x(mid), plot.y(db)) for mid, db in tolerance]
    lower = [(plot.x(mid), plot.y(-db)) for mid, db in tolerance]
    outline = "M" + "L".join(f"{svg.number(x)} {svg.number(y)}" for x, y in [*upper, *reversed(lower)]) + "Z"
    svg.path(root, outline, weight=0.75, fill="currentColor", fill_opacity="0.1", stroke_opacity="0.35")
    ends = []
    for index, one in enumerate(newest_first):
        fading = 1 - (1 - FAINTEST) * index / max(1, len(newest_first) - 1)
        drawn = svg.group(root, class_="curve", stroke_linejoin="round", opacity=svg.number(fading))
        points = [(plot.x(mid), plot.y(db)) for mid, db in one.differences]
        draw_line(drawn, points, index)
        ends.append(points[-1])
    draw_names(root, plot, names, ends, height)
    with_read_out(root, names, _columns(newest_first, plot, dict(nominal)))
    return svg.finished(root, _finding(newest_first, tolerance, dict(nominal)))


def _columns(
    tries: Sequence[Try], plot: FrequencyPlot, nominal: dict[float, float]
) -> list[tuple[float, str, list[str]]]:
    by_mid = [dict(one.differences) for one in tries]
    mids = sorted({mid for one in tries for mid, _ in one.differences})
    return [
        (
            plot.x(mid),
            hertz(nominal.get(mid, mid)),
            [f"{decibels(each[mid], signed=True)} dB" if mid in each else "–" for each in by_mid],
        )
        for mid in mids
    ]


def _finding(tries: Sequence[Try], tolerance: Differences, nominal: dict[float, float]) -> str:
    allowed = dict(tolerance)
    said = []
    for one in reversed(tries):
        outside = [mid for mid, db in one.differences if abs(db) > allowed.get(mid, float("inf"))]
        mid, db = max(one.differences, key=lambda band: abs(band[1]))
        most = f"at most {decibels(db, signed=True)} dB at {hertz(nominal.get(mid, mid))}"
        inside = "all within the tolerance" if not outside else f"{len(outside)} bands outside the tolerance"
        said.append(f"{one.name}: {inside}, {most}.")
    return f"Third-octave differences from the original once equally loud. {' '.join(said)}"
