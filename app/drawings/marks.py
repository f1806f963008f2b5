"""The mark of a control: the project's one drawing of a dial, and its kin for faders, selectors and switches.

Small beside a reading, or from LARGE on with its scale written round it. The part that moves has the class "pointer":
it is turned or shifted by its transform alone, so that a page's script can move it as well.
"""

from collections.abc import Iterator
from math import ceil, cos, floor, isfinite, log10, radians, sin
from xml.etree.ElementTree import Element

from app.drawings import svg
from app.drawings.lettering import shorten, width_of
from app.drawings.svg import Drawing
from app.drawings.wording import figure
from app.trade.readings import show
from app.trade.scales import ClockScale, ControlSpec, MarkScale, PercentScale, RangeScale
from app.trade.travel import DEGREES_PER_HOUR, Travel, angle_deg, clock_text, position_at_deg

LARGE = 96  # from this size in pixels there is room for the scale

_VIEW = 24.0
_CENTRE = (12.0, 12.0)
_RING = 8.0
_LARGE_VIEW = 120.0
_LARGE_CENTRE = (60.0, 60.0)
_LARGE_RING = 32.0
_LARGE_LETTERS = 10.0


def control_mark(
    spec: ControlSpec, position: float | None, *, changed: bool = False, size: int = 22
) -> Drawing:
    """A control's mark, `size` pixels square, at a position (fraction of travel); None: not set.

    A changed control is drawn in heavier ink. The mark always stands beside its reading and is hidden from screen
    readers; its finding says the same in words. A number or a text has no travel: its mark is an empty square.
    """
    at = None if position is None or not isfinite(position) else min(1.0, max(0.0, position))
    if size >= LARGE:
        root = svg.sheet(size, size, view_width=_LARGE_VIEW, view_height=_LARGE_VIEW)
    else:
        root = svg.sheet(size, size, view_width=_VIEW, view_height=_VIEW, lettered=False)
    root.set("class", "mark" + (" is-changed" if changed else ""))
    root.set("stroke-linecap", "round")
    draw = {
        ("knob", False): _small_dial,
        ("knob", True): _large_dial,
        ("fader", False): _small_fader,
        ("fader", True): _large_fader,
        ("selector", False): _small_selector,
        ("selector", True): _large_steps,
        ("switch", False): _small_switch,
        ("switch", True): _large_steps,
    }.get((spec.form, size >= LARGE))
    if draw is not None:
        draw(root, spec, at, changed)
    return svg.finished(root, _finding(spec, at, changed), beside_its_reading=True)


def _finding(spec: ControlSpec, position: float | None, changed: bool) -> str:
    if position is None or spec.form in ("number", "text"):
        return f"{spec.name}: no position"
    return f"{spec.name}: {show(spec, position)}" + (", changed" if changed else "")


def _small_dial(root: Element, spec: ControlSpec, position: float | None, changed: bool) -> None:
    ticks = (_ray(_CENTRE, 9.6, 11.6, angle) for angle in (spec.travel.start_deg, spec.travel.end_deg))
    _outline(svg.path(root, _ring(_CENTRE, _RING) + "".join(ticks)), position, changed)
    _turning_line(root, spec.travel, position, _CENTRE, (1.0, _RING - 0.4), 3.0 if changed else 2.0)


def _large_dial(root: Element, spec: ControlSpec, position: float | None, changed: bool) -> None:
    _outline(svg.circle(root, _LARGE_CENTRE, _LARGE_RING), position, changed)
    written_at: list[tuple[float, float, int]] = []
    for at, words in _graduation(spec):
        angle = angle_deg(spec.travel, at)
        long = bool(words)
        svg.line(
            root,
            _out(_LARGE_CENTRE, _LARGE_RING + 3, angle),
            _out(_LARGE_CENTRE, _LARGE_RING + (8 if long else 6), angle),
            weight=1.2 if long else 0.8,
            opacity="0.8",
        )
        room = _LARGE_LETTERS * 0.62 * max(1, len(words))
        aside = abs(sin(radians(angle))) * room / 2
        x, y = _out(_LARGE_CENTRE, _LARGE_RING + 14 + aside, angle)
        clear = all(
            abs(x - u) * 2 > room + _LARGE_LETTERS * 0.62 * n or abs(y - v) > 9 for u, v, n in written_at
        )
        if words and clear:
            written_at.append((x, y, len(words)))
            inside = min(max(x, room / 2), _LARGE_VIEW - room / 2)
            svg.label(root, (inside, y + 3.2), words, size=_LARGE_LETTERS, anchor="middle")
    _turning_line(root, spec.travel, position, _LARGE_CENTRE, (4.0, _LARGE_RING - 1), 5.0 if changed else 3.0)


def _small_fader(root: Element, spec: ControlSpec, position: float | None, changed: bool) -> None:
    _outline(svg.path(root, "M12 3V21M9.5 3H14.5M9.5 21H14.5"), position, changed=False)
    _sliding_cap(
        root, position, travel=-18.0, at=(12.0, 21.0), half_width=6.0, weight=4.0 if changed else 2.8
    )


def _large_fader(root: Element, spec: ControlSpec, position: float | None, changed: bool) -> None:
    bottom, length = 108.0, 96.0
    _outline(svg.line(root, (50, bottom), (50, bottom - length)), position, changed=False)
    lowest_written = float("inf")
    for at, words in _graduation(spec):
        y = bottom - at * length
        svg.line(root, (60, y), (67 if words else 64, y), weight=1, opacity="0.8")
        if words and lowest_written - y >= 8.5:
            lowest_written = y
            svg.label(root, (71, y + 3.2), shorten(words, 47, _LARGE_LETTERS), size=_LARGE_LETTERS)
    _sliding_cap(
        root, position, travel=-length, at=(50.0, bottom), half_width=16.0, weight=9.0 if changed else 6.0
    )


def _small_selector(root: Element, spec: ControlSpec, position: float | None, changed: bool) -> None:
    stops = "".join(_ray(_CENTRE, 10.4, 10.5, angle_deg(spec.travel, at)) for at in _stops(spec))
    _outline(svg.path(root, _ring(_CENTRE, 7.0)), position, changed)
    svg.path(root, stops, weight=2.0, opacity="0.7")
    _turning_line(root, spec.travel, position, _CENTRE, (1.0, 6.6), 3.0 if changed else 2.0)


def _small_switch(root: Element, spec: ControlSpec, position: float | None, changed: bool) -> None:
    _outline(svg.box(root, (1.5, 7), (21, 10), rx="5"), position, changed)
    stops = _stops(spec)
    if len(stops) <= 4:
        svg.path(
            root, "".join(f"M{svg.number(6.5 + at * 11)} 12h.1" for at in stops), weight=1.8, opacity="0.7"
        )
    pointer = svg.dot(root, (6.5, 12), 3.8 if changed else 3.1, class_="pointer", data_slide_x="11")
    _place(pointer, position, f"translate({svg.number(11 * (position or 0.0))} 0)")


def _large_steps(root: Element, spec: ControlSpec, position: float | None, changed: bool) -> None:
    """Every position by name, the chosen one marked; of very many, those about the chosen one."""
    last = len(spec.positions) - 1
    chosen = None if position is None else round(position * last)
    rows = min(len(spec.positions), 8)
    first = min(max(0, (chosen or 0) - rows // 2), len(spec.positions) - rows)
    pitch = min(28.0, 112.0 / rows)
    shown = spec.positions[first : first + rows]
    widest_em = max(width_of(name, 1.0) for name in shown)
    letters = max(9.0, min(15.0, pitch * 0.62, 96 / widest_em if widest_em else 15.0))
    names = [shorten(name, 96, letters) for name in shown]
    left = max(8.0, (_LARGE_VIEW - 14 - max(width_of(name, letters) for name in names)) / 2)
    for row, name in enumerate(names):
        index, y = first + row, _LARGE_CENTRE[1] + pitch * (row - (rows - 1) / 2)
        is_chosen = index == chosen
        svg.circle(root, (left, y), min(5.0, pitch * 0.36), weight=2.0 if is_chosen and changed else 1.2)
        if is_chosen:
            svg.dot(root, (left, y), min(3.0, pitch * 0.22), class_="pointer")
        weight = {"font_weight": "700"} if is_chosen else {}
        svg.label(
            root, (left + 11, y + letters * 0.36), name, size=letters, full=spec.positions[index], **weight
        )


def _turning_line(
    root: Element,
    travel: Travel,
    position: float | None,
    centre: tuple[float, float],
    reach: tuple[float, float],
    weight: float,
) -> None:
    x, y = centre
    pointer = svg.line(root, (x, y - reach[0]), (x, y - reach[1]), weight=weight, class_="pointer")
    angle = angle_deg(travel, position or 0.0)
    _place(pointer, position, f"rotate({svg.number(angle)} {svg.number(x)} {svg.number(y)})")


def _sliding_cap(
    root: Element,
    position: float | None,
    *,
    travel: float,
    at: tuple[float, float],
    half_width: float,
    weight: float,
) -> None:
    x, y = at
    pointer = svg.line(root, (x - half_width, y), (x + half_width, y), weight=weight, class_="pointer")
    pointer.attrib |= {"stroke-linecap": "butt", "data-slide-y": svg.number(travel)}
    _place(pointer, position, f"translate(0 {svg.number(travel * (position or 0.0))})")


def _place(pointer: Element, position: float | None, transform: str) -> None:
    pointer.set("transform", transform)
    if position is None:
        pointer.set("visibility", "hidden")


def _outline(drawn: Element, position: float | None, changed: bool) -> None:
    """The part that stays: heavier when changed, broken when no position is set."""
    drawn.set("stroke-width", "1.8" if changed else "1.2")
    drawn.set("opacity", "1" if changed else "0.7")
    if position is None:
        drawn.set("stroke-dasharray", "1.5 2.5")


def _out(centre: tuple[float, float], radius: float, angle: float) -> tuple[float, float]:
    """The point at an angle from 12 o'clock, clockwise."""
    return centre[0] + radius * sin(radians(angle)), centre[1] - radius * cos(radians(angle))


def _ring(centre: tuple[float, float], radius: float) -> str:
    """A circle as part of a path."""
    x, y, r = svg.number(centre[0] - radius), svg.number(centre[1]), svg.number(radius)
    across = svg.number(2 * radius)
    return f"M{x} {y}a{r} {r} 0 1 1 {across} 0a{r} {r} 0 1 1-{across} 0"


def _ray(centre: tuple[float, float], inner: float, outer: float, angle: float) -> str:
    """A stroke outwards at an angle as part of a path."""
    (x1, y1), (x2, y2) = _out(centre, inner, angle), _out(centre, outer, angle)
    return f"M{svg.number(x1)} {svg.number(y1)}L{svg.number(x2)} {svg.number(y2)}"


def _stops(spec: ControlSpec) -> list[float]:
    last = len(spec.positions) - 1
    return [index / last for index in range(len(spec.positions))]


def _graduation(spec: ControlSpec) -> list[tuple[float, str]]:
    """The scale as (position, words) from end to end; empty words: a tick without a number."""
    match spec.scale:
        case ClockScale():
            return list(_clock_hours(spec.travel))
        case RangeScale(low, high):
            return list(_even_numbers(low, high))
        case PercentScale():
            return list(_even_numbers(0.0, 100.0))
        case MarkScale(_, marks):
            return [(at, figure(value)) for value, at in marks]
        case None:
            return []


def _clock_hours(travel: Travel) -> Iterator[tuple[float, str]]:
    for hour in range(
        ceil(travel.start_deg / DEGREES_PER_HOUR), floor(travel.end_deg / DEGREES_PER_HOUR) + 1
    ):
        angle = hour * DEGREES_PER_HOUR
        yield position_at_deg(travel, angle), clock_text(angle).removesuffix(":00")


def _even_numbers(low: float, high: float) -> Iterator[tuple[float, str]]:
    """Round numbers between both ends, and the ends themselves."""
    step = _round_step(abs(high - low))
    numbers = range(ceil(min(low, high) / step - 1e-9), floor(max(low, high) / step + 1e-9) + 1)
    inner = [k * step for k in numbers if min(abs(k * step - low), abs(k * step - high)) > step * 0.4]
    for value in sorted({low, high, *inner}, key=lambda value: (value - low) / (high - low)):
        yield (value - low) / (high - low), figure(value)


def _round_step(span: float) -> float:
    """The smallest of 1, 2, 5, 10, ... that divides the span into no more than twelve."""
    power = 10.0 ** floor(log10(span / 12))
    return next(
        factor * power for factor in (1.0, 2.0, 5.0, 10.0, 20.0) if span / (factor * power) <= 12 + 1e-9
    )
