"""Recalled prints with one known change each: the verdict names it."""

from collections.abc import Callable

import numpy as np
import pytest
import soundfile

from app.signal.comparison.match import match
from app.signal.figures import MatchFigures
from tests.corpus import gear
from tests.corpus.cases import play
from tests.corpus.sources import RATE, Audio

SETTINGS: dict[str, float] = {
    "drive": 4,
    "middle_db": 0,
    "cabinet": 3,
    "gain_db": 0,
    "delay": 300.3,
    "noise": 1,
}


def _take(source: Audio, **changed: float) -> Audio:
    settings = SETTINGS | changed
    chain = (
        gear.high_pass(30),
        gear.overdrive(settings["drive"]),
        gear.peaking(1000, settings["middle_db"]),
        gear.cabinet(int(settings["cabinet"])),
        gear.hiss(-75, int(settings["noise"])),
    )
    return gear.delayed(play(chain, source), settings["delay"]) * 0.3 * 10 ** (settings["gain_db"] / 20)


Matched = Callable[[str, Audio], MatchFigures]


@pytest.fixture(scope="module")
def matched(tracks: dict[str, Audio], tmp_path_factory: pytest.TempPathFactory) -> Matched:
    """A recalled print against the original of the source named, which is played and written once."""
    folder = tmp_path_factory.mktemp("recalls")

    def match_with(name: str, recalled: Audio) -> MatchFigures:
        source, original = folder / f"{name}.wav", folder / f"{name}, original.wav"
        if not original.exists():
            soundfile.write(source, tracks[name], RATE, subtype="PCM_24")
            soundfile.write(original, _take(tracks[name]), RATE, subtype="PCM_24")
        soundfile.write(folder / "recalled.wav", recalled, RATE, subtype="PCM_24")
        return match(original, folder / "recalled.wav", source, features_folder=folder)

    return match_with


@pytest.mark.parametrize(
    ("change", "verdict", "word"),
    [
        ({"noise": 2}, "match", "Nothing"),
        ({"noise": 2, "gain_db": 0.3}, "match", "Nothing"),
        ({"noise": 2, "gain_db": -1.0}, "close", "quieter"),
        ({"noise": 2, "gain_db": 4.0}, "different", "louder"),
        ({"noise": 2, "middle_db": 2.5}, "close", "more"),
        ({"noise": 2, "middle_db": -9}, "different", "less"),
        ({"noise": 2, "cabinet": 4}, "different", "Hz"),
        ({"noise": 2, "drive": 20}, "different", "louder"),
        ({"noise": 2, "delay": 340.3}, "match", "later"),
    ],
    ids=str,
)
def test_one_change_is_named(
    change: dict[str, float], verdict: str, word: str, tracks: dict[str, Audio], matched: Matched
) -> None:
    figures = matched("grand piano", _take(tracks["grand piano"], **change))
    assert figures.verdict == verdict, figures
    assert any(word in finding for finding in figures.findings), figures.findings
    assert figures.delay_difference_samples == pytest.approx(change.get("delay", 300.3) - 300.3, abs=1.0)
    assert figures.polarity in ("same", "unclear")


def test_the_same_settings_null_deeply(tracks: dict[str, Audio], matched: Matched) -> None:
    figures = matched("plucked low string", _take(tracks["plucked low string"], noise=2, gain_db=-2))
    assert figures.null_depth_db is not None
    assert figures.null_depth_db < -35
    assert figures.level_difference_db == pytest.approx(-2.0, abs=0.02)


def test_a_turned_polarity_is_told(tracks: dict[str, Audio], matched: Matched) -> None:
    figures = matched("plucked low string", -_take(tracks["plucked low string"], noise=2))
    assert (figures.verdict, figures.polarity) == ("different", "inverted")
    assert any("upside down" in finding for finding in figures.findings)


def test_ten_seconds_out_of_the_middle_are_compared_with_the_same_ten(
    tracks: dict[str, Audio], matched: Matched
) -> None:
    figures = matched("grand piano", _take(tracks["grand piano"], noise=2)[4 * RATE : 14 * RATE])
    assert figures.verdict == "match", figures
    assert figures.compared_s == pytest.approx(10, abs=0.1)
    assert figures.delay_difference_samples == pytest.approx(-4 * RATE, abs=1)
    assert figures.drive_difference_db == pytest.approx(0, abs=0.3), (
        "held against the same ten, not the whole"
    )


def test_more_drive_at_the_same_loudness_is_called_more_distorted(
    tracks: dict[str, Audio], matched: Matched
) -> None:
    source = tracks["grand piano"]
    louder = _take(source, noise=2, drive=30)
    rms = [np.sqrt(np.mean(samples**2)) for samples in (_take(source), louder)]
    figures = matched("grand piano", louder * rms[0] / rms[1])
    assert figures.verdict != "match"
    assert figures.drive_difference_db is not None
    assert figures.drive_difference_db > 1
