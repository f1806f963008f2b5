"""The one error page, and which of the app's errors become which answer."""

import errno
import logging
from dataclasses import dataclass
from typing import ClassVar

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import HTMLResponse, Response
from starlette.exceptions import HTTPException
from starlette.routing import Match

from app.desk.child_processes import ChildFailed
from app.desk.refusals import NotThere, Refusal
from app.library_errors import LibraryAway, LibraryBusy, LibraryDamaged, LibraryFull
from app.web.pages import Page, go_to, show
from app.web.security import HEADERS

log = logging.getLogger(__name__)

FULL_DISK = "The disk is full, so this was not saved. Make room on it, go back, and send it again: the form still holds what you typed."
BUSY = "Another program holds the library's database (a backup or a synchronising folder, perhaps), so this was not done. Wait a moment, go back, and send it again: the form still holds what you typed."
NOT_SAVED = "What you sent was not saved. Put the folder back in its place, or stop Dialback and start it again; then go back and send it again: the form still holds what you typed."
CUT_SHORT = "The part of Dialback that makes this ended before it was done, or was silent for too long and was ended. Nothing was kept of it; try it once more. The log in the terminal says more."
OUR_FAULT = "This is a fault of Dialback, not of yours. Its log in the terminal says more. “dialback check” says whether the library is whole."
SENTENCES = {
    404: "There is no such page. Follow a link from the projects page.",
    405: "This address cannot be used that way. Follow a link from the projects page.",
    411: "A form has to say how long it is. Send it from Dialback's own pages.",
    413: "This is larger than Dialback takes in at once (DIALBACK_MAX_UPLOAD_BYTES sets the limit). Nothing was kept of it.",
}


@dataclass(frozen=True)
class ErrorPage(Page):
    template: ClassVar[str] = "error.html"
    section: ClassVar[str] = ""

    heading: str
    sentence: str


def install(app: FastAPI) -> None:
    @app.exception_handler(Refusal)
    def refused(request: Request, error: Refusal) -> HTMLResponse:
        """A refusal that no form on the page can show at its fields."""
        return show(request, ErrorPage("Not done", str(error)), status_code=422)

    @app.exception_handler(NotThere)
    def not_there(request: Request, error: NotThere) -> HTMLResponse:
        return show(request, ErrorPage("Not in the library", str(error)), status_code=404)

    @app.exception_handler(RequestValidationError)
    def misaddressed(request: Request, error: RequestValidationError) -> HTMLResponse:
        return show(request, ErrorPage("Not found", SENTENCES[404]), status_code=404)

    @app.exception_handler(HTTPException)
    def http_error(request: Request, error: HTTPException) -> Response:
        if error.status_code == 405 and request.method == "GET" and (above := _page_above(request)):
            return go_to(above)
        sentence = SENTENCES.get(error.status_code, str(error.detail))
        heading = "Not found" if error.status_code == 404 else "Not done"
        return show(request, ErrorPage(heading, sentence), status_code=error.status_code)

    @app.exception_handler(OSError)
    def could_not_write(request: Request, error: OSError) -> HTMLResponse:
        try:
            request.app.state.library.refuse_if_unwritable()
        except LibraryAway as away:
            return gone(request, away)
        if error.errno in (errno.ENOSPC, errno.EDQUOT):
            return show(request, ErrorPage("The disk is full", FULL_DISK), status_code=507)
        return our_fault(request, error)

    @app.exception_handler(LibraryFull)
    def no_room(request: Request, error: LibraryFull) -> HTMLResponse:
        return show(request, ErrorPage("The disk is full", FULL_DISK), status_code=507)

    @app.exception_handler(LibraryBusy)
    def busy(request: Request, error: LibraryBusy) -> HTMLResponse:
        return show(request, ErrorPage("The library is busy", BUSY), status_code=503)

    @app.exception_handler(LibraryAway)
    def gone(request: Request, error: LibraryAway) -> HTMLResponse:
        return show(request, ErrorPage("The library is away", f"{error} {NOT_SAVED}"), status_code=503)

    @app.exception_handler(LibraryDamaged)
    def damaged(request: Request, error: LibraryDamaged) -> HTMLResponse:
        return show(request, ErrorPage("The library is damaged", str(error)), status_code=503)

    @app.exception_handler(ChildFailed)
    def cut_short(request: Request, error: ChildFailed) -> HTMLResponse:
        log.error("%s %s: %s", request.method, request.url.path, error)
        return show(request, ErrorPage("Not done", CUT_SHORT), status_code=503)

    @app.exception_handler(Exception)
    def our_fault(request: Request, error: Exception) -> HTMLResponse:
        log.error("%s %s failed", request.method, request.url.path, exc_info=error)
        answer = show(request, ErrorPage("Something went wrong", OUR_FAULT), status_code=500)
        answer.headers.update(HEADERS)  # made outside of the middleware that adds them to every other answer
        return answer


def _page_above(request: Request) -> str | None:
    """The page that a form stands on which is sent to this address: after a refusal the address is the form's own, and
    whoever opens that anew means the page."""
    path = request.url.path
    while path := path.rpartition("/")[0]:
        scope = {**request.scope, "path": path, "raw_path": path.encode()}
        if any(route.matches(scope)[0] is Match.FULL for route in request.app.router.routes):
            return path
    return None
