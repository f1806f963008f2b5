"""Contrast of both themes, by WCAG 2.2 (https://www.w3.org/TR/WCAG22/): relative luminance and contrast ratio.

Success criteria 1.4.3 (text, 4.5:1) and 1.4.11 (edges of what one operates, 3:1).
"""

import re
from pathlib import Path

import pytest

TOKENS = (Path(__file__).parents[2] / "static" / "tokens.css").read_text()
THEMES = {"paper": ":root {", "dim": ':root[data-theme="dim"] {'}


def luminance(colour: str) -> float:
    channels = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def colours(theme: str) -> dict[str, str]:
    block = TOKENS.partition(THEMES[theme])[2].partition("}")[0]
    return dict(re.findall(r"--(\w+): (#[0-9a-f]{6});", block))


def test_black_on_white_is_21_to_1() -> None:
    """WCAG 2.2, contrast ratio, note 1: ratios range from 1 to 21."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#777777", "#777777") == 1.0


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("ground", ["ground", "sheet", "wash"])
@pytest.mark.parametrize("ink", ["ink", "faint", "accent"])
def test_every_ink_is_legible_on_every_ground(theme: str, ground: str, ink: str) -> None:
    assert contrast(colours(theme)[ink], colours(theme)[ground]) >= 4.5


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("ground", ["ground", "sheet", "wash"])
def test_the_edge_of_an_input_or_a_button_stands_out(theme: str, ground: str) -> None:
    assert contrast(colours(theme)["edge"], colours(theme)[ground]) >= 3.0


@pytest.mark.parametrize("theme", THEMES)
def test_inked_and_faint_settings_are_told_apart(theme: str) -> None:
    """Ours: what changed has at least half as much contrast again as what stayed."""
    shades = colours(theme)
    assert contrast(shades["ink"], shades["sheet"]) >= 1.5 * contrast(shades["faint"], shades["sheet"])
