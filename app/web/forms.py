"""Forms as they are sent, turned into the desk's entries."""

import re
from collections.abc import AsyncIterator
from dataclasses import fields
from typing import Annotated, Any, BinaryIO, TypeVar

from fastapi import Depends, Request
from starlette.datastructures import FormData, UploadFile
from starlette.exceptions import HTTPException

from app.desk.refusals import Refusal
from app.desk.wording import number_in

FIELDS_LIMIT = 10_000
_KEY = re.compile(r"[A-Za-z0-9-]{8,64}", re.ASCII)
FILES_LIMIT = 64

Entry = TypeVar("Entry")


async def _sent_form(request: Request) -> AsyncIterator[FormData]:
    """The form, its size known and allowed before any of it is read."""
    length = number_in(request.headers.get("content-length", ""))
    if length is None:
        raise HTTPException(411)
    if length > request.app.state.max_upload_bytes:
        raise HTTPException(413)
    async with request.form(max_fields=FIELDS_LIMIT, max_files=FILES_LIMIT) as form:
        yield form


SentForm = Annotated[FormData, Depends(_sent_form)]


def words(form: FormData, name: str) -> str:
    """A field's text, empty where it was not sent."""
    value = form.get(name, "")
    return value if isinstance(value, str) else ""


def key_of(form: FormData) -> str:
    """The key that a page made up for what it sends; one that no page would make up counts as none."""
    key = words(form, "key")
    return key if _KEY.fullmatch(key) else ""


def whole_number(form: FormData, name: str) -> int | None:
    return number_in(words(form, name))


def gather(sentences: dict[str, list[str]], refusal: Refusal) -> None:
    """Add a refusal's sentences to those of the files before it, each said once."""
    for field, sentence in refusal.sentences.items():
        said = sentences.setdefault(field, [])
        if sentence not in said:
            said.append(sentence)


def entry_from(form: FormData, kind: type[Entry], prefix: str = "") -> Entry:
    """A flat entry of strings: each of its fields is a form field of the same name behind `prefix`."""
    sent: dict[str, Any] = {field.name: words(form, prefix + field.name) for field in fields(kind)}  # type: ignore[arg-type]
    return kind(**sent)


def numbered(form: FormData, kind: type[Entry], name: str) -> tuple[Entry, ...]:
    """The rows of a form that are named `name`-0-field, `name`-1-field and so on, in the order of their numbers."""
    numbers = set()
    for key in form:
        start, _, rest = key.partition("-")
        number = number_in(rest.partition("-")[0])
        if start == name and number is not None:
            numbers.add(number)
    return tuple(entry_from(form, kind, f"{name}-{number}-") for number in sorted(numbers))


def changed_rows(rows: tuple[Entry, ...], do: str, new: Entry) -> tuple[Entry, ...] | None:
    """The rows after one of a form's row buttons ("add", "remove-2", "up-2", "down-2") or after a row was dragged to
    another's place ("at-2-0"); None for anything else."""
    action, _, numbers = do.partition("-")
    number, _, onto = numbers.partition("-") if action == "at" else (numbers, "", "")
    index, place = number_in(number), number_in(onto)
    changed = list(rows)
    if action == "add":
        changed.append(new)
    elif index is None or index >= len(changed):
        return None
    elif action == "remove":
        changed.pop(index)
    elif action in ("up", "down"):
        row = changed.pop(index)
        changed.insert(max(0, index - 1) if action == "up" else index + 1, row)
    elif action == "at" and place is not None:
        changed.insert(place, changed.pop(index))
    else:
        return None
    return tuple(changed)


def files(form: FormData, name: str) -> list[tuple[str, BinaryIO]]:
    """The files chosen in a field, (name, stream); an untouched field sends an unnamed one, which is left out."""
    chosen = [part for part in form.getlist(name) if isinstance(part, UploadFile)]
    return [(part.filename, part.file) for part in chosen if part.filename]
