"""The settings ledger, built from passes that a person could have logged."""

from dataclasses import replace

import pytest
from small_session import SmallSession, bring_in, put_on_shelf, step_of

from app.desk.passes import passes
from app.desk.passes.ledger import Ledger, Row, build_ledger, tenths
from app.desk.passes.pass_sheets import read_passes_of_source
from app.desk.passes.passes import PassEntry
from app.desk.passes.placements import PlacementEntry
from app.desk.projects import projects
from app.desk.projects.projects import ProjectEntry
from app.desk.shelf import gear
from app.desk.shelf.control_entries import ControlEntry
from app.library import Library

KNOB = ControlEntry(name="Drive")
SWITCH = ControlEntry(name="Voice", form="selector", positions="low, middle, high")
NUMBER = ControlEntry(name="Time", form="number", unit="ms")
NOTE = ControlEntry(name="Remark", form="text")


@pytest.fixture
def source(library: Library) -> int:
    return bring_in(library, projects.create_project(library, ProjectEntry("Boathouse")), "bass")


def log(library: Library, source: int, *steps: tuple[int, dict[str, str]], branch: str = "") -> int:
    made = (step_of(library, gear_id, readings) for gear_id, readings in steps)
    entry = PassEntry(steps=tuple(replace(step, branch=branch) for step in made))
    return passes.log_pass(library, source, entry)


def ledger_of(library: Library, source: int) -> Ledger:
    return build_ledger(read_passes_of_source(library, source))


def row(ledger: Ledger, label: str) -> Row:
    (found,) = [row for rows in ledger.gear for row in rows.rows if row.label == label]
    return found


def changes(ledger: Ledger, label: str) -> list[str]:
    return [cell.change for cell in row(ledger, label).cells]


@pytest.mark.parametrize(
    ("typed", "expected"),
    [
        (["5", "5", "6"], ["first", "same", "changed"]),
        (["5", "noon", "50 %"], ["first", "same", "same"]),
        (["5", "", "5"], ["first", "unset", "same"]),
        (["5", "", "6"], ["first", "unset", "changed"]),
        (["", "5", "5"], ["unset", "first", "same"]),
        (["", "", ""], ["unset", "unset", "unset"]),
    ],
)
def test_a_cell_says_whether_the_knob_was_turned(
    library: Library, source: int, typed: list[str], expected: list[str]
) -> None:
    pedal = put_on_shelf(library, "silicon fuzz", "pedal", KNOB)
    for text in typed:
        log(library, source, (pedal, {"Drive": text}))
    ledger = ledger_of(library, source)
    assert changes(ledger, "Drive") == expected
    assert [cell.reading for cell in row(ledger, "Drive").cells] == typed


@pytest.mark.parametrize(
    ("control", "typed", "expected"),
    [
        (SWITCH, ["low", "1", "high", "3"], ["first", "same", "changed", "same"]),
        (NUMBER, ["120 ms", "120", "0.12 s", "121"], ["first", "same", "same", "changed"]),
        (NOTE, ["warm", "warm", "Warm"], ["first", "same", "changed"]),
    ],
    ids=["selector", "number", "text"],
)
def test_the_same_place_read_another_way_is_no_change(
    library: Library, source: int, control: ControlEntry, typed: list[str], expected: list[str]
) -> None:
    pedal = put_on_shelf(library, "silicon fuzz", "pedal", control)
    for text in typed:
        log(library, source, (pedal, {control.name: text}))
    assert changes(ledger_of(library, source), control.name) == expected


def test_a_switch_with_a_new_position_has_not_been_moved(library: Library, source: int) -> None:
    pedal = put_on_shelf(library, "silicon fuzz", "pedal", SWITCH)
    log(library, source, (pedal, {"Voice": "high"}))
    entry = gear.gear_entry(library, pedal)
    wider = replace(entry.controls[0], positions="low, middle, high, higher")
    gear.edit_gear(library, pedal, replace(entry, controls=(wider,)))
    log(library, source, (pedal, {"Voice": "high"}))
    log(library, source, (pedal, {"Voice": "higher"}))
    assert changes(ledger_of(library, source), "Voice") == ["first", "same", "changed"]


def test_gear_that_was_not_in_a_chain_is_absent_and_compared_across_the_gap(
    library: Library, source: int
) -> None:
    amp = put_on_shelf(library, "valve combo", "amp", KNOB)
    fuzz = put_on_shelf(library, "silicon fuzz", "pedal", ControlEntry(name="Fuzz"))
    log(library, source, (fuzz, {"Fuzz": "4"}), (amp, {"Drive": "5"}))
    log(library, source, (amp, {"Drive": "5"}))
    log(library, source, (fuzz, {"Fuzz": "4"}), (amp, {"Drive": "5"}))
    ledger = ledger_of(library, source)
    assert changes(ledger, "Fuzz") == ["first", "absent", "same"]
    assert row(ledger, "Fuzz").differs
    assert not row(ledger, "Drive").differs


def test_the_gear_of_all_passes_stands_in_one_order(library: Library, source: int) -> None:
    a, b, c, d = (put_on_shelf(library, name, "pedal") for name in "abcd")

    def order() -> list[str]:
        return [rows.name for rows in ledger_of(library, source).gear]

    log(library, source, (a, {}), (b, {}), (d, {}))
    assert order() == ["a", "b", "d"]
    log(library, source, (a, {}), (c, {}), (d, {}))
    assert order() == ["a", "b", "c", "d"]
    log(library, source, (d, {}), (a, {}))
    assert order()[:1] == ["d"], "the newest pass leads"
    assert sorted(order()) == ["a", "b", "c", "d"]


def test_branches_and_placements_are_rows_of_words(library: Library, source: int) -> None:
    mic = put_on_shelf(library, "small ribbon microphone", "microphone")

    def place(distance: str, branch: str) -> None:
        step = replace(step_of(library, mic), branch=branch, placement=PlacementEntry(distance=distance))
        passes.log_pass(library, source, PassEntry(steps=(step,)))

    for distance, branch in (("30", "A"), ("30", "B"), ("45", "B"), ("", "B")):
        place(distance, branch)
    ledger = ledger_of(library, source)
    assert changes(ledger, "branch") == ["first", "changed", "same", "same"]
    assert changes(ledger, "placement") == ["first", "same", "changed", "unset"]
    assert row(ledger, "placement").cells[2].reading == "45 mm from the grille"
    inches = build_ledger(read_passes_of_source(library, source), unit="in")
    assert row(inches, "placement").cells[0].reading == "1.18 in from the grille"


def test_what_differs_is_what_the_columns_do_not_all_say(library: Library, source: int) -> None:
    pedal = put_on_shelf(library, "silicon fuzz", "pedal", KNOB, SWITCH, NOTE, NUMBER)
    log(library, source, (pedal, {"Drive": "5", "Voice": "low", "Remark": ""}))
    log(library, source, (pedal, {"Drive": "noon", "Voice": "", "Remark": "", "Time": "9"}))
    ledger = ledger_of(library, source)
    assert {r.label: r.differs for r in ledger.gear[0].rows} == {
        "Drive": False,
        "Voice": True,
        "Remark": False,
        "Time": True,
    }


def test_measures_stand_under_their_pass_with_faults_in_words(filled: Library, session: SmallSession) -> None:
    ledger = ledger_of(filled, session.bass)
    measures = {measure.label: [cell.lines for cell in measure.cells] for measure in ledger.measures}
    assert measures["loudness"] == [("−18.3",), ("–",), ("…",)]
    assert measures["true peak"][0] == ("−3.2",)
    assert measures["delay"][0] == ("37.0",)
    assert measures["polarity"][0] == ("inverted",)
    faults = next(measure for measure in ledger.measures if measure.label == "findings").cells
    assert "clips in 2 places, first at 1:03" in faults[0].lines[0]
    assert "ends 4.2 s before the source" in faults[0].lines[0]
    assert faults[0].is_fault
    assert faults[1].lines == ("“odd.wav” could not be read.",)
    assert faults[1].is_fault
    assert faults[2].lines == ("being measured",)
    assert ledger.is_being_measured


def test_a_source_without_prints_has_no_row_of_measures(library: Library, source: int) -> None:
    log(library, source)
    assert ledger_of(library, source).measures == ()


def test_a_ledger_of_no_pass_is_empty(library: Library, source: int) -> None:
    ledger = ledger_of(library, source)
    assert (ledger.passes, ledger.gear, ledger.measures) == ((), (), ())


@pytest.mark.parametrize(
    ("value", "words"), [(-14.26, "−14.3"), (-0.04, "0.0"), (415.0, "415.0"), (None, "–")]
)
def test_a_figure_of_the_grid_has_a_tenth_and_nothing_has_no_minus(value: float | None, words: str) -> None:
    assert tenths(value) == words
