"""Every page answers, on a library with one of everything and on an empty one."""

import re
from collections.abc import Mapping
from urllib.parse import urlsplit

import httpx2
import pytest
from fastapi.routing import APIRoute
from page_reader import page_of, words
from pages_of_the_app import WITHOUT_ROWS, pages_of
from small_session import SmallSession
from starlette.testclient import TestClient

from app.web.app import ROUTERS

NOT_PAGES = (
    "/audio",
    ".jpg",
    ".pdf",
    ".csv",
    ".wav",
    "/detents",
    "/read",
    "/lanes",
    "/gains",
    ".flac",
    ".zip",
    "/drafts/{draft_id}",
    "/events",
    "/pair",  # of a device that is not known yet: see test_devices
    "/pair/{code}",
    "/bring-in/{key}",  # of a bundle that was put aside: see test_bundle_pages
    "/next",
)


def test_no_page_of_the_app_is_left_out(session: SmallSession) -> None:
    asked = {urlsplit(path).path for path in pages_of(session)} | {"/"}
    for module in ROUTERS:
        for route in module.router.routes:
            assert isinstance(route, APIRoute)
            if route.methods and "GET" in route.methods and not route.path.endswith(NOT_PAGES):
                pattern = re.compile(re.sub(r"\{[^}]+\}", "[0-9]+", route.path))
                assert any(pattern.fullmatch(path) for path in asked), f"{route.path} is not asked for"


def test_every_page_of_a_filled_library_answers(shown: Mapping[str, httpx2.Response]) -> None:
    assert failed_of(shown) == {}


def test_every_page_of_a_filled_library_answers_in_inches(
    filled_client: TestClient, session: SmallSession
) -> None:
    filled_client.cookies.set("unit", "in")
    assert failed_of({path: filled_client.get(path) for path in pages_of(session)}) == {}


def failed_of(answers: Mapping[str, httpx2.Response]) -> dict[str, int]:
    return {
        path: answer.status_code
        for path, answer in answers.items()
        if answer.status_code != 200 or "text/html" not in answer.headers["content-type"]
    }


@pytest.mark.parametrize("path", WITHOUT_ROWS)
def test_every_page_of_an_empty_library_answers(client: TestClient, path: str) -> None:
    answer = client.get(path)
    assert answer.status_code == 200
    assert len(page_of(answer).xpath("//main//h1")) == 1


def test_the_first_page_leads_to_the_projects(client: TestClient) -> None:
    answer = client.get("/", follow_redirects=True)
    assert answer.status_code == 200
    assert words(page_of(answer), "//main//h1") == "Projects"


def test_every_link_on_every_page_leads_somewhere(filled_client: TestClient, session: SmallSession) -> None:
    seen: dict[str, str] = {}
    waiting = [("/", "the address")]
    broken = {}
    while waiting:
        path, found_on = waiting.pop()
        if path in seen:
            continue
        seen[path] = found_on
        answer = filled_client.get(path, follow_redirects=True)
        if answer.status_code == 204:  # a part of a page that has nothing new
            continue
        if answer.status_code != 200:
            broken[path] = f"{answer.status_code}, linked from {found_on}"
        if "text/html" not in answer.headers["content-type"]:
            continue
        page = page_of(answer)
        targets = [*page.xpath("//*/@href"), *page.xpath("//*/@src"), *page.xpath("//*/@hx-get")]
        targets += page.xpath("//form[not(@method) or @method='get']/@action")
        for target in targets:
            address = target.split("#")[0]
            if address and not address.startswith(("/compare", "/copies.zip")):
                waiting.append((address, path))
    assert broken == {}
    assert len(seen) > 40, "the walk must have gone through the whole house"


@pytest.mark.parametrize(
    "path",
    [
        "/projects/9",
        "/sources/9",
        "/passes/9",
        "/gear/9",
        "/nowhere",
        "/static/none.css",
        "/passes/x",
        f"/passes/{2**63}",
        "/passes/0",
        f"/passes/{'9' * 5000}",
        "/sources/1/passes/new?like=99999999999999999999",
        "/gear/new?start=nonsense",
        "/prints/9/audio",
        "/tries/9/audio",
        "/photos/9/picture.jpg",
        "/layouts/9/detents",
    ],
)
def test_what_is_not_there_is_a_page_that_says_so(client: TestClient, path: str) -> None:
    answer = client.get(path)
    assert answer.status_code == 404
    page = page_of(answer)
    assert words(page, "//main//h1") in ("Not found", "Not in the library")
    assert words(page, "//main//*[@role='alert']").endswith(".")
    assert page.xpath("//main//a")[0].get("href") == "/projects"
