"""A damaged file is spoken of by the name that the person knows it by."""

from small_session import SmallSession, attach, tone

from app.desk.files.file_names import with_file_names
from app.desk.files.stored_files import path_of
from app.desk.measuring import measurements
from app.desk.passes.pass_sheets import read_pass
from app.desk.processes.measuring import measure
from app.library import Library
from app.records import Print, StoredFile


def test_a_damaged_print_is_told_of_by_its_file_name(filled: Library, session: SmallSession) -> None:
    pass_id = session.passes[2]
    print_id = attach(filled, pass_id, tone(0.5, hz=333), "boathouse take.wav")
    with filled.reading() as reading:
        row = reading.get_one(StoredFile, reading.get_one(Print, print_id).file_id)
    path = path_of(filled, row.sha256)
    path.chmod(0o600)
    path.write_bytes(b"RIFF" + b"\x00" * 500)
    while (waiting := measurements.claim(filled)) is not None:
        measure(filled, waiting)
    (item,) = (item for item in read_pass(filled, pass_id).prints if item.print_id == print_id)
    assert "boathouse take.wav" in item.measured.reason
    assert row.sha256 not in item.measured.reason


def test_a_file_that_nothing_names_is_only_a_file(library: Library) -> None:
    assert with_file_names(library, f"“{'0' * 64}” is damaged.") == "“the file” is damaged."
