"""The session log's CSV as a spreadsheet reads it (Gnumeric's ssconvert): every cell, and not one formula."""

import csv
import gzip
import io
import subprocess
from dataclasses import dataclass
from pathlib import Path

from lxml import etree
from small_session import SmallSession

from app.desk.passes.notes import NoteEntry, note_pass
from app.desk.sheets.session_log import read_session_log
from app.desk.sheets.sheets import session_log_csv
from app.library import Library

GNUMERIC = {"g": "http://www.gnumeric.org/v10.dtd"}
NUMBER, TEXT = "40", "60"
"""GnmValueType in Gnumeric's file format."""
WRITTEN = (
    '=HYPERLINK("http://nowhere.example","a prize")',
    "+1+1",
    "-2+3",
    "@SUM(A1:A9)",
    'two\nlines, a comma and "quotes"',
    "日本語 🎸",
)


@dataclass(frozen=True)
class Cell:
    text: str
    kind: str | None


def read_by_spreadsheet(table: str, folder: Path) -> dict[tuple[int, int], Cell]:
    written, read = folder / "log.csv", folder / "log.gnumeric"
    written.write_bytes(table.encode())
    command = ("ssconvert", "--import-encoding=UTF-8", written, read)
    subprocess.run(command, check=True, capture_output=True)
    document = etree.fromstring(gzip.decompress(read.read_bytes()))
    return {
        (int(cell.get("Row")), int(cell.get("Col"))): Cell(cell.text or "", cell.get("ValueType"))
        for cell in document.iterfind(".//g:Cell", GNUMERIC)
    }


def test_a_spreadsheet_shows_what_was_written_and_computes_nothing(
    filled: Library, session: SmallSession, tmp_path: Path
) -> None:
    for words in WRITTEN:
        note_pass(filled, session.passes[0], NoteEntry(words))
    table = session_log_csv(read_session_log(filled, session.project))
    cells = read_by_spreadsheet(table, tmp_path)
    rows = list(csv.reader(io.StringIO(table, newline="")))
    assert len({row for row, _ in cells}) == len(rows)
    assert all(cell.kind is not None for cell in cells.values()), "a formula has no type of its own"
    shown = {cell.text for cell in cells.values()}
    assert set(WRITTEN) <= shown
    for column in ("travel_percent", "value"):
        at = rows[0].index(column)
        for index, row in enumerate(rows[1:], start=1):
            if row[at]:
                assert cells[index, at].kind == NUMBER, row
                assert abs(float(cells[index, at].text) - float(row[at])) < 1e-9
    readings = rows[0].index("reading")
    for index, row in enumerate(rows[1:], start=1):
        cell = cells.get((index, readings))
        if cell is not None and cell.kind == TEXT:
            assert cell.text == row[readings].removeprefix("'")


def test_without_its_care_a_spreadsheet_would_compute(tmp_path: Path) -> None:
    cells = read_by_spreadsheet("words\r\n=1+1\r\n", tmp_path)
    assert cells[1, 0].kind is None
