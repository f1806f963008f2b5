"""The local network: what a phone gets before, while and after it is paired, and what anybody else gets."""

import re
from collections.abc import Iterator

import pytest
from page_reader import page_of, text_of
from pages_of_the_app import pages_of
from small_session import SmallSession
from starlette.testclient import TestClient

from app.config import Settings
from app.library import Library
from app.web.app import ROUTERS, create_app

HERE = "192.168.7.5"
PHONE = ("192.168.7.20", 50_000)
ADDRESS = f"http://{HERE}:8427"


@pytest.fixture
def served(filled: Library) -> Iterator[tuple[TestClient, TestClient]]:
    """The app with the local network, seen from the desk and from a phone."""
    app = create_app(filled, Settings(library=filled.folder), lan=True)
    desk = TestClient(app, base_url="http://127.0.0.1:8427", follow_redirects=False, client=("127.0.0.1", 1))
    phone = TestClient(app, base_url=ADDRESS, follow_redirects=False, client=PHONE)
    yield desk, phone
    desk.close()
    phone.close()


def open_code(desk: TestClient) -> str:
    page = page_of(desk.post("/devices/pair"))
    return "".join(page.xpath("//p[@class='pairing-code']/text()"))


def paired(desk: TestClient, phone: TestClient) -> None:
    answer = phone.post("/pair", data={"code": open_code(desk), "name": "my phone"})
    assert answer.status_code == 303


def test_a_phone_that_was_paired_has_the_pages(served: tuple[TestClient, TestClient]) -> None:
    desk, phone = served
    paired(desk, phone)
    assert phone.get("/projects").status_code == 200
    assert phone.get("/static/base.css").status_code == 200
    assert "my phone" in desk.get("/devices").text


def test_nothing_at_all_is_served_to_a_device_that_is_not_paired(
    served: tuple[TestClient, TestClient], session: SmallSession
) -> None:
    _, phone = served
    asked = [*pages_of(session), "/", "/static/base.css", "/events", "/nowhere", "/pair", "/pair/abc"]
    asked += [
        re.sub(r"\{[^}]+\}", "1", getattr(route, "path", "/"))
        for module in ROUTERS
        for route in module.router.routes
    ]
    for path in asked:
        for method in ("GET", "POST", "PUT", "DELETE", "OPTIONS", "HEAD"):
            answer = phone.request(method, path)
            assert answer.status_code == 403, (method, path)
            assert answer.text in ("", "Nothing is served here."), (method, path)


def test_while_a_code_is_open_only_the_pairing_page_is_served(served: tuple[TestClient, TestClient]) -> None:
    desk, phone = served
    open_code(desk)
    page = phone.get("/pair")
    assert page.status_code == 200
    assert "Boathouse" not in page.text
    assert not re.search(r"<(link|script|img)", page.text)
    assert phone.get("/projects").status_code == 403


def test_a_code_is_not_good_twice(served: tuple[TestClient, TestClient]) -> None:
    desk, phone = served
    code = open_code(desk)
    assert phone.post("/pair", data={"code": code, "name": "one"}).status_code == 303
    phone.cookies.clear()
    assert phone.post("/pair", data={"code": code, "name": "two"}).status_code == 403
    assert phone.get("/projects").status_code == 403


def test_guesses_are_limited(served: tuple[TestClient, TestClient]) -> None:
    desk, phone = served
    code = open_code(desk)
    for _ in range(5):
        assert phone.post("/pair", data={"code": "AAAA AAAA"}).status_code == 403
    assert phone.post("/pair", data={"code": code}).status_code == 403
    assert phone.get("/pair").text == "Nothing is served here."


def test_the_picture_leads_to_a_page_that_pairs(served: tuple[TestClient, TestClient]) -> None:
    desk, phone = served
    network = desk.app.state.network  # type: ignore[attr-defined]
    code = network.codes.open()
    page = page_of(phone.get(f"/pair/{code.long}"))
    sent = {name: page.xpath(f"//input[@name='{name}']/@value")[0] for name in ("code", "name")}
    assert phone.post("/pair", data=sent).status_code == 303
    assert phone.get("/projects").status_code == 200


def test_a_device_that_is_shut_out_is_out_at_once(served: tuple[TestClient, TestClient]) -> None:
    desk, phone = served
    paired(desk, phone)
    assert desk.post("/devices/1/revoke").status_code == 303
    assert phone.get("/projects").status_code == 403
    assert "No phone is paired" in text_of(page_of(desk.get("/devices")))


@pytest.mark.parametrize("token", ["", "x", "A" * 43, "../../x"])
def test_a_made_up_token_opens_nothing(served: tuple[TestClient, TestClient], token: str) -> None:
    desk, phone = served
    paired(desk, phone)
    phone.cookies.clear()
    assert phone.get("/projects", headers={"cookie": f"device={token}"}).status_code == 403


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1:8427", "localhost", "192.168.7.6:8427", ""])
def test_a_foreign_name_for_this_computer_is_refused_also_to_a_paired_phone(
    served: tuple[TestClient, TestClient], host: str
) -> None:
    desk, phone = served
    paired(desk, phone)
    assert phone.get("/projects", headers={"host": host}).status_code == 403


def test_what_another_site_sends_through_a_paired_phone_changes_nothing(
    served: tuple[TestClient, TestClient],
) -> None:
    desk, phone = served
    paired(desk, phone)
    sent = {"title": "Theirs", "sample_rate": "48000"}
    for headers in ({"origin": "https://evil.example"}, {"sec-fetch-site": "cross-site"}, {"origin": "null"}):
        assert phone.post("/projects", data=sent, headers=headers).status_code == 403
    assert phone.post("/projects", data=sent, headers={"origin": ADDRESS}).status_code == 303


def test_devices_are_managed_at_the_desk_alone(served: tuple[TestClient, TestClient]) -> None:
    desk, phone = served
    paired(desk, phone)
    for method, path in (
        ("GET", "/devices"),
        ("GET", "/backups"),
        ("POST", "/backups"),
        ("POST", "/devices/pair"),
        ("POST", "/devices/1/revoke"),
        ("GET", "/projects/1/printing"),
        ("POST", "/projects/1/folders"),
        ("POST", "/folders/1/delete"),
    ):
        assert phone.request(method, path).status_code == 403
    assert desk.post("/devices/1/name", data={"name-1": "old phone"}).status_code == 303
    assert "old phone" in desk.get("/devices").text
    assert desk.post("/devices/1/name", data={"name-1": " "}).status_code == 422


def test_without_lan_no_phone_can_be_paired(filled_client: TestClient) -> None:
    assert "dialback --lan" in text_of(page_of(filled_client.get("/devices")))
    assert filled_client.post("/devices/pair").status_code == 422
    assert filled_client.post("/pair", data={"code": "AAAA AAAA"}).status_code == 403
