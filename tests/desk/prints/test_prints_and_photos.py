import io

import pytest
from small_session import SmallSession, attach, figures, measured, picture, step_id_of, tone

from app.desk.files.check import check_library
from app.desk.measuring import examinations
from app.desk.passes import keepers
from app.desk.passes.pass_sheets import read_gear_photos, read_pass
from app.desk.photos import photos
from app.desk.prints import prints
from app.desk.refusals import NotThere, Refusal
from app.library import Library
from app.records import Arrival

SVG = b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>"


def test_a_print_is_measured_against_its_passs_source(filled: Library, session: SmallSession) -> None:
    measured(filled, figures())  # what waited from before
    made = attach(filled, session.passes[1], tone(0.2, hz=900), "room.wav", label="room")
    before = next(item for item in read_pass(filled, session.passes[1]).prints if item.print_id == made)
    assert before.measured.is_coming
    measured(filled, figures(lufs=-23.0, delay_samples=-12.75))
    after = next(item for item in read_pass(filled, session.passes[1]).prints if item.print_id == made)
    assert after.measured.state == "done"
    assert after.measured.figures == figures(lufs=-23.0, delay_samples=-12.75)
    assert (after.label, after.file_name) == ("room", "room.wav")


def test_a_print_belongs_to_a_microphone_of_its_own_pass_or_to_none(
    filled: Library, session: SmallSession
) -> None:
    own = step_id_of(filled, session.passes[1], session.near_mic)
    foreign = step_id_of(filled, session.passes[0], session.near_mic)
    made = attach(filled, session.passes[1], tone(0.1), step_id=own)
    other = attach(filled, session.passes[1], tone(0.1), step_id=foreign)
    steps = {item.print_id: item.step_id for item in read_pass(filled, session.passes[1]).prints}
    assert (steps[made], steps[other]) == (own, None)
    prints.edit_print(filled, made, label="near", step_id=99)
    assert prints.read_print(filled, made).step_id is None


def test_taking_a_print_off_leaves_the_pass_and_its_settings(filled: Library, session: SmallSession) -> None:
    before = read_pass(filled, session.passes[0])
    assert prints.delete_print(filled, session.prints[0]) == session.passes[0]
    after = read_pass(filled, session.passes[0])
    assert after.prints == ()
    assert after.steps == before.steps
    with pytest.raises(NotThere):
        prints.audio_of_print(filled, session.prints[0])


def test_a_failed_measurement_can_be_tried_again(filled: Library, session: SmallSession) -> None:
    assert read_pass(filled, session.passes[1]).prints[0].measured.state == "failed"
    prints.measure_print_again(filled, session.prints[1])
    assert read_pass(filled, session.passes[1]).prints[0].measured.is_coming


def test_trying_again_leaves_a_measured_print_alone(filled: Library, session: SmallSession) -> None:
    prints.measure_print_again(filled, session.prints[0])
    assert read_pass(filled, session.passes[0]).prints[0].measured.state == "done"


def test_the_audio_is_kept_byte_for_byte(filled: Library, session: SmallSession) -> None:
    original = tone(0.2, hz=777)
    made = attach(filled, session.passes[0], original, "x.wav")
    kept = filled.files.path(prints.audio_of_print(filled, made).sha256)
    assert kept.read_bytes() == original


@pytest.mark.parametrize(
    ("given", "shown"),
    [
        ("../../etc/passwd", "passwd"),
        (r"C:\takes\bass.wav", "bass.wav"),
        ("/", "unnamed file"),
        ("", "unnamed file"),
        ("a\x00\r\nb.wav", "ab.wav"),
        ("\N{FIRE} “quoted” 'x'.wav", "\N{FIRE} “quoted” 'x'.wav"),
        ("x" * 10_000 + ".wav", "x" * 200),
    ],
)
def test_a_file_keeps_only_the_last_part_of_its_name(
    filled: Library, session: SmallSession, given: str, shown: str
) -> None:
    made = attach(filled, session.passes[0], tone(0.1), given)
    item = prints.read_print(filled, made)
    assert item.file_name.replace(" ", "") == shown.replace(" ", "")
    assert set(filled.folder.iterdir()) == {filled.folder / name for name in names_in_a_library(filled)}


def names_in_a_library(library: Library) -> set[str]:
    database = {"dialback.db", "dialback.db-shm", "dialback.db-wal"}
    return {"auditions", "backups", "features", "files", "incoming"} | database


def test_several_keepers_of_one_source_each_have_their_part(filled: Library, session: SmallSession) -> None:
    keepers.mark_keeper(filled, session.passes[1], part="right", reason="Brighter.\nOn purpose.")
    keepers.mark_keeper(filled, session.passes[1], part="double", reason="")
    marks = read_pass(filled, session.passes[1]).keepers
    assert [(mark.part, mark.reason) for mark in marks] == [
        ("right", "Brighter.\nOn purpose."),
        ("double", ""),
    ]
    assert keepers.unmark_keeper(filled, marks[0].keeper_id) == session.passes[1]
    assert [mark.part for mark in read_pass(filled, session.passes[1]).keepers] == ["double"]
    with pytest.raises(NotThere):
        keepers.unmark_keeper(filled, marks[0].keeper_id)


def test_only_the_cleaned_picture_and_its_thumbnail_are_served(
    filled: Library, session: SmallSession
) -> None:
    original = picture(600, 400, shade=77)
    made = photos.add_photo(filled, "amp.jpg", io.BytesIO(original), pass_id=session.passes[1])
    shown = filled.files.path(photos.picture_of(filled, made)).read_bytes()
    thumbnail = filled.files.path(photos.picture_of(filled, made, thumbnail=True)).read_bytes()
    assert shown != original
    assert len(thumbnail) < len(shown)
    row = photos.read_photo(filled, made)
    assert (row.width, row.height) == (600, 400)


def test_a_photo_belongs_to_a_placement_of_its_own_pass_or_to_the_whole_pass(
    filled: Library, session: SmallSession
) -> None:
    foreign = step_id_of(filled, session.passes[1], session.near_mic)
    photos.add_photo(
        filled, "x.jpg", io.BytesIO(picture(shade=1)), pass_id=session.passes[0], step_id=foreign
    )
    assert read_pass(filled, session.passes[0]).photos[-1].step_id is None


def test_photos_of_gear_stand_with_the_gear(filled: Library, session: SmallSession) -> None:
    (shot,) = read_gear_photos(filled, session.fuzz)
    assert shot.caption == "inside"
    assert photos.delete_photo(filled, shot.photo_id) == (None, session.fuzz)
    assert read_gear_photos(filled, session.fuzz) == ()


@pytest.mark.parametrize(
    "given",
    [SVG, b"", picture()[:300], b"\x89PNG\r\n\x1a\n" + b"\0" * 40, tone(0.1)],
    ids=["svg", "empty", "cut", "broken", "audio"],
)
def test_a_file_that_is_no_usable_photo_is_refused_and_leaves_nothing(
    filled: Library, session: SmallSession, given: bytes
) -> None:
    before = filled.files.names()
    with pytest.raises(Refusal) as refused:
        photos.add_photo(filled, "shot.jpg", io.BytesIO(given), pass_id=session.passes[0])
    assert list(refused.value.sentences) == ["photo"]
    assert "“shot.jpg”" in str(refused.value)
    assert filled.files.names() == before
    assert check_library(filled.folder).problems == ()


def test_a_refused_photo_whose_bytes_are_known_as_audio_stays_known_as_audio(
    filled: Library, session: SmallSession
) -> None:
    sound = tone(0.1, hz=404)
    made = attach(filled, session.passes[0], sound)
    with pytest.raises(Refusal):
        photos.add_photo(filled, "shot.jpg", io.BytesIO(sound), pass_id=session.passes[0])
    assert filled.files.path(prints.audio_of_print(filled, made).sha256).exists()


def test_a_print_is_called_by_its_microphone_unless_a_person_said_otherwise(
    filled: Library, session: SmallSession
) -> None:
    first, print_id = session.passes[0], session.prints[0]
    mic = next(step for step in read_pass(filled, first).steps if step.gear_id == session.near_mic)

    def name() -> str:
        return next(item.name for item in read_pass(filled, first).prints if item.print_id == print_id)

    prints.edit_print(filled, print_id, label="", step_id=None)
    assert name() == prints.read_print(filled, print_id).file_name
    prints.edit_print(filled, print_id, label=name().rpartition(".")[0], step_id=mic.step_id)
    assert name() == mic.gear_name
    prints.edit_print(filled, print_id, label="far corner", step_id=mic.step_id)
    assert name() == "far corner"


def test_a_print_taken_off_is_compared_with_the_sources_anew(filled: Library, session: SmallSession) -> None:
    with filled.writing() as writing:
        item = prints.find_print(writing, session.prints[0])
        file_id = item.file_id
        arrival = writing.get_one(Arrival, session.arrival)
        arrival.state, arrival.print_id, arrival.file_id = "taken", item.id, file_id
    prints.delete_print(filled, session.prints[0])
    with filled.reading() as reading:
        assert examinations.read_identified(reading, [file_id])[file_id].is_coming
