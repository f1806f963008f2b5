"""Prints are attached together, measured while the page stands open, and their faults stand out in words."""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from already_logged import LoggedSession
from made_audio import CLIPS_AT_S, ENDS_EARLY_S, Sounds, silence
from person import attach_prints, press, print_row, prints_of, unfold
from playwright.sync_api import Page, expect
from running_app import RunningApp
from watched_browser import Visit

SLOW_BYTES_PER_S = 8_000_000


def new_pass(page: Page, logged: LoggedSession, title: str) -> None:
    page.goto(logged.source)
    page.goto(f"{page.url}/passes/new")
    page.get_by_label("Title").fill(title)
    press(page, "Save the pass")


def test_the_faults_of_a_spoilt_print_stand_out_in_words(
    visit: Visit, app: RunningApp, logged: LoggedSession, sounds: Sounds
) -> None:
    page = visit(app)
    new_pass(page, logged, "one good, one spoilt")
    attach_prints(page, sounds.close, sounds.far)
    spoilt = print_row(page, "far microphone.wav").get_by_role("listitem")
    expect(spoilt.filter(has_text="upside down against the source")).to_be_visible()
    expect(spoilt.filter(has_text=f"ends {ENDS_EARLY_S} s before the source")).to_be_visible()
    clips = spoilt.filter(has_text=re.compile(rf"clips in \d+ places, first at 0:0{CLIPS_AT_S[0]:.0f}"))
    expect(clips).to_be_visible()
    colour = clips.evaluate("item => getComputedStyle(item).color")
    weight = clips.evaluate("item => getComputedStyle(item).fontWeight")
    plain = page.get_by_role("main").evaluate("main => getComputedStyle(main).color")
    assert (colour, weight) != (plain, "400")


def test_a_whole_print_has_no_faults(
    visit: Visit, app: RunningApp, logged: LoggedSession, sounds: Sounds
) -> None:
    page = visit(app)
    new_pass(page, logged, "nothing wrong")
    attach_prints(page, sounds.close)
    whole = print_row(page, "close microphone.wav")
    expect(whole).to_contain_text("samples")
    expect(whole.locator(".fault")).to_have_count(0)


def test_a_text_that_only_claims_to_be_audio_is_named_and_the_others_are_kept(
    visit: Visit, app: RunningApp, logged: LoggedSession, sounds: Sounds
) -> None:
    page = visit(app, expected={422})
    new_pass(page, logged, "a wrong file among them")
    attach_prints(page, sounds.text, sounds.close)
    said = page.locator("#attach").get_by_text("not audio.wav")
    expect(said).to_be_visible()
    field = page.get_by_label("Audio files")
    expect(field).to_have_attribute("aria-invalid", "true")
    expect(field).to_have_accessible_description(re.compile("not audio.wav"))
    page.reload()
    expect(print_row(page, "close microphone.wav")).to_be_visible()
    expect(prints_of(page)).to_have_count(1)


def test_a_large_upload_shows_how_far_it_is(
    visit: Visit, app: RunningApp, logged: LoggedSession, tmp_path: Path
) -> None:
    page = visit(app)
    new_pass(page, logged, "a long one")
    with slow_uploads(page):
        attach_prints(page, silence(tmp_path / "long silence.wav", 80))
        bar = page.get_by_role("progressbar", name="Upload")
        expect(bar).to_be_visible()
        expect(
            page.get_by_role("status").filter(has_text=re.compile(r"[\d.]+\s[kM]B of 23\sMB sent"))
        ).to_be_visible()
        expect(page.get_by_role("button", name="Attach")).to_be_disabled()
        seen = bar.evaluate("bar => bar.value")
        assert 0 <= seen < 1
        page.wait_for_function("before => document.querySelector('progress')?.value > before", arg=seen)
        expect(print_row(page, "long silence.wav")).to_be_visible()
    expect(print_row(page, "long silence.wav").get_by_text("is silent: nothing came back")).to_be_visible()


def test_a_photo_that_is_none_gets_a_sentence_at_its_field(
    visit: Visit, app: RunningApp, logged: LoggedSession, tmp_path: Path
) -> None:
    page = visit(app, expected={422})
    drawing = tmp_path / "panel.svg"
    drawing.write_text('<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>')
    page.goto(logged.pass_one)
    unfold(page, "Add a photo")
    field = page.get_by_label("Photo", exact=True)
    field.set_input_files(drawing)
    press(page, "Add the photo")
    expect(field).to_have_attribute("aria-invalid", "true")
    expect(field).to_have_accessible_description(re.compile("panel.svg"))
    expect(page.get_by_role("main").get_by_role("img", name="Photo 1")).to_have_count(0)


@contextmanager
def slow_uploads(page: Page) -> Iterator[None]:
    session = page.context.new_cdp_session(page)
    session.send("Network.enable")
    session.send(
        "Network.emulateNetworkConditions",
        {"offline": False, "latency": 0, "downloadThroughput": -1, "uploadThroughput": SLOW_BYTES_PER_S},
    )
    yield
    session.detach()
