import pytest

from app.trade.control_jobs import is_lifted, is_turned_over, job_by_name
from app.trade.scales import ControlSpec, spec_from_json, spec_to_json
from app.trade.starting_layouts import STARTING_LAYOUTS


@pytest.mark.parametrize(
    ("name", "job"),
    [
        ("Polarity", "polarity"),
        ("Audio ground", "ground_lift"),
        ("Ground lift", "ground_lift"),
        ("Pad", "pad"),
        ("Input gain 2", "gain"),
        ("Make-up gain", ""),
        ("Output level", "output_level"),
        ("Treble", ""),
    ],
)
def test_a_new_control_has_the_job_of_its_name(name: str, job: str) -> None:
    assert job_by_name(name) == job


def test_a_control_that_was_written_before_jobs_were_has_that_of_its_name() -> None:
    written = spec_to_json(ControlSpec("Ground", "switch", positions=("joined", "lifted")))
    del written["job"]
    assert spec_from_json(written).job == "ground_lift"


def test_an_unknown_job_is_refused() -> None:
    with pytest.raises(ValueError, match="job is one of"):
        spec_from_json(spec_to_json(ControlSpec("Tone", "text")) | {"job": "sparkle"})


@pytest.mark.parametrize("position", ["inverted", "Reverse", "180°", "on"])
def test_polarity_is_turned_over_by_whatever_the_panel_calls_it(position: str) -> None:
    assert is_turned_over(position)


@pytest.mark.parametrize("position", ["normal", "0°", "off", ""])
def test_polarity_as_it_comes_is_not_turned_over(position: str) -> None:
    assert not is_turned_over(position)


def test_a_ground_that_is_not_clearly_lifted_counts_as_joined() -> None:
    assert is_lifted("Ground", "lifted")
    assert is_lifted("Ground lift", "on")
    assert not is_lifted("Ground", "on")
    assert not is_lifted("Ground lift", "off")


def test_no_starting_layout_leaves_a_pad_polarity_or_ground_unsaid() -> None:
    for layout in STARTING_LAYOUTS:
        for control in layout.controls:
            if job_by_name(control.name) in ("pad", "polarity", "ground_lift"):
                assert control.job == job_by_name(control.name), (layout.label, control.name)
