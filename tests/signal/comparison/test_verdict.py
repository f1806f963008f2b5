"""From differences to verdict, findings and where to look."""

import json
from dataclasses import replace

import pytest

from app.signal.comparison.spread import Spread, spread_of
from app.signal.comparison.tolerances import tolerances
from app.signal.comparison.verdict import judged
from app.signal.figures import BandDifference, MatchFigures, Verdict, match_figures_from_json, to_json
from app.signal.levels.third_octaves import mid_hz

BANDS = range(-13, 9)
NOTHING_OFF = MatchFigures(
    verdict=None,
    level_difference_db=0.1,
    delay_difference_samples=0.2,
    polarity="same",
    null_depth_db=-30.0,
    bands=tuple(BandDifference(mid_hz(at), 0.1) for at in BANDS),
    findings=(),
    crest_difference_db=0.1,
    drive_difference_db=0.2,
    delay_difference_ms=0.004,
    noise_difference_db=0.5,
)


def tone(changes: dict[range, float]) -> tuple[BandDifference, ...]:
    by_band = {at: db for bands, db in changes.items() for at in bands}
    return tuple(BandDifference(mid_hz(at), by_band.get(at, 0.0)) for at in BANDS)


def test_nothing_off_is_a_match_with_nowhere_to_look() -> None:
    figures = judged(NOTHING_OFF)
    assert (figures.verdict, figures.findings, figures.look_first) == (
        "match",
        ("Nothing that matters is off.",),
        (),
    )


@pytest.mark.parametrize(
    ("changed", "verdict"),
    [
        ({"level_difference_db": -0.49}, "match"),
        ({"level_difference_db": -0.6}, "close"),
        ({"level_difference_db": 2.1}, "different"),
        ({"bands": tone({range(2, 5): 0.9})}, "match"),
        ({"bands": tone({range(2, 5): -1.4})}, "close"),
        ({"bands": tone({range(2, 5): 3.5})}, "different"),
        ({"crest_difference_db": 1.2}, "close"),
        ({"crest_difference_db": -3.2}, "different"),
        ({"drive_difference_db": 2.0}, "close"),
        ({"drive_difference_db": None}, "match"),
        ({"drive_difference_db": -6.0}, "different"),
        ({"delay_difference_samples": 40.0, "delay_difference_ms": 0.83}, "match"),
        ({"delay_difference_samples": -192_000.0, "delay_difference_ms": -4000.0}, "match"),
        ({"polarity": "inverted"}, "different"),
        ({"polarity": "unclear"}, "match"),
        ({"noise_difference_db": 20.0, "recalled_hum_dbfs": -50.0}, "match"),
    ],
    ids=str,
)
def test_the_worst_figure_decides_and_neither_noise_nor_arrival_does(
    changed: dict[str, object], verdict: Verdict
) -> None:
    assert judged(replace(NOTHING_OFF, **changed)).verdict == verdict  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("changed", "first_words", "also"),
    [
        ({"polarity": "inverted"}, "Polarity:", "pins"),
        (
            {"bands": tone({range(3, 9): -3.0})},
            "3 dB less from 2 kHz to 6.3 kHz: treble or presence",
            "level and delay agree, so the distance is right, and drive agrees, so the gain is right",
        ),
        (
            {"bands": tone({range(-13, -7): 2.0})},
            "2 dB more from 50 Hz to 160 Hz: the bass control;",
            "distance is right",
        ),
        ({"level_difference_db": 1.5, "null_depth_db": -40.0}, "Only the level is off", "send is right"),
        (
            {"level_difference_db": 1.5, "null_depth_db": -28.0},
            "Level: the send level, then",
            "cannot be told",
        ),
        (
            {"level_difference_db": -5.0, "crest_difference_db": 2.0},
            "Level: the send level or a gain",
            "peaks move",
        ),
        (
            {"level_difference_db": 1.5, "drive_difference_db": 3.0},
            "There is more distortion and more level",
            "send",
        ),
        ({"drive_difference_db": -3.0}, "There is less distortion but not less level", "makes up"),
        (
            {
                "level_difference_db": -1.5,
                "delay_difference_samples": 14.0,
                "delay_difference_ms": 0.29,
                "bands": tone({range(-13, -7): -2.0}),
            },
            "The arrival fits a microphone about 100 mm further away",
            "measure the distance first",
        ),
        (
            {"bands": tone({range(-10, -6): 5.0, range(-4, -1): -4.0, range(2, 5): 6.0})},
            "The bands differ up and down in many places",
            "every piece",
        ),
        (
            {"bands": tone({range(-13, -9): 6.0, range(9): -12.0}), "delay_difference_samples": 2.6},
            "The bands differ up and down in many places",
            "every piece",
        ),
        ({"recalled_hum_dbfs": -55.0}, "Noise and hum:", "Never lift the mains earth"),
    ],
    ids=str,
)
def test_what_agrees_says_where_to_look(changed: dict[str, object], first_words: str, also: str) -> None:
    figures = judged(replace(NOTHING_OFF, **changed))  # type: ignore[arg-type]
    assert figures.look_first[0].startswith(first_words), figures.look_first
    assert also in figures.look_first[0]


def test_two_causes_that_fit_are_both_told_with_what_speaks_for_and_against_each() -> None:
    quieter = replace(
        NOTHING_OFF, level_difference_db=-1.5, delay_difference_samples=14.0, delay_difference_ms=0.29
    )
    level, microphone = judged(quieter).causes
    assert (level.cause, level.speaks_for) == ("level", ("1.5 dB less", "all bands moved alike"))
    assert (microphone.cause, microphone.speaks_against) == ("microphone", ("bass did not move",))


def test_an_arrival_that_alone_moved_is_a_finding_and_no_cause() -> None:
    later = judged(replace(NOTHING_OFF, delay_difference_samples=5.3, delay_difference_ms=0.11))
    assert later.findings == (
        "It arrives 0.11 ms (5.3 samples) later: the DAW's delay or buffer, or 40 mm of air if the microphone moved.",
    )
    assert (later.verdict, later.causes) == ("match", ())


def test_a_filter_moves_some_bands_and_no_gain() -> None:
    """The loudness moves with it; the bands that agree on 0 dB say that no gain was touched."""
    shelf = replace(
        NOTHING_OFF,
        level_difference_db=-1.1,
        bands=tuple(BandDifference(mid_hz(at), (0.0 if at < 2 else -3.0) + 1.1) for at in BANDS),
        gain_difference_db=0.0,
        gain_share=0.7,
    )
    assert [cause.cause for cause in judged(shelf).causes] == ["tone"]


@pytest.mark.parametrize(("error_db", "verdict"), [(0.0, "close"), (0.4, "match"), (0.8, None)])
def test_what_a_moving_chain_does_by_itself_is_tolerated_or_left_open(
    error_db: float, verdict: Verdict | None
) -> None:
    bands = tuple(BandDifference(band.mid_hz, 1.15 if error_db < 0.5 else 2.2, error_db) for band in tone({}))
    found = judged(replace(NOTHING_OFF, bands=bands, compared_s=10.0))
    assert found.verdict == verdict
    if verdict is None:
        assert "cannot be told" in found.findings[0]
        assert found.findings[1] == "About 15 s of the same part would tell."


def test_a_filter_that_moves_the_arrival_a_little_is_no_microphone_that_moved() -> None:
    bass = replace(
        NOTHING_OFF,
        bands=tone({range(-13, -9): -2.5}),
        level_difference_db=-1.0,
        delay_difference_samples=-3.6,
        delay_difference_ms=-0.075,
    )
    assert not any("microphone 26 mm" in said for said in judged(bass).look_first)


def test_a_level_that_is_off_keeps_drive_from_being_called_right() -> None:
    off = replace(NOTHING_OFF, level_difference_db=-3.7, bands=tone({range(-4, 0): -3.6}))
    assert not any("drive agree" in said for said in judged(off).look_first)


def test_what_could_not_be_compared_is_left_alone() -> None:
    unknown = MatchFigures(None, None, None, "unclear", None, (), ("Nothing to compare.",))
    assert judged(unknown) is unknown


def test_a_comparison_is_judged_again_from_what_was_kept_of_it() -> None:
    off = judged(replace(NOTHING_OFF, bands=tone({range(3, 9): -3.0})))
    kept = json.loads(json.dumps(to_json(off)))
    assert judged(match_figures_from_json(kept)) == off
    assert off.look_first


def test_the_spread_is_the_root_mean_square_of_what_unchanged_prints_differ_by() -> None:
    pairs = [replace(NOTHING_OFF, level_difference_db=db) for db in (0.3, -0.4)]
    spread = spread_of(pairs)
    assert spread is not None
    assert spread.level_db == pytest.approx((0.125) ** 0.5)
    assert spread.band_db(1000) == pytest.approx(0.1)
    assert spread.band_db(16_000) is None
    assert spread.null_depth_db == -30


def test_a_spread_is_not_learnt_from_what_could_not_be_compared() -> None:
    assert spread_of([]) is None
    assert spread_of([MatchFigures(None, None, None, "unclear", None, (), ())]) is None


def test_files_begun_elsewhere_say_nothing_of_how_late_a_print_comes() -> None:
    spread = spread_of([replace(NOTHING_OFF, delay_difference_samples=48_000.0, delay_difference_ms=1000.0)])
    assert spread is not None
    assert spread.delay_samples is None


def test_a_chain_that_wanders_by_itself_is_judged_by_how_far_it_wanders() -> None:
    recalled = replace(NOTHING_OFF, level_difference_db=0.8, bands=tone({range(2, 5): 1.4}))
    wanders = Spread(3, 0.5, 0.1, 0.2, 0.2, tuple(BandDifference(mid_hz(at), 0.8) for at in BANDS), -20.0)
    assert judged(recalled).verdict == "close"
    assert judged(recalled, wanders).verdict == "match"


def test_a_steady_chain_keeps_the_usual_tolerances_and_a_wild_one_never_passes_beyond_close() -> None:
    steady = Spread(2, 0.01, 0.0, 0.0, None, (), -50.0)
    wild = Spread(2, 9.0, 40.0, 9.0, 9.0, tuple(BandDifference(mid_hz(at), 9.0) for at in BANDS), -3.0)
    assert tolerances(NOTHING_OFF, steady) == tolerances(NOTHING_OFF)
    assert judged(replace(NOTHING_OFF, level_difference_db=2.1), wild).verdict == "different"


def test_a_null_is_held_against_that_of_unchanged_settings() -> None:
    steady = Spread(2, 0.01, 0.0, 0.0, 0.1, (), -45.0)
    assert any("cancels the original down to -30 dB" in said for said in judged(NOTHING_OFF, steady).findings)
    assert judged(NOTHING_OFF, steady).verdict == "match"
