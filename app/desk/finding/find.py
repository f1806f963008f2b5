"""Find: one box over everything written, and where the words were found."""

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Integer, TextualSelect, column, select, text
from sqlalchemy.orm import Session
from sqlmodel import col

from app.desk.measuring.findings import WORDS, Kind, kinds_meant
from app.library import Readable
from app.records import PLACES, WRITTEN, Gear, Pass, Project, SourceTrack, entry_of
from app.signal.figures import ALGORITHM_VERSION
from app.trade.gear_kinds import kind_word

MOST = 60
MOST_WORDS = 12
MOST_EXCERPTS = 6
TOKENS_BEFORE, TOKENS_SHOWN = 6, 16
_TOKEN = re.compile(r"[\w\u0300-\u036f]+")

SHORTEST_RANKED = 3
"""Two letters begin so many words that it says nothing how rare the word is; then the newest stand first."""
OF_ITS_GEAR = 0.5  # of a rank, which is the better the further it is below nothing
_GEAR_NAME, _LAYOUT_NAME = (
    next(place for place, written in enumerate(WRITTEN) if (written.noun, written.field) == named)
    for named in (("gear", "name"), ("control_layout", "gear_name"))
)

OWNERS = ("project", "source track", "gear", "pass")
# Of which of them an entry of the index may be a part, the first that is there; `row` stands for the id of the row
# that was written.
_OWNER_OF = (
    ("project", "project", "row"),
    ("source_track", "source track", "row"),
    ("gear", "gear", "row"),
    (
        "control",
        "gear",
        "(SELECT gear_id FROM control_layout JOIN control ON control_layout.id = layout_id WHERE control.id = row)",
    ),
    ("control_layout", "gear", "(SELECT gear_id FROM control_layout WHERE id = row)"),
    ("pass", "pass", "row"),
    ("setting", "pass", "(SELECT pass_id FROM chain_step WHERE id = row)"),
    ("mic_placement", "pass", "(SELECT pass_id FROM chain_step WHERE id = row)"),
    ("print", "pass", "(SELECT pass_id FROM print WHERE id = row)"),
    ("keeper_mark", "pass", "(SELECT pass_id FROM keeper_mark WHERE id = row)"),
    ("photo", "gear", "(SELECT gear_id FROM photo WHERE id = row)"),
    ("photo", "pass", "(SELECT pass_id FROM photo WHERE id = row)"),
    ("sound_level", "project", "(SELECT project_id FROM sound_level WHERE id = row)"),
    ("note", "pass", "(SELECT pass_id FROM note WHERE id = row)"),
    ("note", "project", "(SELECT project_id FROM note WHERE id = row)"),
    ("recall", "pass", "(SELECT pass_id FROM recall WHERE id = row)"),
    (
        "recall_try",
        "pass",
        "(SELECT pass_id FROM recall JOIN recall_try ON recall.id = recall_id WHERE recall_try.id = row)",
    ),
)


@dataclass(frozen=True)
class Excerpt:
    """Where the words were found, cut to their neighbourhood: (text, is one of the words sought)."""

    where: str
    parts: tuple[tuple[str, bool], ...]


@dataclass(frozen=True)
class Hit:
    """One project, source, piece of gear or pass that holds all the words, in one place or another."""

    noun: str
    row_id: int
    title: str
    context: str
    excerpts: tuple[Excerpt, ...]


Owner = tuple[str, int]
FORMER_NAME = next(written.label for written in WRITTEN if written.noun == "control_layout")


def find(library: Readable, query: str) -> list[Hit]:
    """The best hits first; an empty list for a query without words. Each word may be unfinished."""
    words = _words(query)
    if not words:
        return []
    with library.reading() as session:
        entries_of = _owners_of_all(session, words)
        written = _written(session, [entry for entries in entries_of.values() for entry in entries])
        described = _described(session, entries_of)
        found = _findings_meant(session, entries_of, words)
    sought = tuple(_plain(word) for word in words)
    return [
        Hit(*owner, *described[owner], (*_excerpts(entries, written, sought), *found.get(owner, ())))
        for owner, entries in entries_of.items()
        if owner in described
    ]


def passes_with_words(query: str) -> TextualSelect:
    """The ids of the passes that hold all the words; of all passes, where there are none."""
    words = _words(query)
    if not words:
        return text('SELECT id FROM "pass"').columns(column("id", Integer))
    passes = text(
        f"SELECT owner / {len(OWNERS)} FROM ({_owners(words)}) WHERE owner % {len(OWNERS)} = {OWNERS.index('pass')} "
        f"GROUP BY owner HAVING {_all_of(words)}"
    )
    return passes.bindparams(**_sought(words)).columns(column("id", Integer))


def _words(query: str) -> list[str]:
    return list(dict.fromkeys(re.findall(r"\w+", query)))[:MOST_WORDS]


def _sought(words: list[str]) -> dict[str, str]:
    return {f"word{number}": f'"{word}"*' for number, word in enumerate(words)}


def _owners(words: list[str]) -> str:
    """SQL for every index entry that holds one of the words, and what it is a part of; for every pass in whose chain gear
    of such a name stands; and for every pass one of whose prints has a finding that is called so."""
    entries = " UNION ALL ".join(
        f"SELECT {number} AS word, rowid AS entry, {'rank' if len(word) >= SHORTEST_RANKED else '0.0'} AS score "
        f"FROM written_words WHERE written_words MATCH :word{number}"
        for number, word in enumerate(words)
    )
    written = (
        f"SELECT word, entry, score, {_OWNER} AS owner FROM "
        f"(SELECT word, entry, score, entry / {PLACES} AS row, entry % {PLACES} AS place FROM ({entries}))"
    )
    return " UNION ALL ".join(
        [
            written,
            _in_chains(entries),
            *(
                _with_finding(number, kinds)
                for number, word in enumerate(words)
                if (kinds := kinds_meant(word))
            ),
        ]
    )


def _all_of(words: list[str]) -> str:
    return " AND ".join(f"max(word = {number})" for number in range(len(words)))


def _in_chains(entries: str) -> str:
    """Passes by the names of their gear, today's and those they were logged with. Less is said of a pass by them than by
    what was written of it."""
    return " UNION ALL ".join(
        f"SELECT word, entry, score * {OF_ITS_GEAR}, pass_id * {len(OWNERS)} + {OWNERS.index('pass')} "
        f"FROM ({entries}) JOIN chain_step ON chain_step.{column} = entry / {PLACES} WHERE entry % {PLACES} = {place}"
        for column, place in (("gear_id", _GEAR_NAME), ("layout_id", _LAYOUT_NAME))
    )


def _with_finding(number: int, kinds: Iterable[Kind]) -> str:
    listed = ", ".join(f"'{kind}'" for kind in kinds)
    return (
        f"SELECT {number}, NULL, 0.0, pass_id * {len(OWNERS)} + {OWNERS.index('pass')} FROM ({_FINDINGS}) "
        f"WHERE kind IN ({listed})"
    )


_FINDINGS = (
    "SELECT print.pass_id, measured_finding.kind FROM measured_finding "
    "JOIN measurement ON measurement.id = measured_finding.measurement_id "
    "JOIN print ON print.file_id = measurement.file_id JOIN pass ON pass.id = print.pass_id "
    "JOIN source_track ON source_track.id = pass.source_id AND source_track.file_id IS measurement.source_file_id "
    f"WHERE measurement.algorithm_version = {ALGORITHM_VERSION} "
    "UNION ALL SELECT print.pass_id, 'twin' FROM print "
    "JOIN print AS other ON other.file_id = print.file_id AND other.pass_id <> print.pass_id "
    "UNION ALL SELECT print.pass_id, 'placed' FROM print WHERE print.delay_by_hand_samples IS NOT NULL "
    "UNION ALL SELECT print.pass_id, 'twin' FROM print JOIN pass ON pass.id = print.pass_id "
    "JOIN source_track ON source_track.id = pass.source_id AND source_track.file_id = print.file_id"
)
"""Passes, and the kinds of what was found about their prints."""


def _owners_of_all(session: Session, words: list[str]) -> dict[Owner, list[int]]:
    """What holds every one of the words, best first, each with the index entries where they stand."""
    found = session.execute(
        text(
            f"SELECT owner, min(score), group_concat(entry) FROM ({_owners(words)}) "
            f"GROUP BY owner HAVING owner IS NOT NULL AND {_all_of(words)} "
            f"ORDER BY min(score), owner DESC LIMIT {MOST}"
        ),
        _sought(words),
    )
    return {
        (OWNERS[code % len(OWNERS)], code // len(OWNERS)): sorted(
            {int(entry) for entry in (together or "").split(",") if entry}, key=lambda entry: entry % PLACES
        )[:MOST_EXCERPTS]
        for code, _, together in found
    }


def _owner_sql() -> str:
    """An owner as one number: its id and, as the remainder, its place in OWNERS."""
    cases = []
    for noun in dict.fromkeys(written.noun for written in WRITTEN):
        places = ", ".join(str(place) for place, written in enumerate(WRITTEN) if written.noun == noun)
        ways = [
            f"{row} * {len(OWNERS)} + {OWNERS.index(owner)}" for of, owner, row in _OWNER_OF if of == noun
        ]
        # coalesce asks for two at least
        cases.append(f"WHEN place IN ({places}) THEN coalesce({', '.join(ways)}, NULL)")
    return f"CASE {' '.join(cases)} END"


_OWNER = _owner_sql()


def _findings_meant(
    session: Session, owners: Iterable[Owner], words: list[str]
) -> dict[Owner, tuple[Excerpt, ...]]:
    """What was found about the prints of these passes that one of the words can mean."""
    kinds = {kind for word in words for kind in kinds_meant(word)}
    passes = ", ".join(str(row_id) for noun, row_id in owners if noun == "pass")
    found: dict[Owner, tuple[Excerpt, ...]] = {}
    if not kinds or not passes:
        return found
    rows = session.execute(
        text(f"SELECT DISTINCT pass_id, kind FROM ({_FINDINGS}) WHERE pass_id IN ({passes})")
    )
    for pass_id, kind in rows:
        if kind in kinds:
            excerpt = Excerpt("finding of a print", ((WORDS[kind][0], True),))
            found["pass", pass_id] = (*found.get(("pass", pass_id), ()), excerpt)
    return found


def _written(session: Session, entries: Iterable[int]) -> dict[int, str]:
    listed = ", ".join(str(entry) for entry in entries)
    rows = session.execute(text(f"SELECT rowid, words FROM written_words WHERE rowid IN ({listed})"))
    return {row.rowid: row.words for row in rows}


def _described(session: Session, owners: Iterable[Owner]) -> dict[Owner, tuple[str, str]]:
    """A title and its context for each."""
    ids: dict[str, list[int]] = {noun: [] for noun in OWNERS}
    for noun, row_id in owners:
        ids[noun].append(row_id)
    of_pass = (
        select(col(Pass.id), col(Pass.number), col(Pass.title), col(SourceTrack.name), col(Project.title))
        .join(SourceTrack, col(Pass.source_id) == col(SourceTrack.id))
        .join(Project, col(SourceTrack.project_id) == col(Project.id))
    )
    of_source = select(col(SourceTrack.id), col(SourceTrack.name), col(Project.title)).join(Project)
    of_project = select(col(Project.id), col(Project.title), col(Project.artist))
    of_gear = select(col(Gear.id), col(Gear.name), col(Gear.kind))

    def rows(query: Any, table: type, noun: str) -> Any:
        return session.execute(query.where(col(table.id).in_(ids[noun]))) if ids[noun] else ()  # type: ignore[attr-defined]

    described: dict[Owner, tuple[str, str]] = {}
    for row_id, number, title, source, project in rows(of_pass, Pass, "pass"):
        name = f"Pass {number}" + (f": {title}" if title else "")
        described["pass", row_id] = (name, f"{source}, {project}")
    for noun, table, query in (
        ("source track", SourceTrack, of_source),
        ("project", Project, of_project),
        ("gear", Gear, of_gear),
    ):
        for row_id, title, context in rows(query, table, noun):
            described[noun, row_id] = (title, kind_word(context) if noun == "gear" else context)
    return described


def _excerpts(
    entries: Iterable[int], written: dict[int, str], sought: tuple[str, ...]
) -> tuple[Excerpt, ...]:
    made = dict.fromkeys(
        Excerpt(entry_of(entry)[0].label, _parts(written[entry], sought)) for entry in entries
    )
    today = {excerpt.parts for excerpt in made if excerpt.where == "gear"}
    return tuple(excerpt for excerpt in made if excerpt.where != FORMER_NAME or excerpt.parts not in today)


def _parts(words: str, sought: tuple[str, ...]) -> tuple[tuple[str, bool], ...]:
    plain = words.lower() if words.isascii() else None
    tokens = [
        (
            start,
            end,
            plain.startswith(sought, start) if plain else _plain(words[start:end]).startswith(sought),
        )
        for start, end in map(re.Match.span, _TOKEN.finditer(words))
    ]
    first = next((at for at, token in enumerate(tokens) if token[2]), 0)
    shown = tokens[max(0, first - TOKENS_BEFORE) :][:TOKENS_SHOWN]
    if not shown:
        return ((words[:200], False),)
    begin = 0 if shown[0] is tokens[0] else shown[0][0]
    end = len(words) if shown[-1] is tokens[-1] else shown[-1][1]
    parts: list[tuple[str, bool]] = [("…", False)] if begin else []
    at = begin
    for start, stop, is_sought in shown:
        if is_sought:
            parts += [(words[at:start], False), (words[start:stop], True)]
            at = stop
    parts += [(words[at:end], False), ("…" if end < len(words) else "", False)]
    return tuple(part for part in parts if part[0])


def _plain(word: str) -> str:
    """As the index compares words: without case and without diacritics."""
    if word.isascii():
        return word.lower()
    return "".join(
        char for char in unicodedata.normalize("NFD", word.casefold()) if not unicodedata.combining(char)
    )
