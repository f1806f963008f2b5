from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from svg_reader import SVG, label_boxes, of_class, read_sound, words_in

from app.drawings.lettering import width_of
from app.drawings.level_diagram import LevelRun, level_diagram
from app.trade.level_plan import LevelPoint, Stage
from app.trade.level_plan import level_diagram as levels_along

SEND = LevelRun(
    "Send",
    levels_along(
        12.0,
        [Stage("Interface output", 0.0, 18.0), Stage("re-amp box", -24.0, 10.0), Stage("amp", 0.0)],
    )[:-1],
)
WIDTHS = [320, 720, 1080]


def test_the_finding_says_every_level_and_headroom() -> None:
    assert level_diagram([SEND]).finding == (
        "Level diagram, peaks. Send: Interface output +12.0 dBu (headroom 6.0 dB), "
        "re-amp box +12.0 dBu (over by 2.0 dB), amp −12.0 dBu."
    )


@pytest.mark.parametrize("width", WIDTHS)
def test_higher_levels_stand_further_right_and_in_the_signal_s_order(width: int) -> None:
    dots = list(read_sound(level_diagram([SEND], width=width)).iter(f"{SVG}circle"))
    xs = [float(dot.get("cx") or 0) for dot in dots]
    ys = [float(dot.get("cy") or 0) for dot in dots]
    assert xs[0] == xs[1] > xs[2]
    assert ys == sorted(ys)


@pytest.mark.parametrize("width", WIDTHS)
def test_a_level_over_its_maximum_is_flagged_and_no_other(width: int) -> None:
    flagged = of_class(read_sound(level_diagram([SEND], width=width)), "flag")
    assert [element.text for element in flagged if element.tag == f"{SVG}text"] == ["over by 2.0 dB"]


def test_a_maximum_that_is_not_known_is_not_drawn() -> None:
    rows = of_class(read_sound(level_diagram([SEND])), "level")
    assert [len(of_class(row, "room") + of_class(row, "flag")) > 0 for row in rows] == [True, True, False]


@pytest.mark.parametrize("width", WIDTHS)
def test_labels_lie_clear_of_each_other(width: int) -> None:
    long = LevelRun(
        "Small ribbon microphone behind the open back",
        (LevelPoint("Two-channel preamp, input", -33.1, 22.0, 55.1),),
    )
    root = read_sound(level_diagram([SEND, long], width=width))
    for first, second in combinations(label_boxes(root), 2):
        apart = (
            first[2] <= second[0] or second[2] <= first[0] or first[3] <= second[1] or second[3] <= first[1]
        )
        assert apart, (first, second)


@pytest.mark.parametrize("width", WIDTHS)
def test_no_label_runs_out_of_the_paper(width: int) -> None:
    deep = LevelRun("Return", (LevelPoint("Two-channel preamp, input", -133.1, -20.0, 113.1),))
    for text in read_sound(level_diagram([SEND, deep], width=width)).iter(f"{SVG}text"):
        wide = width_of(text.text or "", float(text.get("font-size") or 12))
        x = float(text.get("x") or 0)
        left = {"middle": x - wide / 2}.get(text.get("text-anchor", "start"), x)
        assert left >= 0, text.text
        assert left + wide <= width, text.text


def test_with_no_level_known_it_says_so() -> None:
    assert words_in(read_sound(level_diagram([LevelRun("Send", ())]))) == [
        "No level known along the chain yet"
    ]


@given(
    st.lists(
        st.builds(
            LevelPoint,
            st.text(max_size=60),
            st.floats(-200, 60),
            st.none() | st.floats(-60, 60),
            st.none() | st.floats(-100, 100),
        ),
        max_size=6,
    ),
    st.sampled_from(WIDTHS),
)
def test_any_levels_make_a_sound_drawing(points: list[LevelPoint], width: int) -> None:
    root = read_sound(level_diagram([LevelRun("way", tuple(points))], width=width))
    for dot in root.iter(f"{SVG}circle"):
        assert 0 <= float(dot.get("cx") or 0) <= width
