"""A project as one zip, to hand on: what was logged as a page that works offline, as PDF, CSV and `session.json`, with
audio and photos as wished, and a list of checksums. It is written as it is sent, so nothing of it is kept.

What is sent is what was stored: every file is held against its hash before the first byte leaves, and again as it
leaves. The last bytes leave when what both sides agree on is written down, so a bundle that came whole is one that this
library knows of."""

import hashlib
import shutil
import tempfile
import zipfile
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import lru_cache
from pathlib import Path
from typing import IO, Literal

from sqlalchemy import select
from sqlmodel import col

from app.desk.bundles.document import Document, schema_json, to_json
from app.desk.bundles.merge import agree
from app.desk.bundles.rows import read_document
from app.desk.files import copy_names
from app.desk.files.stored_files import FileAway, path_of
from app.desk.listening.aligned_copies import CopyOptions, make_aligned_copies, with_first
from app.desk.passes.pass_sheets import PassSheet, PrintSheet
from app.desk.refusals import Refusal
from app.desk.sheets.session_log import SessionLog, read_session_log
from app.desk.sheets.sheets import session_log_csv, session_log_pdf
from app.library import BLOCK_BYTES, Library, Readable, sha256_of
from app.records import StoredFile
from app.signal.figures import FileFigures
from app.trade.distances import LengthUnit

Audio = Literal["original", "aligned", "none"]

CHECKSUMS = "SHA256SUMS"
LEAST_ROOM_BYTES = 10_000_000
"""What the PDF and a few rows of the database may take."""
EXTENSIONS = {"audio/wav": ".wav", "audio/aiff": ".aiff", "audio/flac": ".flac"}


@dataclass(frozen=True)
class BundleOptions:
    audio: Audio = "original"
    photos: bool = True
    keepers_only: bool = False
    leave_out_damaged: bool = False


@dataclass(frozen=True)
class Lane:
    """Something that the offline page plays: a source or a print. `delay_s` is how late it is on the source's time
    line, `volume` what makes it as loud as the quietest of its source."""

    words: str
    path: str
    delay_s: float
    volume: float


@dataclass(frozen=True)
class Contents:
    """What a bundle is to hold. `files` are stored files by their names in it, with their hashes in `hashes`; `photos` the
    pictures' names by id, `controls` those of the pictures of controls by their file's, `lanes` what can be heard, by source id. `missing` names audio that the library has lost, or
    whose file is damaged and was to be left out."""

    document: Document
    log: SessionLog
    options: BundleOptions
    files: Mapping[str, Path]
    hashes: Mapping[str, str]
    copies: tuple[tuple[int, tuple[int, ...]], ...]
    photos: Mapping[int, str]
    controls: Mapping[int, str]
    lanes: Mapping[int, tuple[Lane, ...]]
    missing: tuple[str, ...]

    @property
    def name(self) -> str:
        (name,) = copy_names.names("{project}", [{"project": self.log.project.title}], " session.zip")
        return name

    @property
    def audio_bytes(self) -> int:
        return sum(path.stat().st_size for name, path in self.files.items() if name.startswith("audio/"))


def plan_bundle(
    library: Readable, project_id: int, options: BundleOptions, *, with_overviews: bool = False
) -> Contents:
    """Everything that would leave, before it does; its page draws waveforms `with_overviews`. Raises NotThere."""
    log = read_session_log(library, project_id, with_overviews=with_overviews)
    with library.reading() as session:
        document = read_document(session, project_id, keepers_only=options.keepers_only)
        files_of_sources = _source_files(document)
    if options.keepers_only:
        log = replace(
            log,
            sources=tuple(
                replace(source, passes=tuple(sheet for sheet in source.passes if sheet.is_keeper))
                for source in log.sources
            ),
        )
    sheets = [sheet for source in log.sources for sheet in source.passes]
    audio: dict[str, str] = {}  # by SHA-256
    files: dict[str, Path] = {}
    missing: list[str] = []
    if options.audio == "original":
        for sha256, name in _audio_names(document, sheets, files_of_sources).items():
            try:
                path = path_of(library, sha256)
            except FileAway:
                missing.append(name)
                continue
            if options.leave_out_damaged and not _fits(path, sha256):
                missing.append(name)
                continue
            files[name] = path
            audio[sha256] = name
    photos, rows = _photos(library, document, sheets, options) if options.photos else ({}, {})
    crops = _crops(library, document, options) if options.photos else {}
    files |= {name: library.files.path(sha256) for sha256, name in (*rows.items(), *crops.items())}
    document = document.model_copy(
        update={
            "audio": audio,
            "crops": crops,
            "photos": [row.model_copy(update={"path": rows.get(row.sha256, "")}) for row in document.photos],
        }
    )
    copies = _copies(sheets) if options.audio == "aligned" else ()
    return Contents(
        document,
        log,
        options,
        files,
        {name: sha256 for sha256, name in (*audio.items(), *rows.items(), *crops.items())},
        copies,
        photos,
        _by_file(library, sheets, crops),
        _lanes(document, log, audio),
        tuple(missing),
    )


def write_bundle(
    library: Library, contents: Contents, pages: Mapping[str, bytes], *, unit: LengthUnit = "mm"
) -> Iterator[bytes]:
    """The zip's bytes. `pages` are the offline page and what it needs, by name. Raises Refusal, before the first byte,
    where a print cannot be copied aligned, a file is damaged or the disk has no room for what has to be made."""
    _refuse_damaged(contents)
    _refuse_without_room(library, contents)
    chunks = _written(library, contents, pages, unit)
    first = next(chunks)
    return with_first(first, chunks)


def _written(
    library: Library, contents: Contents, pages: Mapping[str, bytes], unit: LengthUnit
) -> Iterator[bytes]:
    with tempfile.TemporaryDirectory(dir=library.files.incoming) as folder:
        copied = [
            _copied(library, pass_ids, Path(folder) / f"{source_id}.zip")
            for source_id, pass_ids in contents.copies
        ]
        texts = {
            **pages,
            "session log.pdf": session_log_pdf(contents.log, unit=unit),
            "session log.csv": session_log_csv(contents.log, unit=unit).encode("utf-8-sig"),
            "session.json": to_json(contents.document).encode(),
            "session.schema.json": schema_json().encode(),
        }
        out = _Outgoing(contents.document.made_at)
        for name, content in texts.items():
            out.begin(name, zipfile.ZIP_DEFLATED)
            yield from out.add([content])
        for name, path in contents.files.items():
            with path.open("rb") as stored:
                out.begin(name, zipfile.ZIP_STORED)
                yield from out.add(_blocks(stored), contents.hashes[name])
        for path in copied:
            with zipfile.ZipFile(path) as archive:
                for entry in archive.infolist():
                    with archive.open(entry) as copy:
                        out.begin(f"audio/aligned/{entry.filename}", zipfile.ZIP_STORED)
                        yield from out.add(_blocks(copy))
        last = list(out.end())
        with library.writing() as session:
            agree(session, contents.document, {row.uid for row in contents.document.rows()})
        yield from last


class DamagedOnTheWay(Exception):
    """A file that was whole when the bundle began is not any more. What was sent of the bundle ends here, and is none."""


def _refuse_damaged(contents: Contents) -> None:
    damaged = [name for name, path in contents.files.items() if not _fits(path, contents.hashes[name])]
    if damaged:
        raise Refusal(
            {
                "leave_out": f"Damaged in the library, no longer what was stored: {', '.join(damaged)}. “dialback restore FOLDER --files” "
                "puts it back from a full copy; or leave it out."
            }
        )


def _refuse_without_room(library: Library, contents: Contents) -> None:
    """Aligned copies lie on the disk until they are sent; the rest is sent as it is read."""
    needed = LEAST_ROOM_BYTES + sum(
        item.bytes if item.measured.figures is None else _copy_bytes(item.measured.figures.file)
        for source in contents.log.sources
        for sheet in source.passes
        for item in sheet.prints
        if contents.options.audio == "aligned"
    )
    free = shutil.disk_usage(library.folder).free
    if free < needed:
        raise Refusal(
            {
                "": f"The bundle was not begun: it needs {needed / 1e6:.0f} MB on the library's disk while it is made, and {free / 1e6:.0f} MB "
                "are free. Make room on the disk."
            }
        )


def _copy_bytes(file: FileFigures) -> int:
    return file.frames * file.channels * 3  # 24-bit


def _fits(path: Path, sha256: str) -> bool:
    try:
        found = path.stat()
        return _hash_of(path, found.st_size, found.st_mtime_ns) == sha256
    except OSError:
        return False


@lru_cache(maxsize=10_000)
def _hash_of(path: Path, size: int, modified_ns: int) -> str:
    """Read once for looking and for making; as it is sent it is held against its hash in any case."""
    return sha256_of(path)


def _blocks(file: IO[bytes]) -> Iterator[bytes]:
    while block := file.read(BLOCK_BYTES):
        yield block


def _copied(library: Library, pass_ids: Sequence[int], path: Path) -> Path:
    """Aligned copies of these passes, whole on the disk: a zip within cannot be read as it comes."""
    copies = make_aligned_copies(library, pass_ids, CopyOptions())
    with path.open("wb") as file:
        for chunk in copies.chunks:
            file.write(chunk)
    return path


class _Outgoing:
    """A zip that is written to nowhere but out, and the checksums of what was written."""

    def __init__(self, made_at: datetime) -> None:
        self._pending = bytearray()
        self._archive = zipfile.ZipFile(self, "w")  # type: ignore[call-overload]
        self._at = made_at.astimezone().timetuple()[:6]
        self._sums: list[tuple[str, str]] = []
        self._name, self._packing = "", zipfile.ZIP_STORED

    def write(self, data: bytes) -> int:
        self._pending += data
        return len(data)

    def flush(self) -> None:
        """What there is goes out when it is asked for."""

    def begin(self, name: str, packing: int) -> None:
        self._name, self._packing = name, packing

    def add(self, blocks: Iterator[bytes] | Sequence[bytes], expected: str = "") -> Iterator[bytes]:
        """Raises DamagedOnTheWay where it is not what was expected."""
        digest = hashlib.sha256()
        entry = zipfile.ZipInfo(self._name, self._at)
        entry.compress_type = self._packing
        entry.external_attr = 0o644 << 16
        with self._archive.open(entry, "w", force_zip64=True) as file:
            for block in blocks:
                digest.update(block)
                file.write(block)
                yield self._taken()
        if expected and digest.hexdigest() != expected:
            raise DamagedOnTheWay(f"{self._name} has changed since the bundle was begun.")
        self._sums.append((digest.hexdigest(), self._name))
        yield self._taken()

    def end(self) -> Iterator[bytes]:
        """The checksums, as `sha256sum --check` reads them, and the zip's own directory."""
        lines = "".join(f"{digest}  {name}\n" for digest, name in self._sums)
        self.begin(CHECKSUMS, zipfile.ZIP_DEFLATED)
        yield from self.add([lines.encode()])
        self._archive.close()
        yield self._taken()

    def _taken(self) -> bytes:
        taken = bytes(self._pending)
        self._pending.clear()
        return taken


def _source_files(document: Document) -> dict[str, str]:
    """By SHA-256 what a source's file is called."""
    return {row.file.sha256: f"{row.name} DI" for row in document.sources if row.file is not None}


def _audio_names(
    document: Document, sheets: Sequence[PassSheet], sources: Mapping[str, str]
) -> dict[str, str]:
    """A readable name for each audio file, by its SHA-256."""
    types = {row.file.sha256: row.file.media_type for row in document.prints} | {
        row.file.sha256: row.file.media_type for row in document.sources if row.file is not None
    }
    words = dict(sources)
    for sheet in sheets:
        for number, item in enumerate(sheet.prints, start=1):
            of = item.label or item.microphone or (f"print {number}" if len(sheet.prints) > 1 else "")
            words.setdefault(item.sha256, f"{sheet.source_name} p{sheet.number} {of}")
    stems = copy_names.names("{title}", [{"title": word} for word in words.values()], "")
    return {
        sha256: f"audio/{stem}{EXTENSIONS[types[sha256]]}" for sha256, stem in zip(words, stems, strict=True)
    }


def _photos(
    library: Readable, document: Document, sheets: Sequence[PassSheet], options: BundleOptions
) -> tuple[dict[int, str], dict[str, str]]:
    """The names of the pictures by photo id, for the page, and by SHA-256."""
    held = [
        row
        for row in document.photos
        if (path := library.files.path(row.sha256)).exists()
        and (not options.leave_out_damaged or _fits(path, row.sha256))
    ]
    names = {row.sha256: f"photos/{number:03d}.jpg" for number, row in enumerate(held, start=1)}
    shown = {
        photo.photo_id: names[photo.sha256]
        for sheet in sheets
        for photo in sheet.photos
        if photo.sha256 in names
    }
    return shown, names


def _crops(library: Readable, document: Document, options: BundleOptions) -> dict[str, str]:
    """The names of the pictures of controls, by SHA-256."""
    said = {
        setting.crop
        for row in document.passes
        for step in row.steps
        for setting in step.settings
        if setting.crop is not None
    }
    held = sorted(
        sha256
        for sha256 in said
        if (path := library.files.path(sha256)).exists()
        and (not options.leave_out_damaged or _fits(path, sha256))
    )
    return {sha256: f"photos/controls/{number:04d}.jpg" for number, sha256 in enumerate(held, start=1)}


def _by_file(library: Readable, sheets: Sequence[PassSheet], crops: Mapping[str, str]) -> dict[int, str]:
    """The names of the pictures of controls, by their stored file."""
    if not crops:
        return {}
    shown = {line.crop_id for sheet in sheets for step in sheet.steps for line in step.settings}
    with library.reading() as session:
        stored = session.scalars(select(StoredFile).where(col(StoredFile.id).in_(shown - {None}))).all()
    return {row.id: crops[row.sha256] for row in stored if row.sha256 in crops}


def _copies(sheets: Sequence[PassSheet]) -> tuple[tuple[int, tuple[int, ...]], ...]:
    of_source: dict[int, list[int]] = {}
    for sheet in sheets:
        if sheet.prints:
            of_source.setdefault(sheet.source_id, []).append(sheet.pass_id)
    return tuple((source_id, tuple(ids)) for source_id, ids in of_source.items())


def _lanes(document: Document, log: SessionLog, audio: Mapping[str, str]) -> dict[int, tuple[Lane, ...]]:
    """What the offline page can play of each source: its originals, moved and matched as they play."""
    source_file = {row.name: row.file.sha256 for row in document.sources if row.file is not None}
    lanes: dict[int, tuple[Lane, ...]] = {}
    for source in log.sources:
        found = [
            (f"Pass {sheet.number}" + (f", {item.name}" if len(sheet.prints) > 1 or item.label else ""), item)
            for sheet in source.passes
            for item in sheet.prints
            if item.sha256 in audio
        ]
        loudness = [_lufs(item) for _, item in found]
        quietest = min((value for value in loudness if value is not None), default=None)
        dry = source_file.get(source.name)
        first = [Lane("The source", audio[dry], 0.0, 1.0)] if dry in audio and dry is not None else []
        lanes[source.source_id] = (
            *first,
            *(
                Lane(words, audio[item.sha256], _late_s(item), _volume(value, quietest))
                for (words, item), value in zip(found, loudness, strict=True)
            ),
        )
    return lanes


def _lufs(item: PrintSheet) -> float | None:
    return None if item.measured.figures is None else item.measured.figures.level.integrated_lufs


def _volume(lufs: float | None, quietest: float | None) -> float:
    return 1.0 if lufs is None or quietest is None else float(10 ** ((quietest - lufs) / 20))


def _late_s(item: PrintSheet) -> float:
    figures = item.measured.figures
    alignment = None if figures is None else figures.alignment
    if alignment is None or alignment.delay_ms is None:
        return 0.0
    return alignment.delay_ms / 1000.0
