"""Which microphone or return each print is of: guessed when it comes in, asked where that is not sure, and said anew at
any time, from the pass, the ledger and the inbox alike."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import BinaryIO

from sqlalchemy import select
from sqlalchemy.orm import Session
from sqlmodel import col

from app.desk.files import audio_heads
from app.desk.passes.pass_sheets import PassSheet
from app.desk.passes.passes import find_pass, step_of_pass
from app.desk.prints import prints
from app.desk.refusals import Refusal
from app.library import Library
from app.records import ChainStep, ControlLayout, Print, Project, SourceTrack
from app.trade.gear_kinds import RETURN_KINDS
from app.trade.named_returns import Guess, PrintFile, Return, guess_returns

UNSAID = 0
"""No step's id: a print of nobody knows what leaves room for doubt as well."""


@dataclass(frozen=True)
class AskedPrint:
    """A print of which nobody said what it is of, and what it could be."""

    print_id: int
    guess: int | None


def returns_of(session: Session, pass_ids: Iterable[int]) -> dict[int, list[Return]]:
    """By pass what its prints can come back from, in chain order."""
    rows = session.execute(
        select(
            col(ChainStep.pass_id),
            col(ChainStep.id),
            col(ControlLayout.gear_name),
            col(ControlLayout.kind),
            col(ChainStep.gear_id),
        )
        .join(ControlLayout, col(ChainStep.layout_id) == col(ControlLayout.id))
        .where(col(ChainStep.pass_id).in_(list(pass_ids)), col(ControlLayout.kind).in_(RETURN_KINDS))
        .order_by(col(ChainStep.pass_id), col(ChainStep.position))
    )
    found: dict[int, list[Return]] = {}
    for pass_id, step_id, name, kind, gear_id in rows:
        found.setdefault(pass_id, []).append(Return(step_id, name, kind, gear_id))
    return found


def guess_of_pass(session: Session, pass_id: int, files: Sequence[PrintFile]) -> list[Guess | None]:
    """What files that come in at once are of."""
    row = find_pass(session, pass_id)
    source = session.get_one(SourceTrack, row.source_id)
    project = session.get_one(Project, source.project_id)
    taken = session.scalars(select(col(Print.step_id)).where(col(Print.pass_id) == pass_id)).all()
    returns = returns_of(session, [pass_id]).get(pass_id, [])
    return guess_returns(
        files, returns, taken={step or UNSAID for step in taken}, besides=f"{source.name} {project.title}"
    )


def step_of_gear(session: Session, pass_id: int, gear_id: int) -> int | None:
    """The step of a pass at which a piece of gear stands."""
    return session.scalar(
        select(col(ChainStep.id))
        .where(col(ChainStep.pass_id) == pass_id, col(ChainStep.gear_id) == gear_id)
        .limit(1)
    )


def asked_of(sheet: PassSheet) -> tuple[AskedPrint, ...]:
    """The prints of a pass that are of nobody knows what, where its chain has something to be of."""
    if not sheet.asks_microphone:
        return ()
    returns = [
        Return(step.step_id, step.gear_name, step.kind) for step in sheet.steps if step.kind in RETURN_KINDS
    ]
    unsaid = [item for item in sheet.prints if item.step_id is None]
    files = [
        PrintFile(item.file_name, 0 if item.measured.figures is None else item.measured.figures.file.channels)
        for item in unsaid
    ]
    taken = {item.step_id for item in sheet.prints if item.step_id is not None}
    guesses = guess_returns(files, returns, taken=taken, besides=f"{sheet.source_name} {sheet.project_title}")
    return tuple(
        AskedPrint(item.print_id, None if guess is None else guess.step_id)
        for item, guess in zip(unsaid, guesses, strict=True)
    )


def attach_prints(
    library: Library,
    pass_id: int,
    files: Sequence[tuple[str, BinaryIO]],
    *,
    step_id: int | None = None,
    label: str = "",
) -> dict[str, list[str]]:
    """Files attached at once, each of the microphone that its name and channels tell; one alone is of the one that was
    chosen. Those that are refused are named, by field, and the others kept."""
    heads = [audio_heads.read_open_head(stream) for _, stream in files]
    found = [
        PrintFile(name, 0 if head is None else head.channels)
        for (name, _), head in zip(files, heads, strict=True)
    ]
    with library.reading() as session:
        guesses = guess_of_pass(session, pass_id, found)
    refused: dict[str, list[str]] = {}
    for (name, stream), guess in zip(files, guesses, strict=True):
        told = guess.step_id if guess is not None and guess.is_sure else None
        of = step_id if len(files) == 1 and step_id is not None else told
        try:
            prints.attach_print(library, pass_id, name, stream, step_id=of, label=label)
        except Refusal as refusal:
            for field, sentence in refusal.sentences.items():
                if sentence not in refused.setdefault(field, []):
                    refused[field].append(sentence)
    return refused


def say_microphones(library: Library, pass_id: int, said: Mapping[int, int | None]) -> None:
    """By print the step that it is of, None for nobody knows. What a print was called after its microphone goes with
    it."""
    with library.writing() as session:
        find_pass(session, pass_id)
        names = {one.step_id: one.name for one in returns_of(session, [pass_id]).get(pass_id, [])}
        for item in session.scalars(
            select(Print).where(col(Print.pass_id) == pass_id, col(Print.id).in_(list(said)))
        ):
            before = item.step_id
            item.step_id = step_of_pass(session, pass_id, said[item.id])
            if before is not None and item.step_id != before and item.label == names.get(before):
                item.label = ""
