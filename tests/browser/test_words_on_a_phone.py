"""What is kept as words on a phone belongs to the pass that is being jotted, whatever stands open at the desk."""

from already_logged import LoggedSession
from person import press
from playwright.sync_api import expect
from running_app import RunningApp
from watched_browser import PHONE_PX, Visit


def test_a_remark_kept_on_the_phone_does_not_slip_into_the_next_column_at_the_desk(
    visit: Visit, app: RunningApp, logged: LoggedSession
) -> None:
    desk, phone = visit(app), visit(app, width=PHONE_PX, touch=True)
    desk.goto(f"{logged.source}?column=open")
    phone.goto("/next")
    notes, number = desk.locator("#notes"), desk.locator("#open-head .pass-number")
    jotted = int(number.inner_text().removeprefix("Pass "))
    phone.get_by_label("Jot", exact=True).fill("bass 8, sounds wide")
    press(phone, "Keep as words")
    expect(phone.get_by_label("Notes", exact=True)).to_have_value("bass 8, sounds wide")
    expect(notes).to_have_value("bass 8, sounds wide")
    with desk.expect_response("**/ledger?*"):
        press(phone, "Save the pass")
    expect(phone.get_by_role("heading", level=1)).to_have_text(f"Pass {jotted}")
    expect(number).to_have_text(f"Pass {jotted + 1}")
    expect(notes).to_have_value("")
    desk.wait_for_timeout(1000)  # longer than the pause after which what is typed is sent
    desk.reload()
    expect(notes).to_have_value("")
    expect(desk.locator("#draft-state")).to_be_empty()
