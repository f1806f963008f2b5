"""What became of each case, frozen beside the gates by share: where one case is lost, or won, its line shows.

`python -m pytest tests/corpus --write-outcomes` writes the tables again.
"""

from pathlib import Path

from app.signal.figures import AlignmentFigures
from tests.corpus.cases import Made

ORDINARY_SAMPLES, HARD_SAMPLES = 2.0, 24.0
FROZEN = Path(__file__).parent / "outcomes"


def of_alignment(made: Made, found: AlignmentFigures | None) -> str:
    if found is None or not found.is_of_source or found.delay_samples is None:
        return "not recognised"
    allowed = HARD_SAMPLES if made.case.hard else ORDINARY_SAMPLES
    said = ["delay right" if abs(found.delay_samples - made.delay) <= allowed else "delay wrong"]
    if not made.sign:
        said.append(f"has no polarity, called {found.polarity}")
    elif found.polarity == "unclear":
        said.append("polarity unclear")
    else:
        said.append("polarity " + ("right" if (found.polarity == "same") == (made.sign > 0) else "wrong"))
    said.append("sure" if found.confidence > 0.9 else "unsure")
    return ", ".join(said)


def hold(name: str, outcomes: dict[str, str], *, write: bool) -> None:
    """Each line as it was frozen, or an assertion that names those which are not."""
    table = "".join(f"{case}: {outcome}\n" for case, outcome in outcomes.items())
    frozen = FROZEN / f"{name}.txt"
    if write:
        FROZEN.mkdir(exist_ok=True)
        frozen.write_text(table, encoding="utf-8")
    before = dict(line.rsplit(": ", 1) for line in frozen.read_text(encoding="utf-8").splitlines())
    changed = [
        f"{case}: was {before.get(case, 'not there')}, is {outcomes.get(case, 'not there')}"
        for case in {**before, **outcomes}
        if before.get(case) != outcomes.get(case)
    ]
    assert not changed, "\n".join(changed)
