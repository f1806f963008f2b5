"""The numbers of a control's scale and where on its travel they lie."""

from bisect import bisect_right
from math import floor, log10

from app.trade.scales import ControlSpec, MarkScale, PercentScale, RangeScale
from app.trade.travel import clock_text
from app.trade.written_numbers import same_unit


def value_at(spec: ControlSpec, position: float) -> float | None:
    """The scale's own number at a position; None where the control has none there (a clock, beyond the last mark)."""
    match spec.scale:
        case RangeScale(low, high):
            return _clean(low + position * (high - low))
        case PercentScale():
            return _clean(position * 100.0)
        case MarkScale(marks=marks) if marks[0][1] - 1e-8 <= position <= marks[-1][1] + 1e-8:
            after = min(bisect_right([at for _, at in marks], position), len(marks) - 1)
            (value_0, at_0), (value_1, at_1) = marks[after - 1], marks[after]
            return _clean(value_0 + (value_1 - value_0) * (position - at_0) / (at_1 - at_0))
        case _:
            return None


def position_of_mark_value(scale: MarkScale, value: float) -> tuple[float, bool]:
    """The position of a value on printed marks, and whether it lies between two of them.

    Beyond the last mark the line through the last two goes on, for the slack of a reading.
    """
    marks = scale.marks if scale.marks[0][0] < scale.marks[-1][0] else scale.marks[::-1]
    after = min(max(1, bisect_right([printed for printed, _ in marks], value)), len(marks) - 1)
    (value_0, at_0), (value_1, at_1) = marks[after - 1], marks[after]
    position = at_0 + (at_1 - at_0) * (value - value_0) / (value_1 - value_0)
    return position, all(value != printed for printed, _ in marks)


def position_of_zero(spec: ControlSpec) -> float | None:
    """Where a scale that runs to both sides of zero, or a fader past unity gain, has its zero."""
    match spec.scale:
        case RangeScale(low, high) if min(low, high) <= 0 <= max(low, high):
            return -low / (high - low)
        case MarkScale(marks=marks):
            return next((at for value, at in marks if value == 0), None)
        case _:
            return None


def zero_is_lower_end(spec: ControlSpec) -> bool:
    """Whether "off" and "zero" mean the anticlockwise end, as on a clock, a percentage, or a scale from 0 up."""
    match spec.scale:
        case RangeScale(low=low):
            return low == 0
        case MarkScale(marks=marks):
            return marks[0] == (0.0, 0.0)
        case _:
            return True


def falls(spec: ControlSpec) -> bool:
    """Whether the printed numbers fall as the control is turned up."""
    match spec.scale:
        case RangeScale(low, high):
            return high < low
        case MarkScale(marks=marks):
            return marks[-1][0] < marks[0][0]
        case _:
            return False


def reads_db(spec: ControlSpec) -> bool:
    """Whether the scale is printed in dB."""
    return isinstance(spec.scale, RangeScale | MarkScale) and same_unit(spec.scale.unit, "dB")


def reads_percent(spec: ControlSpec) -> bool:
    """Whether the scale's own numbers are percentages other than those of the travel."""
    return isinstance(spec.scale, RangeScale | MarkScale) and same_unit(spec.scale.unit, "%")


def range_step(low: float, high: float) -> float:
    """The step of a printed range: the largest of 1 and 5 times a power of ten that gives at least forty steps."""
    finest = abs(high - low) / 40 * (1 + 1e-9)
    power = 10.0 ** floor(log10(finest))
    return 5 * power if 5 * power <= finest else power


def mark_resolution(marks: tuple[tuple[float, float], ...], position: float) -> float:
    """A power of ten no coarser than half a percent of travel between the marks around a position."""
    after = min(bisect_right([at for _, at in marks], position), len(marks) - 1)
    (value_0, at_0), (value_1, at_1) = marks[after - 1], marks[after]
    return float(10.0 ** floor(log10(abs(value_1 - value_0) / (at_1 - at_0) * 0.005)))


def ends_text(spec: ControlSpec) -> str:
    """The scale from end to end in words: "−15 to 15 dB"."""
    match spec.scale:
        case RangeScale(low, high, unit):
            return with_unit(f"{plain_text(low)} to {plain_text(high)}", unit)
        case MarkScale(unit, marks):
            return with_unit(f"{plain_text(marks[0][0])} to {plain_text(marks[-1][0])}", unit)
        case PercentScale():
            return "0 to 100 %"
        case _:
            return f"{clock_text(spec.travel.start_deg)} to {clock_text(spec.travel.end_deg)}"


def decimal_text(value: float, step: float, *, signed: bool = False) -> str:
    """A number with the decimals its step needs, and one more where the value lies between two steps."""
    decimals = max(0, -floor(log10(step) + 1e-9))
    if abs(value - round(value, decimals)) > 0.05 * step:
        decimals += 1
    text = f"{value:.{decimals}f}"
    if float(text) == 0:
        return text.lstrip("-")
    return text.replace("-", "−") if value < 0 else f"+{text}" if signed else text


def plain_text(value: float) -> str:
    """A number without needless zeros, with a true minus sign."""
    return f"{value:.10g}".replace("-", "−")


def with_unit(number: str, unit: str) -> str:
    """A number and its unit, if it has one."""
    return f"{number} {unit}" if unit else number


def _clean(value: float) -> float:
    return float(f"{value:.10g}")
