"""The drawings of a recall's tries: differences over the tolerance ribbon, and how the tries close in."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from svg_reader import SVG, of_class, points, read_sound, words_in

from app.drawings.closing_in import REACH, Aim, closing_in
from app.drawings.ribbon import Try, ribbon

MIDS = (500.0, 1000.0, 2000.0)
NOMINAL = [(mid, mid) for mid in MIDS]
TOLERANCE = [(mid, 1.0) for mid in MIDS]


def tried(name: str, *differences: float) -> Try:
    return Try(name, list(zip(MIDS, differences, strict=True)))


FAR, NEAR = tried("Try 1", 0.0, -4.0, 1.5), tried("Try 2", 0.2, -0.4, 0.5)


def test_the_finding_says_how_many_bands_are_outside_and_how_far() -> None:
    assert ribbon([FAR, NEAR], TOLERANCE, nominal=NOMINAL).finding == (
        "Third-octave differences from the original once equally loud. "
        "Try 1: 2 bands outside the tolerance, at most −4.0 dB at 1 kHz. "
        "Try 2: all within the tolerance, at most +0.5 dB at 2 kHz."
    )


def test_the_newest_try_is_the_darkest_and_the_heaviest() -> None:
    root = read_sound(ribbon([FAR, NEAR], TOLERANCE, nominal=NOMINAL))
    newest, older = of_class(root, "curve")
    assert float(newest.get("opacity") or 0) == 1
    assert float(older.get("opacity") or 0) < 0.5
    weights = [float(next(each.iter(f"{SVG}polyline")).get("stroke-width") or 0) for each in (newest, older)]
    assert weights[0] > weights[1]


def test_only_the_last_five_tries_are_drawn() -> None:
    root = read_sound(ribbon([tried(f"Try {n}", 0, 0, n / 10) for n in range(9)], TOLERANCE, nominal=NOMINAL))
    assert [words for words in words_in(root) if words.startswith("Try")] == [
        f"Try {n}" for n in (8, 7, 6, 5, 4)
    ]


@pytest.mark.parametrize("tries", [[], [Try("Try 1", [])]])
def test_where_no_bands_are_known_it_says_so(tries: list[Try]) -> None:
    assert "no bands" in ribbon(tries, [], nominal=[]).finding


LEVEL = Aim("Level", 0.5, "dB", [-3.2, -0.8, 0.1])
DRIVE = Aim("Distortion", 1.5, "dB", [None, 1.8, 0.0])


def test_closing_in_is_told_try_by_try() -> None:
    assert closing_in([LEVEL, DRIVE]).finding == (
        "Level, within ±0.5 dB: try 1 −3.2 dB, try 2 −0.8 dB, try 3 +0.1 dB. "
        "Distortion, within ±1.5 dB: try 1 not known, try 2 +1.8 dB, try 3 0.0 dB."
    )


def test_the_last_try_alone_is_a_full_mark_within_the_tolerance() -> None:
    root = read_sound(closing_in([LEVEL]))
    (zone,) = root.iter(f"{SVG}rect")
    full = [dot for dot in root.iter(f"{SVG}circle") if dot.get("fill") == "currentColor"]
    assert len(full) == 1
    left, wide = float(zone.get("x") or 0), float(zone.get("width") or 0)
    assert left < float(full[0].get("cx") or 0) < left + wide
    assert words_in(root)[-1] == "+0.1 dB"


@given(st.floats(-1e6, 1e6), st.floats(0.01, 100), st.sampled_from([260, 330, 720, 1080]))
def test_a_mark_never_leaves_its_line(value: float, tolerance: float, width: int) -> None:
    root = read_sound(closing_in([Aim("Level", tolerance, "dB", [value])], width=width))
    (line,) = [each for each in root.iter(f"{SVG}line") if each.get("opacity") == "0.3"]
    ends = float(line.get("x1") or 0), float(line.get("x2") or 0)
    marks = [float(dot.get("cx") or 0) for dot in root.iter(f"{SVG}circle")]
    assert len(marks) == (abs(value / tolerance) <= REACH)
    assert all(ends[0] - 0.01 <= x <= ends[1] + 0.01 for x in marks)


def test_the_ribbon_lies_around_zero() -> None:
    root = read_sound(ribbon([NEAR], TOLERANCE, nominal=NOMINAL))
    curve = points(next(of_class(root, "curve")[0].iter(f"{SVG}polyline")))
    band = next(each for each in root.iter(f"{SVG}path")).get("d") or ""
    ys = [float(pair.split()[1]) for pair in band.strip("MZ").split("L")]
    assert min(ys) < min(y for _, y in curve)
    assert max(ys) > max(y for _, y in curve)
