"""Each page is read from one snapshot, and asks the database a bounded number of times."""

from page_client import client_of
from pages_of_the_app import pages_of
from query_counts import counted
from small_session import SmallSession

from app.library import Library

MOST = 40
MORE = {
    "/hand-on": 60,
    "/recall": 60,
    "/recalls/1": 55,
    "/recalls/1/delete": 50,
    "/recalls": 50,
    "/blend": 65,
    "/passes/new": 55,
    "/edit": 45,
}
WRITES_FIRST = ("/blend", "/passes/new", "/edit")
"""They open a draft or ask for what is to be listened to, before the snapshot that they show."""


def test_each_page_reads_from_one_snapshot_and_asks_seldom(filled: Library, session: SmallSession) -> None:
    client = client_of(filled)
    over, torn = {}, {}
    for page in pages_of(session):
        with counted(filled) as asked:
            client.get(page)
        path = page.partition("?")[0]
        bound = max([MOST, *(most for ending, most in MORE.items() if path.endswith(ending))])
        if asked.count > bound:
            over[page] = (asked.count, bound)
        if asked.transactions > (3 if path.endswith(WRITES_FIRST) else 1):
            torn[page] = asked.transactions
    client.close()
    assert over == {}
    assert torn == {}
