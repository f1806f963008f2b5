"""How a page is made: one dataclass names every variable of its template, and one environment renders it."""

from collections.abc import Mapping
from dataclasses import dataclass, fields
from datetime import datetime
from functools import lru_cache
from types import MappingProxyType
from typing import ClassVar

from fastapi import Request
from fastapi.responses import HTMLResponse, RedirectResponse
from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from app.config import ROOT
from app.desk.passes.field_names import GRAMMAR, MEASURES
from app.desk.passes.passes import all_readings
from app.desk.shelf.control_entries import AS_NAMED
from app.drawings.marks import control_mark
from app.drawings.wording import hertz
from app.trade.control_jobs import JOB_WORDS
from app.trade.distances import LengthUnit, show_distance
from app.trade.gear_kinds import KINDS, kind_label, kind_word
from app.trade.placements import describe
from app.trade.readings import readings
from app.trade.scale_values import plain_text
from app.trade.scales import ControlSpec
from app.web.unbroken_page import unbroken_page

FOR_GOOD = {"Cache-Control": "private, max-age=31536000, immutable"}
"""For what stands at an address that never names anything else."""

AUDIO_ACCEPTED = ".wav,.wave,.bwf,.rf64,.aif,.aiff,.aifc,.flac,audio/*"
"""What a field for audio files offers to choose."""
PHONE_WIDTH = 320  # of a drawing on a page of 375 px
THEMES = ("auto", "paper", "dim")
NOTHING: Mapping[str, str] = MappingProxyType({})
NOT_KEPT = {"Cache-Control": "no-store"}


@dataclass(frozen=True)
class Page:
    """Derive one for each page. `template` is its file; `section` the entry of the main navigation it belongs to."""

    template: ClassVar[str]
    section: ClassVar[str] = "Projects"


def theme_of(request: Request) -> str:
    theme = request.cookies.get("theme", "auto")
    return theme if theme in THEMES else "auto"


def unit_of(request: Request) -> LengthUnit:
    """The unit of length the person reads: "mm" or "in"."""
    return "in" if request.cookies.get("unit") == "in" else "mm"


def keys_of(request: Request) -> str:
    """Whether single keys do something: "on" or "off"."""
    return "off" if request.cookies.get("keys") == "off" else "on"


def show(request: Request, page: Page, *, status_code: int = 200) -> HTMLResponse:
    return HTMLResponse(render(request, page), status_code=status_code, headers=NOT_KEPT)


def render(request: Request, page: Page) -> str:
    variables = {field.name: getattr(page, field.name) for field in fields(page)}
    here = request.url.path + (f"?{request.url.query}" if request.url.query else "")
    chrome = {
        "theme": theme_of(request),
        "unit": unit_of(request),
        "keys": keys_of(request),
        "section": page.section,
        "here": here if request.method == "GET" else "/",
        "trouble": request.app.state.library.trouble,
        "q": request.query_params.get("q", ""),
    }
    return unbroken_page(environment.get_template(page.template).render(**chrome, **variables))


def go_to(path: str) -> RedirectResponse:
    """After a form did its work: look at `path` (303, so that a reload posts nothing)."""
    return RedirectResponse(path, status_code=303)


@lru_cache(maxsize=20_000)
def mark(spec: ControlSpec, position: float | None, changed: bool = False, size: int = 22) -> Markup:
    """The drawing of a control at a position, for beside its reading."""
    return Markup(control_mark(spec, position, changed=changed, size=size).svg)


def moment(value: datetime | None) -> Markup:
    """A moment as the sheet writes it, with the machine-readable form beside it."""
    if value is None:
        return Markup("–")
    local = value.astimezone()
    return Markup('<time datetime="{}">{}</time>').format(local.isoformat(), f"{local:%Y-%m-%d %H:%M}")


def clock(value: datetime) -> str:
    """The time of day, for what happened today; with the date, for what did not."""
    local = value.astimezone()
    return (
        f"{local:%H:%M}" if local.date() == datetime.now().astimezone().date() else f"{local:%Y-%m-%d %H:%M}"
    )


def time_of_day(value: datetime) -> Markup:
    local = value.astimezone()
    return Markup('<time datetime="{}">{}</time>').format(local.isoformat(), f"{local:%H:%M}")


def decimal(value: float | None, digits: int = 1, *, signed: bool = False) -> str:
    """A figure with a typographic minus; a dash where it is not known. Nothing has no sign."""
    if value is None:
        return "–"
    rounded = round(value, digits) + 0.0  # adding zero turns −0.0 into 0.0
    return format(rounded, f"{'+' if signed and rounded else ''}.{digits}f").replace("-", "−")


def file_size(size: int | None) -> str:
    if size is None:
        return "–"
    amount = float(size)
    for unit in ("bytes", "kB", "MB"):
        if amount < 1000:
            return f"{amount:.0f} {unit}" if unit == "bytes" else f"{amount:.1f} {unit}"
        amount /= 1000
    return f"{amount:.2f} GB"


def counted(number: int, noun: str, plural: str = "") -> str:
    return f"{number} {noun if number == 1 else plural or noun + 's'}"


def reads_in(spec: ControlSpec) -> str:
    """What a control can be read as, shortly: "0 to 10 · clock · percent", "off · on"."""
    if spec.form == "number":
        return spec.unit or "a number"
    if spec.form == "text":
        return "words"
    return " · ".join(spec.positions or [reading.scale for reading in readings(spec, 0.5)])


def _environment() -> Environment:
    made = Environment(
        loader=FileSystemLoader(ROOT / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters |= {
        "clock": clock,
        "counted": counted,
        "decimal": decimal,
        "distance": show_distance,
        "file_size": file_size,
        "hertz": hertz,
        "kind_label": kind_label,
        "kind_word": kind_word,
        "moment": moment,
        "all_readings": lambda line: all_readings(line.spec, line.position),
        "placement_words": describe,
        "plain_number": lambda value: "" if value is None else plain_text(value),
        "reads_in": reads_in,
        "time_of_day": time_of_day,
    }
    made.globals |= {
        "AUDIO_ACCEPTED": AUDIO_ACCEPTED,
        "KINDS": KINDS,
        "JOBS": ((AS_NAMED, "As its name says"), *JOB_WORDS.items()),
        "mark": mark,
        "FIELD_GRAMMAR": GRAMMAR,
        "MEASURES": MEASURES,
    }
    return made


environment: Environment = _environment()
