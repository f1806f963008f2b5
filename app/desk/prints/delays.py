"""Where a print lies against its source, said by a person where measuring cannot tell."""

from dataclasses import dataclass

from sqlalchemy import func, select
from sqlmodel import col

from app.desk.measuring import measurements
from app.desk.passes.pass_sheets import PassSheet
from app.desk.prints.prints import find_print
from app.desk.refusals import Complaints
from app.desk.typed_figures import read_figure
from app.library import Library, Readable
from app.records import Pass, Print, SourceTrack
from app.trade.readings import read_number

NEAREST_PRINTS = 12
FURTHEST_S = 3600.0
"""An hour: what is more is a slip of the key."""
DEFAULT_RATE = 48_000


@dataclass(frozen=True)
class LikelyDelay:
    """What another pass of the source came back late by: an interface keeps its round trip from pass to pass."""

    pass_number: int
    delay_samples: float


def likely_delay(library: Readable, sheet: PassSheet) -> LikelyDelay | None:
    """Of the nearest pass whose delay was measured; asked only for a pass that has a print without one."""
    unplaced = next((item for item in sheet.prints if item.is_unplaced), None)
    if unplaced is None or unplaced.measured.figures is None:
        return None
    rate = unplaced.measured.figures.file.sample_rate
    nearest = (
        select(col(Print.file_id), col(Pass.number))
        .join(Pass, col(Print.pass_id) == col(Pass.id))
        .where(col(Pass.source_id) == sheet.source_id, col(Pass.id) != sheet.pass_id)
        .order_by(func.abs(col(Pass.number) - sheet.number), col(Print.id))
        .limit(NEAREST_PRINTS)
    )
    with library.reading() as session:
        rows = session.execute(nearest).all()
        measured = measurements.read_measured(session, {(row.file_id, sheet.source_file_id) for row in rows})
    for file_id, number in rows:
        figures = measured[file_id, sheet.source_file_id].figures
        alignment = None if figures is None else figures.alignment
        if (
            figures is not None
            and figures.file.sample_rate == rate
            and alignment is not None
            and alignment.delay_samples is not None
        ):
            return LikelyDelay(number, alignment.delay_samples)
    return None


def say_delay(library: Library, print_id: int, text: str) -> int:
    """The delay of a print as a person says it, in samples or milliseconds; with nothing typed the measured one counts
    again. Returns the pass. Raises Refusal."""
    rate = _rate(library, print_id)
    complaints = Complaints()
    at = f"delay-{print_id}"

    def samples(typed: str) -> float | None:
        if not typed.endswith("ms"):
            return read_number(typed, "samples")
        milliseconds = read_number(typed, "ms")
        return None if milliseconds is None else milliseconds * rate / 1000

    delay = read_figure(
        complaints,
        at,
        text,
        samples,
        what="a delay",
        wanted="samples such as 230, or milliseconds such as 4.8 ms",
    )
    if delay is not None and abs(delay) > FURTHEST_S * rate:
        complaints.add(at, "A print does not lie more than an hour from its source. Write fewer samples.")
    complaints.refuse_if_any()
    with library.writing() as session:
        item = find_print(session, print_id)
        item.delay_by_hand_samples = delay
        return item.pass_id


def _rate(library: Readable, print_id: int) -> int:
    """That of the print's file."""
    with library.reading() as session:
        item = find_print(session, print_id)
        owner = session.get_one(Pass, item.pass_id)
        pair = (item.file_id, session.get_one(SourceTrack, owner.source_id).file_id)
        figures = measurements.read_measured(session, {pair})[pair].figures
    return DEFAULT_RATE if figures is None else figures.file.sample_rate
