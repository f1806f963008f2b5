"""Each page is read from one snapshot, and asks the database a bounded number of times."""

import re
from collections.abc import Iterable, Mapping
from datetime import timedelta

import pytest
from more_of_everything import add_more
from page_client import client_of
from pages_of_the_app import pages_of
from query_counts import Asked, counted
from small_session import SmallSession

from app.desk.listening import auditions
from app.library import Library

MOST = 30
MORE = {
    "/projects/*/hand-on": 45,
    "/sources/*": 50,
    "/sources/*?column=open": 65,
    "/sources/*/ledger": 40,
    "/sources/*/ledger?column=open": 60,
    "/sources/*/passes/new": 81,
    "/passes/*": 50,
    "/drafts/*/cells": 35,
    "/drafts/*/turned": 35,
    "/passes/*/edit": 50,
    "/passes/*/recall": 50,
    "/passes/*/recalls": 50,
    "/passes/*/blend": 55,
    "/recalls/*": 55,
}
"""By address, with a star for each number. A source whose next pass is begun already shows its open column."""

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

READS_PASSES = {
    "/sources/*?column=open": 2,
    "/sources/*/ledger?column=open": 2,
    "/sources/*/passes/new": 3,
    "/passes/*": 2,
    "/passes/*/edit": 2,
    "/passes/*/blend": 2,
}
"""How many times whole pass sheets are read, where that is not once: before a draft is written or listening is asked for,
and again for what is shown; or also the pass before, which it is held against."""


def shape(page: str) -> str:
    path, _, query = page.partition("?")
    opened = "?column=open" if "column=open" in query else ""
    return re.sub(r"\d+", "*", path) + opened


def asked_by(library: Library, pages: Iterable[str]) -> dict[str, Asked]:
    found = {}
    client = client_of(library)
    for page in pages:
        with counted(library) as asked:
            answer = client.get(page)
        assert answer.status_code == 200, page
        found[page] = asked
    client.close()
    return found


def over_their_bounds(found: Mapping[str, Asked]) -> dict[str, tuple[int, int]]:
    return {
        page: (asked.count, most)
        for page, asked in found.items()
        if asked.count > (most := MORE.get(shape(page), MOST))
    }


def test_each_page_reads_from_one_snapshot_each_pass_once_and_asks_seldom(
    filled: Library, session: SmallSession
) -> None:
    found = asked_by(filled, pages_of(session))
    assert over_their_bounds(found) == {}
    assert {
        page: asked.transactions
        for page, asked in found.items()
        if asked.transactions > (3 if shape(page) in WRITES_FIRST else 1)
    } == {}
    assert {
        page: asked.pass_sheets
        for page, asked in found.items()
        if asked.pass_sheets > READS_PASSES.get(shape(page), 1)
    } == {}


def test_what_a_page_asks_does_not_grow_with_what_it_shows(
    filled: Library, session: SmallSession, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of everything two more, then two more again: each page asks as often as before, once the drafts are open that
    looking opens. When a file was heard last is noted by the clock, so that is left out here."""
    monkeypatch.setattr(auditions, "NOTED_USE", timedelta(days=1))
    pages = pages_of(session)
    opening = [page for page in pages if shape(page) in WRITES_FIRST]
    add_more(filled, session, range(2))
    asked_by(filled, opening)
    before = asked_by(filled, pages)
    add_more(filled, session, range(2, 4))
    asked_by(filled, opening)
    after = asked_by(filled, pages)
    assert {
        page: (before[page].count, asked.count)
        for page, asked in after.items()
        if asked.count > before[page].count
    } == {}
    assert over_their_bounds(after) == {}
