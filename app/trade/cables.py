"""The cable between two sockets, named by its two ends.

XLR after AES14-1992: male sends, female receives; so the end that goes into an input is male and the end that goes into
an output is female. The rest is common practice.
"""

from dataclasses import dataclass
from typing import Literal

from app.trade.ports import Port

CableKind = Literal["balanced", "unbalanced", "speaker", "insert", "none"]


@dataclass(frozen=True)
class Cable:
    """A cable by the plug at its source end and the plug at its target end. Kind "none" is sound through the air."""

    kind: CableKind
    source_end: str
    target_end: str

    @property
    def text(self) -> str:
        """ "¼-inch TRS to XLR male"; one name where both ends are the same."""
        if self.kind == "none":
            return "no cable: the microphone stands in front of the speaker"
        ends = (
            self.source_end
            if self.source_end == self.target_end
            else f"{self.source_end} to {self.target_end}"
        )
        return f"{ends}, speaker cable" if self.kind == "speaker" else ends


def cable_between(source: Port, target: Port) -> Cable:
    """The cable from an output to an input, whether or not the two should be joined."""
    if source.connector == "air" or target.connector == "air":
        return Cable("none", "", "")
    if source.level == "speaker" or target.level == "speaker":
        return Cable("speaker", _plug(source, target, balanced=False), _plug(target, source, balanced=False))
    if "insert" in (source.connector, target.connector):
        return Cable("insert", _plug(source, target, balanced=False), _plug(target, source, balanced=False))
    balanced = source.balanced and target.balanced
    kind: CableKind = "balanced" if balanced else "unbalanced"
    return Cable(kind, _plug(source, target, balanced=balanced), _plug(target, source, balanced=balanced))


def _plug(port: Port, other: Port, *, balanced: bool) -> str:
    jack = "¼-inch TRS" if balanced else "¼-inch TS"
    match port.connector:
        case "xlr":
            return "XLR male" if port.direction == "in" else "XLR female"
        case "combo":
            if other.connector == "xlr" or other.level == "microphone":
                return "XLR male" if port.direction == "in" else "XLR female"
            return jack
        case "trs":
            return "¼-inch TRS" if port.stereo else jack
        case "ts" | "speaker_jack":
            return "¼-inch TS"
        case "rca":
            return "RCA"
        case "insert":
            return "¼-inch TRS (insert lead)"
        case "air":
            return ""
