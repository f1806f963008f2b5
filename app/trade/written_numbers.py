"""Numbers and quantities as people write them: "6,5", "2 1/2", "−3 dB", "0.12 s", "4k7"."""

import re
import unicodedata

TEXT_LIMIT = 80

UNIT_FACTORS: dict[str, tuple[str, float]] = {
    "s": ("s", 1.0),
    "sec": ("s", 1.0),
    "ms": ("s", 1e-3),
    "msec": ("s", 1e-3),
    "μs": ("s", 1e-6),
    "us": ("s", 1e-6),
    "Hz": ("Hz", 1.0),
    "kHz": ("Hz", 1e3),
    "V": ("V", 1.0),
    "mV": ("V", 1e-3),
    "μV": ("V", 1e-6),
    "A": ("A", 1.0),
    "mA": ("A", 1e-3),
    "W": ("W", 1.0),
    "mW": ("W", 1e-3),
    "kW": ("W", 1e3),
    "Ω": ("Ω", 1.0),
    "ohm": ("Ω", 1.0),
    "ohms": ("Ω", 1.0),
    "kΩ": ("Ω", 1e3),
    "kohm": ("Ω", 1e3),
    "kohms": ("Ω", 1e3),
    "MΩ": ("Ω", 1e6),
    "Mohm": ("Ω", 1e6),
    "Mohms": ("Ω", 1e6),
    "m": ("m", 1.0),
    "cm": ("m", 1e-2),
    "mm": ("m", 1e-3),
    "dB": ("dB", 1.0),
    "bpm": ("bpm", 1.0),
    "%": ("%", 1.0),
    "percent": ("%", 1.0),
    "per cent": ("%", 1.0),
    "pct": ("%", 1.0),
    "°": ("°", 1.0),
    "deg": ("°", 1.0),
    "degrees": ("°", 1.0),
    "degree": ("°", 1.0),
}
"""Each unit's base and its factor to it: the SI prefixes that occur beside a control."""

_THOUSANDS_BASES = ("Hz", "Ω")  # where "4k7" and "4k" are written without naming the unit (IEC 60062)
_FRACTIONS = str.maketrans(
    {fraction: " " + unicodedata.normalize("NFKC", fraction) for fraction in "½⅓⅔¼¾⅕⅖⅗⅘⅙⅚⅛⅜⅝⅞"}
)
_PLAIN = str.maketrans({"\u2212": "-", "\u2044": "/", "\u2019": "'", "\u2018": "'", "\u201d": '"'})
_NUMBER_WORDS = {
    "zero": "0", "one": "1", "two": "2", "three": "3", "four": "4", "five": "5", "six": "6", "seven": "7",
    "eight": "8", "nine": "9", "ten": "10", "eleven": "11", "twelve": "12", "thirteen": "13", "fourteen": "14",
    "fifteen": "15", "twenty": "20", "thirty": "30", "forty": "40", "fifty": "50",
}  # fmt: skip
_NUMBER = re.compile(
    r"(?P<sign>[+-]?)\s*(?:(?P<whole>\d+)\s+(?P<top>\d+)/(?P<bottom>\d+)|(?P<over>\d+)/(?P<under>\d+)"
    r"|(?P<thousands>\d+)k(?P<hundreds>\d+)|(?P<plain>\d+(?:[.,]\d+)?|[.,]\d+))\s*(?P<rest>[^\d\s].*|)",
    re.ASCII | re.DOTALL,
)


class NotANumber(ValueError):
    """Text that is not one number, or not in a unit that fits. Its sentence says which."""


def tidy(text: str) -> str:
    """One spelling for the many ways a keyboard or a phone writes the same: signs, quotes, fractions, spaces."""
    if not text.isascii():
        text = unicodedata.normalize("NFKC", text.translate(_FRACTIONS)).translate(_PLAIN)
    text = re.sub(r"^[\u2012\u2013\u2014](?=\s*[\d.,])", "-", text.strip())
    return " ".join(text.split())


def words_to_digits(text: str) -> str:
    """Number words as digits in lower-case text: "twenty-five to three" gives "25 to 3", "six and a half" gives "6 1/2"."""
    text = re.sub(r"\b(minus|plus) (?=[\w.,])", lambda sign: "-" if sign[1] == "minus" else "+", text)
    text = re.sub(r"[a-z]+", lambda word: _NUMBER_WORDS.get(word[0], word[0]), text)
    text = re.sub(r"\b([2-5]0)[ -]([1-9])\b", lambda tens: str(int(tens[1]) + int(tens[2])), text)
    text = re.sub(r"\b(\d+) and a half\b", r"\1 1/2", text)
    text = re.sub(r"\b(\d+) and (?:a|1) quarter\b", r"\1 1/4", text)
    text = re.sub(r"\b(\d+) and 3 quarters\b", r"\1 3/4", text)
    return re.sub(r"\b(\d+) point (\d+)\b", r"\1.\2", text)


def split_number(text: str) -> tuple[float, str]:
    """The number at the start of `text` and whatever follows it (a unit, or nothing).

    Raises NotANumber where there is none, where a fraction divides by zero, or where a comma may mean thousands.
    """
    found = _NUMBER.fullmatch(tidy(text))
    if found is None or len(text) > TEXT_LIMIT:
        raise NotANumber(f"{quoted(text)} is not a number.")
    try:
        return _signed_value(found), found["rest"].strip()
    except ZeroDivisionError:
        raise NotANumber(f"{quoted(text)} divides by zero.") from None


def read_quantity(text: str, unit: str) -> float:
    """A number with or without its unit, as a value in `unit`; a kindred unit is converted ("0.12 s" is 120 ms).

    Raises NotANumber where the text holds no number, or a unit that is not of this kind.
    """
    value, written_unit = split_number(text)
    base, factor = _known_unit(unit) or (unit, 1.0)
    if same_unit(written_unit, unit):
        return value
    if written_unit == "k" or (not written_unit and "k" in text):
        if unit and base not in _THOUSANDS_BASES:
            raise NotANumber(f"{quoted(text)} is written in thousands, which does not fit {unit}.")
        return value * (1000.0 if written_unit else 1.0) / factor
    if not written_unit:
        return value
    written_base, written_factor = _known_unit(written_unit) or (written_unit, 1.0)
    if not unit or written_base != base:
        raise NotANumber(
            f"“{shortened(written_unit)}” is not a unit of this; it is {unit or 'a bare number'}."
        )
    return value * (written_factor / factor)


def quantity_as_written(text: str, words: str, unit: str) -> float:
    """A quantity from the text as written, since units tell upper from lower case; failing that, from its words as digits.

    Raises NotANumber.
    """
    try:
        return read_quantity(text, unit)
    except NotANumber as problem:
        try:
            return read_quantity(words, unit)
        except NotANumber:
            raise problem from None


def same_unit(one: str, other: str) -> bool:
    """Whether two unit texts name the same unit, upper and lower case aside (but MΩ is not mΩ)."""
    one, other = tidy(one), tidy(other)
    return one == other or (one.casefold() == other.casefold() and one[:1] not in ("m", "M"))


def quoted(text: str) -> str:
    """Text as it may stand in a sentence: in quotation marks, shortened."""
    return f"“{shortened(text)}”"


def shortened(text: str, limit: int = 40) -> str:
    """Text on one line, of at most `limit` characters."""
    line = " ".join("".join(c if c.isprintable() else " " for c in text[: limit * 4]).split())
    return line if len(line) <= limit else line[: limit - 1] + "…"


def _signed_value(found: re.Match[str]) -> float:
    sign = -1.0 if found["sign"] == "-" else 1.0
    if found["whole"]:
        return sign * (float(found["whole"]) + float(found["top"]) / float(found["bottom"]))
    if found["over"]:
        return sign * float(found["over"]) / float(found["under"])
    if found["thousands"]:
        return sign * 1000.0 * float(f"{found['thousands']}.{found['hundreds']}")
    plain: str = found["plain"]
    if re.fullmatch(r"[1-9]\d{0,2},\d{3}", plain):
        whole, decimals = plain.split(",")
        fraction = f"{whole}.{decimals.rstrip('0') or '0'}"
        raise NotANumber(f"Is {plain} in thousands, or a fraction? Write {whole}{decimals} or {fraction}.")
    return sign * float(plain.replace(",", "."))


def _known_unit(unit: str) -> tuple[str, float] | None:
    unit = tidy(unit)
    if unit in UNIT_FACTORS:
        return UNIT_FACTORS[unit]
    alike = [known for name, known in UNIT_FACTORS.items() if name.casefold() == unit.casefold()]
    return alike[0] if len(alike) == 1 else None
