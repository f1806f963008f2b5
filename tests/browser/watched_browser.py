"""A browser context that writes down everything a page must never do: log an error, raise one, break the content
security policy, or ask anybody but the app for anything.
"""

import re
from dataclasses import dataclass, field
from typing import Protocol

from lxml.html import fromstring
from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Page, Request, Response
from playwright.sync_api import Error as PlaywrightError
from running_app import RunningApp

DESK_PX = 1280
PHONE_PX = 375
HEIGHT_PX = 800
AT_REST = "/static/icon.svg"
MOST_FREE_WINDOWS = 4
PATIENCE_MS = 30_000  # for what is being measured; all else is there at once


class Visit(Protocol):
    def __call__(
        self,
        app: RunningApp,
        *,
        width: int = DESK_PX,
        javascript: bool = True,
        touch: bool = False,
        expected: set[int | str] | None = None,
    ) -> Page: ...


@dataclass
class Watch:
    """`expected` holds status codes, and words of messages, that this test provokes: Chromium, and htmx, log each refused request
    as an error."""

    address: str
    expected: set[int | str] = field(default_factory=set)
    problems: list[str] = field(default_factory=list)

    def console(self, message: ConsoleMessage) -> None:
        if message.type != "error":
            return
        if message.location.get("url") == f"{self.address}/events" and "net::ERR_" in message.text:
            return  # an open page listens again and again for a Dialback that was stopped
        told = re.search(r"status of (\d+) |^Response Status Error Code (\d+) ", message.text)
        if told and int(told[1] or told[2]) in self.expected:
            return
        if any(isinstance(words, str) and words in message.text for words in self.expected):
            return
        self.problems.append(f"console: {message.text} ({message.location.get('url', '')})")

    def response(self, response: Response) -> None:
        """A refusal that nobody expected says what was refused, while its body can still be read."""
        if response.status < 400 or response.status in self.expected:
            return
        try:
            body = response.text()
        except PlaywrightError:
            body = ""
        self.problems.append(f"{response.request.method} {response.url}: {response.status} {told_in(body)}")

    def request(self, request: Request) -> None:
        if not request.url.startswith((f"{self.address}/", "data:", f"blob:{self.address}/")):
            self.problems.append(f"request to {request.url}")


def told_in(body: str) -> str:
    """The sentences of a page that refuses, else how the answer begins."""
    told = (
        fromstring(body).xpath(".//*[@role='alert' or contains(@class, 'field-error')]")
        if "<" in body
        else []
    )
    return " | ".join(" ".join(element.text_content().split()) for element in told) or body[:300]


_TELL_OF_VIOLATIONS = """
document.addEventListener("securitypolicyviolation", (event) => {
  console.error(`policy: ${event.violatedDirective} blocked ${event.blockedURI || "inline"}`);
});
"""


def watched_context(
    browser: Browser,
    app: RunningApp,
    watch: Watch,
    *,
    width: int,
    javascript: bool = True,
    touch: bool = False,
) -> BrowserContext:
    context = browser.new_context(
        base_url=app.address,
        viewport={"width": width, "height": HEIGHT_PX},
        java_script_enabled=javascript,
        has_touch=touch,
        is_mobile=touch,
        accept_downloads=True,
    )
    context.set_default_timeout(PATIENCE_MS)
    context.on("console", watch.console)
    context.on("weberror", lambda error: watch.problems.append(f"page error: {error.error}"))
    context.on("request", watch.request)
    context.on("response", watch.response)
    if javascript:
        context.add_init_script(_TELL_OF_VIOLATIONS)
    return context


_MAY_STILL_SEND = "!navigator.onLine || Number(document.documentElement.dataset.waiting) > 0"


@dataclass(frozen=True)
class Window:
    """A browser context on one app, its first page, and what watches it."""

    kind: tuple[str, int, bool, bool]
    context: BrowserContext
    page: Page
    watch: Watch


class Windows:
    """Browser contexts that tests take one after the other: each finds one that knows nothing of the test before, but has the
    app's scripts and style sheets still at hand, and a page whose process has compiled them: a new one takes twice as long
    for a page of the app."""

    def __init__(self, browser: Browser) -> None:
        self._browser = browser
        self._free: list[Window] = []

    def take(self, app: RunningApp, *, width: int, javascript: bool, touch: bool) -> Window:
        kind = (app.address, width, javascript, touch)
        for window in self._free:
            if window.kind == kind:
                self._free.remove(window)
                return window
        watch = Watch(app.address)
        context = watched_context(self._browser, app, watch, width=width, javascript=javascript, touch=touch)
        return Window(kind, context, context.new_page(), watch)

    def give_back(self, window: Window) -> list[str]:
        """What went wrong in it."""
        context, watch = window.context, window.watch
        page = context.new_page() if window.page.is_closed() else window.page
        for other in context.pages:
            if other != page:
                other.close()
        _, width, javascript, _ = window.kind
        if javascript and page.evaluate(_MAY_STILL_SEND):
            page.goto("about:blank")  # before it is on the network again
        context.set_offline(False)
        page.unroute_all()
        context.unroute_all()
        problems = [*watch.problems]
        try:
            page.goto(AT_REST)
        except PlaywrightError:  # its app was of that test alone, and has ended
            context.close()
            return problems
        if javascript:
            page.evaluate("sessionStorage.clear()")
        context.clear_cookies()
        forget = {"origin": watch.address, "storageTypes": "all"}
        session = context.new_cdp_session(page)
        session.send("Storage.clearDataForOrigin", forget)
        session.detach()
        page.emulate_media(color_scheme="null")
        page.set_viewport_size({"width": width, "height": HEIGHT_PX})
        page.mouse.move(0, 0)
        watch.problems.clear()
        self._free.append(Window(window.kind, context, page, watch))
        if len(self._free) > MOST_FREE_WINDOWS:
            self._free.pop(0).context.close()
        return problems

    def close(self) -> None:
        for window in self._free:
            window.context.close()


def overflow_px(page: Page) -> int:
    """By how much the document is wider than the window was made: a phone zooms out to fit one that is too wide."""
    assert page.viewport_size is not None
    width: int = page.evaluate("document.documentElement.scrollWidth")
    return width - page.viewport_size["width"]
