"""A hook-up whose chain has changed since it was drawn: what no longer fits goes, what is new is wired, what was drawn by
hand and still fits stays."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from app.trade.hook_up import Device, Link, wire
from app.trade.hook_up_plan import Plan, main_outputs_of

Pair = tuple[str, str]


@dataclass(frozen=True)
class Rewiring:
    """What was changed: the cables that went, and those that are new."""

    gone: tuple[Link, ...]
    new: tuple[Link, ...]


def pairs_of(paths: Sequence[Sequence[Device]]) -> tuple[Pair, ...]:
    """Which pieces stand next to each other in the chain, each pair once."""
    return tuple(dict.fromkeys((one.key, other.key) for path in paths for one, other in pairwise(path)))


def rewired(
    plan: Plan, devices: Sequence[Device], paths: Sequence[Sequence[Device]]
) -> tuple[Plan, Rewiring | None]:
    """The plan for the chain as it stands now, and what that changed; None where the chain is the one it was drawn for.

    A cable between neighbours of the chain of then goes when they are neighbours no more. Any other was drawn by hand and
    stays as long as both its sockets are there. Where the person took a cable between neighbours out, none is put in.
    """
    now = pairs_of(paths)
    if plan.pairs is not None and set(plan.pairs) == set(now):
        return plan, None
    there = {device.key: device for device in devices}
    then = set(_pairs_of_then(plan, now, there))
    kept = tuple(
        link
        for link in plan.links
        if _is_there(link, there) and (_pair(link) in now or _pair(link) not in then)
    )
    main_outputs = plan.main_outputs
    if any(ref.device not in there for ref in main_outputs):
        main_outputs = tuple(main_outputs_of(devices))
    drawn = {_pair(link) for link in plan.links}
    taken_out = frozenset(pair for pair in now if pair in then and pair not in drawn)
    along = {pair: place for place, pair in enumerate(now)}
    wired = wire(paths, main_outputs, made=kept, without=taken_out).links
    links = tuple(sorted(wired, key=lambda link: along.get(_pair(link), len(along))))
    gone = tuple(link for link in plan.links if link not in kept)
    new = tuple(link for link in links if link not in kept)
    fitting = replace(
        plan,
        links=links,
        main_outputs=main_outputs,
        phantom_on=tuple(ref for ref in plan.phantom_on if ref.device in there),
        pairs=now,
    )
    return fitting, Rewiring(gone, new) if gone or new else None


def _pairs_of_then(plan: Plan, now: Sequence[Pair], there: dict[str, Device]) -> tuple[Pair, ...]:
    """The neighbours of the chain that the plan was drawn for. An old plan does not say them: then they are those of now
    that it has cables of both of, and any between which gear has come that it has no cable of."""
    if plan.pairs is not None:
        return plan.pairs
    linked = {key for link in plan.links for key in _pair(link)}
    known = [pair for pair in now if set(pair) <= linked]
    onward: dict[str, list[str]] = {}
    for one, other in now:
        onward.setdefault(one, []).append(other)

    def leads_through_new_gear(start: str, end: str) -> bool:
        ahead, seen = [key for key in onward.get(start, []) if key not in linked], set[str]()
        while ahead:
            key = ahead.pop()
            if key in seen:
                continue
            seen.add(key)
            if end in onward.get(key, []):
                return True
            ahead += [other for other in onward.get(key, []) if other not in linked]
        return False

    return (*known, *(pair for pair in map(_pair, plan.links) if leads_through_new_gear(*pair)))


def _pair(link: Link) -> Pair:
    return link.source.device, link.target.device


def _is_there(link: Link, there: dict[str, Device]) -> bool:
    return all(
        ref.device in there and there[ref.device].port(ref.port) is not None
        for ref in (link.source, link.target)
    )
