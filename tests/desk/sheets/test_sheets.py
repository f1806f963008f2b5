from __future__ import annotations

import csv
import io
import re
import sys
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from pypdf import PdfReader

from app.desk.measuring.findings import Finding
from app.desk.measuring.measurements import NOT_ASKED, Measured
from app.desk.passes.pass_sheets import (
    KeeperSheet,
    PassSheet,
    PhotoSheet,
    PrintSheet,
    SettingSheet,
    StepSheet,
)
from app.desk.projects.projects import ProjectSheet
from app.desk.recall.keys import control_key
from app.desk.sheets.session_log import SessionLog, SourceLog, plugged
from app.desk.sheets.sheets import CSV_COLUMNS, recall_pdf, session_log_csv, session_log_pdf
from app.desk.unbroken import UNIT
from app.library import Library
from app.records import WorkState
from app.signal.figures import (
    AlignmentFigures,
    FaultFigures,
    FileFigures,
    LevelFigures,
    Overview,
    PrintFigures,
)
from app.trade.placements import Placement
from app.trade.readings import read
from app.trade.scales import ClockScale, ControlSpec, RangeScale

LOGGED = datetime(2026, 3, 1, 22, 30, tzinfo=UTC)
GAIN = ControlSpec("Gain", "knob", RangeScale(0, 10))
TONE = ControlSpec("Tone", "knob", ClockScale())
GROUND = ControlSpec("Audio ground", "switch", positions=("joined", "lifted"))
HOSTILE = (
    '#import "evil.typ"',
    "*bold* _slanted_ `raw` $x^2$",
    "#panic()",
    "\\ ] } ) // /* */",
    '</text><script>alert(1)</script>&amp;"',
    "@label <label> = heading",
    "../../etc/passwd",
    "🎸 日本語 עברית",
    "a\u0301\u200b\u202e",
    "\x00\x07\ufffe",
)


@pytest.fixture(scope="module")
def library(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Library]:
    opened = Library.open(tmp_path_factory.mktemp("library"))
    yield opened
    opened.close()


def setting(control_id: int, spec: ControlSpec, reading: str) -> SettingSheet:
    found = read(spec, reading)
    return SettingSheet(
        control_id, f"key{control_id}", spec, found.text, found.position, found.value, found.approximate
    )


def figures() -> PrintFigures:
    return PrintFigures(
        FileFigures(48_000, 1, 480_000, 10.0, "WAV", "PCM_24"),
        LevelFigures(-18.24, None, None, None, -3.06, -3.2, -21.0, 17.8, 0.0),
        (),
        FaultFigures(False, (), (), None, None, None, None),
        AlignmentFigures(37.25, 0.776, "inverted", 0.9, 0.0, True),
        Overview((), ()),
    )


def pass_sheet(
    number: int = 3, *, gain: str = "6.5", words: str = "jotted down", **changed: object
) -> PassSheet:
    amp = StepSheet(
        10 * number,
        1,
        1,
        1,
        "15-watt valve combo",
        "amp",
        "",
        (setting(1, GAIN, gain), setting(2, TONE, "half past 2"), setting(3, GROUND, "lifted")),
        None,
    )
    ribbon = StepSheet(
        10 * number + 1,
        2,
        2,
        1,
        "small ribbon microphone",
        "microphone",
        "",
        (SettingSheet(4, "key4", GAIN, "", None, None, False),),
        Placement(distance_mm=30.0, offset_mm=12.0, angle_deg=15.0),
    )
    found = (
        Finding("clipped", "fault", "clips at 1:03"),
        Finding("inverted", "note", "upside down against the source"),
    )
    sheet = PassSheet(
        number,
        number,
        "more gain",
        1,
        "bass",
        1,
        1,
        "Low Water",
        48_000,
        words,
        "line out 3 to the box",
        "−6 dB",
        1,
        LOGGED,
        LOGGED,
        (amp, ribbon),
        (
            PrintSheet(
                1,
                "ribbon",
                10 * number + 1,
                1,
                "take 3.wav",
                "0" * 64,
                99,
                Measured(WorkState.DONE, "", figures(), found),
            ),
        ),
        (),
        (),
    )
    return replace(sheet, **changed)  # type: ignore[arg-type]


def session(*passes: PassSheet, title: str = "Low Water") -> SessionLog:
    project = ProjectSheet(1, title, "an invented trio", 48_000, "two tides", LOGGED, ())
    return SessionLog(
        project, (SourceLog(1, "bass", "flat-wound strings", passes), SourceLog(2, "organ", "", ()))
    )


def text_of(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(pdf)).pages)


def table_of(log: SessionLog) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(session_log_csv(log), newline="")))


def test_a_recall_sheet_holds_all_that_is_needed_at_the_amp(library: Library) -> None:
    said = text_of(recall_pdf(library, pass_sheet()))
    for words in (
        "bass, pass 3: more gain",
        "15-watt valve combo",
        "Gain 6.5",
        "half past 2",
        "lifted",
        "Not noted: Gain",
        "30 mm from the grille, 12 mm off centre, 15° off axis",
        "line out 3 to the box",
        "jotted down",
        "−18.2",
        "−3.1",
        "37.2",
        "inverted",
        "clips at 1:03",
        "1 of 1",
    ):
        assert words in said


def test_no_line_of_a_sheet_breaks_between_a_figure_and_its_unit(library: Library) -> None:
    lines = "\n".join(
        page.extract_text() for page in PdfReader(io.BytesIO(recall_pdf(library, pass_sheet()))).pages
    )
    assert "30\u00a0mm" in lines
    assert not re.search(rf"[0-9]\s*\n\s*{UNIT}", lines)


def test_what_differs_from_how_the_gear_stands_is_printed_beside_it(library: Library) -> None:
    sheet = pass_sheet()
    step = sheet.steps[0]
    key = control_key(step.step_id, step.settings[0].control_id)
    assert "now 4" in text_of(recall_pdf(library, sheet, now={key: "4"}))
    assert "now" not in text_of(recall_pdf(library, sheet)).split()


def test_a_position_is_shown_on_every_scale_beside_what_was_read(library: Library) -> None:
    assert "6.5 · 1:30 · 65 %" in text_of(recall_pdf(library, pass_sheet()))


def test_cautions_stand_on_the_recall_sheet_of_a_valve_amp(library: Library) -> None:
    assert "before a valve amp gets power" in text_of(recall_pdf(library, pass_sheet()))


def test_keepers_say_their_part_and_reason(library: Library) -> None:
    sheet = pass_sheet(keepers=(KeeperSheet(1, "left", "it growls", LOGGED),))
    assert "Keeper: left – it growls" in text_of(recall_pdf(library, sheet))
    said = text_of(session_log_pdf(session(sheet)))
    assert "keeper: left" in said
    assert "Keeper: left – it growls" in said


def test_a_photo_is_printed_and_one_whose_file_is_missing_is_left_out(library: Library) -> None:
    photo = io.BytesIO()
    Image.new("RGB", (64, 48), (180, 60, 40)).save(photo, "JPEG")
    photo.seek(0)
    there = PhotoSheet(1, "the combo", 64, 48, None, library.files.take_in(photo).sha256)
    gone = PhotoSheet(2, "gone", 64, 48, None, "f" * 64)
    pdf = recall_pdf(library, pass_sheet(photos=(there, gone)))
    images = [image for page in PdfReader(io.BytesIO(pdf)).pages for image in page.images]
    assert [image.image.size for image in images if image.image is not None] == [(64, 48)]
    assert "the combo" in text_of(pdf)
    assert "gone" not in text_of(pdf)


@pytest.mark.parametrize(("unit", "size"), [("mm", (595.28, 841.89)), ("in", (612.0, 792.0))])
def test_paper_goes_with_the_unit_of_length(library: Library, unit: str, size: tuple[float, float]) -> None:
    pdf = recall_pdf(library, pass_sheet(), unit=unit)  # type: ignore[arg-type]
    page = PdfReader(io.BytesIO(pdf)).pages[0].mediabox
    assert (float(page.width), float(page.height)) == pytest.approx(size, abs=0.1)
    log = PdfReader(io.BytesIO(session_log_pdf(session(pass_sheet()), unit=unit))).pages[0].mediabox  # type: ignore[arg-type]
    assert (float(log.height), float(log.width)) == pytest.approx(size, abs=0.1)


def test_distances_are_printed_in_the_persons_unit(library: Library) -> None:
    sheet = pass_sheet()
    assert "1.18 in from the grille" in text_of(recall_pdf(library, sheet, unit="in"))
    assert "1.18 in from the grille" in text_of(session_log_pdf(session(sheet), unit="in"))
    assert any(
        "1.18 in" in row["reading"]
        for row in csv.DictReader(io.StringIO(session_log_csv(session(sheet), unit="in")))
    )


def test_the_same_pass_gives_the_same_bytes(library: Library) -> None:
    assert recall_pdf(library, pass_sheet()) == recall_pdf(library, pass_sheet())
    assert session_log_pdf(session(pass_sheet())) == session_log_pdf(session(pass_sheet()))


@pytest.mark.parametrize("title", ['#import "evil.typ" *bold* @label', "\x00🎸 日本語 עברית\u202e"])
def test_words_are_printed_and_never_read_as_markup(library: Library, title: str) -> None:
    spec = ControlSpec("Odd", "text")
    steps = tuple(
        StepSheet(
            n, n, n, 1, words, "pedal", words, (SettingSheet(n, "k", spec, words, None, None, False),), None
        )
        for n, words in enumerate(HOSTILE)
    )
    sheet = pass_sheet(
        title=title,
        source_name=title,
        project_title=title,
        notes="\n".join(HOSTILE),
        hook_up="\n".join(HOSTILE),
        levels="\n".join(HOSTILE),
        steps=steps,
        keepers=tuple(KeeperSheet(n, words, words, LOGGED) for n, words in enumerate(HOSTILE)),
    )
    for pdf in (recall_pdf(library, sheet), session_log_pdf(session(sheet, title=title))):
        said = "".join(text_of(pdf).split())
        for words in HOSTILE:
            if words.isascii() and words.isprintable():
                assert "".join(words.split()) in said


@settings(max_examples=8, deadline=None)
@given(words=st.text(max_size=60))
def test_any_words_can_be_printed(library: Library, words: str) -> None:
    words = words.encode("utf-8", "replace").decode()
    assert recall_pdf(library, pass_sheet(title=words, words=words)).startswith(b"%PDF")


def test_the_process_that_asks_for_a_sheet_stays_small(library: Library) -> None:
    assert recall_pdf(library, pass_sheet()).startswith(b"%PDF")
    assert "typst" not in sys.modules


def test_ten_thousand_characters_fill_pages_and_lose_none(library: Library) -> None:
    words = " ".join(f"w{number:04d}" for number in range(1_700))
    pdf = recall_pdf(library, pass_sheet(words=words))
    assert len(PdfReader(io.BytesIO(pdf)).pages) > 2
    assert set(words.split()) <= set(text_of(pdf).split())


def test_an_empty_pass_and_an_empty_project_can_be_printed(library: Library) -> None:
    empty = pass_sheet(steps=(), prints=(), notes="", hook_up="", levels="", title="")
    said = text_of(recall_pdf(library, empty))
    assert "No print was attached" in said
    assert "Not noted." in said
    assert "No source track yet" in text_of(session_log_pdf(replace(session(), sources=())))
    assert session_log_csv(replace(session(), sources=())).splitlines() == [",".join(CSV_COLUMNS)]


def test_a_print_that_is_not_measured_says_so(library: Library) -> None:
    item = replace(
        pass_sheet().prints[0],
        measured=Measured(WorkState.FAILED, "The file ends in the middle of a sample."),
    )
    assert "middle of a sample" in text_of(recall_pdf(library, pass_sheet(prints=(item,))))
    item = replace(item, measured=NOT_ASKED)
    assert recall_pdf(library, pass_sheet(prints=(item,))).startswith(b"%PDF")


def test_the_session_log_holds_every_pass_of_every_source() -> None:
    passes = [pass_sheet(number, gain=str(number % 10), title=f"try {number}") for number in range(1, 21)]
    said = text_of(session_log_pdf(session(*passes)))
    for number in range(1, 21):
        assert f"try {number}" in said
    assert "organ" in said
    assert "No pass logged" in said


def test_hook_up_is_printed_once_while_it_stays_the_same() -> None:
    passes = [pass_sheet(number) for number in (1, 2, 3)]
    said = text_of(session_log_pdf(session(*passes)))
    assert said.count("line out 3 to the box") == 1
    assert "as pass 1." in said
    moved = replace(passes[2], hook_up="through the red cable")
    assert "through the red cable" in text_of(session_log_pdf(session(*passes[:2], moved)))


def test_what_stands_as_it_did_names_the_pass_that_it_stands_as() -> None:
    first, second, third = (pass_sheet(number) for number in (1, 2, 3))
    moved = replace(second, hook_up="through the red cable")
    back = replace(third, hook_up="through the red cable", levels="")
    found = plugged((first, moved, back))
    assert (found[0].hook_up, found[0].levels, found[0].as_before) == (first.hook_up, first.levels, "")
    assert (found[1].hook_up, found[1].levels) == ("through the red cable", "")
    assert found[1].as_before == "Levels as pass 1."
    assert (found[2].hook_up, found[2].as_before) == ("", "Hook-up as pass 2.")


def test_the_log_shows_the_first_pass_in_full_and_then_what_changed() -> None:
    passes = [pass_sheet(number, gain=gain) for number, gain in ((1, "3"), (2, "3"), (3, "7"))]
    said = text_of(session_log_pdf(session(*passes)))
    assert said.count("half past 2") == 1
    assert "Gain 3 7" in " ".join(said.split())


def test_many_passes_are_printed_in_columns_side_by_side() -> None:
    passes = [pass_sheet(number, gain=str(number % 10)) for number in range(1, 61)]
    said = text_of(session_log_pdf(session(*passes)))
    assert all(f"Pass {number}" in said for number in range(1, 61))


def test_a_sheet_is_tagged_for_screen_readers_and_says_its_title(library: Library) -> None:
    reader = PdfReader(io.BytesIO(recall_pdf(library, pass_sheet())))
    assert reader.metadata is not None
    assert reader.metadata.title == "Recall sheet: bass, pass 3: more gain"
    assert reader.trailer["/Root"]["/MarkInfo"]["/Marked"] == True  # noqa: E712  # a PDF boolean, not Python's
    assert reader.trailer["/Root"]["/Lang"] == "en-GB"


def test_the_table_has_a_row_for_each_setting_with_its_place_and_value() -> None:
    rows = table_of(session(pass_sheet()))
    (gain,) = [row for row in rows if row["about"] == "setting" and row["item"] == "Gain"]
    assert gain == {
        "project": "Low Water",
        "source": "bass",
        "pass": "3",
        "title": "more gain",
        "logged": f"{LOGGED.astimezone():%Y-%m-%d %H:%M}",
        "about": "setting",
        "gear": "15-watt valve combo",
        "kind": "amp",
        "branch": "",
        "item": "Gain",
        "reading": "6.5",
        "travel_percent": "65.0",
        "value": "6.5",
        "unit": "",
    }


def test_the_table_has_the_measures_as_numbers_with_their_units() -> None:
    rows = {row["item"]: row for row in table_of(session(pass_sheet())) if row["about"] == "print"}
    assert (rows["loudness"]["value"], rows["loudness"]["unit"]) == ("-18.24", "LUFS")
    assert (rows["true peak"]["value"], rows["true peak"]["unit"]) == ("-3.06", "dBTP")
    assert (rows["delay"]["value"], rows["delay"]["unit"]) == ("37.25", "samples")
    assert rows["polarity"]["reading"] == "inverted"
    assert rows["fault"]["reading"] == "clips at 1:03"
    assert rows["loudness"]["gear"] == "small ribbon microphone"


@pytest.mark.parametrize(
    "words", ['=HYPERLINK("x")', "+1+1", "-2+3", "@SUM(A1)", "\tx", "\rx", "＝1", "－1", "＋1", "＠x"]
)
def test_words_that_look_like_a_formula_are_disarmed(words: str) -> None:
    sheet = pass_sheet(title=words, notes=words, keepers=(KeeperSheet(1, words, words, LOGGED),))
    cells = [cell for row in table_of(session(sheet, title=words)) for cell in row.values()]
    assert "'" + words in cells
    assert words not in cells


def test_other_words_and_negative_numbers_stand_as_they_are() -> None:
    sheet = pass_sheet(words='six, "and" a\nhalf')
    cells = [cell for row in table_of(session(sheet)) for cell in row.values()]
    assert 'six, "and" a\nhalf' in cells
    assert "-18.24" in cells


def test_the_sheets_need_no_font_of_the_machine(library: Library) -> None:
    reader = PdfReader(io.BytesIO(recall_pdf(library, pass_sheet())))
    kept = (reader.get_object(number) for number in range(1, reader.trailer["/Size"]))
    fonts = {item["/FontName"] for item in kept if isinstance(item, dict) and "/FontName" in item}
    assert fonts
    assert all("AtkinsonHyperlegibleNext" in font for font in fonts)
