"""Reading answers as a person's browser does: by elements, not by strings."""

from typing import Any

import lxml.html  # type: ignore[import-untyped]


def page_of(answer: Any) -> Any:
    """The answer's page, or the part of one."""
    return lxml.html.document_fromstring(answer.text)


def words(page: Any, path: str) -> str:
    """The text of the one element that the path finds, spaces made single."""
    found = page.xpath(path)
    assert len(found) == 1, f"{path} finds {len(found)} elements"
    return text_of(found[0])


def text_of(element: Any) -> str:
    return " ".join(element.text_content().split())


def texts(page: Any, path: str) -> list[str]:
    return [text_of(element) for element in page.xpath(path)]


def field(page: Any, label: str) -> Any:
    """The form field with this label."""
    for found in page.iter("label"):
        if text_of(found) == label:
            return page.get_element_by_id(found.get("for"))
    raise AssertionError(f"no field is labelled {label}")


def sentence_at(page: Any, label: str) -> str:
    """What is said to be wrong at a field, found through its description as a screen reader finds it."""
    described = field(page, label).get("aria-describedby", "").split()
    said = [page.get_element_by_id(name) for name in described if name.endswith("-error")]
    assert len(said) == 1, f"{label} is described by {described}"
    return text_of(said[0])


def form_of(page: Any, action: str) -> Any:
    """The form that is sent to `action`."""
    found = [form for form in page.iter("form") if form.get("action") == action]
    assert len(found) == 1, f"{len(found)} forms are sent to {action}"
    return found[0]


def filled_in(form: Any) -> dict[str, str]:
    """The form's fields as a browser would send them, without its buttons and files."""
    areas = {area.name for area in form.iter("textarea")}
    values = dict(form.form_values())
    if form.get("id"):
        for field in form.getroottree().xpath(
            "//*[self::input or self::select][@form=$form][@name]", form=form.get("id")
        ):
            values[field.name] = field.value or ""
    return {name: value.removeprefix("\n") if name in areas else value for name, value in values.items()}
