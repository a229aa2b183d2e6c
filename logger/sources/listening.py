"""Several sources heard as one: events in one inbox, commands to whoever has the clip, one clip per id.

with listen([SerialSource(port), BluetoothSource()]) as listening:
    for event in listening.take(timeout_s=0.1): ...
    listening.command("clip-7", "identify")
"""

from __future__ import annotations

import contextlib
import time
from collections.abc import Iterator, Sequence

from ..errors import SourceError
from .base import ClipFacts, CommandName, Connected, Event, Inbox, Source, Trouble


class Listening:
    """Sources that are open. Made by `listen`."""

    def __init__(self, sources: Sequence[Source], inbox: Inbox) -> None:
        self._sources = list(sources)
        self._inbox = inbox

    def take(self, timeout_s: float = 0.0) -> list[Event]:
        """Events in order of arrival; waits up to `timeout_s` [s] for the first one.

        When a clip is heard whose id another one has, that is told as Trouble (their `Heard.place` differs).
        """
        events = self._inbox.take(timeout_s)
        new = {event.clip for event in events if isinstance(event, Connected)}
        for clip in sorted(new):
            places = sorted(facts.place for facts in self.clips() if facts.clip == clip)
            if len(places) > 1:
                problem = same_id_error(clip, places)
                events.append(Trouble(clip, time.monotonic(), places[-1], str(problem), problem.reason))
        return events

    def clips(self) -> list[ClipFacts]:
        """The clips heard now, by id."""
        return sorted((facts for source in self._sources for facts in source.clips()), key=lambda facts: facts.clip)

    def command(self, clip: str, name: CommandName, value: int | None = None) -> None:
        """Send a command to a clip. Raises SourceError when it is not heard, or heard twice."""
        holders = [source for source in self._sources if any(facts.clip == clip for facts in source.clips())]
        if not holders:
            heard = ", ".join(facts.clip for facts in self.clips())
            there = f"heard are {heard}" if heard else "no clip is heard at all"
            raise SourceError(
                f"no clip {clip!r} is heard; {there}. Switch it on, bring it near, and see `footroom clips`.",
                "unknown clip",
                clip,
            )
        refuse_same_ids(self.clips())
        holders[0].command(clip, name, value)


def refuse_same_ids(clips: Sequence[ClipFacts]) -> None:
    """Raise SourceError when two clips call themselves the same."""
    places: dict[str, list[str]] = {}
    for facts in clips:
        places.setdefault(facts.clip, []).append(facts.place)
    for clip, found in places.items():
        if len(found) > 1:
            raise same_id_error(clip, found)


def same_id_error(clip: str, places: Sequence[str]) -> SourceError:
    """What to say of two clips with one id."""
    where = " and ".join(sorted(places))
    return SourceError(
        f"{len(places)} clips call themselves {clip!r} ({where}); give one of them an id of its own in its "
        "firmware, or switch it off.",
        "same id",
        clip,
    )


@contextlib.contextmanager
def listen(sources: Sequence[Source], inbox: Inbox | None = None, patient: bool = False) -> Iterator[Listening]:
    """Open sources, and close them all in the end.

    patient : a source that cannot be opened is told as a Trouble event instead; the others go on.
    Raises SourceError when one cannot be opened (with `patient`: when none can).
    """
    inbox = inbox or Inbox()
    with contextlib.ExitStack() as opened:
        there: list[Source] = []
        problems: list[SourceError] = []
        for source in sources:
            opened.callback(source.close)
            try:
                source.open(inbox)
            except SourceError as error:
                if not patient:
                    raise
                problems.append(error)
                inbox.put(Trouble("", time.monotonic(), source.place, str(error), error.reason))
                continue
            there.append(source)
        if problems and not there:
            raise problems[0]
        yield Listening(there, inbox)
