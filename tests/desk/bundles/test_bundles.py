"""A session handed on, brought in elsewhere, changed there, and brought back."""

import hashlib
import io
import json
import shutil
import stat
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from query_counts import counted
from small_session import SmallSession, confirm_by_picture, correct, picture, turned

from app.desk.bundles.digests import digest
from app.desk.bundles.document import Document, schema_json, to_json
from app.desk.bundles.merge import Merged, Preview, merge, preview
from app.desk.bundles.reading import Bundle, UnreadableBundle, open_bundle
from app.desk.bundles.shelf import merge_kept, preview_kept, put_aside
from app.desk.bundles.writing import BundleOptions, DamagedOnTheWay, plan_bundle, write_bundle
from app.desk.files.check import check_library
from app.desk.passes import keepers, passes
from app.desk.passes.ledger import build_ledger
from app.desk.passes.pass_sheets import read_pass, read_passes_of_source
from app.desk.projects import projects
from app.desk.projects.projects import list_projects
from app.desk.refusals import Refusal
from app.desk.shelf import gear
from app.library import Library
from app.records import ControlLayout, Gear, Note, Pass, Project, SettingCrop, SharedRow, StoredFile

MOST = 1 << 30
PAGES = {"index.html": b"<!doctype html>"}
EVERYTHING = BundleOptions()


@pytest.fixture(autouse=True)
def quick_pdf(monkeypatch: pytest.MonkeyPatch) -> None:
    """The PDF has tests of its own, and takes longer to set than all the rest."""
    monkeypatch.setattr("app.desk.bundles.writing.session_log_pdf", lambda log, unit: b"%PDF")


@pytest.fixture
def elsewhere(empty_folder: Path, tmp_path: Path) -> Iterator[Library]:
    """Another person's library."""
    shutil.copytree(empty_folder, tmp_path / "elsewhere")
    library = Library(tmp_path / "elsewhere")
    yield library
    library.close()


def handed_on(library: Library, tmp_path: Path, options: BundleOptions = EVERYTHING) -> Path:
    path = tmp_path / f"bundle {len(list(tmp_path.glob('bundle *')))}.zip"
    contents = plan_bundle(library, the_project(library), options)
    path.write_bytes(b"".join(write_bundle(library, contents, PAGES)))
    return path


def the_project(library: Library) -> int:
    with library.reading() as session:
        return session.query(Project.id).filter(Project.title == "Boathouse").scalar() or 0


def brought_in(library: Library, path: Path, *theirs: str) -> Merged:
    return merge(library, open_bundle(path, MOST), theirs)


def seen(library: Library, path: Path) -> Preview:
    return preview(library, open_bundle(path, MOST))


def states(found: Preview) -> dict[str, int]:
    counted: dict[str, int] = {}
    for change in found.changes:
        counted[change.state] = counted.get(change.state, 0) + 1
    return counted


def test_a_session_stands_elsewhere_as_it_stood_here(
    filled: Library, session: SmallSession, elsewhere: Library, tmp_path: Path
) -> None:
    path = handed_on(filled, tmp_path)
    assert set(states(seen(elsewhere, path))) == {"new"}
    brought_in(elsewhere, path)
    (project,) = [line for line in list_projects(elsewhere) if line.title == "Boathouse"]
    here = read_passes_of_source(filled, session.bass)
    there = read_passes_of_source(
        elsewhere, projects.read_project(elsewhere, project.project_id).sources[0].source_id
    )

    def said(ledger: Any) -> Any:
        return [
            (rows.name, [(row.label, [cell.reading for cell in row.cells]) for row in rows.rows])
            for rows in ledger.gear
        ]

    assert said(build_ledger(there)) == said(build_ledger(here))
    for mine, theirs in zip(here, there, strict=True):
        assert (theirs.name, theirs.notes, theirs.blend) == (mine.name, mine.notes, mine.blend)
        assert [item.sha256 for item in theirs.prints] == [item.sha256 for item in mine.prints]
        assert [step.placement for step in theirs.steps] == [step.placement for step in mine.steps]
        assert [(mark.part, mark.reason) for mark in theirs.keepers] == [
            (m.part, m.reason) for m in mine.keepers
        ]
        assert len(theirs.photos) == len(mine.photos)
    assert elsewhere.files.path(here[0].prints[0].sha256).exists()


def crops_of(library: Library) -> list[bytes]:
    with library.reading() as opened:
        hashes = [row[0] for row in opened.query(StoredFile.sha256).join(SettingCrop).all()]
    return [library.files.path(sha256).read_bytes() for sha256 in hashes]


def test_pictures_by_which_settings_were_confirmed_go_along_and_make_them_no_others(
    filled: Library, session: SmallSession, elsewhere: Library, tmp_path: Path
) -> None:
    bare = handed_on(filled, tmp_path)
    content = picture(96, 96)
    confirm_by_picture(filled, session.passes[0], content)
    assert set(states(seen(filled, bare))) == {"same"}, "a picture is no change of what was set"
    without = handed_on(filled, tmp_path, BundleOptions(photos=False))
    assert not open_bundle(without, MOST).crops
    path = handed_on(filled, tmp_path)
    brought_in(elsewhere, path)
    assert crops_of(elsewhere) == [content]
    assert set(states(seen(elsewhere, path))) == {"same"}
    assert set(states(seen(elsewhere, without))) <= {"same"}
    assert not check_library(elsewhere.folder).problems
    again = handed_on(elsewhere, tmp_path)
    assert set(open_bundle(again, MOST).crops) == {hashlib.sha256(content).hexdigest()}


def test_a_picture_of_a_control_that_is_none_is_left_out(
    filled: Library, session: SmallSession, elsewhere: Library, tmp_path: Path
) -> None:
    confirm_by_picture(filled, session.passes[0], b"\xff\xd8\xff a program, or a film of an hour")
    brought_in(elsewhere, handed_on(filled, tmp_path))
    assert crops_of(elsewhere) == []
    assert len(list_projects(elsewhere)) == 1


def test_a_bundle_brought_in_twice_changes_nothing(
    filled: Library, elsewhere: Library, tmp_path: Path
) -> None:
    path = handed_on(filled, tmp_path)
    brought_in(elsewhere, path)
    assert set(states(seen(elsewhere, path))) == {"same"}
    assert brought_in(elsewhere, path).taken == 0
    assert set(states(seen(filled, path))) == {"same"}, "and nothing where it came from"


def test_what_is_added_there_comes_back_under_a_free_number(
    filled: Library, session: SmallSession, elsewhere: Library, tmp_path: Path
) -> None:
    brought_in(elsewhere, handed_on(filled, tmp_path))
    their_source = projects.read_project(elsewhere, the_project(elsewhere)).sources[0].source_id
    theirs = passes.log_pass(
        elsewhere, their_source, replace(passes.entry_for_next(elsewhere, their_source), title="theirs")
    )
    assert read_pass(elsewhere, theirs).number == 4
    mine = passes.log_pass(
        filled, session.bass, replace(passes.entry_for_next(filled, session.bass), title="mine")
    )
    back = handed_on(elsewhere, tmp_path)
    found = seen(filled, back)
    assert [change.name for change in found.of_state("new")] == ["pass 4: theirs"]
    assert found.renumbered == ("pass 4: theirs",)
    brought_in(filled, back)
    assert [(sheet.number, sheet.title) for sheet in read_passes_of_source(filled, session.bass)][3:] == [
        (4, "mine"),
        (5, "theirs"),
    ]
    assert read_pass(filled, mine).number == 4
    assert brought_in(filled, back).taken == 0, "and not once more"
    again = handed_on(filled, tmp_path)
    assert [change.name for change in seen(elsewhere, again).of_state("new")] == ["pass 4: mine"]


def changed_notes(library: Library, number: int, notes: str) -> None:
    with library.writing() as session:
        row = session.query(Pass).filter(Pass.number == number).order_by(Pass.id).first()
        assert row is not None
        row.notes = notes


def notes_of(library: Library, number: int) -> str:
    with library.reading() as session:
        return session.query(Pass.notes).filter(Pass.number == number).order_by(Pass.id).first()[0]  # type: ignore[index]


def test_what_was_changed_on_one_side_is_taken_from_there(
    filled: Library, elsewhere: Library, tmp_path: Path
) -> None:
    brought_in(elsewhere, handed_on(filled, tmp_path))
    changed_notes(elsewhere, 1, "louder there")
    changed_notes(filled, 2, "quieter here")
    back = handed_on(elsewhere, tmp_path)
    found = seen(filled, back)
    assert [change.name for change in found.of_state("changed there")] == ["pass 1: first try"]
    assert [change.name for change in found.of_state("changed here")] == ["pass 2"]
    brought_in(filled, back)
    assert (notes_of(filled, 1), notes_of(filled, 2)) == ("louder there", "quieter here")


def test_what_was_changed_on_both_sides_stays_unless_it_is_chosen(
    filled: Library, elsewhere: Library, tmp_path: Path
) -> None:
    brought_in(elsewhere, handed_on(filled, tmp_path))
    for number in (1, 2):
        changed_notes(elsewhere, number, "theirs")
        changed_notes(filled, number, "mine")
    back = handed_on(elsewhere, tmp_path)
    conflicts = seen(filled, back).of_state("changed on both sides")
    assert [change.name for change in conflicts] == ["pass 1: first try", "pass 2"]
    assert [one.sentence for one in conflicts[0].differences] == ["notes: mine here, theirs there"]
    brought_in(filled, back, conflicts[1].uid)
    assert (notes_of(filled, 1), notes_of(filled, 2)) == ("mine", "theirs")
    assert seen(filled, back).of_state("changed on both sides") == (), "it is not asked again"
    assert brought_in(filled, back).taken == 0


def test_a_conflict_says_what_differs_down_to_the_knob(
    filled: Library, session: SmallSession, elsewhere: Library, tmp_path: Path
) -> None:
    brought_in(elsewhere, handed_on(filled, tmp_path))
    changed_notes(elsewhere, 1, "theirs")
    entry = turned(filled, passes.entry_of(filled, session.passes[0]), session.amp, Gain="9")
    correct(filled, session.passes[0], entry)
    found = seen(filled, handed_on(elsewhere, tmp_path))
    (conflict,) = found.of_state("changed on both sides")
    said = [one.sentence for one in conflict.differences]
    assert "15-watt valve combo, Gain: 9 here, 6.5 there" in said, said
    assert any(one.startswith("notes: ") and one.endswith("theirs there") for one in said), said
    assert not found.brings_nothing
    assert seen(filled, handed_on(filled, tmp_path)).brings_nothing


def test_what_was_deleted_here_does_not_come_back_by_itself(
    filled: Library, session: SmallSession, elsewhere: Library, tmp_path: Path
) -> None:
    path = handed_on(filled, tmp_path)
    passes.delete_pass(filled, session.passes[0])
    found = seen(filled, path)
    assert "pass 1: first try" in [change.name for change in found.of_state("deleted here")]
    brought_in(filled, path)
    assert [sheet.number for sheet in read_passes_of_source(filled, session.bass)] == [2, 3]
    brought_in(filled, path, *(change.uid for change in found.of_state("deleted here")))
    first = read_passes_of_source(filled, session.bass)[0]
    assert (first.number, len(first.prints), len(first.keepers)) == (1, 1, 1)


def test_a_private_note_never_leaves(filled: Library, session: SmallSession, tmp_path: Path) -> None:
    with filled.writing() as writing:
        for words, private in (("their neighbours complained", True), ("bring the long cable", False)):
            writing.add(Note(project_id=session.project, words=words, private=private))
    path = handed_on(filled, tmp_path)
    with zipfile.ZipFile(path) as archive:
        everything = b"".join(archive.read(name) for name in archive.namelist())
    assert b"bring the long cable" in everything
    assert b"neighbours complained" not in everything


def test_only_keepers_leave_where_that_is_chosen(filled: Library, elsewhere: Library, tmp_path: Path) -> None:
    brought_in(elsewhere, handed_on(filled, tmp_path, BundleOptions(keepers_only=True)))
    source = projects.read_project(elsewhere, the_project(elsewhere)).sources[0].source_id
    assert [sheet.number for sheet in read_passes_of_source(elsewhere, source)] == [1]


def test_without_audio_settings_and_figures_come_all_the_same(
    filled: Library, elsewhere: Library, tmp_path: Path
) -> None:
    path = handed_on(filled, tmp_path, BundleOptions(audio="none", photos=False))
    assert seen(elsewhere, path).without_audio == 4
    brought_in(elsewhere, path)
    source = projects.read_project(elsewhere, the_project(elsewhere)).sources[0].source_id
    first = read_passes_of_source(elsewhere, source)[0]
    assert first.prints[0].measured.figures is not None
    assert first.photos == ()
    brought_in(elsewhere, handed_on(filled, tmp_path))
    whole = read_passes_of_source(elsewhere, source)[0]
    assert elsewhere.files.path(whole.prints[0].sha256).exists(), "a later bundle brings the audio after"
    assert len(whole.photos) == 2


def test_a_past_pass_keeps_its_layout_when_gear_comes_in_changed(
    filled: Library, session: SmallSession, elsewhere: Library, tmp_path: Path
) -> None:
    """History is frozen, also against a bundle."""
    path = handed_on(filled, tmp_path)
    brought_in(elsewhere, path)

    def edit(said: dict[str, Any]) -> None:
        for layout in said["layouts"]:
            for control in layout["controls"]:
                control["spec"]["name"] = "renamed " + control["spec"]["name"]

    brought_in(elsewhere, edited(path, tmp_path, edit))
    source = projects.read_project(elsewhere, the_project(elsewhere)).sources[0].source_id
    assert {
        line.name
        for sheet in read_passes_of_source(elsewhere, source)
        for step in sheet.steps
        for line in step.settings
    } == {
        line.name
        for sheet in read_passes_of_source(filled, session.bass)
        for step in sheet.steps
        for line in step.settings
    }


def test_the_same_gear_is_not_doubled(filled: Library, elsewhere: Library, tmp_path: Path) -> None:
    path = handed_on(filled, tmp_path)
    brought_in(elsewhere, path)
    brought_in(elsewhere, handed_on(filled, tmp_path))
    with elsewhere.reading() as session:
        names = [name for (name,) in session.query(Gear.name)]
    assert len(names) == len(set(names)) == 5


def test_checksums_hold_for_every_file(filled: Library, tmp_path: Path) -> None:
    with zipfile.ZipFile(handed_on(filled, tmp_path)) as archive:
        listed = dict(
            reversed(line.split("  ", 1)) for line in archive.read("SHA256SUMS").decode().splitlines()
        )
        assert set(listed) == set(archive.namelist()) - {"SHA256SUMS"}
        for name, checksum in listed.items():
            assert hashlib.sha256(archive.read(name)).hexdigest() == checksum, name


def test_a_document_reads_back_as_it_was_written(filled: Library, session: SmallSession) -> None:
    document = plan_bundle(filled, session.project, BundleOptions()).document
    assert Document.model_validate_json(to_json(document)) == document
    assert [digest(row) for row in Document.model_validate_json(to_json(document)).rows()] == [
        digest(row) for row in document.rows()
    ]


# What somebody may send who means ill.


def edited(path: Path, tmp_path: Path, edit: Callable[[dict[str, Any]], None]) -> Path:
    """The same bundle with its document changed."""
    return rewritten(path, tmp_path, {"session.json": lambda content: _edited(content, edit)})


def _edited(content: bytes, edit: Callable[[dict[str, Any]], None]) -> bytes:
    said = json.loads(content)
    edit(said)
    return json.dumps(said).encode()


def rewritten(path: Path, tmp_path: Path, changes: dict[str, Callable[[bytes], bytes]]) -> Path:
    made = tmp_path / f"bundle edited {len(list(tmp_path.glob('bundle edited *')))}.zip"
    with zipfile.ZipFile(path) as old, zipfile.ZipFile(made, "w") as new:
        for entry in old.infolist():
            content = old.read(entry)
            new.writestr(entry.filename, changes.get(entry.filename, bytes)(content))
    return made


def with_entry(path: Path, tmp_path: Path, name: str, content: bytes = b"x", mode: int = 0o644) -> Path:
    made = tmp_path / f"bundle more {len(list(tmp_path.glob('bundle more *')))}.zip"
    shutil.copy(path, made)
    with zipfile.ZipFile(made, "a", zipfile.ZIP_DEFLATED) as archive:
        entry = zipfile.ZipInfo(name)
        entry.external_attr = mode << 16
        entry.compress_type = zipfile.ZIP_DEFLATED
        archive.writestr(entry, content)
    return made


@pytest.mark.parametrize(
    "name", ["../out.txt", "/etc/out", "a/../../out", "C:\\out.txt", "a\\..\\b", "C:out"]
)
def test_a_path_that_climbs_out_is_refused(filled: Library, tmp_path: Path, name: str) -> None:
    with pytest.raises(UnreadableBundle, match="outside"):
        open_bundle(with_entry(handed_on(filled, tmp_path), tmp_path, name), MOST)


def test_links_bombs_and_doubles_are_refused(filled: Library, tmp_path: Path) -> None:
    path = handed_on(filled, tmp_path)
    with pytest.raises(UnreadableBundle, match="a link"):
        open_bundle(with_entry(path, tmp_path, "link", b"/etc/passwd", stat.S_IFLNK | 0o777), MOST)
    with pytest.raises(UnreadableBundle, match="next to nothing"):
        open_bundle(with_entry(path, tmp_path, "zeros", bytes(50_000_000)), MOST)
    with pytest.raises(UnreadableBundle, match="twice"):
        open_bundle(with_entry(path, tmp_path, "SESSION.json"), MOST)
    with pytest.raises(UnreadableBundle, match="larger than this library takes"):
        open_bundle(path, 1000)


@pytest.mark.parametrize("content", [b"", b"PK", b"not a zip at all", b"PK\x03\x04" + bytes(200)])
def test_what_is_no_zip_is_refused(library: Library, content: bytes) -> None:
    with pytest.raises(Refusal, match="not a bundle that can be opened"):
        put_aside(library, io.BytesIO(content), MOST)
    assert list(library.files.incoming.iterdir()) == []


def refused(path: Path) -> str:
    with pytest.raises(UnreadableBundle) as told:
        open_bundle(path, MOST)
    return str(told.value)


def test_a_document_that_is_not_as_it_should_be_is_refused_with_the_place(
    filled: Library, tmp_path: Path
) -> None:
    path = handed_on(filled, tmp_path)

    def broken(edit: Callable[[dict[str, Any]], None]) -> str:
        return refused(edited(path, tmp_path, edit))

    assert "newer Dialback" in broken(lambda said: said.update(dialback_session=2))
    assert "dialback_session" in broken(lambda said: said.pop("dialback_session"))
    assert "passes.0.uid" in broken(lambda said: said["passes"][0].update(uid="../../x"))
    assert "position" in broken(lambda said: said["passes"][0]["steps"][0]["settings"][0].update(position=7))
    assert "notes" in broken(lambda said: said.update(notes=[{}] * 100_001))
    assert "layout" in broken(lambda said: said["layouts"][0]["controls"][0].update(spec={"form": "bomb"}))
    assert "kind of gear" in broken(lambda said: said["gear"][0].update(kind="toaster"))
    assert "twice" in broken(lambda said: said["passes"][0]["steps"].append(said["passes"][0]["steps"][0]))
    assert "measured of a print" in broken(lambda said: said["prints"][0].update(figures={"level": 3}))
    deep: list[Any] = []
    for _ in range(60):
        deep = [deep]
    assert "nested deeper" in broken(lambda said: said.update(more=deep))
    assert "cannot be read" in refused(rewritten(path, tmp_path, {"session.json": lambda _: b"[" * 200_000}))
    assert "cannot be read" in refused(rewritten(path, tmp_path, {"session.json": lambda _: b"{"}))


def test_a_file_that_is_not_what_its_list_says_leaves_everything_as_it_was(
    filled: Library, elsewhere: Library, tmp_path: Path
) -> None:
    path = handed_on(filled, tmp_path)
    with zipfile.ZipFile(path) as archive:
        audio = next(name for name in archive.namelist() if name.startswith("audio/"))
    cheat = rewritten(path, tmp_path, {audio: lambda content: content[:-1] + b"!"})
    with pytest.raises(UnreadableBundle, match="not the file that its list says"):
        brought_in(elsewhere, cheat)
    assert list_projects(elsewhere) == []
    assert elsewhere.files.names() == set()


def test_scripts_and_turned_text_in_names_are_only_words(
    filled: Library, elsewhere: Library, tmp_path: Path
) -> None:
    evil = "<script>alert(1)</script>\u202egnp.exe\x00"
    path = edited(handed_on(filled, tmp_path), tmp_path, lambda said: said["project"].update(title=evil))
    brought_in(elsewhere, path)
    (line,) = list_projects(elsewhere)
    assert line.title == "<script>alert(1)</script>gnp.exe"


def test_a_bundle_waits_on_the_shelf_until_it_is_brought_in(
    filled: Library, elsewhere: Library, tmp_path: Path
) -> None:
    key = put_aside(elsewhere, io.BytesIO(handed_on(filled, tmp_path).read_bytes()), MOST)
    assert preview_kept(elsewhere, key, MOST).is_new
    project = merge_kept(elsewhere, key, (), MOST)
    assert projects.read_project(elsewhere, project).title == "Boathouse"
    with pytest.raises(Refusal, match="not here any more"):
        preview_kept(elsewhere, key, MOST)


def test_a_new_keeper_there_comes_here(
    filled: Library, elsewhere: Library, tmp_path: Path, session: SmallSession
) -> None:
    brought_in(elsewhere, handed_on(filled, tmp_path))
    source = projects.read_project(elsewhere, the_project(elsewhere)).sources[0].source_id
    second = read_passes_of_source(elsewhere, source)[1]
    keepers.mark_keeper(elsewhere, second.pass_id, part="right", reason="It answers the left.")
    brought_in(filled, handed_on(elsewhere, tmp_path))
    assert [mark.part for mark in read_pass(filled, session.passes[1]).keepers] == ["right"]


def test_the_schema_names_what_every_row_must_have() -> None:
    schema = json.loads(schema_json())
    assert schema["$schema"].endswith("2020-12/schema")
    assert set(schema["required"]) == {"dialback_session", "made_at", "project"}


def test_what_is_on_the_shelf_is_checked_once(
    filled: Library, elsewhere: Library, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened = []

    def noted(path: Path, most_bytes: int) -> Bundle:
        opened.append(path)
        return open_bundle(path, most_bytes)

    monkeypatch.setattr("app.desk.bundles.shelf.open_bundle", noted)
    key = put_aside(elsewhere, io.BytesIO(handed_on(filled, tmp_path).read_bytes()), MOST)
    preview_kept(elsewhere, key, MOST)
    merge_kept(elsewhere, key, (), MOST)
    assert len(opened) == 1


def test_a_merge_reads_as_often_for_many_rows_as_for_few(
    filled: Library, session: SmallSession, elsewhere: Library, tmp_path: Path, empty_folder: Path
) -> None:
    """What is here is asked for once for each table, however many rows the bundle has."""

    def reads(library: Library, path: Path) -> tuple[int, int]:
        bundle = open_bundle(path, MOST)
        with counted(library) as asked:
            merge(library, bundle)
        words_index = ("SELECT group_concat",)  # read row by row to keep the index of words
        selects = [said for said in asked.statements if said.startswith("SELECT")]
        rows = len(list(bundle.document.rows()))
        return rows, sum(not said.startswith(words_index) for said in selects)

    few, of_few = reads(elsewhere, handed_on(filled, tmp_path))
    for number in range(20):
        entry = replace(passes.entry_of(filled, session.passes[0]), title=f"again {number}", like=0)
        passes.log_pass(filled, session.bass, entry)
    shutil.copytree(empty_folder, tmp_path / "third")
    third = Library(tmp_path / "third")
    many, of_many = reads(third, handed_on(filled, tmp_path))
    third.close()
    assert many >= few + 20
    assert of_few <= 40
    assert of_many == of_few


def test_layouts_of_gear_that_is_new_here_keep_their_order(
    filled: Library, session: SmallSession, elsewhere: Library, tmp_path: Path
) -> None:
    """Also where passes were logged with several versions of it: the newest there is the newest here."""
    entry = gear.gear_entry(filled, session.amp)
    gear.edit_gear(filled, session.amp, replace(entry, name="15-watt valve combo, rebuilt"))
    draft = turned(filled, passes.entry_of(filled, session.passes[0]), session.amp)
    newest = gear.read_gear(filled, session.amp).newest
    steps = tuple(
        replace(step, layout_id=newest.layout_id, readings={}) if step.gear_id == session.amp else step
        for step in draft.steps
    )
    passes.log_pass(filled, session.bass, replace(draft, steps=steps, title="rebuilt", like=0))
    brought_in(elsewhere, handed_on(filled, tmp_path))
    with elsewhere.reading() as reading:
        rows = (
            reading.query(ControlLayout.gear_name)
            .join(Gear, Gear.id == ControlLayout.gear_id)
            .filter(Gear.name.like("15-watt valve combo%"))
            .order_by(ControlLayout.version)
        )
        assert [name for (name,) in rows][-1] == "15-watt valve combo, rebuilt"


# what is sent is what was stored


@pytest.fixture
def damaged(filled: Library) -> str:
    """The name, within a bundle, of a file with one bit turned."""
    contents = plan_bundle(filled, the_project(filled), EVERYTHING)
    name, path = next((name, path) for name, path in contents.files.items() if name.startswith("audio/"))
    content = bytearray(path.read_bytes())
    content[2000] ^= 1
    path.write_bytes(content)
    return name


def test_a_damaged_file_stops_the_bundle_with_its_name(filled: Library, damaged: str, tmp_path: Path) -> None:
    with pytest.raises(Refusal) as refused:
        handed_on(filled, tmp_path)
    assert damaged in refused.value.sentences["leave_out"]
    assert agreed_rows(filled) == 0


def test_a_damaged_file_is_left_out_where_one_says_so(filled: Library, damaged: str, tmp_path: Path) -> None:
    options = replace(EVERYTHING, leave_out_damaged=True)
    assert plan_bundle(filled, the_project(filled), options).missing == (damaged,)
    with zipfile.ZipFile(handed_on(filled, tmp_path, options)) as archive:
        assert damaged not in archive.namelist()
        assert damaged not in archive.read("session.json").decode()
        assert sum(name.startswith("audio/") for name in archive.namelist()) > 1


def test_a_file_that_changes_while_it_is_sent_ends_the_bundle_there(filled: Library, tmp_path: Path) -> None:
    contents = plan_bundle(filled, the_project(filled), EVERYTHING)
    chunks = write_bundle(filled, contents, PAGES)
    sent = [next(chunks)]
    for path in contents.files.values():
        path.write_bytes(bytes(path.stat().st_size))
    with pytest.raises(DamagedOnTheWay, match="has changed"):
        sent.extend(chunks)
    with pytest.raises(zipfile.BadZipFile):
        zipfile.ZipFile(io.BytesIO(b"".join(sent)))
    assert agreed_rows(filled) == 0


def test_a_bundle_that_is_cut_off_is_not_agreed_on_and_one_that_came_whole_is(filled: Library) -> None:
    contents = plan_bundle(filled, the_project(filled), EVERYTHING)
    chunks = list(write_bundle(filled, contents, PAGES))
    with filled.writing() as session:
        session.query(SharedRow).delete()
    again = write_bundle(filled, contents, PAGES)
    for _ in range(len(chunks) - 4):
        next(again)
    assert agreed_rows(filled) == 0
    again.close()
    assert agreed_rows(filled) == 0
    whole = write_bundle(filled, contents, PAGES)
    for _ in range(len(chunks)):
        next(whole)
    assert agreed_rows(filled) > 0, "with the last byte, and nothing after it"


def agreed_rows(library: Library) -> int:
    with library.reading() as session:
        return session.query(SharedRow).count()


def test_a_bundle_is_not_begun_without_the_room_to_make_it(
    filled: Library, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(shutil, "disk_usage", lambda folder: SimpleNamespace(free=3_000_000))
    with pytest.raises(Refusal, match=r"needs \d+ MB .* 3 MB are free"):
        handed_on(filled, tmp_path)


def test_how_large_a_file_is_tells_the_file_and_not_the_document(
    filled: Library, elsewhere: Library, tmp_path: Path
) -> None:
    path = handed_on(filled, tmp_path)
    lying = tmp_path / "lying.zip"
    with zipfile.ZipFile(path) as archive, zipfile.ZipFile(lying, "w") as written:
        for entry in archive.infolist():
            content = archive.read(entry)
            if entry.filename == "session.json":
                document = json.loads(content)
                for row in (*document["prints"], *document["sources"]):
                    if row["file"]:
                        row["file"]["bytes"] = 7
                content = json.dumps(document).encode()
            written.writestr(entry.filename, content)
    brought_in(elsewhere, lying)
    assert check_library(elsewhere.folder).problems == ()
