"""Typst, in a process of its own for each sheet: `python -m app.desk.processes.typesetting`.

What Typst has set once it keeps for next time, so inside the server it would grow with every sheet. The process runs
on one core at low priority, as everything does that a DAW beside it could notice.
"""

import json
from datetime import datetime
from pathlib import Path
from typing import Any

from app.desk import child_processes
from app.desk.child_processes import Out, carry_out
from app.desk.unbroken import unbroken

SILENT_FOR_S = 300.0
FOLDER = Path(__file__).parent / "typst"


def set_pdf(name: str, document: dict[str, Any], *, made_at: datetime, photos: Path) -> bytes:
    """Set `typst/name.typ` with `document` as its data. `photos` is the folder that its picture paths begin from."""
    order = {
        "name": name,
        "sheet": json.dumps(_unbroken(document)),
        "timestamp": int(made_at.timestamp()),
        "root": str(photos),
    }
    return b"".join(
        child_processes.made_by(
            "app.desk.processes.typesetting",
            order,
            silent_for_s=SILENT_FOR_S,
            environment={"RAYON_NUM_THREADS": "1"},
        )
    )


def _unbroken(part: Any) -> Any:
    """The data of a sheet with its figures and units joined. A drawing is no words: its paths need their spaces."""
    match part:
        case str():
            return part if part.startswith("<svg") else unbroken(part)
        case dict():
            return {name: _unbroken(each) for name, each in part.items()}
        case list() | tuple():
            return [_unbroken(each) for each in part]
        case _:
            return part


def _set(order: dict[str, Any]) -> bytes:
    import typst

    return typst.compile(
        b"\n".join((FOLDER / part).read_bytes() for part in ("common.typ", f"{order['name']}.typ")),
        root=order["root"],
        font_paths=[FOLDER / "fonts"],  # other scripts come from what the machine has
        format="pdf",
        sys_inputs={"sheet": order["sheet"]},
        timestamp=order["timestamp"],
    )


def _answer(order: dict[str, Any], out: Out) -> None:
    out.write(_set(order))


if __name__ == "__main__":
    carry_out(_answer)
