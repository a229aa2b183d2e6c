"""One recording being made: events in, files out, and nothing that one clip does stops the others.

L/recordings/ID holds `journal.jsonl` and a stream per clip and place it is heard at (`right_foot.arrows`; a second one,
`right_foot-2.arrows`, when its numbers change their meaning or it is heard somewhere else). What the disk does not take
waits in memory and is tried again; a small reserve is given back to a full disk, so that the last words fit.
"""

from __future__ import annotations

import contextlib
import dataclasses
import secrets
import time
from collections.abc import Sequence
from pathlib import Path
from types import TracebackType
from typing import Any

from ..files import sync_folder
from ..locks import writing
from ..models import PHASE_NAMES, place_words
from ..sources.base import (
    ClipFacts,
    Connected,
    Damaged,
    Event,
    Gone,
    Heard,
    Overrun,
    Silent,
    StatusHeard,
    Trouble,
)
from .about import TWIN_S, About
from .folders import STREAM_SUFFIX, held_recording, only_recording, recordings_folder
from .journal import Entry, Journal
from .news import News
from .room import Room
from .stream import Stream

BATCH_S = 0.5
_MEANING = ("acc_scale", "gyr_scale", "rate_hz", "delay_s")  # facts that a stream has once and for all


class Keeper:
    """A recording being made; holds the logbook's recording lock from creation to `close`. For one thread.

    about : what it is of. heard : the clips heard already (`Listening.clips()`): they do not say their scales again.
    Raises RecordingRunning when another one is running on this logbook, LogbookError when the disk refuses.
    """

    def __init__(self, logbook: Path, about: About, heard: Sequence[ClipFacts] = ()) -> None:
        self._about = about
        self._streams: list[Stream] = []
        self._now_at: dict[tuple[str, str], Stream] = {}
        self._of_clip: dict[str, list[Stream]] = {clip: [] for clip in about.worn}
        self._facts: dict[tuple[str, str], ClipFacts] = {}
        self._twins: dict[str, list[str]] = {}
        self._news = News()
        self._saved_s = time.monotonic()
        self._closed = False
        with contextlib.ExitStack() as held:
            held.enter_context(only_recording(logbook))
            with writing(logbook):
                self.folder = _new_folder(logbook, about)
                held.enter_context(held_recording(logbook, self.folder))
                self._room = Room(self.folder)
                self._journal = Journal(self.folder)
                self._what = {"recording": self.folder.name, "token": secrets.token_hex(16)}
                self._what["about"] = about.model_dump_json(exclude_none=True)
                self._journal.add(Entry("about", time.monotonic(), {**self._what}))
                self._journal.save()
            self._held = held.pop_all()
        for facts in heard:
            if facts.clip in about.worn:
                self._known(facts, time.monotonic())

    def __enter__(self) -> Keeper:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.close()

    def take(self, events: Sequence[Event], now_s: float) -> None:
        """Keep what was heard of worn clips. Never raises for one clip's trouble, nor for a full disk.

        now_s : host time; call it several times a second even when nothing came. Events are those of the inbox.
        """
        for event in events:
            if isinstance(event, Heard):
                if event.clip in self._about.worn and len(event.counts):
                    self._stream_of(event).add(event)
            elif event.clip in self._about.worn or event.clip == "":
                self._note(event)
        due = now_s - self._saved_s >= BATCH_S
        if due or any(stream.waits_s >= BATCH_S and not stream.stuck for stream in self._streams):
            self._save(now_s)

    def begin(
        self,
        phase: str,
        at_s: float,
        *,
        setup: str | None = None,
        side: str | None = None,
        exercise: str | None = None,
        tempo_bpm: float | None = None,
        block: str | int | None = None,
    ) -> None:
        """A phase begins at host time `at_s` (`time.monotonic`) [s]; the one that runs ends.

        Raises ValueError for a name that is none, or a set-up that `about` does not name.
        """
        if phase not in PHASE_NAMES:
            raise ValueError(f"{phase!r} is no phase; phases are {', '.join(PHASE_NAMES)}")
        if setup is not None and setup not in [known.name for known in self._about.setups]:
            raise ValueError(f"{setup!r} is none of the recording's set-ups")
        what = {"setup": setup, "side": side, "exercise": exercise, "tempo_bpm": tempo_bpm, "block": block}
        given = {key: value for key, value in what.items() if value is not None}
        self._write_now(Entry("begin", at_s, {"phase": phase, **given}))

    def end(self, at_s: float) -> None:
        """The phase that runs ends."""
        self._write_now(Entry("end", at_s))

    def drop_phase(self) -> None:
        """The phase that runs, or else the last one, shall not count."""
        self._write_now(Entry("drop", time.monotonic()))

    def remark(self, kind: str, at_s: float, **what: object) -> None:
        """Something said or answered; goes into the journal (see `rebuild` for the kinds that it reads)."""
        self._write_now(Entry("remark", at_s, {"remark": kind, "said": what}))

    def problems(self) -> list[str]:
        """What is wrong now, one sentence each with the remedy."""
        found = self._room.problems({stream.path.stem: stream.waits_s for stream in self._streams})
        gave_up = sorted({place_words(stream.facts["worn"]) for stream in self._streams if stream.given_up})
        if gave_up:
            found.append(f"the disk refused for too long: samples of {', '.join(gave_up)} that waited are lost.")
        unknown = sorted(self._about.worn[c] for c, streams in self._of_clip.items() if streams and not self._knows(c))
        for place in unknown:
            found.append(
                f"the clip on the {place_words(place)} has not said what its numbers mean; switch it off and on."
            )
        for clip, places in self._twins.items():
            place = place_words(self._about.worn[clip])
            found.append(
                f"two clips call themselves {clip} ({place}; {' and '.join(places)}); both are kept apart, and the "
                "first one counts: switch the other off."
            )
        return found

    def close(self) -> None:
        """Write what waits, and let go of the logbook. May be called twice."""
        if self._closed:
            return
        self._closed = True
        try:
            self._save(time.monotonic(), last=True)
            for stream in self._streams:
                with contextlib.suppress(OSError):
                    stream.close()
                if stream.given_up:
                    what = {"file": stream.path.name, "frames": stream.given_up}
                    self._journal.add(Entry("given_up", stream.last_s, what))
            self._room.give_back()
            self._journal.add(Entry("closed", time.monotonic()))
            with contextlib.suppress(OSError):
                self._journal.close()
        finally:
            self._held.close()

    def _write_now(self, entry: Entry) -> None:
        self._journal.add(entry)
        self._room.trying("journal", self._journal.save)

    def _save(self, now_s: float, last: bool = False) -> None:
        """Everything that waits, each stream for itself."""
        self._saved_s = now_s
        for entry in self._news.due(now_s, all_of_it=last):
            self._journal.add(entry)
        for stream in self._streams:
            self._room.trying(stream.path.stem, stream.save)
        self._room.trying("journal", self._journal.save)
        self._room.look(now_s)

    def _note(self, event: Event) -> None:
        match event:
            case Connected():
                self._known(event.facts, event.arrived_s)
            case Gone() | Silent() | Damaged() | Overrun() | StatusHeard() | Trouble():
                for entry in self._news.of(event):
                    self._journal.add(entry)

    def _known(self, facts: ClipFacts, at_s: float) -> None:
        """A clip said what its numbers mean."""
        key = (facts.clip, facts.place)
        before = self._facts.get(key)
        self._facts[key] = facts
        self._journal.add(Entry("connected", at_s, {"clip": facts.clip, "facts": dataclasses.asdict(facts)}))
        if before is not None and any(getattr(before, name) != getattr(facts, name) for name in _MEANING):
            self._now_at.pop(key, None)

    def _knows(self, clip: str) -> bool:
        return any(known == clip for known, _ in self._facts)

    def _stream_of(self, heard: Heard) -> Stream:
        key = (heard.clip, heard.place)
        found = self._now_at.get(key)
        if found is None:
            found = self._now_at[key] = self._new_stream(heard)
        if len(self._of_clip[heard.clip]) > 1 and heard.clip not in self._twins:
            self._look_for_twin(heard, found)
        return found

    def _look_for_twin(self, heard: Heard, stream: Stream) -> None:
        """Whether the clip is still heard at another place, too."""
        if heard.arrived_s - stream.facts["since_s"] < TWIN_S:
            return
        for other in self._of_clip[heard.clip]:
            there = other.facts["place"]
            if there != heard.place and heard.arrived_s - other.last_s < TWIN_S:
                places = self._twins[heard.clip] = sorted({there, heard.place})
                self._journal.add(Entry("twins", heard.arrived_s, {"clip": heard.clip, "places": places}))

    def _new_stream(self, heard: Heard) -> Stream:
        worn_at, streams = self._about.worn[heard.clip], self._of_clip[heard.clip]
        name = worn_at if not streams else f"{worn_at}-{len(streams) + 1}"
        known = self._facts.get((heard.clip, heard.place)) or next(
            (facts for (clip, _), facts in self._facts.items() if clip == heard.clip), None
        )
        facts: dict[str, Any] = {} if known is None else dataclasses.asdict(known)
        facts |= {"clip": heard.clip, "place": heard.place, "worn": worn_at, "since_s": heard.arrived_s}
        stream = Stream(self.folder / f"{name}{STREAM_SUFFIX}", secrets.token_hex(8), {**facts, **self._what})
        self._journal.add(
            Entry("stream", heard.arrived_s, {"file": stream.path.name, "token": stream.token, "facts": facts})
        )
        streams.append(stream)
        self._streams.append(stream)
        return stream


def _new_folder(logbook: Path, about: About) -> Path:
    first = f"{about.participant.id}-{about.started_at:%Y-%m-%d-%H%M%S}"
    number, folder = 1, recordings_folder(logbook) / first
    while True:
        try:
            folder.mkdir(parents=True)
            sync_folder(folder.parent)
            sync_folder(logbook)
            return folder
        except FileExistsError:
            number += 1
            folder = recordings_folder(logbook) / f"{first}-{number}"
