"""Files of a recording: what was told to be safe is safe, and what is damaged is never taken for a sample."""

import errno
import random
from dataclasses import replace

import numpy as np
import pyarrow as pa
import pytest
from footroom.logger.recorder import append_file
from footroom.logger.recorder.append_file import AppendFile
from footroom.logger.recorder.journal import Entry, Journal, line_of, parse_journal, read_journal
from footroom.logger.recorder.stream_batch import frames_of
from footroom.logger.recorder.stream_file import StreamFile, parse_stream, read_stream
from sent import as_text, frames, same

SENT = frames(0, until_s=0.96, size=4)  # 48 frames


def write(path, batches, token="a1b2", close=True):
    stream = StreamFile(path, token, {"clip": "clip-0", "rate_hz": 200.0})
    for batch in batches:
        stream.append(batch)
    if close:
        stream.close()
    return path.read_bytes()


def batches_of(size):
    return [SENT[i : i + size] for i in range(0, len(SENT), size)]


@pytest.fixture(scope="module")
def small(tmp_path_factory):
    """A file of four batches, and the positions at which each is whole."""
    path = tmp_path_factory.mktemp("stream") / "small.arrows"
    stream = StreamFile(path, "a1b2", {"clip": "clip-0", "rate_hz": 200.0})
    ends = []
    for batch in batches_of(3)[:4]:
        stream.append(batch)
        ends.append(path.stat().st_size)
    stream.close()
    return path.read_bytes(), ends


def test_what_was_written_comes_back_and_any_arrow_reader_reads_it(tmp_path):
    data = write(tmp_path / "a.arrows", batches_of(10))
    read = read_stream(tmp_path / "a.arrows")
    assert (read.ended, read.batches, read.lost_batches, read.lost_bytes) == (True, 5, 0, 0)
    assert read.facts == {"clip": "clip-0", "rate_hz": 200.0}
    assert len(read.frames) == len(SENT) and same(read.frames, SENT)
    table = pa.ipc.open_stream(data).read_all()
    assert table.column("tick_us").to_pylist() == [heard.tick_us for heard in SENT]
    assert table.column("counts").to_pylist()[7] == SENT[7].counts.ravel().tolist()


def test_lines_of_text_keep_a_tick_for_every_sample(tmp_path):
    text = as_text(SENT)
    write(tmp_path / "a.arrows", [text[:20], text[20:]])
    read = read_stream(tmp_path / "a.arrows")
    assert len(read.frames) == len(SENT) and same(read.frames, text)
    with pytest.raises(ValueError, match="some frames have a tick for every sample, others have none"):
        frames_of([SENT[0], text[1]])


def test_a_cut_at_any_byte_keeps_every_batch_before_it(small):
    data, ends = small
    for cut in range(len(data)):
        read = parse_stream(data[:cut])
        assert read.batches == sum(end <= cut for end in ends), cut
        assert not read.ended
        assert same(read.frames, SENT)
    assert parse_stream(data).ended


def test_no_bit_flip_makes_a_wrong_sample_and_each_costs_one_batch_at_most(small):
    data, _ = small
    harmless = 0
    for seed in range(2000):
        chance = random.Random(seed)
        damaged = bytearray(data)
        damaged[chance.randrange(len(data))] ^= 1 << chance.randrange(8)
        read = parse_stream(bytes(damaged))
        assert same(read.frames, SENT), seed
        assert read.batches >= 3, seed
        if read.batches == 3:
            assert read.lost_batches == 1 or read.lost_bytes > 0, "lost without a word"
        harmless += read.batches == 4
    assert harmless < 800  # padding, the schema (it is known), and what no number depends on


def test_a_wrong_length_that_leads_past_batches_costs_none_of_them(small):
    """Lengths of the header (bytes 4-8) and in each batch's first 200 bytes, any bit."""
    data, ends = small
    for place in [*range(4, 8), *(end + i for end in ends[:-1] for i in range(4, 200))]:
        for bit in range(8):
            damaged = bytearray(data)
            damaged[place] ^= 1 << bit
            read = parse_stream(bytes(damaged))
            assert same(read.frames, SENT) and read.batches >= (4 if place < 8 else 3), (place, bit)


def test_reading_goes_on_after_damage_of_any_length(small):
    data, ends = small
    middle = data[: ends[0]] + bytes(ends[1] - ends[0]) + data[ends[1] :]
    read = parse_stream(middle)
    assert (read.batches, read.lost_batches, read.lost_bytes) == (3, 1, ends[1] - ends[0])
    missing = parse_stream(data[: ends[0]] + data[ends[1] :])
    assert (missing.batches, missing.lost_batches) == (3, 1)
    for junk in (b"", b"\xff" * 64, bytes(5), b"nothing of ours"):
        read = parse_stream(junk + data[ends[0] :])
        assert (read.batches, read.facts) == (3, None)
        assert same(read.frames, SENT)
    assert parse_stream(b"").batches == 0


def test_batches_of_another_stream_or_twice_the_same_are_not_taken(small, tmp_path):
    data, ends = small
    other = write(tmp_path / "other.arrows", [[replace(h, arrived_s=h.arrived_s + 9) for h in SENT[:3]]], token="ffff")
    read = parse_stream(data[: ends[1]] + other + data[ends[1] :])
    assert read.batches == 4 and same(read.frames, SENT)
    twice = parse_stream(data[: ends[1]] + data[ends[0] :])
    assert twice.batches == 4 and len(twice.frames) == 12


def test_no_append_leaves_half_of_it_behind(tmp_path, monkeypatch):
    file = AppendFile(tmp_path / "x")
    file.append(b"whole")

    def half(handle, data):
        append_file.os.write(handle, data[:2])
        raise OSError(errno.ENOSPC, "No space left on device")

    with monkeypatch.context() as broken:
        broken.setattr(append_file, "write_out", half)
        with pytest.raises(OSError, match="No space left"):
            file.append(b"lost")
        assert (tmp_path / "x").read_bytes() == b"whole"
        broken.setattr(append_file.os, "ftruncate", lambda *_: (_ for _ in ()).throw(OSError(errno.EIO, "gone")))
        with pytest.raises(OSError, match="No space left"):
            file.append(b"lost")
        assert (tmp_path / "x").read_bytes() == b"wholelo"  # cannot be cut off yet
    file.append(b" again")
    file.close()
    file.close()
    assert (tmp_path / "x").read_bytes() == b"whole again"
    with pytest.raises(OSError, match="closed"):
        file.append(b"")
    with pytest.raises(FileExistsError):
        AppendFile(tmp_path / "x")


def test_an_interrupt_in_the_middle_of_a_write_leaves_nothing_of_it(tmp_path, monkeypatch):
    file = AppendFile(tmp_path / "x")
    file.append(b"whole")
    with monkeypatch.context() as interrupted:
        interrupted.setattr(append_file.os, "fdatasync", lambda _: (_ for _ in ()).throw(KeyboardInterrupt))
        with pytest.raises(KeyboardInterrupt):
            file.append(b"half")
    assert (tmp_path / "x").read_bytes() == b"whole"
    file.append(b" and more")
    file.close()
    assert (tmp_path / "x").read_bytes() == b"whole and more"


def test_where_fdatasync_is_missing_fsync_is_used(tmp_path, monkeypatch):
    synced = []
    monkeypatch.delattr(append_file.os, "fdatasync", raising=False)
    monkeypatch.setattr(append_file.os, "fsync", synced.append)
    file = AppendFile(tmp_path / "x")
    file.append(b"1")
    file.close()
    assert len(synced) >= 1


@pytest.mark.parametrize("error", [OSError(errno.ENOSPC, "No space left on device"), KeyboardInterrupt()])
def test_a_stream_whose_header_cannot_be_written_leaves_no_file(tmp_path, monkeypatch, error):
    monkeypatch.setattr(append_file, "write_out", lambda *_: (_ for _ in ()).throw(error))
    with pytest.raises(type(error)):
        StreamFile(tmp_path / "a.arrows", "t", {})
    assert list(tmp_path.iterdir()) == []


def journal_bytes(folder):
    journal = Journal(folder)
    for n in range(6):
        journal.add(Entry("remark", 10.0 + n, {"remark": "café", "n": n, "kind": "not mine"}))
        if n % 2:
            journal.save()
    journal.close()
    return (folder / "journal.jsonl").read_bytes()


def test_a_journal_comes_back_as_far_as_it_was_safe(tmp_path):
    data = journal_bytes(tmp_path)
    read = read_journal(tmp_path)
    assert [(entry.kind, entry.at_s, entry.what["n"]) for entry in read.entries] == [
        ("remark", 10.0 + n, n) for n in range(6)
    ]
    assert read.lost == 0 and read.of("begin") == []
    whole = [i + 1 for i, byte in enumerate(data) if byte == 10]
    for cut in range(len(data)):
        part = parse_journal(data[:cut].split(b"\n"))
        assert len(part.entries) in (n := sum(end <= cut for end in whole), n + 1)
        assert part.entries == read.entries[: len(part.entries)]
        assert part.lost == 0
    assert read_journal(tmp_path / "nowhere").entries == []


def test_a_damaged_line_is_missed_and_never_believed(tmp_path):
    data = journal_bytes(tmp_path)
    good = read_journal(tmp_path).entries
    for seed in range(500):
        chance = random.Random(seed)
        damaged = bytearray(data)
        at = chance.randrange(len(data))
        damaged[at] ^= 1 << chance.randrange(8)
        read = parse_journal(bytes(damaged).split(b"\n"))
        assert all(entry in good for entry in read.entries)
        assert len(read.entries) >= 4
        if at < len(data) - 1:
            assert read.lost >= 1, seed
    assert parse_journal([line_of(0, good[0]), line_of(2, good[2])]).lost >= 0


def test_a_journal_that_could_not_be_saved_keeps_its_lines(tmp_path, monkeypatch):
    journal = Journal(tmp_path)
    journal.add(Entry("begin", 1.0, {"phase": "still"}))
    with monkeypatch.context() as broken:
        broken.setattr(append_file, "write_out", lambda *_: (_ for _ in ()).throw(OSError(errno.ENOSPC, "full")))
        with pytest.raises(OSError, match="full"):
            journal.save()
    journal.add(Entry("end", 2.0))
    journal.close()
    assert [entry.kind for entry in read_journal(tmp_path).entries] == ["begin", "end"]


def test_numbers_that_are_none_do_not_get_into_a_journal(tmp_path):
    with pytest.raises(ValueError, match="not JSON compliant"):
        Journal(tmp_path).add(Entry("remark", 0.0, {"x": float(np.nan)}))
