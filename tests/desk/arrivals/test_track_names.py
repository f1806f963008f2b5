"""Names for the next print's track, and files that carry them."""

from dataclasses import replace

import pytest
from small_session import SmallSession, put_on_shelf, step_of

from app.desk.arrivals import printing, track_names
from app.desk.arrivals.printing import PrintingEntry
from app.desk.passes import passes
from app.desk.passes.pass_sheets import read_pass
from app.desk.refusals import Refusal
from app.library import Library


def names(library: Library, pass_id: int) -> list[str]:
    with library.reading() as session:
        return [item.name for item in track_names.names_of_pass(session, pass_id)]


def test_there_is_one_name_for_each_microphone_or_return(filled: Library, session: SmallSession) -> None:
    box = put_on_shelf(filled, "DI box behind the amp", "di_box")
    entry = passes.entry_for_next(filled, session.bass)
    made = passes.log_pass(filled, session.bass, replace(entry, steps=(*entry.steps, step_of(filled, box))))
    assert names(filled, made) == [
        "bass DI pass 4 small ribbon microphone",
        "bass DI pass 4 DI box behind the amp",
    ]


def test_a_pass_without_microphones_has_one_name(filled: Library, session: SmallSession) -> None:
    made = passes.log_pass(filled, session.organ, passes.PassEntry())
    assert names(filled, made) == ["organ line pass 1"]


def test_the_next_pass_has_names_before_it_is_logged(filled: Library, session: SmallSession) -> None:
    steps = passes.step_forms(filled, passes.entry_for_next(filled, session.bass))
    printing.set_printing(filled, session.project, PrintingEntry("{source} {pass} {title} {mic}"))
    proposed = track_names.names_of_next(filled, session.bass, steps, "darker")
    assert [item.name for item in proposed] == ["bass DI 4 darker small ribbon microphone"]


def test_the_pattern_is_the_projects_own(filled: Library, session: SmallSession) -> None:
    printing.set_printing(filled, session.project, PrintingEntry("{artist}: {source} p{pass} {title}"))
    assert names(filled, session.passes[2]) == ["Invented Trio- bass DI p3 no fuzz"]


@pytest.mark.parametrize(
    ("pattern", "sentence"),
    [
        ("", "empty"),
        ("{mood} {pass}", "There is no {mood}"),
        ("{source", "no partner"),
        ("x" * 300, "300 characters"),
    ],
)
def test_a_pattern_that_names_nothing_is_refused(
    filled: Library, session: SmallSession, pattern: str, sentence: str
) -> None:
    with pytest.raises(Refusal) as refused:
        printing.set_printing(filled, session.project, PrintingEntry(pattern))
    assert sentence in refused.value.sentences["pattern"]


@pytest.mark.parametrize(
    "name",
    [
        "bass DI pass 2 small ribbon microphone.wav",
        "bounces/Bass_DI_pass_2_small_ribbon_microphone_07.aif",
        "BASS DI PASS 2 SMALL RIBBON MICROPHONE-1.wav",
    ],
)
def test_a_file_is_known_by_its_name(filled: Library, session: SmallSession, name: str) -> None:
    with filled.reading() as reading:
        place = track_names.place_of(name, track_names.places_by_name(reading, session.project))
    assert place is not None
    steps = {step.step_id: step.gear_name for step in read_pass(filled, session.passes[1]).steps}
    assert (place.pass_id, steps[place.step_id or 0]) == (session.passes[1], "small ribbon microphone")


@pytest.mark.parametrize(
    "name", ["bass DI pass 22 small ribbon microphone.wav", "bass DI pass 2.wav", "take.wav"]
)
def test_a_name_that_is_only_like_it_is_no_answer(filled: Library, session: SmallSession, name: str) -> None:
    with filled.reading() as reading:
        assert track_names.place_of(name, track_names.places_by_name(reading, session.project)) is None


def test_a_name_that_two_passes_share_is_no_answer(filled: Library, session: SmallSession) -> None:
    printing.set_printing(filled, session.project, PrintingEntry("{source} {mic}"))
    with filled.reading() as reading:
        assert track_names.places_by_name(reading, session.project) == {}
