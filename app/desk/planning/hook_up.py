"""Planning the hook-up of a pass: from its chain to cables, routing and the checks before anything is plugged in."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import groupby, product

from sqlalchemy.orm import Session
from sqlmodel import col

from app.desk import wording
from app.desk.passes.pass_sheets import PassSheet, StepSheet, read_pass, read_pass_sheets
from app.desk.passes.passes import find_pass, set_readings
from app.desk.refusals import Complaints, Refusal
from app.desk.shelf.ports import know_facts
from app.desk.typed_figures import read_figure
from app.library import Library, Readable
from app.records import HookUpPlan, Pass
from app.trade.checks import Finding, check
from app.trade.control_jobs import is_lifted, is_turned_over
from app.trade.gear_facts import FACT_LABELS, fact_in_words
from app.trade.gear_kinds import kind_of
from app.trade.hook_up import ConnectionRow, Device, HookUp, Link, PortRef, connection_list, socket_text
from app.trade.hook_up_plan import (
    Dismissal,
    Plan,
    plan_from_json,
    plan_to_json,
    read_ref,
    ref_text,
    starting_plan,
)
from app.trade.ports import with_own_speaker
from app.trade.rewiring import Rewiring, pairs_of, rewired
from app.trade.routes import ROUTE_KEYS, Route, route
from app.trade.said_sockets import SaidSetting, following, socket_job, to_be_said

LINKS_LIMIT = 120


@dataclass(frozen=True)
class LinkEntry:
    """One cable of the form as typed: ports as "device:port"."""

    source: str = ""
    target: str = ""
    length: str = ""


@dataclass(frozen=True)
class PlanEntry:
    """The hook-up form as typed."""

    route: str = "print"
    send_tap: str = "pre_fader"
    variants: tuple[str, ...] = ()
    links: tuple[LinkEntry, ...] = ()
    main_outputs: tuple[str, ...] = ()
    phantom_on: tuple[str, ...] = ()
    sound_levels: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class Socket:
    """A port as the form offers it."""

    ref: str
    words: str


@dataclass(frozen=True)
class CheckedFinding:
    """A finding under the key that a dismissal names; `reason` is why the person lets it stand, if so."""

    key: str
    finding: Finding
    reason: str | None


@dataclass(frozen=True)
class HookUpSheet:
    """A pass's hook-up. `is_saved` is false while it is only the starting plan; `gaps` says what could not be
    wired, `rewired` what a change of the chain changed of the plan that was saved."""

    sheet: PassSheet
    plan: Plan
    is_saved: bool
    hook_up: HookUp
    route: Route
    connections: tuple[ConnectionRow, ...]
    findings: tuple[CheckedFinding, ...]
    gaps: tuple[str, ...]
    rewired: str = ""

    @property
    def known_since(self) -> tuple[str, ...]:
        """What has become known of the gear since the pass was logged, and counts here."""
        return tuple(
            f"{step.gear_name}: {fact_in_words(name, getattr(step.facts, name))}"
            for step in self.sheet.steps
            for name in FACT_LABELS
            if name in step.known_since
        )

    @property
    def outputs(self) -> tuple[Socket, ...]:
        return _sockets(self.hook_up.devices, "out")

    @property
    def inputs(self) -> tuple[Socket, ...]:
        return _sockets(self.hook_up.devices, "in")

    @property
    def interface_outputs(self) -> tuple[Socket, ...]:
        interfaces = [device for device in self.hook_up.devices if device.kind == "interface"]
        return _sockets(interfaces, "out")

    @property
    def phantom_inputs(self) -> tuple[Socket, ...]:
        return tuple(
            Socket(ref_text(PortRef(device.key, port.key)), f"{device.name}, {port.label}")
            for device in self.hook_up.devices
            for port in device.ports
            if port.phantom == "supplies"
        )

    @property
    def microphones(self) -> tuple[Device, ...]:
        return tuple(device for device in self.hook_up.devices if device.kind == "microphone")


def read_hook_up(library: Readable, pass_id: int) -> HookUpSheet:
    return hook_up_as_kept(library, read_pass(library, pass_id))


def hook_up_as_kept(library: Readable, sheet: PassSheet) -> HookUpSheet:
    """The hook-up as it was saved with the pass, else the plan that its chain suggests."""
    with library.reading() as session:
        saved = _saved(session, sheet.pass_id)
    return hook_up_of(sheet, saved)


def hook_up_of(sheet: PassSheet, saved: Plan | None) -> HookUpSheet:
    """The hook-up of a pass, whatever shows it: its plan for the chain as it stands, at the sockets that its settings
    name."""
    devices = devices_of(sheet)
    paths = _paths(sheet.steps, devices)
    settings = _said_by(sheet)
    rewiring = None
    gaps: tuple[str, ...] = ()
    if saved is None:
        plan, gaps = starting_plan(paths)
        plan = following(replace(plan, pairs=pairs_of(paths)), devices, settings)
        sends = {link.source for link in plan.links}
        plan = replace(plan, main_outputs=tuple(ref for ref in plan.main_outputs if ref not in sends))
    else:
        fitting, rewiring = rewired(saved, devices, paths)
        plan = following(fitting, devices, settings)
    hook_up = plan.hook_up(devices)
    reasons = {item.finding: item.reason for item in plan.dismissals}
    findings = tuple(
        CheckedFinding(key_of(finding), finding, reasons.get(key_of(finding))) for finding in check(hook_up)
    )
    return HookUpSheet(
        sheet,
        plan,
        saved is not None,
        hook_up,
        route(plan.route).at(
            _sockets_in_words(hook_up, hook_up.daw.send_outputs),
            _sockets_in_words(hook_up, hook_up.daw.return_inputs),
        ),
        connection_list(hook_up),
        findings,
        gaps,
        "" if rewiring is None else _rewiring_in_words(rewiring, devices),
    )


def _sockets_in_words(hook_up: HookUp, refs: Sequence[PortRef]) -> str:
    """ "output 3", "input 1 and input 2"."""
    return " and ".join(port.label.lower() for ref in refs if (port := hook_up.port(ref)) is not None)


def _rewiring_in_words(rewiring: Rewiring, devices: Sequence[Device]) -> str:
    """ "gone: re-amp box to gear that left; new: re-amp box to combo"."""
    names = {device.key: device.name for device in devices}

    def said(links: Sequence[Link]) -> str:
        ends = [
            " to ".join(names.get(ref.device, "gear that left") for ref in (link.source, link.target))
            for link in links
        ]
        return ", ".join(dict.fromkeys(ends))

    parts = (("gone", said(rewiring.gone)), ("new", said(rewiring.new)))
    return "; ".join(f"{what}: {words}" for what, words in parts if words)


def _said_by(sheet: PassSheet) -> tuple[SaidSetting, ...]:
    """What the pass's settings say of sockets and phantom power."""
    return tuple(
        SaidSetting(str(step.gear_id), line.control_id, line.spec, line.step_name if line.is_set else "")
        for step in sheet.steps
        for line in step.settings
        if socket_job(line.spec)
    )


def entry_of(sheet: HookUpSheet) -> PlanEntry:
    """The form that would save this plan unchanged."""
    plan = sheet.plan
    return PlanEntry(
        plan.route,
        plan.send_tap or "pre_fader",
        plan.variants,
        tuple(
            LinkEntry(
                ref_text(link.source),
                ref_text(link.target),
                "" if link.length_m is None else f"{link.length_m:g}",
            )
            for link in plan.links
        ),
        tuple(ref_text(ref) for ref in plan.main_outputs),
        tuple(ref_text(ref) for ref in plan.phantom_on),
        tuple((device, f"{level:g}") for device, level in plan.sound_levels),
    )


def save_plan(library: Library, pass_id: int, entry: PlanEntry) -> None:
    """Keep a plan with its pass. What was dismissed before stays dismissed, and the settings that name sockets or switch
    phantom power follow it."""
    plan = _checked(entry)
    with library.writing() as session:
        before = _saved(session, pass_id)
        dismissals = () if before is None else before.dismissals
        _keep_and_say(session, pass_id, replace(plan, dismissals=dismissals))


def wire_anew(library: Library, pass_id: int) -> None:
    """Forget the cables of a plan and wire the chain again as it stands; route and routing stay."""
    sheet = read_hook_up(library, pass_id)
    suggested = hook_up_of(sheet.sheet, None).plan
    with library.writing() as session:
        now = _saved(session, pass_id) or sheet.plan
        plan = replace(now, links=suggested.links, main_outputs=suggested.main_outputs)
        _keep_and_say(session, pass_id, plan)


def keep_as_drawn(library: Library, pass_id: int) -> None:
    """Undo what a change of the chain rewired: the cables stay as they were drawn."""
    with library.writing() as session:
        before = _saved(session, pass_id)
        if before is not None:
            sheet = _sheet(session, pass_id)
            _keep(session, pass_id, replace(before, pairs=pairs_of(_paths(sheet.steps, devices_of(sheet)))))


def _sheet(session: Session, pass_id: int) -> PassSheet:
    find_pass(session, pass_id)
    return read_pass_sheets(session, col(Pass.id) == pass_id)[0]


def _keep_and_say(session: Session, pass_id: int, plan: Plan) -> None:
    """Keep a plan as the one for the chain as it stands now, and have the pass's settings say the same."""
    sheet = _sheet(session, pass_id)
    devices = devices_of(sheet)
    _keep(session, pass_id, replace(plan, pairs=pairs_of(_paths(sheet.steps, devices))))
    said = to_be_said(plan, devices, _said_by(sheet))
    set_readings(session, pass_id, {(int(gear), control): text for (gear, control), text in said.items()})


def dismiss(library: Library, pass_id: int, finding: str, reason: str) -> None:
    """Let a finding stand, with the reason that the log keeps."""
    complaints = Complaints()
    kept = wording.line(complaints, "reason", "The reason", reason, required=True)
    complaints.refuse_if_any()
    _change_dismissals(library, pass_id, finding, Dismissal(finding, kept))


def answer(library: Library, pass_id: int, gear: str, fact: str, said: str) -> None:
    """Write down, with the gear itself, a fact that one of the pass's findings asks about."""
    asked = {
        (ask.device, ask.fact)
        for item in read_hook_up(library, pass_id).findings
        for ask in item.finding.asks
    }
    if (gear, fact) not in asked:
        raise Refusal({"": "This is not asked any more: it has been answered, or the hook-up has changed."})
    if said not in ("yes", "no"):
        raise Refusal({"": "Answer yes or no."})
    know_facts(library, int(gear), **{fact: said == "yes"})


def take_dismissal_back(library: Library, pass_id: int, finding: str) -> None:
    _change_dismissals(library, pass_id, finding, None)


def key_of(finding: Finding) -> str:
    """What tells a finding from every other: its rule and where it is."""
    return "|".join((finding.rule, *(ref_text(ref) for ref in finding.where)))


def _change_dismissals(library: Library, pass_id: int, finding: str, new: Dismissal | None) -> None:
    sheet = read_hook_up(library, pass_id)
    if new is not None and finding not in {item.key for item in sheet.findings}:
        raise Refusal({"": "This is not among the findings any more, so there is nothing to accept."})
    with library.writing() as session:
        now = _saved(session, pass_id) or sheet.plan
        others = tuple(item for item in now.dismissals if item.finding != finding)
        _keep(session, pass_id, replace(now, dismissals=others if new is None else (*others, new)))


def _saved(session: Session, pass_id: int) -> Plan | None:
    row = session.get(HookUpPlan, pass_id)
    return None if row is None or not row.plan else plan_from_json(row.plan)


def _keep(session: Session, pass_id: int, plan: Plan) -> None:
    row = session.get(HookUpPlan, pass_id)
    if row is None:
        row = HookUpPlan(pass_id=pass_id)
        session.add(row)
    row.plan = plan_to_json(plan)


def saved_route(session: Session, pass_id: int) -> str | None:
    """The route of the plan that was kept with a pass."""
    plan = _saved(session, pass_id)
    return None if plan is None else plan.route


def devices_of(sheet: PassSheet) -> tuple[Device, ...]:
    """The gear of a pass as devices with ports, in chain order.

    What is logged counts: an audio ground that a control says is lifted, a polarity that a switch turns over.
    """
    return tuple(_device(step) for step in sheet.steps)


def _device(step: StepSheet) -> Device:
    said = [line for line in step.settings if line.is_set]
    switched_over = any(line.spec.job == "polarity" and is_turned_over(line.step_name) for line in said)
    return Device(
        key=str(step.gear_id),
        name=step.gear_name,
        kind=kind_of(step.kind).key,
        ports=with_own_speaker(step.ports, step.facts.own_speaker) if step.kind == "amp" else step.ports,
        valve=step.facts.valve,
        own_speaker=step.facts.own_speaker,
        ribbon=step.facts.ribbon,
        mains_earthed=step.facts.mains_earthed,
        isolated=step.facts.isolated,
        ground_lifted=any(
            line.spec.job == "ground_lift" and is_lifted(line.name, line.step_name) for line in said
        ),
        inverts=bool(step.facts.inverts) != switched_over,
        rated_load_ohm=step.facts.rated_load_ohm,
        max_spl_db=step.facts.max_spl_db,
    )


def _paths(steps: Sequence[StepSheet], devices: Sequence[Device]) -> list[list[Device]]:
    """Every way from the interface's output through the chain and back to its input. Branches, and microphones side
    by side, each make a way of their own."""
    ways: list[list[Device]] = [[]]
    placed = list(zip(steps, devices, strict=True))
    for _, group in groupby(placed, key=lambda pair: bool(pair[0].branch)):
        run = list(group)
        names = list(dict.fromkeys(step.branch for step, _ in run))
        alternatives = [
            way for name in names for way in _ways([device for step, device in run if step.branch == name])
        ]
        ways = _continued(ways, alternatives)
    interface = next((device for device in devices if device.kind == "interface"), None)
    if interface is not None:
        ways = [way if way[-1:] == [interface] else [*way, interface] for way in ways]
    return [way for way in ways if len(way) > 1]


def _ways(devices: Sequence[Device]) -> list[list[Device]]:
    ways: list[list[Device]] = [[]]
    for is_microphone, group in groupby(devices, key=lambda device: device.kind == "microphone"):
        row = list(group)
        ways = _continued(ways, [[device] for device in row] if is_microphone else [row])
    return ways


def _continued(ways: list[list[Device]], alternatives: list[list[Device]]) -> list[list[Device]]:
    """As many alternatives as ways go on one to one; otherwise each way goes on to every alternative."""
    pairs = (
        zip(ways, alternatives, strict=True)
        if len(ways) == len(alternatives)
        else product(ways, alternatives)
    )
    return [[*way, *more] for way, more in pairs]


def _sockets(devices: Sequence[Device], direction: str) -> tuple[Socket, ...]:
    return tuple(
        Socket(ref_text(PortRef(device.key, port.key)), f"{device.name}: {socket_text(port)}")
        for device in devices
        for port in device.ports
        if port.direction == direction
    )


def _checked(entry: PlanEntry) -> Plan:
    complaints = Complaints()
    if entry.route not in ROUTE_KEYS:
        complaints.add("route", "Choose one of the three ways to route.")
    links = []
    for index, item in enumerate(entry.links[:LINKS_LIMIT]):
        link = _link(complaints, f"links-{index}", item)
        if link is not None:
            links.append(link)
    levels = []
    for device, text in entry.sound_levels:
        level = read_figure(complaints, f"sound-{device}", text)
        if level is not None and not 0.0 <= level <= 194.0:
            complaints.add(f"sound-{device}", "A sound level lies between 0 and 194 dB SPL.")
        elif level is not None:
            levels.append((device, level))
    complaints.refuse_if_any()
    return plan_from_json(
        plan_to_json(Plan(links=tuple(links), sound_levels=tuple(levels)))
        | {
            "route": entry.route,
            "send_tap": entry.send_tap if entry.send_tap in ("pre_fader", "post_fader") else None,
            "variants": list(entry.variants),
            "main_outputs": _refs(entry.main_outputs),
            "phantom_on": _refs(entry.phantom_on),
        }
    )


def _refs(texts: Sequence[str]) -> list[str]:
    kept = []
    for text in texts:
        try:
            kept.append(ref_text(read_ref(text)))
        except ValueError:
            continue  # an unticked box of a form that was tampered with
    return kept


def _link(complaints: Complaints, at: str, entry: LinkEntry) -> Link | None:
    if not entry.source and not entry.target:
        return None
    if not entry.source or not entry.target:
        complaints.add(f"{at}-{'target' if entry.source else 'source'}", "Choose both ends of this cable.")
        return None
    length_m = read_figure(complaints, f"{at}-length", entry.length)
    try:
        return Link(read_ref(entry.source), read_ref(entry.target), length_m)
    except ValueError as error:
        complaints.add(f"{at}-length", str(error))
        return None
