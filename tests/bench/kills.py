"""Long campaigns of kills: during restores, backups, full copies, salvages, migrating starts, and of a server that is being
written to.

    python tests/bench/kills.py [--rounds N] [--servers N] [--seed N]

Ends with exit code 1 where anything was lost. Everything in the library is invented.
"""

import argparse
import http.client
import io
import os
import random
import signal
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path
from urllib.parse import urlencode, urlsplit

sys.path.insert(0, str(Path(__file__).parent.parent))
sys.path.insert(0, str(Path(__file__).parent.parent.parent))

import kills
from running_server import RUN, get
from small_session import tone
from stopped_hard import stopped_hard

from app.config import ROOT
from app.desk.files.check import check_library
from app.desk.files.stored_files import record
from app.desk.projects import projects
from app.desk.projects.projects import ProjectEntry
from app.library import Library


def template(folder: Path) -> Path:
    library = Library.open(folder / "made")
    for hz in (101, 202, 303):
        taken = library.files.take_in(io.BytesIO(tone(0.1, hz=hz)))
        with library.writing() as session:
            record(session, taken, "audio/wav")
    projects.create_project(library, ProjectEntry("before"))
    library.backup().rename(library.folder / "backups" / "copy.db")
    projects.create_project(library, ProjectEntry("since"))
    with stopped_hard(library, folder / "template") as stopped:
        library.close()
        return stopped


def servers(folder: Path, rounds: int, chance: random.Random) -> kills.Tally:
    """A server that is written to until it is killed, in its start, in its work, or in its measuring process; every
    project that was answered as saved must be there."""
    tally = kills.Tally()
    Library.open(folder).close()
    saved: set[str] = set()
    for number in range(rounds):
        process = subprocess.Popen(
            [sys.executable, "-c", RUN, "--library", str(folder), "--no-browser", "--port", "0"],
            cwd=ROOT,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
        )
        assert process.stdout is not None
        in_its_start = chance.random() < 0.4
        death = threading.Timer(chance.uniform(0.1, 2.0), process.kill)
        if in_its_start:
            death.start()
        line = process.stdout.readline()
        answered = 0
        if line.startswith("Dialback is at"):
            address = line.split()[3]
            if not in_its_start:
                get(f"{address}/projects")
                death.start()
            if chance.random() < 0.3:
                kill_a_child(process.pid)
            answered = write_until_it_ends(address, f"{number}", saved)
        process.wait()
        death.cancel()
        process.stdout.close()
        tally.rounds += 1
        tally.killed += process.returncode == -signal.SIGKILL
        tally.found["killed while starting" if not line else "killed while written to"] += 1
        tally.found["answered as saved"] += answered
        time.sleep(0.1)
    found = kills.titles(folder)
    tally.lost += sorted(saved - found)
    tally.lost += list(check_library(folder).problems)
    tally.found["there at the end"] = len(found & saved)
    return tally


def write_until_it_ends(address: str, name: str, saved: set[str]) -> int:
    count = 0
    try:
        while True:
            connection = http.client.HTTPConnection(urlsplit(address).netloc, timeout=10)
            title = f"{name}.{count}"
            connection.request(
                "POST",
                "/projects",
                urlencode({"title": title, "sample_rate": "48000"}),
                {"Content-Type": "application/x-www-form-urlencoded"},
            )
            if connection.getresponse().status != 303:
                return count
            saved.add(title)
            count += 1
            connection.close()
    except (OSError, http.client.HTTPException, AssertionError):
        return count


def kill_a_child(pid: int) -> None:
    children = Path(f"/proc/{pid}/task/{pid}/children")
    if children.exists():
        for child in children.read_text().split():
            os.kill(int(child), signal.SIGKILL)


def main() -> None:
    options = argparse.ArgumentParser(description="Kills what works on a library, at random moments.")
    options.add_argument("--rounds", type=int, default=100, help="of each kind")
    options.add_argument("--servers", type=int, default=20)
    options.add_argument("--seed", type=int, default=1)
    given = options.parse_args()
    chance = random.Random(given.seed)
    lost = 0
    with tempfile.TemporaryDirectory(prefix="dialback-kills-") as name:
        folder = Path(name)
        made = template(folder)
        bare = kills.without_database(made, folder / "lost")
        older = kills.older_library(folder / "older")
        for what, begin, work, look in (
            ("restore", made, kills.restoring, kills.look_after_restoring),
            ("backup", made, kills.backing_up, kills.look_after_backing_up),
            ("full copy", made, kills.copying, kills.look_after_copying),
            ("salvage", bare, kills.salvaging, kills.look_after_salvaging),
            ("migrating start", older, kills.starting, kills.look_after_starting),
        ):
            tally = kills.campaign(begin, folder / what, given.rounds, chance, work, look)
            print(f"{what}: {tally}", *tally.lost, sep="\n  ", flush=True)
            lost += len(tally.lost)
        tally = servers(folder / "served", given.servers, chance)
        print(f"server: {tally}", *tally.lost, sep="\n  ", flush=True)
        lost += len(tally.lost)
    raise SystemExit(1 if lost else 0)


if __name__ == "__main__":
    main()
