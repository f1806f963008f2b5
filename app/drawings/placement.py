"""Microphones at a speaker, to scale, from above and from the front.

Only what was noted is placed: a microphone without a distance is missing from the view from above, one without an
offset from the view from the front, and one without an angle is a ring instead of a body that points somewhere.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, isfinite, radians, sin
from xml.etree.ElementTree import Element

from app.drawings import svg
from app.drawings.lettering import shorten, width_of, wrap
from app.drawings.svg import Drawing
from app.trade.distances import MM_PER_INCH, LengthUnit, show_distance
from app.trade.placements import Placement, describe

USUAL_CONE_MM = 12 * MM_PER_INCH  # drawn broken and said so where the speaker's size was not noted

_LETTERS = 11.0
_LINE = 15.0
_BODY = 26.0  # a microphone is drawn this long whatever the scale: only where its capsule stands is measured
_CAPSULE = 3.5
_PAD = 10.0
_PANEL_HEIGHT = 190.0
_BARS_MM = (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10000)
_BARS_IN = (0.1, 0.25, 0.5, 1, 2, 4, 12, 24, 60, 120, 240, 480)


@dataclass(frozen=True)
class _Microphone:
    letter: str
    name: str
    placement: Placement
    distance_mm: float | None
    offset_mm: float | None
    angle_deg: float | None


@dataclass(frozen=True)
class _Panel:
    """A view's place on the sheet: where its middle line and its grille or cone centre lie, and its scale."""

    left: float
    right: float
    bottom: float
    origin: tuple[float, float]
    pixels_per_mm: float

    def at(self, across_mm: float, down_mm: float) -> tuple[float, float]:
        x, y = self.origin
        return x + across_mm * self.pixels_per_mm, y + down_mm * self.pixels_per_mm


def placement_views(
    placements: Sequence[Placement],
    *,
    names: Sequence[str] = (),
    unit: LengthUnit = "mm",
    cone_mm: float | None = None,
    width: int = 340,
) -> Drawing:
    """One pair of views for each speaker. `names` are the microphones', in the same order; `cone_mm` is the diameter
    (10 to 2000 mm; anything else counts as not noted).

    An offset has no direction: it is drawn to the right (a negative one to the left), its microphone turned inwards.
    """
    width = max(width, 240)
    named = len(placements) > 1 or any(name.strip() for name in names)
    microphones = [
        _Microphone(
            letter=_letter(number),
            name=names[number] if number < len(names) else "",
            placement=placement,
            distance_mm=_known(placement.distance_mm),
            offset_mm=_known(placement.offset_mm),
            angle_deg=_known(placement.angle_deg),
        )
        for number, placement in enumerate(placements)
    ]
    speakers = list(dict.fromkeys(microphone.placement.speaker.strip() for microphone in microphones))
    key = (
        [line for microphone in microphones for line in _key_lines(microphone, unit, width)] if named else []
    )
    row_height = _PANEL_HEIGHT + (_LINE if len(speakers) > 1 else 0)
    panels_height = row_height * max(1, len(speakers))
    root = svg.sheet(width, panels_height + len(key) * _LINE + 6)
    root.set("class", "placement")
    known_mm = cone_mm if cone_mm is not None and 10 <= cone_mm <= 2000 else None
    for row, speaker in enumerate(speakers or [""]):
        here = [microphone for microphone in microphones if microphone.placement.speaker.strip() == speaker]
        top, bottom, divide = row * row_height, (row + 1) * row_height - 4, width * 0.56
        if len(speakers) > 1:
            title = speaker or "Speaker not noted"
            svg.label(
                root,
                (0, top + 12),
                shorten(title, width, _LETTERS),
                size=_LETTERS,
                full=title,
                font_weight="700",
            )
            top += _LINE
        svg.label(root, (0, top + 12), "From above", size=_LETTERS, opacity="0.8")
        svg.label(root, (divide + 8, top + 12), "From the front", size=_LETTERS, opacity="0.8")
        _draw_above(root, here, known_mm, (0.0, top + 22, divide - 8, bottom), unit, len(microphones) == 1)
        _draw_front(root, here, known_mm, (divide + 8, top + 22, width, bottom), unit)
    for number, line in enumerate(key):
        svg.label(root, (0, panels_height + 12 + number * _LINE), line, size=_LETTERS)
    return svg.finished(root, _finding(microphones, unit, known_mm))


def _draw_above(
    root: Element,
    microphones: Sequence[_Microphone],
    cone_mm: float | None,
    frame: tuple[float, float, float, float],
    unit: LengthUnit,
    is_alone: bool,
) -> None:
    left, top, right, bottom = frame
    diameter_mm = cone_mm or USUAL_CONE_MM
    depth_mm = diameter_mm * 0.22
    reach_mm = max([diameter_mm / 2, *(abs(m.offset_mm or 0.0) for m in microphones)])
    far_mm = max((m.distance_mm for m in microphones if m.distance_mm is not None), default=0.0)
    room_down = bottom - top - 22 - _BODY - 8
    scale = min(
        (right - left - 2 * (_PAD + 8)) / (2 * reach_mm),
        room_down / max(depth_mm + far_mm, diameter_mm * 0.3),
    )
    panel = _Panel(left, right, bottom, ((left + right) / 2, top + depth_mm * scale), scale)
    half = diameter_mm / 2
    rim, back = half, half * 0.28
    cone = [panel.at(-rim, 0), panel.at(-back, -depth_mm), panel.at(back, -depth_mm), panel.at(rim, 0)]
    outline = svg.polyline(root, cone, weight=1.2, class_="cone")
    svg.line(root, panel.at(-half * 1.12, 0), panel.at(half * 1.12, 0), weight=2, class_="grille")
    if cone_mm is None:
        outline.set("stroke-dasharray", "3 3")
    axis_end = panel.at(0, far_mm)[1] + _BODY
    svg.line(
        root, panel.origin, (panel.origin[0], axis_end), weight=1, opacity="0.35", stroke_dasharray="6 3 1 3"
    )
    tails: list[tuple[float, float]] = []
    for microphone in microphones:
        if microphone.distance_mm is None:
            continue
        if microphone.offset_mm is None:
            start, end = panel.at(-half, microphone.distance_mm), panel.at(half, microphone.distance_mm)
            svg.line(root, start, end, weight=1.5, stroke_dasharray="2 4", class_="microphone")
            tail = (end[0] + 8, end[1])
        else:
            capsule = panel.at(microphone.offset_mm, microphone.distance_mm)
            tail = _draw_microphone(root, microphone, capsule)
            if is_alone:
                _draw_dimensions(root, panel, microphone, capsule, unit)
        if not is_alone:
            _draw_letter(root, microphone.letter, tail, tails)
    _draw_scale_bar(root, panel, unit)


def _draw_microphone(
    root: Element, microphone: _Microphone, capsule: tuple[float, float]
) -> tuple[float, float]:
    """Draws capsule and body; returns the place for its letter, behind it."""
    if microphone.angle_deg is None:
        svg.circle(root, capsule, _CAPSULE + 1, weight=2, class_="microphone")
        return capsule[0], capsule[1] + 15
    outwards = -1.0 if (microphone.offset_mm or 0.0) < 0 else 1.0
    across, down = sin(radians(microphone.angle_deg)) * outwards, cos(radians(microphone.angle_deg))
    end = capsule[0] + across * _BODY, capsule[1] + down * _BODY
    svg.line(root, capsule, end, weight=4, class_="microphone")
    svg.dot(root, capsule, _CAPSULE + 1)
    return end[0] + across * 9, end[1] + down * 9 + 2


def _draw_dimensions(
    root: Element, panel: _Panel, microphone: _Microphone, capsule: tuple[float, float], unit: LengthUnit
) -> None:
    """The one microphone's distance beside it on the inner side, its offset under it, its angle behind it."""
    x, y = capsule
    inwards = 1.0 if (microphone.offset_mm or 0.0) < 0 else -1.0
    axis, grille = panel.origin
    if microphone.distance_mm is not None:
        words = show_distance(microphone.distance_mm, unit)
        room = width_of(words, _LETTERS)
        at = axis + inwards * max(18.0, (panel.right - panel.left) * 0.32)
        svg.line(root, (x, y), (at, y), weight=1, opacity="0.35", stroke_dasharray="1 3")
        _measure(root, (at, grille), (at, y))
        is_right = at - 6 - room < panel.left
        baseline = max((grille + y) / 2 + 4, grille + 13)
        svg.label(root, (at + 6 if is_right else at - 6 - room, baseline), words, size=_LETTERS)
    if microphone.offset_mm:
        words = show_distance(abs(microphone.offset_mm), unit)
        below = y + 9
        _measure(root, (panel.origin[0], below), (x, below))
        middle = (panel.origin[0] + x) / 2
        svg.label(root, (middle, below + 14), words, size=_LETTERS, anchor="end" if inwards < 0 else "start")
    if microphone.angle_deg:
        words = f"{microphone.angle_deg:g}°".replace("-", "−")
        outwards = -inwards if microphone.angle_deg > 0 else inwards
        tail_y = y + cos(radians(microphone.angle_deg)) * _BODY
        svg.label(
            root,
            (x + outwards * (abs(sin(radians(microphone.angle_deg))) * _BODY + 8), tail_y + 8),
            words,
            size=_LETTERS,
            anchor="start" if outwards > 0 else "end",
        )


def _measure(root: Element, start: tuple[float, float], end: tuple[float, float]) -> None:
    """A dimension line with a tick at each end."""
    is_across = start[1] == end[1]
    svg.line(root, start, end, weight=1, opacity="0.7")
    for x, y in (start, end):
        tick = ((x, y - 3), (x, y + 3)) if is_across else ((x - 3, y), (x + 3, y))
        svg.line(root, *tick, weight=1, opacity="0.7")


def _draw_front(
    root: Element,
    microphones: Sequence[_Microphone],
    cone_mm: float | None,
    frame: tuple[float, float, float, float],
    unit: LengthUnit,
) -> None:
    left, top, right, bottom = frame
    diameter_mm = cone_mm or USUAL_CONE_MM
    offsets = [m.offset_mm for m in microphones if m.offset_mm is not None]
    reach_mm = max([diameter_mm / 2, *(abs(offset) for offset in offsets)])
    scale = min((right - left - 2 * _PAD) / (2 * reach_mm), (bottom - top - 28) / diameter_mm)
    panel = _Panel(left, right, bottom, ((left + right) / 2, top + (bottom - top - 24) / 2), scale)
    rim = svg.circle(root, panel.origin, diameter_mm / 2 * scale, weight=1.2, class_="cone")
    if cone_mm is None:
        rim.set("stroke-dasharray", "3 3")
    svg.circle(root, panel.origin, diameter_mm * 0.14 * scale, weight=1, opacity="0.6")
    x, y = panel.origin
    for start, end in (((x - 4, y), (x + 4, y)), ((x, y - 4), (x, y + 4))):
        svg.line(root, start, end, weight=1, opacity="0.6")
    letters: list[tuple[float, float]] = []
    for microphone in microphones:
        if microphone.offset_mm is None:
            continue
        place = panel.at(microphone.offset_mm, 0)
        svg.dot(root, place, _CAPSULE + 1, class_="microphone")
        if len(microphones) > 1:
            _draw_letter(root, microphone.letter, (place[0], place[1] + 15), letters)
    _draw_scale_bar(root, panel, unit)


def _draw_letter(
    root: Element, letter: str, at: tuple[float, float], others: list[tuple[float, float]]
) -> None:
    x, y = at
    while any(abs(x - u) < 11 and abs(y - v) < 12 for u, v in others):
        x += 11
    others.append((x, y))
    svg.label(root, (x, y + 4), letter, size=_LETTERS, anchor="middle", font_weight="700")


def _draw_scale_bar(root: Element, panel: _Panel, unit: LengthUnit) -> None:
    lengths_mm = _BARS_MM if unit == "mm" else tuple(length * MM_PER_INCH for length in _BARS_IN)
    most = (panel.right - panel.left) * 0.4
    length_mm = max((mm for mm in lengths_mm if mm * panel.pixels_per_mm <= most), default=lengths_mm[0])
    start = panel.left + 2
    end = start + length_mm * panel.pixels_per_mm
    _measure(root, (start, panel.bottom - 6), (end, panel.bottom - 6))
    svg.label(
        root, (end + 6, panel.bottom - 2), show_distance(length_mm, unit), size=_LETTERS - 1, opacity="0.8"
    )


def _known(value: float | None) -> float | None:
    return value if value is not None and isfinite(value) else None


def _letter(number: int) -> str:
    return chr(ord("A") + number) if number < 26 else str(number + 1)


def _key_lines(microphone: _Microphone, unit: LengthUnit, width: float) -> list[str]:
    return wrap(_said(microphone, unit), width, _LETTERS, 3)


def _said(microphone: _Microphone, unit: LengthUnit) -> str:
    words = describe(microphone.placement, unit) or "not noted"
    name = f" {microphone.name.strip()}" if microphone.name.strip() else ""
    return f"{microphone.letter}{name}: {words}"


def _finding(microphones: Sequence[_Microphone], unit: LengthUnit, diameter_mm: float | None) -> str:
    if not microphones:
        return "Microphone placement: none noted."
    said = ". ".join(_said(microphone, unit) for microphone in microphones)
    cone = (
        f"the cone is {show_distance(diameter_mm, unit)} across"
        if diameter_mm is not None
        else f"the cone's size was not noted, it is drawn {show_distance(USUAL_CONE_MM, unit)} across"
    )
    return f"Microphone placement from above and from the front. {said}. To scale; {cone}."
