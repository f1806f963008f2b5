"""Work that the measuring process finished is told to the pages that listen, by a real server."""

import http.client
from urllib.parse import urlsplit

from page_client import client_of
from page_reader import page_of
from running_server import serving
from small_session import SmallSession, attach, tone

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
