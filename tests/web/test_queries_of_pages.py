"""Each page is read from one snapshot, and asks the database a bounded number of times."""

import re

from page_client import client_of
from pages_of_the_app import pages_of
from query_counts import counted
from small_session import SmallSession

from app.library import Library

MOST = 30
MORE = {
    "/projects/*/hand-on": 60,
    "/sources/*?column=open": 65,
    "/sources/*/ledger?column=open": 60,
    "/sources/*/passes/new": 60,
    "/passes/*/edit": 50,
    "/passes/*/recall": 60,
    "/passes/*/recalls": 50,
    "/passes/*/blend": 70,
    "/compare": 40,
    "/copies": 40,
    "/recalls/*": 60,
    "/recalls/*/delete": 50,
}
"""By address, with a star for each number."""

WRITES_FIRST = {
    "/sources/*",
    "/sources/*?column=open",
    "/sources/*/ledger",
    "/sources/*/ledger?column=open",
    "/sources/*/passes/new",
    "/passes/*/edit",
    "/passes/*/blend",
}
"""They open a draft or ask for what is to be listened to, before the snapshot that they show."""


def shape(page: str) -> str:
    path, _, query = page.partition("?")
    opened = "?column=open" if "column=open" in query else ""
    return re.sub(r"\d+", "*", path) + opened


def test_each_page_reads_from_one_snapshot_and_asks_seldom(filled: Library, session: SmallSession) -> None:
    client = client_of(filled)
    over, torn = {}, {}
    for page in pages_of(session):
        with counted(filled) as asked:
            client.get(page)
        if asked.count > (most := MORE.get(shape(page), MOST)):
            over[page] = (asked.count, most)
        if asked.transactions > (3 if shape(page) in WRITES_FIRST else 1):
            torn[page] = asked.transactions
    client.close()
    assert over == {}
    assert torn == {}
