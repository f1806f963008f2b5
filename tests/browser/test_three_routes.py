"""Each of the three routes, walked to a blend that is heard, kept, on the recall sheet, and exported."""

import zipfile
from pathlib import Path

import pytest
from already_logged import LoggedSession
from made_audio import Sounds
from person import attach_prints, press, unfold
from playwright.sync_api import expect
from running_app import RunningApp
from watched_browser import Visit

from app.trade.routes import ROUTES, Route


@pytest.mark.parametrize("route", ROUTES, ids=lambda route: route.key)
def test_a_route_is_walked_to_a_blend_that_is_heard_kept_and_exported(
    visit: Visit, app: RunningApp, logged: LoggedSession, sounds: Sounds, tmp_path: Path, route: Route
) -> None:
    page = visit(app)
    page.goto(f"{logged.source}/passes/new")
    page.get_by_label("Title").fill(f"by the route {route.key}")
    press(page, "Save the pass")
    here = page.url

    page.goto(f"{here}/hook-up")
    unfold(page, "Change route")
    page.get_by_role("radio", name=f"{route.label}.").check()
    press(page, "Save the hook-up")
    expect(page.get_by_text(f"In the DAW: {route.label.lower()}")).to_be_visible()

    page.goto(here)
    attach_prints(page, sounds.close, sounds.far)
    expect(page.locator("#prints")).to_contain_text("far microphone")
    page.goto(f"{here}/blend")
    with_source = page.get_by_role("group", name="Shed bass, dry").get_by_label("In the blend")
    expect(with_source).to_be_checked(
        checked=route.key == "parallel"
    )  # the dry source plays beside its returns
    page.get_by_role("button", name="Play").click()
    expect(page.locator(".player-time")).not_to_have_text("0:00 of 0:06")
    page.get_by_role("button", name="Stop").click()
    page.get_by_label("Gain, dB").last.fill("-3")
    press(page, "Save this blend")

    page.goto(f"{here}/recall")
    expect(page.get_by_role("main")).to_contain_text("−3.0 dB")
    expect(page.get_by_role("main")).to_contain_text(f"Cables: {route.label.lower()}")
    page.goto(f"{here}/blend")
    page.get_by_role("link", name="Aligned copies of it").click()
    with page.expect_download() as download:
        press(page, "Make the copies")
    download.value.save_as(tmp_path / "copies.zip")
    with zipfile.ZipFile(tmp_path / "copies.zip") as copies:
        sounding = [name for name in copies.namelist() if name.endswith(".wav")]
    assert len(sounding) == (3 if route.key == "parallel" else 2)
