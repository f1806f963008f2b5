"""A database made anew where none is left that could be put back: of what can still be read of a damaged one, of bundles
that were handed on, and of what the files themselves know. Everything that is guessed is marked as salvaged.

It is made ready beside the library and takes the place as a backup does that is put back.
"""

import hashlib
import io
import shutil
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

from sqlalchemy import select
from sqlmodel import col

from app import database_file
from app.desk.bundles.merge import merge
from app.desk.bundles.reading import UnreadableBundle, open_bundle
from app.desk.files import stored_files
from app.desk.files.audio_heads import AudioHead, read_head
from app.desk.files.audio_titles import AudioTitle, read_title
from app.desk.files.cleaned_pictures import cleaned_picture
from app.desk.files.pictures import UnusablePicture
from app.desk.measuring import measurements
from app.desk.safekeeping.backups import look_at_backups
from app.desk.safekeeping.readable_rows import Rows, copy_readable, readable_form
from app.desk.safekeeping.restoring import find
from app.desk.shelf.gear import GearEntry, put_on_shelf
from app.library import REVISION, Library, TakenIn, make_folders, migrate, refuse_if_newer, sole_server
from app.library_errors import LibraryError, LibraryLost, command
from app.records import Photo, Project, SourceTrack, StoredFile
from app.records.written_words import write_anew

MARK = "Salvaged"
TITLE_LENGTH = 80


@dataclass
class Salvaged:
    """`aside` is where the damaged database lies now, `rows` what came of it; `bundles` are the titles of those brought
    in, `refused` says why others were not; `unknown` counts files that are neither audio nor a picture."""

    aside: Path | None = None
    rows: Rows = field(default_factory=Rows)
    bundles: list[str] = field(default_factory=list)
    refused: list[str] = field(default_factory=list)
    sources: int = 0
    photos: int = 0
    unknown: int = 0


def make_anew(folder: Path, bundles: Sequence[Path], most_bytes: int, *, anyway: bool = False) -> Salvaged:
    """`anyway` also where a backup could be put back. What is named may be a damaged database, such as one that a restore
    put aside: then it is read instead of the one that is in use. Raises LibraryError; then nothing was changed."""
    with sole_server(folder, "a salvage"):
        make_folders(folder)
        database_file.finish_taking_place(folder)
        named = [path for path in bundles if _is_database(folder, path)]
        bundles = [path for path in bundles if path not in named]
        damaged = find(folder, str(named[0])) if named else _damaged(folder, anyway=anyway)
        stage = folder / database_file.STAGE
        done = Salvaged()
        try:
            stage.mkdir()
            staged = stage / database_file.NAME
            if damaged is not None:
                done.rows = _of_damaged(damaged, staged)
            migrate(staged)
            _fill(folder, staged, bundles, most_bytes, done)
            if trouble := database_file.trouble_of(staged, thoroughly=True):
                raise LibraryError(f"What was made of it is not whole ({trouble}). Nothing was changed.")
        except BaseException as error:
            shutil.rmtree(stage, ignore_errors=True)
            if isinstance(error, OSError):
                raise LibraryError(f"Nothing was salvaged and nothing changed: {error.strerror}.") from error
            raise
        done.aside = database_file.take_place(folder)
        return done


def _is_database(folder: Path, path: Path) -> bool:
    return path.suffix == ".db" or path.is_dir() or (folder / path).is_dir()


def _damaged(folder: Path, *, anyway: bool) -> Path | None:
    """The database that is there and cannot be used, None where there is none."""
    database = folder / database_file.NAME
    is_there = database.exists() and database.stat().st_size > 0
    if is_there and not database_file.trouble_of(database, thoroughly=True, in_use=True):
        raise LibraryError(f"{database} is whole as far as SQLite can tell, so there is nothing to salvage.")
    usable = [backup for backup in look_at_backups(folder) if backup.holdings is not None]
    if usable and not anyway:
        raise LibraryError(
            f"There are backups that hold more than files can tell; the newest is {usable[0].name}. “{command('restore', folder)}” lists "
            "them and puts one back. To salvage all the same, say --anyway; the backups stay."
        )
    if not is_there and not any((folder / "files").glob("??/*")):
        raise LibraryLost(f"{folder} holds no files of a library, so there is nothing to salvage.")
    return database if is_there else None


def _of_damaged(damaged: Path, staged: Path) -> Rows:
    form = readable_form(damaged) or REVISION
    refuse_if_newer(form)
    migrate(staged, form)
    return copy_readable(damaged, staged)


def _fill(folder: Path, staged: Path, bundles: Sequence[Path], most_bytes: int, done: Salvaged) -> None:
    library = Library(folder, staged)
    try:
        with library.writing() as session:
            write_anew(session.connection())
            if done.rows.hurt:
                for project in session.scalars(select(Project)):
                    said = (
                        f"{MARK} on {datetime.now():%Y-%m-%d} from a damaged database: rows may be missing."
                    )
                    project.notes = f"{project.notes}\n\n{said}".strip()
        for path in bundles:
            try:
                bundle = open_bundle(path, most_bytes)
                merge(library, bundle)
                done.bundles.append(bundle.document.project.title)
            except UnreadableBundle as error:
                done.refused.append(f"{path}: {error}")
        _take_in_unknown(library, done)
    finally:
        library.close()
    database_file.make_one_file(staged)


def _take_in_unknown(library: Library, done: Salvaged) -> None:
    """What no row knows: audio as sources of one project, pictures as photos of one piece of gear."""
    with library.reading() as session:
        known = set(session.scalars(select(col(StoredFile.sha256))))
    heads: dict[str, AudioHead] = {}
    made_of: dict[str, tuple[str, str]] = {}
    for name in sorted(library.files.names() - known):
        path = library.files.path(name)
        head = read_head(path)
        if head is not None:
            heads[name] = head
            continue
        try:
            picture = cleaned_picture(path)
            made_of[name] = _name(picture.shown), _name(picture.thumbnail)
        except UnusablePicture:
            done.unknown += 1
    _audio(library, heads)
    done.sources = len(heads)
    # What was shown of a photo, and its thumbnail, lie among the files: they are known again by being made anew.
    made = {made for name, both in made_of.items() for made in both if made != name}
    done.photos = _photos(library, [name for name in made_of if name not in made])


def _name(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def _audio(library: Library, heads: dict[str, AudioHead]) -> None:
    if not heads:
        return
    with library.writing() as session:
        project = Project(
            title=f"{MARK} {datetime.now():%Y-%m-%d}",
            notes="The database was lost. Each source track here is an audio file of the library, called by what its own "
            "header says; prints are among them.",
        )
        session.add(project)
        session.flush()
        for name, head in heads.items():
            path = library.files.path(name)
            title = read_title(path)
            taken = TakenIn(name, path.stat().st_size)
            source = SourceTrack(
                project_id=project.id,
                name=_called(path, title),
                notes=f"{MARK}: files/{name[:2]}/{name}, {_sound(head)}.",
                file_name=f"{name[:12]}.{head.container.lower()}",
                file_id=stored_files.record(session, taken, stored_files.AUDIO_TYPES[head.container]),
            )
            session.add(source)
            assert source.file_id is not None
            measurements.want(session, (source.file_id, None))


def _called(path: Path, title: AudioTitle) -> str:
    at = title.originated_at or datetime.fromtimestamp(path.stat().st_mtime)
    return " ".join(f"{MARK} {at:%Y-%m-%d %H:%M} {title.title[:TITLE_LENGTH]}".split())


def _sound(head: AudioHead) -> str:
    length = "" if head.duration_s is None else f", {head.duration_s:.1f} s"
    return f"{head.container} at {head.sample_rate} Hz{length}"


def _photos(library: Library, originals: Sequence[str]) -> int:
    if not originals:
        return 0
    gear = GearEntry(
        f"{MARK} photos", "other", "The database was lost: of what these photos are is not known."
    )
    with library.writing() as session:
        gear_id = put_on_shelf(session, gear)
    for name in originals:
        path = library.files.path(name)
        picture = cleaned_picture(path)
        shown = library.files.take_in(io.BytesIO(picture.shown))
        thumbnail = library.files.take_in(io.BytesIO(picture.thumbnail))
        with library.writing() as session:
            taken = TakenIn(name, path.stat().st_size)
            session.add(
                Photo(
                    gear_id=gear_id,
                    caption=MARK,
                    width=picture.width,
                    height=picture.height,
                    original_file_id=stored_files.record(session, taken, picture.media_type_found),
                    shown_file_id=stored_files.record(session, shown, "image/jpeg"),
                    thumbnail_file_id=stored_files.record(session, thumbnail, "image/jpeg"),
                )
            )
    return len(originals)
