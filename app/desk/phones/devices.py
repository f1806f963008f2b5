"""Phones that may use this library over the local network: pairing codes, and the devices that were paired.

A pairing code is good once and for five minutes; five wrong guesses close every open code. Of a device's token only a
hash is kept. Both stand in memory as well, so that a request is let in or not without asking the database.
"""

import hashlib
import hmac
import secrets
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import select
from sqlmodel import col

from app.desk import wording
from app.desk.refusals import Complaints
from app.desk.rows import row_of
from app.library import Library
from app.records import Device
from app.records.base import now

CODE_LIFE_S = 300.0
GUESSES = 5
SHORT_LETTERS = "ABCDEFGHJKMNPQRSTUVWXYZ23456789"  # none that is taken for another
SHORT_LENGTH = 8
SEEN_EVERY = timedelta(minutes=1)


@dataclass(frozen=True)
class PairingCode:
    """`long` is for the picture that is scanned, `short` to be typed; either pairs one device."""

    long: str
    short: str
    ends_at_s: float


@dataclass(frozen=True)
class DeviceLine:
    device_id: int
    name: str
    paired_at: datetime
    seen_at: datetime


class PairingCodes:
    """`clock` counts seconds and never goes back."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._lock = threading.Lock()
        self._open: list[PairingCode] = []
        self._wrong = 0

    def open(self) -> PairingCode:
        """A new code; those before it are closed."""
        short = "".join(secrets.choice(SHORT_LETTERS) for _ in range(SHORT_LENGTH))
        code = PairingCode(secrets.token_urlsafe(24), short, self._clock() + CODE_LIFE_S)
        with self._lock:
            self._open, self._wrong = [code], 0
        return code

    def is_open(self) -> bool:
        with self._lock:
            return bool(self._still_open())

    def knows(self, typed: str) -> bool:
        """Whether this is an open code, which stays open. A wrong one counts as a guess."""
        with self._lock:
            return self._found(typed) is not None

    def redeem(self, typed: str) -> bool:
        """Use a code up."""
        with self._lock:
            found = self._found(typed)
            if found is not None:
                self._open.remove(found)
            return found is not None

    def _still_open(self) -> list[PairingCode]:
        self._open = [code for code in self._open if self._clock() < code.ends_at_s]
        return self._open

    def _found(self, typed: str) -> PairingCode | None:
        given = typed.strip()
        plain = given.replace(" ", "").replace("-", "").upper()
        for code in self._still_open():
            if _same(given, code.long) or _same(plain, code.short):
                return code
        self._wrong += 1
        if self._wrong >= GUESSES:
            self._open = []
        return None


class PairedDevices:
    """The devices that may come in, known by their token's hash. What is known follows what was committed, so that a
    save which fails lets nobody in and shuts nobody out."""

    def __init__(self, library: Library) -> None:
        self._library = library
        self._lock = threading.Lock()
        with library.reading() as session:
            rows = session.scalars(select(Device).where(col(Device.revoked_at).is_(None)))
            self._known = {row.token_hash: (row.id, row.seen_at) for row in rows}

    def pair(self, name: str) -> str:
        """Returns the new device's token. Raises Refusal for a name that cannot be kept."""
        complaints = Complaints()
        kept = wording.line(complaints, "name", "The name", name or "phone")
        complaints.refuse_if_any()
        token = secrets.token_urlsafe(32)
        with self._library.writing() as session:
            row = Device(name=kept, token_hash=_hash(token))
            session.add(row)
            session.flush()
        with self._lock:
            self._known[row.token_hash] = (row.id, row.seen_at)
        return token

    def find(self, token: str) -> int | None:
        """The device with this token, if it may still come in."""
        key = _hash(token)
        with self._lock:
            known = self._known.get(key)
        if known is None:
            return None
        device_id, seen_at = known
        seen_now = now()
        if seen_now - seen_at > SEEN_EVERY:
            with self._library.writing() as session:
                session.get_one(Device, device_id).seen_at = seen_now
            with self._lock:
                if key not in self._known:
                    return None  # shut out meanwhile
                self._known[key] = (device_id, seen_now)
        return device_id

    def is_paired(self, device_id: int) -> bool:
        with self._lock:
            return any(known == device_id for known, _ in self._known.values())

    def list(self) -> list[DeviceLine]:
        with self._library.reading() as session:
            rows = session.scalars(
                select(Device).where(col(Device.revoked_at).is_(None)).order_by(col(Device.id))
            )
            return [DeviceLine(row.id, row.name, row.paired_at, row.seen_at) for row in rows]

    def rename(self, device_id: int, name: str) -> None:
        complaints = Complaints()
        kept = wording.line(complaints, f"name-{device_id}", "The name", name, required=True)
        complaints.refuse_if_any()
        with self._library.writing() as session:
            row = row_of(session, Device, device_id, "device")
            row.name = kept

    def revoke(self, device_id: int) -> None:
        """Shut a device out at once."""
        with self._library.writing() as session:
            row = row_of(session, Device, device_id, "device")
            row.revoked_at = now()
        with self._lock:
            self._known.pop(row.token_hash, None)


def _hash(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


def _same(one: str, other: str) -> bool:
    return hmac.compare_digest(one.encode(), other.encode())
