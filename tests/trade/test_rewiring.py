from dataclasses import replace

from app.trade.hook_up import Device, Link, PortRef
from app.trade.hook_up_plan import Plan, plan_from_json, plan_to_json, starting_plan
from app.trade.rewiring import pairs_of, rewired
from tests.trade.session_hook_ups import AMP, BOX, CABINET, CONDENSER, DI, FUZZ, INTERFACE, RIBBON

OLD = [INTERFACE, BOX, FUZZ, AMP, CABINET, RIBBON, INTERFACE]


def drawn_for(path: list[Device]) -> Plan:
    return replace(starting_plan([path])[0], pairs=pairs_of([path]))


def devices(path: list[Device]) -> list[Device]:
    return list({device.key: device for device in path}.values())


def ends(links: tuple[Link, ...]) -> set[tuple[str, str]]:
    return {(link.source.device, link.target.device) for link in links}


def test_the_chain_it_was_drawn_for_is_left_alone() -> None:
    plan = drawn_for(OLD)
    assert rewired(plan, devices(OLD), [OLD]) == (plan, None)


def test_gear_that_left_takes_its_cables_and_its_neighbours_are_joined() -> None:
    new = [INTERFACE, BOX, AMP, CABINET, RIBBON, INTERFACE]
    plan, changed = rewired(drawn_for(OLD), devices(new), [new])
    assert changed is not None
    assert ends(changed.gone) == {("box", "fuzz"), ("fuzz", "amp")}
    assert ends(changed.new) == {("box", "amp")}
    assert ends(plan.links) == set(pairs_of([new]))


def test_gear_that_came_parts_its_neighbours() -> None:
    plan, changed = rewired(drawn_for([INTERFACE, BOX, AMP, CABINET, RIBBON, INTERFACE]), devices(OLD), [OLD])
    assert changed is not None
    assert ends(changed.gone) == {("box", "amp")}
    assert ends(plan.links) == set(pairs_of([OLD]))


def test_what_was_drawn_by_hand_and_still_fits_stays_with_its_length() -> None:
    tuner = replace(FUZZ, key="tuner", name="tuner")
    through = Link(PortRef("di", "through"), PortRef("tuner", "in"), 2.5)
    old = [INTERFACE, BOX, DI, INTERFACE]
    plan = drawn_for(old)
    links = tuple(replace(link, length_m=4.0) for link in plan.links)
    plan = replace(plan, links=(*links, through))
    new = [INTERFACE, BOX, FUZZ, DI, INTERFACE]
    anew, changed = rewired(plan, [*devices(new), tuner], [new])
    assert changed is not None
    assert through in anew.links
    assert next(link for link in anew.links if link.source.device == "interface").length_m == 4.0
    assert ends(changed.gone) == {("box", "di")}


def test_a_cable_that_was_taken_out_by_hand_is_not_put_in_again() -> None:
    plan = drawn_for(OLD)
    bare = replace(plan, links=tuple(link for link in plan.links if link.target.device != "cabinet"))
    new = [*OLD[:-2], CONDENSER, INTERFACE]
    anew, _ = rewired(bare, devices(new), [new])
    assert ("amp", "cabinet") not in ends(anew.links)
    assert ("condenser", "interface") in ends(anew.links)


def test_a_plan_of_before_neighbours_were_kept_is_rewired_too() -> None:
    old = replace(drawn_for([INTERFACE, BOX, AMP, CABINET, RIBBON, INTERFACE]), pairs=None)
    assert rewired(old, devices(OLD), [[*OLD[:2], *OLD[3:]]])[1] is None
    plan, changed = rewired(old, devices(OLD), [OLD])
    assert changed is not None
    assert ends(plan.links) == set(pairs_of([OLD]))


def test_neighbours_survive_the_round_trip_through_json() -> None:
    plan = drawn_for(OLD)
    assert plan_from_json(plan_to_json(plan)) == plan
    assert plan_from_json(plan_to_json(replace(plan, pairs=None))).pairs is None
