"""Every form of every page, filled with what nobody should type: a sentence or a save, never a failure."""

import re
from collections.abc import Mapping
from typing import Any

import httpx2
import pytest
from page_reader import filled_in, page_of
from pages_of_the_app import pages_of
from small_session import SmallSession
from starlette.testclient import TestClient

from app.desk.files.check import check_library
from app.library import Library
from app.web.app import ROUTERS

HOSTILE = {
    "ten thousand characters": "x" * 10_000,
    "nothing": "",
    "control characters": "\x00\x1b[31m\x7f",
    "not a number": "NaN",
    "beyond all numbers": "-1e999",
    "endless digits": "9" * 5000,
    "digits of another script": "９٣",
    "markup, emoji and turned text": "\"'><script>alert(1)</script>{{ 7*7 }}${7*7} 👩‍🎤 \u202eevil\u2066",
    "a path and a query": "../../../../etc/passwd'); DROP TABLE pass; --",
}
REPEATED_FIELDS = re.compile(r"^(steps-\d+-control-|controls-[1-9]|steps-[1-9])")
KEPT_FIELDS = re.compile(r"^(steps-\d+-(gear|layout)|controls-\d+-key|revision|like)$")


Forms = list[tuple[str, dict[str, str]]]


@pytest.fixture(scope="module")
def forms(shown: Mapping[str, httpx2.Response]) -> Forms:
    """One of each kind of form that changes something: where it is sent to, and its fields as they stand."""
    found: dict[tuple[str, frozenset[str]], tuple[str, dict[str, str]]] = {}
    for path, answer in shown.items():
        for form in page_of(answer).iter("form"):
            action = form.get("action") or path
            if (form.get("method") or "get").lower() != "post" or action.endswith("/delete"):
                continue
            fields = filled_in(form)
            kind = (re.sub(r"\d+", "N", action), frozenset(re.sub(r"\d+", "N", name) for name in fields))
            found.setdefault(kind, (action, fields))
    assert len(found) > 12
    return list(found.values())


@pytest.mark.parametrize("typed", HOSTILE)
def test_no_form_fails_at_what_is_typed(
    filled_client: TestClient, filled: Library, session: SmallSession, forms: Forms, typed: str
) -> None:
    """Every other form with its hidden fields and its button as well, the others with the next kind of words."""
    kind = list(HOSTILE).index(typed)
    failed = {}
    for number, (action, fields) in enumerate(forms):
        also_hidden = (number + kind) % 2 == 0
        hostile = {
            name: value if KEPT_FIELDS.match(name) and not also_hidden else HOSTILE[typed]
            for name, value in fields.items()
        }
        answer = filled_client.post(action, data=hostile | {"do": HOSTILE[typed] if also_hidden else "save"})
        if answer.status_code >= 500:
            failed[action] = answer.status_code
    assert failed == {}
    for path in pages_of(session)[kind % 3 :: 3]:
        assert filled_client.get(path).status_code < 500, path
    assert check_library(filled.folder).problems == ()


def test_no_address_fails_at_a_row_that_is_not_there(filled_client: TestClient) -> None:
    for path, method in every_route():
        for number in ("999", "0", "-1", str(2**63), "9" * 5000, "x", "١"):
            answer = filled_client.request(method, re.sub(r"\{[^}]+\}", number, path), data=None)
            if "{" in path:
                allowed = (
                    (403,) if path.startswith("/pair/") else (404, 410, 411, 422)
                )  # a code that is not good
                assert answer.status_code in allowed, f"{method} {path} with {number[:20]}"


def every_route() -> list[tuple[str, str]]:
    routes: list[Any] = [route for module in ROUTERS for route in module.router.routes]
    return [(route.path, method) for route in routes for method in sorted(route.methods) if "{" in route.path]


def test_what_is_written_is_shown_as_text_everywhere(
    filled_client: TestClient, session: SmallSession, forms: Forms
) -> None:
    """In all fields of a form; those that are refused get back what stood there, so that they keep no others from being
    saved. Where no field is named, each is tried alone."""
    markup = "<i id='sneaked-in'>x"
    for action, fields in forms:
        written = {name for name in fields if not KEPT_FIELDS.match(name) and not REPEATED_FIELDS.match(name)}
        while written:
            answer = filled_client.post(action, data=fields | dict.fromkeys(written, markup) | {"do": "save"})
            if answer.status_code < 400:
                break
            refused = page_of(answer).xpath("//*[@aria-invalid='true']/@name")
            if written.isdisjoint(refused):
                for name in written:
                    filled_client.post(action, data=fields | {name: markup, "do": "save"})
                break
            written -= set(refused)
    saved = 0
    for path in [*pages_of(session), "/find?q=sneaked"]:
        answer = filled_client.get(path)
        if answer.status_code == 204:  # the draft became a pass meanwhile
            continue
        page = page_of(answer)
        assert page.xpath("//*[@id='sneaked-in']") == [], path
        saved += "sneaked-in" in page.text_content()
    assert saved > 60, "what was written is there, as text"
