"""A library with one invented pass whose gear says all that the levels ask of it.

By hand: the source peaks at −6 dBFS, was recorded with +30 dB through a DI box of 20 dB loss into +18 dBu, so the
instrument peaked at −6 + 18 − 30 + 20 = +2 dBu.
"""

from dataclasses import dataclass, replace

from small_session import bring_in, figures, measured, step_of, tone

from app.desk.passes import passes
from app.desk.passes.passes import PassEntry
from app.desk.passes.placements import PlacementEntry
from app.desk.projects import projects, sources
from app.desk.projects.projects import ProjectEntry
from app.desk.projects.sources import SourceEntry
from app.desk.shelf import gear
from app.desk.shelf.control_entries import ControlEntry
from app.desk.shelf.gear import GearEntry
from app.desk.shelf.ports import FactsEntry, PortsEntry, edit_ports, ports_entry
from app.library import Library
from app.signal.figures import PrintFigures

OUTPUT_LEVEL = ControlEntry(name="Output level", form="number", unit="dB")
PAD = ControlEntry(name="Pad", form="selector", positions="0 dB, −20 dB")
PREAMP_GAIN = ControlEntry(name="Gain", low="0", high="60", unit="dB")


@dataclass(frozen=True)
class LevelSession:
    project: int
    source: int
    interface: int
    box: int
    amp: int
    cabinet: int
    near: int
    far: int
    preamp: int
    pass_id: int


def peaking_at(dbfs: float, *, rms_dbfs: float = -23.0103, crest_db: float = 13.0103) -> PrintFigures:
    """Figures of a file that peaks there."""
    made = figures(aligned=False)
    level = replace(
        made.level, true_peak_dbtp=dbfs, sample_peak_dbfs=dbfs, rms_dbfs=rms_dbfs, crest_db=crest_db
    )
    return replace(made, level=level)


def put(library: Library, name: str, kind: str, facts: FactsEntry, *controls: ControlEntry) -> int:
    gear_id = gear.add_gear(library, GearEntry(name, kind, "", controls))
    edit_ports(library, gear_id, PortsEntry(facts, ports_entry(library, gear_id).ports))
    return gear_id


def socket(library: Library, gear_id: int, key: str, **said: str) -> None:
    """Write into a port what its manual says."""
    entry = ports_entry(library, gear_id)
    ports = tuple(replace(port, **said) if port.key == key else port for port in entry.ports)
    edit_ports(library, gear_id, PortsEntry(entry.facts, ports))


def fill(library: Library, *, with_interface: bool = True) -> LevelSession:
    interface = put(
        library,
        "eight-channel interface",
        "interface",
        FactsEntry(output_full_scale_dbu="+18 dBu", input_full_scale_dbu="18"),
        OUTPUT_LEVEL,
    )
    box = put(
        library, "passive re-amp box", "reamp_box", FactsEntry(loss_db="12"), PAD, ControlEntry(name="Level")
    )
    amp = put(library, "15-watt valve amp", "amp", FactsEntry(valve="yes"))
    cabinet = put(library, "1×12 cabinet", "cabinet", FactsEntry())
    near = put(
        library, "dynamic microphone", "microphone", FactsEntry(sensitivity_mv_per_pa="2", max_spl_db="150")
    )
    far = put(library, "ribbon microphone", "microphone", FactsEntry())
    preamp = put(
        library, "preamp", "preamp", FactsEntry(lowest_gain_db="10", highest_gain_db="60"), PREAMP_GAIN
    )
    socket(library, box, "in", max="20")
    socket(library, box, "out", impedance="10000")
    socket(library, amp, "in", impedance="1000000")
    project = projects.create_project(library, ProjectEntry("Engine shed", sample_rate="48000"))
    source = bring_in(library, project, "bass DI", tone(0.2, hz=200.0 + interface))
    sources.edit_source(library, source, SourceEntry("bass DI", gain="+30 dB"))
    measured(library, peaking_at(-6.0))
    chain = (
        *([step_of(library, interface, {"Output level": "0 dB"})] if with_interface else []),
        step_of(library, box, {"Pad": "0 dB", "Level": "5"}),
        step_of(library, amp),
        step_of(library, cabinet),
        replace(step_of(library, near), placement=PlacementEntry(distance="30 mm", offset="40 mm")),
        step_of(library, preamp, {"Gain": "30 dB"}),
    )
    pass_id = passes.log_pass(library, source, PassEntry(title="levels", steps=chain))
    return LevelSession(project, source, interface, box, amp, cabinet, near, far, preamp, pass_id)
