from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from svg_reader import SVG, of_class, read_sound, words_in

from app.drawings.chain import Parallel, Stage, chain

FUZZ = Stage("Silicon fuzz")
COMBO = Stage("15-watt valve combo, 1×12", "bright channel")
RIBBON = Stage("Small ribbon microphone")
HEAD = Stage("50-watt two-channel head")
CABINET = Stage("4×12 cabinet")

Box = tuple[float, float, float, float]


def boxes(svg_root: object) -> list[Box]:
    found: list[Box] = []
    for rect in svg_root.iter(f"{SVG}rect"):  # type: ignore[attr-defined]
        x, y, width, height = (float(rect.get(name)) for name in ("x", "y", "width", "height"))
        found.append((x, y, x + width, y + height))
    return found


def apart(one: Box, other: Box) -> bool:
    return one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1] or other[3] <= one[1]


def test_the_finding_reads_the_chain_in_order() -> None:
    split = Parallel(((COMBO, RIBBON), (HEAD,), ()))
    assert chain([FUZZ, split, Stage("Preamp")]).finding == (
        "Signal chain: Silicon fuzz, then in parallel (15-watt valve combo, 1×12 into Small ribbon microphone | "
        "50-watt two-channel head | a plain wire), then Preamp."
    )


def test_gear_stands_from_left_to_right_on_a_wide_sheet() -> None:
    lefts = [box[0] for box in boxes(read_sound(chain([FUZZ, COMBO, RIBBON])))]
    assert lefts == sorted(lefts)
    assert len(set(lefts)) == 3


def test_gear_stands_from_top_to_bottom_on_a_narrow_sheet() -> None:
    drawn = boxes(read_sound(chain([FUZZ, COMBO, RIBBON], width=343)))
    assert [box[1] for box in drawn] == sorted(box[1] for box in drawn)
    assert len({box[0] for box in drawn}) == 1


@pytest.mark.parametrize("width", [343, 720])
def test_branches_run_side_by_side(width: int) -> None:
    drawn = boxes(read_sound(chain([Parallel(((COMBO, RIBBON), (HEAD, CABINET)))], width=width)))
    across = 0 if width > 480 else 1
    assert drawn[0][across] == drawn[2][across]


@pytest.mark.parametrize("width", [200, 343, 500, 720, 1200])
def test_boxes_never_overlap_and_stay_on_the_sheet(width: int) -> None:
    long = Stage("W" * 200, "x " * 200)
    stages = [
        FUZZ,
        long,
        Parallel(((COMBO, RIBBON, long), (HEAD,), (), (CABINET, long))),
        COMBO,
        *[RIBBON] * 9,
    ]
    root = read_sound(chain(stages, width=width))
    drawn = boxes(root)
    assert len(drawn) == 18
    assert all(apart(one, other) for one, other in combinations(drawn, 2))
    right, bottom = float(root.get("width") or 0), float(root.get("height") or 0)
    assert right <= width
    assert all(box[0] >= 0 and box[1] >= 0 and box[2] <= right and box[3] <= bottom for box in drawn)


def test_a_shortened_name_is_kept_whole_for_a_pointer() -> None:
    name = (
        "An overdrive with a name that no box in the world is going to hold, however it is broken into lines"
    )
    stage = of_class(read_sound(chain([Stage(name)])), "stage")[0]
    assert stage[0].text == name
    assert words_in(stage)[-1].endswith("…")


def test_an_empty_chain_says_so() -> None:
    assert words_in(read_sound(chain([]))) == ["No gear in the chain"]
    assert words_in(read_sound(chain([Parallel(())]))) == ["No gear in the chain"]


def test_hostile_names_stay_words() -> None:
    drawing = chain([Stage("</text><script>alert(1)</script>", "\" onload='x' \x0b")])
    read_sound(drawing)
    assert "<script" not in drawing.svg


stage = st.builds(Stage, st.text(max_size=60), st.text(max_size=40))
split = st.builds(Parallel, st.lists(st.lists(stage, max_size=4).map(tuple), max_size=4).map(tuple))


@given(st.lists(stage | split, max_size=8), st.integers(-10, 2000))
def test_any_chain_is_a_sound_drawing_without_overlaps(stages: list[Stage | Parallel], width: int) -> None:
    drawn = boxes(read_sound(chain(stages, width=width)))
    assert all(apart(one, other) for one, other in combinations(drawn, 2))
