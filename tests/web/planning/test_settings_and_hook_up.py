"""The pass's settings and its hook-up say the same, whichever of the two was changed."""

import io
import re
import zipfile
from dataclasses import replace

import pytest
from fastapi.testclient import TestClient
from page_client import client_of
from pypdf import PdfReader
from small_session import SmallSession, correct, step_of

from app.desk.passes import passes
from app.desk.passes.pass_sheets import read_pass
from app.desk.passes.passes import PassEntry
from app.desk.planning import hook_up
from app.desk.planning.hook_up import entry_of, read_hook_up, save_plan
from app.desk.recall.plan import read_recall_plan
from app.desk.sheets.session_log import read_session_log
from app.desk.sheets.sheets import session_log_csv
from app.desk.shelf import gear
from app.library import Library
from app.trade.hook_up import PortRef


@pytest.fixture
def logged(filled: Library, session: SmallSession) -> tuple[int, int]:
    """A pass through an interface whose settings say output 4, input 2, phantom power on; and the interface."""
    interface = gear.add_gear(filled, gear.starting_entry("interface"))
    said = {"Output used": "4", "Input used": "2", "Phantom power": "on"}
    condenser = gear.add_gear(filled, gear.starting_entry("condenser_microphone"))
    combo = gear.add_gear(filled, gear.starting_entry("combo"))
    chain = (
        step_of(filled, interface, said),
        *(step_of(filled, gear_id) for gear_id in (session.box, combo, condenser)),
    )
    return passes.log_pass(filled, session.bass, PassEntry(steps=chain)), interface


def settings(library: Library, pass_id: int) -> dict[str, str]:
    return {line.name: line.reading for step in read_pass(library, pass_id).steps for line in step.settings}


def sockets(library: Library, pass_id: int) -> tuple[list[str], list[str], list[str]]:
    sheet = read_hook_up(library, pass_id)
    return (
        [ref.port for ref in sheet.hook_up.daw.send_outputs],
        [ref.port for ref in sheet.hook_up.daw.return_inputs],
        sorted(ref.port for ref in sheet.hook_up.phantom_on),
    )


def test_what_the_pass_says_is_how_it_is_hooked_up(filled: Library, logged: tuple[int, int]) -> None:
    made, _ = logged
    assert sockets(filled, made) == (["out4"], ["in2"], ["in2"])
    save_plan(filled, made, entry_of(read_hook_up(filled, made)))
    entry = passes.entry_of(filled, made)
    ids = {line.name: line.control_id for line in read_pass(filled, made).steps[0].settings}
    turned = entry.steps[0].readings | {ids["Output used"]: "3", ids["Phantom power"]: "off"}
    steps = (replace(entry.steps[0], readings=turned), *entry.steps[1:])
    correct(filled, made, replace(entry, steps=steps))
    assert sockets(filled, made) == (["out3"], ["in2"], [])


def test_what_is_changed_in_the_hook_up_is_set_on_the_pass_as_a_correction_of_it(
    filled: Library, logged: tuple[int, int]
) -> None:
    made, interface = logged
    before = read_pass(filled, made)
    typed = entry_of(read_hook_up(filled, made))
    links = tuple(
        replace(link, source=f"{interface}:out3") if link.source == f"{interface}:out4" else link
        for link in typed.links
    )
    save_plan(filled, made, replace(typed, links=links, phantom_on=()))
    said = settings(filled, made)
    assert (said["Output used"], said["Input used"], said["Phantom power"]) == ("3", "2", "off")
    assert sockets(filled, made) == (["out3"], ["in2"], [])
    assert read_pass(filled, made).revision == before.revision + 1


def test_a_plan_that_says_what_the_pass_says_edits_nothing(filled: Library, logged: tuple[int, int]) -> None:
    made, _ = logged
    before = read_pass(filled, made).revision
    save_plan(filled, made, entry_of(read_hook_up(filled, made)))
    assert read_pass(filled, made).revision == before


def test_a_setting_that_was_not_noted_is_noted_with_the_plan(
    filled: Library, session: SmallSession, logged: tuple[int, int]
) -> None:
    _, interface = logged
    steps = tuple(step_of(filled, gear_id) for gear_id in (interface, session.box, session.fuzz))
    made = passes.log_pass(filled, session.bass, PassEntry(steps=steps))
    assert settings(filled, made)["Output used"] == ""
    hook_up.wire_anew(filled, made)
    assert settings(filled, made)["Output used"] == "3"


def test_every_page_and_sheet_says_the_same_of_sockets_and_phantom_power(
    filled: Library, session: SmallSession, logged: tuple[int, int]
) -> None:
    made, interface = logged
    pages = client_of(filled)
    save_plan(filled, made, entry_of(read_hook_up(filled, made)))
    for output, other in (("4", "3"), ("3", "4")):
        typed = entry_of(read_hook_up(filled, made))
        links = tuple(
            replace(link, source=f"{interface}:out{output}")
            if link.source.startswith(f"{interface}:")
            else link
            for link in typed.links
        )
        save_plan(filled, made, replace(typed, links=links))
        for page in (f"/passes/{made}/hook-up", f"/passes/{made}/recall"):
            text = re.sub(
                r"<select.*?</select>|<fieldset.*?</fieldset>", "", pages.get(page).text, flags=re.S
            )
            assert f"output {output}" in text, page
            assert f"output {other}" not in text, page
        assert f"the interface’s output {output}" in pages.get(f"/passes/{made}/hook-up").text
        recall = read_recall_plan(filled, read_pass(filled, made))
        assert recall is not None
        assert any(f"output {output}" in row.from_text for row in recall.connections)
        assert [words.rpartition(", ")[2] for words in recall.phantom_at] == ["Input 2"]
        assert settings(filled, made)["Output used"] == output
        assert f"Output used,{output}," in session_log_csv(read_session_log(filled, session.project))
        for name, words in _sheets_and_bundle(pages, made, session.project).items():
            before = r"Output used(?: |·|–|not in the chain|not noted)+"
            assert f"output {output}" in words or re.search(before + output, words), name
            assert f"Interface, output {other}" not in words, name
            assert not re.search(before + other, words), name


def _sheets_and_bundle(pages: TestClient, pass_id: int, project_id: int) -> dict[str, str]:
    bundle = pages.post(f"/projects/{project_id}/hand-on", data={"audio": "none"}).content
    with zipfile.ZipFile(io.BytesIO(bundle)) as archive:
        page = next(name for name in archive.namelist() if name.endswith(".html"))
        offline = archive.read(page).decode()
    return {
        "recall PDF": _pdf(pages.get(f"/passes/{pass_id}/recall.pdf").content),
        "log PDF": _pdf(pages.get(f"/projects/{project_id}/log.pdf").content),
        "bundle": re.sub(r"<[^>]+>|\s+", " ", offline),
    }


def _pdf(content: bytes) -> str:
    return " ".join(" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(content)).pages)


def test_a_chain_that_changed_is_rewired_in_one_line_that_can_be_undone(
    filled: Library, session: SmallSession
) -> None:
    chain = (session.interface, session.box, session.fuzz, session.amp, session.cabinet, session.near_mic)
    entry = PassEntry(steps=tuple(step_of(filled, gear_id) for gear_id in chain))
    first = passes.log_pass(filled, session.bass, entry)
    save_plan(filled, first, entry_of(read_hook_up(filled, first)))
    next_one = passes.entry_for_next(filled, session.bass, first)
    made = passes.log_pass(filled, session.bass, passes.without_step(next_one, 2))
    sheet = read_hook_up(filled, made)
    assert sheet.rewired == (
        "gone: re-amp box to gear that left, gear that left to 15-watt valve combo; "
        "new: re-amp box to 15-watt valve combo"
    )
    assert "connection_to_missing_gear" not in {item.finding.rule for item in sheet.findings}
    recall = read_recall_plan(filled, read_pass(filled, made))
    assert recall is not None
    assert recall.connections == sheet.connections
    hook_up.keep_as_drawn(filled, made)
    undone = read_hook_up(filled, made)
    assert undone.rewired == ""
    missing = [item for item in undone.findings if item.finding.rule == "connection_to_missing_gear"]
    assert len(missing) == 1, "one line for all that lead to gear that left"
    hook_up.wire_anew(filled, made)
    assert read_hook_up(filled, made).connections == sheet.connections
    assert PortRef(str(session.box), "out") in {link.source for link in read_hook_up(filled, made).plan.links}
