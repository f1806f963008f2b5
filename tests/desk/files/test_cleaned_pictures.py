"""Photos are decoded in a process of their own: bounded, ended by nothing it meets, and started again."""

import io
import os
import signal
import struct
import subprocess
import sys
import threading
import zlib
from pathlib import Path

import pytest
from PIL import Image

from app.config import ROOT
from app.desk.files import cleaned_pictures
from app.desk.files.cleaned_pictures import cleaned_picture
from app.desk.files.pictures import UnusablePicture, clean_picture


def photo(path: Path, size: tuple[int, int] = (40, 30)) -> Path:
    Image.new("RGB", size, "gray").save(path, "JPEG")
    return path


def test_what_comes_of_it_is_what_the_decoder_makes(tmp_path: Path) -> None:
    path = photo(tmp_path / "panel with a space.jpg", (3000, 2000))
    assert cleaned_picture(path) == clean_picture(path)


def test_a_refusal_is_the_decoders_own_sentence(tmp_path: Path) -> None:
    (tmp_path / "film.gif").write_bytes(b"GIF89a" + bytes(99))
    with pytest.raises(UnusablePicture, match="GIF, which is not taken in"):
        cleaned_picture(tmp_path / "film.gif")
    with pytest.raises(UnusablePicture, match="cannot be read"):
        cleaned_picture(tmp_path / "gone.jpg")
    assert cleaned_picture(photo(tmp_path / "next.jpg")).width == 40


def test_a_decoder_that_dies_refuses_that_picture_and_takes_the_next(tmp_path: Path) -> None:
    path = photo(tmp_path / "panel.jpg")
    cleaned_picture(path)
    child = cleaned_pictures._child
    assert child is not None
    os.kill(child.pid, signal.SIGSTOP)  # in the middle of a picture
    death = threading.Timer(0.2, os.kill, (child.pid, signal.SIGKILL))
    death.start()
    with pytest.raises(UnusablePicture, match=r"damaged, or takes more memory"):
        cleaned_picture(path)
    death.join()
    assert cleaned_picture(path).width == 40


def test_a_picture_that_unpacks_to_more_than_there_is_memory_for_is_refused(tmp_path: Path) -> None:
    code = (
        "import sys, resource; from pathlib import Path; from app.desk.processes import cleaning_pictures as here\n"
        "from app.desk import child_processes; child_processes.keep_within(400 << 20)\n"
        "here.run(child_processes.Out(child_processes.own_output()))"
    )
    side = 9_900
    header = struct.pack(">IIBBBBB", side, side, 8, 2, 0, 0, 0)
    rows = zlib.compress((b"\0" + bytes(3 * side)) * side, 1)
    path = tmp_path / "bomb.png"
    path.write_bytes(
        b"\x89PNG\r\n\x1a\n"
        + b"".join(_chunk(*part) for part in ((b"IHDR", header), (b"IDAT", rows), (b"IEND", b"")))
    )
    small = photo(tmp_path / "small.jpg")
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=ROOT,
        input=f"{path}\n{small}\n".encode(),
        capture_output=True,
        check=False,
        timeout=120,
    )
    first, second = done.stdout.split(b"\n", 2)[:2]
    assert b"not enough memory" in first
    assert b'"width": 40' in second
    assert done.returncode == 0


def _chunk(name: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))


def test_a_process_that_was_asked_for_nothing_ends(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cleaned_pictures, "IDLE_FOR_S", 0.05)
    cleaned_picture(photo(tmp_path / "panel.jpg"))
    rest = cleaned_pictures._rest
    assert rest is not None
    rest.join()
    assert cleaned_pictures._child is None


def test_the_server_itself_loads_no_decoder(tmp_path: Path) -> None:
    written = io.BytesIO()
    Image.new("RGB", (9, 9)).save(written, "PNG")
    (tmp_path / "a.png").write_bytes(written.getvalue())
    code = (
        "import sys; from pathlib import Path; from app.desk.files.cleaned_pictures import cleaned_picture\n"
        "assert cleaned_picture(Path(sys.argv[1])).width == 9\n"
        "print([name for name in ('PIL', 'pillow_heif') if name in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(tmp_path / "a.png")],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.stdout.strip() == "[]", done.stderr
