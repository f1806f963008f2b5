from app.trade.cautions import CAUTIONS, SPOTS, Piece, before_cables, cautions_for


def keys(spot: str, *gear: Piece) -> set[str]:
    return {caution.key for caution in cautions_for(gear, (spot,))}  # type: ignore[arg-type]


def test_every_spot_has_a_caution_and_every_caution_a_spot_and_someone_to_defer_to() -> None:
    assert {spot for caution in CAUTIONS for spot in caution.spots} == set(SPOTS)
    assert len({caution.key for caution in CAUTIONS}) == len(CAUTIONS) == 8
    for caution in CAUTIONS:
        assert caution.sentence.endswith(".")
        assert caution.defer_to.endswith(".")


def test_a_valve_amp_is_told_of_its_load_before_power() -> None:
    assert "valve_amp_needs_its_load" in keys("power_up", Piece("amp", valve=True))


def test_an_amp_of_unknown_make_up_is_taken_for_a_valve_amp() -> None:
    assert "valve_amp_needs_its_load" in keys("hook_up", Piece("amp"))


def test_a_solid_state_amp_is_spared_the_valve_cautions_but_not_the_speaker_one() -> None:
    assert keys("hook_up", Piece("amp", valve=False)) == {
        "never_lift_the_mains_earth",
        "speaker_output_only_into_a_speaker",
    }


def test_pedals_into_a_di_box_need_no_word_about_speakers_or_ears() -> None:
    gear = (Piece("interface"), Piece("reamp_box"), Piece("pedal"), Piece("di_box"))
    assert {caution.key for caution in cautions_for(gear)} == {
        "never_lift_the_mains_earth",
        "turn_down_before_repatching",
    }


def test_ribbons_are_kept_from_phantom_power() -> None:
    assert keys("microphone", Piece("microphone", ribbon=True)) == {"phantom_power_and_ribbons"}
    assert keys("microphone", Piece("microphone", ribbon=False)) == set()


def test_a_cranked_amp_speaks_of_ears() -> None:
    assert "sound_level_and_hearing" in keys("listening", Piece("cabinet"))


def test_a_reference_signal_into_an_amp_speaks_of_sweeps_and_nothing_else_does() -> None:
    assert keys("reference_signal", Piece("amp"), Piece("cabinet")) == {"sweeps_are_louder_than_playing"}
    assert "sweeps_are_louder_than_playing" not in keys("listening", Piece("amp"))


def test_each_has_a_line_that_fits_beside_the_work() -> None:
    assert [caution.key for caution in CAUTIONS if not 0 < len(caution.short) <= 60] == []


def test_without_gear_there_is_nothing_to_be_careful_of() -> None:
    assert cautions_for(()) == ()


def test_a_caution_stands_before_the_first_cable_it_is_about() -> None:
    interface, box, amp = Piece("interface"), Piece("reamp_box"), Piece("amp", valve=True)
    ribbon, preamp = Piece("microphone", ribbon=True), Piece("preamp")
    cables = [(interface, box), (box, amp), (amp, ribbon), (ribbon, preamp), (preamp, interface)]
    placed = before_cables(cautions_for((interface, box, amp, ribbon, preamp)), cables)
    assert {at: [caution.key for caution in cautions] for at, cautions in placed.items()} == {
        0: ["never_lift_the_mains_earth", "turn_down_before_repatching"],
        1: ["valve_amp_needs_its_load", "valve_amp_holds_lethal_voltage"],
        2: [
            "speaker_output_only_into_a_speaker",
            "sound_level_and_hearing",
            "sweeps_are_louder_than_playing",
        ],
        3: ["phantom_power_and_ribbons"],
    }


def test_a_caution_whose_cable_is_not_there_is_said_before_the_first() -> None:
    cautions = cautions_for((Piece("amp", valve=True),))
    assert before_cables(cautions, [(Piece("interface"), None)]) == {0: cautions}
    assert before_cables(cautions, []) == {0: cautions}
