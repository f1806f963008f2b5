"""Work that the measuring process finished is told to the pages that listen, by a real server."""

import http.client
from pathlib import Path
from urllib.parse import urlsplit

from page_client import client_of
from page_reader import page_of
from running_server import serving
from small_session import SmallSession, attach, tone

from app.desk.arrivals.printing import wait_for_print
from app.desk.arrivals.watched_folders import FolderEntry, add_folder
from app.library import Library


def test_a_finished_measurement_reaches_the_page_by_the_event_stream(filled: Library) -> None:
    filled.close()
    with serving(filled.folder) as (address, _):
        connection = http.client.HTTPConnection(urlsplit(address).netloc, timeout=60)
        connection.request("GET", "/events")
        stream = connection.getresponse()
        said = b""
        while b"/finished/measurement" not in said:
            line = stream.readline()
            assert line, f"the stream ended after {said!r}"
            said += line
        connection.close()


def test_a_part_that_awaits_figures_asks_when_something_is_finished_not_by_the_clock(
    filled: Library, session: SmallSession
) -> None:
    attach(filled, session.passes[0], tone(0.5, hz=777), "new.wav")
    client = client_of(filled)
    page = page_of(client.get(f"/passes/{session.passes[0]}"))
    (trigger,) = page.xpath("//*[@id='prints']/@hx-trigger")
    assert trigger.startswith("dialback:finished from:document")
    assert "every" not in trigger
    ledger = page_of(client.get(f"/sources/{session.bass}")).xpath("//*[@id='ledger']")[0]
    assert ledger.get("data-coming") is not None, "desk.js looks again when it is told"


def test_a_file_that_comes_into_a_watched_folder_reaches_the_page_by_the_event_stream(
    filled: Library, session: SmallSession, tmp_path: Path
) -> None:
    """Its page is told when it is noticed, and so looks without a clock of its own."""
    (tmp_path / "takes").mkdir()
    add_folder(filled, session.project, FolderEntry(str(tmp_path / "takes")))
    wait_for_print(filled, session.passes[0])
    client = client_of(filled)
    for page, part in (
        (f"/passes/{session.passes[0]}", "prints"),
        (f"/projects/{session.project}/inbox", "inbox"),
    ):
        (trigger,) = page_of(client.get(page)).xpath(f"//*[@id='{part}']/@hx-trigger")
        assert "dialback:finished from:document" in trigger
        assert "every" not in trigger
    client.close()
    filled.close()
    with serving(filled.folder) as (address, _):
        connection = http.client.HTTPConnection(urlsplit(address).netloc, timeout=60)
        connection.request("GET", "/events")
        stream = connection.getresponse()
        stream.readline()
        (tmp_path / "takes" / "take.wav").write_bytes(tone(0.1, hz=312))
        said = b""
        while b"/finished/arrival" not in said:
            line = stream.readline()
            assert line, f"the stream ended after {said!r}"
            said += line
        connection.close()
