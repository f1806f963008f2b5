from itertools import combinations, pairwise
from math import inf, log10, nan

import pytest
from hypothesis import given
from hypothesis import strategies as st
from svg_reader import SVG, label_boxes, of_class, points, read_sound, words_in

from app.drawings.spectra import Band, Curve, spectra

NOMINAL_HZ = (100, 125, 160, 200, 250, 315, 400, 500, 630, 800, 1000)


def curve(name: str, *levels: float | None) -> Curve:
    bands: list[Band] = [
        (nominal, 1000 * 10 ** ((number - 10) / 10), level)
        for number, (nominal, level) in enumerate(zip(NOMINAL_HZ, levels, strict=False))
    ]
    return Curve(name, bands)


FLAT = curve("Pass 1", *[-30.0] * 11)
TILTED = curve("Pass 2", *[-20.0 - 2 * k for k in range(11)])


def test_the_finding_names_each_curves_highest_band() -> None:
    finding = spectra([FLAT, TILTED]).finding
    assert finding.startswith("One-third-octave spectra in dBFS, 100 Hz to 1 kHz.")
    assert "Pass 2: highest −20.0 dBFS at 100 Hz." in finding


def test_a_difference_says_its_extremes_and_what_it_was_taken_from() -> None:
    finding = spectra([FLAT, TILTED], reference=0).finding
    assert "minus those of Pass 1" in finding
    assert "Pass 2: from −10.0 dB at 1 kHz to +10.0 dB at 100 Hz." in finding


def test_the_reference_lies_on_zero() -> None:
    root = read_sound(spectra([FLAT, TILTED], reference=0))
    flat = points(of_class(root, "curve")[0][1])
    assert len({y for _, y in flat}) == 1


def test_frequency_is_drawn_on_a_log_axis() -> None:
    xs = [x for x, _ in points(of_class(read_sound(spectra([FLAT])), "curve")[0][1])]
    steps = [after - before for before, after in pairwise(xs)]
    assert max(steps) - min(steps) < 0.03
    assert steps[0] * 10 == pytest.approx((xs[-1] - xs[0]) / log10(10), abs=0.2)


def test_higher_levels_stand_higher_on_the_paper() -> None:
    ys = [y for _, y in points(of_class(read_sound(spectra([TILTED])), "curve")[0][1])]
    assert ys == sorted(ys)


def test_a_missing_level_leaves_a_gap() -> None:
    gapped = curve("Pass 3", -30, -31, None, -32, -33, -34)
    drawn = of_class(read_sound(spectra([gapped])), "curve")[0]
    assert [len(points(line)) for line in drawn[1:]] == [2, 3]


def test_a_lone_band_is_a_dot() -> None:
    drawn = of_class(read_sound(spectra([curve("Pass 1", -30, None, -31, None, -32)])), "curve")[0]
    assert [shape.tag.rpartition("}")[2] for shape in drawn[1:]] == ["circle"] * 3


def test_what_lies_far_below_the_loudest_band_is_cut_at_the_floor_not_drawn_along_it() -> None:
    deep = curve("Pass 1", -10, -10, -200, -200, -10, -10)
    root = read_sound(spectra([deep], height=320))
    lines = [points(line) for line in of_class(root, "curve")[0][1:]]
    assert len(lines) == 2
    assert lines[0][-1][1] == lines[1][0][1] == 320 - 40
    assert lines[0][-1][0] < lines[1][0][0]


def test_a_difference_of_two_bands_below_the_floor_is_not_told() -> None:
    loud, quiet = curve("A", -10, -150, -10), curve("B", -10, -190, -12)
    assert "from −2.0 dB at 160 Hz to 0.0 dB at 100 Hz" in spectra([loud, quiet], reference=0).finding


def test_curves_differ_in_dash_or_weight_and_never_in_colour() -> None:
    root = read_sound(spectra([curve(f"Pass {k}", *[-20.0 - k] * 11) for k in range(8)]))
    strokes = [(c[1].get("stroke-dasharray"), c[1].get("stroke-width")) for c in of_class(root, "curve")]
    assert len(set(strokes)) == 8
    assert {c[1].get("stroke") for c in of_class(root, "curve")} == {"currentColor"}


@pytest.mark.parametrize("width", [343, 720])
def test_eight_curves_on_one_line_have_names_that_do_not_overlap(width: int) -> None:
    names = [f"Pass {k}, small ribbon at the edge of the cone" for k in range(8)]
    boxes = [
        box
        for box in label_boxes(
            read_sound(spectra([curve(name, *[-20.0] * 11) for name in names], width=width))
        )
        if box[4].startswith("Pass")
    ]
    assert len(boxes) == 8
    for one, other in combinations(boxes, 2):
        is_beside = one[2] <= other[0] or other[2] <= one[0]
        is_above = abs(one[1] - other[1]) >= 12
        assert is_beside or is_above


def test_a_line_ends_in_a_dot_and_the_number_that_the_legend_names() -> None:
    root = read_sound(spectra([FLAT, TILTED]))
    ends = [text for text in root.iter(f"{SVG}text") if text.text in ("1", "2")]
    assert len(ends) == 4  # at the lines, and in the legend
    assert len(list(root.iter(f"{SVG}circle"))) == 2
    height = float(root.get("height") or 0)
    assert height > float(read_sound(spectra([FLAT])).get("height") or 0) - 1
    assert all(float(text.get("y") or 0) < height for text in ends)


def test_a_long_name_is_shortened_and_kept_whole_for_a_pointer() -> None:
    name = (
        "Pass 3, small ribbon microphone at the edge of the cone of the lower speaker of the two, in the hall"
    )
    root = read_sound(spectra([curve(name, -20, -21)], width=343))
    (shown,) = [text for text in root.iter(f"{SVG}text") if len(text) == 1]
    assert (shown.text or "").startswith("Pass 3")
    assert (shown.text or "").endswith("…")
    assert shown[0].text == name


def test_axes_say_their_units() -> None:
    assert {"dBFS", "Frequency in Hz", "1k"} <= set(words_in(read_sound(spectra([FLAT]))))
    assert "dB" in words_in(read_sound(spectra([FLAT, TILTED], reference=0)))


def test_no_levels_are_said_instead_of_drawn() -> None:
    assert words_in(read_sound(spectra([]))) == ["No band levels to draw"]
    nothing = spectra([curve("Pass 1", None, None)])
    assert words_in(read_sound(nothing)) == ["No band levels to draw"]
    assert "Pass 1: no levels." in nothing.finding


def test_a_reference_that_is_not_there_is_refused() -> None:
    with pytest.raises(IndexError):
        spectra([FLAT], reference=3)


levels = st.none() | st.floats(-400, 40) | st.sampled_from([inf, -inf, nan])


@given(
    st.lists(st.tuples(st.text(), st.lists(levels, max_size=11)), max_size=9),
    st.booleans(),
    st.integers(-10, 3000),
    st.integers(-10, 3000),
)
def test_any_levels_make_a_sound_drawing(
    drawn: list[tuple[str, list[float | None]]], is_difference: bool, width: int, height: int
) -> None:
    curves = [curve(name, *bands) for name, bands in drawn]
    read_sound(spectra(curves, reference=0 if is_difference and curves else None, width=width, height=height))
