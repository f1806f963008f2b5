"""Files that were not copied in: brought in after all, or looked at again where they lie."""

from pathlib import Path

from sqlalchemy.orm import Session

from app.desk.files import stored_files
from app.desk.prints.prints import find_print
from app.desk.refusals import Refusal
from app.desk.rows import row_of
from app.library import Library, sha256_of
from app.records import ReferredFile, StoredFile
from app.records.base import now


def look_again(library: Library, print_id: int) -> int:
    """Read a print's referred file whole, and write down whether it is what it was. Returns the pass."""
    pass_id, referred, sha256 = _of_print(library, print_id)
    path = Path(referred.path)
    problem, size, modified_ns = stored_files.trouble_of(referred), referred.bytes, referred.modified_ns
    try:
        before = path.stat()
        if sha256_of(path) == sha256:  # only its date is another
            problem, size, modified_ns = "", before.st_size, before.st_mtime_ns
    except OSError:
        pass  # `problem` says that it is away
    with library.writing() as session:
        row = session.get(ReferredFile, referred.file_id)
        if row is not None:
            row.problem, row.bytes, row.modified_ns, row.checked_at = problem, size, modified_ns, now()
    return pass_id


def bring_in(library: Library, print_id: int) -> int:
    """Copy a print's referred file into the library after all. Raises Refusal where it is away or no longer what it
    was. Returns the pass."""
    pass_id, referred, sha256 = _of_print(library, print_id)
    try:
        with Path(referred.path).open("rb") as stream:
            taken = stored_files.take_in(library, "", stream)
    except OSError:
        raise Refusal({"": stored_files.trouble_of(referred)}) from None
    if taken.sha256 != sha256:
        stored_files.forget_unless_used(library, taken)
        raise Refusal(
            {"": f"“{Path(referred.path).name}” is not what it was any more, so it was not brought in."}
        )
    with library.writing() as session:
        row = session.get(ReferredFile, referred.file_id)
        if row is not None:
            session.delete(row)
    return pass_id


def _of_print(library: Library, print_id: int) -> tuple[int, ReferredFile, str]:
    with library.reading() as session:
        item = find_print(session, print_id)
        return item.pass_id, _find(session, item.file_id), session.get_one(StoredFile, item.file_id).sha256


def _find(session: Session, file_id: int) -> ReferredFile:
    return row_of(session, ReferredFile, file_id, "referred file", "It may have been brought in meanwhile.")
