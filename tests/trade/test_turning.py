import pytest

from app.trade.scales import ControlSpec, PercentScale, RangeScale
from app.trade.turning import put_right, turned_from

KNOB = ControlSpec("Treble", "knob", RangeScale(0, 10))
FADER = ControlSpec("Level", "fader", PercentScale())
SWITCH = ControlSpec("Bright", "switch", positions=("off", "on"))


@pytest.mark.parametrize(
    ("stands", "wanted", "says"),
    [
        (0.7, 0.65, "a little to the left"),
        (0.65, 0.7, "a little to the right"),
        (0.2, 0.65, "to the right"),
        (1.0, 0.0, "to the left"),
        (0.5, 0.599, "a little to the right"),
        (0.5, 0.601, "to the right"),
    ],
)
def test_a_knob_is_turned_clockwise_towards_more(stands: float, wanted: float, says: str) -> None:
    assert turned_from(KNOB, stands, wanted) == says


def test_a_fader_goes_up_and_down_and_a_switch_says_only_what_it_should() -> None:
    assert put_right(FADER, 0.75, 0.5, "75 %", "50 %") == "down, 50 % not 75 %"
    assert put_right(SWITCH, 1.0, 0.0, "on", "off") == "off not on"
    assert put_right(KNOB, 0.7, 0.65, "7", "6.5") == "a little to the left, 6.5 not 7"
