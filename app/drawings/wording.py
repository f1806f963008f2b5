"""Numbers as a drawing's labels and findings write them."""


def figure(value: float) -> str:
    """A number as it is, to six digits, with a true minus."""
    return f"{value:g}".replace("-", "−")


def decibels(value: float, *, signed: bool = False) -> str:
    """A level or a difference to a tenth of a decibel, without its unit."""
    rounded = round(value, 1) + 0.0  # adding zero turns -0.0 into 0.0
    return f"{rounded:+.1f}".replace("-", "−") if signed and rounded else f"{rounded:.1f}".replace("-", "−")


def hertz(value: float) -> str:
    """A nominal frequency: 31.5 Hz, 250 Hz, 1.25 kHz."""
    return f"{figure(value / 1000)} kHz" if value >= 1000 else f"{figure(value)} Hz"


def clock_time(seconds: float, *, decimals: int = 0) -> str:
    """A time in a recording: 0:07, 1:03.5, 1:02:03."""
    ticks = round(seconds * 10**decimals)
    whole, part = divmod(ticks, 10**decimals)
    minutes, second = divmod(whole, 60)
    tail = f"{second:02d}" + (f".{part:0{decimals}d}" if decimals else "")
    hours, minute = divmod(minutes, 60)
    return f"{hours}:{minute:02d}:{tail}" if hours else f"{minute}:{tail}"
