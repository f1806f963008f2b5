"""Control layouts to start from: the controls such gear commonly has, to be edited to match the piece at hand."""

from dataclasses import dataclass, field, replace

from app.trade.control_jobs import job_by_name
from app.trade.gear_facts import GearFacts
from app.trade.gear_kinds import GearKind
from app.trade.ports import BUILT_IN_SPEAKER, STARTING_PORTS, Phantom, Port
from app.trade.scales import ClockScale, ControlSpec, MarkScale, PercentScale, RangeScale

ZERO_TO_TEN = RangeScale(0, 10)
CLOCK = ClockScale()
CUT_AND_BOOST = RangeScale(-15, 15, "dB")
OCTAVE_BANDS_HZ = ("31", "63", "125", "250", "500", "1 k", "2 k", "4 k", "8 k", "16 k")
FADER_MARKS = MarkScale("dB", ((-60, 0.0), (-40, 0.15), (-20, 0.4), (-10, 0.6), (0, 0.8), (10, 1.0)))


@dataclass(frozen=True)
class StartingLayout:
    """A set of controls to start from, with what such gear always is. `key` is stable, `label` is what people read;
    `ports` is None where those of the kind will do."""

    key: str
    label: str
    kind: GearKind
    controls: tuple[ControlSpec, ...]
    facts: GearFacts = field(default_factory=GearFacts)
    ports: tuple[Port, ...] | None = None


def _knobs(*names: str) -> tuple[ControlSpec, ...]:
    return tuple(ControlSpec(name, "knob", ZERO_TO_TEN) for name in names)


def _clock_knobs(*names: str) -> tuple[ControlSpec, ...]:
    return tuple(ControlSpec(name, "knob", CLOCK) for name in names)


def _switch(name: str, *positions: str) -> ControlSpec:
    return ControlSpec(name, "switch", positions=positions or ("off", "on"), job=job_by_name(name))


def _selector(name: str, *positions: str) -> ControlSpec:
    return ControlSpec(name, "selector", positions=positions, job=job_by_name(name))


def _microphone_ports(phantom: Phantom) -> tuple[Port, ...]:
    return tuple(
        replace(port, phantom=phantom) if port.direction == "out" else port
        for port in STARTING_PORTS["microphone"]
    )


_REMARK = ControlSpec("Remark", "text")
_EFFECT = _switch("Effect", "bypassed", "on")

_SINGLE_CHANNEL = (
    _selector("Input", "high", "low"),
    *_knobs("Gain", "Bass", "Middle", "Treble", "Presence", "Master"),
    _switch("Bright"),
    _switch("Standby", "standby", "play"),
    _REMARK,
)
_COMBO = tuple(control for control in _SINGLE_CHANNEL if control.name != "Presence")
_INSTRUMENT_IN, _SPEAKER_OUT = STARTING_PORTS["amp"]
_SPEAKER_IN = STARTING_PORTS["load"][0]

STARTING_LAYOUTS: tuple[StartingLayout, ...] = (
    StartingLayout("single_channel_amp", "Single-channel amp", "amp", _SINGLE_CHANNEL),
    StartingLayout(
        "combo",
        "Combo: an amp with its own speaker",
        "amp",
        _COMBO,
        GearFacts(own_speaker=True),
        (_INSTRUMENT_IN, BUILT_IN_SPEAKER),
    ),
    StartingLayout(
        "combo_with_extension",
        "Combo with a jack for an extension speaker",
        "amp",
        _COMBO,
        GearFacts(own_speaker=True),
        (_INSTRUMENT_IN, BUILT_IN_SPEAKER, replace(_SPEAKER_OUT, label="Extension speaker")),
    ),
    StartingLayout(
        "bass_amp",
        "Bass amp",
        "amp",
        (
            _selector("Input", "passive", "active"),
            *_knobs("Gain"),
            *(
                ControlSpec(name, "knob", CUT_AND_BOOST)
                for name in ("Bass", "Low middle", "High middle", "Treble")
            ),
            *_knobs("Compressor", "Master"),
            _switch("Deep"),
            _switch("Bright"),
            _selector("Line output taken", "before the tone controls", "after the tone controls"),
            _REMARK,
        ),
        ports=(
            _INSTRUMENT_IN,
            _SPEAKER_OUT,
            Port("line", "Line output", "out", "xlr", "line", balanced=True, nominal_dbu=4.0),
        ),
    ),
    StartingLayout(
        "two_channel_amp",
        "Two-channel amp",
        "amp",
        (
            _selector("Channel", "clean", "drive"),
            *_knobs("Clean volume", "Clean bass", "Clean treble"),
            *_knobs("Drive gain", "Drive bass", "Drive middle", "Drive treble", "Drive volume"),
            *_knobs("Reverb", "Presence", "Master"),
            _switch("Bright"),
            _switch("Effects loop"),
            _REMARK,
        ),
    ),
    StartingLayout("overdrive", "Overdrive", "pedal", (*_clock_knobs("Drive", "Tone", "Level"), _EFFECT)),
    StartingLayout("fuzz", "Fuzz", "pedal", (*_clock_knobs("Fuzz", "Level"), _EFFECT)),
    StartingLayout(
        "wah",
        "Wah",
        "pedal",
        (ControlSpec("Treadle", "fader", PercentScale()), *_clock_knobs("Range"), _EFFECT),
    ),
    StartingLayout(
        "modulation",
        "Modulation: chorus, phaser, flanger, tremolo, vibrato",
        "pedal",
        (
            _selector("Type", "chorus", "phaser", "flanger", "tremolo", "vibrato"),
            *_clock_knobs("Rate", "Depth", "Feedback", "Mix"),
            _EFFECT,
        ),
    ),
    StartingLayout(
        "delay",
        "Delay",
        "pedal",
        (
            ControlSpec("Time", "knob", MarkScale("ms", ((30, 0.0), (150, 0.5), (700, 1.0)))),
            *_clock_knobs("Repeats", "Mix"),
            ControlSpec("Time set by tap", "number", unit="ms"),
            _EFFECT,
        ),
    ),
    StartingLayout(
        "reverb",
        "Reverb",
        "pedal",
        (
            _selector("Type", "spring", "plate", "room", "hall"),
            *_clock_knobs("Decay", "Tone", "Mix"),
            _EFFECT,
        ),
    ),
    StartingLayout(
        "compressor",
        "Compressor",
        "pedal",
        (
            *_clock_knobs("Threshold", "Attack", "Release"),
            _selector("Ratio", "2:1", "3:1", "6:1", "10:1"),
            ControlSpec("Make-up gain", "knob", RangeScale(0, 24, "dB")),
            ControlSpec("Blend", "knob", PercentScale()),
            _EFFECT,
        ),
    ),
    StartingLayout(
        "graphic_equaliser",
        "Graphic equaliser",
        "pedal",
        (
            *(ControlSpec(f"{band} Hz", "fader", CUT_AND_BOOST) for band in OCTAVE_BANDS_HZ),
            ControlSpec("Level", "fader", CUT_AND_BOOST),
            _EFFECT,
        ),
    ),
    StartingLayout(
        "reamp_box",
        "Re-amp box",
        "reamp_box",
        (
            ControlSpec("Level", "knob", ZERO_TO_TEN),
            _selector("Pad", "0 dB", "−10 dB", "−20 dB"),
            _switch("Audio ground", "joined", "lifted"),
            _switch("Polarity", "normal", "inverted"),
        ),
    ),
    StartingLayout(
        "di_box",
        "DI box",
        "di_box",
        (
            _selector("Pad", "0 dB", "−20 dB", "−40 dB"),
            _switch("Audio ground", "joined", "lifted"),
            _switch("Polarity", "normal", "inverted"),
            _switch("Speaker filter"),
        ),
    ),
    StartingLayout(
        "microphone",
        "Microphone",
        "microphone",
        (_REMARK,),  # pattern, pad and low cut are noted with the placement
    ),
    StartingLayout(
        "dynamic_microphone", "Dynamic microphone", "microphone", (_REMARK,), GearFacts(ribbon=False)
    ),
    StartingLayout(
        "ribbon_microphone",
        "Ribbon microphone",
        "microphone",
        (_REMARK,),
        GearFacts(ribbon=True),
        _microphone_ports("must_not"),
    ),
    StartingLayout(
        "condenser_microphone",
        "Condenser microphone",
        "microphone",
        (_REMARK,),
        GearFacts(ribbon=False),
        _microphone_ports("needs"),
    ),
    StartingLayout(
        "preamp",
        "Preamp",
        "preamp",
        (
            ControlSpec("Gain", "knob", RangeScale(0, 60, "dB"), job="gain"),
            ControlSpec("Output trim", "knob", ZERO_TO_TEN),
            _switch("Pad", "0 dB", "−20 dB"),
            _switch("Low cut"),
            _switch("Polarity", "normal", "inverted"),
            _switch("Phantom power"),
            _selector("Input impedance", "low", "medium", "high"),
        ),
    ),
    StartingLayout(
        "interface",
        "Interface",
        "interface",
        (
            ControlSpec("Output level", "number", unit="dB", job="output_level"),
            ControlSpec("Input gain", "number", unit="dB", job="gain"),
            _selector("Input type", "microphone", "line", "instrument"),
            _switch("Phantom power"),
            ControlSpec("Output used", "text", job="output_used"),
            ControlSpec("Input used", "text", job="input_used"),
        ),
    ),
    StartingLayout(
        "cabinet",
        "Cabinet",
        "cabinet",
        (ControlSpec("Speakers", "text"), _selector("Back", "open", "closed")),
    ),
    StartingLayout(
        "load",
        "Load",
        "load",
        (
            _selector("Impedance", "4 Ω", "8 Ω", "16 Ω"),
            ControlSpec("Attenuation", "number", unit="dB"),
            ControlSpec("Line output level", "knob", ZERO_TO_TEN),
        ),
    ),
    StartingLayout(
        "attenuator",
        "Attenuator, between amp and speaker",
        "load",
        (
            ControlSpec("Attenuation", "number", unit="dB"),
            _selector("Impedance", "4 Ω", "8 Ω", "16 Ω"),
            _switch("Treble kept"),
        ),
        ports=(_SPEAKER_IN, Port("speaker", "Speaker output", "out", "speaker_jack", "speaker")),
    ),
    StartingLayout(
        "mixer_channel",
        "Mixer channel",
        "other",
        (
            ControlSpec("Gain", "knob", RangeScale(0, 60, "dB"), job="gain"),
            *(ControlSpec(name, "knob", CUT_AND_BOOST) for name in ("Low", "Mid", "High")),
            ControlSpec("Fader", "fader", FADER_MARKS),
        ),
    ),
    StartingLayout("empty", "Empty", "other", ()),
)


def starting_layout(key: str) -> StartingLayout:
    """The starting layout with this key. Raises ValueError where there is none."""
    for layout in STARTING_LAYOUTS:
        if layout.key == key:
            return layout
    raise ValueError(f"There is no starting layout called {key!r}.")
