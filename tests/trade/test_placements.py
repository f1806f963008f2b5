from app.trade.placements import Placement, changes, describe

CLOSE = Placement(
    speaker="left speaker",
    distance_mm=30,
    offset_mm=40,
    angle_deg=30,
    pattern="cardioid",
    pad_db=-10,
    low_cut_hz=80,
    preamp="valve preamp",
    gain="2:30",
)


def test_a_placement_is_one_short_line() -> None:
    assert describe(CLOSE, "mm") == (
        "left speaker, 30 mm from the grille, 40 mm off centre, 30° off axis, cardioid, pad −10 dB, low cut 80 Hz, "
        "into valve preamp, gain 2:30"
    )


def test_inches_for_those_who_work_in_inches() -> None:
    assert describe(Placement(distance_mm=38.1), "in") == "1.5 in from the grille"


def test_nothing_noted_says_nothing() -> None:
    assert describe(Placement(), "mm") == ""


def test_zero_is_a_note_and_not_an_absence() -> None:
    assert describe(Placement(distance_mm=0, offset_mm=0, angle_deg=0, pad_db=0), "mm") == (
        "0 mm from the grille, at the centre, on axis, no pad"
    )


def test_changes_say_what_moved_from_where_to_where() -> None:
    moved = Placement(
        speaker="left speaker",
        distance_mm=45,
        offset_mm=40,
        pattern="cardioid",
        pad_db=-10,
        preamp="valve preamp",
    )
    assert changes(CLOSE, moved, "mm") == [
        "distance 30 mm → 45 mm",
        "angle 30° → not noted",
        "low cut 80 Hz → not noted",
        "gain 2:30 → not noted",
    ]


def test_the_same_placement_has_no_changes() -> None:
    assert changes(CLOSE, CLOSE, "mm") == []
