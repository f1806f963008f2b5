"""What the tests need of the machine beside Python, in Debian's packages. Where they may be installed, they are."""

import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from ctypes.util import find_library
from pathlib import Path

import local_chromium
import pytest

UV = os.environ.get("UV", "uv")
"""Where uv is: it says so to whatever it runs, for it need not be on the path."""
LOOPS = Path("/usr/share/lmms/samples")
SOUNDFONT = Path("/usr/share/sounds/sf2/FluidR3_GM.sf2")


NEEDED: dict[str, Callable[[], bool]] = {
    "libatomic1": lambda: sys.platform != "linux" or find_library("atomic") is not None,
    "chromium-headless-shell": local_chromium.is_there,
    "ffmpeg": lambda: shutil.which("ffmpeg") is not None,
    "sox": lambda: shutil.which("sox") is not None,
    "fluidsynth": lambda: shutil.which("fluidsynth") is not None,
    "fluid-soundfont-gm": SOUNDFONT.exists,
    "lmms-common": LOOPS.exists,
    "unzip": lambda: shutil.which("unzip") is not None,
    "gnumeric": lambda: shutil.which("ssconvert") is not None,
}
"""Debian's packages, and how each is known to be there, however it came: a browser and what drives it, reference meters, recorded loops, a
soundfont, and programs that open what is handed on."""


MEMORY_DISK = Path("/dev/shm")
ROOM_FOR_A_RUN = 8 << 30


def keep_libraries_in_memory() -> None:
    """Thousands of small libraries are made and thrown away, each saved as surely as a person's own: where there is room, the
    disk is spared that."""
    if MEMORY_DISK.is_dir() and shutil.disk_usage(MEMORY_DISK).free >= ROOM_FOR_A_RUN:
        os.environ.setdefault("PYTEST_DEBUG_TEMPROOT", str(MEMORY_DISK))


def missing() -> list[str]:
    return [package for package, is_there in NEEDED.items() if not is_there()]


def prepare(*, whole_run: bool) -> None:
    """Install what is missing where that is allowed. A whole run ends here without it; a part that was named goes on, for it
    may need none of it, and the tests that do say so."""
    lacking = missing()
    if lacking and _may_install():
        print("Installing for the tests:", *lacking, flush=True)
        _install(lacking)
        lacking = missing()
    if lacking and whole_run:
        pytest.exit(f"The tests need what is not on this machine: apt-get install {' '.join(lacking)}", 1)


def _may_install() -> bool:
    return hasattr(os, "geteuid") and os.geteuid() == 0 and shutil.which("apt-get") is not None


def _install(packages: list[str]) -> None:
    environment = os.environ | {"DEBIAN_FRONTEND": "noninteractive"}
    apt_get = ["apt-get", "-qq", "-o", "DPkg::Lock::Timeout=600"]
    subprocess.run([*apt_get, "update"], env=environment, check=False)
    install = [*apt_get, "install", "-y", "--no-install-recommends", *packages]
    subprocess.run(install, env=environment, stdout=subprocess.DEVNULL, check=False)
