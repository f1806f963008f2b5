"""The `dialback` command: one JSON document on stdout, errors on stderr, exit codes 1 and 2."""

import io
import json
import os
import shutil
import signal
import socket
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path
from typing import Any

import pytest
from running_server import RUN, get, serving
from small_session import SmallSession, tone, wav

from app.cli import commands
from app.config import ROOT
from app.library import Library


def dialback(*arguments: str | Path, **environment: str) -> subprocess.CompletedProcess[str]:
    """The command's outcome, run in this process: starting one for each test takes a second."""
    out, err = io.StringIO(), io.StringIO()
    code: int | str | None = 0
    with pytest.MonkeyPatch.context() as patched, redirect_stdout(out), redirect_stderr(err):
        for name, value in environment.items():
            patched.setenv(name, value)
        try:
            commands([str(argument) for argument in arguments], prog_name="dialback")
        except SystemExit as ended:
            code = ended.code
    assert isinstance(code, int)
    return subprocess.CompletedProcess(arguments, code, out.getvalue(), err.getvalue())


def dialback_alone(*arguments: str | Path, **environment: str) -> subprocess.CompletedProcess[str]:
    """The same in a process of its own, as a person starts it."""
    return subprocess.run(
        [sys.executable, "-c", RUN, *map(str, arguments)],
        cwd=ROOT,
        env=os.environ | environment,
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )


def one_document(printed: str) -> dict[str, Any]:
    """The one JSON document that was printed, and nothing else; no NaN or infinity in it."""

    def refuse(name: str) -> None:
        raise AssertionError(f"{name} is no JSON")

    lines = printed.splitlines()
    assert len(lines) == 1
    document: dict[str, Any] = json.loads(lines[0], parse_constant=refuse)
    return document


@pytest.fixture(scope="module")
def recordings(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("recordings")
    (folder / "bass 🎸.wav").write_bytes(tone(2.0))
    (folder / "organ.wav").write_bytes(tone(2.0, hz=523.25))
    (folder / "silence.wav").write_bytes(wav(bytes(96_000)))
    (folder / "letter.wav").write_bytes(b"Dear diary, this is no sound at all.")
    return folder


def test_measure_prints_the_contracts_document(recordings: Path) -> None:
    bass = recordings / "bass 🎸.wav"
    done = dialback("measure", bass, "--source", bass, "--json")
    assert (done.returncode, done.stderr) == (0, "")
    document = one_document(done.stdout)
    assert document["file"] == {
        "sample_rate": 48_000,
        "channels": 1,
        "frames": 96_000,
        "duration_s": 2.0,
        "format": "WAV",
        "subtype": "PCM_16",
    }
    assert set(document["level"]) >= {
        "integrated_lufs",
        "loudness_range_lu",
        "max_momentary_lufs",
        "max_short_term_lufs",
        "true_peak_dbtp",
        "sample_peak_dbfs",
        "rms_dbfs",
        "crest_db",
        "dc_offset",
    }
    assert set(document["bands"][0]) >= {"nominal_hz", "mid_hz", "level_dbfs"}
    levels = {f"level.{key}" for key in document["level"] if key.endswith(("_dbfs", "_dbtp", "_lufs"))}
    levels |= {f"bands.{key}" for key in document["bands"][0] if key.endswith("_dbfs")}
    levels |= {"faults.noise_floor_dbfs", "faults.hum.level_dbfs"}
    assert set(document["references"]) == levels, "every level says what it is referred to"
    assert set(document["faults"]) >= {
        "silent",
        "clipped_runs",
        "dropouts",
        "hum",
        "noise_floor_dbfs",
        "starts_late_s",
        "ends_early_s",
    }
    assert set(document["alignment"]) >= {
        "delay_samples",
        "delay_ms",
        "polarity",
        "confidence",
        "drift_ppm",
        "is_of_source",
    }


def test_measure_without_a_source_knows_of_no_alignment(recordings: Path) -> None:
    document = one_document(dialback("measure", recordings / "organ.wav", "--json").stdout)
    assert document["alignment"] is None
    assert document["faults"]["starts_late_s"] is None
    assert document["faults"]["ends_early_s"] is None


def test_silence_is_measured_as_silence_and_never_as_a_number(recordings: Path) -> None:
    document = one_document(dialback("measure", recordings / "silence.wav", "--json").stdout)
    assert document["faults"]["silent"] is True
    assert document["level"]["integrated_lufs"] is None
    assert document["level"]["sample_peak_dbfs"] is None


def test_identify_and_match_print_the_contracts_documents(recordings: Path) -> None:
    bass, organ = recordings / "bass 🎸.wav", recordings / "organ.wav"
    found = one_document(dialback("identify", bass, organ, bass, "--json").stdout)
    assert set(found) >= {"best", "ranking"}
    assert found["best"] is None or found["best"].endswith("bass 🎸.wav")
    assert len(found["ranking"]) == 2
    assert set(found["ranking"][0]) >= {"source", "score", "delay_samples"}
    matched = one_document(dialback("match", bass, bass, "--source", bass, "--json").stdout)
    assert set(matched) >= {
        "verdict",
        "level_difference_db",
        "delay_difference_samples",
        "polarity",
        "null_depth_db",
        "bands",
        "findings",
    }


def test_words_are_printed_where_json_is_not_asked_for(recordings: Path) -> None:
    done = dialback("measure", recordings / "silence.wav")
    assert done.returncode == 0
    assert "loudness   not known" in done.stdout
    assert "fault: is silent" in done.stdout


def test_a_document_can_be_printed_where_only_ascii_can(recordings: Path) -> None:
    bass = recordings / "bass 🎸.wav"
    done = dialback_alone("identify", bass, bass, "--json", PYTHONIOENCODING="ascii")
    assert done.returncode == 0, done.stderr
    assert one_document(done.stdout)["ranking"][0]["source"].endswith("bass 🎸.wav")


@pytest.mark.parametrize(
    "arguments",
    [
        ("measure", "letter.wav", "--json"),
        ("measure", "no such file.wav", "--json"),
        ("measure", ".", "--json"),
        ("measure", "organ.wav", "--source", "letter.wav", "--json"),
        ("identify", "letter.wav", "organ.wav", "--json"),
        ("match", "organ.wav", "letter.wav", "--source", "organ.wav", "--json"),
    ],
    ids=" ".join,
)
def test_what_cannot_be_done_is_told_on_stderr_with_exit_code_1(
    recordings: Path, arguments: tuple[str, ...]
) -> None:
    paths = (str(recordings / word) if "." in word else word for word in arguments)
    done = dialback(*paths)
    assert done.returncode == 1
    assert done.stdout == ""
    assert done.stderr.strip().endswith(".")
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize(
    "arguments",
    [
        ("measure",),
        ("measure", "a.wav", "--sauce", "b.wav"),
        ("identify", "a.wav"),
        ("match", "a.wav", "b.wav"),
        ("dance",),
        ("--port", "99999"),
        ("--port", "loud"),
    ],
    ids=" ".join,
)
def test_bad_usage_is_told_on_stderr_with_exit_code_2(arguments: tuple[str, ...]) -> None:
    done = dialback(*arguments)
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr


@pytest.mark.parametrize("arguments", [("--help",), ("measure", "--help")], ids=" ".join)
def test_help_loads_nothing_it_does_not_need(arguments: tuple[str, ...]) -> None:
    code = (
        "import atexit, sys; from app.cli import main\n"
        "atexit.register(lambda: print('LOADED', *sys.modules)); main()"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, *arguments], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0
    words, _, loaded = done.stdout.partition("LOADED")
    assert "Usage" in words
    heavy = {
        "fastapi",
        "starlette",
        "sqlalchemy",
        "sqlmodel",
        "alembic",
        "jinja2",
        "uvicorn",
        "numpy",
        "scipy",
        "PIL",
        "pydantic_settings",
    }
    assert {name.split(".")[0] for name in loaded.split()} & heavy == set()


def test_a_fault_of_ours_is_a_sentence_as_well_and_never_a_traceback() -> None:
    code = (
        "import app.cli\n"
        "def fail(): raise ZeroDivisionError('division by zero')\n"
        "app.cli._settings = fail\n"
        "app.cli.main()"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, "check"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stdout) == (1, "")
    assert done.stderr.strip() == "This could not be done, which is a fault of Dialback: division by zero"


def test_check_finds_nothing_wrong_with_a_whole_library(filled: Library) -> None:
    filled.close()
    done = dialback("check", "--library", filled.folder)
    assert (done.returncode, done.stderr) == (0, "")
    assert "18 files" in done.stdout
    assert "0 problems" in done.stdout


def test_check_names_what_is_wrong_and_fails(filled: Library) -> None:
    filled.close()
    path = next(filled.files.folder.glob("??/*"))
    path.write_bytes(b"changed")
    done = dialback("check", "--library", filled.folder)
    assert done.returncode == 1
    assert path.name in done.stderr
    assert "1 problems" in done.stdout or "1 problem" in done.stdout


@pytest.fixture(scope="module")
def served(
    filled_folder: tuple[Path, SmallSession], tmp_path_factory: pytest.TempPathFactory
) -> Iterator[tuple[str, Path]]:
    """A running server: its address and its library's folder."""
    folder = tmp_path_factory.mktemp("served") / "library"
    shutil.copytree(filled_folder[0], folder)
    with serving(folder) as (address, _):
        assert get(f"{address}/projects")[0] == 200
        yield address, folder


def test_tidying_is_for_a_library_that_is_not_served(served: tuple[str, Path], filled: Library) -> None:
    address, folder = served
    done = dialback("check", "--tidy", "--library", folder)
    assert done.returncode == 1
    assert address in done.stderr
    filled.close()
    done = dialback("check", "--tidy", "--library", filled.folder)
    assert (done.returncode, done.stderr) == (0, "")
    assert "0 unused files removed" in done.stdout


@pytest.mark.parametrize("verb", ["check", "backup"])
def test_where_there_is_no_library_that_is_said(tmp_path: Path, verb: str) -> None:
    done = dialback(verb, "--library", tmp_path / "nowhere")
    assert done.returncode == 1
    assert "There is no library" in done.stderr
    assert not (tmp_path / "nowhere").exists()


def test_a_backup_is_made_while_the_server_runs(served: tuple[str, Path], tmp_path: Path) -> None:
    _, folder = served
    done = dialback("backup", "--library", folder, "--to", tmp_path / "copy.db")
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.strip() == str(tmp_path / "copy.db")
    connection = sqlite3.connect(tmp_path / "copy.db")
    assert connection.execute("SELECT count(*) FROM pass").fetchone() == (3,)
    connection.close()
    again = dialback("backup", "--library", folder, "--to", tmp_path / "copy.db")
    assert again.returncode == 1
    assert "not written over" in again.stderr


def test_restore_lists_and_asks_nothing(filled: Library) -> None:
    copy = filled.backup()
    filled.close()
    before = filled.database.read_bytes()
    listed = dialback("restore", "--library", filled.folder)
    assert (listed.returncode, listed.stderr) == (0, "")
    assert copy.name in listed.stdout
    assert "2 projects, 3 passes, 3 prints" in listed.stdout
    assert f"dialback restore BACKUP --library {filled.folder}" in listed.stdout
    assert filled.database.read_bytes() == before


def test_restore_puts_a_backup_back_and_says_how_to_go_back(filled: Library) -> None:
    copy = filled.backup()
    filled.close()
    done = dialback("restore", f"backups/{copy.name}", "--library", filled.folder)
    assert (done.returncode, done.stderr) == (0, "")
    way_back = next(line for line in done.stdout.splitlines() if line.startswith("To go back"))
    back = dialback(*way_back.split("dialback ")[1].split())
    assert (back.returncode, back.stderr) == (0, "")
    assert dialback("check", "--library", filled.folder).returncode == 0


def test_restore_refuses_in_a_sentence(served: tuple[str, Path]) -> None:
    address, folder = served
    for name, said in ((str(folder / "dialback.db"), address), ("gone.db", address)):
        done = dialback("restore", name, "--library", folder)
        assert done.returncode == 1
        assert said in done.stderr
        assert "Traceback" not in done.stderr


def test_a_malformed_database_is_an_answer_of_every_command(filled: Library) -> None:
    filled.backup()
    filled.close()
    filled.database.write_bytes(b"not a database at all" * 999)
    for arguments in (
        ("--no-browser", "--port", "0"),
        ("check",),
        ("backup",),
        ("check", "--tidy"),
        ("restore",),
    ):
        done = dialback(*arguments, "--library", filled.folder)
        assert done.returncode == (0 if arguments == ("restore",) else 1), arguments
        assert "not a database" in done.stdout + done.stderr
        assert "dialback restore" in done.stdout + done.stderr
        assert "Traceback" not in done.stderr


def test_a_lost_database_is_an_answer_of_every_command(filled: Library) -> None:
    filled.close()
    filled.database.unlink()
    for arguments in (("--no-browser", "--port", "0"), ("check",), ("backup",)):
        done = dialback(*arguments, "--library", filled.folder)
        assert done.returncode == 1
        assert "18 stored files" in done.stderr
        assert "dialback salvage" in done.stderr


def test_a_second_server_is_told_where_the_first_is(served: tuple[str, Path]) -> None:
    address, folder = served
    second = dialback("--library", folder, "--no-browser", "--port", "0")
    assert second.returncode == 1
    assert address in second.stderr
    assert get(f"{address}/projects")[0] == 200


def test_a_port_that_is_taken_is_told(tmp_path: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        done = dialback("--library", tmp_path / "library", "--no-browser", "--port", str(port))
    assert done.returncode == 1
    assert f"Port {port}" in done.stderr


def test_a_library_of_a_newer_dialback_is_told(filled: Library) -> None:
    filled.close()
    connection = sqlite3.connect(filled.database)
    connection.execute("UPDATE alembic_version SET version_num = '9999'")
    connection.commit()
    connection.close()
    for arguments in (("--no-browser", "--port", "0"), ("check",), ("backup",)):
        done = dialback(*arguments, "--library", filled.folder)
        assert done.returncode == 1, arguments
        assert "newer Dialback" in done.stderr
        assert "Traceback" not in done.stderr


@pytest.mark.parametrize("way", [signal.SIGINT, signal.SIGTERM], ids=["Ctrl-C", "SIGTERM"])
def test_stopping_ends_everything_and_loses_nothing(filled: Library, way: signal.Signals) -> None:
    filled.close()
    with serving(filled.folder) as (address, process):
        assert get(f"{address}/projects")[0] == 200
        children = Path(f"/proc/{process.pid}/task/{process.pid}/children")
        measuring = [int(pid) for pid in children.read_text().split()] if children.exists() else []
        process.send_signal(way)
        assert process.wait(timeout=20) == 0
        assert process.stderr is not None
        assert "Traceback" not in process.stderr.read()
        for pid in measuring:
            with pytest.raises(ProcessLookupError):
                os.kill(pid, 0)
    assert not (filled.folder / "served-at").exists()
    assert dialback("check", "--library", filled.folder).returncode == 0


@pytest.mark.parametrize(
    ("name", "value"),
    [("DIALBACK_PORT", "loud"), ("DIALBACK_PORT", "99999"), ("DIALBACK_MAX_UPLOAD_BYTES", "-1")],
)
def test_a_setting_that_cannot_be_is_bad_usage(tmp_path: Path, name: str, value: str) -> None:
    done = dialback("check", **{name: value, "DIALBACK_LIBRARY": str(tmp_path)})
    assert done.returncode == 2
    assert done.stdout == ""
    assert name in done.stderr
    assert value in done.stderr


def test_the_library_may_be_named_by_the_environment(tmp_path: Path) -> None:
    done = dialback("check", DIALBACK_LIBRARY=str(tmp_path / "elsewhere"))
    assert str(tmp_path / "elsewhere") in done.stderr
