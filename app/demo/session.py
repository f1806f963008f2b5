"""The invented session that `dialback demo` shows: a trio of nobody's records an EP of three songs in a boathouse.

The story is told through the same desk functions that a person's clicks use. Its sounds are rendered from the
logged settings by `invented_sounds`, in a process of their own, so that the server never loads numpy.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from app.desk import child_processes
from app.desk.listening.blind import begin_blind, begin_test, read_blind, reveal
from app.desk.passes.keepers import mark_keeper
from app.desk.passes.pass_sheets import read_passes_of_source
from app.desk.passes.passes import PassEntry, entry_for_next, log_pass, with_gear
from app.desk.passes.placements import PlacementEntry
from app.desk.planning.hook_up import dismiss, entry_of, read_hook_up, save_plan, wire_anew
from app.desk.planning.level_rig import gear_field
from app.desk.planning.levels import GEAR_FIELDS, read_levels, save_levels
from app.desk.planning.levels import entry_of as levels_entry_of
from app.desk.projects.ears import LevelEntry, log_level
from app.desk.projects.projects import ProjectEntry, create_project
from app.desk.projects.sources import SourceEntry, create_source
from app.desk.recall import runs
from app.desk.recall.keys import control_key
from app.desk.shelf.control_entries import ControlEntry
from app.desk.shelf.gear import (
    GearEntry,
    add_gear,
    edit_gear,
    gear_entry,
    read_layout,
    starting_entry,
)
from app.desk.shelf.ports import FactsEntry, PortEntry, PortsEntry, edit_ports, ports_entry
from app.library import Library

FUZZ_BIAS_RENAMED = "Bias, inside by the battery"
INVENTED = "INVENTED for the demo: no such band, no such boathouse."


@dataclass(frozen=True)
class Mishap:
    """What went wrong with a pass's prints, beside what its settings say."""

    hum_dbfs: float | None = None
    ends_early_s: float = 0.0
    is_turned_over: bool = False


@dataclass(frozen=True)
class Jotting:
    """One pass as its recordist jotted it down: what changed from the pass before. Gear is named by its key in SHELF.

    latency_samples: what the converters and the DAW left uncompensated. planned: figures of the levels form that change,
    by field, those of one piece of gear as "field gear". let_stand: rules of the hook-up's checks, with the reason.
    """

    title: str
    notes: str
    turned: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    added: tuple[str, ...] = ()
    taken_away: tuple[str, ...] = ()
    branches: Mapping[str, str] = field(default_factory=dict)
    placed: Mapping[str, PlacementEntry] = field(default_factory=dict)
    hook_up: str | None = None
    levels: str | None = None
    planned: Mapping[str, str] = field(default_factory=dict)
    let_stand: Mapping[str, str] = field(default_factory=dict)
    kept: tuple[str, str] | None = None
    latency_samples: float = 3.0
    mishap: Mishap = Mishap()
    has_picture: bool = False


@dataclass(frozen=True)
class PlannedSource:
    """A source track and its passes. `sound` names the function of app.demo.synthesis that plays it."""

    sound: str
    file_name: str
    entry: SourceEntry
    jottings: tuple[Jotting, ...]


def _knobs(*names: str, scale: str = "range") -> tuple[ControlEntry, ...]:
    return tuple(ControlEntry(name=name, scale=scale) for name in names)


def _switch(name: str, *positions: str) -> ControlEntry:
    return ControlEntry(name=name, form="switch", positions=", ".join(positions))


def _own(key: str, name: str, notes: str = "", controls: tuple[ControlEntry, ...] | None = None) -> GearEntry:
    entry = starting_entry(key)
    return replace(
        entry, name=name, notes=" ".join((notes, INVENTED)).strip(), controls=controls or entry.controls
    )


_EFFECT = _switch("Effect", "bypassed", "on")
SHELF: Mapping[str, GearEntry] = {
    "interface": _own("interface", "Eight-channel interface"),
    "reamp box": _own("reamp_box", "Passive re-amp box"),
    "fuzz": _own(
        "fuzz", "Silicon fuzz", controls=(*_knobs("Fuzz", "Bias", "Volume", scale="clock"), _EFFECT)
    ),
    "delay": _own(
        "delay",
        "Tape-like delay pedal",
        "Time is printed at three marks only.",
        controls=(starting_entry("delay").controls[0], *_knobs("Repeats", "Mix", scale="clock"), _EFFECT),
    ),
    "combo": _own(
        "single_channel_amp",
        "15-watt valve combo, 1×12",
        "Its own speaker stays plugged in, always.",
        controls=_knobs("Gain", "Bass", "Middle", "Treble", "Reverb", "Master"),
    ),
    "ribbon": _own("microphone", "Small ribbon microphone", "No phantom power into this one."),
    "dynamic": _own("microphone", "Large dynamic microphone"),
    "preamp": _own(
        "preamp",
        "Two-channel preamp",
        controls=tuple(
            control
            for channel in ("1", "2")
            for control in (
                ControlEntry(name=f"Gain {channel}", low="0", high="60", unit="dB"),
                _switch(f"Polarity {channel}", "normal", "inverted"),
            )
        ),
    ),
    "di box": _own("di_box", "Active DI box"),
}

_MANUAL: Mapping[str, FactsEntry] = {
    "interface": FactsEntry(
        output_full_scale_dbu="+18 dBu",
        input_full_scale_dbu="+18 dBu",
        lowest_gain_db="0",
        highest_gain_db="60",
    ),
    "reamp box": FactsEntry(isolated="yes", loss_db="12"),
    "fuzz": FactsEntry(isolated="no"),
    "delay": FactsEntry(isolated="no"),
    "combo": FactsEntry(valve="yes", own_speaker="yes", rated_load_ohm="8"),
    "ribbon": FactsEntry(ribbon="yes", sensitivity_mv_per_pa="2", max_spl_db="135"),
    "dynamic": FactsEntry(ribbon="no", sensitivity_mv_per_pa="2.4", max_spl_db="150"),
    "preamp": FactsEntry(lowest_gain_db="0", highest_gain_db="60"),
    "di box": FactsEntry(isolated="yes", loss_db="0"),
}
_BUILT_IN_SPEAKER = PortEntry("sound", "Built-in speaker", "out", "air", "sound")
_TWO_CHANNELS = tuple(
    port
    for number in ("1", "2")
    for port in (
        PortEntry(
            f"in{number}",
            f"Microphone input {number}",
            "in",
            "xlr",
            "microphone",
            "yes",
            number,
            phantom="supplies",
            impedance="1500",
        ),
        PortEntry(f"out{number}", f"Line output {number}", "out", "trs", "line", "yes", number, max="22"),
    )
)
_PORTS: Mapping[str, Mapping[str, Mapping[str, str]]] = {
    "reamp box": {"in": {"impedance": "10000", "max": "22"}, "out": {"impedance": "10000"}},
    "fuzz": {"in": {"impedance": "470000"}},
    "delay": {"in": {"impedance": "1000000"}},
    "combo": {"in": {"impedance": "1000000"}},
    "ribbon": {"out": {"phantom": "must_not"}},
}

_SEND = {
    "interface": {
        "Output level": "−6 dB",
        "Output used": "line out 3",
        "Input used": "line in 1 and 2",
        "Input type": "line",
    },
    "reamp box": {"Level": "5", "Pad": "0 dB", "Audio ground": "joined", "Polarity": "normal"},
}

_FAR_RIBBON = PlacementEntry(
    speaker="1×12",
    distance="300 mm",
    offset="0 mm",
    angle="on axis",
    height="420 mm",
    pattern="figure-eight",
    pad="0 dB",
    preamp="channel 1",
)
_CLOSE_DYNAMIC = PlacementEntry(
    speaker="1×12",
    distance="25 mm",
    offset="45 mm",
    angle="15°",
    height="410 mm",
    pattern="cardioid",
    pad="0 dB",
    preamp="channel 2",
)

BASS = PlannedSource(
    sound="bass_line",
    file_name="slack-line-tuesday bass DI INVENTED.wav",
    entry=SourceEntry(
        name="Slack Line Tuesday, bass",
        instrument="four-string bass, flat-wound strings",
        recorded_with="instrument input of the interface",
        gain="+18 dB",
        tuning="E A D G, 440 Hz",
        notes=f"Eight bars, played with the fingers. {INVENTED} The sound is synthesised.",
    ),
    jottings=(
        Jotting(
            title="first look",
            notes="Woolly, but the low D is all there. 415 samples late: the DAW's insert delay was never set.",
            added=("interface", "reamp box", "combo", "ribbon", "preamp"),
            turned={
                **_SEND,
                "combo": {
                    "Gain": "3",
                    "Bass": "5",
                    "Middle": "5",
                    "Treble": "5",
                    "Reverb": "0",
                    "Master": "5",
                },
                "preamp": {"Gain 1": "40 dB", "Polarity 1": "normal"},
            },
            placed={"ribbon": _FAR_RIBBON},
            hook_up="Line out 3 to the re-amp box on the long cable, box to the combo's input. Combo on two planks, "
            "slipway door shut. Printed to a new track.",
            levels="Output down 6 dB until the combo sounded as it does with the bass plugged straight in.",
            planned={
                "recording_box_loss_db": "0",
                "recording_gain_uncertainty_db": "0.5",
                "sound_level_db_spl ribbon": "102",
            },
            latency_samples=418.0,
        ),
        Jotting(
            title="more gain",
            notes="Growls now. Insert delay set to 415 samples before this one.",
            turned={"combo": {"Gain": "6.5", "Treble": "6.5"}, "preamp": {"Gain 1": "33"}},
            planned={"sound_level_db_spl ribbon": "112"},
        ),
        Jotting(
            title="fuzz in front",
            notes="Dynamic close up as well, the ribbon alone was all room.",
            added=("fuzz", "dynamic"),
            turned={
                "fuzz": {"Fuzz": "just past 1", "Bias": "noon", "Volume": "11:00", "Effect": "on"},
                "combo": {"Gain": "3.5"},
                "preamp": {"Gain 1": "31", "Gain 2": "25 dB", "Polarity 2": "normal"},
            },
            placed={"dynamic": _CLOSE_DYNAMIC},
            planned={
                "sound_level_db_spl ribbon": "113",
                "sound_level_db_spl dynamic": "123",
                "trim_db reamp box": "−3 dB",
                "daw_trim_db": "+3 dB",
            },
            has_picture=True,
        ),
        Jotting(
            title="darker, and it hums",
            notes="Hum since the laptop is on its charger, and the print stopped before the last note. Do it again.",
            turned={"combo": {"Treble": "4.5"}},
            mishap=Mishap(hum_dbfs=-42.0, ends_early_s=4.2),
        ),
        Jotting(
            title="ground lifted, DI beside it",
            notes="Audio ground lifted at the re-amp box and the hum is gone. The DI box splits off behind the fuzz.",
            added=("di box",),
            turned={
                "reamp box": {"Audio ground": "lifted"},
                "di box": {"Pad": "−20 dB", "Audio ground": "joined", "Polarity": "normal"},
            },
            branches={"combo": "A", "ribbon": "A", "dynamic": "A", "preamp": "A", "di box": "B"},
            planned={"input_peak_dbu di box": "−2 dBu", "gain_db di box": "+30 dB"},
            let_stand={
                "port_used_twice": "The splitter cable made for it; the DI box's through socket crackles."
            },
            kept=("main", "The fuzz lets go of the long notes by itself and the DI still holds the low D."),
        ),
    ),
)

ORGAN = PlannedSource(
    sound="organ_line",
    file_name="nine-wet-steps organ DI INVENTED.wav",
    entry=SourceEntry(
        name="Nine Wet Steps Down, organ",
        instrument="transistor combo organ, three footages drawn",
        recorded_with="DI box into the interface",
        gain="+6 dB",
        tuning="440 Hz",
        notes=f"Six bars with the vibrato on. {INVENTED} The sound is synthesised.",
    ),
    jottings=(
        Jotting(
            title="springs half up",
            notes="Reverb at half is already the whole boathouse.",
            taken_away=("fuzz", "dynamic", "di box"),
            branches={"combo": "", "ribbon": "", "preamp": ""},
            turned={
                "reamp box": {"Audio ground": "joined"},
                "combo": {"Gain": "2.5", "Bass": "4", "Treble": "6", "Reverb": "5"},
                "preamp": {"Gain 1": "43"},
            },
            levels="Output left at −6 dB.",
            planned={
                "recording_box_loss_db": "20",
                "sound_level_db_spl ribbon": "99",
                "trim_db reamp box": "",
            },
        ),
        Jotting(
            title="close to the edge",
            notes="Ribbon a hand's breadth off: more bottom, less room.",
            turned={"preamp": {"Gain 1": "36"}},
            placed={"ribbon": replace(_FAR_RIBBON, distance="60 mm", offset="70 mm", angle="20°")},
            planned={"sound_level_db_spl ribbon": "108"},
            kept=("right", "Sits under the voice without being asked."),
        ),
        Jotting(
            title="brighter, other cable",
            notes="The cable by the workbench. Something is odd against the DI, hollow when both play.",
            turned={"combo": {"Treble": "8", "Reverb": "7"}},
            mishap=Mishap(is_turned_over=True),
        ),
        Jotting(
            title="the old cable again",
            notes="Hollowness gone. That cable is wired the wrong way round; marked with red tape.",
            turned={"combo": {"Treble": "7.5"}},
            kept=("left", "The springs answer every chord, and it is bright enough to be far left."),
        ),
    ),
)

DRUMS = PlannedSource(
    sound="drum_loop",
    file_name="ferry-bell-arithmetic drum loop INVENTED.wav",
    entry=SourceEntry(
        name="Ferry Bell Arithmetic, drum loop",
        instrument="drum loop, mixed to one track",
        recorded_with="made in the computer",
        notes=f"Six bars. {INVENTED} The sound is synthesised.",
    ),
    jottings=(
        Jotting(
            title="the combo as a room",
            notes="Dynamic out on the slipway. The kick moves the door.",
            added=("dynamic",),
            taken_away=("ribbon",),
            turned={
                "interface": {"Output level": "−12 dB"},
                "combo": {"Gain": "4", "Bass": "3.5", "Treble": "6", "Reverb": "2"},
                "preamp": {"Gain 2": "42", "Polarity 2": "normal"},
            },
            placed={
                "dynamic": replace(_CLOSE_DYNAMIC, distance="1.2 m", offset="0", angle="0", height="900 mm")
            },
            levels="Output at −12 dB: a loop is hotter than a pickup.",
            planned={"wanted_peak_dbu": "−12 dBu", "sound_level_db_spl dynamic": "98"},
        ),
        Jotting(
            title="fuzz on the loop",
            notes="Red light on the preamp the whole time, did not look.",
            added=("fuzz",),
            turned={
                "fuzz": {"Fuzz": "10:00", FUZZ_BIAS_RENAMED: "2:30", "Volume": "1:00", "Effect": "on"},
                "preamp": {"Gain 2": "47"},
            },
            planned={"sound_level_db_spl dynamic": "106"},
        ),
        Jotting(
            title="same with the preamp down",
            notes="10 dB less at the preamp, nothing else touched.",
            turned={"preamp": {"Gain 2": "37"}},
            kept=("", "Snare like a wet plank, and the kick survives."),
        ),
    ),
)

VERSE = PlannedSource(
    sound="spoken_verse",
    file_name="ferry-bell-arithmetic verse INVENTED.wav",
    entry=SourceEntry(
        name="Ferry Bell Arithmetic, spoken verse",
        instrument="voice",
        recorded_with="large dynamic microphone, straight into the interface",
        gain="+44 dB",
        notes=f"Syllables of no language. {INVENTED} The voice is synthesised, nobody speaks.",
    ),
    jottings=(
        Jotting(
            title="through the delay",
            notes="Time between two marks, so it is only roughly 120.",
            added=("delay", "ribbon"),
            taken_away=("fuzz", "dynamic"),
            turned={
                "interface": {"Output level": "−10 dB"},
                "delay": {"Time": "150 ms", "Repeats": "10:30", "Mix": "11:00", "Effect": "on"},
                "combo": {"Gain": "3", "Bass": "3", "Middle": "7", "Treble": "5", "Reverb": "3"},
                "preamp": {"Gain 1": "38", "Polarity 1": "normal"},
            },
            placed={"ribbon": replace(_FAR_RIBBON, distance="150 mm", offset="20 mm")},
            levels="Output at −10 dB, the voice was recorded hot.",
            planned={"wanted_peak_dbu": "−15 dBu", "sound_level_db_spl ribbon": "105"},
        ),
        Jotting(
            title="longer",
            notes="Time up until the repeats fall between the syllables.",
            turned={"delay": {"Time": "2:30", "Repeats": "9:30"}},
            kept=("", "Each line is answered once and then left alone."),
        ),
    ),
)

SILENT_FOR_S = 1800.0
"""How long computing all sounds may take on a slow computer."""

SOURCES = (BASS, ORGAN, DRUMS, VERSE)


def fill(library: Library) -> None:
    """Put the invented session into an empty library: gear, sources, passes, keepers, then its sounds, whose
    measurements then wait for the measuring process."""
    shelf = {key: add_gear(library, entry) for key, entry in SHELF.items()}
    for key, gear_id in shelf.items():
        _read_manual(library, key, gear_id)
    project_id = create_project(
        library,
        ProjectEntry(
            title="Low Water Ledger (invented EP)",
            artist="The Tallow Pier Oarlocks (an invented trio)",
            sample_rate="48000",
            notes=f"Three songs, recorded in a boathouse between two tides. {INVENTED}",
        ),
    )
    for planned in SOURCES:
        source_id = create_source(library, project_id, planned.entry)
        for jotting in planned.jottings:
            _log(library, shelf, source_id, jotting)
        if planned is BASS:
            _look_inside_the_fuzz(library, shelf["fuzz"])
            _hear_without_knowing(library, source_id)
            _begin_to_set_it_back(library, source_id)
    log_level(library, project_id, LevelEntry("94", "40", "beside the combo, all takes of the bass"))
    told = {"library": str(library.folder.absolute()), "project_id": project_id}
    for _ in child_processes.made_by("app.demo.sounds", told, silent_for_s=SILENT_FOR_S):
        pass


def _hear_without_knowing(library: Library, source_id: int) -> None:
    """One blind choice that was brought to its end, one that is open, and a test that has just begun."""
    third, fourth, fifth = read_passes_of_source(library, source_id)[2:5]
    chosen = [sheet.pass_id for sheet in (third, fourth, fifth)]
    said = {
        third.number: ("3", "fizzy, the low D is gone"),
        fourth.number: ("2", "rounder, but something hums"),
        fifth.number: ("1", "holds the low notes"),
    }
    blind = read_blind(library, begin_blind(library, chosen))
    reveal(
        library,
        blind.blind_id,
        {lane.letter: said[lane.number][1] for lane in blind.lanes},
        {lane.letter: said[lane.number][0] for lane in blind.lanes},
    )
    begin_blind(library, chosen)
    begin_test(library, fourth.pass_id, fifth.pass_id, 8)


def _begin_to_set_it_back(library: Library, source_id: int) -> None:
    """A recall of the keeper, checked off as far as the combo, where something is not as it was."""
    keeper = next(sheet for sheet in read_passes_of_source(library, source_id) if sheet.is_keeper)
    recall_id = runs.begin(library, keeper.pass_id)
    runs.mark(library, recall_id, {"hook-up": True, "levels": True}, {})
    for step in keeper.steps:
        if step.kind in ("interface", "reamp_box", "pedal", "amp"):
            runs.mark_step(library, recall_id, step.step_id, done=True)
        if step.kind == "amp":
            treble = next(line for line in step.settings if line.name == "Treble")
            key = control_key(step.step_id, treble.control_id)
            runs.mark(library, recall_id, {}, {key: "scratches there, so a hair higher"})


def _log(library: Library, shelf: Mapping[str, int], source_id: int, jotting: Jotting) -> None:
    entry = entry_for_next(library, source_id)
    gone = {shelf[key] for key in jotting.taken_away}
    entry = replace(entry, steps=tuple(step for step in entry.steps if step.gear_id not in gone))
    for key in jotting.added:
        entry = with_gear(library, entry, shelf[key])
    pass_id = log_pass(library, source_id, _written(library, shelf, entry, jotting))
    if jotting.kept is not None:
        part, reason = jotting.kept
        mark_keeper(library, pass_id, part=part, reason=reason)
    _plan(library, shelf, pass_id, jotting)


def _plan(library: Library, shelf: Mapping[str, int], pass_id: int, jotting: Jotting) -> None:
    """Hook-up and levels of a pass; what the pass before left is plugged in anew where the chain changed."""
    plan = read_hook_up(library, pass_id)
    if not plan.is_saved:
        save_plan(library, pass_id, entry_of(plan))
    elif jotting.added or jotting.taken_away or jotting.branches:
        wire_anew(library, pass_id)
    for item in read_hook_up(library, pass_id).findings:
        if item.finding.rule in jotting.let_stand:
            dismiss(library, pass_id, item.key, jotting.let_stand[item.finding.rule])
    if jotting.planned:
        levels = levels_entry_of(read_levels(library, pass_id))
        of_gear = dict(levels.of_gear)
        typed = {}
        for at, text in jotting.planned.items():
            name, _, key = at.partition(" ")
            if name in GEAR_FIELDS:
                of_gear[gear_field(name, str(shelf[key]))] = text
            else:
                typed[name] = text
        save_levels(library, pass_id, replace(levels, **typed, of_gear=of_gear))


def _read_manual(library: Library, key: str, gear_id: int) -> None:
    """Ports and facts of a piece, as its invented manual gives them."""
    ports = _TWO_CHANNELS if key == "preamp" else ports_entry(library, gear_id).ports
    changed = tuple(replace(port, **_PORTS.get(key, {}).get(port.key, {})) for port in ports)
    if key == "combo":
        changed = (*changed, _BUILT_IN_SPEAKER)
    edit_ports(library, gear_id, PortsEntry(_MANUAL[key], changed))


def _written(library: Library, shelf: Mapping[str, int], entry: PassEntry, jotting: Jotting) -> PassEntry:
    """The form with everything on it that this jotting changes."""
    key_of = {gear_id: key for key, gear_id in shelf.items()}
    steps = []
    for step in entry.steps:
        key = key_of[step.gear_id]
        controls = {control.spec.name: control.control_id for control in read_layout(library, step.layout_id)}
        turned = {controls[name]: reading for name, reading in jotting.turned.get(key, {}).items()}
        steps.append(
            replace(
                step,
                readings={**step.readings, **turned},
                branch=jotting.branches.get(key, step.branch),
                placement=jotting.placed.get(key, step.placement),
            )
        )
    return replace(
        entry,
        title=jotting.title,
        notes=jotting.notes,
        hook_up=entry.hook_up if jotting.hook_up is None else jotting.hook_up,
        levels=entry.levels if jotting.levels is None else jotting.levels,
        steps=tuple(steps),
    )


def _look_inside_the_fuzz(library: Library, gear_id: int) -> None:
    """A control gets a better name; the passes logged before keep the old one."""
    entry = gear_entry(library, gear_id)
    controls = tuple(
        replace(control, name=FUZZ_BIAS_RENAMED) if control.name == "Bias" else control
        for control in entry.controls
    )
    edit_gear(library, gear_id, replace(entry, controls=controls))
