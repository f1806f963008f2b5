"""A bundle as it comes in: opened, bounded and read, before anything of it is believed.

Nothing is unpacked by name: the document says by hash which files it wants, and their bytes must have that hash.
"""

import json
import stat
import zipfile
import zlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Any

from pydantic import ValidationError

from app.desk import wording
from app.desk.bundles.document import VERSION, Document
from app.signal.figures import print_figures_from_json
from app.trade.gear_facts import facts_from_json
from app.trade.gear_kinds import GEAR_KINDS
from app.trade.hook_up_plan import plan_from_json
from app.trade.level_inputs import inputs_from_json
from app.trade.ports import port_from_json
from app.trade.scales import spec_from_json

DOCUMENT_NAME = "session.json"
MOST_ENTRIES = 50_000
MOST_DOCUMENT_BYTES = 128 * 1024**2
MOST_RATIO = 100
"""How much larger than packed an entry may be. Audio and photos hardly pack at all, words to a tenth."""
MOST_DEPTH = 40


class UnreadableBundle(Exception):
    """Its message is a full sentence."""


@dataclass(frozen=True)
class Bundle:
    """`audio`, `photos` and `crops` are the names of entries by SHA-256 of what they must hold."""

    path: Path
    document: Document
    audio: Mapping[str, str]
    photos: Mapping[str, str]
    crops: Mapping[str, str]


def open_bundle(path: Path, most_bytes: int) -> Bundle:
    """Raises UnreadableBundle for whatever is not a bundle, or not to be trusted."""
    try:
        with zipfile.ZipFile(path) as archive:
            names = _checked_names(archive, most_bytes)
            document = _document(archive, names)
    except (zipfile.BadZipFile, EOFError, NotImplementedError, RuntimeError, zlib.error, OSError) as error:
        raise UnreadableBundle(
            f"This is not a bundle that can be opened, or it was damaged on its way ({error}). Have it sent again."
        ) from error
    audio = {sha256: name for sha256, name in document.audio.items() if name in names}
    photos = {row.sha256: row.path for row in document.photos if row.path in names}
    crops = {sha256: name for sha256, name in document.crops.items() if name in names}
    return Bundle(path, document, audio, photos, crops)


def _checked_names(archive: zipfile.ZipFile, most_bytes: int) -> set[str]:
    entries = archive.infolist()
    if len(entries) > MOST_ENTRIES:
        raise UnreadableBundle(f"It holds {len(entries):,} files; {MOST_ENTRIES:,} are the most.")
    names: set[str] = set()
    for entry in entries:
        name = entry.filename
        place = PurePosixPath(name)
        if place.is_absolute() or ".." in place.parts or "\\" in name or ":" in name or "\0" in name:
            raise UnreadableBundle(
                f"It holds a file that would lie outside of it (“{name[:80]}”), so it is not opened."
            )
        if stat.S_ISLNK(entry.external_attr >> 16):
            raise UnreadableBundle(
                f"It holds a link (“{name[:80]}”), which no bundle does, so it is not opened."
            )
        if entry.flag_bits & 0x1:
            raise UnreadableBundle("It is locked with a password. Have it sent without one.")
        if name.casefold() in names:
            raise UnreadableBundle(f"It holds “{name[:80]}” twice, so it is not clear which is meant.")
        if entry.file_size > 1_000_000 and entry.file_size > MOST_RATIO * max(1, entry.compress_size):
            raise UnreadableBundle(
                f"“{name[:80]}” would unpack to {entry.file_size:,} bytes out of next to nothing."
            )
        names.add(name.casefold())
    if sum(entry.file_size for entry in entries) > most_bytes:
        raise UnreadableBundle(
            "Unpacked it would be larger than this library takes (DIALBACK_MAX_UPLOAD_BYTES)."
        )
    return {entry.filename for entry in entries}


def _document(archive: zipfile.ZipFile, names: set[str]) -> Document:
    if DOCUMENT_NAME not in names:
        raise UnreadableBundle(f"It holds no {DOCUMENT_NAME}, so it is not a bundle of Dialback.")
    entry = archive.getinfo(DOCUMENT_NAME)
    if entry.file_size > MOST_DOCUMENT_BYTES:
        raise UnreadableBundle(
            f"Its {DOCUMENT_NAME} has {entry.file_size:,} bytes, more than any session needs."
        )
    try:
        said = json.loads(archive.read(entry))
    except (ValueError, RecursionError) as error:
        raise UnreadableBundle(f"Its {DOCUMENT_NAME} cannot be read ({error}).") from error
    return read_document(said)


def read_document(said: Any) -> Document:
    """The document of plain JSON values. Raises UnreadableBundle."""
    version = said.get("dialback_session") if isinstance(said, dict) else None
    if isinstance(version, int) and version > VERSION:
        raise UnreadableBundle(
            f"It was made by a newer Dialback (its form is {version}, this one reads up to {VERSION}). Bring Dialback "
            "up to date first."
        )
    try:
        document = Document.model_validate(_printable(said, MOST_DEPTH))
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False)[0]
        where = ".".join(str(part) for part in first["loc"])
        raise UnreadableBundle(
            f"Its {DOCUMENT_NAME} is not as it should be: {where or 'the whole'} – {first['msg']}."
        ) from error
    _refuse_what_the_trade_does_not_know(document)
    return document


def _printable(said: Any, deeper: int) -> Any:
    """The same with every text made fit to be kept."""
    if deeper == 0:
        raise UnreadableBundle(f"Its {DOCUMENT_NAME} is nested deeper than any session needs.")
    match said:
        case str():
            return wording.printable(said)
        case list():
            return [_printable(item, deeper - 1) for item in said]
        case dict():
            return {wording.printable(key): _printable(item, deeper - 1) for key, item in said.items()}
        case _:
            return said


def _refuse_what_the_trade_does_not_know(document: Document) -> None:
    for gear in document.gear:
        if gear.kind not in GEAR_KINDS:
            raise UnreadableBundle(
                f"“{gear.name[:60]}” is of a kind of gear that is not known: {gear.kind[:40]}."
            )
    for layout in document.layouts:
        about = f"The layout of “{layout.gear_name[:60]}”"
        for control in layout.controls:
            _read(about, spec_from_json, control.spec)
        for port in layout.ports or ():
            _read(about, port_from_json, port)
        _read(about, facts_from_json, layout.facts)
        if layout.kind not in GEAR_KINDS:
            raise UnreadableBundle(f"{about} is of a kind of gear that is not known: {layout.kind[:40]}.")
    for row in document.passes:
        about = f"Pass {row.number}"
        if row.hook_up_plan is not None:
            _read(about, plan_from_json, row.hook_up_plan)
        if row.level_inputs is not None:
            _read(about, inputs_from_json, row.level_inputs)
        if len({step.gear_uid for step in row.steps}) < len(row.steps):
            raise UnreadableBundle(f"{about} has a piece of gear twice in its chain.")
    for item in document.prints:
        if item.figures is not None:
            _read("What was measured of a print", print_figures_from_json, item.figures)


def _read(about: str, reader: Callable[[Any], object], said: Any) -> None:
    try:
        reader(said)
    except (ValueError, TypeError, KeyError, AttributeError, IndexError) as error:
        raise UnreadableBundle(f"{about} is not as it should be: {error}") from error
