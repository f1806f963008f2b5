"""Prints that are on the wrong pass: moved to another one, to another source, or back to the inbox; and what measuring
says of where they belong.

A pass that waited for its print does not keep a recording that is none of its source: it goes to the inbox, and the pass
waits on. A print that a person put there stays, and is offered the source that it is of.
"""

from dataclasses import asdict, dataclass, replace

from sqlalchemy import select, update
from sqlalchemy.orm import Session
from sqlmodel import col

from app.desk.arrivals import filing, inbox, printing
from app.desk.arrivals.inbox import SourceChoice
from app.desk.measuring import examinations, measurements
from app.desk.passes import passes
from app.desk.passes.pass_sheets import PassSheet
from app.desk.passes.passes import find_pass
from app.desk.prints import prints
from app.desk.prints.microphones import step_of_gear
from app.desk.prints.prints import find_print
from app.desk.refusals import Refusal
from app.desk.rows import row_of
from app.library import Library, Readable
from app.records import Arrival, ChainStep, Pass, Print, PrintRepeat, RecallTry, SourceTrack
from app.records.base import now
from app.signal.figures import AlignmentFigures

SURELY_FOREIGN = 0.8
"""From this confidence on a print is taken for one of another source. Less is a doubt, and then it stays."""


@dataclass(frozen=True)
class PrintPlaces:
    """Where a print could go: the project's sources and their passes, and the inbox where it came from a watched
    folder."""

    sources: tuple[SourceChoice, ...]
    is_from_inbox: bool


@dataclass(frozen=True)
class Belonging:
    """By print the source that it is of by its sound, where it is not of its pass's; `is_coming` says that it is being
    found out of one."""

    of: dict[int, SourceChoice]
    is_coming: bool = False


def read_places(library: Readable, print_id: int) -> PrintPlaces:
    with library.reading() as session:
        item = find_print(session, print_id)
        source = session.get_one(SourceTrack, find_pass(session, item.pass_id).source_id)
        return PrintPlaces(
            tuple(inbox.sources_of(session, source.project_id)), _has_arrived(session, print_id)
        )


def read_belonging(library: Readable, sheet: PassSheet) -> Belonging:
    """Asks only where a print of the pass does not sound like one of its source."""
    foreign = [
        item for item in sheet.prints if any(found.kind == "foreign" for found in item.measured.findings)
    ]
    if not foreign:
        return Belonging({})
    file_ids = [item.file_id for item in foreign]
    with library.reading() as session:
        sources = inbox.sources_of(session, sheet.project_id)
        recognised = inbox.recognised(session, file_ids, sources)
        examined = examinations.read_identified(session, file_ids)
    return Belonging(
        {
            item.print_id: recognised[item.file_id]
            for item in foreign
            if item.file_id in recognised and recognised[item.file_id].source_id != sheet.source_id
        },
        any(one.is_coming for one in examined.values()),
    )


def move_to_pass(library: Library, print_id: int, pass_id: int) -> None:
    """A print belongs to another pass of its project. It keeps its words, and its microphone where that stands in the
    chain there; it is measured against the source there. Raises Refusal, and NotThere."""
    with library.writing() as session:
        item = find_print(session, print_id)
        there = find_pass(session, pass_id)
        if item.pass_id == pass_id:
            raise Refusal({"": "It is on this pass already. Choose another one."})
        source = session.get_one(SourceTrack, there.source_id)
        here = session.get_one(SourceTrack, find_pass(session, item.pass_id).source_id)
        if source.project_id != here.project_id:
            raise Refusal({"": "Choose a pass of the same project."})
        item.step_id = _same_gear(session, item.step_id, pass_id)
        session.execute(
            update(RecallTry)
            .where(col(RecallTry.original_print_id) == print_id)
            .values(original_print_id=None)
        )
        for repeat in session.scalars(
            select(PrintRepeat).where(
                (col(PrintRepeat.print_id) == print_id) | (col(PrintRepeat.first_id) == print_id)
            )
        ):
            session.delete(repeat)
        if source.id != here.id:
            item.delay_by_hand_samples = None  # it was said against the other source
        item.pass_id = pass_id
        there.waiting_since = None
        measurements.want(session, (item.file_id, source.file_id))


def move_to_new_pass(library: Library, print_id: int, source_id: int) -> int:
    """A print belongs to a pass that is not logged yet: one like the source's last. Returns that pass."""
    with library.reading() as session:
        find_print(session, print_id)
        row_of(session, SourceTrack, source_id, "source")
    pass_id = passes.log_pass(library, source_id, passes.entry_for_next(library, source_id))
    move_to_pass(library, print_id, pass_id)
    return pass_id


def move_to_inbox(library: Library, print_id: int) -> int:
    """A print that came from a watched folder stands on the inbox again. Returns the project. Raises Refusal."""
    with library.reading() as session:
        item = find_print(session, print_id)
        source = session.get_one(SourceTrack, find_pass(session, item.pass_id).source_id)
        if not _has_arrived(session, print_id):
            raise Refusal(
                {
                    "": "This print was attached by hand and came from no recording folder, so the inbox does "
                    "not know it. Choose the pass that it belongs to."
                }
            )
    prints.delete_print(library, print_id)
    return source.project_id


def place_by_sound(
    library: Library, file_id: int, source_file_id: int, alignment: AlignmentFigures | None
) -> None:
    """What becomes of the prints of a file that was just measured against a source."""
    is_foreign = (
        alignment is not None and alignment.is_of_source is False and alignment.confidence > SURELY_FOREIGN
    )
    with library.writing() as session:
        items = session.scalars(
            select(Print)
            .join(Pass, col(Pass.id) == col(Print.pass_id))
            .join(SourceTrack, col(SourceTrack.id) == col(Pass.source_id))
            .where(col(Print.file_id) == file_id, col(SourceTrack.file_id) == source_file_id)
        ).all()
        for item in items:
            arrival = session.scalar(select(Arrival).where(col(Arrival.print_id) == item.id))
            was_waited_for = arrival is not None and filing.found_of(arrival).is_unheard
            if arrival is not None and was_waited_for:
                arrival.found = asdict(replace(filing.found_of(arrival), is_unheard=False))
            if not is_foreign:
                continue
            source_id = find_pass(session, item.pass_id).source_id
            if arrival is not None and was_waited_for:
                _give_back(session, item, arrival)
            prints.want_recognised(session, file_id, session.get_one(SourceTrack, source_id).project_id)


def _give_back(session: Session, item: Print, arrival: Arrival) -> None:
    """A recording that a pass waited for and that is none of its source goes to the inbox; the pass waits on, unless it
    has another print or another pass waits by now."""
    row = find_pass(session, item.pass_id)
    source = session.get_one(SourceTrack, row.source_id)
    arrival.state, arrival.print_id = "offered", None
    arrival.found = asdict(replace(filing.found_of(arrival), by="", is_unheard=False))
    arrival.reason = f"Pass {row.number} of {source.name} waited for its print; this does not sound like one of {source.name}."
    session.delete(item)
    session.flush()
    has_print = session.scalar(select(col(Print.id)).where(col(Print.pass_id) == row.id).limit(1))
    if has_print is None and printing.waiting_pass(session, source.project_id) is None:
        row.waiting_since = now()


def _has_arrived(session: Session, print_id: int) -> bool:
    arrived = select(col(Arrival.id)).where(col(Arrival.print_id) == print_id).limit(1)
    return session.scalar(arrived) is not None


def _same_gear(session: Session, step_id: int | None, pass_id: int) -> int | None:
    """The step of another pass at which the same piece of gear stands."""
    step = None if step_id is None else session.get(ChainStep, step_id)
    return None if step is None else step_of_gear(session, pass_id, step.gear_id)
