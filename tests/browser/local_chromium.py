"""The Chromium that the browser tests drive: the machine's own, else Playwright's, else Debian's package."""

import os
import shutil
import subprocess
import tempfile
from pathlib import Path

from filelock import FileLock
from playwright.sync_api import Browser, Playwright

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome")
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
    "The browser tests need Chromium and found none. Install it (Debian: apt-get install chromium), or let "
    "Playwright bring its own: uv run --group test playwright install chromium"
)


class NoChromium(Exception):
    """No Chromium on this machine, and none could be installed; the message says what to do."""


def launch(playwright: Playwright) -> Browser:
    """Raises NoChromium."""
    flags = [*FLAGS, "--no-sandbox"] if _is_root() else [*FLAGS]
    return playwright.chromium.launch(executable_path=find(playwright), args=flags)


def find(playwright: Playwright) -> str:
    """The path of a Chromium to run. Raises NoChromium."""
    own = _on_this_machine()
    if own:
        return own
    brought = playwright.chromium.executable_path
    if Path(brought).exists():
        return brought
    installed = _from_debian() if _is_root() and shutil.which("apt-get") else None
    if installed is None:
        raise NoChromium(WHAT_TO_DO)
    return installed


def _on_this_machine() -> str | None:
    named = (shutil.which(name) for name in NAMES)
    placed = (path for path in APPLICATIONS if Path(path).exists())
    return next((path for path in (*named, *placed) if path), None)


def _from_debian() -> str | None:
    with FileLock(Path(tempfile.gettempdir()) / "dialback-tests-chromium.lock"):
        if _on_this_machine() is None:
            environment = os.environ | {"DEBIAN_FRONTEND": "noninteractive"}
            for command in (
                ["apt-get", "update", "-qq"],
                ["apt-get", "install", "-y", "-qq", "--no-install-recommends", "chromium"],
            ):
                subprocess.run(command, env=environment, check=False)
    return _on_this_machine()


def _is_root() -> bool:
    return hasattr(os, "geteuid") and os.geteuid() == 0
