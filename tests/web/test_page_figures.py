"""Figures as the pages write them."""

import re
from collections.abc import Mapping

import httpx2
import lxml.html  # type: ignore[import-untyped]
import pytest
from page_reader import page_of, text_of

from app.desk.unbroken import UNIT, unbroken
from app.web.pages import decimal
from app.web.unbroken_page import unbroken_page


@pytest.mark.parametrize(
    ("value", "digits", "signed", "words"),
    [
        (-3.14, 1, False, "−3.1"),
        (2.0, 0, True, "+2"),
        (-0.04, 1, False, "0.0"),
        (-0.004, 2, True, "0.00"),
        (float("-inf"), 1, False, "−inf"),
        (None, 1, False, "–"),
    ],
)
def test_a_figure_has_a_true_minus_and_nothing_has_none(
    value: float | None, digits: int, signed: bool, words: str
) -> None:
    assert decimal(value, digits, signed=signed) == words


@pytest.mark.parametrize(
    ("written", "shown"),
    [
        ("<p>peaks at −3.1 dBTP, 48 kHz, 24 bits</p>", "<p>peaks at −3.1_dBTP, 48_kHz, 24_bits</p>"),
        ("<p><b>3</b> dB of 6\n   ms</p>", "<p><b>3</b>_dB of 6_ms</p>"),
        (
            "<p>1.5 in</p><p>2 in all, 3 makers, 4 dozen</p>",
            "<p>1.5_in</p><p>2 in all, 3 makers, 4 dozen</p>",
        ),
        (
            '<text aria-label="3 dB" d="M3 m 4 s">3 dB</text>',
            '<text aria-label="3 dB" d="M3 m 4 s">3_dB</text>',
        ),
        ("<textarea>\n3 dB</textarea>, 4 dB", "<textarea>\n3 dB</textarea>, 4_dB"),
        ('<option value="30">30 ms<option>40 ms', '<option value="30">30 ms<option>40 ms'),
    ],
)
def test_a_figure_and_its_unit_stand_on_one_line(written: str, shown: str) -> None:
    assert unbroken_page(written) == shown.replace("_", "\u00a0")


@pytest.mark.parametrize(
    "unit",
    ["dB", "dBu", "dBV", "dBA", "dBFS", "dBTP", "dB SPL", "LU", "LUFS", "Hz", "kHz", "MHz", "s", "ms", "μs", "min", "h",
     "m", "cm", "mm", "ft", "in", "V", "mV", "A", "mA", "W", "kW", "Ω", "kΩ", "MΩ", "ppm", "%", "°", "°C", "sample",
     "samples", "smp", "bit", "bits", "bytes", "kB", "MB", "GB", "bpm"],
)  # fmt: skip
def test_every_unit_of_the_trade_stays_with_its_figure(unit: str) -> None:
    assert unbroken(f"1.5 {unit}, 2\n  {unit}.") == f"1.5\u00a0{unit}, 2\u00a0{unit}."


def test_on_no_page_does_a_line_break_before_a_unit(shown: Mapping[str, httpx2.Response]) -> None:
    apart = re.compile(rf"[0-9](?: |\n *){UNIT}")
    joined = 0
    for path, answer in shown.items():
        page = lxml.html.fromstring(answer.content.decode())
        joined += page.text_content().count("\u00a0")
        for element in page.iter(lxml.html.etree.Element):
            assert not any("\u00a0" in value for value in element.values()), (path, dict(element.items()))
            if element.tag not in ("textarea", "option", "script", "style", "pre"):
                words = [element.text, *(child.tail for child in element)]
                assert not any(apart.search(each) for each in words if each), (path, words)
    assert joined > 300


def test_on_no_page_does_a_space_stand_before_a_comma_nor_a_sign_before_nothing(
    shown: Mapping[str, httpx2.Response],
) -> None:
    wrong = re.compile(r"\w [,;.](?=\s|$)|[+−]0(?:\.0+)? dB\b|\b1000 Hz|\d\.0 kHz")
    found = {}
    for path, answer in shown.items():
        for block in page_of(answer).xpath(
            "//p | //li | //dd | //dt | //td | //th | //figcaption | //summary"
        ):
            if said := wrong.search(text_of(block)):
                found[path] = f"{said[0]} in {text_of(block)[:120]}"
    assert found == {}
