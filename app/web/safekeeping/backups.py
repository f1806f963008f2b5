"""The backups of the library: which there are, when everything was copied elsewhere last, how one is put back."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import ClassVar

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.desk.safekeeping.backups import Backup, look_at_backups
from app.desk.safekeeping.full_copies import LastCopy, last_copy
from app.library import Library
from app.library_errors import LibraryAway, LibraryDamaged, LibraryError, command
from app.web.context import LibraryDep
from app.web.pages import NOTHING, Page, go_to, show

router = APIRouter()


@dataclass(frozen=True)
class BackupsPage(Page):
    """`not_made` says why Dialback could not make the last one by itself; the commands are as they are typed."""

    template: ClassVar[str] = "safekeeping/backups.html"
    section: ClassVar[str] = ""

    backups: list[Backup]
    last: LastCopy | None
    not_made: str
    copy_command: str
    restore_command: str
    errors: Mapping[str, str]


@router.get("/backups")
def show_backups(request: Request, library: LibraryDep) -> Response:
    return show(request, _page(request, library, NOTHING))


@router.post("/backups")
def back_up(request: Request, library: LibraryDep) -> Response:
    try:
        library.backup()
    except (LibraryAway, LibraryDamaged):
        raise
    except LibraryError as error:
        return show(request, _page(request, library, {"": str(error)}), status_code=422)
    return go_to("/backups")


def _page(request: Request, library: Library, errors: Mapping[str, str]) -> BackupsPage:
    last = last_copy(library.folder)
    return BackupsPage(
        look_at_backups(library.folder),
        last,
        request.app.state.backups.trouble,
        command("backup", library.folder, "--to", last.to if last else "FOLDER"),
        command("restore", library.folder, "BACKUP"),
        errors,
    )
