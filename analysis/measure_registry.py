"""Every figure in `exposure.json`, once: name, unit, which way leaves more room, a plain sentence, definition, source.

Screens, reports, exports, pages and tests read it; `measures.py` holds the sizes that comparisons need.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Direction = Literal["more", "less", ""]
OURS = "ours"
_JONSSON = "Jonsson 1982, J Hum Ergol 11:73-88 (his limits are for muscle load and do not apply)"
_EVA = "Mathiassen & Winkel 1991, doi:10.1080/00140139108964889; classes of duration from memory, of room ours"
_EN = "EN 1005-4: static from 4 s (read second-hand)"
_GAP = "our analogue of Veiersted et al. 1990, Int Arch Occup Environ Health 62:31-41"
_E1049 = "ASTM E1049-85, 5.4.4"
_MINER = "Miner 1945, J Appl Mech 12:A159-A164; for disorders Gallagher & Schall 2017, Ergonomics 60:255-269"
_SEN = "Sen 1968, J Am Stat Assoc 63:1379-1389; within exercises as Hirsch et al. 1982 do with seasons; widening ours"
_WK = "Wing & Kristofferson 1973, Percept Psychophys 14:5-12 (from memory, checked by simulation)"


@dataclass(frozen=True)
class MeasureInfo:
    """name : key in `exposure.json`. unit : `deg`, `0-1`, `s` ...; `-` for words, flags and tables of several.

    direction : which way is more room or steadier playing; "" where neither is. plain : one sentence for a drummer.
    definition : how it is computed. source : where that is from, "ours" where nothing stands behind it.
    """

    name: str
    unit: str
    direction: Direction
    plain: str
    definition: str
    source: str


def _m(name: str, unit: str, direction: Direction, plain: str, definition: str, source: str = OURS) -> MeasureInfo:
    return MeasureInfo(name, unit, direction, plain, definition, source)


MOTION_MEASURES: tuple[MeasureInfo, ...] = (
    _m("active_end_deg", "deg", "", "How far you can move the joint by yourself.", "Mean of the last three held "
       "repetitions of the range check.", "three repetitions: Konor et al. 2012, Int J Sports Phys Ther 7:279"),
    _m("range_source", "-", "", "Where that end comes from.", "This session, typed, an earlier session, or a norm."),
    _m("contact", "-", "", "Your legs touch here before the joint ends.", "No end zone then."),
    _m("zone_deg", "deg", "", "How close to the end counts as near.", "Width of the end zone."),
    _m("zone_flag", "-", "", "Why the time near the end is weak evidence, if it is.", "Zone against twice the "
       "standard error of the repetitions, and against the range."),
    _m("known_s", "s", "", "How long your joint was seen while playing.", "Playing time with a known angle."),
    _m("playing_s", "s", "", "How long you played.", "Sum of the playing phases."),
    _m("median_room_deg", "deg", "more", "Half of the time you had more room left than this.", "Median of active end "
       "minus angle."),
    _m("band_median_room_deg", "deg", "", "Where that may really lie.", "Median room minus and plus the half-width."),
    _m("p05_room_deg", "deg", "more", "One twentieth of the time you had less room than this.", "5th percentile."),
    _m("angle_percentiles_deg", "deg", "", "Low, middle and high angle while playing.", "10th, 50th, 90th percentile "
       "of the trace.", _JONSSON),
    _m("band_half_width_deg", "deg", "", "How far room may be off.", "95 % half-width of the offset band."),
    _m("angle_half_width_deg", "deg", "", "How far the angle itself may be off.", "95 % half-width of the joint angle "
       "while playing; of percentiles of the angle and, with its repetitions, of the active end."),
    _m("band_rests_on", "-", "", "What that rests on.", "Provenance in words."),
    _m("room_histogram", "0-1", "", "How the time was spread over room.", "Shares in classes of 1 deg."),
    _m("block_s", "s", "", "Length of the pieces compared.", "Nominal length of a block."),
    _m("blocks", "-", "", "The pieces of playing, one by one.", "Median room and share near the end of each, with its "
       "band; the half-width holds for every room."),
    _m("share_near_end", "0-1", "less", "Part of the time close to your end of range.", "Share with room < zone."),
    _m("share_past_end", "0-1", "less", "Part of the time past what you can reach by yourself.", "Share below 0."),
    _m("band_near_end", "0-1", "", "Where the time near the end may really lie.", "The share with the line moved by "
       "the half-width."),
    _m("band_past_end", "0-1", "", "Where the time past the end may really lie.", "As above, at room 0."),
    _m("bands", "-", "", "Where the other figures may really lie.", "The least and the most of each as the line is "
       "moved through the band in sixteen steps; room minus and plus the half-width."),
    _m("seconds_per_minute", "s/min", "less", "Seconds of each minute close to the end.", "60 x share near the end."),
    _m("entries_per_minute", "1/min", "less", "How often you get close to the end.", "Stays per known minute."),
    _m("longest_stay_s", "s", "less", "The longest time you stayed there.", "Longest uninterrupted stay."),
    _m("stays", "-", "less", "How many times you were there.", "Number of uninterrupted stays."),
    _m("held_share", "0-1", "less", "Part of the time held there.", "Share of time in stays > 4 s.", _EN),
    _m("degree_seconds_past", "deg s", "less", "How far and how long beyond the line.", "Sum of degrees past the line "
       "of the zone x time."),
    _m("share_by_room_deg", "0-1", "", "The same share for other lines.", "At 0 to 15 deg of room."),
    _m("band_by_room_deg", "0-1", "", "Where those may really lie.", "Each with its line moved by the half-width."),
    _m("share_by_fraction", "0-1", "", "The same share for lines as parts of your range.", "At 50 to 110 % of the way "
       "from neutral to the end."),
    _m("band_by_fraction", "0-1", "", "Where those may really lie.", "Each with its line moved by the half-width."),
    _m("level_duration", "0-1", "", "How long at a time you stay at which amount of room.", "Share of time by class of "
       "room and of uninterrupted duration; `low`, `high`: as room is moved through the band.", _EVA),
    _m("median_stay_s", "s", "less", "An ordinary stay near the end lasts this long.", "Median length of the stays."),
    _m("held_stays", "-", "less", "How often you held it there.", "Number of stays > 4 s.", _EN),
    _m("repeated_share", "0-1", "less", "Part of the time there in short visits.", "Share of time in stays of at most "
       "4 s.", _EN),
    _m("stays_by_duration", "-", "", "Short and long visits.", "Number of stays and share of time by class of "
       "duration; `low`, `high`: of the shares, as the line is moved through the band."),
    _m("gaps_per_minute", "1/min", "", "How often the joint gets a break from the end.", "Times away from the zone of "
       "at least 0.2 s, per known minute.", _GAP),
    _m("gap_share", "0-1", "more", "Part of the time in such breaks.", "Share of known time in gaps.", _GAP),
    _m("median_gap_s", "s", "more", "An ordinary break lasts this long.", "Median length of the gaps.", _GAP),
    _m("longest_gap_s", "s", "more", "The longest break.", "Longest gap.", _GAP),
    _m("longest_without_gap_s", "s", "less", "The longest time without a break.", "Longest time in no gap.", _GAP),
    _m("cycles_per_minute", "1/min", "", "How often the joint goes to and fro.", "Rainflow cycles of at least 0.5 deg "
       "per known minute.", _E1049),
    _m("median_cycle_deg", "deg", "", "How far it goes in an ordinary one.", "Median range, half cycles as halves.",
       _E1049),
    _m("relative_cycle_damage", "1/min", "", "For comparing two of your set-ups only: how much the moves add up to, "
       "large moves far more than small ones; no load, dose or risk.", "Sum of (range / 10 deg) ** exponent per known "
       "minute, exponents 3 to 9; only as a ratio between set-ups of one person.", _MINER),
    _m("room_trend", "deg/min", "", "Whether room shrinks as the session goes on; no trend is ordinary.", "Theil-Sen "
       "slope of block medians with 95 % interval.", _SEN),
    _m("by_exercise", "-", "", "Room for each exercise and tempo.", "Means of block medians, weighted by known time, "
       "with their bands; among the figures of playing: strokes, evenness and timing of each phase."),
    _m("label", "-", "", "What this angle is, where it is not the plain joint angle.", "Words, or null."),
)  # fmt: skip

PLAYING_MEASURES: tuple[MeasureInfo, ...] = (
    _m("strokes", "-", "", "Your strokes with this foot.", "Falls of the ankle of at least 1 deg, of 15 % of "
       "their neighbours, 60 ms apart; null where none is known."),
    _m("count", "-", "", "How many strokes.", "Number of strokes."),
    _m("per_minute", "1/min", "", "Strokes a minute, rests included.", "Strokes per known minute."),
    _m("rate_per_s", "1/s", "", "How fast you play when you play evenly.", "One over the median steady interval."),
    _m("fast_rate_per_s", "1/s", "", "How fast your fast strokes are.", "One over their 5th percentile."),
    _m("fast_is_unusual", "-", "", "Faster than nearly anyone: check the clip.", "A tenth of the steady intervals "
       "shorter than at 8 a second."),
    _m("excursion_deg", "deg", "", "How far the ankle moves in a stroke.", "10th, 50th, 90th percentile of the fall; "
       "among trends: its median per block."),
    _m("second_turns", "-", "", "Turns of the ankle counted as part of a stroke.", "Every second fall, shallower and "
       "at uneven times."),
    _m("alternating_share", "0-1", "", "Part of the strokes that may be half of one: every second is shallower.",
       "Share of strokes in alternating stretches at even times."),
    _m("heel", "0-1", "", "Heel down, heel up, or nobody can tell.", "Shares of strokes by the pitch of the sole "
       "between them against the rest on the board, else by how far the thigh moves with them and where they start: "
       "`heel_down_share`, `heel_up_share`, `heel_unknown_share`; `technique`: one word where 80 % agree "
       "(also in `techniques`)."),
    _m("evenness", "-", "", "How even your strokes are.", "Intervals in steady stretches about a straight line; at "
       "least eight.", _WK),
    _m("interval_ms", "ms", "", "Ordinary time between strokes.", "Mean steady interval."),
    _m("sd_ms", "ms", "less", "How much it varies.", "SD of intervals about the line."),
    _m("cv", "0-1", "less", "The same against the tempo.", "SD over mean."),
    _m("rmssd_ms", "ms", "less", "How much neighbours differ.", "Root mean square of successive differences."),
    _m("npvi", "-", "less", "The same, against their length.", "Normalised pairwise variability index.",
       "standard formula, from memory"),
    _m("lag1", "-", "", "Whether a long one follows a short one.", "Autocorrelation of neighbours.", _WK),
    _m("clock_sd_ms", "ms", "less", "Part of the unevenness from keeping time.", "sqrt(var + 2 cov), inside the model "
       "only.", _WK),
    _m("motor_sd_ms", "ms", "less", "Part of it from carrying out.", "sqrt(-cov), inside the model only.", _WK),
    _m("timing", "-", "", "How you lie against the given tempo.", "Spread about the grid that fits best, in pieces of "
       "20 s: `grid_per_beat`, `tempo_played_bpm`, `off_grid_ms`, `worth_saying` (above 15 ms). Early or late "
       "cannot be known: the click is not recorded.",
       "15 ms: our margin over Fujii et al. 2011, Music Perception 28:491-503"),
    _m("room_at_rest", "deg", "more", "Room with the foot just resting on the pedal.", "`angle_deg`: median of the "
       "rest; `room_deg`: active end minus it; `band_room_deg`: minus and plus the half-width of the offset band."),
    _m("lift_test", "deg", "more", "How far you can really lift the foot off the board, and whether at all.",
       "`gained_deg`: median of the `lifts_deg`, held levels above `rest_deg`; `band_gained_deg`: 95 %, from their "
       "spread and 1 deg of tissue; `held`: how many were; `lifted`: 3 deg or more."),
    _m("knee", "-", "", "Where your knee is over your foot.", "Side tilt and offset while playing."),
    _m("side_tilt_deg", "deg", "", "How far the shin leans; positive with the knee outward.", "10th, 50th, 90th "
       "percentile, in the pelvis' frame.", "frames: Wu et al. 2002, doi:10.1016/S0021-9290(01)00222-6"),
    _m("side_tilt_half_width_deg", "deg", "", "How far that may be off.", "95 %: of the shank's own lean, and of "
       "where the leg points as far as the shank leans ahead."),
    _m("knee_offset_cm", "cm", "", "The same in centimetres.", "Shank length x sine of the tilt."),
    _m("knee_offset_half_width_cm", "cm", "", "How far the offset may be off.", "95 %, from that of the tilt."),
    _m("trends", "-", "", "Signs of tiring; no trend is ordinary. If a foot cramps, disobeys or hurts: stop.",
       "Theil-Sen slope per minute over blocks with 95 % interval: `per_minute`, `interval_per_minute`, `change`, "
       "`over_s`, `verdict`.", _SEN),
    _m("interval_cv", "0-1", "less", "Whether strokes get less even.", "Its trend over blocks.", _SEN),
    _m("sparc", "-", "more", "Whether lifts get rougher: nearer to 0 is smoother.", "Spectral arc length of the speed "
       "of single lifts, to 20 Hz.", "Balasubramanian et al. 2015, J NeuroEng Rehabil 12:112"),
    _m("ldlj", "-", "more", "The same, by its jerk.", "-ln(T^3 / peak^2 x integral of squared second derivative of the "
       "speed).", "Balasubramanian et al. 2015, J NeuroEng Rehabil 12:112"),
    _m("posture_deg", "deg", "", "Whether your hip sinks or opens.", "Trend of block medians of hip flexion.", _SEN),
    _m("range_change_deg", "deg", "", "Whether your range was larger or smaller after playing.", "Dorsiflexion end "
       "after minus before."),
    _m("band_range_change_deg", "deg", "", "Where that change may really lie.", "95 %: repetitions of both, 1 deg of "
       "tissue, the check at the end; wider without one."),
    _m("not_known", "-", "", "What could not be said, and why.", "Reason by name."),
)  # fmt: skip

REGISTRY: dict[str, MeasureInfo] = {m.name: m for m in (*MOTION_MEASURES, *PLAYING_MEASURES)}
