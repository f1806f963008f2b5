"""What was taken in from a page's queue, by the key that the page made up: sent again, it is answered as before and does
nothing."""

from datetime import timedelta
from typing import Any

from sqlalchemy import delete
from sqlalchemy.orm import Session
from sqlmodel import col

from app.records import ReceivedJotting
from app.records.base import now

RECEIPTS_KEPT = timedelta(days=30)


def answer_before(session: Session, key: str) -> dict[str, Any] | None:
    """What was answered to this key before; None the first time, and always without a key."""
    row = session.get(ReceivedJotting, key) if key else None
    return None if row is None else row.answer


def receive(session: Session, key: str, answer: dict[str, Any]) -> None:
    if key:
        session.execute(
            delete(ReceivedJotting).where(col(ReceivedJotting.received_at) < now() - RECEIPTS_KEPT)
        )
        session.add(ReceivedJotting(key=key, answer=answer))
