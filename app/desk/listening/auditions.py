"""Auditions: the prints of passes, made ready for listening on their source's time line.

They are made by the measuring process and lie in the library's auditions folder, each under a key that names all it
is made of: the print, its source, where the one lies against the other. So nothing is made twice, another alignment
is another audition, and any of them may be thrown away. Polarity is no part of it: the player turns it.

The source is put into a pass's lane, before its prints, as one that sounds together with them, where the pass's kept
blend has it; `with_source` puts it into every lane.
"""

import hashlib
import os
import re
import shutil
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import timedelta
from pathlib import Path
from typing import Any

from sqlalchemy import case, delete, func, select, update
from sqlalchemy.orm import Session
from sqlmodel import col

from app.desk.listening.measured_together import folder_of, read_measured_together
from app.desk.measuring import measurements, queued_work
from app.desk.measuring.measurements import Measured
from app.desk.passes.leads import Lead, lead_of
from app.desk.passes.pass_sheets import PassSheet, PrintSheet, read_pass_sheets
from app.desk.refusals import NotThere, Refusal
from app.library import Library, Readable
from app.records import SOURCE_LANE, Audition, Blend, Pass, SourceTrack, StoredFile, WorkState
from app.records.base import now
from app.signal.figures import Polarity
from app.signal.listening.figures import AUDITION_VERSION, AuditionFigures, Moved, audition_figures_from_json
from app.signal.listening.polarities import standings_of

MOST_BYTES = 6 * 1024**3
"""What the auditions folder may hold before the one used longest ago goes."""

KEPT_SINCE_USE = timedelta(minutes=10)
NOTED_USE = timedelta(minutes=1)
NEAR_WHOLE_SAMPLES = 0.03
"""A measured delay this near a whole number is taken for it: measuring is no more exact, and then samples are copied."""
NEGLIGIBLE_DRIFT_SAMPLES = 1.0
"""A clock that runs off by less than this over the whole source is taken for the source's own."""

_KEY = re.compile(r"[0-9a-f]{32}")


@dataclass(frozen=True)
class LanePrint:
    """One print as it is heard. `reason` is a sentence where there is something to say of its state. `print_id` is None
    for the source itself.

    To hear a print at its own level, its samples are raised by -`scale_db`. `astray` says why its place against the
    source is not known, where that is so; it then begins where the source does.
    """

    print_id: int | None
    label: str
    file_name: str
    key: str | None
    state: WorkState
    reason: str = ""
    astray: str = ""
    delay_s: float | None = None
    polarity: Polarity = "unclear"
    is_turned: bool = False
    figures: AuditionFigures | None = None

    @property
    def is_coming(self) -> bool:
        return self.state in (WorkState.UNMEASURED, WorkState.ABSENT) or self.state.is_coming

    @property
    def segments(self) -> int:
        return 0 if self.figures is None else self.figures.segments

    @property
    def channels(self) -> int:
        return 0 if self.figures is None else self.figures.channels

    @property
    def duration_s(self) -> float:
        return 0.0 if self.figures is None else self.figures.duration_s

    @property
    def scale_db(self) -> float:
        return 0.0 if self.figures is None else self.figures.scale_db


@dataclass(frozen=True)
class Lane:
    """One pass to listen to, or the source itself (`pass_id` and `number` None). Each print is righted by its own
    polarity, an unclear one by its correlation with the others once that is measured.

    `loudness_key` is there once everything is: it names the loudness data of the lane's `heard` prints, in that
    order (`loudness_of_part.read_hop_powers`).
    """

    pass_id: int | None
    number: int | None
    title: str
    prints: tuple[LanePrint, ...]
    loudness_key: str | None
    loudness_state: WorkState

    @property
    def heard(self) -> tuple[LanePrint, ...]:
        return tuple(item for item in self.prints if item.state == WorkState.DONE)

    @property
    def state(self) -> str:
        """coming, done, or failed: nothing of it can be heard, and `reason` says why."""
        if any(item.is_coming for item in self.prints):
            return "coming"
        if not self.heard:
            return "failed"
        is_coming = self.loudness_state == WorkState.ABSENT or self.loudness_state.is_coming
        return "coming" if is_coming else "done"

    @property
    def reason(self) -> str:
        if not self.prints:
            return "Nothing is attached yet." if self.pass_id is not None else "The source has no audio yet."
        said = (item.reason for item in self.prints if item.state in (WorkState.FAILED, WorkState.UNMEASURED))
        return " ".join(dict.fromkeys(said))

    @property
    def duration_s(self) -> float:
        return max((item.duration_s for item in self.heard), default=0.0)

    @property
    def sample_rate(self) -> int | None:
        return next((item.figures.sample_rate for item in self.heard if item.figures), None)


@dataclass(frozen=True)
class Place:
    """Where a print's file is laid on its source's time line: as `AlignmentFigures` say, at the source's rate, for as
    long as the source."""

    sha256: str
    delay_samples: float
    drift_ppm: float
    target_rate: int
    length_s: float
    moved: tuple[Moved, ...] = ()

    @property
    def wanted(self) -> dict[str, Any]:
        """What the measuring process is told. A print in one piece is told as it ever was, and so keeps its audition."""
        return {name: value for name, value in asdict(self).items() if name != "moved" or value}


@dataclass(frozen=True)
class PlacedPrint:
    """A print of a pass, or the source beside it, and its place; None where it cannot be laid anywhere, and `shown`
    says why."""

    pass_id: int
    number: int
    shown: LanePrint
    place: Place | None


def read_places(library: Library, pass_ids: Sequence[int]) -> list[PlacedPrint]:
    """Every print of these passes, each pass's after the source itself where that has audio. Raises NotThere, or
    Refusal unless the passes are of one source."""
    with library.reading() as session:
        plans = _plans(session, _sheets(session, pass_ids), with_source=True)
    return [
        PlacedPrint(plan.pass_id, plan.number, item.shown, item.place)
        for plan in plans
        if plan.pass_id is not None and plan.number is not None
        for item in plan.prints
    ]


def read_heard_together(library: Readable, pass_ids: Sequence[int]) -> list[PassSheet]:
    """Passes to listen to, by number. Raises NotThere, or Refusal unless they are of one source."""
    with library.reading() as session:
        return _sheets(session, pass_ids)


def read_auditions(library: Readable, pass_ids: Sequence[int], *, with_source: bool = False) -> list[Lane]:
    """The source's lane, then one for each pass by number. Raises NotThere, or Refusal unless the passes are of one
    source. A file that cannot be heard takes its print out, with a reason, and never the rest."""
    return auditions_of(library, read_heard_together(library, pass_ids), with_source=with_source)


def auditions_of(library: Readable, sheets: Sequence[PassSheet], *, with_source: bool = False) -> list[Lane]:
    """The same for passes of one source that were read already."""
    with library.reading() as session:
        plans = _plans(session, sheets, with_source)
        rows = _rows(session, plans)
    return [_lane(library, plan, rows) for plan in plans]


def want_auditions(library: Library, pass_ids: Sequence[int], *, with_source: bool = False) -> int:
    """Ask for whatever these passes and their source still lack. Returns how many are new in the queue: wake the
    measuring process if any is. Asking again, as a page that waits does, costs next to nothing."""
    with library.reading() as session:
        plans = _plans(session, _sheets(session, pass_ids), with_source)
        rows = _rows(session, plans)
    missing = _missing(library, plans, rows)
    used = [row.id for row in rows.values() if row.used_at < now() - NOTED_USE]
    if not missing and not used:
        return 0
    with library.writing() as session:
        if used:
            session.execute(update(Audition).where(col(Audition.id).in_(used)).values(used_at=now()))
        known = set(session.scalars(select(col(Audition.key)).where(col(Audition.key).in_(missing))))
        for key, (kind, wanted) in missing.items():
            if key not in known:
                session.add(Audition(key=key, kind=kind, wanted=wanted))
        again = update(Audition).where(col(Audition.key).in_(known), col(Audition.state) == WorkState.DONE)
        session.execute(again.values(state=WorkState.WAITING, tries=0, reason="", figures=None, bytes=0))
    return len(missing)


def make_again(library: Library, pass_ids: Sequence[int], *, with_source: bool = False) -> None:
    """Give what failed for these passes another try."""
    with library.reading() as session:
        rows = _rows(session, _plans(session, _sheets(session, pass_ids), with_source))
    with library.writing() as session:
        queued_work.try_again(session, Audition, col(Audition.key).in_(rows))


def segment_path(library: Readable, key: str, number: int) -> Path:
    """The FLAC file of ten seconds of an audition. Raises NotThere."""
    if _KEY.fullmatch(key) and number >= 0:
        path = folder_of(library, key) / f"{number:03d}.flac"
        if path.is_file():
            return path
    raise NotThere("stretch of audio")


def claim(library: Library) -> Audition | None:
    """Take the oldest that waits, now running: prints first, then what is measured of several together."""
    return queued_work.claim(library, Audition, case((col(Audition.kind) == "print", 0), else_=1))


def members_of(library: Library, together: Audition) -> list[tuple[Path, AuditionFigures]]:
    """The prints' auditions that a claimed "together" is made of. Raises FileNotFoundError where one is not there."""
    with library.reading() as session:
        rows = session.scalars(select(Audition).where(col(Audition.key).in_(together.wanted["keys"]))).all()
    figures = {row.key: audition_figures_from_json(row.figures) for row in rows if row.figures}
    if missing := set(together.wanted["keys"]) - set(figures):
        raise FileNotFoundError(", ".join(missing))
    return [(folder_of(library, key), figures[key]) for key in together.wanted["keys"]]


def finish(library: Library, claimed: Audition, figures: dict[str, Any] | None, reason: str = "") -> None:
    """Write down what came out: figures, or the reason there are none."""
    folder = folder_of(library, claimed.key)
    size = 0 if figures is None else sum(path.stat().st_size for path in folder.iterdir())
    with library.writing() as session:
        queued_work.finish(session, Audition, claimed.id, figures, reason, bytes=size)


def resume(library: Library) -> None:
    """After a start: what was running waits again, unless it ended the process too often; folders that no row knows
    go."""
    with library.writing() as session:
        queued_work.put_back(session, Audition, "Making this file ready")
        known = set(session.scalars(select(col(Audition.key))))
    library.auditions.mkdir(exist_ok=True)
    for folder in library.auditions.iterdir():
        if folder.name not in known:
            shutil.rmtree(folder, ignore_errors=True)


def throw_away_old(library: Library, most_bytes: int = MOST_BYTES) -> int:
    """Keep the auditions folder within `most_bytes`: those used longest ago go, those just used stay. Returns how
    many went."""
    with library.reading() as session:
        total = session.scalar(select(func.sum(col(Audition.bytes)))) or 0
        if total <= most_bytes:
            return 0
        done = select(Audition).where(
            col(Audition.state) == WorkState.DONE, col(Audition.used_at) < now() - KEPT_SINCE_USE
        )
        old = session.scalars(done.order_by(col(Audition.used_at), col(Audition.id))).all()
    gone = 0
    for row in old:
        if total <= most_bytes:
            break
        with library.writing() as session:
            session.execute(delete(Audition).where(col(Audition.id) == row.id))
        shutil.rmtree(folder_of(library, row.key), ignore_errors=True)
        total, gone = total - row.bytes, gone + 1
    return gone


@dataclass(frozen=True)
class _PlannedPrint:
    """A lane's print, and where its file is to be laid (None while that is not known, or never will be)."""

    shown: LanePrint
    place: Place | None


@dataclass(frozen=True)
class _Plan:
    pass_id: int | None
    number: int | None
    title: str
    prints: tuple[_PlannedPrint, ...]

    def wanted(self) -> Iterable[tuple[str, dict[str, Any]]]:
        for item in self.prints:
            if item.shown.key is not None and item.place is not None:
                yield item.shown.key, item.place.wanted


@dataclass(frozen=True)
class _TimeLine:
    """What the prints are laid on: the source's own clock, from its first sample to its last."""

    source_sha256: str
    sample_rate: int
    length_s: float


def _sheets(session: Session, pass_ids: Sequence[int]) -> list[PassSheet]:
    wanted = list(dict.fromkeys(pass_ids))
    sheets = read_pass_sheets(session, col(Pass.id).in_(wanted))
    if not wanted or len(sheets) < len(wanted):
        raise NotThere("pass")
    if len({sheet.source_id for sheet in sheets}) > 1:
        raise Refusal(
            {"": "These passes are of different sources. Choose passes of one source to listen to."}
        )
    return sheets


def _plans(session: Session, sheets: Sequence[PassSheet], with_source: bool = False) -> list[_Plan]:
    source, *passes = _plans_apart(session, sheets)
    blended = {sheet.pass_id for sheet in sheets} if with_source else _blended_with_source(session, sheets)
    return [
        source,
        *(
            replace(plan, prints=source.prints + plan.prints) if plan.pass_id in blended else plan
            for plan in passes
        ),
    ]


def _blended_with_source(session: Session, sheets: Sequence[PassSheet]) -> set[int]:
    kept = select(Blend).where(col(Blend.pass_id).in_([sheet.pass_id for sheet in sheets]))
    return {blend.pass_id for blend in session.scalars(kept) if SOURCE_LANE in blend.settings}


def _plans_apart(session: Session, sheets: Sequence[PassSheet]) -> list[_Plan]:
    source = session.get_one(SourceTrack, sheets[0].source_id)
    if source.file_id is None:
        line = _time_line_without_source(sheets)
        return [_Plan(None, None, source.name, ()), *(_plan_pass(sheet, line) for sheet in sheets)]
    stored = session.get_one(StoredFile, source.file_id)
    measured = measurements.read_measured(session, {(source.file_id, None)})[source.file_id, None]
    shown = LanePrint(None, "", source.file_name, None, WorkState.UNMEASURED, delay_s=0.0, polarity="same")
    if measured.figures is None:
        shown = _not_measured(shown, measured)
        unknown = _Plan(None, None, source.name, (_PlannedPrint(shown, None),))
        return [unknown, *(_plan_pass(sheet, None, shown) for sheet in sheets)]
    file = measured.figures.file
    line = _TimeLine(stored.sha256, file.sample_rate, file.frames / file.sample_rate)
    itself = _planned(shown, stored.sha256, line, 0.0, 0.0)
    return [
        _Plan(None, None, source.name, (itself,)),
        *(_plan_pass(sheet, line) for sheet in sheets),
    ]


def _time_line_without_source(sheets: Sequence[PassSheet]) -> _TimeLine:
    lengths = [
        item.measured.figures.file.duration_s
        for sheet in sheets
        for item in sheet.prints
        if item.measured.figures is not None
    ]
    return _TimeLine("", sheets[0].project_sample_rate, max(lengths, default=0.0))


def _plan_pass(sheet: PassSheet, line: _TimeLine | None, source: LanePrint | None = None) -> _Plan:
    lead = lead_of(item.measured.figures for item in sheet.prints)
    prints = tuple(_plan_print(item, line, source, lead) for item in sheet.prints)
    return _Plan(sheet.pass_id, sheet.number, sheet.title, prints)


def _plan_print(
    item: PrintSheet, line: _TimeLine | None, source: LanePrint | None, lead: Lead | None
) -> _PlannedPrint:
    called = "" if item.name == item.file_name else item.name
    shown = LanePrint(item.print_id, called, item.file_name, None, WorkState.UNMEASURED)
    figures = item.measured.figures
    if figures is None:
        return _PlannedPrint(_not_measured(shown, item.measured), None)
    if line is None:
        assert source is not None
        reason = (
            f"Its source cannot be read, so there is no time line. {source.reason}" if source.reason else ""
        )
        return _PlannedPrint(replace(shown, state=source.state, reason=reason), None)
    alignment = figures.alignment
    if alignment is None or lead is None:
        astray = (
            "there is no source to line it up with"
            if alignment is None
            else "where it lies against the source is not known"
        )
        return _planned(replace(shown, astray=astray), item.sha256, line, 0.0, 0.0)
    delay, drift = _place(lead, figures.file.sample_rate, line.length_s)
    shown = replace(shown, delay_s=lead.delay_s, polarity=alignment.polarity)
    shown = replace(shown, is_turned=alignment.polarity == "inverted")
    moved = lead.moved_with(alignment, figures.file.sample_rate)
    return _planned(shown, item.sha256, line, delay, drift, moved)


def _not_measured(shown: LanePrint, measured: Measured) -> LanePrint:
    if measured.state == WorkState.FAILED:
        return replace(shown, state=WorkState.FAILED, reason=measured.reason)
    return replace(shown, state=WorkState.UNMEASURED, reason="It is still being measured.")


def _place(lead: Lead, sample_rate: int, length_s: float) -> tuple[float, float]:
    """Delay (in samples) and drift to align by: no finer than they are known."""
    delay, drift = lead.delay_s * sample_rate, lead.drift_ppm
    run_off = drift * 1e-6 * length_s * sample_rate
    if abs(run_off) < NEGLIGIBLE_DRIFT_SAMPLES:
        delay, drift = delay + run_off / 2, 0.0
    if abs(delay - round(delay)) <= NEAR_WHOLE_SAMPLES and drift == 0:
        delay = float(round(delay))
    return round(delay, 4), round(drift, 5)


def _planned(
    shown: LanePrint,
    sha256: str,
    line: _TimeLine,
    delay_samples: float,
    drift_ppm: float,
    moved: tuple[Moved, ...] = (),
) -> _PlannedPrint:
    place = Place(sha256, delay_samples, drift_ppm, line.sample_rate, line.length_s, moved)
    key = _key_of(line.source_sha256, *place.wanted.values())
    return _PlannedPrint(replace(shown, key=key, state=WorkState.ABSENT), place)


def _key_of(*parts: object) -> str:
    words = "|".join(repr(part) for part in (AUDITION_VERSION, *parts))
    return hashlib.sha256(words.encode()).hexdigest()[:32]


def _rows(session: Session, plans: Sequence[_Plan]) -> dict[str, Audition]:
    """What is known of the prints' auditions, and of what is measured of them together."""
    keys = {key for plan in plans for key, _ in plan.wanted()}
    rows = {row.key: row for row in session.scalars(select(Audition).where(col(Audition.key).in_(keys)))}
    together = {key for plan in plans if (key := _together_key(_usable(plan, rows)))}
    found = session.scalars(select(Audition).where(col(Audition.key).in_(together)))
    return rows | {row.key: row for row in found}


def _usable(plan: _Plan, rows: dict[str, Audition]) -> list[str]:
    """The keys of the prints that can be heard, now or once they are made."""
    return [key for key, _ in plan.wanted() if key not in rows or rows[key].state != WorkState.FAILED]


def _together_key(keys: Sequence[str]) -> str | None:
    return _key_of("together", *keys) if len(keys) > 1 else None


def _missing(
    library: Library, plans: Sequence[_Plan], rows: dict[str, Audition]
) -> dict[str, tuple[str, dict[str, Any]]]:
    """Key to (kind, what it is made of) of whatever is not there and not on its way."""
    missing: dict[str, tuple[str, dict[str, Any]]] = {}
    for plan in plans:
        for key, wanted in plan.wanted():
            if _state(library, rows.get(key)) == WorkState.ABSENT:
                missing[key] = ("print", wanted)
        if any(item.shown.state == WorkState.UNMEASURED for item in plan.prints):
            continue  # what sounds together is not known before all are measured
        usable = _usable(plan, rows)
        together = _together_key(usable)
        if together and _state(library, rows.get(together)) == WorkState.ABSENT:
            missing[together] = ("together", {"keys": usable})
    return missing


def _state(library: Readable, row: Audition | None) -> WorkState:
    """The row's state, or absent where its files are not what they were when they were made."""
    if row is None:
        return WorkState.ABSENT
    return row.state if row.state != WorkState.DONE or _is_whole(library, row) else WorkState.ABSENT


def _is_whole(library: Readable, row: Audition) -> bool:
    folder = folder_of(library, row.key)
    try:
        return sum(entry.stat().st_size for entry in os.scandir(folder)) == row.bytes
    except OSError:
        return False


def _lane(library: Readable, plan: _Plan, rows: dict[str, Audition]) -> Lane:
    prints = tuple(_shown(library, item, rows) for item in plan.prints)
    usable = _usable(plan, rows)
    key = _together_key(usable) or (usable[0] if usable else None)
    state = WorkState.ABSENT if key is None else _state(library, rows.get(key))
    is_there = state == WorkState.DONE and all(
        item.state == WorkState.DONE for item in prints if item.key in usable
    )
    if is_there and key is not None and len(usable) > 1:
        prints = _righted(library, prints, usable, key)
    return Lane(plan.pass_id, plan.number, plan.title, prints, key if is_there else None, state)


def _righted(
    library: Readable, prints: tuple[LanePrint, ...], usable: Sequence[str], key: str
) -> tuple[LanePrint, ...]:
    """The prints, those whose polarity is unclear alone as the others tell of it. `key` names what was measured of the
    usable ones together."""
    together = [item for item in prints if item.key in usable]
    places = [at for at, item in enumerate(together) if item.print_id is not None]
    alone = [together[at].polarity for at in places]
    if "unclear" not in alone:
        return prints
    try:
        measured = read_measured_together(library, key)
    except NotThere:
        return prints
    told = dict(zip(places, standings_of(alone, measured.only(places)), strict=True))
    righted = {
        together[at].print_id: replace(together[at], polarity=one.polarity, is_turned=one.is_turned)
        for at, one in told.items()
    }
    return tuple(righted.get(item.print_id, item) for item in prints)


def _shown(library: Readable, item: _PlannedPrint, rows: dict[str, Audition]) -> LanePrint:
    if item.shown.key is None:
        return item.shown
    row = rows.get(item.shown.key)
    state = _state(library, row)
    if row is None or state == WorkState.ABSENT or row.figures is None:
        said = row.reason if row is not None and state == WorkState.FAILED else item.shown.reason
        return replace(item.shown, state=state, reason=said)
    figures = audition_figures_from_json(row.figures)
    reason = " ".join(part for part in (item.shown.reason, *figures.notes) if part)
    return replace(item.shown, state=state, reason=reason, figures=figures)
