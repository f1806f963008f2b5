"""The drawings of a pass, made from its sheet: the same for the page, the recall sheet and the PDF."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import groupby

from app.desk.passes.compare import curves
from app.desk.passes.pass_sheets import PassSheet, PrintSheet, StepSheet
from app.desk.planning.hook_up import HookUpSheet
from app.drawings.chain import Parallel, Stage, chain
from app.drawings.placement import placement_views
from app.drawings.spectra import spectra
from app.drawings.svg import Drawing
from app.drawings.waveform import Fault, waveform
from app.trade.distances import LengthUnit
from app.trade.gear_kinds import kind_word
from app.trade.hook_up import PortRef
from app.trade.placements import Placement
from app.trade.routes import RouteKey


@dataclass(frozen=True)
class PassDrawings:
    """`waveforms` is by print id. What there is nothing to draw of is None or absent."""

    chain: Drawing
    placements: Drawing | None
    spectra: Drawing | None
    waveforms: dict[int, Drawing]


def draw_pass(
    sheet: PassSheet, *, unit: LengthUnit = "mm", width: int = 720, beside: int | None = None
) -> PassDrawings:
    """What is drawn of the prints is `beside` wide, where they stand beside the chain."""
    placed = [(step.gear_name, step.placement) for step in sheet.steps if _is_placed(step.placement)]
    spectra_of = curves([sheet])
    waveforms = {
        item.print_id: _waveform(item, beside or width) for item in sheet.prints if item.measured.figures
    }
    return PassDrawings(
        chain=chain(stages(sheet.steps), width=width),
        placements=placement_views(
            [placement for _, placement in placed if placement is not None],
            names=[name for name, _ in placed],
            unit=unit,
        )
        if placed
        else None,
        spectra=spectra(spectra_of, width=beside or width, height=260 if beside else 320)
        if spectra_of
        else None,
        waveforms={print_id: drawn for print_id, drawn in waveforms.items() if drawn is not None},
    )


def draw_signal_flow(plan: HookUpSheet, *, width: int) -> Drawing:
    """From the DAW through the chain and back to it, with the interface's sockets that are used."""
    steps = [step for step in plan.sheet.steps if step.kind != "interface"]
    daw = plan.hook_up.daw
    out = Stage("DAW", _sockets_of(plan, daw.send_outputs) or "no output yet")
    back = Stage(_BACK[plan.plan.route], _sockets_of(plan, daw.return_inputs) or "no input yet")
    return chain([out, *stages(steps, _round_the_preamp(plan)), back], width=width)


def _round_the_preamp(plan: HookUpSheet) -> frozenset[int]:
    """The microphones whose cables lead elsewhere than into the preamp behind them in the chain."""
    joints = list(plan.hook_up.joints())
    into = {joint.source.key: joint.target.kind for joint in joints if joint.source.kind == "microphone"}
    return frozenset(int(key) for key, kind in into.items() if kind != "preamp")


_SENT = Stage("Re-amp box, amp, microphone", "your gear")
ROUTES: dict[RouteKey, tuple[Stage | Parallel, ...]] = {
    "print": (Stage("Source track", "out of the main mix"), _SENT, Stage("New track", "in the main mix")),
    "insert": (
        Stage("Source’s channel", "insert send"),
        _SENT,
        Stage("The same channel", "insert return"),
    ),
    "parallel": (
        Stage("Source track", "stays in the mix"),
        Parallel(((Stage("Dry", "the source itself"),), (_SENT,))),
        Stage("Main mix", "both together"),
    ),
}


@cache  # the same for every pass
def draw_route(key: RouteKey, *, width: int) -> Drawing:
    """Where the source's signal goes on a route, whatever the gear."""
    return chain(ROUTES[key], width=width)


_BACK = {"print": "New track", "insert": "Insert return", "parallel": "Return track, beside the dry source"}


def _sockets_of(plan: HookUpSheet, refs: Sequence[PortRef]) -> str:
    ports = [plan.hook_up.port(ref) for ref in refs]
    return ", ".join(port.label.lower() for port in ports if port is not None)


def stages(steps: Sequence[StepSheet], round_the_preamp: Collection[int] = ()) -> list[Stage | Parallel]:
    """The chain as it is drawn: consecutive steps that carry a branch stand side by side, and so do microphones. Beside
    the preamp stand the microphones that go round it."""
    drawn: list[Stage | Parallel] = []
    for branched, group in groupby(steps, key=lambda step: bool(step.branch)):
        run = list(group)
        if not branched:
            rows = [list(same) for _, same in groupby(run, key=lambda step: step.kind == "microphone")]
            for row, behind in zip(rows, [*rows[1:], []], strict=True):
                past = [step for step in row if step.gear_id in round_the_preamp]
                if len(row) > 1 and row[0].kind == "microphone":
                    if behind and behind[0].kind == "preamp" and 0 < len(past) < len(row):
                        through = [step for step in row if step not in past]
                        ways = [_way([*through, behind.pop(0)]), *((_stage(step),) for step in past)]
                    else:
                        ways = [(_stage(step),) for step in row]
                    drawn.append(Parallel(tuple(ways)))
                else:
                    drawn += [_stage(step) for step in row]
            continue
        names = list(dict.fromkeys(step.branch for step in run))
        drawn.append(Parallel(tuple(_way([step for step in run if step.branch == name]) for name in names)))
    return drawn


def _way(steps: Sequence[StepSheet]) -> tuple[Stage, ...]:
    """One branch. Its microphones, which hear the same thing side by side, share a box."""
    way: list[Stage] = []
    for is_microphone, same in groupby(steps, key=lambda step: step.kind == "microphone"):
        row = list(same)
        if is_microphone and len(row) > 1:
            way.append(Stage(" + ".join(step.gear_name for step in row), "microphones"))
        else:
            way += [_stage(step) for step in row]
    return tuple(way)


def _stage(step: StepSheet) -> Stage:
    return Stage(step.gear_name, kind_word(step.kind))


def _is_placed(placement: Placement | None) -> bool:
    """Whether enough was noted to draw where a microphone stood."""
    if placement is None:
        return False
    return any(
        value is not None for value in (placement.distance_mm, placement.offset_mm, placement.angle_deg)
    )


def _waveform(item: PrintSheet, width: int) -> Drawing | None:
    figures = item.measured.figures
    if figures is None:
        return None
    faults = [Fault(run.at_s, "clips") for run in figures.faults.clipped_runs[:40]]
    faults += [Fault(dropout.at_s, dropout.kind) for dropout in figures.faults.dropouts[:40]]
    return waveform(
        figures.overview.columns,
        figures.file.duration_s,
        faults=faults,
        width=width,
        height=96 if width < 480 else 120,
    )
