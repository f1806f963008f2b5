"""The sockets of a piece of gear: connector, direction, level, and what they may be fed with."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass, fields, replace
from typing import Any, Literal, cast, get_args

from app.trade.gear_kinds import GearKind
from app.trade.json_values import list_of, mapping_of, number_of, number_or_null, text_of

Connector = Literal["xlr", "trs", "ts", "combo", "rca", "speaker_jack", "insert", "air"]
Direction = Literal["in", "out"]
LevelClass = Literal["microphone", "instrument", "line", "speaker", "sound"]
Phantom = Literal["none", "supplies", "needs", "must_not"]

CONNECTOR_LABELS: dict[Connector, str] = {
    "xlr": "XLR",
    "trs": "¼-inch TRS",
    "ts": "¼-inch TS",
    "combo": "combo (XLR or ¼-inch)",
    "rca": "RCA",
    "speaker_jack": "speaker jack",
    "insert": "insert",
    "air": "through the air",
}
LEVEL_LABELS: dict[LevelClass, str] = {
    "microphone": "microphone level",
    "instrument": "instrument level",
    "line": "line level",
    "speaker": "speaker level",
    "sound": "sound",
}
PHANTOM_LABELS: dict[Phantom, str] = {
    "none": "takes no notice of phantom power",
    "supplies": "can supply phantom power",
    "needs": "needs phantom power",
    "must_not": "must not see phantom power",
}


@dataclass(frozen=True)
class Port:
    """One socket, or a place where sound leaves or enters (connector "air").

    `level` is the class it is made for, `also_accepts` others an input can be switched to. Levels are rms, in dBu.
    `phantom`: "supplies" on inputs that can, "needs" and "must_not" on outputs of microphones and boxes. `hot_pin` is 2
    on an XLR after AES14-1992, 3 on some old gear. `stereo` marks a TRS socket that carries left and right.
    Anything not known is None. Raises ValueError with a sentence where the parts do not fit together.
    """

    key: str
    label: str
    direction: Direction
    connector: Connector
    level: LevelClass
    balanced: bool = False
    number: int | None = None
    also_accepts: tuple[LevelClass, ...] = ()
    nominal_dbu: float | None = None
    max_dbu: float | None = None
    impedance_ohm: float | None = None
    phantom: Phantom = "none"
    hot_pin: int = 2
    stereo: bool = False

    def __post_init__(self) -> None:
        if not self.key or not self.label.strip() or len(self.label) > 80:
            raise ValueError("A port has a key, and a label of 1 to 80 characters.")
        for value, allowed, what in (
            (self.direction, get_args(Direction), "direction"),
            (self.connector, get_args(Connector), "connector"),
            (self.level, get_args(LevelClass), "level"),
            (self.phantom, get_args(Phantom), "phantom power"),
        ):
            if value not in allowed:
                raise ValueError(f"A port's {what} is one of: {', '.join(allowed)}.")
        if (self.connector == "air") != (self.level == "sound"):
            raise ValueError("Sound travels through the air, and nothing else does.")
        if self.impedance_ohm is not None and not self.impedance_ohm > 0.0:
            raise ValueError("An impedance is above zero ohms.")
        if self.hot_pin not in (2, 3):
            raise ValueError("The hot pin of an XLR is 2, or 3 on some old gear.")
        if self.balanced and self.connector in ("ts", "rca", "speaker_jack", "air"):
            raise ValueError(
                f"A balanced port needs three contacts; {CONNECTOR_LABELS[self.connector]} has not."
            )

    def accepts(self, level: LevelClass) -> bool:
        """Whether an input is made for, or can be switched to, this level."""
        return level == self.level or level in self.also_accepts


def ports_as_known_today(
    then: Sequence[Port], today: Sequence[Port]
) -> tuple[tuple[Port, ...], frozenset[str]]:
    """The sockets a pass was logged with, with the figures that were not known then and are today, and what is known
    today of phantom power. Also returned: which were noted after the pass, as "port figure"."""
    now = {port.key: port for port in today}
    ports, since = [], set()
    for port in then:
        newer = now.get(port.key, port)
        learnt: dict[str, Any] = {
            name: getattr(newer, name)
            for name in ("impedance_ohm", "max_dbu")
            if getattr(port, name) is None and getattr(newer, name) is not None
        }
        if newer.phantom not in ("none", port.phantom):
            learnt["phantom"] = newer.phantom
        ports.append(replace(port, **learnt))
        since |= {f"{port.key} {name}" for name in learnt}
    return tuple(ports), frozenset(since)


def with_own_speaker(ports: Sequence[Port], own_speaker: bool | None) -> tuple[Port, ...]:
    """An amp's ports as its fact says: with a speaker to stand a microphone in front of where it has its own, without
    one where it has none, whatever the ports started with; as they are where it is not known."""
    has_one = any(port.direction == "out" and port.connector == "air" for port in ports)
    if own_speaker and not has_one:
        return (*ports, BUILT_IN_SPEAKER)
    if own_speaker is False and has_one:
        return tuple(port for port in ports if not (port.direction == "out" and port.connector == "air"))
    return tuple(ports)


def port_to_json(port: Port) -> dict[str, Any]:
    """The port as plain JSON values."""
    return asdict(port) | {"also_accepts": list(port.also_accepts)}


def port_from_json(data: object) -> Port:
    """A port from plain JSON values. Raises ValueError with a sentence on any shape it does not know."""
    values = mapping_of(data, "A port", {field.name for field in fields(Port)})
    for name in ("balanced", "stereo"):
        if not isinstance(values[name], bool):
            raise ValueError(f"A port's {name} is true or false.")
    accepts = list_of(values["also_accepts"], "What a port also accepts")
    if not set(map(str, accepts)) <= set(get_args(LevelClass)):
        raise ValueError("What a port also accepts is a list of levels.")
    number = number_or_null(values["number"], "A port's number")
    texts = {
        name: text_of(values[name], f"A port's {name}")
        for name in ("key", "label", "direction", "connector", "level", "phantom")
    }
    numbers = {
        name: number_or_null(values[name], f"A port's {name}")
        for name in ("nominal_dbu", "max_dbu", "impedance_ohm")
    }
    plain: dict[str, Any] = {**texts, **numbers, "balanced": values["balanced"], "stereo": values["stereo"]}
    return Port(
        **plain,
        number=None if number is None else int(number),
        also_accepts=cast(tuple[LevelClass, ...], tuple(accepts)),
        hot_pin=int(number_of(values["hot_pin"], "A hot pin")),
    )


def _line_outputs(count: int) -> tuple[Port, ...]:
    return tuple(
        Port(f"out{n}", f"Output {n}", "out", "trs", "line", balanced=True, number=n, nominal_dbu=4.0)
        for n in range(1, count + 1)
    )


def _combo_input(number: int) -> Port:
    return Port(
        f"in{number}",
        f"Input {number}",
        "in",
        "combo",
        "microphone",
        balanced=True,
        number=number,
        also_accepts=("line", "instrument"),
        phantom="supplies",
    )


def _line_input(number: int) -> Port:
    return Port(
        f"in{number}", f"Input {number}", "in", "trs", "line", balanced=True, number=number, nominal_dbu=4.0
    )


_INSTRUMENT_IN = Port("in", "Input", "in", "ts", "instrument")
_INSTRUMENT_OUT = Port("out", "Output", "out", "ts", "instrument", nominal_dbu=-20.0)
_SPEAKER_IN = Port("in", "Speaker input", "in", "speaker_jack", "speaker")
BUILT_IN_SPEAKER = Port("own_speaker", "Built-in speaker", "out", "air", "sound")
_SPEAKER_OUT = Port("speaker", "Speaker output", "out", "speaker_jack", "speaker")

STARTING_PORTS: dict[GearKind, tuple[Port, ...]] = {
    "amp": (_INSTRUMENT_IN, _SPEAKER_OUT),
    "cabinet": (_SPEAKER_IN, Port("sound", "Speaker", "out", "air", "sound")),
    "pedal": (_INSTRUMENT_IN, _INSTRUMENT_OUT),
    "microphone": (
        Port("sound", "Capsule", "in", "air", "sound"),
        Port("out", "Output", "out", "xlr", "microphone", balanced=True),
    ),
    "preamp": (
        Port("in", "Microphone input", "in", "xlr", "microphone", balanced=True, phantom="supplies"),
        Port("out", "Line output", "out", "trs", "line", balanced=True, nominal_dbu=4.0),
    ),
    "reamp_box": (
        Port("in", "Line input", "in", "xlr", "line", balanced=True, nominal_dbu=4.0),
        Port("out", "Instrument output", "out", "ts", "instrument", nominal_dbu=-20.0),
    ),
    "di_box": (
        _INSTRUMENT_IN,
        Port("through", "Through", "out", "ts", "instrument"),
        Port("out", "Output", "out", "xlr", "microphone", balanced=True),
    ),
    "interface": (*_line_outputs(4), _combo_input(1), _combo_input(2), _line_input(3), _line_input(4)),
    "load": (_SPEAKER_IN, Port("out", "Line output", "out", "trs", "line", balanced=True, nominal_dbu=4.0)),
    "other": (Port("in", "Input", "in", "ts", "line"), Port("out", "Output", "out", "ts", "line")),
}
"""Ports to start from, by kind, to be edited to match the piece at hand (common practice; nothing a manual must say)."""
