"""What a recall sheet and a session log repeat of the hook-up and the levels."""

import csv
import io
from dataclasses import replace

from level_session import LevelSession
from pypdf import PdfReader

from app.desk.passes.pass_sheets import read_pass
from app.desk.planning.hook_up import dismiss, entry_of, read_hook_up, save_plan
from app.desk.planning.levels import LevelsEntry, save_levels
from app.desk.recall.plan import read_recall_plan
from app.desk.sheets.session_log import read_session_log
from app.desk.sheets.sheets import recall_pdf, session_log_csv, session_log_pdf
from app.library import Library

REASON = "Made for it, and the fuse is out."


def planned(library: Library, logged: LevelSession) -> str:
    """A hook-up with a socket used twice, which is let stand; phantom power on; levels typed. Returns what was found."""
    sheet = read_hook_up(library, logged.pass_id)
    entry = entry_of(sheet)
    again = next(link for link in entry.links if link.target == f"{logged.amp}:in")
    phantom = sheet.phantom_inputs[0].ref
    save_plan(library, logged.pass_id, replace(entry, links=(*entry.links, again), phantom_on=(phantom,)))
    found = next(
        item
        for item in read_hook_up(library, logged.pass_id).findings
        if item.finding.rule == "port_used_twice"
    )
    dismiss(library, logged.pass_id, found.key, REASON)
    save_levels(library, logged.pass_id, LevelsEntry(recording_box_loss_db="20"))
    return found.finding.what


def text_of(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(pdf)).pages)


def test_a_pass_without_a_saved_plan_repeats_nothing(library: Library, logged: LevelSession) -> None:
    assert read_recall_plan(library, read_pass(library, logged.pass_id)) is None
    text = text_of(recall_pdf(library, read_pass(library, logged.pass_id)))
    assert "Cables" in text
    assert "Levels as planned" not in text


def test_levels_alone_are_repeated_without_cables(library: Library, logged: LevelSession) -> None:
    save_levels(library, logged.pass_id, LevelsEntry(recording_box_loss_db="20"))
    plan = read_recall_plan(library, read_pass(library, logged.pass_id))
    assert plan is not None
    assert plan.connections == ()
    (peak,) = [value for label, value in plan.levels if label == "Instrument peak"]
    assert peak.startswith("+2.0 dBu ± 2.1 dB · ")
    assert "V" in peak


def test_the_pdf_carries_cables_phantom_dismissals_and_levels(library: Library, logged: LevelSession) -> None:
    found = planned(library, logged)
    plan = read_recall_plan(library, read_pass(library, logged.pass_id))
    text = text_of(recall_pdf(library, read_pass(library, logged.pass_id), plan))
    for words in (
        "Cables: print to a new track",
        "passive re-amp box, instrument output 15-watt valve amp, input ¼-inch TS",
        "Phantom power on at: eight-channel interface, Input 1",
        f"Accepted: {found} {REASON}",
        "Levels as planned",
        # 2 + 6 - 18 + 12 + 0.172: the box sees two inputs of 1 MΩ side by side
        "passive re-amp box: DAW trim to send with +2.2 dB",
    ):
        assert words.casefold() in text.casefold(), words


def test_the_session_log_keeps_what_was_let_stand_and_why(library: Library, logged: LevelSession) -> None:
    planned(library, logged)
    log = read_session_log(library, logged.project)
    assert [item.reason for item in log.let_stand[logged.pass_id]] == [REASON]
    assert REASON in text_of(session_log_pdf(log))
    rows = list(csv.DictReader(io.StringIO(session_log_csv(log))))
    assert [row["reading"] for row in rows if row["about"] == "let stand"] == [REASON]
