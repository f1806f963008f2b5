"""What changed, told to every open page at once (server-sent events, https://html.spec.whatwg.org/#server-sent-events).

A change is told by the address that made it, such as /drafts/3/changes, with the name that its page goes by: a page
looks again at what concerns it and takes no notice of what it did itself.
"""

import asyncio
import json
from collections.abc import AsyncIterator, Callable

from starlette.datastructures import Headers
from starlette.types import ASGIApp, Message, Receive, Scope, Send

HEARTBEAT_S = 20.0
MOST_WAITING = 100
MOST_LISTENERS = 200
READING = frozenset({"GET", "HEAD", "OPTIONS"})


class Board:
    """Listeners live on the server's event loop; anything may be told from any thread."""

    def __init__(self) -> None:
        self._listeners: set[asyncio.Queue[str]] = set()
        self._loop: asyncio.AbstractEventLoop | None = None

    def tell(self, path: str, by: str = "") -> None:
        loop = self._loop
        if loop is not None and not loop.is_closed():
            loop.call_soon_threadsafe(self._put, json.dumps({"path": path, "by": by}))

    def close(self) -> None:
        """End every stream, as before the server stops: it waits for what is under way."""
        loop = self._loop
        if loop is not None and not loop.is_closed():
            loop.call_soon_threadsafe(self._end)

    async def listen(self, may_go_on: Callable[[], bool] = lambda: True) -> AsyncIterator[str]:
        """The stream of one page, until it may not go on. A page that is too slow to keep up is let go: it comes back
        by itself and looks at everything anew."""
        self._loop = asyncio.get_running_loop()
        if len(self._listeners) >= MOST_LISTENERS:
            return
        queue: asyncio.Queue[str] = asyncio.Queue(MOST_WAITING)
        self._listeners.add(queue)
        try:
            yield "retry: 2000\n\nevent: hello\ndata: {}\n\n"
            while may_go_on() and queue in self._listeners:
                try:
                    said = f"event: changed\ndata: {await asyncio.wait_for(queue.get(), HEARTBEAT_S)}\n\n"
                except TimeoutError:
                    said = ": still here\n\n"
                if may_go_on() and queue in self._listeners:
                    yield said
        finally:
            self._listeners.discard(queue)

    def _end(self) -> None:
        for queue in list(self._listeners):
            self._listeners.discard(queue)
            if queue.empty():
                queue.put_nowait("")

    def _put(self, said: str) -> None:
        for queue in list(self._listeners):
            try:
                queue.put_nowait(said)
            except asyncio.QueueFull:
                self._listeners.discard(queue)


class TellsTheBoard:
    """ASGI middleware: whatever changed something and succeeded is told."""

    def __init__(self, app: ASGIApp, board: Board) -> None:
        self.app = app
        self.board = board

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or scope["method"] in READING:
            await self.app(scope, receive, send)
            return
        status = 500

        async def watched(message: Message) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
            await send(message)

        await self.app(scope, receive, watched)
        if status < 400:
            self.board.tell(scope["path"], Headers(scope=scope).get("x-page", "")[:64])
