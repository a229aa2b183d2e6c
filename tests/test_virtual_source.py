"""Virtual clips: the board does what the firmware notes ask; each fault is seen as what it is; nothing is invented."""

import dataclasses
import math

import numpy as np
import pytest
from footroom.logger.errors import SourceError
from footroom.logger.sources.base import (
    Answered,
    ClipFacts,
    Connected,
    Damaged,
    Ended,
    Event,
    Gone,
    Heard,
    Inbox,
    Overrun,
    Source,
    StatusHeard,
    Trouble,
)
from footroom.logger.sources.hearing import Hearing
from footroom.logger.sources.listening import Listening, listen, refuse_same_ids
from footroom.logger.sources.virtual import Faults, VirtualSource
from footroom.logger.sources.virtual_board import BoardFaults, VirtualBoard, identity_of
from footroom.logger.wire import (
    Hello,
    Identify,
    OtherVersion,
    Reply,
    Result,
    Samples,
    SetRate,
    Start,
    Status,
    Stop,
    TextReader,
    Unknown,
    decode,
    encode,
)
from heard import missing, of, rows, samples, ticks_fit, until


def numbered(first: int, count: int, rate_hz: float) -> np.ndarray:
    """Samples that say their own number on the grid."""
    number = np.arange(first, first + count) % 30_000
    return np.repeat(number[:, None], 6, axis=1).astype(np.int16)


def board(**options) -> VirtualBoard:
    new = VirtualBoard(identity_of(1), numbered, **options)
    new.link(True, 0.0)
    return new


def heard_until(clip: VirtualBoard, end_s: float, step_s: float = 0.01, start_s: float = 0.0) -> list:
    frames = []
    for at in np.arange(start_s, end_s + step_s / 2, step_s):
        frames += [decode(data) for data in clip.due(float(at))]
    return frames


# The board, against firmware_notes/wire_format.md


def test_a_board_wakes_up_stopped_and_says_hello_and_status_once_a_second():
    frames = heard_until(board(), 3.5)
    assert [type(frame) for frame in frames] == [Hello, Status] * 4
    assert frames[0] == Hello("020000000001", (1, 0), 200, 16000, 20000)
    assert frames[1].running is False and frames[1].battery_percent == 90


@pytest.mark.parametrize(
    ("rate", "payload", "size"), [(100, 244, 5), (200, 244, 10), (400, 244, 19), (400, 248, 20), (200, 20, 1)]
)
def test_frames_hold_what_fits_and_at_most_50_ms(rate, payload, size):
    clip = board(rate_hz=rate, payload=payload)
    clip.receive(encode(Start(1)), 0.0)
    frames = [frame for frame in heard_until(clip, 1.0) if isinstance(frame, Samples)]
    assert {frame.n for frame in frames} == {size}
    assert [frame.sequence for frame in frames[:3]] == [0, size, 2 * size]
    assert frames[1].tick_us - frames[0].tick_us == round(size * 1e6 / rate)


def test_a_stop_sends_what_waits_and_then_answers():
    clip = board()
    clip.receive(encode(Start(7)), 0.0)
    frames = heard_until(clip, 0.42)
    clip.receive(encode(Stop(8)), 0.43)
    last = [decode(data) for data in clip.due(0.43)]
    assert isinstance(last[0], Samples) and last[0].n < 10
    assert isinstance(last[-1], Reply) and (last[-1].token, last[-1].result) == (8, Result.DONE)
    both = [frame for frame in [*frames, *last] if isinstance(frame, Samples)]
    numbers = np.concatenate([frame.counts[:, 0] for frame in both])
    assert numbers.tolist() == list(range(1, 87))  # 0.43 s x 200 Hz; sample 0 was taken when Start came
    assert not any(isinstance(frame, Samples) for frame in heard_until(clip, 2.0, start_s=0.44))


def test_commands_are_answered_as_the_notes_say():
    clip = board()
    for command in (SetRate(1, 99), SetRate(2, 401), SetRate(3, 400), Start(4), SetRate(5, 500), Identify(6, 3)):
        clip.receive(encode(command), 0.5)
    clip.receive(encode(Unknown(0x55, b"\x07")), 0.5)
    clip.receive(encode(Unknown(0x55, b"")), 0.5)  # without a token
    clip.receive(b"\x42\x01\x00\x00", 0.5)  # a damaged one
    clip.receive(encode(Hello("020000000009", (1, 0), 200, 16000, 20000)), 0.5)  # none at all
    replies = [frame for data in clip.due(0.5) if isinstance(frame := decode(data), Reply)]
    assert [(reply.token, reply.result, reply.value) for reply in replies] == [
        (1, Result.VALUE_REFUSED, 200),
        (2, Result.VALUE_REFUSED, 200),
        (3, Result.DONE, 400),
        (4, Result.DONE, 0),
        (5, Result.NOT_NOW, 400),
        (6, Result.DONE, 0),
        (7, Result.UNKNOWN_COMMAND, 0),
    ]
    assert clip.blinks_until_s == 3.5


def test_without_a_link_samples_are_counted_as_dropped_and_after_300_s_it_stops():
    clip = board(running=True)
    before = [frame for frame in heard_until(clip, 1.0) if isinstance(frame, Samples)]
    clip.link(False, 1.0)
    assert heard_until(clip, 3.0, start_s=1.01) == []
    clip.link(True, 3.0)
    after = [decode(data) for data in clip.due(3.1)]
    status = next(frame for frame in after if isinstance(frame, Status))
    first = next(frame for frame in after if isinstance(frame, Samples))
    gap = (first.sequence - before[-1].next_sequence) * 5000
    assert first.tick_us - before[-1].tick_us - 50_000 == gap
    assert 390 <= status.dropped <= 400 and status.running
    clip.link(False, 4.0)
    clip.due(305.0)
    clip.link(True, 305.0)
    assert not any(isinstance(decode(data), Samples) for data in clip.due(306.0))


# Over the air


def heard_of(source: VirtualSource, seconds: float) -> list[Event]:
    with listen([source]) as listening:
        return until(
            listening, lambda events: events and events[-1].arrived_s - source.opened_s >= seconds, patience_s=20
        )


def test_what_is_heard_is_what_the_legs_gave():
    source = VirtualSource(["right_foot", "left_shank"], speed=math.inf, running=True)
    events = heard_of(source, 5.0)
    for place, clip in source.identities.items():
        frames = of(events, Heard, clip)
        counts = rows(frames)
        assert missing(frames) == 0 and ticks_fit(frames, 200) and len(counts) >= 950
        again = VirtualSource(["right_foot", "left_shank"]).wearing
        assert np.array_equal(counts, again.counts(place, 1, len(counts), 200.0)), place
        facts = of(events, Connected, clip)[0].facts
        size = np.linalg.norm(counts[:200, :3] * facts.acc_scale, axis=1)
        assert np.median(size) == pytest.approx(9.80665, abs=0.2)  # it sits still: gravity (CGPM 1901)


def test_the_same_seed_gives_the_same_and_another_one_another():
    def first(seed: int) -> np.ndarray:
        source = VirtualSource(["right_foot"], speed=math.inf, running=True, seed=seed)
        return rows(of(heard_of(source, 1.0), Heard))[:100]

    assert np.array_equal(first(3), first(3)) and not np.array_equal(first(3), first(4))


def test_loss_and_damage_are_gaps_and_never_wrong_samples():
    names = ["right_foot"]
    true = VirtualSource(names).wearing
    source = VirtualSource(names, faults=Faults(loss=0.1, damage=0.1), speed=math.inf, running=True)
    events = heard_of(source, 30.0)
    frames = of(events, Heard)
    whole = true.counts("right_foot", 1, 7000, 200.0)
    for frame in frames:
        assert frame.sequence is not None
        assert np.array_equal(frame.counts, whole[frame.sequence : frame.sequence + len(frame.counts)])
    # 600 frames, 19 % of them gone: binomial, SD 9.6 frames
    assert 10 * 70 < missing(frames) < 10 * 160
    assert 30 < len(of(events, Damaged)) < 90
    assert ticks_fit(frames, 200)


def test_jitter_delays_frames_up_to_its_size_and_keeps_their_order():
    source = VirtualSource(["right_foot"], faults=Faults(jitter_s=0.06), speed=math.inf, running=True)
    frames = of(heard_of(source, 20.0), Heard)
    delay = [f.arrived_s - source.opened_s - (f.tick_us * 1e-6 + 9 / 200) for f in frames]
    assert missing(frames) == 0
    assert min(delay) > -1e-6 and 0.04 < max(delay) < 0.0625
    assert all(a.arrived_s <= b.arrived_s for a, b in zip(frames, frames[1:], strict=False))


def test_drift_and_the_wrap_of_a_clock():
    faults = {"right_foot": Faults(board=BoardFaults(drift_ppm=500, first_tick_us=2**32 - 3_000_000))}
    source = VirtualSource(["right_foot", "right_shank"], faults=faults, speed=math.inf, running=True)
    events = heard_of(source, 20.0)
    fast, true = (of(events, Heard, source.identities[name]) for name in ("right_foot", "right_shank"))
    assert fast[0].tick_us > fast[-1].tick_us  # it wrapped
    assert missing(fast) == 0 and ticks_fit(fast, 200)
    for frames, rate in ((fast, 200 * 1.0005), (true, 200.0)):
        last = frames[-1]
        assert last.sequence is not None
        taken = (last.arrived_s - source.opened_s) * rate
        assert taken - 12 <= last.sequence + 10 <= taken + 1


def test_a_drop_out_is_told_and_what_it_cost_is_counted():
    names = ["right_foot", "right_shank"]
    source = VirtualSource(
        names, faults={"right_foot": Faults(drop_outs=((3.0, 5.0), (9.0, math.inf)))}, speed=math.inf, running=True
    )
    events = heard_of(source, 14.0)
    clip, other = source.identities["right_foot"], source.identities["right_shank"]
    told = [type(event) for event in events if event.clip == clip and isinstance(event, (Connected, Gone))]
    assert told == [Connected, Gone, Connected, Gone]
    assert "right foot broke" in of(events, Gone, clip)[0].reason
    frames = of(events, Heard, clip)
    assert frames[-1].arrived_s - source.opened_s <= 9.05
    dropped = max(status.dropped or 0 for status in of(events, StatusHeard, clip))
    assert missing(frames) - dropped in range(0, 11)  # what was in the board's hands when the link broke
    assert 390 <= missing(frames) <= 410
    assert missing(of(events, Heard, other)) == 0 and not of(events, Gone, other)


def test_batteries_go_down_and_the_facts_know():
    board_faults = BoardFaults(battery_percent=50, battery_per_hour=3600)  # 1 % a second
    source = VirtualSource(["right_foot"], faults=Faults(board=board_faults), speed=math.inf)
    with listen([source]) as listening:
        events = until(listening, lambda events: len(of(events, StatusHeard)) >= 11)
        levels = [status.battery_percent for status in of(events, StatusHeard)]
        assert levels[:11] == list(range(50, 39, -1))
        charge = listening.clips()[0].battery_percent
        assert charge is not None and charge <= 40


def test_at_true_speed_commands_are_heard_and_answered():
    source = VirtualSource(["right_foot"], speed=20.0)
    clip = source.identities["right_foot"]
    with listen([source]) as listening:
        until(listening, lambda events: of(events, Connected))
        listening.command(clip, "rate", 400)
        assert of(until(listening, lambda events: of(events, Answered)), Answered)[0].value == 400
        listening.command(clip, "start")
        events = until(listening, lambda events: samples(events, clip) > 400)
        assert of(events, Answered)[0].accepted and listening.clips()[0].running
        listening.command(clip, "rate", 200)
        refused = of(until(listening, lambda events: of(events, Answered)), Answered)[0]
        assert not refused.accepted and refused.text == "it is running; stop it first"
        with pytest.raises(SourceError, match="no clip 'nobody' is heard; heard are 020000000000. Switch it on"):
            listening.command("nobody", "stop")


def test_places_and_speeds_that_cannot_be():
    with pytest.raises(ValueError, match="no clip is worn at right_toe; places: right_foot"):
        VirtualSource(["right_toe"])
    with pytest.raises(ValueError, match="nowhere"):
        VirtualSource([])
    with pytest.raises(ValueError, match="a speed of 0 is not above 0"):
        VirtualSource(speed=0)


# One link, several links


def test_a_clip_of_another_major_version_is_refused_in_one_sentence():
    hearing = Hearing("serial", "/dev/ttyX")
    events = hearing.hear(OtherVersion(2, 3), 1.0)
    assert len(events) == 1 and isinstance(events[0], Trouble) and events[0].reason == "version"
    assert events[0].problem == (
        "the clip at /dev/ttyX speaks version 2.3 of the wire format, and this Footroom version 1; update Footroom, or "
        "put older firmware on the clip."
    )
    assert hearing.hear(OtherVersion(2, 3), 2.0) == []  # said once
    older = hearing.hear(OtherVersion(0, 9), 3.0)
    assert isinstance(older[0], Trouble) and "put newer firmware on the clip" in older[0].problem


def test_samples_before_the_hello_cannot_be_used_and_a_changed_clip_is_told():
    hearing = Hearing("serial", "here")
    some = Samples(0, 0, np.zeros((2, 6), np.int16))
    assert hearing.hear(some, 1.0) == [] and hearing.unexplained == 1
    one, two = Hello("0000000000aa", (1, 0), 200, 16000, 20000), Hello("0000000000bb", (1, 0), 200, 16000, 20000)
    assert isinstance(hearing.hear(one, 1.0)[0], Connected)
    assert hearing.hear(one, 2.0) == []
    assert hearing.hear(Unknown(0x22, b"new"), 2.0) == []
    assert [type(event) for event in hearing.hear(two, 3.0)] == [Gone, Connected]
    faster = dataclasses.replace(two, rate_hz=400)
    changed = hearing.hear(faster, 4.0)
    assert isinstance(changed[0], Connected) and changed[0].facts.rate_hz == 400
    assert hearing.hear(Reply(0x42, 99, 0, 0, 0), 5.0) == []  # nobody asked


def test_lines_of_text_are_heard_in_si_units_and_take_no_commands():
    reader, hearing = TextReader(), Hearing("serial", "here")
    text = b"# clip=left-foot rate=200 acc=g gyr=rad/s acc_range=8 gyr_range=20 battery=40\n"
    text += b"1000,0,-1,0,0,0,1\n6000,0,-1,0,0,0,2\n"
    events = [event for frame in reader.feed(text) for event in hearing.hear(frame, 2.0)]
    facts, heard = events[0], events[1]
    assert isinstance(facts, Connected) and isinstance(heard, Heard)
    assert heard.counts[0, 1] * facts.facts.acc_scale == pytest.approx(-9.80665)
    assert heard.counts[:, 5] * facts.facts.gyr_scale == pytest.approx([1, 2], abs=20 / 32768)
    assert facts.facts.battery_percent == 40 and facts.facts.text and heard.sequence is None
    assert heard.ticks_us is not None and heard.ticks_us.tolist() == [1000, 6000]
    with pytest.raises(SourceError, match="left-foot .here. sends lines of text and takes no commands"):
        hearing.ask("start")


def test_two_clips_with_one_id_are_named_with_their_places():
    first, second = VirtualSource(["right_foot"]), VirtualSource(["left_foot"])  # one seed: one id
    with listen([first, second]) as listening:
        trouble = of(until(listening, lambda events: of(events, Trouble)), Trouble)[0]
        assert trouble.reason == "same id"
        with pytest.raises(
            SourceError, match="2 clips call themselves '020000000000' .*give one of them an id of its own"
        ) as caught:
            refuse_same_ids(listening.clips())
        assert str(caught.value) == trouble.problem
        for place in ("right_foot", "left_foot"):
            assert place in trouble.problem


class Refusing:
    """A source that cannot be opened."""

    kind, place = "serial", "nowhere"

    def open(self, inbox: Inbox) -> None:
        raise SourceError("there is no serial port nowhere; plug it in.", "missing", "nowhere")

    def clips(self) -> list[ClipFacts]:
        return []

    def command(self, clip, name, value=None) -> None: ...

    def close(self) -> None: ...


def test_a_source_that_cannot_be_opened_stops_the_others_only_when_asked_to():
    refusing: Source = Refusing()  # type: ignore[assignment]
    with pytest.raises(SourceError, match="there is no serial port nowhere"), listen([VirtualSource(), refusing]):
        pass
    with listen([VirtualSource(["right_foot"]), refusing], patient=True) as listening:
        events = until(listening, lambda events: of(events, Connected) and of(events, Trouble))
        assert of(events, Trouble)[0].place == "nowhere"
    with pytest.raises(SourceError, match="nowhere"), listen([refusing], patient=True):
        pass


def test_an_inbox_that_nobody_reads_says_what_it_threw_away():
    inbox = Inbox(limit=10)
    for i in range(25):
        inbox.put(Ended("a" if i < 5 else "b", float(i), "here"))
    events = Listening([], inbox).take()
    lost = {event.clip: event.frames for event in of(events, Overrun)}
    assert lost == {"a": 5, "b": 10}
    assert [event.arrived_s for event in of(events, Ended)] == list(range(15, 25))
    assert inbox.take() == []
