"""The process that makes a reference signal: `python -m app.desk.processes.making_references`, told its plan, and the source of its
excerpt, on its standard input, writes the WAV to its standard output. A process of its own, because it needs numpy."""

import io
import json
import sys
from pathlib import Path

from app.desk.listening.aligned_copies import REFUSED
from app.signal.audio.reading import UnreadableAudio
from app.signal.reference.make import write_reference_signal
from app.signal.reference.plan import plan_from_json


def main() -> int:
    told = json.load(sys.stdin)
    source = None if told["source"] is None else Path(told["source"])
    made = io.BytesIO()
    try:
        write_reference_signal(made, plan_from_json(told["plan"]), source)
    except (UnreadableAudio, ValueError) as refused:
        sys.stderr.write(str(refused))
        return REFUSED
    sys.stdout.buffer.write(made.getvalue())
    return 0


if __name__ == "__main__":
    sys.exit(main())
