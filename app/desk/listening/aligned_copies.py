"""Aligned copies of prints, to drop into any DAW: moved onto the source's time line, as 24-bit Broadcast Wave files
in one zip. A kept blend brings its nudges and polarities into them, and the source as a lane of its own where it is
in the blend; its balance stands in the report. The originals are only read.

The audio is worked on in a process of its own, since the server knows no numerics; it writes the zip as it goes, so
nothing of it is kept, however long the takes are.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, field

from sqlmodel import col

from app.desk import child_processes
from app.desk.files import copy_names
from app.desk.files.broadcast_wave import read_time_reference
from app.desk.files.stored_files import FileAway, path_of
from app.desk.listening import auditions
from app.desk.listening.auditions import PlacedPrint
from app.desk.passes.pass_sheets import PassSheet, read_pass_sheets
from app.desk.refusals import Refusal
from app.library import Library
from app.records import Pass, Project, StoredFile
from app.signal.figures import Polarity, PrintFigures
from app.signal.listening.blend_figures import BlendSetting
from app.signal.listening.figures import Moved

SILENT_FOR_S = 900.0
"""How long the copying process may take to read all prints through once, before its first byte."""

DRY = "dry"
"""What the source is called beside the prints it is blended with."""

KeptBlend = Mapping[int | None, BlendSetting]
"""What is in it by print id, the source being None."""


@dataclass(frozen=True)
class CopyOptions:
    """`blends` are those to be followed, by pass; their nudges and polarities come on top of the alignment."""

    pattern: str = copy_names.STANDARD_PATTERN
    right_polarity: bool = True
    trim_to_source: bool = True
    match_loudness: bool = False
    blends: Mapping[int, KeptBlend] = field(default_factory=dict)


@dataclass(frozen=True)
class CopyOrder:
    """One copy to be made, as the copying process is told. `length_s` is None for all that the print holds.

    `polarity` is what its page says of the print; where it `rights`, the copying process turns over what is upside down,
    and asks the pass's other copies where a print alone leaves it unclear. `inverted` is turned over in any case: by
    a kept blend, within which the prints keep the polarities that were chosen by ear. `fader_db` is its level in that
    blend, None where it is in none.
    """

    path: str
    name: str
    delay_samples: float
    drift_ppm: float
    target_rate: int
    length_s: float | None
    pass_number: int
    polarity: Polarity
    rights: bool
    inverted: bool
    fader_db: float | None
    description: str
    settings: str
    reference: str
    originated_at: str
    time_reference: int
    is_source: bool
    moved: tuple[Moved, ...] = ()
    astray: str = ""

    def last_delay_samples(self, sample_rate: int) -> float:
        """Of its last piece."""
        by_s = self.moved[-1].by_s if self.moved else None
        return self.delay_samples + (by_s or 0.0) * sample_rate


@dataclass(frozen=True)
class AlignedCopies:
    """A zip on its way: its file name, and its bytes as they are made. Close `chunks` when nobody wants them any
    more."""

    file_name: str
    chunks: Iterator[bytes]


def make_aligned_copies(library: Library, pass_ids: Sequence[int], options: CopyOptions) -> AlignedCopies:
    """Copies of all prints of these passes. Raises NotThere, and Refusal where a print cannot be copied, the passes
    are of several sources, or the pattern has words that there are not."""
    copy_names.refuse_unless_pattern(options.pattern)
    orders = _orders(library, pass_ids, options)
    chunks = _run(orders, options.match_loudness)
    first = next(chunks)  # whatever is wrong with a file is known before the first byte
    with library.reading() as session:
        sheet = read_pass_sheets(session, col(Pass.id) == pass_ids[0])[0]
    (zip_name,) = copy_names.names("{project} {source}", [_words(sheet, "", "", "")], " aligned.zip")
    return AlignedCopies(zip_name, with_first(first, chunks))


def _orders(library: Library, pass_ids: Sequence[int], options: CopyOptions) -> list[CopyOrder]:
    places = [
        item
        for item in auditions.read_places(library, pass_ids)
        if item.shown.print_id is not None or None in options.blends.get(item.pass_id, {})
    ]
    with library.reading() as session:
        sheets = {
            sheet.pass_id: sheet for sheet in read_pass_sheets(session, col(Pass.id).in_(list(pass_ids)))
        }
        one = next(iter(sheets.values()))
        artist = session.get_one(Project, one.project_id).artist
        source = None if one.source_file_id is None else session.get_one(StoredFile, one.source_file_id)
    if all(item.shown.print_id is None for item in places):
        raise Refusal({"": "There is no print to copy. Attach one to the pass first."})
    reference = _time_reference(library, source.sha256) if source is not None else None
    words = [
        _words(sheets[item.pass_id], artist, _print_word(item, places), item.shown.file_name)
        for item in places
    ]
    names = copy_names.names(options.pattern, words, ".wav")
    turned = {pass_id: _is_turned(blend, places) for pass_id, blend in options.blends.items()}
    return [
        _order(library, item, name, sheets[item.pass_id], reference or 0, options, turned)
        for item, name in zip(places, names, strict=True)
    ]


def _is_turned(blend: KeptBlend, places: Sequence[PlacedPrint]) -> bool:
    """Whether a blend as a whole is to be turned over, for the first in it to come out right way up."""
    for item in places:
        setting = blend.get(item.shown.print_id)
        if setting is not None and item.shown.polarity != "unclear":
            return (item.shown.polarity == "inverted") != setting.inverted
    return False


def _order(
    library: Library,
    item: PlacedPrint,
    name: str,
    sheet: PassSheet,
    time_reference: int,
    options: CopyOptions,
    turned: Mapping[int, bool],
) -> CopyOrder:
    shown, place = item.shown, item.place
    try:
        if place is None:
            raise FileAway(shown.reason)
        path = path_of(library, place.sha256)
    except FileAway as away:
        raise Refusal(
            {"": f"“{shown.file_name}” of pass {item.number} cannot be copied. {away}".strip()}
        ) from None
    setting = options.blends.get(item.pass_id, {}).get(shown.print_id)
    nudge = 0.0 if setting is None else setting.nudge_samples
    blend_turned = options.right_polarity and turned.get(item.pass_id, False)
    if shown.print_id is None:
        print_rate, polarity = place.target_rate, shown.polarity
    else:
        figures = _figures_of(sheet, shown.print_id)
        print_rate = figures.file.sample_rate
        polarity = "unclear" if figures.alignment is None else figures.alignment.polarity
    return CopyOrder(
        path=str(path),
        name=name,
        delay_samples=place.delay_samples - nudge * print_rate / place.target_rate,
        drift_ppm=place.drift_ppm,
        target_rate=place.target_rate,
        length_s=place.length_s if options.trim_to_source else None,
        pass_number=item.number,
        polarity=polarity,
        rights=options.right_polarity and setting is None,
        inverted=setting is not None and setting.inverted != blend_turned,
        fader_db=None if setting is None else setting.gain_db,
        description=f"{sheet.project_title} / {sheet.source_name} / pass {sheet.number} / "
        f"{DRY if shown.print_id is None else shown.label or shown.file_name}: {sheet.settings_in_words}",
        settings="the source itself" if shown.print_id is None else sheet.settings_in_words,
        reference=f"DIALBACK {place.sha256[:16]}",
        originated_at=sheet.created_at.astimezone().isoformat(timespec="seconds"),
        time_reference=time_reference,
        is_source=shown.print_id is None,
        moved=place.moved,
        astray=shown.astray,
    )


def _time_reference(library: Library, sha256: str) -> int | None:
    try:
        return read_time_reference(path_of(library, sha256))
    except FileAway:
        return None


def _figures_of(sheet: PassSheet, print_id: int | None) -> PrintFigures:
    figures = next(item.measured.figures for item in sheet.prints if item.print_id == print_id)
    assert figures is not None  # a print with a place is measured
    return figures


def _print_word(item: PlacedPrint, places: Sequence[PlacedPrint]) -> str:
    """The print's label; without one its number among the pass's prints, or nothing where it is the only one."""
    if item.shown.print_id is None:
        return DRY
    of_pass = [
        other.shown.print_id
        for other in places
        if other.pass_id == item.pass_id and other.shown.print_id is not None
    ]
    if item.shown.label or len(of_pass) == 1:
        return item.shown.label
    return f"print {of_pass.index(item.shown.print_id) + 1}"


def _words(sheet: PassSheet, artist: str, print_word: str, file_name: str) -> dict[str, str]:
    return {
        "project": sheet.project_title,
        "artist": artist,
        "source": sheet.source_name,
        "pass": str(sheet.number),
        "title": sheet.title,
        "print": print_word,
        "file": file_name.rsplit(".", 1)[0],
    }


def _run(orders: Sequence[CopyOrder], match_loudness: bool) -> Iterator[bytes]:
    """The zip's bytes from a process of its own, which ends when they are no longer wanted."""
    told = {"orders": [asdict(order) for order in orders], "match_loudness": match_loudness}
    try:
        yield from child_processes.made_by("app.desk.processes.copying", told, silent_for_s=SILENT_FOR_S)
    except child_processes.ChildRefused as refused:
        raise Refusal({"": str(refused)}) from None


def with_first(first: bytes, rest: Iterator[bytes]) -> Iterator[bytes]:
    yield first
    yield from rest
