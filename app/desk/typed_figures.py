"""Figures as typed into a form: read, or complained about at their field."""

from collections.abc import Callable

from app.desk.refusals import Complaints
from app.trade.readings import UnknownReading, read_number
from app.trade.written_numbers import shortened

A_NUMBER = "a number such as 18, −10 or 2.5"


def read_figure(
    complaints: Complaints,
    at: str,
    text: str,
    read: Callable[[str], float | None] = read_number,
    *,
    what: str = "a number",
    wanted: str = A_NUMBER,
    required: bool = False,
) -> float | None:
    """The figure, None where nothing was typed or it cannot be kept; then it is said that
    this is not `what`, and to write `wanted`. `read` raises
    UnknownReading for what it cannot read, ValueError with a sentence for what cannot be."""
    try:
        value = read(text.strip())
    except UnknownReading:
        left_out = "" if required else ", or leave it empty"
        complaints.add(at, f"“{shortened(text)}” is not {what}. Write {wanted}{left_out}.")
        return None
    except ValueError as error:
        complaints.add(at, str(error))
        return None
    if value is None and required:
        complaints.add(at, f"This is empty. Write {wanted}.")
    return value
