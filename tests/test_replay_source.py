"""A recorded session played again: the same samples in the same order, at any speed."""

import math
import time

import numpy as np
import pytest
from footroom.logger.csv_import import import_folder
from footroom.logger.errors import NotInLogbook, SourceError
from footroom.logger.logbook import Logbook
from footroom.logger.recording import RawClip
from footroom.logger.sources.base import Connected, Ended, Heard
from footroom.logger.sources.listening import listen
from footroom.logger.sources.replay import ReplaySource
from heard import of, rows, until
from import_folder import small_folder, turning_clip

GAP = slice(500, 560)


@pytest.fixture
def logbook(tmp_path) -> tuple[Logbook, str]:
    """One session; the foot's clip has a gap of 0.6 s."""
    foot = tuple(np.delete(np.asarray(column), GAP, axis=0) for column in turning_clip(seed=1))
    shank = turning_clip(seed=2)
    folder = small_folder(tmp_path / "in", clips={"right_foot": foot, "right_shank": shank})
    session = import_folder(folder, tmp_path / "L")
    return Logbook(tmp_path / "L"), session


def played(source: ReplaySource) -> list:
    with listen([source]) as listening:
        return until(listening, lambda events: of(events, Ended), patience_s=20)


def test_a_session_comes_out_as_it_was_stored(logbook):
    book, session = logbook
    source = ReplaySource(book, session, speed=math.inf)
    events = played(source)
    assert [event.place for event in of(events, Ended)] == [session]
    assert events[-1] == of(events, Ended)[0]
    for name in ("right_foot", "right_shank"):
        stored, frames = book.read_clip(session, name), of(events, Heard, name)
        facts = of(events, Connected, name)[0].facts
        assert (facts.kind, facts.place, facts.rate_hz) == ("replay", session, 100)
        counts = rows(frames)
        for first, scale, values in (
            (0, facts.acc_scale, stored.acc),
            (3, facts.gyr_scale, stored.gyr),
        ):
            assert np.abs(counts[:, first : first + 3] * scale - values).max() <= 0.5001 * scale
        ticks = np.concatenate([frame.ticks_us for frame in frames])
        assert np.array_equal(ticks, np.round(stored.time_s * 1e6).astype(np.uint32))  # the gap stays a gap
        assert all(frame.sequence is None for frame in frames)
    arrived = [event.arrived_s for event in of(events, Heard)]
    assert arrived == sorted(arrived) and arrived[-1] - source.opened_s == pytest.approx(19.99)


def test_integers_come_out_exactly(logbook):
    book, session = logbook
    rng = np.random.default_rng(4)
    n = 300
    clip = {name: rng.integers(-32768, 32768, n).astype(np.int16) for name in
            ("acc_x", "acc_y", "acc_z", "gyr_x", "gyr_y", "gyr_z")}  # fmt: skip
    raw = RawClip({"time_s": np.arange(n, dtype=np.int64) * 5000, **clip}, "g", "deg/s", 1e-6, 1 / 2048, 1 / 16.4)
    old = book.session(session)
    again = old.model_copy(update={"clips": [c for c in old.clips if c.name == "right_foot"], "source": {}})
    new = book.add_session(again, {"right_foot": raw})
    events = played(ReplaySource(book, new, speed=math.inf))
    facts = of(events, Connected)[0].facts
    assert facts.acc_scale == pytest.approx(9.80665 / 2048) and facts.gyr_scale == pytest.approx(np.pi / 180 / 16.4)
    assert np.array_equal(rows(of(events, Heard)), np.stack(list(clip.values()), axis=1))


def test_at_a_given_speed_it_takes_as_long_as_it_should(logbook):
    book, session = logbook
    begin_s = time.monotonic()
    events = played(ReplaySource(book, session, speed=40.0))
    assert len(rows(of(events, Heard, "right_shank"))) == 2000
    assert time.monotonic() - begin_s >= 19.99 / 40


def test_a_recording_takes_no_commands_and_must_be_there(logbook):
    book, session = logbook
    source = ReplaySource(book, session)
    with pytest.raises(SourceError, match=f"right_foot is a recording .{session}. played again and takes no commands"):
        source.command("right_foot", "start")
    with pytest.raises(NotInLogbook):
        ReplaySource(book, "never")
