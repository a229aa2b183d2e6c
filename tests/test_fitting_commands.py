"""`footroom setup`, `range` and `placement`: from an empty logbook to a suggestion and its verified gain."""

import json
import re
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from footroom.analysis.fit import fit_of
from footroom.analysis.placement import MODELLED, toward_end_deg
from footroom.analysis.range_sheet import DETECTABLE, end_of_typed, side_differences, summarise
from footroom.dashboard.command import run
from footroom.logger.errors import InputError
from footroom.logger.logbook import Logbook
from footroom.logger.models import SIDES, Clip, Participant, Phase, Session, Setup

PERSON = Participant(id="siskin", stature_cm=172, thigh_length_cm=42, shank_length_cm=42)
GEOMETRY = {"throne_height_cm": 50.0, "spacing_cm": 46.0, "footboard_pitch_deg": 20.0, "foot_splay_deg": 14.0}
ENDS = {
    "ankle_dorsiflexion": 21.0, "ankle_plantarflexion": 50.0, "hip_flexion": 110.0, "hip_horizontal_abduction": 38.0,
    "hip_internal_rotation": 33.0, "hip_external_rotation": 36.0,
}  # fmt: skip


@pytest.fixture
def path(tmp_path):
    return str(tmp_path / "L")


def call(*arguments):
    return run([str(a) for a in arguments])


def printed(capsys, *arguments):
    assert call(*arguments, "--json") == 0
    return json.loads(capsys.readouterr().out, parse_constant=lambda text: pytest.fail(f"{text} is no strict JSON"))


def note(path, name="near", **values):
    words = [
        f"{key}={value}" for key, value in {**GEOMETRY, "reach_cm": 42, "throne_settled": "true", **values}.items()
    ]
    return call("setup", name, *words, "--logbook", path, "--participant", "siskin", "--person", "stature_cm=172",
                "--person", "thigh_length_cm=42", "--person", "shank_length_cm=42")  # fmt: skip


def measured_evening(path, number, reach, offset=3.0, height=50.0):
    """An analysed evening whose dorsiflexion is `offset` more than the model says, everything else as it says."""
    setup = Setup(name=f"reach {reach}", reach_cm=reach, **{**GEOMETRY, "throne_height_cm": height})
    fit = fit_of(PERSON, setup)
    when = datetime(2026, 11, 3, 18, 30, tzinfo=UTC) + timedelta(days=7 * number)
    session = Session(
        id=f"siskin-{when:%Y-%m-%d}", participant=PERSON, recorded_at=when, setups=[setup],
        clips=[Clip(segment="foot", side="right", file="clips/right_foot.arrow")],
        phases=[Phase(name="playing", start_s=0, end_s=60)],
    )  # fmt: skip
    figures = {}
    for side in SIDES:
        for motion in MODELLED:
            angle = float(toward_end_deg(fit.poses(side), motion)) + (offset if motion == "ankle_dorsiflexion" else 0.0)
            figures.setdefault(side, {})[motion] = {
                "active_end_deg": ENDS[motion], "range_source": "this session", "median_room_deg": ENDS[motion] - angle,
            }  # fmt: skip
    folder = Logbook.open(path).path / "sessions" / session.id
    (folder / "derived").mkdir(parents=True)
    (folder / "session.json").write_text(session.model_dump_json(), encoding="utf-8")
    checked = {motion: {"value_deg": ENDS[motion], "source": "this session"} for motion in MODELLED}
    exposure = {"session": session.id, "setups": {setup.name: figures}, "ranges": dict.fromkeys(SIDES, checked)}
    (folder / "derived" / "exposure.json").write_text(json.dumps(exposure), encoding="utf-8")
    return setup.name


def test_a_fitting_from_an_empty_logbook_to_a_verified_gain(path, capsys):
    assert note(path) == 0
    assert call("range", "right.ankle_dorsiflexion=19,20.5,21,21", "left.ankle_dorsiflexion=20,21,21,21",
                "--logbook", path, "--participant", "siskin", "--footwear", "barefoot") == 0  # fmt: skip
    capsys.readouterr()
    first = printed(capsys, "placement", "--logbook", path, "--participant", "siskin")
    assert first["learned"]["sessions"] == 0 and first["learned"]["score"]["rmse_deg"] is None
    assert first["ends"]["right"]["ankle_dorsiflexion"]["source"] == "measured by hand"
    assert first["ends"]["right"]["hip_flexion"]["source"] == "norm"
    assert "Not a prescription" in first["caution"] and "no injury prediction" in first["caution"]

    for number, reach in enumerate((40.0, 44.0)):
        name = measured_evening(path, number, reach)
    step = printed(capsys, "setup", name, "throne_settled=true", "--logbook", path, "--participant", "siskin")
    assert step["setups"][0]["reach_cm"] == 44
    report = printed(capsys, "placement", "--logbook", path, "--participant", "siskin", "--setup", name)
    before = report["measured_room_deg"]["right"]["ankle_dorsiflexion"]
    assert report["ends"]["right"]["hip_flexion"]["source"] == "range check"
    assert report["learned"]["score"]["predictions"] == 12
    assert report["learned"]["corrections"]["right"]["ankle_dorsiflexion"]["offset_deg"] == pytest.approx(2.7, abs=0.4)
    suggestion = report["suggestion"]
    assert suggestion["knob"] == "reach_cm" and 2 <= suggestion["by"] <= 4
    assert "Then measure again." in suggestion["sentence"] and report["why_no_suggestion"] is None

    measured_evening(path, 2, 44.0 + suggestion["by"])
    after = printed(capsys, "placement", "--logbook", path, "--participant", "siskin",
                    "--setup", f"reach {44.0 + suggestion['by']}")  # fmt: skip
    gain = after["measured_room_deg"]["right"]["ankle_dorsiflexion"] - before
    low, high = suggestion["helps"]["interval_deg"]
    assert low < gain < high and gain > 2
    assert after["learned"]["score"]["rmse_deg"] < after["learned"]["score"]["model_alone_rmse_deg"]


def test_placement_as_text_has_the_caution_the_limit_and_the_reason(path, capsys):
    note(path, throne_settled="false")
    capsys.readouterr()
    assert call("placement", "--logbook", path, "--participant", "siskin") == 0
    text = " ".join(capsys.readouterr().out.split())
    assert "not a medical device" in text and "not marked as settled" in text
    assert "Nothing to try next: the throne height is not marked as settled" in text
    assert re.search(r"right ankle dorsiflexion \d+ norm -?\d+\+-\d+", text) and "Reach, left foot" in text
    assert "nan" not in text.lower().split()


@pytest.mark.parametrize(("abduction", "limit"), [(45, ""), (33, ", in its end zone: the snare drum is the limit")])
def test_a_knee_turned_for_a_drum_is_said_and_what_the_joints_alone_would_allow(path, capsys, abduction, limit):
    note(path, snare_diameter_in=14, snare_forward_cm=40, snare_rim_cm=64)
    ends = [f"{side}.hip_horizontal_abduction={abduction},{abduction},{abduction}" for side in SIDES]
    call("range", *ends, *[f"{side}.ankle_dorsiflexion=24,24,24" for side in SIDES], "--logbook", path,
         "--participant", "siskin")  # fmt: skip
    capsys.readouterr()
    call("placement", "--logbook", path, "--participant", "siskin")
    text = " ".join(capsys.readouterr().out.split())
    turn = re.search(
        r"stands: right knee turned out (\d+) deg to clear the snare drum; (.*?) then keeps (-?\d+) deg(.*?)[.] W", text
    )
    assert turn is not None and turn[2].startswith("right hip") and turn[4].startswith(limit)
    assert "If nothing stood in the way: reach, right foot: nearest" in text
    if limit:
        assert "nowhere within 25 cm is clear: the snare drum is in the way of the right leg, however far its" in text
    else:
        assert re.search(r"Reach, right foot: nearest \d+ \+- \d+ cm \(right .*?, knee turned out \d+ deg to", text)
    report = printed(capsys, "placement", "--logbook", path, "--participant", "siskin")
    hip = report["hip_when_swivelled"]["right"]
    assert hip["room_deg"] == report["room_deg"]["right"][hip["motion"]] == pytest.approx(float(turn[3]), abs=0.5)
    assert hip["clear"] == (not limit)
    at = report["map"]
    row, column = (
        int(np.argmin(np.abs(np.array(at[key]) - here))) for key, here in (("reach_cm", 42), ("spacing_cm", 46))
    )
    assert at["right"]["knee_turned_deg"][row][column] == pytest.approx(report["swivel_to_clear_deg"]["right"], abs=0.1)


def test_an_end_beyond_what_was_looked_at_says_how_far_that_was(path, capsys):
    note(path, reach_cm=50)
    ends = [f"{side}.ankle_dorsiflexion=26,26,26" for side in SIDES]
    call("range", *ends, "--logbook", path, "--participant", "siskin")
    capsys.readouterr()
    report = printed(capsys, "placement", "--logbook", path, "--participant", "siskin")
    low = report["spacing_cm"]["from"]
    assert report["reach_cm"]["right"]["from"]["looked_cm"] is None, "found before that"
    assert (low["cm"], low["looked_cm"]) == (None, 21.0)
    call("placement", "--logbook", path, "--participant", "siskin")
    assert "narrowest below 21 cm (not looked farther)" in " ".join(capsys.readouterr().out.split())


def test_an_end_nobody_expects_is_said_where_room_rests_on_it(path, capsys):
    note(path)
    call("range", "right.ankle_dorsiflexion=42,43,44", "--logbook", path, "--participant", "siskin")
    capsys.readouterr()
    notes = printed(capsys, "placement", "--logbook", path, "--participant", "siskin")["notes"]
    [said] = [one for one in notes if "lunge test" in one]
    assert said.startswith("no room of right ankle dorsiflexion is to be relied on: an end of 43 deg is unusual")


def test_json_of_a_map_is_complete_where_a_leg_does_not_reach(path, capsys):
    note(path, reach_cm=60)
    capsys.readouterr()
    report = printed(capsys, "placement", "--logbook", path, "--participant", "siskin")
    rows = report["map"]["right"]
    assert rows["spare_room_deg"][-1][0] is None and rows["limit"][-1][0] == "out of reach"
    assert len(rows["spare_room_deg"]) == len(report["map"]["reach_cm"]) == 11


def test_a_side_of_which_nothing_is_known_does_not_limit_the_other(path, capsys):
    note(path)
    call("range", "right.ankle_dorsiflexion=24,25,25", "--logbook", path, "--participant", "siskin")
    capsys.readouterr()
    report = printed(capsys, "placement", "--logbook", path, "--participant", "siskin")
    assert list(report["room_deg"]) == ["right"] and list(report["reach_cm"]) == ["right"]
    assert "nothing is known of the left side's own range: it is left out" in report["notes"]


def test_a_published_norm_gives_no_suggestion(path, capsys):
    note(path, reach_cm=38)
    capsys.readouterr()
    report = printed(capsys, "placement", "--logbook", path, "--participant", "siskin")
    assert report["suggestion"] is None
    assert "is a published norm, not this person's; measure the range first" in report["why_no_suggestion"]


def test_another_throne_height_is_not_learned_from_and_its_range_is_marked(path, capsys):
    note(path)
    measured_evening(path, 0, 44.0, height=54.0)
    capsys.readouterr()
    report = printed(capsys, "placement", "--logbook", path, "--participant", "siskin", "--setup", "near")
    assert report["learned"]["sessions"] == 0
    assert any("another throne height (4 cm apart)" in note for note in report["notes"])
    assert report["ends"]["left"]["hip_flexion"]["other_height"] is True
    assert any("measured at another throne height" in note for note in report["notes"])


def test_a_changed_throne_height_is_said_when_the_set_up_is_noted(path, capsys):
    note(path)
    capsys.readouterr()
    found = printed(capsys, "setup", "near", "throne_height_cm=53", "--logbook", path, "--participant", "siskin")
    assert "the throne is +3 cm from before" in found["warnings"][0]
    assert [set(h["changed"]) for h in found["setups"][0]["history"]][1] == {"throne_height_cm", "throne_settled"}
    rest = found["setups"][0]["predicted_rest_deg"]["right"]
    assert rest["torso_thigh"] == pytest.approx(90 - rest["thigh_slope"], abs=0.2)


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("setup", "near", "reach_cm=18"), "if it was measured in inches, write reach_cm=45.7"),
        (("setup", "near", "spacing_cm=19"), "if it was measured in inches, write spacing_cm = 48.3"),
        (("setup", "near", "reach_cm=89"), "the right leg .* cannot sit 50 cm high with its foot 89 cm ahead"),
        (("setup", "near", "reach_cm=tall"), "`reach_cm` = 'tall' is no number; write it in digits, such as reach"),
        (("setup", "near", "reach_cm=nan"), "`reach_cm` = nan is no usable number"),
        (("setup", "near", "right.reach_cm=18"), "`right.reach_cm` = 18 is outside .* write right.reach_cm=45.7"),
        (("setup", "near", "reach_cm=41", "reach_cm=42"), "`reach_cm` is typed twice, as 41 and 42; keep one"),
        (("setup", "near", "throne_settled=maybe"), "is neither yes nor no; write throne_settled=yes"),
        (("setup", "../x", "reach_cm=41"), "`name` = '../x' cannot be used: a name is 1 to 64 printable characters"),
        (("setup", "near", "--person", "stature_cm=68"), "if it was measured in inches, write stature_cm=172.7"),
        (("setup", "near", "--person", "shank_length_cm=60"), "do not belong to one leg; measure both"),
        (("setup", "--person", "shank_length_cm=60"), "do not belong to one leg"),
        (("range", "--person", "thigh_length_cm=60"), "do not belong to one leg"),
        (("range", "right.ankle_dorsiflexion=14,-15,15"), "of -15 deg would end before neutral"),
        (("range", "right.ankle_dorsiflexion=95"), r"95 deg is more than a joint can \(60 deg\); correct it"),
        (("range", "right.hip_flexion=90", "right.hip_flexion=91"), "`right.hip_flexion` is typed twice"),
        (("setup", "reach_cm=41"), "say which set-up: a name before the values"),
        (("setup", "near", "reach"), "'reach' is no value; write KEY=VALUE"),
        (("setup", "near", "reach_cm=41", "--person", "thigh_length_cm=53"), "does not fit stature_cm = 172"),
        (("setup", "near", "reach_cm=40", "--person", "weight=3"), "`weight` is nothing known of a person"),
        (("range", "right.ankle_dorsiflexion=-6,-5"), "would end before neutral; give it as a positive number"),
        (("range", "ankle_dorsiflexion=14"), "`ankle_dorsiflexion` says no side; write right.ankle_dorsiflexion="),
        (("range", "right.knee_flexion=100"), "'knee_flexion' is no motion of a range check"),
        (("range", "right.hip_flexion=a,b"), "'a,b' are no numbers"),
        (("range", "right.hip_flexion=100", "--pain", "5"), "stop; with pain of 5 of 10 the range is not measured"),
        (("range", "right.hip_flexion=100", "--instrument", "eye"), "'eye' is no instrument"),
        (("range", "--pain", "2"), "no range to note pain, footwear or throne height with; add it, such as right."),
        (("range", "right.hip_flexion=100", "--throne-height-cm", "20"), "in inches, write throne_height_cm=50.8"),
        (("setup", "near", "name=far"), "`name` is nothing that a set-up has; see"),
        (("placement", "--setup", "far"), "there is no set-up 'far'; known are near"),
    ],
)  # fmt: skip
def test_bad_input_is_one_sentence_and_nothing_is_stored(path, capsys, arguments, message):
    note(path)
    files = {
        file: file.read_bytes() for file in Logbook.open(path).path.rglob("*") if file.suffix in (".json", ".toml")
    }
    capsys.readouterr()
    assert call(*arguments, "--logbook", path, "--participant", "siskin") == 2
    said = capsys.readouterr()
    assert said.out == "" and len(said.err.strip().splitlines()) == 1

    assert re.search(message, said.err), said.err
    now = {file: file.read_bytes() for file in Logbook.open(path).path.rglob("*") if file.suffix in (".json", ".toml")}
    assert now == files


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("setup", "near", "reach_cm=44"), "it holds nobody yet; somebody new begins with a length, such as --person"),
        (("range", "right.hip_flexion=100"), "somebody new begins with a length, such as --person stature_cm=172"),
        (("setup", "near", "reach_cm=18", "--person", "stature_cm=172"), "if it was measured in inches"),
        (("range", "right.hip_flexion=-5", "--person", "stature_cm=172"), "would end before neutral"),
    ],
)
def test_what_is_refused_on_a_new_logbook_leaves_no_logbook(path, tmp_path, capsys, arguments, message):
    assert call(*arguments, "--logbook", path, "--participant", "siskin") == 2
    assert re.search(message, capsys.readouterr().err)
    assert list(tmp_path.iterdir()) == []


def test_a_folder_of_other_things_is_no_logbook_and_left_alone(tmp_path, capsys):
    (tmp_path / "sessions").mkdir()
    (tmp_path / "holiday.jpg").write_bytes(b"x")
    arguments = ("setup", "near", "reach_cm=44", "--person", "stature_cm=172", "--participant", "siskin")
    assert call(*arguments, "--logbook", tmp_path) == 2
    assert "is no logbook" in capsys.readouterr().err
    assert sorted(p.name for p in tmp_path.iterdir()) == ["holiday.jpg", "sessions"]


def test_an_unknown_person_and_an_unmeasured_set_up_are_refused(path, capsys):
    assert call("placement", "--logbook", path, "--participant", "siskin") == 2
    note(path)
    capsys.readouterr()
    assert call("placement", "--logbook", path, "--participant", "wren") == 2
    assert "no participant 'wren'" in capsys.readouterr().err
    call("setup", "half", "reach_cm=40", "--logbook", path, "--participant", "linnet", "--person", "stature_cm=170")
    capsys.readouterr()
    assert call("placement", "--logbook", path, "--participant", "linnet") == 2
    assert "no set-up with throne height, reach and spacing is known" in capsys.readouterr().err


def test_the_range_sheet_shows_sides_history_and_what_can_be_told(path, capsys):
    note(path)
    for values in ("12,13,13", "14,15,15.5"):
        call("range", f"right.ankle_dorsiflexion={values}", "--logbook", path, "--participant", "siskin")
    call("range", "left.ankle_dorsiflexion=27,28,28", "--logbook", path, "--participant", "siskin")
    capsys.readouterr()
    sheet = printed(capsys, "range", "--logbook", path, "--participant", "siskin")
    right = next(row for row in sheet["ranges"] if row["side"] == "right")
    assert right["mean_of_last_three_deg"] == pytest.approx(14.8)
    assert [h["mean_of_last_three_deg"] for h in right["history"]] == [12.7]
    assert sheet["side_differences"][0]["note"] == "far apart: measure both again first"
    assert sheet["missing_sides"] == []
    assert "without a clinician" in sheet["caution"] and "lunge test" in sheet["conditions"]


# The sheet itself -----------------------------------------------------------------------------------------------


def test_the_end_is_the_mean_of_the_last_three():
    assert end_of_typed([10, 16, 17, 18]) == 17
    assert end_of_typed([16]) == 16


def test_growth_and_plateau_are_seen():
    """Range grows over repetitions and levels off (Holzgreve 2020, other joints; ankle not tested)."""
    warm = summarise("right", "ankle_dorsiflexion", [14, 16, 17, 17.5])
    assert warm.growth_deg == 3.5 and warm.plateau and warm.messages == ()
    cold = summarise("right", "ankle_dorsiflexion", [10, 13, 17])
    assert not cold.plateau and any("still growing" in m for m in cold.messages)
    assert any("a cold first one" in m for m in cold.messages)
    assert any("instead of three" in m for m in summarise("left", "hip_flexion", [110]).messages)


def test_a_lunge_test_is_recognised():
    assert any("lunge test" in m for m in summarise("left", "ankle_dorsiflexion", [40, 41, 41]).messages)


def test_norms_and_detectable_changes_stand_beside_each_value():
    """Krause 2015: MDC of active seated internal rotation 5.4 deg; Konor 2012, lunge: SEM 1.35 -> 2.7719 * 1.35 = 3.74;
    Boone & Azen 1979: dorsiflexion 12.2 (4.1), from memory."""
    assert DETECTABLE["hip_internal_rotation"].deg == 5.4
    assert 1.96 * np.sqrt(2) * 1.35 == pytest.approx(3.74, abs=0.01)
    assert DETECTABLE["ankle_dorsiflexion"].deg > 3.74, "no narrower than the better test"
    found = summarise("right", "ankle_dorsiflexion", [14, 15, 15])
    assert found.norms[0].mean_deg == 12.2 and found.norms[0].conditions


def test_sides_within_the_error_are_not_called_different():
    pair = [
        summarise("right", "hip_internal_rotation", [30, 31, 31]),
        summarise("left", "hip_internal_rotation", [33, 34, 34]),
    ]
    assert side_differences(pair)[0].note == "within the error of measuring"
    assert side_differences(pair[:1]) == []


def test_no_repetitions_and_impossible_values_are_refused():
    with pytest.raises(InputError, match="there are no repetitions"):
        summarise("right", "hip_flexion", [])
    with pytest.raises(InputError, match="are no angles"):
        summarise("right", "hip_flexion", [100, float("nan")])


# The order of a fitting ------------------------------------------------------------------------------------------


def test_the_throne_comes_first_and_a_changed_height_has_to_be_settled_again(path, capsys):
    note(path, throne_settled="false")
    capsys.readouterr()
    early = printed(capsys, "setup", "near", "reach_cm=44", "--logbook", path, "--participant", "siskin")
    assert any("not settled yet; noted all the same" in warning for warning in early["warnings"])
    agreed = printed(capsys, "setup", "near", "throne_settled=true", "--logbook", path, "--participant", "siskin")
    assert agreed["warnings"] == ["settled without thigh_slope_deg, balance_0_10: note what it was agreed on"]
    calm = printed(capsys, "setup", "near", "reach_cm=43", "--logbook", path, "--participant", "siskin")
    assert calm["warnings"] == [] and calm["setups"][0]["throne_settled"] is True
    raised = printed(capsys, "setup", "near", "throne_height_cm=53", "--logbook", path, "--participant", "siskin")
    assert "throne_settled" not in raised["setups"][0]
    report = printed(capsys, "placement", "--logbook", path, "--participant", "siskin")
    assert "not marked as settled" in report["why_no_suggestion"]


def test_a_range_by_hand_belongs_to_the_throne_height_noted_last(path, capsys):
    note(path)
    typed = ("range", "right.hip_flexion=100,101,101", "--logbook", path, "--participant", "siskin")
    capsys.readouterr()
    [row] = printed(capsys, *typed)["ranges"]
    assert row["throne_height_cm"] == GEOMETRY["throne_height_cm"] and row["other_height"] is False
    call("setup", "near", "throne_height_cm=53", "--logbook", path, "--participant", "siskin")
    capsys.readouterr()
    [row] = printed(capsys, "range", "--logbook", path, "--participant", "siskin")["ranges"]
    assert row["other_height"] is True


def test_a_height_settled_on_one_set_up_holds_for_another_of_that_height(path, capsys):
    note(path)
    values = [f"{key}={value}" for key, value in GEOMETRY.items()]
    call("setup", "far", "reach_cm=46", *values, "--logbook", path, "--participant", "siskin")
    values = [f"{key}={value}" for key, value in {**GEOMETRY, "throne_height_cm": 53}.items()]
    call("setup", "high", "reach_cm=46", *values, "--logbook", path, "--participant", "siskin")
    capsys.readouterr()
    apart = printed(capsys, "setup", "--logbook", path, "--participant", "siskin")["setups"]
    assert {one["name"]: one["other_height"] for one in apart} == {"near": True, "far": True, "high": False}
    call("setup", "near", "--logbook", path, "--participant", "siskin")
    assert "near (other height: now 53 cm): throne_height_cm 50" in capsys.readouterr().out
    settled = {
        name: printed(capsys, "placement", "--setup", name, "--logbook", path, "--participant", "siskin")
        for name in ("far", "high")
    }
    assert settled["far"]["throne_settled"] is True and settled["high"]["throne_settled"] is False


def test_heel_up_is_asked_for_or_taken_from_what_was_measured(path, capsys):
    """Heel-up the foot points down more: less demand on dorsiflexion (common practice, no source)."""
    note(path)
    call("range", "right.ankle_dorsiflexion=19,20.5,21", "--logbook", path, "--participant", "siskin")
    capsys.readouterr()
    asked = [
        printed(capsys, "placement", *more, "--logbook", path, "--participant", "siskin")
        for more in ((), ("--heel-up",), ("--heel-down",))
    ]
    assert [one["way"] for one in asked] == ["heel-down", "heel-up", "heel-down"]
    rooms = [one["room_deg"]["right"]["ankle_dorsiflexion"] for one in asked]
    assert rooms[1] > rooms[0] + 8 and rooms[0] == rooms[2]
    name = measured_evening(path, 0, 42.0)
    derived = next(Logbook.open(path).path.rglob("exposure.json"))
    exposure = json.loads(derived.read_text(encoding="utf-8"))
    derived.write_text(json.dumps({**exposure, "techniques": {name: {"right": "heel-up", "left": "unknown"}}}))
    report = printed(capsys, "placement", "--setup", name, "--logbook", path, "--participant", "siskin")
    assert report["way"] == "heel-up"


def test_what_stands_in_the_way_is_noted_by_hand_and_forgotten_again(path, capsys):
    note(path)
    capsys.readouterr()
    found = printed(capsys, "setup", "near", "keep_clear.floor tom=30,45,40,60,25", "--logbook", path,
                    "--participant", "siskin")  # fmt: skip
    assert found["setups"][0]["keep_clear"] == [
        {"name": "floor tom", "forward_cm": 30, "right_cm": 45, "diameter_cm": 40, "top_cm": 60, "bottom_cm": 25}
    ]
    gone = printed(capsys, "setup", "near", "keep_clear.floor tom=-", "--logbook", path, "--participant", "siskin")
    assert "keep_clear" not in gone["setups"][0]


@pytest.mark.parametrize(
    ("value", "message"),
    [
        ("keep_clear.floor tom=30,45", "forward, right, diameter, top and, if you like, bottom, in cm, with commas"),
        ("keep_clear.floor tom=30,45,40,sixty", "'sixty' is no number"),
        ("keep_clear.floor tom=30,45,40,20,25", "has its top (20 cm) below its bottom (25 cm)"),
        ("keep_clear.=30,45,40,20", "says no name"),
    ],
)
def test_a_thing_that_cannot_stand_there_is_refused(path, capsys, value, message):
    note(path)
    capsys.readouterr()
    assert call("setup", "near", value, "--logbook", path, "--participant", "siskin") == 2
    assert message in capsys.readouterr().err
