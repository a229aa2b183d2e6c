"""Set-up geometry: what cannot be is refused with the likely slip; what was noted about a person is kept, in order."""

from datetime import UTC, datetime

import pytest
from footroom.analysis.fit import fit_of, slope_apart
from footroom.logger.errors import InputError, LogbookError
from footroom.logger.logbook import Logbook
from footroom.logger.models import KeepClear, Participant, Setup
from footroom.logger.person_notes import (
    NotedRange,
    NotedSetup,
    changed_setup,
    note_ranges,
    note_setup,
    notes_path,
    read_notes,
)
from footroom.logger.setup_checks import check_setup, popliteal_height_cm, setup_findings

PERSON = Participant(id="dunnock", stature_cm=172, thigh_length_cm=42, shank_length_cm=42)
GOOD = {
    "throne_height_cm": 50, "reach_cm": 45, "spacing_cm": 48, "footboard_pitch_deg": 20, "snare_diameter_in": 14,
    "snare_forward_cm": 50, "snare_rim_cm": 70, "stand_spread_cm": 36,
}  # fmt: skip


def setup(**changes):
    return Setup(name="a", **{**GOOD, **changes})


def test_an_ordinary_set_up_passes_without_a_word():
    assert check_setup(PERSON, setup()) == []
    assert check_setup(Participant(id="p"), Setup(name="empty")) == []


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"throne_height_cm": 30}, "throne height of 30 cm is outside 35 to 75; measure again"),
        ({"spacing_cm": 19}, "spacing of 19 cm is outside 30 to 90; if .* in inches, write spacing_cm = 48.3"),
        ({"stand_spread_cm": 14}, "spread of the stand of 14 cm .* write stand_spread_cm = 35.6"),
        ({"snare_diameter_in": 29}, "snare diameter of 29 in .* measured in cm, write snare_diameter_in = 11.4"),
        ({"footboard_pitch_deg": 55}, "footboard pitch of 55 deg is outside 0 to 40; measure again"),
        ({"right": {"reach_cm": 100}}, "reach of the right foot of 100 cm is outside 20 to 90"),
        ({"thigh_slope_deg": 15, "torso_thigh_deg": 115}, "slope of 15 and 115 deg .* lean 40 deg back; measure both"),
        ({"seat_unloaded_cm": 46}, "loaded seat \\(50 cm\\) cannot be higher than the unloaded one \\(46 cm\\)"),
        ({"keep_clear": [KeepClear(name="tom", forward_cm=30, diameter_cm=40, bottom_cm=60, top_cm=20)]},
         "'tom' has its top \\(20 cm\\) below its bottom \\(60 cm\\); swap"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_with_the_likely_slip(changes, message):
    with pytest.raises(InputError, match=message):
        check_setup(PERSON, setup(**changes))


def test_a_seat_far_from_the_knee_crease_is_refused():
    """ANSUR II: somebody 200 cm tall has the crease at 0.3056 * 200 - 10.7 = 50.4 (man) or 49.8 (woman), bare feet."""
    assert popliteal_height_cm(200)[0] == pytest.approx((50.42 + 49.83) / 2, abs=0.01)
    with pytest.raises(InputError, match="lies 35 cm above the knee crease of somebody 165 cm tall"):
        check_setup(Participant(id="p", stature_cm=165), setup(throne_height_cm=75.0))
    with pytest.raises(InputError, match="lies 30 cm below the knee crease"):
        check_setup(Participant(id="p", stature_cm=250), setup(throne_height_cm=35))


def test_a_low_seat_is_said_and_taken():
    found = check_setup(Participant(id="p", stature_cm=190), setup(throne_height_cm=36))
    assert len(found) == 1 and "knees stand above the hips" in found[0]


def test_an_unusual_posture_on_the_throne_is_said_and_taken():
    [steep] = check_setup(PERSON, setup(thigh_slope_deg=12))
    assert "slope of 12 deg is unusual (-30 to 10); is the sign right?" in steep
    [folded] = check_setup(PERSON, setup(thigh_slope_deg=-5, torso_thigh_deg=85))
    assert "85 deg between trunk and thigh is less than square" in folded
    assert check_setup(PERSON, setup(thigh_slope_deg=-8, torso_thigh_deg=98)) == []  # an upright trunk: 90 - (-8)


def test_a_slope_that_does_not_fit_height_and_lengths_is_said():
    """Hip 59 cm high (seat 50, hip 9 above it), the knee on its shank 52.5: asin(6.5 / 42) = 9 deg down."""
    for slope, says in ((-10.0, False), (-20.0, False), (8.0, True), (-28.0, True)):
        placed = setup(thigh_slope_deg=slope)
        found = slope_apart(fit_of(PERSON, placed), placed)
        assert (found is not None) == says, slope
        assert found is None or "does not fit throne height and lengths, which give about -" in found


def test_contradictory_lengths_are_refused():
    with pytest.raises(
        InputError, match="thigh_length_cm = 60 does not fit stature_cm = 165: the thigh would be about 40"
    ):
        check_setup(Participant(id="p", stature_cm=165, thigh_length_cm=60), setup())
    with pytest.raises(InputError, match="a thigh of 52 cm and a shank of 36 cm do not belong to one leg"):
        check_setup(Participant(id="p", thigh_length_cm=52, shank_length_cm=36), setup())


def test_an_outer_breadth_typed_as_hip_width_is_said():
    wide = Participant(id="dunnock", hip_width_cm=36)
    assert any("looks like the outer breadth; between the hip joint centres it is about half" in one
               for one in check_setup(wide, setup()))  # fmt: skip
    assert check_setup(Participant(id="dunnock", hip_width_cm=19), setup()) == []


def test_half_a_snare_is_said_and_the_worst_comes_first():
    assert "only when snare_diameter_in" in check_setup(PERSON, setup(snare_forward_cm=None))[0]
    found = setup_findings(PERSON, setup(snare_forward_cm=None, spacing_cm=19))
    assert [finding.refuse for finding in found] == [True, False]
    assert "below the seat" in check_setup(PERSON, setup(snare_rim_cm=52, throne_height_cm=56))[0]


# Notes ----------------------------------------------------------------------------------------------------------


def at(day):
    return datetime(2026, 11, day, 18, tzinfo=UTC)


@pytest.fixture
def book(tmp_path):
    book = Logbook.create(tmp_path / "L")
    book.save_participant(PERSON)
    return book


def test_set_ups_and_ranges_are_kept_in_order_with_what_was_changed(book):
    first = changed_setup("near", None, {"reach_cm": "42", "throne_height_cm": "50"})
    then = changed_setup("near", first, {"reach_cm": "44", "left.reach_cm": "47", "throne_settled": "true"})
    note_setup(book, "dunnock", NotedSetup(recorded_at=at(3), setup=first))
    note_setup(book, "dunnock", NotedSetup(recorded_at=at(10), setup=then))
    note_ranges(
        book, "dunnock",
        [NotedRange(recorded_at=at(10), side="left", motion="ankle_dorsiflexion", repetitions_deg=[14, 15, 15.5])],
    )  # fmt: skip
    notes = read_notes(book, "dunnock")
    assert notes.latest()["near"].setup == then
    assert then.of_foot("left", "reach_cm") == 47 and then.of_foot("right", "reach_cm") == 44
    assert [changes for _, changes in notes.history("near")] == [
        {"reach_cm": (None, 42.0), "throne_height_cm": (None, 50.0)},
        {"reach_cm": (42.0, 44.0), "throne_settled": (None, True), "left.reach_cm": (None, 47.0)},
    ]
    assert notes.ranges[0].repetitions_deg == [14, 15, 15.5]
    assert book.participant_ids() == ["dunnock"]


def test_a_value_is_forgotten_with_a_dash():
    known = changed_setup("a", None, {"reach_cm": "42", "footwear": "socks"})
    assert changed_setup("a", known, {"footwear": "-"}).footwear is None


@pytest.mark.parametrize(
    ("values", "message"),
    [
        ({"reach": "40"}, "`reach` is nothing that a set-up has \\(did you mean `reach_cm`\\?\\)"),
        ({"front.reach_cm": "40"}, "`front.reach_cm` is nothing that a set-up has"),
        (
            {"reach_cm": "18"},
            "`reach_cm` = 18 is outside 20 to 110 cm; if .* in inches, write reach_cm=45.7",
        ),
        ({"reach_cm": "450"}, "if it was measured in millimetres, write reach_cm=45.0"),
        ({"reach_cm": "far"}, "`reach_cm` = 'far' is no number; write it in digits"),
        ({"throne_height_cm": "nan"}, "`throne_height_cm` = nan is no usable number"),
    ],
)
def test_values_that_cannot_be_used_are_refused(values, message):
    with pytest.raises(InputError, match=message):
        changed_setup("a", None, values)


def test_a_person_who_is_removed_leaves_no_notes(book):
    note_setup(book, "dunnock", NotedSetup(recorded_at=at(3), setup=Setup(name="a")))
    assert notes_path(book, "dunnock").is_file()
    book.delete_participant("dunnock")
    assert not notes_path(book, "dunnock").exists()


def test_damaged_notes_are_named(book):
    notes_path(book, "dunnock").write_text('{"participant": "dunnock", "setups": [{"setup": 3}]}', encoding="utf-8")
    with pytest.raises(LogbookError, match=r"dunnock\.notes\.json: `setups\.0\.recorded_at` cannot be used"):
        read_notes(book, "dunnock")
