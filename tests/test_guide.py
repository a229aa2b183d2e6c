"""The guide of a recording: which steps, in which order, and what follows from keys and from time (a virtual clock)."""

import dataclasses

import pytest
from footroom.logger.cautions import CAUTION, CONTRAINDICATIONS, REFER
from footroom.logger.models import PHASE_NAMES, SIDES
from footroom.logger.recorder import texts
from footroom.logger.recorder.acts import Begin, Drop, End, Exchange, Prepare, Remark
from footroom.logger.recorder.guide import Guide
from footroom.logger.recorder.plan import Pace, Plan, Wish, make_plan
from footroom.logger.recorder.view import view_of
from footroom.logger.virtual_drummer import _MOVE_S, _RANGE_S, BLEND_S

BOTH_LEGS = [f"{side}_{segment}" for side in ("right", "left") for segment in ("foot", "shank", "thigh")]
ANKLE = ["right_foot", "right_shank"]


def phases(plan):
    return [(step.phase, step.side) for step in plan.steps if step.kind == "phase"]


class Walk:
    """A guide under a clock that only this test moves."""

    def __init__(self, worn=BOTH_LEGS, hands_free=False, turning=None, **wish):
        wish = {"setups": ["near"], "minutes": 1.0, "felt": False} | wish
        self.guide = Guide(make_plan(Wish(worn=worn, **wish)), hands_free)
        self.now_s, self.acts, self.turning = 1000.0, [], turning or {}
        self.pass_s(0)

    def pass_s(self, seconds):
        end = self.now_s + seconds
        while True:
            self.acts += self.guide.tick(self.now_s, self.turning)
            if self.now_s >= end:
                return self
            self.now_s = min(end, self.now_s + 0.1)

    def press(self, keys):
        for key in keys:
            self.acts += self.guide.key(key, self.now_s)
        return self

    def do(self):
        """Start the step that waits and let it go by."""
        self.press("\n")
        if self.guide.stage == "count":
            seconds = self.guide.step.seconds
            self.pass_s(self.guide.pace.count_s)
            assert self.guide.stage == "go"
            self.pass_s(seconds + 0.05)
        return self

    def to(self, phase, side=None):
        while self.guide.step.phase != phase or self.guide.step.side != side:
            self.do()
        return self

    def view(self):
        return view_of(self.guide, self.now_s)

    def of(self, kind):
        return [act for act in self.acts if isinstance(act, kind)]

    def left(self):
        return [(step.phase, step.side) for step in self.guide.course.ahead if step.kind == "phase"]


def test_the_whole_plan_of_two_legs_and_two_set_ups_is_in_the_order_of_a_fitting():
    plan = make_plan(Wish(["near", "far"], BOTH_LEGS))
    assert [step.kind for step in plan.steps][:3] == ["caution", "caution", "phase"]
    order = [phase for phase, _ in phases(plan)]
    firsts = list(dict.fromkeys(order))
    assert firsts == [name for name in PHASE_NAMES if name != "slide"]  # the slide belongs to a fitting session
    assert phases(plan)[:7] == [
        ("still", None), ("ankle_taps", "right"), ("ankle_taps", "left"), ("knee_kicks", "right"),
        ("knee_kicks", "left"), ("thigh_lifts", "right"), ("thigh_lifts", "left"),
    ]  # fmt: skip
    for setup in ("near", "far"):
        on_it = [(step.kind, step.phase) for step in plan.steps if step.setup == setup]
        assert on_it[:4] == [
            ("setup", None), ("phase", "rest_on_pedal"), ("phase", "lift_test"), ("phase", "playing")
        ]  # fmt: skip
    assert order.count("still") == 4  # before the moves, before the thighs turn outward, and before each set-up
    assert order[order.index("range_abduction") - 1] == "still"
    ranges = [step for step in plan.steps if step.phase and step.phase.startswith("range_")]
    assert all((step.practice, step.repetitions) == (2, 5) for step in ranges)
    assert {step.side for step in ranges if step.phase in ("range_abduction", "range_adduction")} == {None}
    assert {step.side for step in ranges if step.phase == "range_external_rotation"} == {"right", "left"}
    assert plan.notes == ()


def test_the_clips_that_are_worn_decide_which_moves_are_needed():
    plan = make_plan(Wish(["near"], ANKLE))
    assert phases(plan) == [
        ("still", None), ("ankle_taps", "right"), ("knee_kicks", "right"), ("range_dorsiflexion", "right"),
        ("range_plantarflexion", "right"), ("still", None), ("rest_on_pedal", None), ("lift_test", None),
        ("playing", None), ("end_still", None), ("end_range", "right"),
    ]  # fmt: skip
    assert "No clip is worn on the left leg" in plan.notes[0] and "right thigh" in plan.notes[1]
    hips = make_plan(Wish(["near"], ["left_shank", "left_thigh"]))
    assert ("ankle_taps", "left") not in phases(hips) and ("range_internal_rotation", "left") in phases(hips)
    assert ("range_abduction", "left") in phases(hips) and ("range_dorsiflexion", "left") not in phases(hips)


def test_practice_only_has_no_move_and_no_range_leaves_the_calibration():
    practice = make_plan(Wish(["near"], BOTH_LEGS, practice_only=True))
    assert [phase for phase, _ in phases(practice)] == ["still", "playing", "end_still"]
    short = [phase for phase, _ in phases(make_plan(Wish(["near"], BOTH_LEGS, range_check=False)))]
    assert "ankle_taps" in short and not [phase for phase in short if "range" in phase]
    notes = make_plan(Wish(["near"], BOTH_LEGS, range_check=False)).notes
    assert any("thigh_slope_deg" in note for note in notes)


def test_the_slide_alone_is_done_after_the_moves_that_show_the_thigh_and_a_still_pose():
    worn = [f"{side}_{segment}" for side in SIDES for segment in ("shank", "thigh")]
    plan = make_plan(Wish(["near"], worn, only="slide"))
    order = [phase for phase, _ in phases(plan)]
    assert order[0] == "still" and order[-3:] == ["still", "slide", "end_still"]
    assert {"knee_kicks", "thigh_lifts", "range_internal_rotation", "range_external_rotation"} <= set(order)
    assert not {"ankle_taps", "playing", "lift_test", "range_abduction", "end_range"} & set(order)
    slide = next(step for step in plan.steps if step.phase == "slide")
    assert (slide.side, slide.repetitions, slide.is_range) == (None, 5, True)
    assert "In socks" in texts.said(slide).lines[0]
    with pytest.raises(ValueError, match="thigh and shank of both legs"):
        make_plan(Wish(["near"], ANKLE, only="slide"))


def test_the_range_check_alone_ends_with_its_checks_and_without_a_pedal():
    order = [phase for phase, _ in phases(make_plan(Wish(["near"], BOTH_LEGS, only="range")))]
    assert order[-2:] == ["end_still", "end_range"] and "range_dorsiflexion" in order
    assert not {"playing", "rest_on_pedal", "lift_test", "slide"} & set(order)


def test_a_set_up_that_comes_again_is_another_visit():
    plan = make_plan(Wish(["near", "far", "near"], BOTH_LEGS, practice_only=True))
    assert [(s.setup, s.number) for s in plan.steps if s.phase == "playing"] == [("near", 1), ("far", 1), ("near", 2)]
    with pytest.raises(ValueError, match="needs a set-up and a leg"):
        make_plan(Wish([], BOTH_LEGS))


def test_the_cautions_come_before_anything_is_asked_for():
    walk = Walk()
    shown = " ".join(walk.view().lines)
    for text in (CAUTION, "guardian's consent", "child's own yes", "local rules come first"):
        assert text in shown
    walk.pass_s(600)
    assert walk.guide.step.kind == "caution" and not walk.of(Begin)  # nobody confirmed it
    walk.press("\n")
    shown = " ".join(walk.view().lines)
    for text in (CONTRAINDICATIONS, "never into pain", "Press p as soon as something hurts", "only practice"):
        assert text in shown
    walk.press("\n")
    assert [act.what["confirmed"] for act in walk.of(Remark)] == [True, True]
    assert walk.guide.step.phase == "still"


def test_every_step_has_a_plain_instruction_with_cues():
    for step in make_plan(Wish(["near"], BOTH_LEGS, tempo_bpm=96, exercise="eighths")).steps:
        said = texts.said(step)
        assert said.title and all(line.strip().endswith((".", "?")) for line in said.lines), said
        assert not [line for line in (said.title, *said.lines) if "{" in line or "  " in line]
        if step.phase in ("range_dorsiflexion", "range_plantarflexion"):
            assert any("Knee bent, toes long: do they curl?" in line for line in said.lines)
        if step.times is not None:
            assert said.cues[0] and said.cues[2]
    assert "exhaust" not in str(texts.__dict__.values())
    assert "before you are tired" in texts.NEVER_TIRED


@pytest.mark.parametrize(
    ("phase", "first"),
    [("ankle_taps", "heel up"), ("knee_kicks", "straighten"), ("thigh_lifts", "knee up")],
)
def test_moves_begin_in_the_direction_the_analysis_expects(phase, first):
    walk = Walk().to(phase, "right").press("\n").pass_s(3.0)
    assert walk.view().cue == "wait"
    walk.pass_s(1.6)
    assert walk.view().cue == first and walk.view().counted == "1 of 5"


def test_a_range_move_counts_practice_first_and_paces_each_repetition():
    walk = Walk().to("range_dorsiflexion", "right").press("\n").pass_s(3.0)
    begun = walk.of(Begin)[-1]
    seen = []
    for _ in range(340):
        view = walk.pass_s(0.1).view()
        if walk.guide.stage == "go":
            seen.append((view.counted, view.cue))
    told = list(dict.fromkeys(seen))
    assert told[:5] == [
        ("practice 1 of 2", "wait"), ("practice 1 of 2", "toes up"), ("practice 1 of 2", "hold"),
        ("practice 1 of 2", "back"), ("practice 1 of 2", "rest"),
    ]  # fmt: skip
    assert ("1 of 3", "hold") in told and ("3 of 3", "hold") in told
    walk.pass_s(2)
    assert walk.of(End)[-1].at_s == pytest.approx(begun.at_s + 1.5 + 5 * 6.6)


def test_the_virtual_drummer_moves_at_the_pace_that_is_said():
    pace = Pace()
    assert (pace.lead_s, pace.move_times, pace.range_times) == (BLEND_S, _MOVE_S, _RANGE_S)


def test_hands_free_goes_through_everything_by_itself():
    walk = Walk(hands_free=True, setups=["near", "far"]).pass_s(2000)
    assert walk.guide.ended == "finished"
    plan = make_plan(Wish(["near", "far"], BOTH_LEGS, 1.0))
    assert [(a.step.phase, a.step.side) for a in walk.of(Begin)] == phases(plan)
    assert len(walk.of(End)) == len(walk.of(Begin)) and not walk.of(Drop)
    asked = [act.what["said"] for act in walk.of(Remark) if act.kind == "asked for pain"]
    assert set(asked) == {"nothing"}  # silence is not a no
    assert walk.of(Prepare)[-1].phase == "still"


def test_playing_ends_on_time_or_on_enter_and_what_is_played_while_paused_does_not_count():
    walk = Walk(practice_only=True).to("playing").press("\n").pass_s(3 + 20)
    assert walk.guide.stage == "go" and walk.view().count == "40"
    walk.press(" ").pass_s(100)
    assert walk.view().cue == "paused"
    walk.press("\n").pass_s(3)
    assert walk.view().count == "40"
    walk.pass_s(41)
    played = [(act.at_s, act.step.phase) for act in walk.of(Begin) + walk.of(End) if act.step.phase == "playing"]
    times = sorted(at for at, _ in played)
    assert times[1] - times[0] == pytest.approx(20, abs=0.2) and times[3] - times[2] == pytest.approx(40, abs=0.2)
    assert not walk.of(Drop)
    walk = Walk(practice_only=True, minutes=None).to("playing").press("\n").pass_s(500)
    assert walk.guide.stage == "go" and walk.view().count == "8:17"
    walk.press("\n")
    assert walk.of(End)[-1].step.phase == "playing" and walk.guide.step.phase == "end_still"


def test_skip_repeat_and_quit():
    walk = Walk().to("ankle_taps", "right").do()
    walk.press("r")
    assert walk.guide.step.phase == "ankle_taps" and walk.guide.step.side == "right"
    assert [act.step.side for act in walk.of(Drop)] == ["right"]
    walk.press("s")
    assert walk.guide.step.side == "left" and len(walk.of(Drop)) == 1
    walk.press("\n").pass_s(5).press("s")  # in the middle of it
    assert len(walk.of(Drop)) == 2 and walk.guide.step.phase == "knee_kicks"
    walk.press("q")
    assert walk.guide.stage != "done" and "q once more" in walk.view().note
    walk.press("x").press("q")
    assert walk.guide.stage != "done"  # asked anew
    walk.press("q")
    assert walk.guide.ended == "stopped" and walk.view().title == "Done"


def test_what_is_played_is_kept_when_it_is_stopped_and_a_half_move_is_not():
    playing = Walk(practice_only=True).to("playing").press("\n").pass_s(10)
    assert [type(act) for act in playing.guide.stop(playing.now_s)] == [End]
    moving = Walk().to("knee_kicks", "right").press("\n").pass_s(10)
    assert [type(act) for act in moving.guide.stop(moving.now_s)] == [Drop]
    assert moving.guide.stop(moving.now_s) == []


def test_played_minutes_are_not_dropped_by_a_slip_of_the_finger():
    walk = Walk(practice_only=True).to("playing").do()
    walk.press("r")
    assert walk.guide.step.phase == "end_still" and not walk.of(Drop)


def test_only_practice_leaves_out_every_move_at_once():
    walk = Walk().press("\no")
    assert [phase for phase, _ in walk.left()] == ["still", "still", "rest_on_pedal", "playing", "end_still"]
    later = Walk().to("range_plantarflexion", "left").press("o")
    assert [phase for phase, _ in later.left()] == ["still", "rest_on_pedal", "playing", "end_still"]


def test_pain_in_a_range_move_ends_the_moves_of_that_side_and_says_whom_to_see():
    walk = Walk().to("range_dorsiflexion", "right").press("\n").pass_s(12).press("p")
    assert isinstance(walk.acts[-2], Drop) and walk.acts[-1].kind == "pain"
    assert walk.acts[-1].what == {"motion": "range_dorsiflexion", "side": "right", "setup": None}
    assert REFER in walk.view().lines
    walk.press("\n")
    moves = [(phase, side) for phase, side in walk.left() if "range" in phase or phase == "lift_test"]
    assert moves and {side for _, side in moves} == {"left"}
    assert ("range_abduction", "left") in moves and ("end_range", "left") in moves
    assert ("playing", None) in walk.left()


def test_pain_is_asked_for_after_each_range_move_and_what_hurt_does_not_count():
    walk = Walk().to("range_abduction").do()
    assert walk.guide.asks_pain and texts.ASK_PAIN in walk.view().lines
    walk.press("p")
    assert walk.guide.stage == "side" and walk.of(Drop)[-1].step.phase == "range_abduction"
    walk.press("l").press("\n")
    assert walk.of(Remark)[-1].what["side"] == "left"
    assert walk.left()[0] == ("range_adduction", "right")
    quiet = Walk().to("range_abduction").do().press("\n")
    assert quiet.of(Remark)[-1].what == {"motion": "range_abduction", "side": None, "said": "no"}


def test_pain_in_both_legs_ends_all_moves():
    walk = Walk().to("range_abduction").press("\n").pass_s(10).press("p").press("\n").press("\n")
    assert walk.of(Remark)[-1].what["side"] == "both"
    assert [phase for phase, _ in walk.left()] == ["still", "rest_on_pedal", "playing", "end_still"]


def test_pain_while_playing_ends_it_and_keeps_what_was_played():
    walk = Walk(setups=["near", "far"], practice_only=True).to("playing").press("\n").pass_s(30).press("p")
    assert walk.of(End)[-1].step.phase == "playing" and not walk.of(Drop)
    assert texts.ON_PAIN_PLAYING[0] in walk.view().lines
    walk.press("\n")
    assert walk.left() == [("end_still", None)]


def test_somebody_who_did_not_sit_still_is_asked_once_more():
    turning = {"right_foot": 0.01, "right_thigh": 0.2}
    walk = Walk(turning=turning).press("\n\n\n").pass_s(10)
    assert walk.guide.stage == "moved" and "right thigh" in walk.view().note
    walk.press("r")
    assert walk.guide.step.phase == "still" and len(walk.of(Drop)) == 1
    alone = Walk(turning=turning, hands_free=True).pass_s(20 + 20 + 2 * 17 + 1)
    assert len(alone.of(Drop)) == 1  # one more try by itself, then on with a remark
    assert [act.kind for act in alone.of(Remark)][-1] == "not still"
    assert alone.guide.step.phase == "ankle_taps"


def test_swapped_legs_are_told_during_the_taps_and_exchanged_on_request():
    turning = {"right_foot": 0.01, "left_foot": 0.9, "right_shank": 0.01, "left_shank": 0.05}
    walk = Walk().to("ankle_taps", "right")
    walk.turning = turning
    walk.do()
    assert walk.guide.stage == "swap" and "right and left look swapped" in walk.view().lines[0]
    walk.press("y")
    assert walk.of(Exchange)[0].pairs == (("right_foot", "left_foot"), ("right_shank", "left_shank"))
    assert walk.guide.ended == "swapped"
    no = Walk().to("ankle_taps", "right")
    no.turning = turning
    no.do().press("n")
    assert no.guide.step.side == "left" and "look swapped" in no.view().note and not no.of(Exchange)


def test_a_stamp_that_all_clips_feel_is_noted_at_its_moment():
    walk = Walk(practice_only=True).press("\nt")
    assert (walk.of(Remark)[-1].kind, walk.of(Remark)[-1].at_s) == ("sync_tap", walk.now_s)
    assert walk.view().note == "The tap is noted." and walk.guide.step.phase == "still"


def test_how_a_set_up_felt_is_typed_from_0_to_10():
    walk = Walk(practice_only=True, felt=True).to("playing").do()
    assert "Comfort" in walk.view().lines[0]
    walk.press("1").press("0").press("7")  # 107 is no answer
    assert walk.view().count == "10"
    walk.press("\x7f\x7f8\n")
    assert walk.of(Remark)[-1].what == {"setup": "near", "comfort_0_10": 8}
    before = len(walk.of(Remark))
    walk.press("\n").press("s")
    assert len(walk.of(Remark)) == before and walk.guide.step.phase == "end_still"


def test_a_plan_without_limits_shows_no_count_and_views_hold_text_only():
    walk = Walk()
    while walk.guide.stage != "done":
        view = walk.view()
        assert all(isinstance(value, (str, tuple)) for value in dataclasses.astuple(view))
        walk.do()
    assert isinstance(walk.guide.course.step, type(make_plan(Wish(["a"], ANKLE)).steps[0]))
    assert Plan(()).steps == ()
