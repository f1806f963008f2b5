"""How long each page takes on a large library: 500 projects, 20,000 passes, 800,000 settings.

    python tests/bench/pages.py [--folder DIR] [--requests N]

Builds the library once (in DIR, if named) and prints the 50th and 95th percentile of each page in milliseconds of
wall clock, and of the processor time the server took. Everything in the library is invented. A tenth of the projects
has a measured print on each pass, and the pages asked for are of those.
"""

import argparse
import gc
import json
import random
import shutil
import sqlite3
import sys
import tempfile
import time
import uuid
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent))
sys.path.insert(0, str(Path(__file__).parent.parent.parent))

from small_session import figures, put_on_shelf
from sqlalchemy import select
from sqlmodel import col
from starlette.testclient import TestClient

from app.config import Settings
from app.desk.passes import drafts
from app.desk.passes.field_names import ReadingField
from app.desk.passes.passes import PassEntry, StepEntry, log_pass
from app.desk.projects.projects import ProjectEntry, create_project
from app.desk.projects.sources import SourceEntry, create_source
from app.desk.shelf import gear
from app.desk.shelf.control_entries import ControlEntry
from app.library import Library
from app.records import SourceTrack
from app.records.written_words import write_anew
from app.signal.comparison.band_shape import BANDS, packed
from app.signal.figures import ALGORITHM_VERSION, to_json
from app.web.app import create_app

PROJECTS, SOURCES, PASSES, SETTINGS = 500, 2, 20, 40
MEASURED_EVERY = 10
NOW = "2026-01-01 12:00:00.000000"
WORDS = [
    "warm",
    "boathouse",
    "rain",
    "fuzz",
    "quiet",
    "left",
    "right",
    "double",
    "low",
    "end",
    "towel",
    "bright",
    "dark",
    "gritty",
    "clean",
    "swell",
    "organ",
    "bass",
    "drum",
    "verse",
    "chorus",
    "bridge",
    "near",
    "far",
    "room",
    "hum",
    "gate",
    "slow",
    "fast",
    "noon",
    "past",
    "half",
    "louder",
    "softer",
    "keeper",
    "again",
    "once",
    "more",
]
LIMIT_MS = 100
CELL_LIMIT_MS = 30
WIDE = "sixty by sixty"


def build(folder: Path) -> None:
    library = Library.open(folder)
    chance = random.Random(1)
    kinds = ["reamp_box", "pedal", "pedal", "pedal", "amp", "cabinet", "microphone", "preamp"]
    shelf = [
        put_on_shelf(
            library,
            f"piece {number} ({kind})",
            kind,
            *(ControlEntry(name=f"knob {number}.{at}") for at in range(SETTINGS // len(kinds))),
        )
        for number, kind in enumerate(kinds)
    ]
    layouts = [gear.read_gear(library, gear_id).newest for gear_id in shelf]
    library.close()

    connection = sqlite3.connect(folder / "dialback.db")
    connection.executescript(
        "PRAGMA synchronous = OFF; PRAGMA journal_mode = MEMORY; PRAGMA cache_size = -200000"
    )

    def said(count: int) -> str:
        return " ".join(chance.choices(WORDS, k=count))

    measured = json.dumps(document())
    settings = []
    pass_id = step_id = 0
    for project in range(1, PROJECTS + 1):
        connection.execute(
            "INSERT INTO project (id, uid, title, artist, sample_rate, notes, created_at) VALUES (?, ?, ?, ?, 48000, ?, ?)",
            (project, uid(), f"{said(2)} {project}", said(1), said(20), NOW),
        )
        for place in range(SOURCES):
            source = (project - 1) * SOURCES + place + 1
            file_id = stored(connection, f"source {source}")
            connection.execute(
                "INSERT INTO source_track (id, uid, project_id, name, instrument, recorded_with, gain, tuning, notes, "
                "file_id, file_name, created_at) VALUES (?, ?, ?, ?, ?, 'DI box', '', '', ?, ?, 'di.wav', ?)",
                (source, uid(), project, said(2), said(1), said(10), file_id, NOW),
            )
            if project % MEASURED_EVERY == 0:
                measure(connection, file_id, None, measured)
            for number in range(1, PASSES + 1):
                pass_id += 1
                connection.execute(
                    'INSERT INTO "pass" (id, uid, source_id, number, title, notes, hook_up, levels, revision, '
                    "created_at, edited_at) VALUES (?, ?, ?, ?, ?, ?, ?, ?, 1, ?, ?)",
                    (pass_id, uid(), source, number, said(3), said(12), said(6), said(4), NOW, NOW),
                )
                for position, (gear_id, layout) in enumerate(zip(shelf, layouts, strict=True)):
                    step_id += 1
                    connection.execute(
                        "INSERT INTO chain_step (id, pass_id, position, branch, gear_id, layout_id) "
                        "VALUES (?, ?, ?, '', ?, ?)",
                        (step_id, pass_id, position, gear_id, layout.layout_id),
                    )
                    for control in layout.controls:
                        value = chance.randrange(101) / 10
                        settings.append((step_id, control.control_id, f"{value:g}", value / 10, value))
                    if layout.kind == "microphone":
                        connection.execute(
                            "INSERT INTO mic_placement (step_id, speaker, distance_mm, offset_mm, pattern, preamp, "
                            "gain, note) VALUES (?, 'left', 30, 40, '', 'first', '6', ?)",
                            (step_id, said(3)),
                        )
                if number == 7:
                    connection.execute(
                        "INSERT INTO keeper_mark (uid, pass_id, part, reason, created_at) VALUES (?, ?, '', ?, ?)",
                        (uid(), pass_id, said(6), NOW),
                    )
                if project % MEASURED_EVERY == 0:
                    print_file = stored(connection, f"print {pass_id}")
                    connection.execute(
                        "INSERT INTO print (uid, pass_id, label, file_id, file_name, created_at) VALUES (?, ?, '', ?, 'print.wav', ?)",
                        (uid(), pass_id, print_file, NOW),
                    )
                    measure(connection, print_file, file_id, measured)
                else:
                    print_file = stored(connection, f"print {pass_id}")
                    connection.execute(
                        "INSERT INTO print (uid, pass_id, label, file_id, file_name, created_at) VALUES (?, ?, '', ?, 'print.wav', ?)",
                        (uid(), pass_id, print_file, NOW),
                    )
                sounds(connection, chance, print_file)
        connection.executemany(
            "INSERT INTO setting (step_id, control_id, reading, position, value, approximate) VALUES (?, ?, ?, ?, ?, 0)",
            settings,
        )
        settings.clear()
    connection.commit()
    connection.execute("PRAGMA journal_mode = WAL")
    connection.close()
    library = Library(folder)
    with library.engine.begin() as writing:
        write_anew(writing)
        writing.exec_driver_sql("ANALYZE")
    wide_session(library)
    library.close()


def wide_session(library: Library) -> None:
    """One source more, of 60 passes through 60 controls, a few of them turned on each pass."""
    chance = random.Random(3)
    kinds = ["interface", "reamp_box", "pedal", "amp", "cabinet", "preamp"]
    shelf = [
        put_on_shelf(
            library, f"wide {kind}", kind, *(ControlEntry(name=f"dial {kind} {at}") for at in range(10))
        )
        for kind in kinds
    ]
    layouts = [gear.read_gear(library, gear_id).newest for gear_id in shelf]
    project = create_project(library, ProjectEntry(WIDE))
    source = create_source(library, project, SourceEntry(WIDE))
    controls = [control.control_id for layout in layouts for control in layout.controls]
    stands = dict.fromkeys(controls, "5")
    for _ in range(60):
        stands |= {control: f"{chance.randrange(101) / 10:g}" for control in chance.sample(controls, 3)}
        steps = tuple(
            StepEntry(
                gear_id,
                layout.layout_id,
                readings={control.control_id: stands[control.control_id] for control in layout.controls},
            )
            for gear_id, layout in zip(shelf, layouts, strict=True)
        )
        log_pass(library, source, PassEntry(steps=steps))


def document() -> dict[str, object]:
    """Figures of a real length: 31 bands, 1200 columns of waveform, 600 points of loudness."""
    made = to_json(figures())
    made["bands"] = [
        {"nominal_hz": 1000 * 10 ** (x / 10), "mid_hz": 1000 * 10 ** (x / 10), "level_dbfs": -40.123 - x}
        for x in range(-17, 14)
    ]
    made["overview"] = {
        "columns": [[-0.1234 - at / 10_000, 0.1234 + at / 10_000] for at in range(1200)],
        "loudness": [{"at_s": 1.5 + at / 10, "lufs": -18.35} for at in range(600)],
    }
    return made


def stored(connection: sqlite3.Connection, name: str) -> int:
    row = connection.execute(
        "INSERT INTO stored_file (sha256, bytes, media_type, created_at) VALUES (?, 1000, 'audio/wav', ?)",
        (name, NOW),
    )
    assert row.lastrowid is not None
    return row.lastrowid


def measure(connection: sqlite3.Connection, file_id: int, source_file_id: int | None, document: str) -> None:
    connection.execute(
        "INSERT INTO measurement (file_id, source_file_id, algorithm_version, state, reason, tries, figures, created_at) "
        "VALUES (?, ?, ?, 'done', '', 1, ?, ?)",
        (file_id, source_file_id, ALGORITHM_VERSION, document, NOW),
    )


def uid() -> str:
    return uuid.uuid4().hex


def sounds(connection: sqlite3.Connection, chance: random.Random, file_id: int) -> None:
    shape = packed(tuple(chance.gauss(0.0, 8.0) for _ in range(BANDS)))
    connection.execute(
        "INSERT INTO sound_shape (file_id, integrated_lufs, shape) VALUES (?, ?, ?)",
        (file_id, chance.uniform(-40.0, -10.0), shape),
    )


def pages(chance: random.Random) -> dict[str, str]:
    project = chance.randrange(1, PROJECTS // MEASURED_EVERY + 1) * MEASURED_EVERY
    source = (project - 1) * SOURCES + chance.randrange(SOURCES) + 1
    first = (source - 1) * PASSES + 1
    chosen = first + chance.randrange(PASSES - 8)
    together = "&".join(f"pass={number}" for number in range(chosen, chosen + 8))
    return {
        "projects": "/projects",
        "project": f"/projects/{project}",
        "source with its ledger": f"/sources/{source}",
        "ledger alone": f"/sources/{source}/ledger",
        "source's measures": f"/sources/{source}/measures",
        "next pass": f"/sources/{source}/passes/new",
        "pass": f"/passes/{chosen}",
        "prints of a pass": f"/passes/{chosen}/prints",
        "edit a pass": f"/passes/{chosen}/edit",
        "recall sheet": f"/passes/{chosen}/recall",
        "hook-up": f"/passes/{chosen}/hook-up",
        "levels": f"/passes/{chosen}/levels",
        "microphones": f"/passes/{chosen}/microphones",
        "ears": f"/projects/{project}/ears",
        "compare two": f"/compare?pass={chosen}&pass={chosen + 1}",
        "compare eight": f"/compare?{together}",
        "session log": f"/projects/{project}/log",
        "session log as CSV": f"/projects/{project}/log.csv",
        "shelf": "/gear",
        "gear": f"/gear/{chance.randrange(1, 9)}",
        "find a common word": f"/find?q={chance.choice(WORDS)}",
        "find the beginning of a word": f"/find?q={chance.choice(WORDS)[:2]}",
        "find two words": f"/find?q={'+'.join(chance.sample(WORDS, 2))}",
        "find what is not there": "/find?q=quernstone",
        "find above noon": f"/find?q=knob+{chance.randrange(8)}.{chance.randrange(5)}+above+noon",
        "find two facts and a word": f"/find?q={chance.choice(WORDS)},+knob+2.1+above+8,+knob+4.2+below+3",
        "find keepers by distance": "/find?keeper=yes&farthest=40&gear=7",
        "find by loudness": "/find?quietest=-20&loudest=-18",
        "find what sounds alike": f"/find?like={chosen}",
        "find what sounds alike with a fact": f"/find?like={chosen}&controls=knob+2.1+above+noon",
    }


CELL = ("a cell kept", "a cell shown again")


def read_wide(library: Library) -> dict[str, str]:
    with library.reading() as session:
        source = session.scalars(select(col(SourceTrack.id)).where(col(SourceTrack.name) == WIDE)).one()
    return {
        "60 × 60, newest five": f"/sources/{source}",
        "60 × 60, all rows": f"/sources/{source}/ledger?rows=all",
        "60 × 60, open column": f"/sources/{source}/ledger?column=open",
        "60 × 60, eight more": f"/sources/{source}/ledger?passes=13",
        "60 × 60, every pass": f"/sources/{source}/ledger?passes=60",
    }


def turn_a_knob(
    library: Library,
    client: TestClient,
    chance: random.Random,
    wall: dict[str, list[float]],
    cpu: dict[str, list[float]],
) -> None:
    """A knob of the open column: what is sent, and the cells that are asked for again."""
    with library.reading() as session:
        source = session.scalars(select(col(SourceTrack.id)).where(col(SourceTrack.name) == WIDE)).one()
    draft = drafts.open_draft(library, source)
    step = chance.choice(draft.entry.steps)
    field = str(ReadingField(step.gear_id, chance.choice(list(step.readings))))
    value = f"{chance.randrange(101) / 10:g}"

    def keep() -> int:
        fields = {"key": uid(), field: value}
        return client.post(f"/drafts/{draft.draft_id}/changes", data=fields).status_code

    def show_again() -> int:
        return client.get(f"/drafts/{draft.draft_id}/cells?field={field}").status_code

    for name, act in zip(CELL, (keep, show_again), strict=True):
        begun, begun_cpu = time.perf_counter(), time.process_time()
        assert act() == 200
        cpu.setdefault(name, []).append((time.process_time() - begun_cpu) * 1000)
        wall.setdefault(name, []).append((time.perf_counter() - begun) * 1000)


def percentile(values: list[float], share: float) -> float:
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, int(share * len(ordered)))]


def run(folder: Path, requests: int) -> list[str]:
    """Prints the table; returns the pages that took too long."""
    library = Library.open(folder)
    client = TestClient(
        create_app(library, Settings(library=folder)),
        base_url="http://127.0.0.1:8427",
        client=("127.0.0.1", 50_000),
    )
    chance = random.Random(2)
    wide = read_wide(library)
    for path in [*pages(chance).values(), *wide.values()]:
        assert client.get(path).status_code == 200, path
    gc.collect()
    gc.freeze()
    wall: dict[str, list[float]] = {}
    cpu: dict[str, list[float]] = {}
    for _ in range(requests):
        for name, path in [*pages(chance).items(), *wide.items()]:
            begun, begun_cpu = time.perf_counter(), time.process_time()
            answer = client.get(path)
            cpu.setdefault(name, []).append((time.process_time() - begun_cpu) * 1000)
            wall.setdefault(name, []).append((time.perf_counter() - begun) * 1000)
            assert answer.status_code == 200
        turn_a_knob(library, client, chance, wall, cpu)
    library.close()
    print(f"{'page':<30}{'p50 ms':>8}{'p95 ms':>8}{'CPU p50':>9}{'CPU p95':>9}")
    for name, values in wall.items():
        print(
            f"{name:<30}{percentile(values, 0.5):8.1f}{percentile(values, 0.95):8.1f}"
            f"{percentile(cpu[name], 0.5):9.1f}{percentile(cpu[name], 0.95):9.1f}"
        )
    return [
        name
        for name, values in cpu.items()
        if percentile(values, 0.95) > (CELL_LIMIT_MS if name in CELL else LIMIT_MS)
    ]


def main() -> None:
    options = argparse.ArgumentParser(description="Times every page on a large library.")
    options.add_argument("--folder", type=Path, help="build the library here and leave it for the next time")
    options.add_argument("--requests", type=int, default=40, help="of each page")
    given = options.parse_args()
    folder = given.folder or Path(tempfile.mkdtemp(prefix="dialback-bench-"))
    if not (folder / "dialback.db").exists():
        begun = time.perf_counter()
        build(folder)
        print(
            f"built in {time.perf_counter() - begun:.0f} s, {(folder / 'dialback.db').stat().st_size / 1e6:.0f} MB"
        )
    slow = run(folder, given.requests)
    if given.folder is None:
        shutil.rmtree(folder)
    if slow:
        raise SystemExit(f"More than {LIMIT_MS} ms: {', '.join(slow)}")


if __name__ == "__main__":
    main()
