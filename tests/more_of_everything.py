"""The small session once more: of everything that a page lists, one more, where the page lists it."""

import io
from collections.abc import Iterable

from small_session import (
    SmallSession,
    attach,
    bring_in,
    figures,
    picture,
    print_reference,
    put_on_shelf,
    tone,
    try_again,
)

from app.desk.listening import blends, blind
from app.desk.measuring import measurements
from app.desk.passes import drafts, keepers, notes, passes
from app.desk.passes.pass_sheets import read_pass
from app.desk.photos import photos, pins
from app.desk.planning import hook_up
from app.desk.prints.repeats import mark_repeat
from app.desk.projects import ears, projects
from app.desk.projects.projects import ProjectEntry
from app.desk.recall import runs, tries
from app.desk.shelf import gear
from app.desk.shelf.control_entries import ControlEntry
from app.library import Library
from app.records import Arrival
from app.signal.figures import to_json


def add_more(library: Library, session: SmallSession, numbers: Iterable[int]) -> None:
    for number in numbers:
        _add(library, session, number)


def _add(library: Library, session: SmallSession, number: int) -> None:
    """`number` tells one time from another."""
    first = session.passes[0]
    pedal = put_on_shelf(library, f"pedal {number}", "pedal", ControlEntry(name="Depth", scale="clock"))
    layout = gear.gear_entry(library, session.unused)
    gear.edit_gear(
        library,
        session.unused,
        gear.GearEntry(layout.name, layout.kind, "", (*layout.controls, ControlEntry(name=f"Pad {number}"))),
    )
    photos.add_photo(library, "inside.jpg", shot(number), gear_id=session.fuzz)

    projects.create_project(library, ProjectEntry(f"Another {number}"))
    source = bring_in(library, session.project, f"line {number}", tone(0.1, hz=300 + number))
    chain = passes.with_gear(library, passes.entry_for_next(library, session.bass), pedal)
    logged = [passes.log_pass(library, owner, chain) for owner in (session.bass, session.bass, source)]
    with library.writing() as writing:
        longer = passes.with_gear(library, passes.entry_of(library, first), pedal)
        passes.write_edit(writing, first, longer, "mm")
    for at, pass_id in enumerate((*logged, first, first)):
        made = attach(library, pass_id, tone(0.1, hz=400 + 10 * number + at), f"again {number} {at}.wav")
    mark_repeat(library, made, session.prints[0])
    while (waiting := measurements.claim(library)) is not None:
        measurements.finish(library, waiting.id, to_json(figures(clipped=(1.0,))))

    for pass_id in (first, *logged):
        say_of(library, pass_id, number)
    notes.note_project(library, session.project, notes.NoteEntry(f"Said {number}."))
    ears.log_level(library, session.project, ears.LevelEntry("80", "5"))
    two = session.passes[:2]
    blind.reveal(library, blind.begin_blind(library, two), {"A": "warmer"}, {"A": "1"})
    test = blind.begin_test(library, *two, 8)
    for trial in range(8):
        blind.answer(library, test, trial, "A")
    drafts.add_gear(library, session.draft, f"more {number}", pedal)
    for pass_id in (session.passes[1], *logged):
        drafts.open_edit(library, pass_id)
    arrive(library, session, number)
    print_reference(library, session.project, first)
    printed = io.BytesIO(tone(0.1, hz=500 + number))
    tries.add_try(library, session.recall, f"try {number}.wav", printed, original_print_id=None)
    recall, _ = try_again(library, first)
    runs.mark(library, recall, {runs.LEVELS: True}, {runs.HOOK_UP: "another cable"})
    for step in read_pass(library, first).steps:
        runs.mark_step(library, recall, step.step_id, done=True)
    runs.finish(library, recall, "As good as it gets.")


def say_of(library: Library, pass_id: int, number: int) -> None:
    """All that can be said of a pass once it is logged."""
    keepers.mark_keeper(library, pass_id, part=f"part {number}", reason="It sits.")
    notes.note_pass(library, pass_id, notes.NoteEntry(f"Heard {number}."))
    tags = ", ".join(f"tag {each}" for each in range(number + 1))
    notes.rate_pass(library, pass_id, notes.RatingEntry("4", tags))
    photo = photos.add_photo(library, "shot.jpg", shot(100 + number), pass_id=pass_id)
    control = next(value for value, _ in pins.read_pins(library, photo).choices)
    pins.put_pin(library, photo, pins.PinEntry(control, "40", "50"))
    hook_up.save_plan(library, pass_id, hook_up.entry_of(hook_up.read_hook_up(library, pass_id)))
    lanes = (None, *(item.print_id for item in read_pass(library, pass_id).prints))
    blends.keep_blend(library, pass_id, dict.fromkeys(lanes, ("-1", "2", False)))


def arrive(library: Library, session: SmallSession, number: int) -> None:
    with library.writing() as writing:
        before = writing.get_one(Arrival, session.arrival)
        said = before.model_dump(exclude={"id", "path"})
        writing.add(Arrival(path=before.path.replace(".wav", f" {number}.wav"), **said))


def shot(shade: int) -> io.BytesIO:
    return io.BytesIO(picture(shade=shade))
