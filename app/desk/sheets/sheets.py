"""Sheets to print or hand over: the recall sheet and the session log as PDF, the session log as CSV.

They are made from the same dataclasses and the same drawings as the pages. `typst/*.typ` say how they are set; what
people wrote reaches those as JSON and is never read as markup.
"""

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any

from app.desk.passes.ledger import Cell, Ledger, MeasureRow, build_ledger, tenths
from app.desk.passes.pass_sheets import PassSheet, PrintSheet, SettingSheet, StepSheet
from app.desk.passes.passes import all_readings
from app.desk.photos.pins import PinLine
from app.desk.planning.pass_drawings import draw_pass
from app.desk.processes.typesetting import FOLDER, set_pdf
from app.desk.recall.keys import control_key, placement_key
from app.desk.recall.plan import RecallPlan, cautions_of
from app.desk.sheets.session_log import SessionLog, SourceLog, plugged
from app.drawings.marks import control_mark
from app.drawings.svg import LETTERS, Drawing
from app.drawings.wording import hertz
from app.library import Readable
from app.trade.distances import LengthUnit
from app.trade.gear_kinds import kind_word
from app.trade.placements import describe

FACE = "Atkinson Hyperlegible Next"
INK = "#1b2330"
PAPERS: dict[LengthUnit, str] = {"mm": "a4", "in": "us-letter"}
PASSES_ACROSS = 8
CHAIN_WIDTH_PX = 860
PHOTO_WIDTH_MM, PHOTO_HEIGHT_MM = 88, 64

Json = dict[str, Any]
NOTHING_DIFFERS: Mapping[str, str] = {}
NO_PINS: Mapping[int, Sequence[PinLine]] = {}


def recall_pdf(
    library: Readable,
    sheet: PassSheet,
    plan: RecallPlan | None = None,
    *,
    to_touch: str = "",
    now: Mapping[str, str] = NOTHING_DIFFERS,
    pins: Mapping[int, Sequence[PinLine]] = NO_PINS,
    unit: LengthUnit = "mm",
) -> bytes:
    """The recall sheet of a pass, on A4, or on US letter for those who measure in inches; with its cables and levels
    where these were saved, what differs from how the gear stands (`now` says how, by the item's key), and the pins of its
    photos."""
    drawings = draw_pass(sheet, unit=unit, width=CHAIN_WIDTH_PX)
    heading = f"{sheet.source_name}, {sheet.name[:1].lower()}{sheet.name[1:]}"
    document = {
        "paper": PAPERS[unit],
        "document_title": f"Recall sheet: {heading}",
        "foot": f"{sheet.project_title} – {heading}",
        "heading": heading,
        "project": sheet.project_title,
        "logged": _moment(sheet.created_at),
        "keepers": _keepers(sheet),
        "rating": _rated(sheet),
        "tags": ", ".join(sheet.tags),
        "to_touch": to_touch,
        "hook_up": sheet.hook_up or "Not noted.",
        "levels": sheet.levels or "Not noted.",
        "notes": sheet.notes,
        "plan": None if plan is None else _plan(plan),
        "chain": _drawing(drawings.chain),
        "cautions": [
            {"sentence": caution.sentence, "defer_to": caution.defer_to} for caution in cautions_of(sheet)
        ],
        "gear": [_gear(number, step, now, unit) for number, step in enumerate(sheet.steps, start=1)],
        "placements": None if drawings.placements is None else _drawing(drawings.placements),
        "photos": [
            {
                "path": f"/{photo.sha256[:2]}/{photo.sha256}",
                "caption": photo.caption,
                "width_mm": (width_mm := min(PHOTO_WIDTH_MM, PHOTO_HEIGHT_MM * photo.width / photo.height)),
                "height_mm": width_mm * photo.height / photo.width,
                "pins": [
                    {
                        "number": str(pin.number),
                        "x": pin.x,
                        "y": pin.y,
                        "words": f"{pin.gear_name}: {pin.control_name} {pin.reading or 'not noted'}",
                    }
                    for pin in pins.get(photo.photo_id, ())
                ],
            }
            for photo in sheet.photos
            if library.files.path(photo.sha256).exists()
        ],
        "prints": [_print(item) for item in sheet.prints],
        "blend": "; ".join(sheet.blend),
    }
    return set_pdf("recall", document, made_at=sheet.edited_at, photos=library.files.folder)


def session_log_pdf(log: SessionLog, *, unit: LengthUnit = "mm") -> bytes:
    """The session log of a project: every source's settings ledger, and what was written of each pass."""
    marks: dict[str, int] = {}
    facts = [log.project.artist, hertz(log.project.sample_rate), _moment(log.project.created_at)]
    document = {
        "paper": PAPERS[unit],
        "document_title": f"Session log: {log.project.title}",
        "foot": f"Session log – {log.project.title}",
        "heading": log.project.title,
        "facts": ", ".join(fact for fact in facts if fact),
        "notes": "\n".join(filter(None, [log.project.notes, *_noted(log, 0)])),
        "sources": [_source(source, unit, marks, log) for source in log.sources],
        "marks": list(marks),
    }
    edited = [sheet.edited_at for source in log.sources for sheet in source.passes]
    return set_pdf("session_log", document, made_at=max([log.project.created_at, *edited]), photos=FOLDER)


def session_log_csv(log: SessionLog, *, unit: LengthUnit = "mm") -> str:
    """The session log as a table (RFC 4180): one row for each thing known of each pass.

    What people wrote is kept from being taken for a formula: a text that begins like one gets an apostrophe in
    front. Numbers stand as they are, with a point, and their unit beside them.
    """
    written = io.StringIO()
    rows = csv.writer(written, lineterminator="\r\n")
    rows.writerow(CSV_COLUMNS)
    for note in log.notes.get(0, ()):
        noted = ("note", "", "", "", _moment(note.created_at), note.words, "", "", "")
        rows.writerow([_cell(value) for value in (log.project.title, "", "", "", "", *noted)])
    for source in log.sources:
        for sheet in source.passes:
            head = (log.project.title, source.name, sheet.number, sheet.title, _moment(sheet.created_at))
            for row in _csv_rows(sheet, unit, log):
                rows.writerow([_cell(value) for value in (*head, *row)])
    return written.getvalue()


CSV_COLUMNS = (
    "project",
    "source",
    "pass",
    "title",
    "logged",
    "about",
    "gear",
    "kind",
    "branch",
    "item",
    "reading",
    "travel_percent",
    "value",
    "unit",
)
CONFIRMED_BY_A_PHOTO = "read from a photo and confirmed; its picture is with the pass"
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")

_Row = tuple[str, str, str, str, str, str, float | None, float | None, str]


def _cell(value: str | float | None) -> str | float:
    if value is None:
        return ""
    if isinstance(value, str) and value.startswith(_FORMULA_STARTS):
        return "'" + value
    return value


def _csv_rows(sheet: PassSheet, unit: LengthUnit, log: SessionLog) -> Iterable[_Row]:
    """about, gear, kind, branch, item, reading, travel_percent, value, unit."""
    for item, words in (("notes", sheet.notes), ("hook-up", sheet.hook_up), ("levels", sheet.levels)):
        if words:
            yield ("pass", "", "", "", item, words, None, None, "")
    if sheet.rating is not None:
        yield ("pass", "", "", "", "rating", str(sheet.rating), None, float(sheet.rating), "of 5")
    for tag in sheet.tags:
        yield ("tag", "", "", "", "", tag, None, None, "")
    for note in log.notes.get(sheet.pass_id, ()):
        yield ("note", "", "", "", _moment(note.created_at), note.words, None, None, "")
    for words in sheet.blend:
        yield ("blend", "", "", "", "", words, None, None, "")
    for finding in log.let_stand.get(sheet.pass_id, ()):
        yield ("let stand", "", "", "", finding.what, finding.reason, None, None, "")
    for keeper in sheet.keepers:
        yield ("keeper", "", "", "", keeper.part, keeper.reason, None, None, "")
    for step in sheet.steps:
        at = (step.gear_name, kind_word(step.kind), step.branch)
        yield ("gear", *at, f"layout version {step.layout_version}", "", None, None, "")
        for line in step.settings:
            if line.is_set:
                percent = None if line.position is None else round(100 * line.position, 2)
                yield ("setting", *at, line.name, line.reading, percent, line.value, _unit_of(line))
                if line.crop_id is not None:
                    yield ("photo", *at, line.name, CONFIRMED_BY_A_PHOTO, None, None, "")
        if step.placement is not None:
            yield ("placement", *at, "", describe(step.placement, unit), None, None, "")
    gear_of = {step.step_id: step.gear_name for step in sheet.steps}
    for print_ in sheet.prints:
        about = ("print", gear_of.get(print_.step_id or 0, ""), "", "")
        yield (*about, "file", print_.file_name, None, None, "")
        for item, value, measured_in in _measures(print_):
            yield (*about, item, value if isinstance(value, str) else "", None, _number(value), measured_in)
        for found in print_.measured.findings:
            yield (*about, found.severity, found.sentence, None, None, "")


def _unit_of(line: SettingSheet) -> str:
    if line.value is None:
        return ""
    return str(getattr(line.spec.scale, "unit", "") or line.spec.unit)


def _number(value: str | float | None) -> float | None:
    return value if isinstance(value, int | float) else None


def _measures(item: PrintSheet) -> Iterable[tuple[str, str | float | None, str]]:
    """(name, value, unit) of what was measured of a print; a value that is not known is left out."""
    figures = item.measured.figures
    if figures is None:
        yield ("measuring", item.measured.reason or item.measured.state, "")
        return
    alignment = figures.alignment
    found: list[tuple[str, str | float | None, str]] = [
        ("length", round(figures.file.duration_s, 6), "s"),
        ("loudness", figures.level.integrated_lufs, "LUFS"),
        ("true peak", figures.level.true_peak_dbtp, "dBTP"),
        ("sample peak", figures.level.sample_peak_dbfs, "dBFS"),
    ]
    if alignment is not None:
        found += [("delay", alignment.delay_samples, "samples"), ("polarity", alignment.polarity, "")]
    for name, value, measured_in in found:
        if value is not None:
            yield (name, round(value, 3) if isinstance(value, float) else value, measured_in)


def _plan(plan: RecallPlan) -> Json:
    return {
        "route": plan.route,
        "cables": [
            {
                "from": row.from_text,
                "to": row.to_text,
                "cable": row.cable + ("" if row.length_m is None else f", {row.length_m:.1f} m"),
                "look": row.look,
            }
            for row in plan.connections
        ],
        "phantom": "; ".join(plan.phantom_at) or "none",
        "let_stand": [item.sentence for item in plan.let_stand],
        "levels": [{"label": label, "value": value} for label, value in plan.levels],
    }


def _gear(number: int, step: StepSheet, now: Mapping[str, str], unit: LengthUnit) -> Json:
    kind = kind_word(step.kind)
    return {
        "number": number,
        "name": step.gear_name,
        "kind": f"{kind}, branch {step.branch}" if step.branch else kind,
        "controls": [
            _control(line, now.get(control_key(step.step_id, line.control_id), ""))
            for line in step.settings
            if line.is_set
        ],
        "unset": [line.name for line in step.settings if not line.is_set],
        "placement": "" if step.placement is None else describe(step.placement, unit),
        "placement_now": now.get(placement_key(step.step_id), ""),
    }


def _control(line: SettingSheet, now: str) -> Json:
    is_scaled = line.position is not None and line.spec.form in ("knob", "fader")
    return {
        "name": line.name,
        "reading": line.reading,
        "all": all_readings(line.spec, line.position) if is_scaled else "",
        "now": now,
        "mark": None if line.position is None else _svg(control_mark(line.spec, line.position)),
    }


def _print(item: PrintSheet) -> Json:
    known = {name: value for name, value, _ in _measures(item)}
    return {
        "label": item.name,
        "file_name": item.file_name,
        "length": _figure(known.get("length")),
        "loudness": _figure(known.get("loudness")),
        "true_peak": _figure(known.get("true peak")),
        "delay": _figure(known.get("delay")),
        "polarity": str(known.get("polarity", "–")),
        "state": "nothing" if item.measured.figures else str(known["measuring"]),
        "findings": [
            {"sentence": finding.sentence, "is_fault": finding.severity == "fault"}
            for finding in item.measured.findings
        ],
    }


def _source(source: SourceLog, unit: LengthUnit, marks: dict[str, int], log: SessionLog) -> Json:
    whole = build_ledger(source.passes, unit=unit)
    count = len(source.passes)
    return {
        "name": source.name,
        "instrument": source.instrument,
        "ledgers": [
            _ledger(_columns(whole, first, min(count, first + PASSES_ACROSS)), marks)
            for first in range(0, count, PASSES_ACROSS)
        ],
        "said": [*_said(source.passes, log), *_heard_blind(source)],
    }


def _columns(whole: Ledger, first: int, end: int) -> Ledger:
    """Some columns of a ledger, without the rows in which nothing is noted and the gear that is in none of them."""
    gear = []
    for piece in whole.gear:
        rows = [replace(row, cells=row.cells[first:end]) for row in piece.rows]
        if not rows or any(cell.change != "absent" for row in rows for cell in row.cells):
            noted = tuple(row for row in rows if any(cell.reading for cell in row.cells))
            gear.append(replace(piece, rows=noted))
    measures = tuple(replace(row, cells=row.cells[first:end]) for row in whole.measures)
    return Ledger(whole.passes[first:end], tuple(gear), measures)


def _ledger(ledger: Ledger, marks: dict[str, int]) -> Json:
    labels = [[item.name for item in sheet.prints] for sheet in ledger.passes]
    named = {"label": "print", "unit": "", "cells": [{"lines": lines, "is_fault": False} for lines in labels]}
    return {
        "caption": f"pass {ledger.passes[0].number} in full, then what changed",
        "passes": [
            {
                "number": f"Pass {sheet.number}",
                "title": sheet.title,
                "logged": _moment(sheet.created_at),
                "is_keeper": sheet.is_keeper,
                "keepers": [f"keeper: {mark.part}" if mark.part else "keeper" for mark in sheet.keepers],
            }
            for sheet in ledger.passes
        ],
        "gear": [
            {
                "name": piece.name,
                "kind": kind_word(piece.kind),
                "rows": [
                    {
                        "label": row.label,
                        "cells": [
                            _ledger_cell(cell, marks, not column) for column, cell in enumerate(row.cells)
                        ],
                    }
                    for row in piece.rows
                ],
            }
            for piece in ledger.gear
        ],
        "measures": [named, *map(_measure_row, ledger.measures)] if ledger.measures else [],
    }


def _measure_row(row: MeasureRow) -> Json:
    cells = [{"lines": list(cell.lines), "is_fault": cell.is_fault} for cell in row.cells]
    return {"label": row.label, "unit": row.unit, "cells": cells}


def _ledger_cell(cell: Cell, marks: dict[str, int], in_full: bool) -> Json:
    """What stands as it did is said once, in the column that is shown in full."""
    if cell.change == "same" and not in_full:
        return {"reading": "", "change": "same", "mark": None}
    mark = None
    if cell.spec is not None and cell.position is not None:
        svg = _svg(control_mark(cell.spec, cell.position, changed=cell.change == "changed"))
        mark = marks.setdefault(svg, len(marks))
    return {"reading": cell.reading, "change": cell.change, "mark": mark}


def _noted(log: SessionLog, pass_id: int) -> list[str]:
    """What was noted of a pass, or under 0 of the project, each with its moment."""
    return [f"{_moment(note.created_at)} {note.words}" for note in log.notes.get(pass_id, ())]


def _rated(sheet: PassSheet) -> str:
    return "" if sheet.rating is None else f"{sheet.rating} of 5"


def _said(passes: Sequence[PassSheet], log: SessionLog) -> Iterable[Json]:
    """What was written of each pass; hook-up and levels only where they are new."""
    for sheet, stands_plugged in zip(passes, plugged(passes), strict=True):
        words = [("Notes", sheet.notes), ("Noted", "\n".join(_noted(log, sheet.pass_id)))]
        words.append(("Rating", _rated(sheet)))
        words.append(("Tags", ", ".join(sheet.tags)))
        words += [("Hook-up", stands_plugged.hook_up), ("Levels", stands_plugged.levels)]
        words.append(("Plugged", stands_plugged.as_before))
        stands = [item.sentence for item in log.let_stand.get(sheet.pass_id, ())]
        words.append(("Accepted", "\n".join(stands)))
        words.append(("Blend", "\n".join(sheet.blend)))
        words.append(("Files", "\n".join(item.file_name for item in sheet.prints)))
        said = [pair for pair in words if pair[1]]
        if said or sheet.keepers:
            yield {"name": sheet.name, "keepers": _keepers(sheet), "words": said}


def _heard_blind(source: SourceLog) -> Iterable[Json]:
    if source.heard_blind:
        words = [("Blind", "\n".join(source.heard_blind))]
        yield {"name": "Blind results", "keepers": [], "words": words}


def _keepers(sheet: PassSheet) -> list[Json]:
    return [{"part": keeper.part, "reason": keeper.reason} for keeper in sheet.keepers]


def _drawing(drawn: Drawing) -> Json:
    return {"svg": _svg(drawn), "finding": drawn.finding}


def _svg(drawn: Drawing) -> str:
    """The drawing in the sheet's own face and ink: a PDF renderer knows no generic family and no current colour."""
    inked = drawn.svg.replace("currentColor", INK)
    return inked.replace(f'font-family="{LETTERS}"', f'font-family="{FACE}"', 1)


def _figure(value: str | float | None) -> str:
    return tenths(_number(value))


def _moment(value: datetime) -> str:
    return f"{value.astimezone():%Y-%m-%d %H:%M}"
