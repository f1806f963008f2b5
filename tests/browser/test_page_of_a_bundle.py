"""The page within a bundle, opened from its folder as somebody without Dialback would."""

import io
import zipfile
from pathlib import Path

import pytest
from page_client import client_of
from playwright.sync_api import Browser
from small_session import SmallSession
from watched_browser import DESK_PX, PHONE_PX

from app.library import Library


@pytest.fixture
def folder(filled: Library, session: SmallSession, tmp_path: Path) -> Path:
    client = client_of(filled)
    answer = client.post(f"/projects/{session.project}/hand-on", data={"audio": "original"})
    client.close()
    with zipfile.ZipFile(io.BytesIO(answer.content)) as archive:
        archive.extractall(tmp_path / "unpacked")
    return tmp_path / "unpacked"


@pytest.mark.parametrize("width", [DESK_PX, PHONE_PX])
def test_it_plays_without_a_server_and_fits(folder: Path, chromium: Browser, width: int) -> None:
    page = chromium.new_page(viewport={"width": width, "height": 800})
    complaints: list[str] = []
    page.on("console", lambda message: complaints.append(message.text) if message.type == "error" else None)
    page.on("requestfailed", lambda request: complaints.append(request.url))
    page.goto((folder / "index.html").as_uri())
    waveforms = page.locator("figure:has(figcaption) .waveform")
    assert waveforms.count() > 0
    player = page.locator("[data-player]").first
    player.get_by_role("button", name="Play").click()
    player.get_by_label("Pass 1, small ribbon microphone").check()
    muted = player.evaluate("section => [...section.querySelectorAll('audio')].map(audio => audio.muted)")
    assert muted == [True, False, True, True], "of the source and three prints one is heard"
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert complaints == []
    page.close()
