"""How a foot played, in words and in tables: from figures as exposure.json holds them, no browser."""

import json

import pytest
from footroom.analysis.measure_registry import MOTION_MEASURES
from footroom.dashboard.pages.session import exposure_section
from footroom.dashboard.pages.session_playing import every_figure, playing_section
from footroom.dashboard.playing_words import foot_sentences
from footroom.dashboard.wording import WHAT_A_BAND_IS
from footroom.logger.cautions import STOP_TODAY

TREND = {"per_minute": -0.1, "interval_per_minute": [-0.2, -0.01], "change": -1.5, "over_s": 900.0, "verdict": "falls"}
FOOT = {
    "strokes": {
        "count": 178, "per_minute": 106.0, "rate_per_s": 1.81, "excursion_deg": {"10": 4.9, "50": 9.4, "90": 14.1},
        "evenness": {"interval_ms": 555.5, "sd_ms": 19.7, "cv": 0.035, "intervals": 58},
    },
    "heel": {"technique": "unknown", "heel_down_share": 0.68, "heel_up_share": 0.32, "heel_unknown_share": 0.0},
    "by_exercise": [{"exercise": "shuffle", "tempo_bpm": 108.0, "strokes": 178, "rate_per_s": 1.81,
                     "median_excursion_deg": 9.4, "evenness": None,
                     "timing": {"tempo_bpm": 108.0, "off_grid_ms": 14.1, "worth_saying": False}}],
    "room_at_rest": {"angle_deg": 12.9, "room_deg": 6.2, "band_room_deg": [2.2, 10.2]},
    "lift_test": {"rest_deg": 12.9, "lifts_deg": [7.1, 7.8], "held": 2, "gained_deg": 7.4, "lifted": True,
                  "band_gained_deg": [5.3, 9.5]},
    "knee": {"side_tilt_deg": {"10": -5.1, "50": -4.3, "90": -3.9}, "knee_offset_cm": {"10": -4, "50": -3.1, "90": -3},
             "side_tilt_half_width_deg": 2.6, "knee_offset_half_width_cm": 1.9},
    "trends": {"excursion_deg": TREND | {"verdict": "no trend"}, "posture_deg": None},
    "range_change_deg": -0.6, "band_range_change_deg": [-3.4, 2.2],
    "not_known": {"trend of posture_deg": "no hip angle"},
}  # fmt: skip
TOES_UP = {
    "zone_deg": 5.0, "share_near_end": 0.42, "band_near_end": [0.12, 0.68], "held_share": 0.1,
    "repeated_share": 0.32, "stays": 103,
    "longest_stay_s": 6.1, "longest_without_gap_s": 9.9, "room_trend": TREND, "median_room_deg": 5.14,
    "band_half_width_deg": 3.8, "band_rests_on": "a range check in the same session",
    "share_by_room_deg": {"0": 0.08, "5": 0.42},
    "entries_per_minute": 38.2, "bands": {"entries_per_minute": [12.1, 55.0]},
    "by_exercise": [{"exercise": "eighths", "tempo_bpm": 96.0, "known_s": 130.0, "mean_block_room_deg": 5.1,
                     "band_mean_block_room_deg": [1.3, 8.9], "share_near_end": 0.42, "band_near_end": [0.12, 0.68]}],
    "stays_by_duration": {"durations_s": ["0-1", "1-3"], "count": [90, 13], "share": [0.2, 0.22], "low": [0.1, 0.02],
                          "high": [0.25, 0.4]},
    "relative_cycle_damage": {"exponent": 5, "per_minute": {"3": 245.8, "5": 3384.7}},
    "level_duration": {"levels_deg": ["<0", "0-5"], "durations_s": ["0-1", "1-3"], "share": [[0.1, 0.0], [0.5, 0.4]]},
}  # fmt: skip
EXPOSURE = {"setups": {"near": {"right": {"ankle_dorsiflexion": TOES_UP}}}, "playing": {"near": {"right": FOOT}}}


def plain(text):
    return text.replace("\N{NO-BREAK SPACE}", " ")


DRAWN_BY_CONTENT = ("level_duration", "bands", "by_exercise", "stays_by_duration")


def text_of(component):
    return json.dumps(component.to_plotly_json() if hasattr(component, "to_plotly_json") else component,
                      default=lambda one: one.to_plotly_json(), ensure_ascii=False)  # fmt: skip


def test_a_foot_in_a_few_sentences():
    told = [plain(text) for text in foot_sentences(FOOT, TOES_UP)]
    assert told == [
        "178 strokes, ordinarily 1.8 a second; the ankle moves by 9° in one (5 to 14°). Heel down 68 %, heel up 32 % "
        "of them.",
        "Time between strokes varies by 20 ms (4 % of it); off an even grid at 108 beats a minute by 14 ms, which is "
        "little.",
        "With less than 5° left, toes up: 42 % of the time (95 %: 12 to 68 %), 10 % held longer than 4 s, 32 % in "
        "short visits (103, the longest 6.1 s). Longest time without a break from there: 9.9 s.",
        "At rest on the pedal 6.2° are left (95 %: 2.2 to 10.2°). In the lift test the foot came up by 7.4° "
        "(95 %: 5.3 to 9.5°), 7.1 to 7.8° in 2 lifts.",
        "The shin leans 4° ± 3° inward, seen from in front: the knee is 3 ± 2 cm farther in than the ankle.",
        "Over 15 min room, toes up falls by 1.5° (95 %: 0.1 to 3.0°): perhaps tiring, perhaps not. A rest is never "
        "wrong.",
        "Range, toes up, after playing: as before, as far as can be told: −0.6° (95 %: −3.4 to +2.2°).",
    ]


@pytest.mark.parametrize(
    ("change", "toes", "words"),
    [
        ({"strokes": None, "not_known": {"strokes": "no stroke was found"}}, None, "Strokes: no stroke was found."),
        ({"heel": FOOT["heel"] | {"heel_down_share": 1.0, "heel_up_share": 0.0}}, None, "Heel down 100 %."),
        ({"lift_test": FOOT["lift_test"] | {"gained_deg": 1.2, "lifted": False}}, None, "it hardly lifts there."),
        ({"knee": {"side_tilt_deg": {"10": -1, "50": 0.3, "90": 1}, "knee_offset_cm": None}}, None, "stands upright"),
        ({"knee": FOOT["knee"] | {"side_tilt_half_width_deg": 5.0}}, None, "can be told (4° inward ± 5°)."),
        ({"range_change_deg": -4.0, "band_range_change_deg": [-6.5, -1.5]}, None,
         "4.0° smaller than before (95 %: 1.5 to 6.5°)."),
        ({"trends": {}, "not_known": {"trend of sparc": "2 blocks are known, and a trend needs 8"}}, None, "Too short"),
        ({"trends": {}, "not_known": {}}, None, "Signs of tiring: not known."),
        ({}, TOES_UP | {"room_trend": None}, "No sign of tiring over the session, which is ordinary."),
        ({}, TOES_UP | {"share_near_end": 0.0}, "toes up: 0 % of the time (95 %: 12 to 68 %)."),
        ({}, TOES_UP | {"held_share": 0.0}, "68 %), all of it in short visits"),
    ],
)  # fmt: skip
def test_other_answers(change, toes, words):
    assert any(words in plain(text) for text in foot_sentences(FOOT | change, toes))


def test_what_was_not_recorded_is_left_out_and_contact_has_no_end():
    bare = foot_sentences({"strokes": None, "not_known": {}}, TOES_UP | {"share_near_end": None, "room_trend": None})
    assert bare == ["Strokes: not known.", "Signs of tiring: not known."]


def test_the_section_says_when_to_stop():
    section = text_of(playing_section("s1", EXPOSURE))
    assert "178 strokes" in section
    assert STOP_TODAY in section
    assert "Every figure with ‘near’" in section
    assert playing_section("s1", {"setups": {"near": {"right": {}}}}) is None


def test_every_registered_figure_that_is_there_is_in_the_tables():
    tables = text_of(every_figure(EXPOSURE, "near"))
    for measure in MOTION_MEASURES:
        if TOES_UP.get(measure.name) is not None and measure.name not in ("band_rests_on", *DRAWN_BY_CONTENT):
            assert measure.name in tables, measure.name
    shown = ("5.1", "3384.7", "50", "Half of the time", "no hip angle", "38.2 (12.1 to 55.0)", "eighths", "shuffle")
    for words in (*shown, "90: 20 (10 to 25)"):
        assert words in tables, words
    assert "Source: Miner 1945" in tables
    assert "None" not in tables
    assert every_figure(EXPOSURE, "no such set-up")[-1].children[0].children.startswith("How each")


def test_the_bands_say_what_they_are_and_rest_on():
    shown = text_of(exposure_section(EXPOSURE))
    assert WHAT_A_BAND_IS in shown
    assert "3.8° either way: a range check in the same session." in shown
    assert "Right ankle, toes up" in shown
