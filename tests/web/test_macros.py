"""The macros and the frame that every page is made of."""

from pathlib import Path
from typing import Any

import pytest
from jinja2 import Environment, FileSystemLoader, StrictUndefined
from lxml import html

from app.drawings.svg import Drawing

TEMPLATES = Path(__file__).parents[2] / "templates"
PAGES = Environment(loader=FileSystemLoader(TEMPLATES), autoescape=True, undefined=StrictUndefined)


def made(call: str, **variables: Any) -> Any:
    source = (
        f'{{% from "macros/fields.html" import field, area, choice, tick, error_summary %}}{{{{ {call} }}}}'
    )
    return html.fragment_fromstring(PAGES.from_string(source).render(**variables), create_parent="div")


@pytest.mark.parametrize(
    "call",
    [
        'field("title", "Title", "The boathouse")',
        'area("title", "Title", "The boathouse")',
        'choice("title", "Title", (("a", "First"), ("b", "Second")), "b")',
        'tick("title", "Title")',
    ],
)
def test_every_input_has_its_label(call: str) -> None:
    form = made(call)
    (entry,) = form.xpath('.//*[@name="title"]')
    (label,) = form.xpath(".//label")
    assert label.get("for") == entry.get("id")
    assert label.text_content() == "Title"
    assert entry.get("aria-invalid") is None
    assert entry.get("aria-describedby") is None


@pytest.mark.parametrize("macro", ["field", "area"])
def test_an_error_is_said_at_the_field_after_its_hint(macro: str) -> None:
    form = made(f'{macro}("title", "Title", "", error="A project needs a title.", hint="Any words")')
    (entry,) = form.xpath('.//*[@name="title"]')
    assert entry.get("aria-invalid") == "true"
    said = [form.get_element_by_id(key).text_content() for key in entry.get("aria-describedby").split()]
    assert said == ["Any words", "A project needs a title."]


def test_values_are_escaped() -> None:
    form = made('field("t", "T", value) ~ area("u", "U", value)', value='</textarea>"><script>x</script>')
    assert form.xpath('.//*[@name="t"]')[0].get("value") == '</textarea>"><script>x</script>'
    assert form.xpath(".//textarea")[0].text.removeprefix("\n") == '</textarea>"><script>x</script>'
    assert not form.xpath(".//script")


def test_a_text_that_starts_with_an_empty_line_keeps_it() -> None:
    # a browser drops the first line break after the tag, so there must be one to drop
    assert made('area("u", "U", value)', value="\nsecond").xpath(".//textarea")[0].text == "\n\nsecond"


def test_a_choice_shows_what_was_chosen_whatever_its_type() -> None:
    form = made('choice("rate", "Rate", ((44100, "44.1 kHz"), (48000, "48 kHz")), "48000")')
    assert [option.text for option in form.xpath(".//option[@selected]")] == ["48 kHz"]


def test_more_attributes_are_passed_on() -> None:
    entry = made('field("d", "D", None, inputmode="decimal", required=true, disabled=false, data_unit="mm")')
    (given,) = entry.xpath(".//input")
    assert given.get("inputmode") == "decimal"
    assert given.get("data-unit") == "mm"
    assert given.get("value") == ""
    assert "required" in given.attrib
    assert "disabled" not in given.attrib


def test_a_file_input_carries_no_value() -> None:
    assert made('field("print", "Print", type="file")').xpath(".//input")[0].get("value") is None


def test_the_error_summary_leads_to_each_field() -> None:
    form = made(
        "error_summary(errors)", errors={"title": "A project needs a title.", "": "Nothing was kept."}
    )
    assert form.xpath(".//h2")[0].text == "Some things to put right"
    assert [link.get("href") for link in form.xpath(".//a")] == ["#title"]
    assert [item.text_content() for item in form.xpath(".//li")] == [
        "A project needs a title.",
        "Nothing was kept.",
    ]
    assert len(made("error_summary({})")) == 0


@pytest.mark.parametrize("theme", ["paper", "dim", "auto", ""])
def test_the_page_frame_wears_the_chosen_theme_and_no_inline_script_or_style(theme: str) -> None:
    page = html.document_fromstring(
        PAGES.get_template("base.html").render(theme=theme, section="Gear", q="<b>")
    )
    assert page.get("data-theme") == (theme if theme in ("paper", "dim") else None)
    assert page.xpath('//nav//a[@aria-current="page"]')[0].text == "Gear"
    assert page.xpath('//input[@name="q"]')[0].get("value") == "<b>"
    assert page.xpath('//button[@aria-pressed="true"]')[0].get("value") == (theme or "auto")
    assert not page.xpath("//style | //*[@style] | //script[not(@src)]")
    for address in page.xpath("//script/@src | //link/@href"):
        assert (TEMPLATES.parent / address.lstrip("/")).is_file()
    assert page.xpath('//a[@class="skip-link"]')[0].get("href") == f"#{page.xpath('//main')[0].get('id')}"


def test_a_figure_holds_both_widths_of_a_drawing_and_its_caption() -> None:
    source = '{% from "macros/figures.html" import figure %}{{ figure(wide, narrow, caption) }}'
    wide, narrow = (Drawing(f'<svg width="{width}"></svg>', "A line") for width in (720, 343))
    made_figure = html.fragment_fromstring(
        PAGES.from_string(source).render(wide=wide, narrow=narrow, caption="Before & after")
    )
    assert made_figure.xpath('.//div[@class="at-wide"]/svg/@width') == ["720"]
    assert made_figure.xpath('.//div[@class="at-narrow"]/svg/@width') == ["343"]
    assert made_figure.xpath(".//figcaption")[0].text == "Before & after"
