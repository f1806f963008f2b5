"""A browser on a library, in this process: requests go straight to the app, and nothing is measured."""

from starlette.testclient import TestClient

from app.config import Settings
from app.library import Library
from app.web.app import create_app

AT_THE_DESK = ("127.0.0.1", 50_000)
"""The address that this computer's own browser asks from."""


def client_of(library: Library) -> TestClient:
    app = create_app(library, Settings(library=library.folder))
    return TestClient(
        app,
        base_url="http://127.0.0.1:8427",
        client=AT_THE_DESK,
        follow_redirects=False,
        raise_server_exceptions=False,
    )
