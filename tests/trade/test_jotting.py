"""A jotted line sets what it says, and says what it did not understand. The words are common practice at a desk."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.trade.jotting import MEASURES, JotControl, JotGear, JotLine, read_line
from app.trade.readings import readings
from app.trade.scales import ClockScale, ControlSpec, RangeScale
from app.trade.starting_layouts import STARTING_LAYOUTS, starting_layout


def piece(layout: str, name: str, kind: str) -> JotGear:
    controls = tuple(JotControl(f"{name}: {spec.name}", spec) for spec in starting_layout(layout).controls)
    places = {measure: f"{name}: {measure}" for measure in MEASURES} if kind == "microphone" else {}
    return JotGear(name, kind, controls, places)


BOX = piece("reamp_box", "passive box", "re-amp box")
FUZZ = piece("fuzz", "silicon fuzz", "pedal")
AMP = piece("single_channel_amp", "15-watt valve combo, 1×12", "amp")
RIBBON = piece("microphone", "small ribbon microphone", "microphone")
MOVING = piece("microphone", "moving-coil microphone", "microphone")
PREAMP = piece("preamp", "valve preamp", "preamp")
CHAIN = (BOX, FUZZ, AMP, RIBBON, PREAMP)


def settings_of(line: JotLine) -> dict[str, str]:
    return {part.field: part.reading for part in line.understood}


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ("treble 6.5", {"AMP: Treble": "6.5"}),
        ("treble 6,5, bass 3", {"AMP: Treble": "6,5", "AMP: Bass": "3"}),
        ("treb half past 2 and mid noon", {"AMP: Treble": "half past 2", "AMP: Middle": "noon"}),
        ("amp gain six and a half bass 5", {"AMP: Gain": "six and a half", "AMP: Bass": "5"}),
        ("combo gain 7; preamp gain 40 dB", {"AMP: Gain": "7", "PREAMP: Gain": "40 dB"}),
        ("15 watt valve combo presence just past noon", {"AMP: Presence": "just past noon"}),
        ("bright on, input low", {"AMP: Bright": "on", "AMP: Input": "low"}),
        ("fuzz 9 o’clock", {"FUZZ: Fuzz": "9 o'clock"}),
        ("fuzz level 2:30", {"FUZZ: Level": "2:30"}),
        ("low cut on", {"PREAMP: Low cut": "on"}),
        ("combo remark the valves are hot, treble 2", {"AMP: Remark": "the valves are hot", "AMP: Treble": "2"}),
        ("mic 30 mm", {"RIBBON: distance": "30 mm"}),
        ("mic 30", {"RIBBON: distance": "30 mm"}),
        ("mic 3 cm 20° off 5 cm off centre", {
            "RIBBON: distance": "3 cm", "RIBBON: angle": "20°", "RIBBON: offset": "5 cm",
        }),
        ("ribbon 3 cm from the grille, on axis, 60 cm high", {
            "RIBBON: distance": "3 cm", "RIBBON: angle": "on axis", "RIBBON: height": "60 cm",
        }),
        ("ribbon low cut 80 Hz, ribbon pad -10", {"RIBBON: low_cut": "80 Hz", "RIBBON: pad": "-10"}),
        ("mic dead centre", {"RIBBON: offset": "0 mm"}),
        ("", {}),
        (" , and ,", {}),
    ],
)  # fmt: skip
def test_a_line_sets_what_it_says(line: str, expected: dict[str, str]) -> None:
    names = {"AMP": AMP, "FUZZ": FUZZ, "PREAMP": PREAMP, "RIBBON": RIBBON}
    said = {
        f"{names[field.split(':')[0]].name}:{field.split(':')[1]}": text for field, text in expected.items()
    }
    found = read_line(line, CHAIN)
    assert found.puzzling == ()
    assert settings_of(found) == said


@pytest.mark.parametrize(
    ("line", "told", "left_over"),
    [
        ("gain 7, treble 3", "“gain” could be 15-watt valve combo 1×12 Gain or valve preamp Gain. Say which.", "gain 7"),
        ("zither 5, treble 3", "“zither 5” names no control of this chain.", "zither 5"),
        ("treble loud, bass 5", "“loud” is not a reading of this knob.", "treble loud"),
        ("treble", "to what? Write a clock position, 0 to 10, or a percentage.", "treble"),
        ("mic near", "write a measure, such as 30 mm or 20 degrees.", "mic near"),
        ("bright 2, bass 5", "“2” could mean the first position or on.", "bright 2"),
        ("2 treble 5", "Is “15-watt valve combo 1×12 Treble 5” meant?", "2 treble 5"),
    ],
)  # fmt: skip
def test_what_is_not_understood_is_said_and_left_over(line: str, told: str, left_over: str) -> None:
    found = read_line(line, CHAIN)
    assert told in " ".join(part.sentence for part in found.puzzling)
    assert found.left_over == left_over


def test_words_in_doubt_set_nothing() -> None:
    """The fuzz has no tone; that of another piece behind it is not taken instead."""
    tone = JotGear("old echo", "pedal", (JotControl("tone", ControlSpec("Tone", "knob", ClockScale())),))
    found = read_line("fuzz tone 5", (FUZZ, tone))
    assert found.understood == ()
    assert found.puzzling[0].could_mean == ("silicon fuzz Fuzz", "old echo Tone 5")


def test_two_microphones_have_to_be_told_apart() -> None:
    found = read_line("mic 30 mm", (RIBBON, MOVING))
    assert found.puzzling[0].could_mean == (
        "small ribbon microphone 30 mm",
        "moving-coil microphone 30 mm",
    )
    assert settings_of(read_line("moving 30 mm, ribbon 1 in", (RIBBON, MOVING))) == {
        "moving-coil microphone: distance": "30 mm",
        "small ribbon microphone: distance": "1 in",
    }


def test_two_pieces_of_one_name_are_never_guessed_between() -> None:
    found = read_line("fuzz level 5", (FUZZ, FUZZ))
    assert found.understood == ()
    assert "could be" in found.puzzling[0].sentence or "More than one" in found.puzzling[0].sentence


def test_a_bare_length_is_in_the_unit_one_likes() -> None:
    assert settings_of(read_line("mic 2", CHAIN, "in")) == {"small ribbon microphone: distance": "2 in"}


def test_a_line_has_an_end() -> None:
    assert "at most" in read_line("a" * 401, CHAIN).puzzling[0].sentence
    assert "at most" in read_line("a " * 90, CHAIN).puzzling[0].sentence


def kind_of(layout: str) -> str:
    return next(item.kind for item in STARTING_LAYOUTS if item.key == layout)


layouts = st.sampled_from([item.key for item in STARTING_LAYOUTS])
names = st.sampled_from(
    ["fuzz", "gain", "old, big amp", "1×12", "amp 2", "Tone", "the and", "mic", "é"]
) | st.text(st.characters(codec="utf-8", exclude_categories=("C", "Z")), min_size=1, max_size=8)
chains = st.lists(st.tuples(layouts, names), min_size=1, max_size=4).map(
    lambda rows: tuple(piece(layout, name, kind_of(layout).replace("_", " ")) for layout, name in rows)
)


@settings(max_examples=150, deadline=None)
@given(chains, st.data())
def test_whatever_is_understood_says_back_the_same_line(
    chain: tuple[JotGear, ...], data: st.DataObject
) -> None:
    parts = []
    for _ in range(data.draw(st.integers(1, 3))):
        gear = data.draw(st.sampled_from(chain))
        before = data.draw(st.sampled_from(["", gear.name, gear.kind_word, gear.name[:3]]))
        if gear.controls and data.draw(st.booleans()):
            spec = data.draw(st.sampled_from(gear.controls)).spec
            position = data.draw(st.floats(0, 1))
            ways = [reading.text for reading in readings(spec, position)] or ["5", "", "warm"]
            parts.append(f"{before} {spec.name} {data.draw(st.sampled_from(ways))}")
        else:
            parts.append(
                f"{before} {data.draw(st.sampled_from(['30 mm', '20°', 'noon', '5', 'and 6', 'x']))}"
            )
    found = read_line(data.draw(st.sampled_from([", ", " ", " and "])).join(parts), chain)
    again = read_line(found.said, chain)
    assert again.puzzling == ()
    assert settings_of(again) == settings_of(found)
    assert again.said == found.said


@settings(max_examples=150, deadline=None)
@given(st.text(max_size=60))
def test_no_line_is_too_odd_to_be_read(line: str) -> None:
    found = read_line(line, CHAIN)
    assert settings_of(read_line(found.said, CHAIN)) == settings_of(found)


def test_a_control_named_like_the_start_of_another_is_meant_by_its_whole_name() -> None:
    specs = (ControlSpec("Gain", "knob", RangeScale(0, 10)), ControlSpec("Gain 2", "knob", RangeScale(0, 10)))
    amp = JotGear("amp", "amp", tuple(JotControl(spec.name, spec) for spec in specs))
    assert settings_of(read_line("gain 2", (amp,))) == {"Gain": "2"}
    assert settings_of(read_line("gain 2 7", (amp,))) == {"Gain 2": "7"}


STRIP = JotGear(
    "pre-amp strip",
    "preamp",
    tuple(
        JotControl(name, ControlSpec(name, "knob", RangeScale(0, 10)))
        for name in ("High mid", "Lo mid", "Volume", "Low cut", "Middle", "Hi-mid frequency")
    ),
)


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ("reamp level 5", {"BOX: Level": "5"}),
        ("re amp box level 5", {"BOX: Level": "5"}),
        ("re-amp level 5", {"BOX: Level": "5"}),
        ("hi mid 3, low mid 4", {"High mid": "3", "Lo mid": "4"}),
        ("himid 3 lomid 4", {"High mid": "3", "Lo mid": "4"}),
        ("high-mid freq 2", {"Hi-mid frequency": "2"}),
        ("vol 6, lowcut 2", {"Volume": "6", "Low cut": "2"}),
        ("preamp mids 5", {"Middle": "5"}),
        ("pre amp vol 5", {"Volume": "5"}),
    ],
)
def test_near_spellings_are_known(line: str, expected: dict[str, str]) -> None:
    box = piece("reamp_box", "re-amp box", "re-amp box")
    read = read_line(line, (box, STRIP))
    assert {field.replace("re-amp box", "BOX"): text for field, text in settings_of(read).items()} == expected
    assert not read.puzzling


def test_a_near_spelling_that_could_mean_two_things_is_asked_about() -> None:
    two = JotGear(
        "twin",
        "amp",
        tuple(
            JotControl(name, ControlSpec(name, "knob", RangeScale(0, 10)))
            for name in (
                "Vol",
                "Volume",
            )
        ),
    )
    assert read_line("volume 5", (two,)).understood == ()


def test_an_amp_is_no_re_amp_box() -> None:
    box = piece("reamp_box", "re-amp box", "re-amp box")
    level = JotControl("amp level", ControlSpec("Trim", "knob", RangeScale(0, 10)))
    read = read_line("amp trim 5", (box, JotGear("valve amp", "amp", (level,))))
    assert settings_of(read) == {"amp level": "5"}


def test_of_a_selector_what_it_can_stand_at_is_offered_and_nothing_else() -> None:
    found = read_line("pad -15 dB", (BOX, FUZZ))
    pad = next(control.spec for control in BOX.controls if control.spec.name == "Pad")
    assert found.puzzling[0].could_mean == tuple(f"passive box Pad {position}" for position in pad.positions)
    for offered in found.puzzling[0].could_mean:
        assert not read_line(offered, (BOX, FUZZ)).puzzling
