"""Which way to turn a control that stands elsewhere than it should, in the words one says beside the amp."""

from app.trade.scales import STEPPED_FORMS, ControlSpec

A_LITTLE_DEGREES = 30.0
"""An hour on the clock face: what the fingers do without letting go."""


def turned_from(spec: ControlSpec, stands: float, wanted: float) -> str:
    """ "a little to the left"; of a fader "up"; nothing of what is switched from step to step."""
    if spec.form in STEPPED_FORMS:
        return ""
    way = ("up", "down") if spec.form == "fader" else ("to the right", "to the left")
    side = way[0] if wanted > stands else way[1]
    share = A_LITTLE_DEGREES / spec.travel.sweep_deg
    return f"a little {side}" if abs(wanted - stands) < share else side


def put_right(spec: ControlSpec, stands: float, wanted: float, reads: str, should: str) -> str:
    """ "a little to the left, 6.5 not 7"."""
    turn = turned_from(spec, stands, wanted)
    return f"{turn}, {should} not {reads}" if turn else f"{should} not {reads}"
