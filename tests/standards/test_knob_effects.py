"""What the knobs do, against simulated gear whose effects are known, and against Student's t from a peer (scipy).

The bound on how often a 95 % interval may miss is the binomial one; tolerances are ours.
"""

import math

import numpy as np
import pytest
from scipy import stats

from app.trade.knob_effects import (
    ControlEffect,
    HeardPass,
    KnobEffects,
    NotEnough,
    knob_effects,
    student_t95,
)
from app.trade.knob_explanations import explanation
from app.trade.linear_algebra import inverse

BANDS = 24
HZ = 1000 * 10 ** (np.arange(-13, 11) / 10)
TREBLE = 20 / (1 + (2000 / HZ) ** 2)
BASS = 16 / (1 + (HZ / 150) ** 2)
PRESENCE = 14 * np.exp(-((np.log2(HZ / 4000)) ** 2))
SHAPES = {"treble": TREBLE, "bass": BASS, "presence": PRESENCE}
LEVELS = {"treble": 3.0, "bass": 4.0, "presence": 1.0, "volume": 20.0}


def heard(positions: dict[str, float], random: np.random.Generator, noise_db: float = 0.3) -> HeardPass:
    """Bands at equal loudness do exactly what SHAPES says, the loudness what LEVELS says, and some noise."""
    loudness = -20 + sum(LEVELS.get(name, 0.0) * at for name, at in positions.items())
    loudness += noise_db * random.standard_normal()
    bands = -30 + sum(SHAPES.get(name, np.zeros(BANDS)) * at for name, at in positions.items())
    bands = bands + loudness + noise_db * random.standard_normal(BANDS)
    return HeardPass(positions, tuple(bands.tolist()), float(loudness), 12.0)


def session(
    passes: int, controls: list[str], seed: int = 1, noise_db: float = 0.3, **fixed: float
) -> list[HeardPass]:
    random = np.random.default_rng(seed)
    return [
        heard({name: float(random.uniform(0.1, 0.9)) for name in controls} | fixed, random, noise_db)
        for _ in range(passes)
    ]


def of(found: KnobEffects, control: str) -> ControlEffect:
    return next(effect for effect in found.known if effect.control == control)


def why_not(found: KnobEffects, control: str) -> NotEnough:
    return next(entry for entry in found.not_enough if control in entry.controls)


@pytest.mark.parametrize("freedom", [*range(1, 31), 35, 60, 200])
def test_students_t_is_that_of_the_tables(freedom: int) -> None:
    assert student_t95(freedom) == pytest.approx(stats.t.ppf(0.975, freedom), abs=0.002)


def test_an_inverse_is_numpys() -> None:
    matrix = np.random.default_rng(2).standard_normal((12, 12))
    assert np.array(inverse(matrix.tolist())) == pytest.approx(np.linalg.inv(matrix), abs=1e-9)


def test_known_effects_are_found_in_every_band_within_their_uncertainty() -> None:
    found = knob_effects(session(20, ["treble", "bass", "volume"], mix=0.5))
    misses = 0
    for name in ("treble", "bass"):
        for effect, true in zip(of(found, name).bands, SHAPES[name], strict=True):
            assert effect is not None
            assert effect.plus_minus_db < 1.0
            misses += abs(effect.db - true) > effect.plus_minus_db
    assert misses <= stats.binom.ppf(0.999, 2 * BANDS, 0.05)
    assert of(found, "volume").level.db == pytest.approx(20, abs=1.0)
    assert not any(effect is not None and effect.plus_minus_db > 1.0 for effect in of(found, "volume").bands)


def test_intervals_hold_in_nineteen_of_twenty_cases() -> None:
    """60 sessions of 9 passes, 3 controls: 1440 bands of treble; intervals are 95 % wide, so 4 to 7 % may miss."""
    misses = total = 0
    for seed in range(60):
        found = knob_effects(session(9, ["treble", "bass", "volume"], seed=seed, noise_db=0.5))
        for effect, true in zip(of(found, "treble").bands, TREBLE, strict=True):
            assert effect is not None
            misses += abs(effect.db - true) > effect.plus_minus_db
            total += 1
    assert 0.02 < misses / total < 0.08


def test_a_control_that_stood_still_is_not_known() -> None:
    found = knob_effects(session(12, ["treble"], mix=0.5))
    assert [effect.control for effect in found.known] == ["treble"]
    assert "stood still" in why_not(found, "mix").reason


def test_a_control_that_moved_by_a_hair_or_in_one_pass_is_not_known() -> None:
    passes = session(12, ["treble"])
    random = np.random.default_rng(3)
    moved = [
        heard(
            dict(one.positions) | {"bass": 0.5 + 0.01 * (n % 5), "presence": 0.9 if n == 4 else 0.4}, random
        )
        for n, one in enumerate(passes)
    ]
    found = knob_effects(moved)
    assert "less than a tenth" in why_not(found, "bass").reason
    assert "one pass only" in why_not(found, "presence").reason
    assert [effect.control for effect in found.known] == ["treble"]


def test_controls_moved_together_are_named_together_and_the_independent_one_is_still_known() -> None:
    random = np.random.default_rng(4)
    passes = []
    for _ in range(14):
        treble = float(random.uniform(0.1, 0.9))
        presence = treble * 0.8 + 0.1
        passes.append(
            heard({"treble": treble, "presence": presence, "bass": float(random.uniform(0, 1))}, random)
        )
    found = knob_effects(passes)
    assert set(why_not(found, "treble").controls) == {"treble", "presence"}
    assert [effect.control for effect in found.known] == ["bass"]
    assert of(found, "bass").bands[0] is not None
    assert of(found, "bass").bands[0].db == pytest.approx(BASS[0], abs=1.5)  # type: ignore[union-attr]


def test_three_controls_of_which_one_is_the_sum_of_the_others_are_named_together() -> None:
    random = np.random.default_rng(5)
    passes = []
    for _ in range(14):
        a, b = (float(value) for value in random.uniform(0, 0.5, 2))
        passes.append(heard({"treble": a, "bass": b, "presence": a + b}, random))
    assert set(why_not(knob_effects(passes), "treble").controls) == {"treble", "bass", "presence"}


@pytest.mark.parametrize(("passes", "more"), [(1, ""), (2, "3 more"), (4, "1 more")])
def test_too_few_passes_are_said_to_be_too_few(passes: int, more: str) -> None:
    found = knob_effects(session(passes, ["treble", "bass"]))
    assert found.known == ()
    assert "Not enough data" in why_not(found, "treble").reason
    assert more in why_not(found, "treble").reason


def test_a_control_that_some_pass_lacks_is_left_out() -> None:
    passes = [*session(8, ["treble"]), *session(8, ["treble", "bass"], seed=7)]
    assert "not part of every pass" in why_not(knob_effects(passes), "bass").reason


def test_no_passes_no_effects() -> None:
    assert knob_effects([]) == KnobEffects(0, (), ())


def test_a_band_that_some_pass_does_not_know_has_no_effect() -> None:
    passes = session(10, ["treble"])
    first = passes[0]
    passes[0] = HeardPass(first.positions, (None, *first.bands_dbfs[1:]), first.loudness_lufs, None)
    effect = of(knob_effects(passes), "treble")
    assert effect.bands[0] is None
    assert effect.bands[1] is not None
    assert effect.crest is None


@pytest.mark.parametrize("turn", [-0.3, -0.12, 0.15, 0.4])
@pytest.mark.parametrize("name", ["treble", "bass"])
def test_a_recall_with_one_knob_off_names_it_and_by_how_much(name: str, turn: float) -> None:
    effects = knob_effects(session(18, ["treble", "bass", "volume"]))
    noise = 0.2 * np.random.default_rng(9).standard_normal(BANDS)
    found = explanation(
        effects, (SHAPES[name] * turn + noise).tolist(), level_db=LEVELS[name] * turn, original={name: 0.5}
    )
    assert found is not None
    (only,) = found.turns
    assert only.control == name
    assert only.turn == pytest.approx(turn, abs=max(0.03, only.plus_minus))
    assert found.share > 0.8


@pytest.mark.parametrize(("treble", "bass"), [(0.3, 0.35), (-0.3, 0.4), (0.25, -0.2)])
def test_a_recall_with_two_knobs_off_names_both(treble: float, bass: float) -> None:
    effects = knob_effects(session(18, ["treble", "bass", "volume"]))
    noise = 0.2 * np.random.default_rng(9).standard_normal(BANDS)
    both = (TREBLE * treble + BASS * bass + noise).tolist()
    level = LEVELS["treble"] * treble + LEVELS["bass"] * bass
    found = explanation(effects, both, level_db=level, original={"treble": 0.5, "bass": 0.5})
    assert found is not None
    turns = {turn.control: turn for turn in found.turns}
    assert set(turns) == {"treble", "bass"}
    for name, turn in (("treble", treble), ("bass", bass)):
        assert turns[name].turn == pytest.approx(turn, abs=max(0.03, turns[name].plus_minus))
    assert found.share > 0.9


def test_a_level_alone_is_the_volume() -> None:
    effects = knob_effects(session(18, ["treble", "bass", "volume"]))
    found = explanation(effects, [0.1] * BANDS, level_db=4.0)
    assert found is not None
    assert [(turn.control, round(turn.turn, 1)) for turn in found.turns] == [("volume", 0.2)]


def test_nothing_is_explained_that_the_passes_do_not_support() -> None:
    effects = knob_effects(session(18, ["treble", "bass", "volume"]))
    cabinet = 6 * np.sin(np.arange(BANDS) * 2.1)
    assert explanation(effects, cabinet.tolist()) is None, "another cabinet is no knob"
    assert explanation(effects, (TREBLE * 0.02).tolist()) is None, "too little to speak of"
    assert explanation(effects, (TREBLE * 1.4).tolist()) is None, "no knob turns that far"
    assert explanation(effects, (TREBLE * 0.4).tolist(), original={"treble": 0.9}) is None, "nor past its end"
    alike = knob_effects([])
    assert explanation(alike, (TREBLE * 0.3).tolist()) is None


def test_when_effects_are_unsure_nothing_is_explained() -> None:
    effects = knob_effects(session(6, ["treble", "bass", "volume"], noise_db=8.0))
    assert explanation(effects, (TREBLE * 0.1).tolist(), level_db=0.3) is None


def test_noise_alone_is_hardly_ever_explained() -> None:
    effects = knob_effects(session(18, ["treble", "bass", "volume"]))
    random = np.random.default_rng(11)
    explained = sum(
        explanation(effects, (0.8 * random.standard_normal(BANDS)).tolist(), level_db=0.0) is not None
        for _ in range(200)
    )
    assert explained == 0


def test_forty_controls_take_no_time_to_speak_of() -> None:
    passes = session(60, [f"control {n}" for n in range(40)])
    found = knob_effects(passes)
    assert len(found.known) == 40
    assert all(math.isfinite(effect.level.plus_minus_db) for effect in found.known)
