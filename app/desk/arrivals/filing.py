"""What becomes of a file that has arrived whole: the print of the pass that waits for it or that it is named after, or
a question on the inbox."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from uuid import uuid4

from sqlalchemy import delete, func, select
from sqlalchemy.orm import Session
from sqlmodel import col

from app.desk import wording
from app.desk.arrivals import printing, track_names
from app.desk.arrivals.folder_sweep import Stamp
from app.desk.files import channel_pairs, stored_files
from app.desk.files.audio_heads import AudioHead
from app.desk.passes.passes import find_pass
from app.desk.prints import prints
from app.desk.prints.microphones import guess_of_pass, step_of_gear
from app.desk.projects.projects import find_project
from app.desk.refusals import Refusal
from app.desk.rows import row_of
from app.library import Library, TakenIn
from app.records import Arrival, Pass, Print, ReferredFile, SourceTrack, WatchedFolder
from app.records.base import now
from app.trade.named_returns import PrintFile

TOGETHER_S = 5.0
"""Files recorded at once are closed within this, by their dates, and within half of their length: takes recorded one
after the other end at least a take apart."""
TOGETHER_LENGTH_S = 0.05
"""… and are as long as one another, within what a DAW needs to close several files."""
CLOCKS_APART_S = 1.0
TOGETHER_MOST = 32
SAME_AUDIO = "The same audio as"
NO_PRINT = "This is a picture, which is no print. Give it to a pass as its photo."
REWRITTEN = "The DAW has rewritten this file; an earlier version came in before."


@dataclass(frozen=True)
class Whole:
    """A file as it was read from its first byte to its last."""

    path: Path
    stamp: Stamp
    head: AudioHead
    taken: TakenIn
    alike: channel_pairs.Alike | None = None


@dataclass(frozen=True)
class Found:
    """Kept with an arrival: what its header says (rate and channels 0 where that is not known), and by what it was filed
    (name, waiting, together, hand). It `is_unheard` until the pass that waited for it knows by its sound whether it is a
    print of its source. `thumbnail` is that of a picture that stands on the inbox, in base64."""

    duration_s: float | None = None
    time_reference: int | None = None
    is_finished: bool = True
    by: str = ""
    is_unheard: bool = False
    sample_rate: int = 0
    channels: int = 0
    alike: channel_pairs.Alike | None = None
    thumbnail: str = ""

    @property
    def is_picture(self) -> bool:
        return bool(self.thumbnail)


def found_of(row: Arrival) -> Found:
    return Found(**(row.found or {}))


def settle(library: Library, arrival_id: int, whole: Whole, present: frozenset[str]) -> None:
    """Write down a file that is in the library, or stays where it is, and decide where it goes. `present` is what lies
    in the folder now."""
    with library.writing() as session:
        row = session.get(Arrival, arrival_id)
        if row is None or row.state != "growing":
            return
        folder = session.get_one(WatchedFolder, row.folder_id)
        media_type = stored_files.AUDIO_TYPES[whole.head.container]
        file_id = stored_files.record(session, whole.taken, media_type)
        row.bytes, row.modified_ns = whole.stamp.bytes, whole.stamp.modified_ns
        if came_before(session, row, folder, file_id, whole.path, present, SAME_AUDIO):
            return
        if _is_of_project(session, row, folder, file_id):
            return
        if folder.keeps == "refer" and not library.files.path(whole.taken.sha256).exists():
            _refer(session, file_id, whole.path, row)
        row.file_id = file_id
        row.found = asdict(
            Found(
                whole.head.duration_s,
                whole.head.time_reference,
                whole.head.is_finished,
                found_of(row).by,
                sample_rate=whole.head.sample_rate,
                channels=whole.head.channels,
                alike=whole.alike,
            )
        )
        supersede(session, row)
        _file_or_offer(session, row, folder.project_id)


def file_under(
    library: Library, arrival_id: int, pass_id: int, gear_of: Mapping[int, int | None] | None = None
) -> None:
    """Make an arrival, and what was recorded at once with it, prints of a pass. `gear_of` says by arrival which
    microphone or return it is of, as far as that was said. Raises Refusal where one is filed already."""
    with library.writing() as session:
        rows = together_with(session, find_arrival(session, arrival_id))
        if any(found_of(row).is_picture for row in rows):
            raise Refusal({"": NO_PRINT})
        guesses = guess_of_pass(session, pass_id, [_file_of(row) for row in rows])
        for row, guess in zip(rows, guesses, strict=True):
            said = (gear_of or {}).get(row.id)
            step_id = None if said is None else step_of_gear(session, pass_id, said)
            if step_id is None and guess is not None and guess.is_sure:
                step_id = guess.step_id
            _file(session, row, pass_id, "hand", step_id)


def give_away(session: Session, arrival_id: int, what: str) -> tuple[int, str]:
    """An arrival is no print of a pass but something else, `what` in words. Returns its stored file and its name.
    Raises Refusal where it is filed already."""
    row = find_arrival(session, arrival_id)
    if not is_open(row) or row.file_id is None:
        raise Refusal({"": f"“{row.path}” is filed or left already. Look at the inbox again."})
    if found_of(row).is_picture:
        raise Refusal({"": NO_PRINT})
    row.state, row.reason, row.together = "left", what, ""
    return row.file_id, wording.file_name(row.path)


def leave(library: Library, arrival_id: int) -> int:
    """An arrival, and what was recorded at once with it, is not wanted. Returns the project."""
    with library.writing() as session:
        row = find_arrival(session, arrival_id)
        for one in together_with(session, row):
            leave_out(one, "Not wanted.")
        return session.get_one(WatchedFolder, row.folder_id).project_id


def part(library: Library, arrival_id: int) -> int:
    """An arrival was not recorded at once with the others. Returns the project."""
    with library.writing() as session:
        row = find_arrival(session, arrival_id)
        row.together = ""
        return session.get_one(WatchedFolder, row.folder_id).project_id


def bring_in(library: Library, project_id: int, arrival_ids: Sequence[int]) -> int:
    """Have files taken in that were left, or that failed; they stand on the inbox then. Returns how many."""
    with library.writing() as session:
        find_project(session, project_id)
        rows = session.scalars(
            select(Arrival)
            .join(WatchedFolder)
            .where(
                col(Arrival.id).in_(arrival_ids),
                col(WatchedFolder.project_id) == project_id,
                col(Arrival.state).in_(("left", "failed")),
                col(Arrival.missing_since).is_(None),
            )
        ).all()
        for row in rows:
            row.state, row.reason, row.found = "growing", "", asdict(Found(by="hand"))
        return len(rows)


def find_arrival(session: Session, arrival_id: int) -> Arrival:
    return row_of(session, Arrival, arrival_id, "file of the inbox")


def is_open(row: Arrival) -> bool:
    """Whether it still has to be decided where an arrival goes. One whose print was taken off its pass is open again."""
    return row.state == "offered" or (row.state == "taken" and row.print_id is None)


def together_with(session: Session, row: Arrival) -> list[Arrival]:
    """The open arrivals that were recorded at once with this one, itself among them. Raises Refusal where it is filed
    already."""
    if not is_open(row):
        raise Refusal({"": f"“{row.path}” is filed or left already. Look at the inbox again."})
    if not row.together:
        return [row]
    rows = session.scalars(
        select(Arrival).where(col(Arrival.together) == row.together).order_by(col(Arrival.path))
    )
    return [one for one in rows if is_open(one)]


def came_before(
    session: Session,
    row: Arrival,
    folder: WatchedFolder,
    file_id: int,
    path: Path,
    present: frozenset[str],
    same: str,
) -> bool:
    """Whether the same file came into the project before: then nothing new has arrived. `same` begins the sentence."""
    twins = session.scalars(
        select(Arrival)
        .join(WatchedFolder)
        .where(
            col(WatchedFolder.project_id) == folder.project_id,
            col(Arrival.file_id) == file_id,
            col(Arrival.id) != row.id,
        )
    ).all()
    for twin in twins:
        is_same_path = (twin.folder_id, twin.path) == (row.folder_id, row.path)
        is_moved = twin.folder_id == row.folder_id and twin.path not in present
        if is_same_path or is_moved:
            twin.path, twin.bytes, twin.modified_ns = row.path, row.bytes, row.modified_ns
            twin.missing_since = None
            referred = session.get(ReferredFile, file_id)
            if referred is not None:
                _refer(session, file_id, path, row)
            session.delete(row)
            return True
    if twins:
        leave_out(row, f"{same} “{twins[0].path}”, which came in before.")
        return True
    return False


def _is_of_project(session: Session, row: Arrival, folder: WatchedFolder, file_id: int) -> bool:
    """Whether the same audio is a source or a print of the project already."""
    source = session.scalar(
        select(col(SourceTrack.name)).where(
            col(SourceTrack.project_id) == folder.project_id, col(SourceTrack.file_id) == file_id
        )
    )
    if source is not None:
        leave_out(row, f"The source track “{source}” itself.")
        return True
    by_hand = session.scalar(
        select(col(Print.id))
        .join(Pass, col(Pass.id) == col(Print.pass_id))
        .join(SourceTrack, col(SourceTrack.id) == col(Pass.source_id))
        .where(col(SourceTrack.project_id) == folder.project_id, col(Print.file_id) == file_id)
    )
    if by_hand is not None:
        row.state, row.file_id, row.print_id = "taken", file_id, by_hand
        row.reason = "It was attached by hand before."
        return True
    return False


def _refer(session: Session, file_id: int, path: Path, row: Arrival) -> None:
    session.merge(
        ReferredFile(
            file_id=file_id,
            path=str(path),
            bytes=row.bytes,
            modified_ns=row.modified_ns,
            problem="",
            checked_at=now(),
        )
    )


def supersede(session: Session, row: Arrival) -> None:
    """What lay at the same path before: kept where it was filed, else forgotten."""
    earlier = (
        col(Arrival.folder_id) == row.folder_id,
        col(Arrival.path) == row.path,
        col(Arrival.id) < row.id,
    )
    if session.scalar(select(col(Arrival.id)).where(*earlier, col(Arrival.state) != "left").limit(1)):
        row.reason = REWRITTEN
    session.execute(delete(Arrival).where(*earlier, col(Arrival.print_id).is_(None)))


def _file_or_offer(session: Session, row: Arrival, project_id: int) -> None:
    mates = _recorded_at_once(session, row, project_id)
    place = track_names.place_of(row.path, track_names.places_by_name(session, project_id))
    if place is not None:
        _file(session, row, place.pass_id, "name", place.step_id)
        return
    awaited = _awaited_by(session, row, mates, project_id)
    if awaited is not None:
        guess = guess_of_pass(session, awaited, [_file_of(one) for one in (row, *mates)])[0]
        is_sure = guess is not None and guess.is_sure
        _file(session, row, awaited, "waiting", guess.step_id if guess is not None and is_sure else None)
        return
    row.state = "offered"
    open_mates = [mate for mate in mates if is_open(mate)]
    if open_mates:
        row.together = open_mates[0].together or uuid4().hex
        open_mates[0].together = row.together
    if row.file_id is not None:
        prints.want_recognised(session, row.file_id, project_id)


def _awaited_by(session: Session, row: Arrival, mates: Sequence[Arrival], project_id: int) -> int | None:
    """The pass that waited for this file: that of a file recorded at once with it, else the one that waits now, if the
    file was written to since. What was asked for by hand was waited for by nobody."""
    if found_of(row).by == "hand":
        return None
    for mate in mates:
        if found_of(mate).by == "waiting" and mate.print_id is not None:
            return session.get_one(Print, mate.print_id).pass_id
    waiting = printing.waiting_pass(session, project_id)
    if waiting is None or row.modified_ns / 1e9 < waiting.since.timestamp() - CLOCKS_APART_S:
        return None
    return waiting.pass_id


def _recorded_at_once(session: Session, row: Arrival, project_id: int) -> list[Arrival]:
    """Arrivals that ended with this one and are as long; those with a start on the clock began together, too."""
    own = found_of(row)
    if own.duration_s is None:
        return []
    apart_s = min(TOGETHER_S, own.duration_s / 2)
    near = session.scalars(
        select(Arrival)
        .join(WatchedFolder)
        .where(
            col(WatchedFolder.project_id) == project_id,
            col(Arrival.id) != row.id,
            col(Arrival.state).in_(("offered", "taken")),
            func.abs(col(Arrival.modified_ns) - row.modified_ns) <= int(apart_s * 1e9),
        )
        .order_by(col(Arrival.id).desc())
        .limit(TOGETHER_MOST)
    )
    others = [other for other in near if (other.folder_id, other.path) != (row.folder_id, row.path)]
    return [other for other in others if _began_and_ended_together(own, found_of(other))]


def _began_and_ended_together(one: Found, other: Found) -> bool:
    if one.duration_s is None or other.duration_s is None:
        return False
    starts = (one.time_reference, other.time_reference)
    if None not in starts and starts[0] != starts[1]:
        return False
    return abs(one.duration_s - other.duration_s) <= TOGETHER_LENGTH_S


def _file(session: Session, row: Arrival, pass_id: int, by: str, step_id: int | None) -> None:
    """Where it is not known which microphone it is of, its own name stands for it."""
    assert row.file_id is not None
    name = wording.file_name(row.path)
    label = "" if step_id is not None else name.rsplit(".", 1)[0][: wording.LINE_LIMIT]
    row.print_id = prints.add_print(session, pass_id, row.file_id, name, label=label, step_id=step_id)
    row.state = "taken"
    row.found = asdict(found_of(row)) | {"by": by, "is_unheard": by == "waiting"}
    find_pass(session, pass_id).waiting_since = None


def _file_of(row: Arrival) -> PrintFile:
    return PrintFile(row.path, found_of(row).channels)


def leave_out(row: Arrival, reason: str) -> None:
    row.state, row.reason, row.file_id, row.together = "left", reason, None, ""
