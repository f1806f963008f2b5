"""What the desk answers when it cannot do what it was asked, in sentences for the person.

Refusal              something typed or brought in can be mended; a sentence for each field
└── EditedMeanwhile  somebody else saved first
NotThere             no such row (any more): no form can mend that, so it is never caught at one
"""

from collections.abc import Mapping


class Refusal(Exception):
    """`sentences` maps a field's name to what is wrong and what to do; the empty name is the whole form."""

    def __init__(self, sentences: Mapping[str, str]) -> None:
        super().__init__(" ".join(sentences.values()))
        self.sentences = dict(sentences)


class EditedMeanwhile(Refusal):
    """`saved` names what is saved now."""

    def __init__(self, noun: str, saved: int | str) -> None:
        super().__init__(
            {
                "": f"This {noun} was saved from another tab or device since you opened it. Both versions are shown: "
                "yours stands in the fields, the saved one beside it. Save again to replace it with yours."
            }
        )
        self.saved = saved


class NotThere(Exception):
    def __init__(self, noun: str, why: str = "It may have been deleted meanwhile.") -> None:
        super().__init__(f"This {noun} is not in the library. {why}")


class Complaints:
    """Gathers what is wrong with a form, so that the person is told everything at once."""

    def __init__(self) -> None:
        self.sentences: dict[str, str] = {}

    def add(self, field: str, sentence: str) -> None:
        self.sentences.setdefault(field, sentence)

    def refuse_if_any(self) -> None:
        if self.sentences:
            raise Refusal(self.sentences)
