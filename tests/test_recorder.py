"""A recording from its first frame to the session: all that was heard is there, and nothing else."""

import errno
import json
import math
import shutil
from dataclasses import replace

import numpy as np
import pyarrow.parquet as pq
import pytest
from footroom.logger.errors import LogbookError, NothingRecorded, RecordingRunning
from footroom.logger.recorder import append_file, rebuild
from footroom.logger.recorder.about import About
from footroom.logger.recorder.contents import read_contents
from footroom.logger.recorder.folders import recording_folders
from footroom.logger.recorder.journal import read_journal
from footroom.logger.recorder.keeper import Keeper
from footroom.logger.recorder.rebuild import finish
from footroom.logger.recorder.stream_file import read_stream
from footroom.logger.sources.base import Connected, Damaged, Gone, Heard, Inbox, StatusHeard, Trouble
from footroom.logger.sources.virtual import BoardFaults, Faults, VirtualSource
from heard import of
from pydantic import ValidationError
from recorded import HOST_S, counts_in, counts_sent, in_time, keep, kept_of, logbook_at, make, stored
from sent import ACC_SCALE, GYR_SCALE, about_of, facts_of, frames


@pytest.fixture
def logbook(tmp_path):
    return logbook_at(tmp_path / "L")


def heard(clip, until_s, **more):
    return frames(clip, until_s, host_s=HOST_S, **more)


def test_every_sample_of_virtual_clips_is_stored_when_it_was_taken(logbook):
    """Clips that drift, jitter, lose and spoil frames and drop out, against what was heard and when it was taken."""
    drift = dict(zip(("right_foot", "right_shank", "left_foot"), (50.0, -50.0, 20.0), strict=True))
    faults = {
        name: Faults(loss=0.02, jitter_s=0.055, board=BoardFaults(drift_ppm=ppm, first_tick_us=2**32 - 40_000_000))
        for name, ppm in drift.items()
    }
    faults["right_shank"] = replace(faults["right_shank"], damage=0.01, drop_outs=((50, 53), (90, 90.5)))
    source, inbox = VirtualSource(tuple(drift), faults=faults, speed=math.inf, running=True, seed=5), Inbox()
    about = about_of(1).model_copy(update={"worn": {clip: name for name, clip in source.identities.items()}})
    sent = []
    with Keeper(logbook.path, about) as keeper:
        source.open(inbox)
        while not sent or sent[-1].arrived_s < source.opened_s + 150:
            sent += (events := inbox.take(0.1))
            keeper.take(events, sent[-1].arrived_s)
        source.close()
    kept = finish(logbook, keeper.folder)
    offs = {}
    for name, clip in source.identities.items():
        mine = of(sent, Heard, clip)
        raw = stored(logbook, kept, name)
        assert np.array_equal(counts_in(raw), counts_sent(mine))
        first = np.unwrap([float(h.tick_us) for h in mine], period=2**32) - (2**32 - 40_000_000)
        was_s = (first[:, None] + np.arange(10) * 5000).ravel() / (1 + drift[name] * 1e-6) / 1e6
        offs[name] = raw.columns["time_s"] * raw.time_scale - was_s
        lost = 0.02 * 150 if name != "right_shank" else 0.03 * 150 + 3.5
        assert kept.losses[name].lost_s == pytest.approx(lost, rel=0.5)
        assert kept.losses[name].restarts == kept.losses[name].repeated == 0
    middle = offs["right_foot"].mean()
    for name, off in offs.items():
        assert np.abs(off - middle).max() < 0.005, name
    assert kept.sentence.startswith("3 clips, 2 min 3") and "lost: right foot 3." in kept.sentence


def test_what_lies_beside_the_samples_tells_every_frame(logbook):
    right, left = heard(0, 20, ppm=30), heard(1, 20)
    twice = [*right[:100], right[99], *right[100:]]
    kept = kept_of(logbook, about_of(), in_time(twice, left), marks=[("playing", 2, 15)])
    folder = logbook.session_folder(kept.session_id) / "recording"
    table = pq.read_table(folder / "right_foot.parquet")
    assert table.column("tick_us").to_pylist() == [h.tick_us for h in twice]
    assert table.column("sequence").to_pylist() == [h.sequence for h in twice]
    assert sorted(table.column("first_row").to_pylist()) == [-1, *range(0, 4000, 10)]
    zero_s = HOST_S + table.column("arrived_us")[0].as_py() * -1e-6 + right[0].arrived_s - HOST_S
    arrived = np.array(table.column("arrived_us").to_pylist()) * 1e-6 + zero_s
    assert arrived == pytest.approx([h.arrived_s for h in twice], abs=2e-6)
    (clock,) = json.loads(table.schema.metadata[b"clocks"])
    assert clock["skew_ppm"] == pytest.approx(30, abs=1) and len(clock["tick_s"]) == len(clock["session_s"])
    assert sorted(path.name for path in folder.iterdir()) == [
        "journal.jsonl", "right_foot.parquet", "right_shank.parquet",
    ]  # fmt: skip
    session = logbook.session(kept.session_id)
    assert session.source["kind"] == "recording"
    assert session.model_dump()["recorded"]["right_foot"]["repeated"] == 1
    assert session.source["kept"] == kept.sentence == "2 clips, 20 s kept; nothing lost."
    assert session.warnings == []
    assert recording_folders(logbook.path) == []


def test_time_is_the_first_clips_and_a_filters_delay_is_taken_off(logbook):
    about = about_of()
    with Keeper(logbook.path, about, [facts_of(0), replace(facts_of(1), delay_s=0.012)]) as keeper:
        keeper.begin("still", HOST_S + 2.0)
        keeper.begin("playing", HOST_S + 4.0, setup="far", exercise="eighths", tempo_bpm=90, block=1)
        keep(keeper, in_time(heard(0, 10, begin_s=1), heard(1, 10, begin_s=0.5)))
    kept = finish(logbook, keeper.folder)
    right, left = (stored(logbook, kept, place) for place in ("right_foot", "right_shank"))
    assert right.columns["time_s"][0] == 0
    assert left.columns["time_s"][0] * left.time_scale == pytest.approx(-0.5 - 0.012, abs=1e-4)
    still, playing = logbook.session(kept.session_id).phases
    assert (still.start_s, still.end_s) == pytest.approx((1 - 0.005, 3 - 0.005), abs=1e-3)
    assert (playing.start_s, playing.end_s) == pytest.approx((3 - 0.005, 9 - 0.005), abs=1e-2)
    assert (playing.setup, playing.exercise, playing.tempo_bpm, playing.block) == ("far", "eighths", 90, 1)
    assert (right.acceleration_scale, right.angular_rate_scale) == (ACC_SCALE, GYR_SCALE)
    assert right.metadata["clip"] == "clip-0"


def test_phases_may_be_dropped_repeated_and_left_open(logbook):
    with Keeper(logbook.path, about_of(1), [facts_of(0)]) as keeper:
        keeper.begin("ankle_taps", HOST_S + 1, side="right")
        keeper.drop_phase()  # the one that runs
        keeper.begin("ankle_taps", HOST_S + 3, side="right")
        keeper.end(HOST_S + 5)
        keeper.begin("range_dorsiflexion", HOST_S + 5, side="right")
        keeper.end(HOST_S + 6)
        keeper.drop_phase()  # the last one
        keeper.begin("still", HOST_S + 200)  # nothing was recorded then
        keeper.end(HOST_S + 201)
        keeper.begin("playing", HOST_S + 7)
        keep(keeper, heard(0, 10))
    kept = finish(logbook, keeper.folder)
    phases = [(p.name, p.start_s, p.end_s) for p in logbook.session(kept.session_id).phases]
    assert [name for name, _, _ in phases] == ["ankle_taps", "playing"]
    assert phases[0][1:] == pytest.approx((3 - 0.005, 5 - 0.005), abs=1e-3)
    assert phases[1][2] == pytest.approx(9.995, abs=0.01)
    assert "nothing was recorded in the phase still; it is left out." in kept.problems


def test_what_was_felt_and_said_comes_into_the_session(logbook):
    with Keeper(logbook.path, about_of(1), [facts_of(0)]) as keeper:
        keep(keeper, heard(0, 10))
        keeper.remark("felt", HOST_S + 5, setup="far", comfort_0_10=3)
        keeper.remark("felt", HOST_S + 6, setup="far", comfort_0_10=7, chosen=True)
        keeper.remark("felt", HOST_S + 6, setup="near", comfort_0_10=70)  # none
        keeper.remark("pain", HOST_S + 7, side="right", phase="range_dorsiflexion")
    session = logbook.session(finish(logbook, keeper.folder).session_id)
    near, far = session.setups
    assert (near.comfort_0_10, far.comfort_0_10, far.chosen) == (None, 7, True)
    assert "pain was said at 7.0 s (right, range dorsiflexion)." in session.warnings


def felt_taps(clip, taps, late_s):
    """A quiet clip that feels taps [s], each frame heard at least `late_s` after its last sample."""
    rng = np.random.default_rng(clip)
    found = []
    for i, h in enumerate(heard(clip, 20, delay=lambda n: late_s + np.random.default_rng(9).uniform(0, 0.05, n))):
        at = (np.arange(10) + 10 * i) / 200
        size = sum(1500 * np.exp(-(((at - tap) / 0.006) ** 2)) for tap in taps)
        counts = rng.normal(0, 3, (10, 6)) + [0, 2048, 0, 0, 0, 0]
        counts[:, 1] += size
        found.append(replace(h, counts=counts.round().astype(np.int16)))
    return found


@pytest.mark.parametrize(("remarked", "apart_s"), [((5.0, 9.0, 13.0), 0.0), ((5.0,), 0.02), ((), 0.02)])
def test_sync_taps_show_a_clip_whose_way_is_always_slower(logbook, remarked, apart_s):
    """One clip on a cable, one by radio: 20 ms, which arrivals cannot show. A single tap is not believed."""
    taps = (5.003, 9.001, 13.004)
    with Keeper(logbook.path, about_of(), [facts_of(0), facts_of(1)]) as keeper:
        keep(keeper, in_time(felt_taps(0, taps, 0.002), felt_taps(1, taps, 0.022)))
        for at_s in remarked:
            keeper.remark("sync_tap", HOST_S + at_s)
    kept = finish(logbook, keeper.folder)
    times = [stored(logbook, kept, place).columns["time_s"] * 1e-5 for place in ("right_foot", "right_shank")]
    assert np.mean(times[1] - times[0]) == pytest.approx(apart_s, abs=0.003)
    recorded = logbook.session(kept.session_id).model_dump()["recorded"]
    assert ("sync_tap_shift_s" in recorded["right_foot"]) == (apart_s == 0.0)


def test_names_that_are_none_are_refused_at_once(logbook):
    with Keeper(logbook.path, about_of(1), [facts_of(0)]) as keeper:
        with pytest.raises(ValueError, match="'warm_up' is no phase; phases are still, ankle_taps"):
            keeper.begin("warm_up", HOST_S)
        with pytest.raises(ValueError, match="'high' is none of the recording's set-ups"):
            keeper.begin("playing", HOST_S, setup="high")
    with pytest.raises(ValidationError, match="nobody wears a clip at 'elbow'"):
        About.model_validate({**about_of().model_dump(), "worn": {"a": "elbow"}})
    with pytest.raises(ValidationError, match="two clips are worn at pelvis; take one of them off"):
        About.model_validate({**about_of().model_dump(), "worn": {"a": "pelvis", "b": "pelvis"}})


# One clip's trouble


def losses(logbook, *streams, clips=2):
    kept = kept_of(logbook, about_of(clips), in_time(*streams), marks=[("playing", 1, 30)])
    return kept, [kept.losses[place] for place in ("right_foot", "right_shank")]


def test_gaps_stay_gaps(logbook):
    right = heard(0, 30)
    kept, (gappy, whole) = losses(logbook, right[:200] + right[240:300] + right[304:], heard(1, 30))
    assert gappy.lost_s == pytest.approx(2.0 + 0.2, abs=0.01)
    assert gappy.gaps == ((pytest.approx(9.995, abs=0.01), pytest.approx(12.0, abs=0.01)),) + gappy.gaps[1:]
    assert (whole.lost_s, whole.gaps) == (0.0, ())
    raw = stored(logbook, kept, "right_foot")
    assert len(raw.columns["time_s"]) == 6000 - 440 == gappy.kept
    assert np.diff(raw.columns["time_s"]).max() * raw.time_scale == pytest.approx(2.005, abs=0.001)
    assert kept.sentence == "2 clips, 30 s kept; lost: right foot 2.2 s."
    assert logbook.session(kept.session_id).warnings == [kept.sentence]


def test_a_clip_that_dies_is_said_from_when_on(logbook):
    kept, (died, _) = losses(logbook, heard(0, 12), heard(1, 30))
    assert died.lost_s == pytest.approx(18, abs=0.1) and died.last_s == pytest.approx(12, abs=0.01)
    assert kept.sentence == "2 clips, 30 s kept; lost: right foot everything from 12 s on."


def test_a_clip_that_never_came(logbook):
    kept, (absent, _) = losses(logbook, heard(1, 30))
    assert (absent.kept, absent.lost_s) == (0, pytest.approx(30, abs=0.1))
    assert kept.sentence == "1 clip, 30 s kept; lost: right foot all of it."
    assert [clip.name for clip in logbook.session(kept.session_id).clips] == ["right_shank"]


def test_a_clip_that_restarts_is_brought_in_line_again(logbook):
    """Off and on: numbers and ticks begin anew, half a second of it lost."""
    before, after = heard(0, 12, first_tick_us=7_000_000), heard(0, 30, begin_s=12.5, numbered_from=2400)
    kept, (anew, _) = losses(logbook, before + after, heard(1, 30))
    assert (anew.restarts, anew.kept) == (1, len(counts_sent(before + after)))
    assert anew.lost_s == pytest.approx(0.5, abs=0.01)
    raw = stored(logbook, kept, "right_foot")
    assert np.array_equal(counts_in(raw), counts_sent(before + after))
    other = stored(logbook, kept, "right_shank")
    assert raw.columns["time_s"][-1] == pytest.approx(other.columns["time_s"][-1], abs=200)  # 2 ms
    assert kept.problems == [
        "the clip on the right foot began anew (at 13 s); if nobody switched it, look after its battery."
    ]


def test_late_repeated_and_disordered_frames_make_the_same_session(logbook, tmp_path):
    right = heard(0, 30)
    mixed = [*right[:50], right[52], right[51], right[50], *right[53:99], *right[90:99], *right[99:]]
    arrived = sorted(h.arrived_s for h in mixed)
    mixed = [replace(h, arrived_s=at) for h, at in zip(mixed, arrived, strict=True)]
    kept, (disordered, _) = losses(logbook, mixed, heard(1, 30))
    assert (disordered.repeated, disordered.late, disordered.lost_s) == (9, 2, 0.0)
    assert np.array_equal(counts_in(stored(logbook, kept, "right_foot")), counts_sent(right))


def test_two_clips_with_one_id_are_kept_apart(logbook):
    mine, other = heard(0, 30), heard(0, 25, begin_s=8, numbered_from=50_000, place="elsewhere")
    with Keeper(logbook.path, about_of(), [facts_of(0), facts_of(1)]) as keeper:
        keep(keeper, in_time(mine, other, heard(1, 30)))
        (problem,) = keeper.problems()
    assert problem == (
        "two clips call themselves clip-0 (right foot; elsewhere and way 0); both are kept apart, and the first one "
        "counts: switch the other off."
    )
    kept = finish(logbook, keeper.folder)
    assert np.array_equal(counts_in(stored(logbook, kept, "right_foot")), counts_sent(mine))
    aside = read_stream(logbook.session_folder(kept.session_id) / "recording" / "right_foot-2.arrows")
    assert np.array_equal(aside.frames.counts, counts_sent(other))
    assert kept.losses["right_foot"].lost_s == 0
    assert "another clip with the same id as that on the right foot was heard (elsewhere)" in kept.problems[0]


def test_a_clip_that_comes_back_at_another_port_is_one_clip(logbook):
    before, after = heard(0, 12), heard(0, 30, begin_s=12.5, numbered_from=2400, place="another port")
    kept, (moved, _) = losses(logbook, before + after, heard(1, 30))
    assert np.array_equal(counts_in(stored(logbook, kept, "right_foot")), counts_sent(before + after))
    assert moved.lost_s == pytest.approx(0.5, abs=0.01)


def test_a_clip_whose_clock_runs_backwards_is_left_out_and_kept_aside(logbook):
    backwards = [replace(h, tick_us=60_000_000 - h.tick_us) for h in heard(0, 30)]
    kept, (unusable, _) = losses(logbook, backwards, heard(1, 30))
    assert unusable.kept == 0
    assert "the clock of the clip on the right foot jumps about or runs backwards" in kept.problems[0]
    assert (logbook.session_folder(kept.session_id) / "recording" / "right_foot.arrows").is_file()


def test_a_clock_that_jumps_back_is_named_and_mended(logbook):
    right = heard(0, 30, first_tick_us=9_000_000)
    jumped = right[:300] + [replace(h, tick_us=h.tick_us - 1_500_000) for h in right[300:]]
    kept, (mended, _) = losses(logbook, jumped, heard(1, 30))
    assert (mended.kept, mended.lost_s) == (6000, 0.0)
    assert "the clock of the clip on the right foot jumped back by 1.5 s at 15 s" in kept.problems[0]


def test_a_clip_that_changes_its_range_is_not_mixed_up(logbook):
    wider = replace(facts_of(0), acc_scale=2 * ACC_SCALE)
    first, second = heard(0, 20), heard(0, 30, begin_s=20.2, numbered_from=4000)
    events = in_time(first, [Connected("clip-0", second[0].arrived_s - 0.01, wider)], second)
    kept = kept_of(logbook, about_of(1), events)
    raw = stored(logbook, kept, "right_foot")
    assert np.array_equal(counts_in(raw), counts_sent(first)) and raw.acceleration_scale == ACC_SCALE
    assert "changed its measuring range meanwhile; the shorter part is kept aside" in kept.problems[0]
    assert (logbook.session_folder(kept.session_id) / "recording" / "right_foot-2.arrows").is_file()


def test_what_numbers_mean_may_be_said_later(logbook):
    right = heard(0, 10)
    with Keeper(logbook.path, about_of(1)) as keeper:
        keep(keeper, right[:100])
        (problem,) = keeper.problems()
        assert problem == "the clip on the right foot has not said what its numbers mean; switch it off and on."
        keeper.take([Connected("clip-0", right[100].arrived_s, facts_of(0))], right[100].arrived_s)
        keep(keeper, right[100:])
        assert keeper.problems() == []
    kept = finish(logbook, keeper.folder)
    assert np.array_equal(counts_in(stored(logbook, kept, "right_foot")), counts_sent(right))


def test_clips_nobody_wears_are_none_of_its_business(logbook):
    kept = kept_of(logbook, about_of(1), in_time(heard(0, 5), heard(3, 5)))
    assert list(kept.losses) == ["right_foot"]


def test_the_journal_tells_what_happened_and_not_too_often(logbook):
    at = HOST_S
    status = [StatusHeard("clip-0", at + i, 80, 0, 30.0 + i, None, True) for i in range(30)]
    events = [
        *heard(0, 30), *status, Gone("clip-0", at + 3, "the link broke."), StatusHeard("clip-0", at + 8.5, 79),
        *(Damaged("clip-0", at + 4 + i / 100, "way 0", 1, "crc") for i in range(50)),
        *(Trouble("", at + i, "hci0", "Bluetooth is off; switch it on.", "off") for i in range(5)),
    ]  # fmt: skip
    journal = read_journal(make(logbook, about_of(1), in_time(events)))
    assert [len(journal.of(kind)) for kind in ("status", "gone", "damaged", "trouble")] == [3, 1, 1, 1]
    assert journal.of("damaged")[0].what["frames"] == 50
    assert journal.entries[0].kind == "about" and journal.entries[-1].kind == "closed"


# The disk


def test_a_full_disk_at_any_write_keeps_what_was_safe_and_goes_on_when_there_is_room(tmp_path, monkeypatch):
    """Each write in turn is refused half way, once; in the end nothing is missing."""
    right, left = heard(0, 4), heard(1, 4)
    writes, real = [0], append_file.write_out
    monkeypatch.setattr(append_file.os, "fdatasync", lambda handle: None)

    def refused_at(number):
        def write_out(handle, data):
            writes[0] += 1
            if writes[0] == number:
                real(handle, data[: len(data) // 2])
                raise OSError(errno.ENOSPC, "No space left on device")
            real(handle, data)

        return write_out

    count, number = 99, 2  # the first write is that of the journal's first line: a refusal (below)
    while number <= count:
        logbook = logbook_at(tmp_path / str(number))
        writes[0] = 0
        monkeypatch.setattr(append_file, "write_out", refused_at(number))
        kept = kept_of(logbook, about_of(), in_time(right, left), marks=[("playing", 1, 3)])
        assert np.array_equal(counts_in(stored(logbook, kept, "right_foot")), counts_sent(right)), number
        assert np.array_equal(counts_in(stored(logbook, kept, "right_shank")), counts_sent(left)), number
        assert kept.problems == [] and [p.name for p in logbook.session(kept.session_id).phases] == ["playing"]
        count, number = writes[0], number + 1
    assert count > 10


def test_a_disk_that_stays_full_is_said_at_once_and_what_waits_is_written_later(logbook, monkeypatch):
    right, full, real = heard(0, 20), [False], append_file.write_out

    def write_out(handle, data):
        if full[0]:
            raise OSError(errno.ENOSPC, "No space left on device")
        real(handle, data)

    monkeypatch.setattr(append_file, "write_out", write_out)
    with Keeper(logbook.path, about_of(1), [facts_of(0)]) as keeper:
        assert (keeper.folder / "reserve").stat().st_size == 1 << 20
        keep(keeper, right[:100])
        assert keeper.problems() == []
        full[0] = True
        keeper.begin("playing", HOST_S + 6)
        keep(keeper, right[100:300])
        (problem,) = keeper.problems()
        assert problem.startswith(
            "the disk is full: what was safe stays safe, the last 10 s wait in memory (up to 5 min)"
        )
        assert f"free some space on the disk of {logbook.path}" in problem
        assert not (keeper.folder / "reserve").exists()
        assert len(read_stream(keeper.folder / "right_foot.arrows").frames) == 100
        full[0] = False
        keep(keeper, right[300:])
        assert keeper.problems() == []
        assert (keeper.folder / "reserve").exists()
    kept = finish(logbook, keeper.folder)
    assert np.array_equal(counts_in(stored(logbook, kept, "right_foot")), counts_sent(right))
    assert [phase.name for phase in logbook.session(kept.session_id).phases] == ["playing"]


def test_a_disk_that_is_full_to_the_end_loses_only_what_came_after(logbook, monkeypatch):
    right, left, real = heard(0, 400), heard(1, 400), append_file.write_out
    name = {}

    def write_out(handle, data):
        if name.get("full") and append_file.os.fstat(handle).st_ino == name["full"]:
            raise OSError(errno.ENOSPC, "No space left on device")
        real(handle, data)

    monkeypatch.setattr(append_file, "write_out", write_out)
    monkeypatch.setattr(append_file.os, "fdatasync", lambda handle: None)
    with Keeper(logbook.path, about_of(), [facts_of(0), facts_of(1)]) as keeper:
        keep(keeper, in_time(right[:200], left[:200]))
        name["full"] = (keeper.folder / "right_foot.arrows").stat().st_ino
        keep(keeper, in_time(right[200:], left[200:]), step_s=5)
        assert any("samples of right foot that waited are lost" in text for text in keeper.problems())
    assert read_journal(keeper.folder).of("given_up")[0].what["frames"] == len(right) - 200
    kept = finish(logbook, keeper.folder)
    assert np.array_equal(counts_in(stored(logbook, kept, "right_foot")), counts_sent(right[:200]))
    assert np.array_equal(counts_in(stored(logbook, kept, "right_shank")), counts_sent(left))
    assert "right foot everything from 10 s on" in kept.sentence


def test_one_file_that_cannot_be_written_does_not_stop_the_others(logbook, monkeypatch):
    real, bad = append_file.write_out, []

    def write_out(handle, data):
        if b'"worn": "right_shank"' in data or append_file.os.fstat(handle).st_ino in bad:
            bad.append(append_file.os.fstat(handle).st_ino)
            raise OSError(errno.EIO, "Input/output error")
        real(handle, data)

    monkeypatch.setattr(append_file, "write_out", lambda h, d: write_out(h, d) if d[:1] != b"{" else real(h, d))
    with Keeper(logbook.path, about_of(), [facts_of(0), facts_of(1)]) as keeper:
        keep(keeper, in_time(heard(0, 5), heard(1, 5)))
        (problem,) = keeper.problems()
    assert problem.startswith("right shank cannot be written (Input/output error); the others go on")
    kept = finish(logbook, keeper.folder)
    assert kept.sentence == "1 clip, 5.0 s kept; lost: right shank all of it."


def test_no_room_for_the_first_line_is_one_sentence(logbook, monkeypatch):
    def full(handle, data):
        raise OSError(errno.ENOSPC, "No space left on device")

    with monkeypatch.context() as broken:
        broken.setattr(append_file, "write_out", full)
        with pytest.raises(LogbookError, match=r"cannot write in .* \(No space left on device\); free the disk"):
            Keeper(logbook.path, about_of(1))
    with Keeper(logbook.path, about_of(1)):  # nothing is locked any more
        pass


# One recording at a time; one session of each


def test_only_one_recording_at_a_time(logbook):
    with Keeper(logbook.path, about_of(1), [facts_of(0)]) as keeper:
        with pytest.raises(RecordingRunning, match=rf"a recording \({keeper.folder.name}\) is running on .*; end it"):
            Keeper(logbook.path, about_of(1))
        with pytest.raises(RecordingRunning, match="is still running, or being finished by another Footroom"):
            finish(logbook, keeper.folder)
        keep(keeper, heard(0, 3))
        keeper.close()
        with Keeper(logbook.path, about_of(1, started_at=read_contents(keeper.folder).about.started_at)) as other:
            assert other.folder.name == f"{keeper.folder.name}-2"
    finish(logbook, keeper.folder)
    assert not list((logbook.path / ".locks").glob(f"*{keeper.folder.name}.lock"))


def files_in(folder):
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


@pytest.mark.parametrize("broken", ["write_frame_table", "_copy", "_raw", "remove_folder"])
def test_finishing_that_is_interrupted_leaves_the_recording_and_makes_one_session(logbook, monkeypatch, broken):
    folder = make(logbook, about_of(1), heard(0, 5))
    before = files_in(folder)
    with monkeypatch.context() as interrupted:
        interrupted.setattr(rebuild, broken, lambda *_: (_ for _ in ()).throw(KeyboardInterrupt))
        with pytest.raises(KeyboardInterrupt):
            finish(logbook, folder)
    assert files_in(folder) == before
    assert len(logbook.session_ids()) == (broken == "remove_folder")
    kept = finish(logbook, folder)
    assert logbook.session_ids() == [kept.session_id] and not folder.exists()


def test_a_full_disk_while_finishing_is_one_sentence_and_nothing_is_lost(logbook, monkeypatch):
    folder = make(logbook, about_of(1), heard(0, 5))
    with monkeypatch.context() as full:
        full.setattr(rebuild, "write_frame_table", lambda *_: (_ for _ in ()).throw(OSError(errno.ENOSPC, "full")))
        with pytest.raises(LogbookError, match=r"cannot write in .* \(full\); free the disk.*recorded is safe: `foot"):
            finish(logbook, folder)
    assert folder.is_dir() and logbook.session_ids() == []
    assert finish(logbook, folder).losses["right_foot"].kept == 1000


def test_what_a_killed_finishing_was_about_to_delete_is_cleared_away_later(logbook, monkeypatch):
    folder = make(logbook, about_of(1), heard(0, 5))
    with monkeypatch.context() as killed:
        killed.setattr(shutil, "rmtree", lambda *_, **__: (_ for _ in ()).throw(KeyboardInterrupt))
        with pytest.raises(KeyboardInterrupt):
            finish(logbook, folder)
    assert len(list(folder.parent.iterdir())) == 1 and recording_folders(logbook.path) == []
    finish(logbook, make(logbook, about_of(1), heard(0, 5)))
    assert list(folder.parent.iterdir()) == [] and len(logbook.session_ids()) == 2


def test_a_copy_of_a_finished_recording_makes_no_second_session(logbook, tmp_path):
    folder = make(logbook, about_of(1), heard(0, 5))
    shutil.copytree(folder, copy := folder.with_name("copy"))
    first, second = finish(logbook, folder), finish(logbook, copy)
    assert first.session_id == second.session_id and len(logbook.session_ids()) == 1


def test_a_recording_without_a_sample_makes_no_session_and_leaves_nothing(logbook):
    folder = make(logbook, about_of(1), [])
    with pytest.raises(
        NothingRecorded, match="holds no samples that can be used, so there is no session to make of it"
    ):
        finish(logbook, folder)
    assert not folder.exists() and logbook.session_ids() == []
    with pytest.raises(LogbookError, match="there is no recording"):
        finish(logbook, folder)


# Damage


def test_a_damaged_journal_and_damaged_headers_are_made_up_for_by_each_other(logbook):
    folder = make(logbook, about_of(), in_time(heard(0, 10), heard(1, 10)), marks=[("playing", 2, 8)])
    lines = (folder / "journal.jsonl").read_bytes().split(b"\n")
    (folder / "journal.jsonl").write_bytes(b"\n".join([b"x" + lines[0][1:], *lines[1:]]))
    data = bytearray((folder / "right_foot.arrows").read_bytes())
    data[data.index(b'"acc_scale"') + 3] ^= 1
    (folder / "right_foot.arrows").write_bytes(bytes(data))
    kept = finish(logbook, folder)
    assert np.array_equal(counts_in(stored(logbook, kept, "right_foot")), counts_sent(heard(0, 10)))
    assert [phase.name for phase in logbook.session(kept.session_id).phases] == ["playing"]
    assert kept.problems == ["the recording's journal is damaged (lines lost: 1); phases may be missing or too long."]


def test_a_damaged_batch_is_a_gap_with_a_sentence_and_the_file_is_kept(logbook):
    right = heard(0, 10)
    folder = make(logbook, about_of(), in_time(right, heard(1, 10)))
    data = bytearray((folder / "right_foot.arrows").read_bytes())
    data[len(data) // 2] ^= 16
    (folder / "right_foot.arrows").write_bytes(bytes(data))
    kept = finish(logbook, folder)
    assert 0.4 < kept.losses["right_foot"].lost_s < 2.1
    assert "the file of the right foot was damaged on the disk: about 0.5 s could not be read" in kept.problems[0]
    there = {row.tobytes() for row in counts_sent(right)}
    assert all(row.tobytes() in there for row in counts_in(stored(logbook, kept, "right_foot")))
    aside = logbook.session_folder(kept.session_id) / "recording" / "right_foot.arrows"
    assert aside.read_bytes() == bytes(data)


def test_where_nothing_says_what_it_is_of_it_is_left_alone(logbook):
    folder = make(logbook, about_of(1), heard(0, 3))
    (folder / "journal.jsonl").write_bytes(b"\0" * 5000)
    data = (folder / "right_foot.arrows").read_bytes()
    (folder / "right_foot.arrows").write_bytes(data.replace(b"wren", b"wrex"))
    with pytest.raises(LogbookError, match="nothing in it says any more whose recording it is"):
        finish(logbook, folder)
    assert folder.is_dir()
