"""Every page answers, on a library with one of everything and on an empty one."""

import re
from urllib.parse import urlsplit

import pytest
from fastapi.routing import APIRoute
from page_reader import page_of, words
from small_session import SmallSession
from starlette.testclient import TestClient

from app.web.app import ROUTERS

WITHOUT_ROWS = (
    "/keys",
    "/projects",
    "/projects/new",
    "/gear",
    "/gear/new",
    "/gear/new?start=single_channel_amp",
    "/find",
    "/find?q=fuzz",
    "/find?q=fuzz+above+noon",
    "/find?like=1&keeper=yes",
    "/bring-in",
    "/devices",
)


def pages_of(session: SmallSession) -> list[str]:
    first, second, third = session.passes
    return [
        *WITHOUT_ROWS,
        f"/projects/{session.project}",
        f"/projects/{session.project}/edit",
        f"/projects/{session.project}/delete",
        f"/projects/{session.project}/log",
        f"/projects/{session.project}/timeline",
        f"/projects/{session.project}/ears",
        f"/projects/{session.project}/hand-on",
        f"/projects/{session.project}/hand-on?audio=none&photos=no&passes=keepers",
        f"/projects/{session.project}/printing",
        f"/projects/{session.project}/inbox",
        f"/projects/{session.project}/inbox/list",
        f"/projects/{session.project}/inbox/left",
        f"/folders/{session.folder}/delete",
        f"/arrivals/{session.arrival}",
        f"/gear/{session.interface}/calibrate",
        f"/projects/{session.project}/sources/new",
        *(
            f"/sources/{source}{part}"
            for source in (session.bass, session.organ)
            for part in ("", "/measures", "/ledger", "/edit", "/delete", "/passes/new")
        ),
        f"/sources/{session.organ}/passes/new?like={first}",
        f"/drafts/{session.draft}/line?line=drive+7,+tone+to+taste",
        *(
            f"/passes/{number}{part}"
            for number in session.passes
            for part in (
                "",
                "/prints",
                "/edit",
                "/delete",
                "/recall",
                "/recalls",
                "/knobs",
                "/reference",
                "/reference/found",
                "/hook-up",
                "/levels",
                "/microphones",
                "/blend",
            )
        ),
        *(
            f"/gear/{piece}{part}"
            for piece in (session.amp, session.near_mic, session.unused, session.retired)
            for part in ("", "/edit", "/delete", "/ports")
        ),
        f"/compare?pass={first}&pass={second}&pass={third}",
        f"/compare?pass={first}&pass={second}&minus=0&only=differences",
        f"/copies?pass={first}",
        *(
            f"/recalls/{session.recall}{part}"
            for part in ("", "/delete", "/tries", "?only=differences", "?only=open")
        ),
        f"/tries/{session.tried}/delete",
        f"/recalls/{session.recall}/reference",
        f"/recalls/{session.recall}/reference/found",
        f"/projects/{session.project}/reference",
        f"/references/{session.reference}/delete",
        f"/reference-prints/{session.reference_print}/delete",
        f"/blind/{session.blind}",
        f"/tests/{session.test}",
        f"/prints/{session.prints[0]}/delete",
        f"/photos/{session.photos[0]}/delete",
        f"/photos/{session.photos[0]}/pins",
        f"/photos/{session.photos[2]}/pins",
        f"/photos/{session.photos[2]}/delete",
    ]


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


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_every_page_of_a_filled_library_answers(
    filled_client: TestClient, session: SmallSession, unit: str
) -> None:
    filled_client.cookies.set("unit", unit)
    failed = {}
    for path in pages_of(session):
        answer = filled_client.get(path)
        if answer.status_code != 200 or "text/html" not in answer.headers["content-type"]:
            failed[path] = answer.status_code
    assert failed == {}


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
