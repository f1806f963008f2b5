"""A figure and its unit stand on one line: the space between them does not break. Pages and printed sheets both ask here."""

import re

NO_BREAK = "\u00a0"

UNITS = (
    r"dB(?:u|V|A|FS|TP| SPL)?", "LUFS", "LU", "[kM]?Hz", "[mμµ]?s", "min", "h", "[cm]?m", "[mkμµ]?V", "[kM]?Ω", "m?A", "[mk]?W",
    "ppm", "%", "°C?", "samples?", "bits?", "smp", "bytes", "[kMG]B", "bpm", "ft", r"in(?=\s*(?:[.,;:)·<]|\Z))",
)  # fmt: skip
"""As they are written behind a figure. "in" is an inch only where no word follows it."""

BEGINS = "[dLkMHcmμµhsVΩAWp%°Gbfi]"
"""The letters that units begin with: asked first, for most figures are followed by something else."""
FIGURE = "[0-9½¼¾]"
GAP = r"(?: |\n *)"
UNIT = rf"(?={BEGINS})(?:{'|'.join(UNITS)})(?!\w)"
_BETWEEN = re.compile(rf"({FIGURE}){GAP}(?={UNIT})")


def unbroken(words: str) -> str:
    """The words with no break between a figure and its unit."""
    return _BETWEEN.sub(lambda found: found[1] + NO_BREAK, words)
