"""What `footroom record` does from the options to the session's id: logbook, person, clips, recording, last words."""

from __future__ import annotations

import contextlib
import sys
import threading
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from ..errors import InputError
from ..logbook import Logbook
from ..models import PLACES
from ..new_logbook import undone_on_error
from ..sources.base import Source
from ..sources.choose import choose_sources
from ..sources.listening import listen
from ..sources.replay import ReplaySource
from . import virtual_person
from .checks import check_worn
from .folders import only_recording, recording_folders
from .keys import reading
from .plan import Only, Pace, Wish, can_slide, make_plan
from .record import Outcome, Tools, clock_of, interrupt_sets, record, wait_until_ready
from .screen import open_screen
from .subject import Subject, about_of, exchange, subject_of, worn_by
from .virtual_person import Follower, VirtualFollower
from .watch import Watch

INTERRUPTED = 130
PACE = Pace()


@dataclass(frozen=True)
class Asked:
    """The options of the command. pace : how long each step takes."""

    logbook: Path
    participant: str
    setups: tuple[str, ...]
    sources: tuple[str, ...] = ()
    minutes: float | None = 3.0
    exercise: str | None = None
    tempo_bpm: float | None = None
    practice_only: bool = False
    range_check: bool = True
    only: Only | None = None
    hands_free: bool = False
    anyway: bool = False
    new: bool = False
    note: str | None = None
    baud: int | None = None
    speed: float = 1.0
    pace: Pace = field(default_factory=lambda: PACE)


@dataclass(frozen=True)
class Cast:
    """Who and what is there. worn : {clip id: place}. notes : to be shown at the beginning."""

    subject: Subject
    sources: list[Source]
    worn: dict[str, str]
    follower: Follower | None = None
    notes: tuple[str, ...] = ()


def run(asked: Asked) -> int:
    """Record, say what became of it, and return the exit status. Raises FootroomError for what can be put right."""
    if asked.only and (asked.practice_only or not asked.range_check):
        raise InputError(f"--only {asked.only} is nothing but moves; leave out --practice-only and --no-range.")
    if asked.hands_free and asked.minutes is None:
        raise InputError("with --hands-free nobody ends the playing; give --minutes above 0.")
    interrupted = threading.Event()
    with interrupt_sets(interrupted), contextlib.ExitStack() as making:
        making.enter_context(undone_on_error(asked.logbook))
        book = Logbook.open(asked.logbook, create=True)
        while True:
            outcome = _once(asked, book, interrupted, making)
            if outcome.ended != "swapped":
                break
            exchange(book, asked.participant, outcome.pairs)
    _say(asked, outcome)
    return INTERRUPTED if interrupted.is_set() else 0


def _once(asked: Asked, book: Logbook, interrupted: threading.Event, making: contextlib.ExitStack) -> Outcome:
    with only_recording(book.path):
        pass  # refused before anybody puts on clips; held again from the recording's beginning
    cast = _cast(asked, book, subject_of(book, asked.participant, asked.setups, asked.new))
    for finding in check_worn(cast.worn.values(), asked.participant, str(asked.logbook)):
        if not (asked.anyway and finding.may):
            raise InputError(finding.sentence)
    if asked.only == "slide" and not can_slide(list(cast.worn.values())):
        raise InputError(
            "the slide needs a clip on thigh and shank of both legs; put them on, and note where each is with "
            f"`footroom clips wear CLIP SEGMENT SIDE --logbook {asked.logbook}`."
        )
    plan = make_plan(
        Wish(
            asked.setups, list(cast.worn.values()), asked.minutes, asked.exercise, asked.tempo_bpm,
            asked.practice_only, asked.range_check, felt=not asked.hands_free, only=asked.only,
        ),
        asked.pace,
    )  # fmt: skip
    plan = replace(plan, notes=(*cast.notes, *plan.notes))
    kinds = "+".join(dict.fromkeys(source.kind for source in cast.sources))
    about = about_of(cast.subject, cast.worn, asked.note, {"heard_through": kinds})
    watch = Watch(cast.worn)
    with listen(cast.sources, patient=not asked.sources) as listening, reading() as keys:
        screen = open_screen(sys.stderr)
        try:
            tools = Tools(
                listening, screen, keys, clock_of(cast.sources), cast.follower, asked.pace, asked.hands_free,
                asked.anyway, interrupted,
            )  # fmt: skip
            findings = wait_until_ready(tools, watch)
            making.close()  # from here on there is something to keep
            plan = replace(plan, notes=(*plan.notes, *(finding.sentence for finding in findings)))
            return record(book, about, plan, tools, watch)
        except KeyboardInterrupt:
            if recording_folders(book.path):
                screen.close()
                print(f"What was recorded is safe: footroom recover --logbook {asked.logbook}", file=sys.stderr)
            raise
        finally:
            screen.close()


def _cast(asked: Asked, book: Logbook, subject: Subject) -> Cast:
    ways = [name.partition(":")[0] for name in asked.sources]
    if "virtual" in ways:
        return _virtual(asked.sources[0], asked, book, subject)
    if "replay" in ways:
        sources = choose_sources(asked.sources, asked.baud, asked.logbook, asked.speed)
        replayed = [source for source in sources if isinstance(source, ReplaySource)]
        if len(sources) > 1 or not replayed:
            raise InputError("a session that is played again is recorded alone; name one --source.")
        worn = {facts.clip: facts.clip for facts in replayed[0].clips()}
        return Cast(subject, sources, worn, None, (f"Played again: session {replayed[0].place}.", *subject.notes))
    worn = worn_by(book, asked.participant)
    sources = choose_sources(asked.sources, asked.baud, asked.logbook, wanted=list(worn))
    return Cast(subject, sources, worn, None, subject.notes)


def _virtual(way: str, asked: Asked, book: Logbook, subject: Subject) -> Cast:
    if len(asked.sources) > 1:
        raise InputError("virtual clips are worn by somebody who does not exist, so they are recorded alone.")
    _, _, rest = way.partition(":")
    places: Sequence[str] = rest.split(",") if rest else PLACES[:6]
    try:
        source = virtual_person.virtual_person(places, subject.setups, asked.speed)
    except ValueError as error:
        raise InputError(f"--source {way}: {error}.") from error
    setups = virtual_person.measured(subject.setups, source.drummer.throne)
    person = subject.participant
    if person.id not in book.participant_ids():
        person = virtual_person.with_lengths(person)
    worn = {clip: place for place, clip in source.identities.items()}
    notes = (virtual_person.NOBODY,)
    return Cast(
        replace(subject, participant=person, setups=setups, notes=notes), [source], worn, VirtualFollower(source), notes
    )


def _say(asked: Asked, outcome: Outcome) -> None:
    kept = outcome.kept
    if kept is None:
        print("Nothing was recorded.", file=sys.stderr)
        return
    print(kept.sentence, file=sys.stderr)
    for problem in kept.problems:
        print(f"Note: {problem}", file=sys.stderr)
    print(f"Next: footroom analyze {kept.session_id} --logbook {asked.logbook}", file=sys.stderr)
    print(kept.session_id)
