"""The ports of a piece of gear and what its manual says, versioned with its control layout."""

from dataclasses import dataclass, field, fields, replace
from typing import Any

from sqlalchemy.orm import Session

from app.desk import wording
from app.desk.refusals import Complaints
from app.desk.shelf.gear import find_gear, layout_to_change, newest_layout
from app.desk.typed_figures import read_figure
from app.library import Library, Readable
from app.records import ControlLayout, Gear
from app.trade.calibration import read_level_dbu
from app.trade.gear_facts import YES_NO, GearFacts, facts_from_json, facts_to_json
from app.trade.gear_kinds import kind_of
from app.trade.ports import STARTING_PORTS, Port, port_from_json, port_to_json
from app.trade.readings import read_number
from app.trade.scale_values import plain_text

PORTS_LIMIT = 64


@dataclass(frozen=True)
class PortEntry:
    """One port's row of the form as typed. `key` is empty for a port that is new; `accepts` names, with commas
    between, the levels an input can also be switched to."""

    key: str = ""
    label: str = ""
    direction: str = "in"
    connector: str = "ts"
    level: str = "instrument"
    balanced: str = ""
    number: str = ""
    accepts: str = ""
    nominal: str = ""
    max: str = ""
    impedance: str = ""
    phantom: str = "none"
    hot_pin: str = "2"
    stereo: str = ""


@dataclass(frozen=True)
class FactsEntry:
    """The facts' form as typed; yes-or-no facts are "yes", "no" or empty (not known)."""

    valve: str = ""
    own_speaker: str = ""
    ribbon: str = ""
    mains_earthed: str = ""
    isolated: str = ""
    inverts: str = ""
    loss_db: str = ""
    rated_load_ohm: str = ""
    max_spl_db: str = ""
    sensitivity_mv_per_pa: str = ""
    output_full_scale_dbu: str = ""
    input_full_scale_dbu: str = ""
    lowest_gain_db: str = ""
    highest_gain_db: str = ""


@dataclass(frozen=True)
class PortsEntry:
    facts: FactsEntry = field(default_factory=FactsEntry)
    ports: tuple[PortEntry, ...] = ()


def ports_of(layout: ControlLayout) -> tuple[Port, ...]:
    """The ports of a layout; while nobody has looked at them, those its kind starts with."""
    if layout.ports is None:
        return STARTING_PORTS[kind_of(layout.kind).key]
    return tuple(port_from_json(port) for port in layout.ports)


def facts_of(layout: ControlLayout) -> GearFacts:
    return facts_from_json(layout.facts)


def read_facts(library: Readable, gear_id: int) -> GearFacts:
    """What is known of a piece of gear today."""
    with library.reading() as session:
        find_gear(session, gear_id)
        return facts_of(newest_layout(session, gear_id))


def ports_entry(library: Readable, gear_id: int) -> PortsEntry:
    with library.reading() as session:
        find_gear(session, gear_id)
        layout = newest_layout(session, gear_id)
        ports, facts = ports_of(layout), facts_of(layout)
    return PortsEntry(_facts_entry(facts), tuple(_port_entry(port) for port in ports))


def edit_ports(library: Library, gear_id: int, entry: PortsEntry) -> None:
    """Save ports and facts. Past passes keep those they were logged with."""
    complaints = Complaints()
    facts = _facts(complaints, entry.facts)
    ports = _ports(complaints, entry.ports)
    complaints.refuse_if_any()
    with library.writing() as session:
        gear = find_gear(session, gear_id)
        _write(session, gear, newest_layout(session, gear_id), ports, facts)


def know_facts(library: Library, gear_id: int, **known: Any) -> None:
    """Write down facts that were measured, such as a level at 0 dBFS; the others stay. Raises ValueError."""
    with library.writing() as session:
        gear = find_gear(session, gear_id)
        newest = newest_layout(session, gear_id)
        _write(session, gear, newest, ports_of(newest), replace(facts_of(newest), **known))


def _write(
    session: Session, gear: Gear, newest: ControlLayout, ports: tuple[Port, ...], facts: GearFacts
) -> None:
    if ports == ports_of(newest) and facts == facts_of(newest):
        return
    layout = layout_to_change(session, gear, newest)
    layout.facts = facts_to_json(facts)
    if ports != ports_of(newest):
        layout.ports = [port_to_json(port) for port in ports]


def _facts_entry(facts: GearFacts) -> FactsEntry:
    typed = {}
    for item in fields(GearFacts):
        value = getattr(facts, item.name)
        if value is None:
            continue
        if item.name in YES_NO:
            typed[item.name] = "yes" if value else "no"
        else:
            typed[item.name] = plain_text(value) + (" dBu" if item.name.endswith("_dbu") else "")
    return FactsEntry(**typed)


def _facts(complaints: Complaints, entry: FactsEntry) -> GearFacts:
    known: dict[str, Any] = {}
    for item in fields(FactsEntry):
        text = getattr(entry, item.name).strip()
        if not text:
            continue
        if item.name in YES_NO:
            known[item.name] = text == "yes"
            continue
        reading = read_level_dbu if item.name.endswith("_dbu") else read_number
        value = read_figure(complaints, item.name, text, reading)
        try:
            facts_from_json({} if value is None else {item.name: value})
        except ValueError as error:
            complaints.add(item.name, str(error))
            continue
        known[item.name] = value
    return GearFacts(**known)


def _port_entry(port: Port) -> PortEntry:
    def text(value: float | None) -> str:
        return "" if value is None else plain_text(value)

    return PortEntry(
        key=port.key,
        label=port.label,
        direction=port.direction,
        connector=port.connector,
        level=port.level,
        balanced="yes" if port.balanced else "",
        number="" if port.number is None else str(port.number),
        accepts=", ".join(port.also_accepts),
        nominal=text(port.nominal_dbu),
        max=text(port.max_dbu),
        impedance=text(port.impedance_ohm),
        phantom=port.phantom,
        hot_pin=str(port.hot_pin),
        stereo="yes" if port.stereo else "",
    )


def _ports(complaints: Complaints, entries: tuple[PortEntry, ...]) -> tuple[Port, ...]:
    if len(entries) > PORTS_LIMIT:
        complaints.add("", f"A piece of gear has at most {PORTS_LIMIT} ports.")
    taken = {entry.key for entry in entries if entry.key}
    ports = []
    for index, entry in enumerate(entries[:PORTS_LIMIT]):
        at = f"ports-{index}"
        key = entry.key or next(f"port{n}" for n in range(1, PORTS_LIMIT * 2) if f"port{n}" not in taken)
        taken.add(key)
        label = wording.line(complaints, f"{at}-label", "The port's name", entry.label, required=True)
        numbers = {
            name: read_figure(complaints, f"{at}-{name}", getattr(entry, name))
            for name in ("number", "nominal", "max", "impedance")
        }
        try:
            ports.append(
                port_from_json(
                    {
                        "key": key,
                        "label": label or "port",
                        "direction": entry.direction,
                        "connector": entry.connector,
                        "level": entry.level,
                        "balanced": entry.balanced == "yes",
                        "number": None if numbers["number"] is None else int(numbers["number"]),
                        "also_accepts": [part.strip() for part in entry.accepts.split(",") if part.strip()],
                        "nominal_dbu": numbers["nominal"],
                        "max_dbu": numbers["max"],
                        "impedance_ohm": numbers["impedance"],
                        "phantom": entry.phantom,
                        "hot_pin": 3 if entry.hot_pin == "3" else 2,
                        "stereo": entry.stereo == "yes",
                    }
                )
            )
        except ValueError as error:
            complaints.add(f"{at}-label", str(error))
    return tuple(ports)
