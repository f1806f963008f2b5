"""What keeps the local server local."""

import http.client
import re
from collections.abc import Iterator, Mapping
from ipaddress import ip_address
from pathlib import Path
from urllib.parse import urlsplit

import httpx2
import ifaddr
import pytest
from page_client import AT_THE_DESK
from page_reader import page_of
from running_server import serving
from small_session import SmallSession
from starlette.testclient import TestClient

from app.config import ROOT
from app.library import Library

PROJECT = {"title": "Boathouse", "sample_rate": "48000"}
ANSWERS = (
    ("GET", "/projects", 200),
    ("GET", "/nowhere", 404),
    ("GET", "/passes/9", 404),
    ("POST", "/projects", 422),
    ("PUT", "/projects", 405),
    ("GET", "/static/base.css", 200),
    ("GET", "/static/none.css", 404),
    ("POST", "/preferences", 303),
)


def policy_of(headers: object) -> dict[str, str]:
    policy = headers["content-security-policy"]  # type: ignore[index]
    return dict(part.strip().split(" ", 1) for part in policy.split(";"))


@pytest.mark.parametrize("name", ["referer", "origin"])
@pytest.mark.parametrize("value", ["http://[", "http://[::1", "//[z]/passes", "http://127.0.0.1]:x["])
@pytest.mark.parametrize("site", ["same-origin", None])
def test_a_referer_or_origin_that_is_no_address_is_refused(
    filled_client: TestClient, session: SmallSession, name: str, value: str, site: str | None
) -> None:
    headers = {name: value} | ({} if site is None else {"sec-fetch-site": site})
    for answer in (
        filled_client.get(f"/passes/{session.passes[0]}", headers=headers),
        filled_client.post(f"/passes/{session.passes[0]}/judge", headers=headers, data={}),
    ):
        assert answer.status_code == 403


@pytest.mark.parametrize(
    "host",
    [
        "evil.example",
        "evil.example:8427",
        "127.0.0.1.evil.example",
        "",
        "[::1",
        "0.0.0.0",
        "192.168.1.5:8427",
        "localhost.evil.example",
    ],
)
def test_a_foreign_host_name_is_refused(client: TestClient, host: str) -> None:
    answer = client.get("/projects", headers={"host": host})
    assert answer.status_code == 403
    assert "this computer" in answer.text


@pytest.mark.parametrize(
    "host", ["127.0.0.1", "127.0.0.1:8427", "localhost:9", "[::1]:8427", "LOCALHOST:8427"]
)
def test_this_computers_own_names_are_answered(client: TestClient, host: str) -> None:
    assert client.get("/projects", headers={"host": host}).status_code == 200


@pytest.mark.parametrize(
    "headers",
    [
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
        {"origin": "https://evil.example"},
        {"origin": "http://127.0.0.1:9999"},
        {"origin": "null"},
        {"origin": "http://localhost:8427"},
    ],
    ids=str,
)
def test_what_another_site_sends_changes_nothing(
    client: TestClient, library: Library, headers: dict[str, str]
) -> None:
    answer = client.post("/projects", data=PROJECT, headers=headers)
    assert answer.status_code == 403
    assert "another site" in answer.text
    with library.reading() as session:
        assert session.connection().exec_driver_sql("SELECT count(*) FROM project").scalar() == 0


@pytest.mark.parametrize(
    "headers",
    [
        {},
        {"sec-fetch-site": "same-origin", "origin": "http://127.0.0.1:8427"},
        {"sec-fetch-site": "none"},
        {"origin": "http://127.0.0.1:8427"},
    ],
    ids=str,
)
def test_what_our_own_page_sends_is_done(client: TestClient, headers: dict[str, str]) -> None:
    assert client.post("/projects", data=PROJECT, headers=headers).status_code == 303


@pytest.mark.parametrize(("method", "path", "status"), ANSWERS)
def test_every_answer_carries_the_policy(client: TestClient, method: str, path: str, status: int) -> None:
    answer = client.request(method, path)
    assert answer.status_code == status
    policy = policy_of(answer.headers)
    assert policy["default-src"] == "'none'"
    assert policy["script-src"] == "'self'"
    assert policy["style-src"] == "'self'"
    assert policy["frame-ancestors"] == "'none'"
    assert "unsafe" not in answer.headers["content-security-policy"]
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert answer.headers["referrer-policy"] == "same-origin"


def test_our_own_failure_is_a_page_with_the_policy(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(library: Library) -> None:
        raise ZeroDivisionError("a fault of ours, for the test")

    monkeypatch.setattr("app.desk.projects.projects.list_projects", fail)
    answer = client.get("/projects")
    assert answer.status_code == 500
    assert policy_of(answer.headers)["default-src"] == "'none'"
    assert "fault of Dialback" in page_of(answer).text_content()
    assert "ZeroDivision" not in answer.text
    assert "Traceback" not in answer.text


def test_a_request_that_is_too_large_is_refused_with_the_policy(library: Library) -> None:
    from app.config import Settings
    from app.web.app import create_app

    app = create_app(library, Settings(library=library.folder, max_upload_bytes=1000))
    small = TestClient(app, base_url="http://127.0.0.1:8427", client=AT_THE_DESK)
    answer = small.post("/projects", data=PROJECT | {"notes": "x" * 2000})
    assert answer.status_code == 413
    assert policy_of(answer.headers)["default-src"] == "'none'"
    assert "larger than Dialback takes in" in page_of(answer).text_content()


def test_a_form_of_untold_length_is_refused(client: TestClient) -> None:
    def parts() -> Iterator[bytes]:
        yield b"title=Boathouse&sample_rate=48000"

    headers = {"content-type": "application/x-www-form-urlencoded"}
    answer = client.post("/projects", content=parts(), headers=headers)
    assert answer.status_code == 411


def test_no_page_points_anywhere_else(shown: Mapping[str, httpx2.Response]) -> None:
    for path, answer in shown.items():
        page = page_of(answer)
        for target in page.xpath(
            "//@href | //@src | //@action | //@formaction | //@hx-get | //@hx-post | //@srcset"
        ):
            address = urlsplit(target)
            assert (address.scheme, address.netloc) == ("", ""), f"{path} points to {target}"


@pytest.mark.parametrize("served", sorted((ROOT / "static").rglob("*.css")), ids=lambda path: path.name)
def test_no_stylesheet_loads_anything_from_elsewhere(served: Path) -> None:
    for target in re.findall(r"url\(\s*['\"]?([^)'\"]+)", served.read_text(encoding="utf-8")):
        assert urlsplit(target).netloc == "", f"{served.name} loads {target}"
        assert urlsplit(target).scheme in ("", "data"), f"{served.name} loads {target}"
    assert "@import" not in served.read_text(encoding="utf-8")


def test_no_page_carries_script_or_style_of_its_own(shown: Mapping[str, httpx2.Response]) -> None:
    for path, answer in shown.items():
        page = page_of(answer)
        assert (
            page.xpath("//script[not(@src)] | //style | //@style | //@*[starts-with(name(), 'on')]") == []
        ), path


def test_pages_of_the_log_are_kept_by_no_cache(filled_client: TestClient, session: SmallSession) -> None:
    answer = filled_client.get(f"/passes/{session.passes[0]}")
    assert answer.headers["cache-control"] == "no-store"


def test_the_way_back_after_a_preference_stays_here(client: TestClient) -> None:
    for back in (
        "https://evil.example",
        "//evil.example",
        "/\\evil.example",
        "",
        "javascript:alert(1)",
        "/\t/evil.example",
    ):
        answer = client.post("/preferences", data={"theme": "dim", "back": back})
        assert answer.status_code == 303
        location = urlsplit(answer.headers["location"])
        assert (location.scheme, location.netloc) == ("", "")
    assert client.post("/preferences", data={"theme": "dim", "back": "/gear"}).headers["location"] == "/gear"


def test_preferences_take_only_what_is_offered(client: TestClient) -> None:
    answer = client.post("/preferences", data={"theme": '"><script>', "unit": "furlong", "back": "/"})
    assert "set-cookie" not in answer.headers
    client.post("/preferences", data={"theme": "dim", "unit": "in", "back": "/"})
    assert page_of(client.get("/projects")).get("data-theme") == "dim"


def test_a_forged_forwarding_header_changes_nothing_of_who_asks(library: Library) -> None:
    """A real server, since it is uvicorn that would believe the header where the environment tells it to."""
    library.close()
    with serving(library.folder, "--lan", FORWARDED_ALLOW_IPS="*") as (address, _):
        port = urlsplit(address).port
        assert port is not None
        for forged in ({}, {"X-Forwarded-For": "203.0.113.9"}, {"X-Forwarded-For": "127.0.0.1"}):
            assert asked("127.0.0.1", port, forged) == 200
            for outside in addresses_of_this_computer():
                assert asked(outside, port, forged) == 403, f"{outside} is not local, whatever {forged} says"


def asked(host: str, port: int, headers: dict[str, str]) -> int:
    """What the list of projects answers to a connection to `host` that pretends to be local in its Host as well."""
    connection = http.client.HTTPConnection(host, port, timeout=20)
    connection.request("GET", "/projects", headers={"Host": "127.0.0.1", **headers})
    status = connection.getresponse().status
    connection.close()
    return status


def addresses_of_this_computer() -> list[str]:
    """IPv4 addresses by which it is reached over a network; none where it is on none."""
    found = [ip.ip for adapter in ifaddr.get_adapters() for ip in adapter.ips if isinstance(ip.ip, str)]
    return [address for address in found if not ip_address(address).is_loopback]
