"""Bundles that were sent, put aside until the person has seen what is in them and says whether they come in."""

import contextlib
import os
import re
import tempfile
from collections.abc import Collection
from functools import lru_cache
from pathlib import Path
from typing import BinaryIO

from sqlalchemy import func, select
from sqlmodel import col

from app.desk.bundles.merge import Preview, merge, preview
from app.desk.bundles.reading import Bundle, UnreadableBundle, open_bundle
from app.desk.refusals import NotThere, Refusal
from app.library import Library, Readable, copy_hashed
from app.records import Note

GONE = "This bundle is not here any more: Dialback was started anew meanwhile. Bring it in again."


def put_aside(library: Library, stream: BinaryIO, most_bytes: int) -> str:
    """Keep a bundle until the next start. Returns its key. Raises Refusal for what is no bundle."""
    handle, name = tempfile.mkstemp(dir=library.files.incoming)
    written = Path(name)
    try:
        with os.fdopen(handle, "wb") as out:
            key = copy_hashed(stream, out).sha256
        written.replace(_path(library, key))
    except OSError as error:
        library.refuse_if_unwritable()
        raise Refusal(
            {
                "bundle": f"The bundle could not be written to the library ({error.strerror}). Make room on the disk."
            }
        ) from error
    finally:
        written.unlink(missing_ok=True)
    try:
        _opened(library, key, most_bytes)
    except Refusal:
        _path(library, key).unlink(missing_ok=True)
        raise
    return key


def preview_kept(library: Readable, key: str, most_bytes: int) -> Preview:
    return preview(library, _opened(library, key, most_bytes))


def merge_kept(
    library: Library, key: str, theirs: Collection[str], most_bytes: int, *, deleted_too: bool = False
) -> int:
    """Bring it in. Returns the project."""
    bundle = _opened(library, key, most_bytes)
    wanted = set(theirs)
    if deleted_too:
        wanted |= {change.uid for change in preview(library, bundle).of_state("deleted here")}
    try:
        project_id = merge(library, bundle, wanted).project_id
    except UnreadableBundle as error:
        raise _refused(error) from error
    with contextlib.suppress(OSError):
        bundle.path.unlink()
    return project_id


def count_private_notes(library: Readable, project_id: int) -> int:
    with library.reading() as session:
        private = select(func.count()).where(col(Note.project_id) == project_id, col(Note.private))
        return session.scalar(private) or 0


def _opened(library: Readable, key: str, most_bytes: int) -> Bundle:
    path = _path(library, key)
    try:
        written = path.stat()
    except FileNotFoundError:
        raise Refusal({"bundle": GONE}) from None
    try:
        return _validated(path, most_bytes, written.st_mtime_ns, written.st_size)
    except UnreadableBundle as error:
        raise _refused(error) from error


@lru_cache(maxsize=1)
def _validated(path: Path, most_bytes: int, modified_ns: int, size: int) -> Bundle:
    """A bundle that lies here is read and checked once, not again at each look at it; a file that was changed since
    is another."""
    return open_bundle(path, most_bytes)


def _path(library: Readable, key: str) -> Path:
    if not re.fullmatch(r"[0-9a-f]{64}", key):
        raise NotThere("bundle")
    return library.files.incoming / f"bundle-{key}.zip"


def _refused(error: UnreadableBundle) -> Refusal:
    return Refusal({"bundle": f"This bundle was not brought in, and nothing was changed. {error}"})
