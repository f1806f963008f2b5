"""The process that makes a reference signal: `python -m app.desk.processes.making_references`, told its plan, and the
source of its excerpt, answers with the WAV (`child_processes`). A process of its own, because it needs numpy."""

import io
from pathlib import Path
from typing import Any

from app.desk.child_processes import Out, carry_out
from app.signal.audio.reading import UnreadableAudio
from app.signal.reference.make import write_reference_signal
from app.signal.reference.plan import plan_from_json


def make(told: dict[str, Any], out: Out) -> None:
    source = None if told["source"] is None else Path(told["source"])
    made = io.BytesIO()
    write_reference_signal(made, plan_from_json(told["plan"]), source)
    out.write(made.getvalue())


if __name__ == "__main__":
    carry_out(make, UnreadableAudio, ValueError)
