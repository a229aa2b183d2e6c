"""Like with like, what else may make a difference, how it felt, which set-up stands out."""

from datetime import timedelta

import pytest
from comparison_data import FAR, NEAR, exposure, figures, paired, right_ankle, separate, session
from footroom.analysis.comparison import compare_participant
from footroom.analysis.standing import stands_out
from footroom.dashboard.summary import felt_by_name
from footroom.logger.csv_import import import_folder
from footroom.logger.errors import InputError
from footroom.logger.logbook import Logbook
from footroom.logger.models import Phase, Setup
from footroom.logger.person_notes import NotedSetup, PersonNotes, felt_by_hand
from import_folder import small_folder
from pydantic import ValidationError

NEAR_ROOMS = [8.0, 6.5, 9.0, 7.0]
FAR_ROOMS = [12.5, 10.0, 13.0, 11.8]


def first(rows, pair=("near", "far")):
    found = [r for r in rows if r["primary"] and (r["setup_a"], r["setup_b"]) == pair]
    assert len(found) == 1, found
    return found[0]


# ---- like with like


def test_other_footwear_is_compared_only_when_asked_and_said():
    made = paired(NEAR_ROOMS, FAR_ROOMS, NEAR | {"footwear": "socks"}, FAR | {"footwear": "shoes"})
    unasked = first(compare_participant(*made))
    assert (unasked["verdict"], unasked["interval"]) == ("not enough data", None)
    assert "not compared, because footwear or exercise differ; that is done only when asked for" in unasked["reason"]
    assert "offsets cancel" not in unasked["reason"]
    assert "were not compared for your right ankle" in unasked["sentences"]["drummer"]
    assert (unasked["barrier"], unasked["mixed"]) == ("footwear or exercise differ", False)
    asked = first(compare_participant(*made, mixed=True))
    assert asked["verdict"] == "clear difference"
    assert "the footwear differs (socks on near, shoes on far)" in asked["reason"]
    assert "sessions that are not alike were compared, because that was asked for" in asked["reason"]
    assert (asked["unlike"], asked["mixed"], asked["barrier"]) == (["footwear"], True, None)
    assert asked["sentences"]["drummer"].endswith(
        "a clear difference, seen in all 4 sessions; but footwear differed, too."
    )
    assert "the same footwear on both would make it clearer" in asked["sentences"]["coach"]
    assert "not alike: footwear" in asked["sentences"]["scientist"]


def test_a_shoe_of_one_foot_is_matched_by_itself():
    near, far = NEAR | {"footwear": "socks"}, FAR | {"footwear": "socks"}
    made = paired(NEAR_ROOMS, FAR_ROOMS, near, far | {"left": {"footwear": "shoes"}})
    assert first(compare_participant(*made))["barrier"] == "footwear or exercise differ"
    asked = first(compare_participant(*made, mixed=True))
    assert asked["unlike"] == ["footwear of the left foot"]
    assert "the footwear of the left foot differs (socks on near, shoes on far)" in asked["reason"]
    unnoted = paired(NEAR_ROOMS, FAR_ROOMS, NEAR | {"right": {"footwear": "socks"}}, far)
    assert first(compare_participant(*unnoted))["verdict"] == "clear difference"


def test_asking_for_mixed_changes_nothing_where_all_are_alike():
    made = paired(NEAR_ROOMS, FAR_ROOMS)
    assert compare_participant(*made, mixed=True) == compare_participant(*made)


def test_sessions_of_another_exercise_are_left_out_and_counted():
    exposures, sessions = paired([*NEAR_ROOMS, 30.0], [*FAR_ROOMS, 0.0])
    for one in sessions:
        one.phases[0].exercise = one.phases[1].exercise = "groove"
    sessions[4].phases[0].exercise = "fills"
    found = first(compare_participant(exposures, sessions))
    assert (found["n_pairs"], found["verdict"]) == (4, "clear difference")
    assert "1 session of other footwear or exercise was left out" in found["reason"]
    assert found["left_out"] == 1
    everything = first(compare_participant(exposures, sessions, mixed=True))
    assert everything["n_pairs"] == 5
    assert "the exercise differs" in everything["reason"]


def test_separate_wearings_meet_on_the_exercise_most_sessions_share():
    exposures, sessions = separate([8.0, 7.5, 8.5, 20.0], [20.5, 20.0, 21.0, 1.0])
    for number, one in enumerate(sessions):
        one.phases[0].exercise = "fills" if number in (3, 7) else "groove"
    found = first(compare_participant(exposures, sessions))
    assert (found["sessions_a"], found["sessions_b"]) == (3, 3)
    assert found["session_ids_a"] == ["pupil-0", "pupil-1", "pupil-2"]
    assert found["difference"] == pytest.approx(12.5)


def test_an_unnoted_exercise_fits_any():
    exposures, sessions = paired(NEAR_ROOMS, FAR_ROOMS)
    sessions[0].phases[0].exercise = "groove"
    assert first(compare_participant(exposures, sessions))["n_pairs"] == 4


def test_one_name_at_two_throne_heights_meets_only_when_asked():
    exposures, sessions = paired(NEAR_ROOMS * 2, FAR_ROOMS * 2)
    for one in sessions[4:]:
        for setup in one.setups:
            setup.throne_height_cm = 52.0
    pair = ("near (throne 48 cm)", "far (throne 52 cm)")
    rows = compare_participant(exposures, sessions)
    crossed = [r for r in rows if (r["setup_a"], r["setup_b"]) == pair]
    assert {r["verdict"] for r in crossed} == {"not enough data"}
    assert "several throne heights" in crossed[0]["reason"]
    assert first(rows, ("near (throne 48 cm)", "far (throne 48 cm)"))["n_pairs"] == 4
    asked = [r for r in compare_participant(exposures, sessions, mixed=True) if (r["setup_a"], r["setup_b"]) == pair]
    assert all(r["interval"] for r in asked)


# ---- calibrations


def with_ends(exposures, ends, source="typed"):
    for item, end in zip(exposures, ends, strict=True):
        for sides in item["setups"].values():
            sides["right"]["ankle_dorsiflexion"] |= {"active_end_deg": end, "range_source": source}
    return exposures


def test_a_shared_end_of_range_cancels_and_two_ends_do_not():
    rooms = [8.0, 7.0, 9.0], [13.5, 12.5, 14.5]
    found = {}
    for name, ends in (("shared", [17.0] * 6), ("apart", [17.0] * 3 + [18.0] * 3)):
        exposures, sessions = separate(*rooms, band_half_width_deg=7.0)
        found[name] = first(compare_participant(with_ends(exposures, ends), sessions))
    assert found["shared"]["verdict"] == "clear difference"
    assert "rest on the same end of range, so its error cancels" in found["shared"]["reason"]
    assert found["apart"]["verdict"] == "no clear difference"
    assert "different ends of range, so the whole offset band counts" in found["apart"]["reason"]
    wide, narrow = found["apart"]["standard_error"], found["shared"]["standard_error"]
    assert wide**2 - narrow**2 == pytest.approx(2 * (7.0 / 1.96) ** 2)


def test_a_norm_is_said_in_every_sentence():
    found = first(compare_participant(*paired(NEAR_ROOMS, FAR_ROOMS, range_source="norm")))
    assert "a range check of the person's own would make it clearer" in found["sentences"]["coach"]
    for far in (FAR_ROOMS, [9.5, 5.0, 8.0, 9.0], FAR_ROOMS[:2]):  # clear, no clear, not enough data
        said = first(compare_participant(*paired(NEAR_ROOMS[: len(far)], far, range_source="norm")))["sentences"]
        assert "against a published norm instead of your own range, so for orientation only" in said["drummer"]
        assert "against a published norm instead of their own range" in said["coach"]
        assert "active end: norm" in said["scientist"]


def test_the_scientist_is_told_the_sd_that_was_assumed():
    """A reused end scatters nothing: left is MDC / (1.96 sqrt 2) = 5 / 2.7719 = 1.8 deg, not 12 / 1.96 = 6.1."""
    exposures, sessions = separate([8.0, 8.2, 7.9], [10.0, 10.3, 9.8], band_half_width_deg=12.0)
    found = first(compare_participant(with_ends(exposures, [17.0] * 6, "norm"), sessions))
    assert found["assumed_sd"] == pytest.approx(1.804, abs=1e-3)
    assert "an SD of about 1.8 assumed beforehand" in found["sentences"]["scientist"]


# ---- where the line is drawn


@pytest.mark.parametrize(("far", "turns"), [([0.02, 0.10, 0.45, 0.70], True), ([0.02, 0.05, 0.30, 0.50], False)])
def test_a_share_that_turns_round_with_the_line_is_said(far, turns):
    lines = ("2.5", "5", "7.5", "10")
    exposures, sessions = paired(NEAR_ROOMS, FAR_ROOMS)
    for item in exposures:
        for name, shares in (("near", [0.10, 0.20, 0.40, 0.60]), ("far", far)):
            item["setups"][name]["right"]["ankle_dorsiflexion"]["share_by_room_deg"] = dict(
                zip(lines, shares, strict=True)
            )
    found = first(compare_participant(exposures, sessions))
    assert found["share_difference_by_room_deg"]["2.5"] == pytest.approx(-0.08)
    assert ("depends on where the line is drawn" in found["reason"]) is turns


# ---- order, warming up, drift


def test_what_was_played_later_is_told_apart_from_the_set_up():
    """b minus a is 4 deg and later minus earlier 2 deg: 6 where near came first, 2 where far did."""
    exposures, sessions = paired([8.0] * 4, [14.0, 10.0, 14.0, 10.0])
    found = first(compare_participant(exposures, sessions))
    assert found["order"] == {"a_first": 2, "b_first": 2, "later_deg": pytest.approx(2.0)}
    assert found["difference"] == pytest.approx(4.0)
    assert "played later had 2.0 degrees more room" in found["reason"]


def test_the_coach_is_told_what_was_not_alike():
    a, b = NEAR | {"footwear": "socks"}, FAR | {"footwear": "shoes"}
    found = first(compare_participant(*paired(NEAR_ROOMS, FAR_ROOMS, a, b), mixed=True))
    assert "weigh that the footwear differs (socks on near, shoes on far)" in found["sentences"]["coach"]
    apart = first(compare_participant(*separate([8.0, 7.0, 9.0], [20.0, 19.0, 21.0])))
    assert "put on anew in between, which adds to the doubt" in apart["sentences"]["coach"]


def test_one_order_only_cannot_tell_and_the_coach_hears_what_to_do():
    exposures, _ = paired(NEAR_ROOMS, FAR_ROOMS)
    sessions = [session(i, [NEAR, FAR], reverse=False) for i in range(4)]
    found = first(compare_participant(exposures, sessions))
    assert found["order"] == {"a_first": 4, "b_first": 0, "later_deg": None}
    assert "playing them in the other order as well would make it clearer" in found["sentences"]["coach"]


def test_a_set_up_returned_to_at_the_end_shows_drift_and_warming_up():
    exposures, sessions = paired(NEAR_ROOMS, FAR_ROOMS)
    for item, one in zip(exposures, sessions, strict=True):
        one.phases = [
            Phase(name="playing", start_s=200.0 * i, end_s=200.0 * i + 60, setup=name)
            for i, name in enumerate(("near", "far", "near"))
        ]
        blocks = [
            {"start_s": start, "known_s": 60.0, "median_room_deg": 8.0 + more, "share_near_end": 0.3}
            for start, more in ((0.0, 0.0), (400.0, 3.0))
        ]
        item["setups"]["near"] = {"right": {"ankle_dorsiflexion": figures(9.5, blocks=blocks)}}
    found = first(compare_participant(exposures, sessions))
    assert found["drift_deg"] == pytest.approx(3.0)
    assert found["warm_up_deg"] == pytest.approx(3.0)
    assert "had drifted by +3.0 degrees (4 sessions), which has nothing to do with the set-up" in found["reason"]


def test_without_a_return_there_is_no_drift():
    found = first(compare_participant(*paired(NEAR_ROOMS, FAR_ROOMS)))
    assert (found["drift_deg"], found["warm_up_deg"]) == (None, None)


# ---- several set-ups


def several(rooms, sessions=4):
    """Sessions with set-ups a, b, ... of these rooms, a little different each time."""
    numbers = range(sessions)
    setups = [{"name": name, "reach_cm": 40.0 + 3 * i} for i, name in enumerate("abcd"[: len(rooms)])]
    sessions = [session(i, setups) for i in numbers]
    exposures = [
        exposure(
            i,
            {
                one["name"]: right_ankle(room + 0.3 * ((i + k) % 2))
                for k, (one, room) in enumerate(zip(setups, rooms, strict=True))
            },
        )
        for i in numbers
    ]
    return compare_participant(exposures, sessions)


@pytest.mark.parametrize(
    ("rooms", "best", "said"),
    [
        (
            (5.0, 5.1, 15.0),
            "c",
            "‘c’ stands out: it left your right ankle clearly more room for lifting the toes than every other set-up; "
            "what stands out owes something to luck, so expect somewhat less next time.",
        ),
        ((5.0, 15.0, 15.2), None, "‘b’ and ‘c’ left your right ankle clearly more room for lifting the toes than ‘a’"),
        ((5.0, 15.0, 15.2), None, "which of these is best is not clear (up to 1.6 degrees between two of them may"),
        ((5.0, 6.5, 8.0), None, "No single set-up stands out: ‘b’ and ‘c’ are not clearly apart in the room they left"),
        (
            (5.0, 5.1, 5.2),
            None,
            "No set-up stands out: none left your right ankle clearly more room for lifting the toes",
        ),
    ],
)
def test_which_set_up_stands_out(rooms, best, said):
    (found,) = stands_out(several(rooms))
    assert found["setup"] == best
    assert said in found["sentence"]


def test_nothing_stands_out_where_there_is_not_enough_data():
    (found,) = stands_out(several((5.0, 9.0, 15.0), sessions=2))
    assert found["setup"] is None
    assert found["sentence"].endswith("than another (not enough data).")


def test_both_ends_of_one_joint_angle_are_one_question():
    """Pointing the toes is lifting them seen from the other end: the same answer, whatever else is shown."""
    exposures, sessions = paired(NEAR_ROOMS, [room + 3.2 for room in NEAR_ROOMS])
    noise = [0.3, -0.4, 0.2, -0.1]
    for item, shift in zip(exposures, noise, strict=True):
        for sides in item["setups"].values():
            room = sides["right"]["ankle_dorsiflexion"]["median_room_deg"]
            sides["right"] |= {"ankle_plantarflexion": figures(60.0 - room)}
            sides["right"] |= {f"hip_{one}": figures(30.0 + shift) for one in ("flexion", "internal_rotation")}
    rows = {r["motion"]: r for r in compare_participant(exposures, sessions) if r["measure"] == "median_room_deg"}
    up, down = rows["ankle_dorsiflexion"], rows["ankle_plantarflexion"]
    assert down["difference"] == pytest.approx(-up["difference"])
    assert (down["p_holm"], down["verdict"]) == (up["p_holm"], "clear difference")
    assert "kept 3.2 degrees more room for pointing the toes" in down["sentences"]["drummer"]
    assert rows["hip_flexion"]["family_size"] == 6  # two hip motions and four shares


def test_two_set_ups_need_no_ranking_and_three_bring_a_word_on_luck():
    assert stands_out(compare_participant(*paired(NEAR_ROOMS, FAR_ROOMS))) == []
    rows = several((5.0, 5.1, 15.0))
    assert "what stands out owes something to luck" in first(rows, ("a", "c"))["reason"]
    assert "luck" not in first(compare_participant(*paired(NEAR_ROOMS, FAR_ROOMS)))["reason"]


# ---- how it felt


def test_scores_notes_and_choice_stand_beside_the_verdict():
    exposures, sessions = paired(NEAR_ROOMS, FAR_ROOMS)
    for number, one in enumerate(sessions):
        one.setups = [
            Setup(**NEAR, comfort_0_10=5.0 + number, chosen=False),
            Setup(**FAR, control_0_10=8.0, chosen=number < 3, note="light" if number == 0 else None),
        ]
    found = first(compare_participant(exposures, sessions))
    assert found["felt_a"] == {
        "comfort": 6.5, "balance": None, "control": None, "notes": [], "chosen": 0, "asked": 4,
    }  # fmt: skip
    assert found["felt_b"] == {
        "comfort": None, "balance": None, "control": 8.0, "notes": ["light"], "chosen": 3, "asked": 4,
    }  # fmt: skip


def test_what_was_typed_last_counts_once_and_for_the_height_it_was_typed_at():
    exposures, sessions = paired(NEAR_ROOMS, FAR_ROOMS)
    sessions[0].setups[1] = Setup(**FAR, comfort_0_10=4.0)
    day = sessions[-1].recorded_at
    high = {"comfort_0_10": 2.0, "throne_height_cm": 55.0}
    news = ({"comfort_0_10": 1.0}, {"comfort_0_10": 8.0}, {"comfort_0_10": 8.0, "reach_cm": 44.0}, high)
    said = [
        NotedSetup(recorded_at=day + timedelta(hours=hours), setup=Setup(**FAR | more))
        for hours, more in enumerate(news, 1)
    ]
    typed = felt_by_hand(sessions, PersonNotes(participant="pupil", setups=said))
    assert [(one.comfort_0_10, one.throne_height_cm) for one in typed] == [(8.0, 48.0), (2.0, 55.0)]
    assert first(compare_participant(exposures, sessions, typed=typed))["felt_b"]["comfort"] == 6.0


def test_the_set_ups_page_tells_how_each_felt():
    _, sessions = paired(NEAR_ROOMS, FAR_ROOMS)
    for number, one in enumerate(sessions):
        one.setups[1] = Setup(**FAR, comfort_0_10=6.0 + number % 2, chosen=True)
    told = felt_by_name(sessions)
    assert told == {"near": "", "far": "comfort 6.5, chosen 4 of 4 times"}


@pytest.mark.parametrize("wrong", [{"comfort_0_10": 11}, {"balance_0_10": -1}, {"control_0_10": "good"}])
def test_scores_go_from_0_to_10(wrong):
    with pytest.raises(ValidationError, match=next(iter(wrong))):
        Setup(name="near", **wrong)


# ---- the sentences


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"reach_cm": 42.0}, "With the pedal 2 cm farther (‘b’)"),
        ({"spacing_cm": 46.5}, "With the pedals 3.5 cm closer together (‘b’)"),
        ({"throne_height_cm": 51.0}, "With the throne 3 cm higher (‘b’)"),
        ({"footboard_pitch_deg": 18.0}, "With the footboard 4 degrees flatter (‘b’)"),
        ({"reach_cm": 42.0, "spacing_cm": 46.0}, "With ‘b’ your right ankle"),
        ({"right": {"reach_cm": 42.0}}, "With the right pedal 2 cm farther (‘b’)"),
        ({"right": {"footboard_pitch_deg": 18.0}}, "With the right footboard 4 degrees flatter (‘b’)"),
        ({"right": {"reach_cm": 42.0}, "left": {"reach_cm": 41.0}}, "With ‘b’ your right ankle"),
    ],
)
def test_the_drummer_hears_what_was_moved(change, said):
    a = {"name": "a", "reach_cm": 40.0, "spacing_cm": 50.0, "throne_height_cm": 48.0, "footboard_pitch_deg": 22.0}
    rows = compare_participant(*paired(NEAR_ROOMS, FAR_ROOMS, a, a | {"name": "b"} | change))
    assert first(rows, ("a", "b"))["sentences"]["drummer"].startswith(said)


def test_each_sentence_says_alone_what_was_found_and_how_sure():
    cases = {
        "clear": paired(NEAR_ROOMS, FAR_ROOMS),
        "no clear": paired(NEAR_ROOMS, [9.5, 5.0, 8.0, 9.0]),
        "not enough data": paired(NEAR_ROOMS[:2], FAR_ROOMS[:2]),
    }
    for verdict, made in cases.items():
        found = first(compare_participant(*made))
        assert found["verdict"].startswith(verdict)
        for sentence in found["sentences"].values():
            assert verdict in sentence.lower()
            assert "right ankle" in sentence.replace("_", " ").lower()
            assert "near" in sentence and "far" in sentence


def test_the_scientist_gets_estimate_interval_method_assumptions_and_n():
    said = first(compare_participant(*paired(NEAR_ROOMS, FAR_ROOMS)))["sentences"]["scientist"]
    for part in ("far minus near (primary, set by the geometry beforehand): +4.20", "95 % CI +2.65 to +5.75",
                 "paired t", "4 pairs", "assumed beforehand",
                 "without it +3.29 to +5.11", "independent", "active end: this session"):  # fmt: skip
        assert part in said, part


def test_the_coach_is_told_to_move_one_thing_at_a_time():
    two = FAR | {"spacing_cm": 50.0}
    said = first(compare_participant(*paired(NEAR_ROOMS, FAR_ROOMS, NEAR | {"spacing_cm": 46.0}, two)))["sentences"]
    assert said["coach"].endswith("; moving one thing at a time would tell which of them made it.")


# ---- from the import folder


def test_scores_choice_and_note_come_in_with_the_import_folder(tmp_path):
    said = {"name": "usual", "comfort_0_10": 7.5, "balance_0_10": 8, "control_0_10": 6, "chosen": True, "note": "light"}
    book = Logbook.create(tmp_path / "log")
    name = import_folder(small_folder(tmp_path / "in", setups=[said]), book)
    session_read = book.session(name)
    assert session_read.setups[0].model_dump(include=set(said), exclude_none=True) == said
    assert session_read.warnings == []


def test_a_score_outside_0_to_10_is_refused_with_its_line(tmp_path):
    book = Logbook.create(tmp_path / "log")
    folder = small_folder(tmp_path / "in", setups=[{"name": "usual", "comfort_0_10": 75}])
    with pytest.raises(InputError, match=r"import\.toml.*line 13: `comfort_0_10` = 75 is outside 0 to 10"):
        import_folder(folder, book)
    assert book.session_ids() == []
