import asyncio
import json
from collections.abc import Coroutine
from concurrent.futures import ThreadPoolExecutor
from typing import Any, TypeVar

from app.web.board import MOST_WAITING, Board

T = TypeVar("T")


def ran(trial: Coroutine[Any, Any, T]) -> T:
    """In a thread of its own: the worker's own may have a loop running already, a browser's."""
    with ThreadPoolExecutor(1) as one:
        return one.submit(asyncio.run, trial).result()


def test_what_is_told_reaches_every_page_that_listens() -> None:
    async def trial() -> list[str]:
        board = Board()
        one, two = board.listen(), board.listen()
        hellos = [await anext(one), await anext(two)]
        assert all("event: hello" in hello for hello in hellos)
        await asyncio.to_thread(board.tell, "/drafts/3/changes", "the phone")
        return [await anext(one), await anext(two)]

    said = ran(trial())
    assert said[0] == said[1]
    data = json.loads(said[0].split("data: ")[1])
    assert data == {"path": "/drafts/3/changes", "by": "the phone"}


def test_a_page_that_does_not_keep_up_is_let_go_and_the_others_go_on() -> None:
    async def trial() -> tuple[int, str]:
        board = Board()
        slow, quick = board.listen(), board.listen()
        await anext(slow)
        await anext(quick)
        heard = 0
        for number in range(MOST_WAITING + 1):
            board.tell(f"/{number}")
            await asyncio.sleep(0)
            await anext(quick)
            heard += 1
        left = [said async for said in slow]
        board.tell("/last")
        await asyncio.sleep(0)
        assert len(left) <= MOST_WAITING
        return heard, await anext(quick)

    heard, last = ran(trial())
    assert heard == MOST_WAITING + 1
    assert "/last" in last


def test_a_page_that_may_not_go_on_hears_no_more() -> None:
    async def trial() -> list[str]:
        board = Board()
        allowed = [True]
        stream = board.listen(lambda: allowed[0])
        heard = [await anext(stream)]
        allowed[0] = False
        board.tell("/secret")
        return heard + [said async for said in stream]

    assert not any("secret" in said for said in ran(trial()))


def test_telling_nobody_is_no_fault() -> None:
    Board().tell("/passes/1")


def test_every_stream_ends_when_the_server_stops() -> None:
    async def trial() -> list[list[str]]:
        board = Board()
        streams = [board.listen(), board.listen()]
        for stream in streams:
            await anext(stream)
        board.close()
        return [[said async for said in stream] for stream in streams]

    assert ran(trial()) == [[], []]
