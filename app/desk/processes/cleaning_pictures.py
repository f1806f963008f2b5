"""The process that decodes photos: `python -m app.desk.processes.cleaning_pictures`, told paths, one on each line.

It may take so much memory and no more, so that a picture that unpacks to gigabytes is refused here and nothing else on
the computer notices.
"""

import sys
from pathlib import Path

from app.desk import child_processes
from app.desk.child_processes import Out
from app.desk.files.pictures import UnusablePicture, clean_picture

MOST_MEMORY_BYTES = 2 << 30


def run(out: Out) -> None:
    while line := sys.stdin.buffer.readline():
        path = Path(line.decode().rstrip("\n"))
        try:
            picture = clean_picture(path)
        except UnusablePicture as unusable:
            out.say(refused=str(unusable))
            continue
        except OSError as error:
            out.say(refused=f"The file cannot be read ({error.strerror}).")
            continue
        out.answer(
            picture.shown + picture.thumbnail,
            width=picture.width,
            height=picture.height,
            shown=len(picture.shown),
            media_type=picture.media_type_found,
        )


if __name__ == "__main__":
    child_processes.keep_within(MOST_MEMORY_BYTES)
    run(Out(child_processes.own_output()))
