from math import atan2, degrees, inf, nan
from xml.etree.ElementTree import Element

import pytest
from hypothesis import given
from hypothesis import strategies as st
from svg_reader import SVG, of_class, read_sound, words_in

from app.drawings.placement import placement_views
from app.trade.placements import Placement


def microphones(root: Element, tag: str) -> list[Element]:
    return [shape for shape in of_class(root, "microphone") if shape.tag == f"{SVG}{tag}"]


def number(shape: Element, name: str) -> float:
    return float(shape.get(name) or "nan")


def grille(root: Element) -> Element:
    (line,) = of_class(root, "grille")
    return line


def test_a_microphone_stands_to_scale_before_the_grille() -> None:
    cone_mm, distance_mm, offset_mm = 300.0, 120.0, 75.0
    root = read_sound(placement_views([Placement("", distance_mm, offset_mm, 0.0)], cone_mm=cone_mm))
    front = grille(root)
    pixels_per_mm = (number(front, "x2") - number(front, "x1")) / (cone_mm * 1.12)
    (body,) = microphones(root, "line")
    middle = (number(front, "x1") + number(front, "x2")) / 2
    assert number(body, "y1") - number(front, "y1") == pytest.approx(distance_mm * pixels_per_mm, abs=0.05)
    assert number(body, "x1") - middle == pytest.approx(offset_mm * pixels_per_mm, abs=0.05)


def test_from_the_front_the_offset_is_to_the_cones_scale() -> None:
    root = read_sound(placement_views([Placement("", 30, 75, 0)], cone_mm=300))
    (rim,) = [shape for shape in of_class(root, "cone") if shape.tag == f"{SVG}circle"]
    (dot,) = microphones(root, "circle")
    assert number(dot, "cx") - number(rim, "cx") == pytest.approx(number(rim, "r") / 2, abs=0.02)


@pytest.mark.parametrize(
    ("offset_mm", "angle_deg", "lean_deg"), [(40, 30, 30), (40, 0, 0), (-40, 45, -45), (0, -20, -20)]
)
def test_a_body_leans_outwards_by_its_angle_so_that_its_front_looks_inwards(
    offset_mm: float, angle_deg: float, lean_deg: float
) -> None:
    (body,) = microphones(read_sound(placement_views([Placement("", 60, offset_mm, angle_deg)])), "line")
    across, down = number(body, "x2") - number(body, "x1"), number(body, "y2") - number(body, "y1")
    assert degrees(atan2(across, down)) == pytest.approx(lean_deg, abs=0.1)


def test_the_numbers_of_a_single_microphone_are_written_at_it() -> None:
    words = words_in(read_sound(placement_views([Placement("", 30, 40, 30)])))
    assert {"30 mm", "40 mm", "30°"} <= set(words)
    assert "1.5 in" in words_in(read_sound(placement_views([Placement("", 38.1, 0, 0)], unit="in")))


def test_several_microphones_carry_letters_and_a_key() -> None:
    root = read_sound(
        placement_views(
            [Placement("", 30, 20, 0), Placement("", 60, 70, 45)], names=["Small ribbon", "Moving coil"]
        )
    )
    words = words_in(root)
    assert words.count("A") == words.count("B") == 2
    assert any(line.startswith("B Moving coil: 60 mm from the grille") for line in words)


def test_microphones_at_two_speakers_are_drawn_at_two_cones() -> None:
    root = read_sound(placement_views([Placement("top left", 30, 0, 0), Placement("bottom right", 30, 0, 0)]))
    assert len(of_class(root, "grille")) == 2
    assert {"top left", "bottom right"} <= set(words_in(root))


def test_what_was_not_noted_is_not_drawn() -> None:
    no_distance = read_sound(placement_views([Placement("", None, 40, 0)]))
    assert microphones(no_distance, "line") == []
    assert len(microphones(no_distance, "circle")) == 1
    no_offset = read_sound(placement_views([Placement("", 30, None, 0)]))
    assert microphones(no_offset, "circle") == []
    (somewhere,) = microphones(no_offset, "line")
    assert somewhere.get("stroke-dasharray")
    no_angle = read_sound(placement_views([Placement("", 30, 40, None)]))
    assert microphones(no_angle, "line") == []
    assert len(microphones(no_angle, "circle")) == 2


def test_a_cone_of_unknown_size_is_drawn_broken_and_said_to_be_a_guess() -> None:
    guessed, known = (
        placement_views([Placement("", 30, 0, 0)]),
        placement_views([Placement("", 30, 0, 0)], cone_mm=254),
    )
    assert "the cone's size was not noted, it is drawn 304.8 mm across" in guessed.finding
    assert "the cone is 254 mm across" in known.finding
    assert all(cone.get("stroke-dasharray") for cone in of_class(read_sound(guessed), "cone"))
    assert not any(cone.get("stroke-dasharray") for cone in of_class(read_sound(known), "cone"))


def test_the_finding_says_every_placement() -> None:
    finding = placement_views([Placement("", 30, 40, 30, pattern="cardioid"), Placement()]).finding
    assert "A: 30 mm from the grille, 40 mm off centre, 30° off axis, cardioid." in finding
    assert "B: not noted." in finding
    assert placement_views([]).finding == "Microphone placement: none noted."


def test_a_microphone_far_away_stays_on_the_sheet() -> None:
    root = read_sound(placement_views([Placement("", 30_000, 5_000, 10)]))
    (body,) = microphones(root, "line")
    assert 0 <= number(body, "y2") <= float(root.get("height") or 0)
    assert 0 <= number(body, "x2") <= float(root.get("width") or 0)


def test_hostile_names_stay_words() -> None:
    drawing = placement_views(
        [Placement("</svg><script>", 30, 0, 0), Placement("b")], names=['"><script>x', "&amp;"]
    )
    read_sound(drawing)
    assert "<script" not in drawing.svg


measures = st.none() | st.floats(-1e5, 1e5) | st.sampled_from([0.0, 1e-9, nan, inf])


@given(
    st.lists(st.builds(Placement, st.text(max_size=20), measures, measures, measures, measures), max_size=5),
    st.lists(st.text(max_size=20), max_size=5),
    st.sampled_from(["mm", "in"]),
    measures,
    st.integers(-10, 2000),
)
def test_any_placements_make_a_sound_drawing(
    placements: list[Placement], names: list[str], unit: str, cone_mm: float | None, width: int
) -> None:
    length_unit = "mm" if unit == "mm" else "in"
    read_sound(placement_views(placements, names=names, unit=length_unit, cone_mm=cone_mm, width=width))
