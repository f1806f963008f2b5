"""Odd audio files, from the form to the page: each is measured, or failed with a sentence; never a NaN."""

import io
import math
import struct

import lxml.html  # type: ignore[import-untyped]
import pytest
from small_session import FLOAT, SmallSession, attach, tone, wav
from starlette.testclient import TestClient

from app.desk.measuring import measurements
from app.desk.measuring.measurements import Measured
from app.desk.passes.pass_sheets import read_pass
from app.desk.processes import measuring
from app.desk.projects import sources
from app.library import Library

SINE = [math.sin(2 * math.pi * 220 * at / 48_000) * 0.3 for at in range(48_000)]


def as_floats(samples: list[float]) -> bytes:
    return struct.pack(f"<{len(samples)}f", *samples)


def measured_print(library: Library, pass_id: int, audio: bytes) -> Measured:
    """Attach, measure as the measuring process does, and read what the pages will show."""
    made = attach(library, pass_id, audio, "odd.wav")
    while (waiting := measurements.claim(library)) is not None:
        measuring.measure(library, waiting)
    return next(item.measured for item in read_pass(library, pass_id).prints if item.print_id == made)


GOOD = {
    "8-bit": wav(bytes(int(128 + 100 * value) for value in SINE), bits=8),
    "24-bit": wav(b"".join(struct.pack("<i", int(value * 2**31))[1:] for value in SINE), bits=24),
    "32-bit float": wav(as_floats(SINE), bits=32, encoding=FLOAT),
    "64-bit float": wav(struct.pack(f"<{len(SINE)}d", *SINE), bits=64, encoding=FLOAT),
    "10 channels": wav(b"".join(struct.pack("<h", int(value * 32_000)) * 10 for value in SINE), channels=10),
    "44.1 kHz": tone(1.0, sample_rate=44_100),
    "192 kHz": tone(0.5, sample_rate=192_000),
    "over full scale": wav(as_floats([4 * value for value in SINE]), bits=32, encoding=FLOAT),
    "one sample": wav(b"\x10\x00"),
    "silence": wav(bytes(96_000)),
    "promises more": wav(tone(1.0)[44:], promised_bytes=960_000),
    "odd last byte": wav(tone(1.0)[44:] + b"\x01"),
    "trailing rubbish": tone(1.0) + b"LIST\xff\xff\xff\xff rubbish" * 10,
}
BAD = {
    "no samples": wav(b""),
    "NaN": wav(as_floats([*SINE[:1000], math.nan, *SINE[1000:]]), bits=32, encoding=FLOAT),
    "infinity": wav(as_floats([*SINE[:1000], math.inf, *SINE[1000:]]), bits=32, encoding=FLOAT),
    "minus infinity": wav(as_floats([-math.inf]), bits=32, encoding=FLOAT),
    "header only": tone(1.0)[:20],
    "no format": b"RIFF\x10\x00\x00\x00WAVEdata\x04\x00\x00\x00\x00\x00\x00\x00",
    "unknown encoding": wav(bytes(1000), encoding=0x4242),
    "no channels": wav(bytes(1000), channels=0),
    "rubbish after a good head": tone(1.0)[:12] + bytes(range(256)) * 100,
    "flac head and rubbish": b"fLaC" + bytes(range(200)) * 20,
    "aiff head and rubbish": b"FORM\0\0\0\0AIFF" + bytes(range(200)) * 20,
}


@pytest.mark.parametrize("kind", GOOD)
def test_an_odd_file_that_is_sound_is_measured(
    filled: Library, filled_client: TestClient, session: SmallSession, kind: str
) -> None:
    found = measured_print(filled, session.passes[0], GOOD[kind])
    assert found.state == "done", found.reason
    assert found.figures is not None
    assert_pages_are_sound(filled_client, session)


@pytest.mark.parametrize("kind", BAD)
def test_a_file_that_cannot_be_measured_is_failed_with_a_sentence(
    filled: Library, filled_client: TestClient, session: SmallSession, kind: str
) -> None:
    found = measured_print(filled, session.passes[0], BAD[kind])
    assert found.state == "failed"
    assert found.reason.endswith(".")
    assert "fault of its own" not in found.reason, "a bad file is not Dialback's fault"
    assert_pages_are_sound(filled_client, session)


def assert_pages_are_sound(client: TestClient, session: SmallSession) -> None:
    first, second, _ = session.passes
    for path in (
        f"/passes/{first}",
        f"/passes/{first}/recall",
        f"/sources/{session.bass}",
        f"/compare?pass={first}&pass={second}",
        f"/projects/{session.project}/log",
    ):
        answer = client.get(path)
        assert answer.status_code == 200, path
        shown = set(
            lxml.html.document_fromstring(answer.text).xpath("//main")[0].text_content().lower().split()
        )
        assert shown.isdisjoint({"nan", "inf", "-inf", "−inf", "infinity", "nan%"}), path


def test_what_a_header_promises_and_the_file_does_not_hold_is_said(
    filled: Library, session: SmallSession
) -> None:
    found = measured_print(filled, session.passes[0], GOOD["promises more"])
    assert found.figures is not None
    assert found.figures.file.frames == 48_000
    assert any("promises" in note or "header" in note for note in found.figures.notes), found.figures.notes


def test_silence_has_no_loudness_and_is_a_fault(filled: Library, session: SmallSession) -> None:
    found = measured_print(filled, session.passes[0], GOOD["silence"])
    assert found.figures is not None
    assert found.figures.level.integrated_lufs is None
    assert found.figures.level.true_peak_dbtp is None
    assert "is silent: nothing came back" in [finding.sentence for finding in found.findings]


def test_one_sample_has_no_loudness_and_a_note_that_says_why(filled: Library, session: SmallSession) -> None:
    found = measured_print(filled, session.passes[0], GOOD["one sample"])
    assert found.figures is not None
    assert found.figures.level.integrated_lufs is None
    assert any("400 ms" in note for note in found.figures.notes)


def test_not_a_number_is_told_with_its_place(filled: Library, session: SmallSession) -> None:
    found = measured_print(filled, session.passes[0], BAD["NaN"])
    assert "not a number" in found.reason or "NaN" in found.reason


def test_a_print_of_an_odd_source_fails_for_the_sources_sake(filled: Library, session: SmallSession) -> None:
    entry = sources.read_source(filled, session.bass).entry
    sources.edit_source(filled, session.bass, entry, ("bad.wav", io.BytesIO(BAD["NaN"])))
    found = measured_print(filled, session.passes[0], tone(1.0))
    assert found.state == "failed"
    assert found.reason.endswith(".")
