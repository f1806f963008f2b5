"""The `dialback` command. Every verb is thin: it calls one function of the house."""

import contextlib
import json
import logging
import signal
import socket
import sys
import tempfile
import threading
import webbrowser
from collections.abc import Iterator, Sequence
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING, Annotated, Any, NoReturn

import typer

if TYPE_CHECKING:
    from app.config import Settings
    from app.desk.files.check import CheckReport
    from app.library import Library

HOST = "127.0.0.1"
STOPPED_WITHIN_S = 3
EVERYWHERE = "0.0.0.0"

commands = typer.Typer(
    add_completion=False,
    no_args_is_help=False,
    pretty_exceptions_enable=False,
    help="The log sheet of a re-amp session. Without a command: start, and open the browser.",
)

LibraryOption = Annotated[
    Path | None,
    typer.Option("--library", metavar="DIR", help="The library folder; else the one in your data folder."),
]
PortOption = Annotated[
    int | None, typer.Option("--port", min=0, max=65535, help="Port on 127.0.0.1; 0 takes a free one.")
]
LanOption = Annotated[
    bool,
    typer.Option(
        "--lan", help="Also serve the local network, to phones that were paired and to nobody else."
    ),
]
NoBrowserOption = Annotated[bool, typer.Option("--no-browser", help="Do not open the browser.")]
JsonOption = Annotated[bool, typer.Option("--json", help="Print one JSON document instead of words.")]
SOURCE = typer.Option("--source", metavar="DI", help="The source track it was printed from.")


def main() -> None:
    logging.basicConfig(level=logging.INFO, format="%(name)s: %(message)s")
    for talkative in ("alembic", "watchfiles"):
        logging.getLogger(talkative).setLevel(logging.WARNING)
    try:
        commands()
    except Exception as error:
        words = str(error).strip() or type(error).__name__
        print(f"This could not be done, which is a fault of Dialback: {words}", file=sys.stderr)
        sys.exit(1)


@commands.callback(invoke_without_command=True)
def start(
    context: typer.Context,
    library: LibraryOption = None,
    port: PortOption = None,
    no_browser: NoBrowserOption = False,
    lan: LanOption = False,
) -> None:
    """Start on 127.0.0.1 and open the browser."""
    if context.invoked_subcommand is None:
        settings = _settings()
        _serve(library or settings.library, settings, port, open_browser=not no_browser, lan=lan)


@commands.command()
def demo(port: PortOption = None, no_browser: NoBrowserOption = False) -> None:
    """The same on a throw-away library that holds an invented session, with sound computed for it."""
    with tempfile.TemporaryDirectory(prefix="dialback-demo-", ignore_cleanup_errors=True) as folder:
        _serve(Path(folder), _settings(), port, open_browser=not no_browser, invented=True)


@commands.command()
def check(
    library: LibraryOption = None,
    tidy: Annotated[
        bool, typer.Option("--tidy", help="Also remove stored files that nothing refers to.")
    ] = False,
) -> None:
    """Read every file's hash and every row's links."""
    from app.desk.files.check import check_library
    from app.desk.files.check import tidy as tidy_library
    from app.library_errors import LibraryError, command

    folder = _there(library)
    try:
        report = check_library(folder)
    except LibraryError as error:
        _give_up(str(error))
    for problem in report.problems:
        print(problem, file=sys.stderr)
    if report.damage:
        _tell_of_damage(folder, report)
    elif report.problems:
        print(
            f"A full copy, where you have one, puts files back: {command('restore', folder, 'FOLDER', '--files')}"
        )
    for name in report.foreign:
        print(f"{name} is none of the library's files; it is left alone.")
    print(f"{report.files} files, {report.bytes / 1e6:.1f} MB, {_counted(len(report.problems), 'problem')}.")
    if report.unused and not tidy:
        print(
            f"{report.unused} files ({report.unused_bytes / 1e6:.1f} MB) are no longer used; --tidy removes "
            f"{report.unused - report.kept} of them. The others are known to a backup, or older than this database."
            if report.kept
            else f"{report.unused} files ({report.unused_bytes / 1e6:.1f} MB) are no longer used; --tidy removes them."
        )
    if tidy and not report.damage:
        with _opened(folder, alone="a check that is tidying up") as opened:
            print(f"{_counted(tidy_library(opened), 'unused file')} removed.")
    if report.problems:
        raise typer.Exit(1)


def _tell_of_damage(folder: Path, report: "CheckReport") -> None:
    from app.library_errors import command

    print("The database is damaged. What can still be read of it:")
    for table in report.tables:
        print(
            f"  {table.name}: {_counted(table.rows, 'row')}{f', then {table.trouble}' if table.trouble else ''}"
        )
    if not report.tables:
        print("  nothing, not even which tables there are")
    print("What to do next, with Dialback stopped:")
    print(f"  {command('restore', folder)}   lists the backups, says what each lacks, and puts one back")
    print(
        f"  {command('salvage', folder, '--anyway')}   makes a database of what can still be read, where no backup holds "
        "what you want"
    )


@commands.command()
def backup(
    library: LibraryOption = None,
    to: Annotated[
        Path | None,
        typer.Option(
            "--to",
            metavar="FOLDER",
            help="Copy everything there, files too; with a name that ends with .db the database alone.",
        ),
    ] = None,
    verify: Annotated[
        bool, typer.Option("--verify", help="Also read again what was copied there before.")
    ] = False,
) -> None:
    """A copy of the database in the backups folder; with --to FOLDER of everything. Also while the server runs."""
    from app.desk.safekeeping.full_copies import copy_everything

    with _opened(_there(library)) as opened:
        if to is None or to.suffix == ".db":
            print(opened.backup(to))
            return
        done = copy_everything(opened.folder, to, verify=verify)
        print(f"{done.database}")
        print(
            f"{done.new} new files, {done.last.files} in all ({done.last.bytes / 1e6:.1f} MB), each with the hash it is named by."
        )
        if done.elsewhere:
            print(
                f"{done.elsewhere} files that were left where they are lie outside of the library: they are not in it."
            )
        for name in done.damaged:
            print(
                f"files/{name[:2]}/{name} does not fit its name any more and was not copied.", file=sys.stderr
            )
        if done.missing:
            print(f"{done.missing} files that the database knows are not in the copy.", file=sys.stderr)
        if done.damaged or done.missing:
            raise typer.Exit(1)


@commands.command()
def restore(
    backup_name: Annotated[
        str | None,
        typer.Argument(
            metavar="[BACKUP]",
            help="A backup as the list names it, another copy of a database, or a folder with a full copy.",
            show_default=False,
        ),
    ] = None,
    library: LibraryOption = None,
    files: Annotated[
        bool,
        typer.Option(
            "--files", help="Of a full copy the files alone: those that are missing or damaged here."
        ),
    ] = False,
) -> None:
    """List the backups; with BACKUP, put that one back. What it takes the place of is put aside, never deleted."""
    from app.desk.safekeeping.restoring import bring_files, put_back
    from app.library_errors import LibraryError, command

    folder = library or _settings().library
    if backup_name is None:
        _list_backups(folder)
        return
    try:
        if files:
            brought, damaged = bring_files(folder, Path(backup_name))
            print(f"{_counted(brought, 'file')} put back.")
            _tell_of_damaged_copies(damaged)
            return
        done = put_back(folder, backup_name)
    except LibraryError as error:
        _give_up(str(error))
    from app.desk.safekeeping.holdings import in_words

    print(f"Put back: {done.source} ({in_words(done.holdings)}).")
    if done.brought:
        print(f"{_counted(done.brought, 'file')} came with it.")
    if done.aside is not None:
        from app import database_file

        aside = done.aside.relative_to(folder)
        if (done.aside / database_file.NAME).exists():
            print(f"Put aside: the database that was in use, in {done.aside}.")
            print(f"To go back to it: {command('restore', folder, str(aside))}")
        else:
            print(f"Put aside: what lay beside the lost database, in {done.aside}.")
    if done.missing:
        print(
            f"{done.missing} files that it knows are not in files/. “{command('check', folder)}” names them.",
            file=sys.stderr,
        )
    _tell_of_damaged_copies(done.damaged)
    if done.missing:
        raise typer.Exit(1)


def _tell_of_damaged_copies(damaged: Sequence[str]) -> None:
    for name in damaged:
        print(f"{name} does not fit its name any more and was not taken over.", file=sys.stderr)
    if damaged:
        raise typer.Exit(1)


def _list_backups(folder: Path) -> None:
    from app.desk.safekeeping.backups import list_backups
    from app.desk.safekeeping.holdings import in_words, when
    from app.library import settle
    from app.library_errors import command

    if not folder.is_dir():
        _give_up(f"There is no library in {folder}. Name its folder with --library.")
    settle(folder)
    present, found = list_backups(folder)
    print(f"In use: {present.trouble if present.holdings is None else in_words(present.holdings)}.")
    for backup in found:
        print(f"\n{backup.name}")
        print(f"  {when(backup.made_at)}, {backup.kind}, {backup.bytes / 1e6:.1f} MB")
        if backup.holdings is None:
            print(f"  cannot be put back: {backup.trouble}")
            continue
        print(f"  {in_words(backup.holdings)}")
        if backup.compared:
            print(f"  beside what is in use: {backup.compared}")
    if found:
        print(f"\nTo put one back, with Dialback stopped: {command('restore', folder, 'BACKUP')}")
    else:
        print("There are no backups here.")


@commands.command()
def salvage(
    bundles: Annotated[
        list[Path] | None,
        typer.Argument(
            metavar="[BUNDLE or DATABASE]...",
            help="Exported sessions: what they say is not guessed. Or a damaged database that was put aside.",
        ),
    ] = None,
    library: LibraryOption = None,
    anyway: Annotated[bool, typer.Option("--anyway", help="Also where a backup could be put back.")] = False,
) -> None:
    """Where no backup is left: make a database of a damaged one, of bundles, and of what the files themselves know."""
    from app.desk.safekeeping.salvaging import make_anew
    from app.library_errors import LibraryError, command

    settings = _settings()
    folder = library or settings.library
    if not folder.is_dir():
        _give_up(f"There is no library in {folder}. Name its folder with --library.")
    try:
        done = make_anew(folder, bundles or (), settings.max_upload_bytes, anyway=anyway)
    except LibraryError as error:
        _give_up(str(error))
    for table, count in done.rows.copied.items():
        print(
            f"  {table}: {_counted(count, 'row')}{', not all there were' if table in done.rows.hurt else ''}"
        )
    for title in done.bundles:
        print(f"Brought in: {title}.")
    print(
        f"Of files that nothing told of: {done.sources} as source tracks, {done.photos} as photos, {done.unknown} left alone. "
        "All are marked as salvaged."
    )
    if done.aside is not None:
        print(f"Put aside: the damaged database, in {done.aside}.")
    print(f"“{command('check', folder)}” says how the library stands now.")
    for refusal in done.refused:
        print(refusal, file=sys.stderr)
    if done.refused:
        raise typer.Exit(1)


@commands.command()
def measure(
    print_file: Annotated[Path, typer.Argument(metavar="PRINT", help="The audio file to measure.")],
    source: Annotated[Path | None, SOURCE] = None,
    as_json: JsonOption = False,
) -> None:
    """Loudness, peaks, bands and faults of a print; with --source also delay, polarity and what is missing."""
    from app.signal.figures import REFERENCES, to_json
    from app.signal.measure import measure_print

    with _audio_problems():
        figures = measure_print(print_file, source)
    if as_json:
        _print_json({**to_json(figures), "references": REFERENCES})
        return
    from app.desk.measuring.findings import find

    level, alignment = figures.level, figures.alignment
    print(
        f"{print_file.name}: {figures.file.duration_s:.2f} s, {figures.file.sample_rate} Hz, {figures.file.sample_format}"
    )
    print(f"loudness   {_figure(level.integrated_lufs, 'LUFS')}")
    print(f"true peak  {_figure(level.true_peak_dbtp, 'dBTP')}")
    if alignment is not None:
        print(f"delay      {_figure(alignment.delay_samples, 'samples')}")
        print(f"polarity   {alignment.polarity}")
        print(f"confidence {alignment.confidence:.2f}")
    for finding in find(figures):
        print(f"{finding.severity}: {finding.sentence}")


@commands.command()
def identify(
    print_file: Annotated[Path, typer.Argument(metavar="PRINT")],
    sources: Annotated[list[Path], typer.Argument(metavar="SOURCE...")],
    as_json: JsonOption = False,
) -> None:
    """Of which of these sources is this a print, or of none?"""
    from app.signal.alignment.identify import identify as identify_print
    from app.signal.figures import to_json

    with _audio_problems():
        found = identify_print(print_file, sources)
    if as_json:
        _print_json(to_json(found))
        return
    print(f"best: {found.best or 'none of them'}")
    for ranked in found.ranking:
        print(f"{ranked.score:.2f}  {ranked.source}")


@commands.command()
def match(
    original: Annotated[Path, typer.Argument(metavar="ORIGINAL")],
    recalled: Annotated[Path, typer.Argument(metavar="RECALLED")],
    source: Annotated[Path, SOURCE],
    as_json: JsonOption = False,
) -> None:
    """How close a recalled print comes to the original one of the same source."""
    from app.signal.comparison.match import match as match_prints
    from app.signal.figures import to_json

    with _audio_problems():
        figures = match_prints(original, recalled, source)
    if as_json:
        _print_json(to_json(figures))
        return
    print(f"verdict: {figures.verdict or 'none'}")
    for sentence in (*figures.findings, *figures.look_first, *figures.notes):
        print(sentence)


@commands.command(name="read-photo")
def read_panel_photo(
    photo: Annotated[Path, typer.Argument(metavar="PHOTO", help="The photo to read.")],
    panel: Annotated[
        Path,
        typer.Option(
            "--panel", metavar="PANEL.json", help="Photos of the panel in which its controls are marked."
        ),
    ],
    as_json: JsonOption = False,
) -> None:
    """Where the knobs, switches, lamps and faders of a panel stand in a photo of it."""
    from app.panels.picture import UnreadablePhoto, open_picture
    from app.panels.read import document_of, prepare, read_photo
    from app.panels.reference import UnusableReference, load_reference

    try:
        reference, picture = load_reference(panel), open_picture(photo)
        reading = read_photo(prepare(reference), picture)
    except (UnusableReference, UnreadablePhoto) as error:
        _give_up(str(error))
    except OSError as error:
        _give_up(f"{error.filename or 'A file'} cannot be read: {error.strerror}.")
    if as_json:
        _print_json(document_of(reading))
        return
    for control in reading.controls:
        if control.degrees is not None:
            stands = f"{control.degrees:.0f}° ± {control.sigma_degrees:.0f}°"
        else:
            stands = "not seen" if control.position is None else f"{control.position:g}"
        print(f"{control.key}: {stands}  {control.state}, {control.confidence:.0%} sure")
    for reason in reading.reasons:
        print(reason)


def _serve(
    folder: Path,
    settings: "Settings",
    port: int | None,
    *,
    open_browser: bool,
    invented: bool = False,
    lan: bool = False,
) -> None:
    import uvicorn

    from app.library import Library, sole_server
    from app.library_errors import LibraryError
    from app.web.app import create_app

    listening = _listen(settings.port if port is None else port, EVERYWHERE if lan else HOST)
    address = f"http://{HOST}:{listening.getsockname()[1]}"
    try:
        with contextlib.closing(listening), sole_server(folder, address):
            library = Library.open(folder)
            # An upload is spooled where it will stay: the system's own folder may be memory, or small.
            tempfile.tempdir = str(library.files.incoming)
            if invented:
                from app.demo.session import fill

                print("Inventing a session and its sound …")
                fill(library)
            print(f"Dialback is at {address}  (library: {folder}; stop with Ctrl-C)", flush=True)
            if open_browser:
                threading.Timer(0.3, webbrowser.open, [address]).start()
            app = create_app(library, settings, lan=lan)
            config = uvicorn.Config(
                app,
                log_level="warning",
                server_header=False,
                proxy_headers=False,  # nothing stands in between: who asks is whoever is connected
                timeout_graceful_shutdown=STOPPED_WITHIN_S,
            )

            class Server(uvicorn.Server):
                """Ends the streams that pages listen to before it waits for what is under way."""

                def handle_exit(self, sig: int, frame: FrameType | None) -> None:
                    app.state.board.close()
                    super().handle_exit(sig, frame)

            signal.signal(signal.SIGTERM, signal.default_int_handler)  # ends as by Ctrl-C, tidily
            try:
                Server(config).run(sockets=[listening])
            except KeyboardInterrupt:
                print("Stopped.")
            finally:
                away = library.trouble
                library.close()
                if not away and not invented:
                    _back_up_at_the_end(folder)
    except LibraryError as error:
        _give_up(str(error))


def _back_up_at_the_end(folder: Path) -> None:
    from app.desk.safekeeping.by_itself import back_up_by_itself
    from app.library_errors import LibraryError

    try:
        back_up_by_itself(folder)
    except (LibraryError, OSError) as error:
        print(error, file=sys.stderr)


def _settings() -> "Settings":
    from pydantic import ValidationError

    from app.config import Settings

    try:
        return Settings()
    except ValidationError as error:
        for fault in error.errors():
            name = f"DIALBACK_{'_'.join(map(str, fault['loc']))}".upper()
            print(f"{name} cannot be {fault['input']!r}: {fault['msg']}.", file=sys.stderr)
        raise typer.Exit(2) from None


def _listen(port: int, host: str = HOST) -> socket.socket:
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    if sys.platform != "win32":  # there it would let two servers share the port
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind((host, port))
        listening.listen()  # from here on a browser that is quicker than the server waits instead of being refused
    except OSError as error:
        listening.close()
        _give_up(
            f"Port {port} of {host} cannot be used ({error.strerror}). Choose another with --port, or 0 for any."
        )
    return listening


def _there(folder: Path | None) -> Path:
    """The library's folder; gives up where there is no library in it."""
    from app.library import refuse_if_lost, settle
    from app.library_errors import LibraryError

    folder = folder or _settings().library
    try:
        settle(folder)
        if not (folder / "dialback.db").exists():
            refuse_if_lost(folder)
            _give_up(f"There is no library in {folder}. Name its folder with --library.")
    except LibraryError as error:
        _give_up(str(error))
    return folder


@contextlib.contextmanager
def _opened(folder: Path, alone: str = "") -> Iterator["Library"]:
    """`alone` is what it is opened for where nobody may serve it meanwhile."""
    from app.library import Library, sole_server
    from app.library_errors import LibraryError, LibraryInUse

    with contextlib.ExitStack() as held:
        try:
            try:
                with sole_server(folder, alone or "a backup"):
                    library = held.enter_context(contextlib.closing(Library.open(folder)))
                    if alone:
                        yield library
                        return
            except LibraryInUse:
                if alone:
                    raise
                library = held.enter_context(contextlib.closing(Library.open_beside_server(folder)))
            yield library
        except LibraryError as error:
            _give_up(str(error))


@contextlib.contextmanager
def _audio_problems() -> Iterator[None]:
    from app.signal.audio.reading import UnreadableAudio

    try:
        yield
    except UnreadableAudio as error:
        _give_up(str(error))
    except OSError as error:
        _give_up(f"{error.filename or 'A file'} cannot be read: {error.strerror}.")


def _print_json(document: dict[str, Any]) -> None:
    print(json.dumps(document, allow_nan=False))  # in ASCII: a terminal may know no other letters


def _counted(count: int, noun: str) -> str:
    return f"{count} {noun}{'' if count == 1 else 's'}"


def _figure(value: float | None, unit: str) -> str:
    return "not known" if value is None else f"{value:.2f} {unit}"


def _give_up(sentence: str) -> NoReturn:
    print(sentence, file=sys.stderr)
    raise typer.Exit(1)
