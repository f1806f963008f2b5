"""The Chromium that the browser tests drive: the machine's own, else Playwright's. The one without a window of its own comes
first, for it opens a page in a third of the time."""

import os
import shutil
from pathlib import Path

from playwright.sync_api import Browser, Playwright, sync_playwright

NAMES = (
    "chromium-headless-shell",
    "chromium",
    "chromium-browser",
    "google-chrome",
    "google-chrome-stable",
    "chrome",
)
APPLICATIONS = (
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
)
FLAGS = (
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--host-resolver-rules=MAP * ~NOTFOUND , EXCLUDE 127.0.0.1",  # nothing outside can be reached by mistake
)
WHAT_TO_DO = (
    "The browser tests need Chromium and found none. Install it (Debian: apt-get install chromium-headless-shell), or let "
    "Playwright bring its own: uv run --group test playwright install chromium"
)


class NoChromium(Exception):
    """No Chromium on this machine; the message says what to do."""


def launch(playwright: Playwright) -> Browser:
    """Raises NoChromium."""
    path = on_this_machine() or brought_by(playwright)
    if path is None:
        raise NoChromium(WHAT_TO_DO)
    flags = [*FLAGS, "--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else [*FLAGS]
    return playwright.chromium.launch(executable_path=path, args=flags)


def is_there() -> bool:
    if on_this_machine() is not None:
        return True
    try:
        with sync_playwright() as playwright:
            return brought_by(playwright) is not None
    except Exception:  # Playwright raises a plain one where its driver cannot run
        return False


def on_this_machine() -> str | None:
    named = (shutil.which(name) for name in NAMES)
    placed = (path for path in APPLICATIONS if Path(path).exists())
    return next((path for path in (*named, *placed) if path), None)


def brought_by(playwright: Playwright) -> str | None:
    path = playwright.chromium.executable_path
    return path if Path(path).exists() else None
