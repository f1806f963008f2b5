"""What the knobs do here: which passes count, what they tell, and when they tell nothing.

The passes' figures are made, so that what each control does is known: over its travel the treble adds 8 dB from 2 kHz
up, the gain 10 dB to all bands.
"""

from dataclasses import replace

import pytest
from small_session import attach, bring_in, correct, figures, measured, put_on_shelf, step_of, tone, turned

from app.desk.passes import passes
from app.desk.passes.passes import PassEntry
from app.desk.passes.placements import PlacementEntry
from app.desk.prints import prints
from app.desk.prints.repeats import mark_repeat
from app.desk.projects import projects, sources
from app.desk.projects.projects import ProjectEntry
from app.desk.recall.knobs import explained, read_knobs
from app.desk.shelf import gear
from app.desk.shelf.control_entries import ControlEntry
from app.library import Library
from app.signal.figures import BandDifference, BandLevel, MatchFigures, PrintFigures

TREBLE_DB, GAIN_DB = 8.0, 10.0
SETTINGS = ((0.2, 0.3), (0.8, 0.3), (0.5, 0.7), (0.2, 0.9), (0.9, 0.6), (0.4, 0.2), (0.7, 0.8))


def printed(treble: float, gain: float, *, seed: int = 0) -> PrintFigures:
    """As the model would print it, each band a little off by chance."""
    plain = figures(aligned=True)
    bands = tuple(
        BandLevel(
            band.nominal_hz,
            band.mid_hz,
            (band.level_dbfs or 0.0)
            + GAIN_DB * gain
            + (TREBLE_DB * treble if band.mid_hz > 1900 else 0.0)
            + 0.1 * (((seed + 1) * (at + 3) * 7919) % 5 - 2),
        )
        for at, band in enumerate(plain.bands)
    )
    return replace(plain, bands=bands, level=replace(plain.level, integrated_lufs=-30.0 + GAIN_DB * gain))


class Rig:
    """A source, an amp with three knobs and a switch, a microphone."""

    def __init__(self, library: Library) -> None:
        self.library = library
        self.amp = put_on_shelf(
            library,
            "combo",
            "amp",
            *(ControlEntry(name=name) for name in ("Treble", "Gain", "Reverb")),
            ControlEntry(name="Voice", form="selector", positions="one, two, three"),
        )
        self.mic = put_on_shelf(library, "microphone", "microphone")
        project = projects.create_project(library, ProjectEntry("Boathouse"))
        self.source = bring_in(library, project, "bass", tone(0.5))
        measured(library, figures(aligned=False))

    def log(self, treble: float, gain: float, *, voice: str = "one", distance: str = "30") -> int:
        entry = PassEntry(
            steps=(
                step_of(
                    self.library,
                    self.amp,
                    {"Treble": f"{10 * treble:g}", "Gain": f"{10 * gain:g}", "Reverb": "0", "Voice": voice},
                ),
                replace(step_of(self.library, self.mic), placement=PlacementEntry(distance=distance)),
            )
        )
        pass_id = passes.log_pass(self.library, self.source, entry)
        attach(self.library, pass_id, tone(0.5, hz=300 + pass_id), f"{pass_id}.wav")
        measured(self.library, printed(treble, gain, seed=pass_id))
        return pass_id


@pytest.fixture
def rig(library: Library) -> Rig:
    return Rig(library)


def test_each_knob_is_told_with_its_uncertainty(library: Library, rig: Rig) -> None:
    pass_ids = [rig.log(*settings) for settings in SETTINGS]
    knobs = read_knobs(library, pass_ids[0])
    assert [other.pass_id for other in knobs.heard] == pass_ids
    known = {knobs.name(effect.control): effect for effect in knobs.effects.known}
    assert set(known) == {"combo, Treble", "combo, Gain"}
    treble = known["combo, Treble"]
    high, low = (
        [
            band
            for mid, band in zip(knobs.mids_hz, treble.bands, strict=True)
            if band and (mid > 1900) == is_high
        ]
        for is_high in (True, False)
    )
    assert all(abs(band.db - TREBLE_DB) < max(1.0, band.plus_minus_db) for band in high)
    assert all(abs(band.db) < 1.0 for band in low)
    gain = known["combo, Gain"]
    assert gain.level.db == pytest.approx(GAIN_DB, abs=0.5)
    assert knobs.readings(gain) == ("2.0", "9.0")


def test_what_stood_still_is_said_to_be_unknown(library: Library, rig: Rig) -> None:
    pass_ids = [rig.log(*settings) for settings in SETTINGS]
    knobs = read_knobs(library, pass_ids[0])
    said = {
        knobs.name(control): entry.reason for entry in knobs.effects.not_enough for control in entry.controls
    }
    assert said == {"combo, Reverb": "Not enough data: it stood still in every pass."}


def test_two_passes_are_not_enough(library: Library, rig: Rig) -> None:
    pass_ids = [rig.log(*settings) for settings in SETTINGS[:2]]
    knobs = read_knobs(library, pass_ids[0])
    assert knobs.effects.known == ()
    assert any("Not enough data" in entry.reason for entry in knobs.effects.not_enough)


def test_two_passes_that_differ_in_one_control_are_a_pair_with_their_difference(
    library: Library, rig: Rig
) -> None:
    first, second = rig.log(0.2, 0.3), rig.log(0.8, 0.3)
    (turn,) = read_knobs(library, first).turns
    assert (turn.name, turn.was, turn.stands) == ("combo, Treble", "2", "8")
    assert (turn.before.pass_id, turn.after.pass_id) == (first, second)
    assert turn.level_db == pytest.approx(0.0)
    assert turn.tone.startswith("2–5 kHz +4.")


def test_pairs_stay_when_many_passes_tell_together(library: Library, rig: Rig) -> None:
    pass_ids = [rig.log(*settings) for settings in (*SETTINGS, (0.7, 0.3))]
    knobs = read_knobs(library, pass_ids[0])
    assert knobs.effects.known
    assert [(turn.name, turn.before.number, turn.after.number) for turn in knobs.turns] == [
        ("combo, Gain", 1, 4),
        ("combo, Gain", 7, 8),
        ("combo, Treble", 1, 2),
        ("combo, Treble", 2, 8),
    ]


def test_a_pair_is_told_of_what_no_line_could_be_drawn_through(library: Library, rig: Rig) -> None:
    first = rig.log(0.5, 0.5)
    rig.log(0.5, 0.5, voice="two")
    knobs = read_knobs(library, first)
    assert [(turn.name, turn.was, turn.stands) for turn in knobs.turns] == [("combo, Voice", "one", "two")]
    assert len(knobs.heard) == 1


def test_a_pair_differs_in_nothing_else(library: Library, rig: Rig) -> None:
    first = rig.log(0.5, 0.5)
    rig.log(0.6, 0.6)
    rig.log(0.7, 0.5, distance="90")
    assert read_knobs(library, first).turns == ()


def test_a_control_that_was_not_noted_may_have_stood_anywhere(library: Library, rig: Rig) -> None:
    first = rig.log(0.5, 0.5)
    rig.log(0.5, 0.7)
    correct(library, first, turned(library, passes.entry_of(library, first), rig.amp, Reverb=""))
    assert read_knobs(library, first).turns == ()


def test_passes_that_differ_in_something_else_are_left_out_and_said(library: Library, rig: Rig) -> None:
    first = rig.log(0.5, 0.5)
    others = [rig.log(0.5, 0.5, voice="two"), rig.log(0.5, 0.5, distance="90")]
    entry = passes.without_step(passes.entry_for_next(library, rig.source), 1)
    others.append(passes.log_pass(library, rig.source, entry))
    knobs = read_knobs(library, first)
    assert [other.pass_id for other in knobs.heard] == [first]
    assert {one.pass_id: one.why for one in knobs.left_out} == {
        others[0]: "combo, Voice was not the same, and has no travel to reckon with",
        others[1]: "microphone stood elsewhere",
        others[2]: "another chain",
    }


def test_a_pass_without_a_print_tells_nothing(library: Library, rig: Rig) -> None:
    first = rig.log(0.5, 0.5)
    bare = passes.log_pass(library, rig.source, passes.entry_for_next(library, rig.source))
    assert read_knobs(library, bare).item is None
    assert [one.why for one in read_knobs(library, first).left_out] == ["no such print that was measured"]


def test_passes_of_another_source_are_not_heard(library: Library, rig: Rig) -> None:
    first = rig.log(0.5, 0.5)
    project_id = sources.read_source(library, rig.source).project_id
    other = bring_in(library, project_id, "organ", tone(0.5, hz=330))
    measured(library, figures(aligned=False))
    pass_id = passes.log_pass(library, other, passes.entry_for_next(library, rig.source))
    attach(library, pass_id, tone(0.5, hz=331))
    measured(library, printed(0.9, 0.9))
    assert [one.pass_id for one in read_knobs(library, first).heard] == [first]


def matched(*, treble: float, level_db: float = 0.0) -> MatchFigures:
    """A recall whose treble stood elsewhere by this share of its travel."""
    bands = tuple(
        BandDifference(1000 * 10 ** (x / 10), TREBLE_DB * treble if x >= 3 else 0.0) for x in range(-10, 11)
    )
    return MatchFigures("close", level_db, 0.0, "same", -20.0, bands, (), crest_difference_db=0.0)


def test_a_recall_that_is_off_is_explained_by_the_control_that_would_do_it(
    library: Library, rig: Rig
) -> None:
    pass_ids = [rig.log(*settings) for settings in SETTINGS]
    said = explained(read_knobs(library, pass_ids[2]), matched(treble=0.3), None)
    assert said.startswith("It sounds as if combo, Treble stood at ")
    assert "instead of 5.0" in said
    assert "as far as passes 1, 2, 3, 4, 5, 6 and 7 through this chain tell" in said
    at = float(said.split("stood at ")[1].split(" ")[0])
    assert at == pytest.approx(8.0, abs=0.4)


@pytest.mark.parametrize(
    "found",
    [matched(treble=0.05), matched(treble=0.0, level_db=-6.0), matched(treble=-0.9)],
    ids=["too small", "beyond the end of the gain's travel", "beyond the end of the treble's travel"],
)
def test_what_no_knob_would_do_is_explained_by_none(library: Library, rig: Rig, found: MatchFigures) -> None:
    pass_ids = [rig.log(*settings) for settings in SETTINGS]
    assert explained(read_knobs(library, pass_ids[0]), found, None) == ""


def test_without_data_nothing_is_explained(library: Library, rig: Rig) -> None:
    first = rig.log(0.5, 0.5)
    assert explained(read_knobs(library, first), matched(treble=0.3), None) == ""


def test_the_same_print_again_counts_once(library: Library, rig: Rig) -> None:

    first = rig.log(0.5, 0.5)
    again = attach(library, first, tone(0.5, hz=999), "again.wav")
    measured(library, printed(0.5, 0.5, seed=5))
    mark_repeat(library, again, prints.read_print(library, read_knobs(library, first).item.print_id).id)  # type: ignore[union-attr]
    assert len(read_knobs(library, first).heard) == 1


def test_a_turned_knob_of_a_later_layout_still_counts(library: Library, rig: Rig) -> None:

    first = rig.log(0.5, 0.5)
    entry = gear.gear_entry(library, rig.amp)
    gear.edit_gear(library, rig.amp, replace(entry, name="combo, recapped"))
    second = passes.log_pass(
        library,
        rig.source,
        turned(library, passes.entry_for_next(library, rig.source), rig.amp, Treble="9"),
    )
    attach(library, second, tone(0.5, hz=998), "later.wav")
    measured(library, printed(0.9, 0.5))
    assert [other.pass_id for other in read_knobs(library, first).heard] == [first, second]
