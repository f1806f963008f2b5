"""Hearing is part of the ledger: the transport at the foot of a source's page, its keys and the columns it marks."""

import io
import re
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
import soundfile
from made_audio import Sounds
from playwright.sync_api import Page, Request, expect
from running_app import RunningApp, running, wait_until_measured
from small_session import attach, bring_in
from watched_browser import PHONE_PX, Visit, overflow_px

from app.desk.passes import passes
from app.desk.passes.passes import PassEntry
from app.desk.projects import projects
from app.desk.projects.projects import ProjectEntry
from app.library import Library

SWITCHED_WITHIN_S = 0.020
MADE_READY_WITHIN_S = 60

PRESS_AND_WATCH = """async (key) => {
  const { player } = document.querySelector(".dock");
  const { context } = player.transport;
  const [from, pressed] = [context.currentTime, performance.now()];
  const gone = player.transport.lanes.get(player.heard);
  document.body.dispatchEvent(new KeyboardEvent("keydown", { key, bubbles: true }));
  const come = player.transport.lanes.get(player.heard);
  const handled_s = (performance.now() - pressed) / 1000;
  const faded_s = come.fadingUntil - from;
  while (context.currentTime < come.fadingUntil + 0.05) await new Promise((resolve) => setTimeout(resolve, 5));
  const { heard, isPlaying } = player;
  return { heard, isPlaying, handled_s, faded_s, come: come.fade.gain.value, gone: gone.fade.gain.value };
}"""
"""Presses a key and watches the audio graph: how long until the new lane alone is to be heard, and what the two lanes'
gains are then."""


@dataclass(frozen=True)
class Desk:
    """A source with three passes; the third has no print yet."""

    app: RunningApp
    source: int
    passes: tuple[int, int, int]

    @property
    def page(self) -> str:
        return f"/sources/{self.source}"


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory, sounds: Sounds) -> Iterator[Desk]:
    folder = tmp_path_factory.mktemp("desk")
    library = Library.open(folder / "library")
    project = projects.create_project(library, ProjectEntry("Boathouse"))
    source = bring_in(library, project, "bass DI", sounds.source.read_bytes())
    first, second, third = (passes.log_pass(library, source, PassEntry()) for _ in range(3))
    attach(library, first, sounds.close.read_bytes(), "close.wav")
    attach(library, second, sounds.far.read_bytes(), "far.wav")
    library.close()
    with running(folder / "library", folder / "log.txt") as started:
        wait_until_measured(started)
        yield Desk(started, source, (first, second, third))


@pytest.fixture
def page(visit: Visit, desk: Desk) -> Page:
    opened = visit(desk.app)
    opened.goto(desk.page)
    expect(opened.locator(".dock")).to_be_visible()
    return opened


def play(page: Page) -> None:
    """Press Play and wait until it sounds; in a loop, so that no test races the end of six seconds."""
    page.locator("body").press("l")
    page.locator("body").press("Space")
    is_sounding(page)


def is_sounding(page: Page) -> None:
    until(page, "player.transport?.playing === true")


def until(page: Page, what: str) -> None:
    """The page's policy forbids the browser's own way of waiting for a condition."""
    give_up_at = time.monotonic() + MADE_READY_WITHIN_S
    while not of_player(page, what.removeprefix("player.")):
        assert time.monotonic() < give_up_at, f"it never came to {what}: {page.locator('.dock').inner_text()}"
        page.wait_for_timeout(50)


def heard(page: Page) -> str:
    return page.locator(".dock-lane").inner_text()


def of_player(page: Page, what: str) -> Any:
    return page.evaluate(f"document.querySelector('.dock').player.{what}")


def test_nothing_is_fetched_before_something_is_to_be_heard(visit: Visit, desk: Desk) -> None:
    page = visit(desk.app)
    fetched: list[str] = []

    def note(request: Request) -> None:
        if re.search(r"/lanes|/gains|/auditions/", request.url):
            fetched.append(request.url)

    page.on("request", note)
    page.goto(desk.page)
    page.locator(".ledger-measures-head").wait_for()
    page.locator("body").press("l")
    page.wait_for_timeout(500)
    assert fetched == []
    page.locator("body").press("Space")
    is_sounding(page)
    assert any("/lanes" in url for url in fetched)
    assert any("/auditions/" in url for url in fetched)


def test_keys_switch_what_is_heard_within_20_ms_and_it_plays_on(page: Page) -> None:
    play(page)
    for key, lane in (("1", "source"), ("2", None), ("3", None), ("2", None), ("b", None)):
        found = page.evaluate(PRESS_AND_WATCH, key)
        assert found["isPlaying"]
        assert lane is None or found["heard"] == lane
        assert found["handled_s"] + found["faded_s"] <= SWITCHED_WITHIN_S
        assert (found["come"], found["gone"]) == (pytest.approx(1, abs=1e-3), pytest.approx(0, abs=1e-3))


def test_the_heard_column_is_marked_from_head_to_foot_also_when_the_ledger_comes_anew(
    page: Page, desk: Desk
) -> None:
    first, second, _ = desk.passes
    play(page)
    page.get_by_role("columnheader").locator(f"[data-hear=pass-{first}]").click()
    assert_marked(page, first)
    page.get_by_role("link", name="All", exact=True).click()
    expect(page.get_by_role("link", name="All", exact=True)).to_have_attribute("aria-current", "true")
    assert_marked(page, first)
    assert of_player(page, "isPlaying")
    page.locator("body").press("3")
    assert_marked(page, second)
    page.locator("body").press("1")
    expect(page.locator("#ledger .is-heard")).to_have_count(0)
    assert heard(page) == "The source"


def assert_marked(page: Page, pass_id: int) -> None:
    cells = page.locator(f"#ledger [data-pass='{pass_id}']")
    expect(page.locator("#ledger .is-heard")).to_have_count(cells.count())
    for cell in cells.all():
        expect(cell).to_have_class(re.compile(r"\bis-heard\b"))
    pressed = page.locator(f"[data-hear=pass-{pass_id}]")
    expect(pressed).to_have_attribute("aria-pressed", "true")
    expect(page.locator(".dock-lane")).to_have_text(re.compile(r"^Pass \d$"))


def test_space_plays_and_stops_and_b_goes_back_and_forth(page: Page) -> None:
    play(page)
    for key in "23":
        page.locator("body").press(key)
    assert heard(page) == "Pass 2"
    for expected in ("Pass 1", "Pass 2"):
        page.locator("body").press("b")
        assert heard(page) == expected
    page.locator("body").press("Space")
    expect(page.get_by_role("button", name="Play", exact=True)).to_be_visible()
    assert not of_player(page, "isPlaying")


def test_a_head_is_pressed_by_enter_and_by_space(page: Page, desk: Desk) -> None:
    head = page.locator(f"[data-hear=pass-{desk.passes[1]}]")
    expect(head).to_have_role("button")
    head.press("Space")
    is_sounding(page)
    assert heard(page) == "Pass 2"
    page.locator(f"[data-hear=pass-{desk.passes[0]}]").press("Enter")
    expect(page.locator(".dock-lane")).to_have_text("Pass 1")
    assert page.url.endswith(desk.page)


def test_on_a_phone_a_card_is_heard_and_the_transport_keeps_to_72_px(visit: Visit, desk: Desk) -> None:
    phone = visit(desk.app, width=PHONE_PX, touch=True)
    phone.goto(desk.page)
    phone.get_by_role("button", name="Hear pass 2").click()
    is_sounding(phone)
    assert heard(phone) == "Pass 2"
    expect(phone.get_by_role("button", name="Hear pass 2")).to_have_attribute("aria-pressed", "true")
    box = phone.locator(".dock").bounding_box()
    assert box is not None
    assert (box["x"], box["width"]) == (0, PHONE_PX)
    assert box["height"] <= 72
    assert overflow_px(phone) <= 0


def test_a_pass_without_a_print_and_a_page_without_script_lead_to_the_pass(
    page: Page, desk: Desk, visit: Visit
) -> None:
    page.get_by_role("link", name="Pass 3", exact=True).click()
    expect(page).to_have_url(re.compile(f"/passes/{desk.passes[2]}$"))
    plain = visit(desk.app, javascript=False)
    plain.goto(desk.page)
    expect(plain.locator(".dock")).to_be_hidden()
    plain.get_by_role("link", name="Pass 1", exact=True).click()
    expect(plain).to_have_url(re.compile(f"/passes/{desk.passes[0]}$"))


def test_volume_and_what_is_made_fair_are_said_and_sound(page: Page) -> None:
    state = page.locator(".dock .player-state")
    expect(state).to_have_text("Matched for listening: aligned, equally loud, polarity righted.")
    play(page)
    volume = page.get_by_role("slider", name="Volume")
    volume.fill("50")
    until(page, "player.transport.volume.gain.value.toFixed(3) === '0.250'")
    page.get_by_label("Place, loop and how it is matched for listening").click()
    page.get_by_role("checkbox", name="Equally loud").uncheck()
    expect(state).to_have_text("not matched: louder sounds better")
    assert of_player(page, "transport.options.matched") is False
    expect(page.get_by_label("Loop", exact=True)).to_be_checked()
    page.get_by_role("slider", name="Loop from").fill("2")
    assert of_player(page, "region.from") == 2
    expect(page.locator(".dock .player-region")).to_be_visible()


def test_x_deals_the_ticked_passes_out_under_letters(page: Page) -> None:
    page.locator("body").press("x")
    expect(page.locator(".dock .player-state")).to_have_text("Tick two to eight passes for a blind choice.")
    for number in (1, 2):
        page.get_by_role("checkbox", name=f"Compare pass {number}").check()
    page.locator("body").press("x")
    expect(page.get_by_role("heading", level=1)).to_have_text("Blind choice")


def test_k_opens_the_reason_to_keep_what_is_heard_and_the_ledger_shows_it(page: Page, desk: Desk) -> None:
    play(page)
    page.locator("body").press("2")
    page.locator("body").press("k")
    reason = page.get_by_label("Keep it, because")
    expect(reason).to_be_focused()
    page.keyboard.type("the low end sits 1 b k")
    page.keyboard.press("Enter")
    head = page.locator(f"#ledger th[data-pass='{desk.passes[0]}']")
    expect(head.locator(".keeper-part")).to_be_visible()
    expect(head).to_have_class(re.compile(r"\bis-heard\b"))
    assert of_player(page, "isPlaying")
    page.goto(f"/passes/{desk.passes[0]}")
    expect(page.get_by_text("the low end sits 1 b k").first).to_be_visible()


def test_a_print_that_comes_while_it_plays_is_taken_in_and_nothing_stops(
    page: Page, desk: Desk, sounds: Sounds
) -> None:
    third = desk.passes[2]
    play(page)
    begun = of_player(page, "transport.context.currentTime")
    page.request.post(f"/passes/{third}/prints", multipart={"file": quieter(sounds.close)})
    head = page.locator(f"#ledger [data-hear=pass-{third}][data-prints]")
    expect(head).to_be_visible()
    head.click()
    until(page, f"player.transport.heard === 'pass-{third}'")
    assert heard(page) == "Pass 3"
    assert_marked(page, third)
    assert of_player(page, "isPlaying")
    assert of_player(page, "transport.runs[0].time") < begun + 1  # it was never started anew
    page.locator("body").press("2")
    page.locator("body").press("4")
    assert of_player(page, "transport.heard") == f"pass-{third}"


def quieter(file: Path) -> dict[str, Any]:
    """The file once more at half its level, as a browser sends it."""
    samples, rate = soundfile.read(file)
    made = io.BytesIO()
    soundfile.write(made, samples / 2, rate, format="WAV", subtype="PCM_24")
    return {"name": "late.wav", "mimeType": "audio/wav", "buffer": made.getvalue()}
