"""A phone syncs its pictures into a folder: what is open shows them by itself."""

from pathlib import Path

from already_logged import AMP
from made_audio import Sounds
from person import add_to_chain, begin_project, bring_in_source, press
from PIL import Image
from playwright.sync_api import expect
from running_app import RunningApp
from watched_browser import PHONE_PX, Visit

SYNCED_MS = 20_000
"""Two looks at the folder, two seconds apart, and a decoder that has to start."""


def test_a_synced_picture_shows_at_the_desk_and_on_the_phone_by_itself(
    visit: Visit, app: RunningApp, sounds: Sounds, tmp_path: Path
) -> None:
    synced = tmp_path / "from the phone"
    synced.mkdir()
    desk = visit(app)
    begin_project(desk, "Pictures by themselves")
    project = desk.url
    bring_in_source(desk, sounds.source, "photographed line")
    source = desk.url
    desk.goto(f"{source}/passes/new")
    desk.get_by_label("Title").fill("the pass before")
    add_to_chain(desk, AMP, "amp")
    press(desk, "Save the pass")
    desk.goto(f"{project}/printing")
    desk.get_by_label("Folder", exact=True).fill(str(synced))
    press(desk, "Watch this folder")
    expect(desk.get_by_text("Pictures are taken in as well")).to_be_visible()

    desk.goto(f"{project}/inbox")
    Image.new("RGB", (640, 480), "#446655").save(synced / "IMG 1.jpg")
    offer = desk.get_by_role("article").filter(has=desk.get_by_role("heading", name="A picture"))
    expect(offer.get_by_role("img", name="IMG 1.jpg")).to_be_visible(timeout=SYNCED_MS)
    offer.get_by_role("button", name="To the next pass").click()
    expect(desk.locator("#draft-photos img")).to_have_count(1)

    phone = visit(app, width=PHONE_PX, touch=True)
    phone.goto(f"{source}/passes/new")
    expect(phone.locator("#draft-photos img")).to_have_count(1)
    desk.goto(source)
    desk.keyboard.press("n")
    row = desk.locator(".open-cell.photos-cell img")
    expect(row).to_have_count(1)
    desk.get_by_label("Title of pass").fill("typed meanwhile")
    Image.new("RGB", (640, 480), "#664455").save(synced / "IMG 2.png")
    expect(row).to_have_count(2, timeout=SYNCED_MS)
    expect(desk.get_by_label("Title of pass")).to_have_value("typed meanwhile")
    expect(phone.locator("#draft-photos img")).to_have_count(2)

    phone.get_by_role("button", name="Take off").nth(1).click()
    expect(phone.locator("#draft-photos img")).to_have_count(1)
    desk.goto(f"{project}/inbox")
    expect(desk.get_by_role("img", name="IMG 2.png")).to_be_visible()
    expect(desk.get_by_role("link", name="The next pass of photographed line")).to_be_visible()
    desk.get_by_role("article").get_by_role("button", name="Not wanted").click()
    expect(desk.get_by_role("article")).to_have_count(0)
    desk.goto(f"{project}/printing")
    desk.get_by_role("link", name="Watch it no more").click()
    desk.get_by_role("button").filter(has_text="no more").click()
    expect(desk.get_by_role("heading", level=1)).to_have_text("Printing")
    expect(desk.get_by_text(str(synced))).to_have_count(0)
