"""The player's sound, rendered offline by the browser from the very graph that plays; and the walk through listening."""

import re
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from playwright.sync_api import Page, expect
from running_app import RunningApp, running
from small_session import SmallSession, fill
from watched_browser import Visit

from app.library import Library

RATE = 48_000
FREQUENCY_HZ = 220.0
STEEPEST = 0.5 * 2 * np.pi * FREQUENCY_HZ / RATE
"""The most that the sine itself moves from one sample to the next."""

RENDER = (Path(__file__).parent / "offline_render.js").read_text()
START_OVER_AND_OVER = """async () => {
  const { Transport } = await import("/static/listening/transport.js");
  const waiting = () => {
    let decoded;
    const promise = new Promise((resolve) => (decoded = resolve));
    const segments = { take: () => ({ buffer: null, failed: false, promise }) };
    const lane = { id: "a", prints: [{ segmentUrl: String, delay_s: 0, inverted: false, gain: 1, scale: 1 }] };
    const context = new OfflineAudioContext(1, 48000, 48000);
    return [new Transport(context, segments, [lane], { segmentSeconds: 10, lengthSeconds: 10 }), decoded];
  };
  const [moved, movedDecoded] = waiting();
  const sent = [moved.play(1), moved.play(2)];
  movedDecoded();
  const [halted, haltedDecoded] = waiting();
  const started = [halted.play(1)];
  halted.stop();
  haltedDecoded();
  return { "sent elsewhere": await Promise.all(sent), stopped: await Promise.all(started) };
}"""
Render = Callable[..., NDArray[np.float64]]


@pytest.fixture
def render(visit: Visit, app: RunningApp) -> Render:
    page = visit(app)
    page.goto("/projects")

    def rendered(**wanted: object) -> NDArray[np.float64]:
        request = {"frequency": FREQUENCY_HZ, "seconds": 3, "switchAt": [], "loop": None, "invertedB": False}
        request["takenAt"] = []
        return np.array(page.evaluate(RENDER, request | wanted))

    return rendered


def test_playing_is_the_sine_itself(render: Render) -> None:
    sound = render()
    start = int(np.argmax(np.abs(sound) > 0))
    heard = sound[start + 2000 : start + 90_000]
    n = np.arange(len(heard))
    fitted = np.linalg.lstsq(
        np.stack(
            [np.sin(2 * np.pi * FREQUENCY_HZ * n / RATE), np.cos(2 * np.pi * FREQUENCY_HZ * n / RATE)], axis=1
        ),
        heard,
        rcond=None,
    )
    residue = (
        heard
        - np.stack(
            [np.sin(2 * np.pi * FREQUENCY_HZ * n / RATE), np.cos(2 * np.pi * FREQUENCY_HZ * n / RATE)], axis=1
        )
        @ fitted[0]
    )
    assert np.hypot(*fitted[0]) == pytest.approx(0.5, abs=1e-4)
    assert 20 * np.log10(np.abs(residue).max()) < -80


def test_switching_is_click_free(render: Render) -> None:
    """Nothing in it is steeper than two lanes at once on an equal-power crossfade can be; a hard cut would be."""
    sound = render(switchAt=[0.5, 0.9, 1.3, 1.31, 2.0])
    fade_slope = np.pi / 2 / (0.008 * RATE) * 0.5 * 2
    assert np.abs(np.diff(sound)).max() < STEEPEST * np.sqrt(2) + fade_slope


def test_a_hard_cut_would_be_noticed(render: Render) -> None:
    sound = render()
    cut = np.concatenate([sound[: RATE + 55], -sound[RATE + 55 :]])
    assert np.abs(np.diff(cut)).max() > STEEPEST * 5


def test_a_lane_upside_down_is_righted(render: Render) -> None:
    straight, righted = render(switchAt=[0.5]), render(switchAt=[0.5], invertedB=True)
    assert np.abs(straight - righted).max() < 1e-6


def test_a_lane_that_is_made_anew_takes_over_while_it_plays(render: Render) -> None:
    """Both hold the same sine in step, so the equal-power crossfade may swell by √2 and nothing else."""
    sound, anew = render(), render(takenAt=[0.5, 1.2])
    fade_slope = np.pi / 2 / (0.008 * RATE) * 0.5 * 2
    assert np.abs(np.diff(anew)).max() < STEEPEST * np.sqrt(2) + fade_slope
    assert np.abs(anew - sound)[int(0.53 * RATE) : int(1.19 * RATE)].max() < 1e-4
    assert np.abs(anew - sound)[int(1.23 * RATE) :].max() < 1e-4
    assert np.abs(anew - sound)[int(0.5 * RATE) : int(0.53 * RATE)].max() > 0.01  # it was another lane indeed


def test_a_loop_wraps_without_a_click(render: Render) -> None:
    sound = render(loop={"from": 1.003, "to": 1.507})
    assert np.abs(np.diff(sound)).max() < STEEPEST + 0.5 / (0.004 * RATE) * 1.5
    assert np.abs(sound[int(2.6 * RATE) :]).max() > 0.4


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[RunningApp, SmallSession]]:
    """A running app on the small session, whose prints it measures and makes ready for listening."""
    folder = tmp_path_factory.mktemp("small")
    library = Library.open(folder / "library")
    session = fill(library)
    library.close()
    with running(folder / "library", folder / "log.txt") as started:
        yield started, session


def test_a_blind_choice_by_keyboard_alone(
    visit: Visit, small: tuple[RunningApp, SmallSession], width: int
) -> None:
    app, session = small
    page = visit(app, width=width)
    page.goto(f"/sources/{session.bass}")
    for number in ("1", "2"):
        page.get_by_role("checkbox", name=f"Compare pass {number}").press("Space")
    page.get_by_role("button", name=re.compile("^Compare")).press("Enter")
    ready(page)
    page.locator("body").press("2")
    expect(page.get_by_role("radio", name=re.compile("Pass 1"))).to_be_checked()
    page.locator("summary", has_text="Blind choice").press("Enter")
    page.get_by_role("button", name="Start the blind choice").press("Enter")
    ready(page)
    assert "Pass 1" not in page.locator("main").inner_text()
    page.get_by_label("A, rank").select_option("1")
    page.get_by_label("A, note").fill("holds the low notes")
    page.get_by_role("button", name="Name the letters").press("Enter")
    row = page.get_by_role("row", name="holds the low notes")
    expect(row.get_by_role("link")).to_contain_text("Pass")


@pytest.fixture
def compared(visit: Visit, small: tuple[RunningApp, SmallSession]) -> Page:
    app, session = small
    page = visit(app)
    page.goto(f"/compare?pass={session.passes[0]}&pass={session.passes[1]}&drawn=waveforms")
    ready(page)
    open_menu(page)
    return page


def test_seeking_and_loop_bounds_by_keyboard(compared: Page) -> None:
    place, start, end = (
        compared.get_by_role("slider", name=name, exact=True) for name in ("Place", "Loop from", "Loop to")
    )
    place.press("End")
    whole = float(place.input_value())
    assert whole >= 1
    place.press("Home")
    place.press("ArrowRight")
    place.press("ArrowRight")
    expect(place).to_have_value("1")
    expect(place).to_have_attribute("aria-valuetext", "0:01")
    expect(compared.locator(".player-time")).to_have_text(re.compile("^0:01 of "))
    heard = compared.locator(".at-wide .heard-now")  # the drawing over time is in step
    expect(heard).to_have_attribute("visibility", "visible")
    left, right, seconds = map(
        float, (compared.locator(".at-wide [data-heard]").get_attribute("data-heard") or "").split()
    )
    assert heard.evaluate("line => line.transform.baseVal[0].matrix.e") == pytest.approx(
        (right - left) / seconds, abs=1e-3
    )
    start.press("ArrowRight")
    expect(compared.get_by_label("Loop", exact=True)).to_be_checked()
    expect(start).to_have_value("0.1")
    end.press("ArrowLeft")
    assert float(end.input_value()) == pytest.approx(whole, abs=0.5)
    end.press("Home")  # pushes the start along; a loop never lies the wrong way round
    assert float(start.input_value()) <= float(end.input_value()) < 0.2


def test_of_several_starts_that_wait_for_sound_the_last_one_plays(visit: Visit, app: RunningApp) -> None:
    page = visit(app)
    page.goto("/projects")
    assert page.evaluate(START_OVER_AND_OVER) == {"sent elsewhere": [False, True], "stopped": [False]}


def test_single_keys_of_the_player_can_be_switched_off(compared: Page) -> None:
    second = compared.locator("input[name=heard]").nth(1)
    compared.locator("body").press("2")
    expect(second).to_be_checked()
    compared.locator("body").press("1")
    expect(second).not_to_be_checked()
    compared.request.post("/preferences", form={"keys": "off", "back": "/keys"})
    compared.reload()
    ready(compared)
    open_menu(compared)
    for key in ("2", "l", " "):
        compared.locator("body").press(key)
    expect(second).not_to_be_checked()
    expect(compared.get_by_label("Loop", exact=True)).not_to_be_checked()
    expect(compared.get_by_role("button", name="Play", exact=True)).to_be_visible()
    expect(compared.get_by_text("Keys: 1–9")).to_be_hidden()


def open_menu(page: Page) -> None:
    page.locator(".player .menu > summary").click()


def ready(page: Page) -> None:
    expect(page.locator(".player[data-ready]")).to_be_visible(timeout=60_000)
