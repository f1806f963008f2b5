from dataclasses import replace

import pytest
from small_session import SmallSession, attach, figures, measured, step_of, tone

from app.desk.passes import differences, passes
from app.desk.passes.compare import curves, pair_curves, read_compared
from app.desk.passes.differences import tone_in_words
from app.desk.passes.ledger import build_ledger
from app.desk.passes.pass_sheets import read_pass
from app.desk.passes.passes import PassEntry
from app.desk.passes.placements import PlacementEntry
from app.desk.refusals import NotThere, Refusal
from app.desk.sheets.session_log import read_session_log
from app.desk.shelf import gear
from app.desk.shelf.gear import GearEntry
from app.library import Library
from app.signal.figures import BandLevel, PrintFigures


def test_two_to_eight_passes_are_compared_oldest_first(filled: Library, session: SmallSession) -> None:
    first, second, third = session.passes
    chosen = read_compared(filled, [third, first, second, first])
    assert [sheet.number for sheet in chosen] == [1, 2, 3]
    more = [passes.log_pass(filled, session.bass, PassEntry()) for _ in range(6)]
    assert len(read_compared(filled, [first, second, *more])) == 8
    with pytest.raises(Refusal, match="9 were chosen"):
        read_compared(filled, [first, second, third, *more])


@pytest.mark.parametrize("chosen", [[], [0], [0, 0]])
def test_fewer_than_two_are_no_comparison(filled: Library, session: SmallSession, chosen: list[int]) -> None:
    with pytest.raises(Refusal, match="Choose 2 to 8 passes"):
        read_compared(filled, [session.passes[at] for at in chosen])


def test_passes_of_different_sources_are_not_compared(filled: Library, session: SmallSession) -> None:
    other = passes.log_pass(filled, session.organ, PassEntry())
    with pytest.raises(Refusal, match="different sources"):
        read_compared(filled, [session.passes[0], other])


def test_a_pass_that_is_gone_is_said_to_be_gone(filled: Library, session: SmallSession) -> None:
    with pytest.raises(NotThere):
        read_compared(filled, [session.passes[0], 99])


def test_the_compared_columns_are_those_of_the_ledger(filled: Library, session: SmallSession) -> None:
    ledger = build_ledger(read_compared(filled, [session.passes[0], session.passes[2]]))
    drive = next(row for rows in ledger.gear for row in rows.rows if row.label == "Drive")
    assert [cell.reading for cell in drive.cells] == ["6.5 (Gain)", "7"]
    fuzz = next(row for rows in ledger.gear for row in rows.rows if row.label == "Fuzz")
    assert [cell.change for cell in fuzz.cells] == ["first", "absent"]


def test_every_measured_print_has_its_curve(filled: Library, session: SmallSession) -> None:
    measured(filled, figures())
    attach(filled, session.passes[2], tone(0.1, hz=555), label="room")
    measured(filled, figures())
    drawn = curves(read_compared(filled, list(session.passes)))
    assert [curve.name for curve in drawn] == [
        "Pass 1, small ribbon microphone",
        "Pass 3, odd.wav",
        "Pass 3, room",
    ]


def heard_as(levels: dict[float, float | None]) -> PrintFigures:
    """Figures of a print of which only its third-octave levels matter."""
    return replace(figures(), bands=tuple(BandLevel(hz, hz, level) for hz, level in levels.items()))


def log_prints(library: Library, source: int, **levels: dict[float, float | None]) -> int:
    """A pass with a print of each microphone named, measured to hold these levels."""
    pass_id = passes.log_pass(library, source, PassEntry())
    for at, (label, bands) in enumerate(levels.items()):
        attach(library, pass_id, tone(0.1, hz=300 + 20 * pass_id + at), label=label)
        measured(library, heard_as(bands))
    return pass_id


def test_a_pair_has_a_curve_for_each_microphone_that_both_passes_have(
    filled: Library, session: SmallSession
) -> None:
    measured(filled, figures())
    flat = {100.0: -20.0, 1000.0: -20.0}
    before = log_prints(filled, session.bass, near=flat, room=flat, rear=flat)
    after = log_prints(filled, session.bass, room=flat, near=flat, ceiling=flat)
    zero, *drawn = pair_curves(*read_compared(filled, [before, after]))
    assert (zero.name, [level for _, _, level in zero.bands]) == ("Pass 4", [0.0, 0.0])
    assert [curve.name for curve in drawn] == ["room", "near"]


def test_a_pair_is_drawn_later_minus_earlier_once_equally_loud(
    filled: Library, session: SmallSession
) -> None:
    measured(filled, figures())
    before = log_prints(filled, session.bass, near={100.0: -20.0, 1000.0: -20.0, 8000.0: -95.0})
    louder = log_prints(filled, session.bass, near={100.0: -14.0, 1000.0: -14.0, 8000.0: -99.0})
    brighter = log_prints(filled, session.bass, near={100.0: -20.0, 1000.0: -10.0, 8000.0: None})
    _, alike = pair_curves(*read_compared(filled, [before, louder]))
    assert [level for _, _, level in alike.bands] == [pytest.approx(0, abs=1e-6)] * 2 + [None]
    _, other = pair_curves(*read_compared(filled, [before, brighter]))
    # 1 + 10 instead of 1 + 1 parts of power: 7.404 dB louder, which is taken away again
    assert [level for _, _, level in other.bands] == [
        pytest.approx(-7.404, abs=1e-3),
        pytest.approx(2.596, abs=1e-3),
        None,
    ]


def test_a_pair_without_a_microphone_in_common_has_no_curves(filled: Library, session: SmallSession) -> None:
    measured(filled, figures())
    before = log_prints(filled, session.bass, near={100.0: -20.0}, room={100.0: -20.0})
    after = log_prints(filled, session.bass, far={100.0: -20.0}, rear={100.0: -20.0})
    assert pair_curves(*read_compared(filled, [before, after])) == []


def test_a_microphone_renamed_between_two_passes_is_one_and_is_compared(
    filled: Library, session: SmallSession
) -> None:
    measured(filled, figures())
    near, far = (
        gear.add_gear(filled, GearEntry(name, "microphone")) for name in ("Dynamic, ribbon", "Ribbon")
    )
    made = []
    for hz, name in ((300, "Dynamic"), (400, "Dynamic")):
        made.append(
            passes.log_pass(
                filled, session.bass, PassEntry(steps=(step_of(filled, near), step_of(filled, far)))
            )
        )
        for at, step in enumerate(read_pass(filled, made[-1]).steps):
            attach(filled, made[-1], tone(0.1, hz=hz + 20 * at), step_id=step.step_id)
            measured(filled, figures())
        gear.rename_gear(filled, near, name)
    before, after = read_compared(filled, made)
    rows = build_ledger([before, after]).prints
    assert [(row.name, all(row.cells)) for row in rows] == [("Dynamic", True), ("Ribbon", True)]
    assert [curve.name for curve in pair_curves(before, after)[1:]] == ["Dynamic", "Ribbon"]
    assert [words.partition(":")[0] for words in differences.difference(before, after).prints] == [
        "Dynamic",
        "Ribbon",
    ]


def test_two_microphones_of_one_name_are_not_compared_unless_a_person_called_them_alike(
    filled: Library, session: SmallSession
) -> None:
    measured(filled, figures())
    sheets = []
    for label in ("", "", "close", "close"):
        own = gear.add_gear(filled, GearEntry(f"Ribbon {len(sheets)}", "microphone"))
        gear.rename_gear(filled, own, "Ribbon")
        pass_id = passes.log_pass(filled, session.bass, PassEntry(steps=(step_of(filled, own),)))
        (step,) = read_pass(filled, pass_id).steps
        attach(filled, pass_id, tone(0.1, hz=300 + 20 * pass_id), step_id=step.step_id, label=label)
        measured(filled, figures())
        attach(filled, pass_id, tone(0.1, hz=900 + 20 * pass_id), label=f"other {pass_id}")
        measured(filled, figures())
        sheets.append(pass_id)
    one, other, close, closer = read_compared(filled, sheets)
    assert differences.pairs_of_prints(one, other) == []
    assert len(differences.pairs_of_prints(close, closer)) == 1


def test_the_session_log_holds_every_pass_of_every_source(filled: Library, session: SmallSession) -> None:
    passes.log_pass(filled, session.organ, PassEntry(title="swell"))
    log = read_session_log(filled, session.project)
    assert log.project.title == "Boathouse"
    assert [(source.name, [sheet.number for sheet in source.passes]) for source in log.sources] == [
        ("bass DI", [1, 2, 3]),
        ("organ line", [1]),
    ]
    assert log.sources[0].passes[0].keepers[0].reason == "The low end sits."


def test_a_project_without_a_source_has_an_empty_log(filled: Library, session: SmallSession) -> None:
    assert read_session_log(filled, session.project + 1).sources == ()
    with pytest.raises(NotThere):
        read_session_log(filled, 99)


def noisy(level: float, floor: float | None) -> PrintFigures:
    """A print whose upper bands lie at `level` over a floor; the rest is the same in all."""
    return replace(
        figures(),
        bands=tuple(
            BandLevel(hz, hz, -30.0, -90.0) if hz < 6000 else BandLevel(hz, hz, level, floor)
            for hz in (63.0, 250.0, 1000.0, 3150.0, 6300.0, 8000.0, 10_000.0)
        ),
    )


@pytest.mark.parametrize(
    ("before", "after", "is_compared"),
    [
        (noisy(-70, -71), noisy(-60, -60.5), False),
        (noisy(-70, -100), noisy(-60, -60.5), False),
        (noisy(-70, -80), noisy(-60, -80), True),
        (noisy(-70, None), noisy(-60, None), True),
    ],
)
def test_bands_that_hold_no_more_than_noise_are_left_out_and_said_to_be(
    before: PrintFigures, after: PrintFigures, is_compared: bool
) -> None:
    said = tone_in_words(before.bands, after.bands)
    assert ("6.3–16 kHz +10.0 dB" in said) == is_compared
    assert ("6.3–10 kHz left out: no more than noise" in said) == (not is_compared)


@pytest.mark.parametrize("louder_db", [2.4, 0.4])
def test_where_no_region_differs_the_furthest_band_is_said_as_the_curve_shows_it(
    filled: Library, session: SmallSession, louder_db: float
) -> None:
    measured(filled, figures())
    flat: dict[float, float | None] = dict.fromkeys(
        (630.0, 800.0, 1000.0, 1250.0, 1600.0, 2000.0, 2500.0, 3150.0, 4000.0, 5000.0), -30.0
    )
    before = log_prints(filled, session.bass, near=flat)
    after = log_prints(filled, session.bass, near=flat | {1600.0: -30.0 + louder_db})
    one, other = read_compared(filled, [before, after])
    _, curve = pair_curves(one, other)
    drawn = max(level for _, _, level in curve.bands if level is not None)
    (said,) = differences.difference(one, other).prints
    if louder_db > 1:
        assert f"a single band at most +{drawn:.1f} dB at 1.6 kHz" in said
        assert "no wider region differs by 1 dB" in said
    else:
        assert "no third-octave band differs by 1 dB" in said


def test_the_balance_of_several_microphones_is_compared(filled: Library, session: SmallSession) -> None:
    measured(filled, figures())
    made = []
    for near_lufs, room_lufs in ((-20.0, -24.0), (-19.0, -20.5)):
        pass_id = passes.log_pass(filled, session.bass, PassEntry())
        for at, (label, lufs) in enumerate((("near", near_lufs), ("room", room_lufs))):
            attach(filled, pass_id, tone(0.1, hz=500 + 20 * pass_id + at), label=label)
            measured(filled, figures(lufs=lufs))
        made.append(pass_id)
    before, after = read_compared(filled, made)
    assert "room +2.5 LU against near" in differences.difference(before, after).prints


def test_what_is_only_noted_now_is_no_turn_on_any_page(filled: Library, session: SmallSession) -> None:
    def log(distance: str, angle: str, **readings: str) -> int:
        near = replace(
            step_of(filled, session.near_mic), placement=PlacementEntry(distance=distance, angle=angle)
        )
        steps = (step_of(filled, session.amp, readings), near)
        return passes.log_pass(filled, session.bass, PassEntry(steps=steps))

    made = [
        log("30", "", Tone="noon", Mix="50"),
        log("30", "15", Tone="3:00", Drive="4"),
        log("45", "15", Tone="3:00", Drive="5"),
    ]
    before, after, moved = read_compared(filled, made)
    pairs = ((before, after, {"Tone"}), (after, moved, {"Drive", "placement"}))
    for one, other, expected in pairs:
        assert {turn.what for turn in build_ledger([one, other]).changes(1)} == expected
        assert len(differences.difference(one, other).settings) == len(expected)
    assert differences.difference(before, after).settings == ("Tone noon → 3:00",)
    (row,) = (
        row for gear in build_ledger([before, after]).gear for row in gear.rows if row.says == "placement"
    )
    assert not row.differs
