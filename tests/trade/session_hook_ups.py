"""The three standard hook-ups, wired right, for the tests to spoil one thing at a time."""

from dataclasses import replace

from app.trade.hook_up import DawRouting, Device, HookUp, PortRef, wire
from app.trade.ports import STARTING_PORTS
from app.trade.routes import RouteKey

MAIN_OUTPUTS = (PortRef("interface", "out1"), PortRef("interface", "out2"))
SEND = PortRef("interface", "out3")

INTERFACE = Device("interface", "interface", "interface", STARTING_PORTS["interface"], mains_earthed=True)
BOX = Device("box", "re-amp box", "reamp_box", STARTING_PORTS["reamp_box"], isolated=True)
FUZZ = Device("fuzz", "silicon fuzz", "pedal", STARTING_PORTS["pedal"])
AMP = Device(
    "amp",
    "15-watt valve amp",
    "amp",
    STARTING_PORTS["amp"],
    valve=True,
    mains_earthed=True,
    rated_load_ohm=8.0,
)
CABINET = Device(
    "cabinet",
    "1×12 cabinet",
    "cabinet",
    tuple(
        replace(port, impedance_ohm=8.0 if port.level == "speaker" else None)
        for port in STARTING_PORTS["cabinet"]
    ),
)
RIBBON = Device(
    "ribbon",
    "small ribbon microphone",
    "microphone",
    tuple(
        replace(port, phantom="must_not" if port.connector == "xlr" else "none")
        for port in STARTING_PORTS["microphone"]
    ),
    ribbon=True,
    max_spl_db=130.0,
)
CONDENSER = Device(
    "condenser",
    "small condenser microphone",
    "microphone",
    tuple(
        replace(port, phantom="needs" if port.connector == "xlr" else "none")
        for port in STARTING_PORTS["microphone"]
    ),
    ribbon=False,
    max_spl_db=140.0,
)
PREAMP = Device("preamp", "valve preamp", "preamp", STARTING_PORTS["preamp"], mains_earthed=True)
DI = Device("di", "DI box", "di_box", STARTING_PORTS["di_box"], isolated=True)


def hook_up_of(route: RouteKey, *paths: list[Device]) -> HookUp:
    devices = tuple({device.key: device for path in paths for device in path}.values())
    links = wire(paths, MAIN_OUTPUTS).links
    returns = tuple(link.target for link in links if link.target.device == "interface")
    daw = DawRouting(
        (SEND,), MAIN_OUTPUTS, returns, MAIN_OUTPUTS, "pre_fader" if route == "parallel" else None
    )
    return HookUp(route, devices, links, daw, sound_level_db_spl=(("ribbon", 118.0), ("condenser", 118.0)))


def print_hook_up() -> HookUp:
    """An amp and a ribbon microphone, printed to a new track."""
    return hook_up_of("print", [INTERFACE, BOX, AMP, CABINET, RIBBON, INTERFACE])


def insert_hook_up() -> HookUp:
    """A pedal on a hardware insert, back through a DI box."""
    return hook_up_of("insert", [INTERFACE, BOX, FUZZ, DI, INTERFACE])


def parallel_hook_up() -> HookUp:
    """A pedal and an amp with two microphones beside the dry source."""
    right = hook_up_of(
        "parallel",
        [INTERFACE, BOX, FUZZ, AMP, CABINET, RIBBON, PREAMP, INTERFACE],
        [INTERFACE, BOX, FUZZ, AMP, CABINET, CONDENSER, INTERFACE],
    )
    return replace(right, phantom_on=frozenset({PortRef("interface", "in1")}))
