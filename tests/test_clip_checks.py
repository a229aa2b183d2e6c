"""What is seen of clips while recording, and each thing that is to be put right with its sentence."""

import dataclasses

import numpy as np
import pytest
from footroom.logger.errors import InputError
from footroom.logger.recorder.checks import (
    Swap,
    check_clips,
    check_taps,
    check_worn,
    refuse_unknown,
    restless,
)
from footroom.logger.recorder.watch import ClipState, Watch
from footroom.logger.sources.base import ClipFacts, Connected, Gone, Heard, StatusHeard, Trouble
from footroom.logger.unit_checks import slow_rate
from footroom.logger.wire import SEQUENCE_SPAN

FOOT, SHANK = "020000000000", "020000000001"
WELL = ClipState(FOOT, "right_foot", True, True, 200.0, 200.3, 0.0, 80, 0.02)


def facts(clip=FOOT, **more):
    return ClipFacts(clip, "serial", "port", 200.0, 0.005, 0.001, **more)


def frames(seconds, clip=FOOT, start_s=100.0, first=0, leave_out=(), turn=0):
    """Ten samples a frame at 200 Hz, numbered from `first`; `turn` : counts of alternating angular rate."""
    events = []
    for k in range(round(seconds * 20)):
        if k in leave_out:
            continue
        counts = np.zeros((10, 6), np.int16)
        counts[::2, 4], counts[1::2, 4] = turn, -turn
        number = (first + 10 * k) % SEQUENCE_SPAN
        events.append(Heard(clip, start_s + k * 0.05 + 0.05, number, 0, counts, "port"))
    return events


def change(**more):
    return dataclasses.replace(WELL, **more)


def test_rate_loss_battery_and_the_last_word_are_seen():
    watch = Watch({FOOT: "right_foot", SHANK: "right_shank"})
    watch.take([Connected(FOOT, 100.0, facts(battery_percent=71, signal_dbm=-60))])
    watch.take(frames(10, leave_out=(40, 41)))
    watch.take([StatusHeard(FOOT, 110.0, battery_percent=70, dropped=0)])
    foot, shank = watch.clips(110.1)
    assert foot.heard_hz == pytest.approx(200, rel=0.03) and foot.lost == pytest.approx(20 / 2000)
    assert (foot.battery_percent, foot.signal_dbm, foot.connected, foot.silent) == (70, -60, True, False)
    assert foot.silent_s == pytest.approx(0.1)
    assert (shank.connected, shank.heard_hz, shank.lost, shank.silent_s, shank.silent) == (
        False, None, None, None, True
    )  # fmt: skip


def test_late_and_doubled_frames_and_a_wrapped_number_are_no_loss():
    watch = Watch({FOOT: "right_foot"})
    events = frames(4, first=SEQUENCE_SPAN - 300)
    watch.take([Connected(FOOT, 100.0, facts()), *events, events[-3]])
    assert watch.clips(104.2)[0].lost == 0.0


def test_a_silence_longer_than_the_numbers_reach_is_counted_whole():
    watch = Watch({FOOT: "right_foot"})
    silent_s = 2 * SEQUENCE_SPAN / 200  # the number is the same again
    watch.take([Connected(FOOT, 100.0, facts()), *frames(1)])
    watch.take(frames(1, start_s=101.0 + silent_s, first=200))
    assert watch.clips(103 + silent_s)[0].lost == pytest.approx(1 - 400 / (400 + 2 * SEQUENCE_SPAN))


def test_a_link_that_was_gone_and_a_clip_that_began_anew_count_as_lost_for_as_long_as_it_took():
    for first in (200 + 1000, 0):  # the clip went on meanwhile, or was switched off and on
        watch = Watch({FOOT: "right_foot"})
        watch.take([Connected(FOOT, 100.0, facts()), *frames(1), Gone(FOOT, 101.5, "the plug is out.")])
        watch.take([Connected(FOOT, 106.0, facts()), *frames(1, start_s=106.0, first=first)])
        assert watch.clips(107.0)[0].lost == pytest.approx(1000 / 1400, abs=0.01)


def test_a_link_that_breaks_and_comes_back_and_clips_that_nobody_wears():
    watch = Watch({FOOT: "right_foot"})
    watch.take([Connected(FOOT, 100.0, facts(running=False)), Connected("stranger", 100.0, facts("stranger"))])
    assert watch.to_start() == [FOOT] and watch.strangers == {"stranger"}
    watch.take(frames(1))
    assert watch.to_start() == []
    watch.take([Gone(FOOT, 105.0, "the plug is out."), Trouble("", 105.0, "port", "no port; plug it in.", "missing")])
    state = watch.clips(106.0)[0]
    assert not state.connected and state.problem == "the plug is out." and watch.troubles == ["no port; plug it in."]
    watch.take([Connected(FOOT, 107.0, facts(running=False))])
    assert watch.to_start() == [FOOT] and watch.clips(107.0)[0].problem == ""
    board = Watch({"board": "right_foot"})
    board.take([Connected("board", 1.0, facts("board", text=True))])
    assert board.to_start() == []  # takes no commands


def test_how_much_each_place_turns_is_measured_without_its_bias():
    watch = Watch({FOOT: "right_foot", SHANK: "right_shank"})
    watch.take([Connected(FOOT, 100.0, facts()), Connected(SHANK, 100.0, facts(SHANK))])
    watch.take(frames(1, turn=900))
    watch.measure()
    steady = frames(1, clip=SHANK)
    for frame in steady:
        frame.counts[:, 4] = 40  # a constant offset is no movement
    watch.take([*frames(1, turn=250, first=200), *steady])
    turning = watch.turning()
    assert turning == pytest.approx({"right_foot": 0.25, "right_shank": 0.0}, abs=1e-6)


def test_clips_that_are_well_give_nothing_to_say():
    assert check_clips([WELL, change(lost=None, battery_percent=None)]) == []


@pytest.mark.parametrize(
    ("state", "kind", "words", "stops"),
    [
        (change(connected=False, nominal_hz=None, silent_s=None), "unheard", "switch the clip on", True),
        (change(connected=False, problem="the link broke; it is looked for."), "unheard", "the link broke", True),
        (change(silent_s=5.0), "silent", "linked but sends nothing: bring it nearer", True),
        (change(battery_percent=12), "battery", "12 % of its charge left, and how many minutes that is is not", True),
        (change(fault=True), "fault", "its sensor does not answer; switch the clip off and on", True),
        (change(nominal_hz=50.0, heard_hz=50.0), "rate", "fast strokes need 100", True),
        (change(heard_hz=150.0), "rate", "only 150 of 200 samples a second come from the right foot", False),
        (change(heard_hz=260.0), "rate", "sends 260 samples a second and promises 200", False),
    ],
)
def test_each_trouble_of_a_clip_is_one_sentence_with_its_remedy(state, kind, words, stops):
    (finding,) = check_clips([state])
    assert (finding.kind, finding.stops) == (kind, stops)
    assert words in finding.sentence and f"the right foot ({FOOT})" in finding.sentence
    assert [one.stops for one in check_clips([state], anyway=True)] == [False]


def test_two_clips_with_one_id_stop_the_recording_even_with_anyway():
    said = "2 clips call themselves '1' (a and b); give one of them an id of its own."
    (finding,) = check_clips([change(problem=said)], anyway=True)
    assert finding.stops and finding.sentence == said


def test_strangers_are_said_and_what_stops_comes_first():
    found = check_clips([change(heard_hz=150.0), change(silent_s=9.0)], {"0a"}, ["no adapter; plug one in."])
    assert [finding.kind for finding in found] == ["silent", "rate", "stranger"]
    assert "the clip 0a is heard and worn nowhere: it is not recorded" in found[-1].sentence
    unheard = check_clips([change(connected=False, nominal_hz=None)], (), ["no adapter; plug one in."])
    assert [finding.kind for finding in unheard] == ["unheard", "source"]


@pytest.mark.parametrize(
    ("worn", "words"),
    [
        ([], "no clip is worn on a leg of p01 as far as L knows (no clip has a place yet)"),
        (["pelvis"], "only the pelvis has one"),
        (["right_foot", "right_thigh"], "the right leg has a clip on the foot and thigh and none on the shank"),
        (["left_shank"], "the left leg has a clip on the shank and none on the foot"),
    ],
)
def test_a_place_without_a_clip_is_said_with_the_command_that_gives_it_one(worn, words):
    (finding,) = check_worn(worn, "p01", "L")
    assert words in finding.sentence and "`footroom clips wear CLIP" in finding.sentence


def test_one_leg_or_an_ankle_pair_is_enough():
    assert check_worn(["right_foot", "right_shank"], "p01", "L") == []
    assert check_worn(["left_shank", "left_thigh", "pelvis"], "p01", "L") == []


def test_what_the_taps_say_of_where_clips_sit():
    well = {"right_foot": 0.8, "right_shank": 0.1, "left_foot": 0.05, "left_shank": 0.02}
    assert check_taps("right", well) is None
    legs = check_taps("right", {"right_foot": 0.05, "right_shank": 0.02, "left_foot": 0.8, "left_shank": 0.1})
    assert legs == Swap(
        "While the right foot moved, the clip of the left foot turned: right and left look swapped.",
        (("right_foot", "left_foot"), ("right_shank", "left_shank")),
    )
    leg = check_taps("right", {"right_foot": 0.1, "right_shank": 0.8, "left_foot": 0.05})
    assert isinstance(leg, Swap) and leg.pairs == (("right_foot", "right_shank"),)
    assert "Nothing turned" in check_taps("right", dict.fromkeys(well, 0.01))
    assert "was not heard" in check_taps("left", {"right_foot": 0.5})
    assert "pelvis turned most" in check_taps("right", {"right_foot": 0.1, "pelvis": 0.8})
    assert check_taps("right", {"right_foot": 0.5, "right_shank": 0.6}) is None  # not clearly


def test_who_did_not_sit_still():
    assert restless({"right_foot": 0.02, "left_thigh": 0.2}) == ["left thigh"]


def test_an_unknown_name_is_refused_with_those_known_unless_it_is_the_first():
    refuse_unknown("the set-up", "near", [], "--new")
    refuse_unknown("the set-up", "near", ["near"], "--new")
    with pytest.raises(InputError, match=r"'neer' is not known \(did you mean `near`\?\); known are near, far"):
        refuse_unknown("the set-up", "neer", ["near", "far"], "--new lets it begin here.")


@pytest.mark.parametrize(("rate_hz", "said"), [(50.0, "only 50 samples a second; fast strokes need 100"), (97.0, None)])
def test_a_rate_that_hides_fast_strokes_is_said_at_the_import_too(rate_hz, said):
    assert slow_rate(np.arange(200) / rate_hz) == said
