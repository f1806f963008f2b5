"""Levels, microphones, ears and calibration as a person meets them, at a desk and on a phone."""

from collections.abc import Iterator

import level_session
import pytest
from level_session import LevelSession
from person import press, unfold
from playwright.sync_api import Locator, Page, expect
from running_app import RunningApp, running
from watched_browser import PHONE_PX, Visit, overflow_px

from app.library import Library

WALKS = 4


@pytest.fixture(scope="module")
def walked(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[RunningApp, Iterator[LevelSession]]]:
    """A running app, and for each walk a pass of its own whose gear says what the levels ask of it."""
    folder = tmp_path_factory.mktemp("levels")
    library = Library.open(folder / "library")
    sessions = [level_session.fill(library) for _ in range(WALKS)]
    library.close()
    with running(folder / "library", folder / "log.txt") as started:
        yield started, iter(sessions)


def answer(page: Page, label: str) -> Locator:
    """What stands under a figure's label."""
    return page.locator("dl.levels > div").filter(has=page.get_by_text(label, exact=True))


def test_from_an_open_level_to_the_recall_sheet(
    visit: Visit, walked: tuple[RunningApp, Iterator[LevelSession]], width: int
) -> None:
    app, logged = walked[0], next(walked[1])
    page = visit(app, width=width, expected={422})
    page.goto(f"/passes/{logged.pass_id}")
    page.get_by_role("link", name="Levels").click()
    expect(answer(page, "DAW trim to send with")).to_contain_text("typical")

    page.get_by_label("Loss of the DI box, dB").fill("many")
    press(page, "Save the levels")
    expect(page.get_by_text("is not a level in dB").first).to_be_visible()
    expect(page.get_by_label("Loss of the DI box, dB")).to_have_value("many")
    page.get_by_label("Loss of the DI box, dB").fill("20 dB")
    page.get_by_label("Trim of passive re-amp box, dB").fill("−6")
    page.get_by_label("DAW trim as it stands, dB").fill("−3")
    press(page, "Save the levels")

    # By hand: −6 + 18 − 30 + 20 = +2 dBu; −6 − 3 + 18 − 12 − 6 − 0.1 = −9.1 dBu; 2 + 9.1 − 3 = +8.1 dB.
    expect(answer(page, "Instrument peak").first).to_contain_text("+2.0 dBu ± 2.1 dB")
    expect(answer(page, "Peak behind the box with the DAW at −3.0 dB")).to_contain_text("−9.1 dBu")
    expect(answer(page, "DAW trim to send with")).to_contain_text("+8.1 dB")
    expect(page.get_by_text("the converter clips before the amp sees that level")).to_be_visible()
    formula = answer(page, "Peak behind the box with the DAW at −3.0 dB").locator("details")
    formula.locator("summary").click()
    expect(formula).to_contain_text("−6.0 − 3.0 + 18.0 − 12.0 − 6.0 − 0.1 = −9.1")
    expect(page.get_by_role("img", name="Level diagram").locator("visible=true")).to_have_count(1)
    assert overflow_px(page) <= 0

    unfold(page, "More")
    page.get_by_role("link", name="Recall sheet").click()
    expect(page.get_by_role("heading", name="As planned")).to_be_visible()
    expect(page.get_by_text("passive re-amp box: DAW trim to send with")).to_be_visible()


def test_calibrating_an_output_and_its_input(
    visit: Visit, walked: tuple[RunningApp, Iterator[LevelSession]]
) -> None:
    app, logged = walked[0], next(walked[1])
    page = visit(app, expected={422})
    page.goto(f"/gear/{logged.interface}")
    page.get_by_role("link", name="Calibrate").click()
    with page.expect_download() as downloading:
        page.get_by_role("link", name="1 kHz at −18 dBFS").click()
    assert downloading.value.suggested_filename == "1 kHz at −18 dBFS, 48 kHz.wav"
    assert downloading.value.path().stat().st_size == 44 + 480_000 * 3

    page.get_by_label("The meter reads").fill("0")
    page.get_by_label("Unit", exact=True).select_option("dBV")
    press(page, "Save the measured output level")
    expect(page.get_by_text("That is 2.2 dB off: was the figure in dBV, not dBu")).to_be_visible()
    page.get_by_label("The meter reads").fill("0.95")
    page.get_by_label("Unit", exact=True).select_option("V rms")
    press(page, "Save the measured output level")
    # By hand: 20 log(0.95 / 0.7746) = +1.773 dBu at −18 dBFS.
    expect(page.locator("dl.facts")).to_contain_text("+19.77 dBu")
    page.get_by_label("The DAW reads, dBFS").fill("−15")
    press(page, "Save the looped input level")
    # By hand: +1.773 dBu read as −15 dBFS.
    expect(page.locator("dl.facts")).to_contain_text("+16.77 dBu")
    assert overflow_px(page) <= 0


def test_times_of_a_microphone_and_the_day_s_dose(
    visit: Visit, walked: tuple[RunningApp, Iterator[LevelSession]]
) -> None:
    app, logged = walked[0], next(walked[1])
    page = visit(app, width=PHONE_PX)
    page.goto(f"/passes/{logged.pass_id}")
    page.get_by_role("link", name="Microphones").click()
    # By hand: √(30² + 40²) = 50 mm; 0.05 m ÷ 343.2 m/s = 0.146 ms; 7.0 samples at 48 kHz.
    expect(page.get_by_role("row").filter(has_text="dynamic microphone")).to_contain_text("0.1467.0")
    page.get_by_text("Two microphones on two sources").click()
    page.get_by_label("From the microphone to its own source").fill("10 cm")
    page.get_by_label("From it to the other source").fill("25 cm")
    press(page, "Work out the rule")
    # By hand: 20 log 2.5 = 7.96 dB; 20 log(1.4 / 0.6) = 7.36 dB.
    expect(page.get_by_text("2.5:1, not kept.")).to_be_visible()
    expect(page.get_by_text("8.0 dB down; 7.4 dB of ripple remain")).to_be_visible()

    page.goto(f"/projects/{logged.project}")
    page.get_by_label("More of this project").click()
    page.get_by_role("link", name="Hearing").click()
    page.get_by_label("Level where you sit, dBA").fill("97")
    page.get_by_label("Minutes").fill("10")
    press(page, "Log it")
    # By hand: NIOSH allows 30 min at 97 dBA, OSHA 8 ÷ 2^(7/5) h = 3 h 2 min.
    expect(answer(page, "Dose by NIOSH")).to_contain_text("33 %")
    expect(answer(page, "Dose by NIOSH")).to_contain_text("20 min of it left today")
    expect(answer(page, "Dose by OSHA")).to_contain_text("5 %")
    expect(page.get_by_text("not a medical or legal judgement")).to_be_visible()
    assert overflow_px(page) <= 0
    page.get_by_role("link", name="Engine shed").first.click()
    expect(page.get_by_text("Hearing today: 10 min logged, NIOSH dose 33 %, OSHA dose 5 %")).to_be_visible()
