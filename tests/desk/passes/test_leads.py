"""A pass is laid on its source's time line as one: by its earliest print, and by where that jumps."""

from dataclasses import replace

import pytest
from small_session import figures

from app.desk.passes.leads import lead_of
from app.signal.figures import AlignmentFigures, Piece, PrintFigures
from app.signal.listening.figures import Moved

RATE = 48_000


def parted(delay: float, *jumps: tuple[float, int]) -> PrintFigures:
    """A print of 60 s that lies so many samples later from each second of the source on."""
    pieces, from_s, now = [], 0.0, delay
    for to_s, change in [*jumps, (60.0, 0)]:
        pieces.append(Piece(from_s + now / RATE, to_s + now / RATE, from_s, to_s, now, 0.0, "same", 0.97))
        now += change
        from_s = to_s + max(0, -change) / RATE
    alignment = AlignmentFigures(delay, delay / 48, "same", 0.97, 0.0, True, tuple(pieces))
    made = figures()
    return replace(made, file=replace(made.file, sample_rate=RATE), alignment=alignment)


def test_a_microphone_whose_jump_was_not_found_goes_on_as_its_pass_does() -> None:
    near, far = parted(40.0, (20.0, -4800)), parted(130.0)
    lead = lead_of([far, near])
    assert lead is not None
    assert far.alignment is not None
    assert lead.delay_samples == 40.0
    moved = lead.moved_with(far.alignment, RATE)
    assert moved == (Moved(20.0, None), Moved(20.1, pytest.approx(-0.1)))


def test_a_jump_read_a_little_elsewhere_is_the_pass_s_own() -> None:
    near, far = parted(40.0, (20.0, -4800)), parted(130.0, (20.2, -4797))
    lead = lead_of([near, far])
    assert lead is not None
    assert far.alignment is not None
    assert lead.moved_with(far.alignment, RATE) == lead.moved


def test_a_print_that_jumps_elsewhere_than_its_pass_goes_its_own_way() -> None:
    near, far = parted(40.0, (20.0, -4800)), parted(130.0, (41.0, 960))
    lead = lead_of([near, far])
    assert lead is not None
    assert far.alignment is not None
    assert lead.moved_with(far.alignment, RATE) == (Moved(41.0, pytest.approx(0.02)),)
