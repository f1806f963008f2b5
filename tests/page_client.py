"""A browser on a library, in this process: requests go straight to the app, and nothing is measured."""

from typing import Any

import httpx2
from starlette.testclient import TestClient

from app.config import Settings
from app.desk.unbroken import NO_BREAK
from app.library import Library
from app.web.app import create_app

AT_THE_DESK = ("127.0.0.1", 50_000)
"""The address that this computer's own browser asks from."""


class ReadAnswer(httpx2.Response):
    """An answer as a person reads it: a space is a space, whether a line may break there or not. `content` has the bytes."""

    @property
    def text(self) -> str:
        return super().text.replace(NO_BREAK, " ")


class Reader(TestClient):
    def send(self, *args: Any, **options: Any) -> httpx2.Response:
        answer = super().send(*args, **options)
        answer.__class__ = ReadAnswer
        return answer


def client_of(library: Library) -> TestClient:
    app = create_app(library, Settings(library=library.folder))
    return Reader(
        app,
        base_url="http://127.0.0.1:8427",
        client=AT_THE_DESK,
        follow_redirects=False,
        raise_server_exceptions=False,
    )
