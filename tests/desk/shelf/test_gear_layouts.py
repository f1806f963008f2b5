"""The shelf. Editing a piece of gear never changes what an old pass says."""

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from small_session import AMP_CONTROLS, AMP_READINGS, SmallSession, bring_in, put_on_shelf, step_of, turned

from app.desk.passes import passes
from app.desk.passes.ledger import build_ledger
from app.desk.passes.pass_sheets import PassSheet, read_pass, read_passes_of_source
from app.desk.passes.passes import PassEntry
from app.desk.projects import projects
from app.desk.projects.projects import ProjectEntry
from app.desk.refusals import EditedMeanwhile, NotThere, Refusal
from app.desk.shelf import gear
from app.desk.shelf.control_entries import ControlEntry
from app.desk.shelf.gear import GearEntry
from app.library import Library
from app.trade.starting_layouts import STARTING_LAYOUTS


def logged_with(library: Library, gear_id: int, readings: dict[str, str]) -> int:
    """A pass with this one piece of gear in its chain."""
    project = projects.create_project(library, ProjectEntry("Boathouse"))
    source = bring_in(library, project, "bass")
    return passes.log_pass(library, source, PassEntry(steps=(step_of(library, gear_id, readings),)))


def said(sheet: PassSheet) -> list[tuple[str, str, float | None]]:
    return [(line.name, line.reading, line.position) for step in sheet.steps for line in step.settings]


def edited(library: Library, gear_id: int, *controls: ControlEntry, name: str | None = None) -> None:
    entry = gear.gear_entry(library, gear_id)
    gear.edit_gear(library, gear_id, replace(entry, controls=controls, name=name or entry.name))


def controls_of(library: Library, gear_id: int) -> tuple[ControlEntry, ...]:
    return gear.gear_entry(library, gear_id).controls


@pytest.fixture
def amp(library: Library) -> int:
    return put_on_shelf(library, "valve combo", "amp", *AMP_CONTROLS)


def test_an_old_pass_says_the_same_after_every_kind_of_edit(library: Library, amp: int) -> None:
    number = logged_with(library, amp, AMP_READINGS)
    before = read_pass(library, number)
    first, *rest = controls_of(library, amp)
    edited(library, amp, replace(first, name="Drive"), *rest, name="another name")
    edited(
        library,
        amp,
        *controls_of(library, amp),
        ControlEntry(name="Standby", form="switch", positions="a, b"),
    )
    edited(
        library,
        amp,
        *(replace(c, low="1", high="12") if c.name == "Drive" else c for c in controls_of(library, amp)),
    )
    edited(
        library,
        amp,
        *(
            replace(c, travel_start="8:00", travel_end="4:00") if c.scale != "marks" else c
            for c in controls_of(library, amp)
        ),
    )
    edited(library, amp, *controls_of(library, amp)[::-1])
    edited(library, amp)
    after = read_pass(library, number)
    assert after.steps == before.steps
    assert after.steps[0].gear_name == "valve combo"
    assert gear.read_gear(library, amp).versions[-1].passes == 1


def test_a_version_that_no_pass_has_used_is_changed_itself(library: Library, amp: int) -> None:
    edited(library, amp, *controls_of(library, amp)[:3])
    edited(library, amp, *controls_of(library, amp)[:2])
    (version,) = gear.read_gear(library, amp).versions
    assert version.version == 1
    assert [control.spec.name for control in version.controls] == ["Gain", "Tone"]


def test_a_used_version_is_followed_by_one_new_one_however_often_it_is_edited(
    library: Library, amp: int
) -> None:
    logged_with(library, amp, {})
    for count in (4, 3, 2):
        edited(library, amp, *controls_of(library, amp)[:count])
    assert [(v.version, v.passes, len(v.controls)) for v in gear.read_gear(library, amp).versions] == [
        (2, 0, 2),
        (1, 1, 10),
    ]


def test_saving_unchanged_makes_no_version(library: Library, amp: int) -> None:
    logged_with(library, amp, {})
    gear.edit_gear(library, amp, gear.gear_entry(library, amp))
    gear.edit_gear(library, amp, replace(gear.gear_entry(library, amp), notes="bought in rain"))
    sheet = gear.read_gear(library, amp)
    assert len(sheet.versions) == 1
    assert sheet.notes == "bought in rain"


@pytest.mark.parametrize("layout", STARTING_LAYOUTS, ids=lambda layout: layout.key)
def test_a_starting_layout_comes_back_from_its_form_unchanged(library: Library, layout: object) -> None:
    entry = gear.starting_entry(layout.key)  # type: ignore[attr-defined]
    gear_id = gear.add_gear(library, entry)
    kept = tuple(control.spec for control in gear.read_gear(library, gear_id).newest.controls)
    assert kept == layout.controls  # type: ignore[attr-defined]


ends = st.floats(-1e6, 1e6).map(lambda value: float(f"{value:.6g}"))
places = st.lists(st.integers(0, 600), min_size=2, max_size=8, unique=True).map(sorted)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    low=ends, high=ends, at=places, on_fader=st.booleans(), start=st.integers(0, 59), sweep=st.integers(2, 11)
)
def test_a_form_saved_unchanged_changes_no_scale(
    library: Library, low: float, high: float, at: list[int], on_fader: bool, start: int, sweep: int
) -> None:
    percents = ", ".join(f"{number} at {place / 6:.4f} %" for number, place in enumerate(at))
    form = "fader" if on_fader else "knob"
    travel = {"travel_start": f"7:{start:02d}", "travel_end": f"{(7 + sweep) % 12 or 12}:{start:02d}"}
    entry = GearEntry(
        "pedal",
        "pedal",
        "",
        (
            ControlEntry(name="range", low=f"{low:.10g}", high=f"{high:.10g}", **travel),
            ControlEntry(name="marks", form=form, scale="marks", unit="ms", marks=percents, **travel),
        ),
    )
    try:
        gear_id = gear.add_gear(library, entry)
    except Refusal:
        return  # two ends alike, or marks too near to each other
    before = gear.read_gear(library, gear_id).newest
    gear.edit_gear(library, gear_id, gear.gear_entry(library, gear_id))
    assert gear.read_gear(library, gear_id).newest.controls == before.controls


def test_a_pass_being_written_down_meanwhile_is_logged_on_the_right_knobs(library: Library, amp: int) -> None:
    """The form was opened, then the gear was edited in another tab before any pass had used it."""
    project = projects.create_project(library, ProjectEntry("Boathouse"))
    source = bring_in(library, project, "bass")
    opened = PassEntry(steps=(step_of(library, amp, {"Gain": "6", "Mix": "40 %"}),))
    gain, tone, mix, *rest = controls_of(library, amp)
    edited(library, amp, ControlEntry(name="Sag"), mix, replace(gain, name="Drive"), *rest)
    logged = read_pass(library, passes.log_pass(library, source, opened))
    assert {name: reading for name, reading, _ in said(logged) if reading} == {"Drive": "6", "Mix": "40 %"}
    assert tone.name not in {name for name, _, _ in said(logged)}


def test_settings_carry_over_to_the_new_layout_by_control(library: Library, amp: int) -> None:
    number = logged_with(library, amp, AMP_READINGS)
    source = read_pass(library, number).source_id
    changed = [
        replace(control, name="Drive") if control.name == "Gain" else control
        for control in controls_of(library, amp)
        if control.name != "Remark"
    ]
    edited(library, amp, *reversed(changed), ControlEntry(name="Sag"))
    carried = passes.entry_for_next(library, source)
    following = read_pass(library, passes.log_pass(library, source, carried))
    readings = {name: reading for name, reading, _ in said(following)}
    assert readings["Drive"] == "6.5"
    assert readings["Sag"] == ""
    expected = {name: text for name, text in AMP_READINGS.items() if name not in ("Gain", "Remark")}
    assert {name: readings[name] for name in expected} == expected
    assert following.steps[0].layout_version == 2


def test_a_control_whose_scale_changed_carries_its_position(library: Library, amp: int) -> None:
    number = logged_with(library, amp, {"Gain": "5"})
    source = read_pass(library, number).source_id
    edited(
        library,
        amp,
        *(replace(c, low="1", high="12") if c.name == "Gain" else c for c in controls_of(library, amp)),
    )
    following = read_pass(library, passes.log_pass(library, source, passes.entry_for_next(library, source)))
    gain = next(line for line in following.steps[0].settings if line.name == "Gain")
    assert gain.position == pytest.approx(0.5)
    assert gain.reading == "6.5"


def test_a_renamed_knob_is_still_one_row_of_the_ledger(library: Library, amp: int) -> None:
    number = logged_with(library, amp, {"Gain": "5"})
    source = read_pass(library, number).source_id
    edited(
        library,
        amp,
        *(replace(c, name="Drive") if c.name == "Gain" else c for c in controls_of(library, amp)),
    )
    passes.log_pass(library, source, turned(library, passes.entry_for_next(library, source), amp, Drive="7"))
    ledger = build_ledger(read_passes_of_source(library, source))
    row = next(row for row in ledger.gear[0].rows if row.label == "Drive")
    assert [cell.reading for cell in row.cells] == ["5 (Gain)", "7"]
    assert [cell.change for cell in row.cells] == ["first", "changed"]
    assert "Gain" not in {row.label for row in ledger.gear[0].rows}


def test_two_rows_of_one_key_become_two_controls(library: Library, amp: int) -> None:
    first, second, *_ = controls_of(library, amp)
    edited(library, amp, first, replace(second, key=first.key))
    kept = gear.read_gear(library, amp).newest.controls
    assert [control.spec.name for control in kept] == ["Gain", "Tone"]
    assert kept[0].key != kept[1].key


def test_retired_gear_leaves_the_shelf_and_stays_in_the_log(filled: Library, session: SmallSession) -> None:
    gear.retire_gear(filled, session.fuzz, retired=True)
    assert [line.name for line in gear.list_gear(filled)][-2:] == ["silicon fuzz", "sold chorus"]
    assert any(step.gear_id == session.fuzz for step in read_pass(filled, session.passes[0]).steps)
    gear.retire_gear(filled, session.fuzz, retired=False)
    assert not gear.read_gear(filled, session.fuzz).is_retired


def test_the_shelf_stands_in_the_order_of_the_kinds(filled: Library) -> None:
    shelf = gear.list_gear(filled)
    assert [line.name for line in shelf] == [
        "15-watt valve combo",
        "1×12 cabinet",
        "silicon fuzz",
        "small ribbon microphone",
        "re-amp box",
        "spare DI box",
        "eight-in interface",
        "sold chorus",
    ]
    assert gear.uses_of_gear(filled)[shelf[0].gear_id] == gear.GearUse(controls=10, passes=3)


def test_only_gear_that_no_pass_has_used_can_be_deleted(filled: Library, session: SmallSession) -> None:
    with pytest.raises(Refusal, match="stands in 3 logged passes"):
        gear.delete_gear(filled, session.amp)
    gear.delete_gear(filled, session.unused)
    with pytest.raises(NotThere):
        gear.read_gear(filled, session.unused)


@pytest.mark.parametrize(
    ("control", "field"),
    [
        (ControlEntry(name=""), "name"),
        (ControlEntry(name="x" * 100), "name"),
        (ControlEntry(name="x" * 10_000), "name"),
        (ControlEntry(name="a", form="wheel"), "form"),
        (ControlEntry(name="a", scale="furlongs"), "scale"),
        (ControlEntry(name="a", low="1", high="1"), "scale"),
        (ControlEntry(name="a", low=""), "low"),
        (ControlEntry(name="a", high="loud"), "high"),
        (ControlEntry(name="a", high="nan"), "high"),
        (ControlEntry(name="a", high="1e400"), "high"),
        (ControlEntry(name="a", travel_start="yesterday"), "travel_start"),
        (ControlEntry(name="a", travel_start="5:00", travel_end="5:00"), "travel_start"),
        (ControlEntry(name="a", scale="marks", marks="20 at 7:00"), "scale"),
        (ControlEntry(name="a", scale="marks", marks="20, 30, 40"), "marks"),
        (ControlEntry(name="a", scale="marks", marks="20 at 7:00, 10 at noon, 30 at 5:00"), "scale"),
        (ControlEntry(name="a", form="selector", positions="only"), "positions"),
        (ControlEntry(name="a", form="switch", positions="on, On"), "name"),
        (ControlEntry(name="a", form="switch", positions=", ".join(map(str, range(200)))), "name"),
        (ControlEntry(name="a", form="fader", scale="clock"), "name"),
        (ControlEntry(name="a", form="number", unit="miles per hour"), "name"),
    ],
    ids=lambda value: str(value)[:60],
)
def test_a_control_that_cannot_be_is_refused_at_its_field(
    library: Library, control: ControlEntry, field: str
) -> None:
    with pytest.raises(Refusal) as refused:
        gear.add_gear(library, GearEntry("pedal", "pedal", "", (ControlEntry(name="fine"), control)))
    assert set(refused.value.sentences) == {f"controls-1-{field}"}
    assert gear.list_gear(library) == []


def test_too_many_controls_are_refused(library: Library) -> None:
    many = tuple(ControlEntry(name=f"knob {number}") for number in range(gear.CONTROLS_LIMIT + 1))
    with pytest.raises(Refusal, match="at most 200"):
        gear.add_gear(library, GearEntry("wall of knobs", "other", "", many))
    gear.add_gear(library, GearEntry("wall of knobs", "other", "", many[:-1]))


def test_gear_edited_in_two_tabs_keeps_the_first_and_says_so_to_the_second(
    library: Library, amp: int
) -> None:
    first_tab, second_tab = gear.gear_entry(library, amp), gear.gear_entry(library, amp)
    gear.edit_gear(library, amp, replace(first_tab, notes="new valves"))
    with pytest.raises(EditedMeanwhile) as told:
        gear.edit_gear(library, amp, replace(second_tab, name="combo"))
    assert gear.read_gear(library, amp).notes == "new valves"
    gear.edit_gear(library, amp, replace(second_tab, name="combo", seen=str(told.value.saved)))
    assert gear.read_gear(library, amp).name == "combo"
