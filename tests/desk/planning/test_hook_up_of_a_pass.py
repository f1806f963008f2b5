from dataclasses import replace

import pytest
from small_session import SmallSession, put_on_shelf, step_of

from app.desk.passes import passes
from app.desk.passes.pass_sheets import read_pass
from app.desk.passes.passes import PassEntry
from app.desk.planning import hook_up
from app.desk.planning.hook_up import devices_of, entry_of, read_hook_up
from app.desk.planning.pass_drawings import draw_signal_flow
from app.desk.refusals import Refusal
from app.desk.shelf.control_entries import ControlEntry
from app.desk.shelf.ports import edit_ports, know_facts, ports_entry
from app.library import Library


def test_a_saved_plan_is_read_back_as_it_was_typed(filled: Library, session: SmallSession) -> None:
    first = session.passes[0]
    typed = entry_of(read_hook_up(filled, first))
    cable = replace(typed.links[0], length="6.5")
    hook_up.save_plan(filled, first, replace(typed, route="insert", links=(cable, *typed.links[1:])))
    kept = read_hook_up(filled, first)
    assert kept.is_saved
    assert (kept.plan.route, kept.plan.links[0].length_m) == ("insert", 6.5)


def test_a_cable_with_one_end_is_refused_at_its_field(filled: Library, session: SmallSession) -> None:
    typed = entry_of(read_hook_up(filled, session.passes[0]))
    with pytest.raises(Refusal) as refused:
        hook_up.save_plan(
            filled,
            session.passes[0],
            replace(typed, links=(replace(typed.links[0], target=""),)),
        )
    assert list(refused.value.sentences) == ["links-0-target"]


def test_wiring_anew_forgets_the_cables_and_keeps_the_route(filled: Library, session: SmallSession) -> None:
    first = session.passes[0]
    suggested = read_hook_up(filled, first).plan.links
    hook_up.save_plan(filled, first, replace(entry_of(read_hook_up(filled, first)), route="insert", links=()))
    assert read_hook_up(filled, first).plan.links == ()
    hook_up.wire_anew(filled, first)
    anew = read_hook_up(filled, first).plan
    assert (anew.links, anew.route) == (suggested, "insert")


def with_a_finding(library: Library, session: SmallSession) -> int:
    """A pass whose amp feeds no speaker."""
    amp = put_on_shelf(library, "small valve head", "amp")
    steps = tuple(step_of(library, gear_id) for gear_id in (session.interface, session.box, amp))
    return passes.log_pass(library, session.bass, PassEntry(steps=steps))


def test_a_dismissed_finding_keeps_its_reason_until_it_is_taken_back(
    filled: Library, session: SmallSession
) -> None:
    first = with_a_finding(filled, session)
    found = read_hook_up(filled, first).findings[0].key
    with pytest.raises(Refusal):
        hook_up.dismiss(filled, first, found, " ")
    hook_up.dismiss(filled, first, found, "It is a short cable.")

    def reason() -> str | None:
        return next(item.reason for item in read_hook_up(filled, first).findings if item.key == found)

    assert reason() == "It is a short cable."
    hook_up.save_plan(filled, first, entry_of(read_hook_up(filled, first)))
    assert reason() == "It is a short cable.", "saving the plan keeps what was dismissed"
    hook_up.take_dismissal_back(filled, first, found)
    assert reason() is None


def test_what_was_never_found_cannot_be_dismissed(filled: Library, session: SmallSession) -> None:
    with pytest.raises(Refusal, match="not among the findings"):
        hook_up.dismiss(filled, session.passes[0], "no such rule", "Because.")


def test_a_switch_counts_by_what_it_does_whatever_it_is_called(
    filled: Library, session: SmallSession
) -> None:
    box = put_on_shelf(
        filled,
        "second re-amp box",
        "reamp_box",
        ControlEntry(name="Turn over", form="switch", positions="0°, 180°", job="polarity"),
        ControlEntry(name="Cut the screen", form="switch", positions="joined, lifted", job="ground_lift"),
    )
    step = step_of(filled, box, {"Turn over": "180°", "Cut the screen": "lifted"})
    made = passes.log_pass(filled, session.bass, PassEntry(steps=(step,)))
    (device,) = devices_of(read_pass(filled, made))
    assert device.inverts
    assert device.ground_lifted


@pytest.mark.parametrize("channels", [1, 2])
def test_the_drawing_takes_each_microphone_where_its_cable_goes(
    filled: Library, session: SmallSession, channels: int
) -> None:
    preamp = put_on_shelf(filled, "valve preamp", "preamp")
    other = put_on_shelf(filled, "small dynamic", "microphone")
    know_facts(filled, session.amp, own_speaker=True)
    if channels == 2:
        entry = ports_entry(filled, preamp)
        second = tuple(replace(port, key="", label=f"{port.label} 2") for port in entry.ports)
        edit_ports(filled, preamp, replace(entry, ports=(*entry.ports, *second)))
    chain = (session.interface, session.box, session.fuzz, session.amp, session.near_mic, other, preamp)
    made = passes.log_pass(
        filled, session.bass, PassEntry(steps=tuple(step_of(filled, gear_id) for gear_id in chain))
    )
    plan = read_hook_up(filled, made)
    taken = [joint.target.name for joint in plan.hook_up.joints() if joint.source.kind == "microphone"]
    assert taken == ["valve preamp", "eight-in interface" if channels == 1 else "valve preamp"]
    preamps = [joint for joint in plan.hook_up.joints() if joint.source.name == "valve preamp"]
    assert len({joint.link.target for joint in preamps}) == channels
    drawn = {
        1: "in parallel (small ribbon microphone into valve preamp | small dynamic), then New track",
        2: "in parallel (small ribbon microphone | small dynamic), then valve preamp, then New track",
    }
    assert drawn[channels] in draw_signal_flow(plan, width=1080).finding
