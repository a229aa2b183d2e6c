"""Whose recording it is, on which set-ups, wearing what: from the logbook and what was typed to an `About`."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from ..errors import InputError
from ..logbook import Logbook
from ..models import (
    FELT,
    MAX_PARTICIPANT_ID,
    PLACES,
    Participant,
    Session,
    Setup,
    Side,
    is_identifier,
    is_label,
    place_words,
)
from ..person_notes import NotedRange, known_setups, mean_of_last_three, read_notes
from ..worn import read_worn, wear
from .about import About
from .checks import refuse_unknown

NEW = "--new lets it begin here."


@dataclass(frozen=True)
class Subject:
    """What the logbook knows.

    setups : by name, in the order typed. notes : sentences about what is not known. typed_range_deg : ends measured by
    hand since the last range check with clips.
    """

    participant: Participant
    setups: dict[str, Setup]
    notes: tuple[str, ...]
    typed_range_deg: dict[Side, dict[str, float]] = field(default_factory=dict)


def subject_of(book: Logbook, participant: str, setups: Sequence[str], new: bool = False) -> Subject:
    """The person and the set-ups as the logbook knows them.

    new : names that are not known may begin here; so may the first ones of a logbook, or of a person. Raises InputError
    for a name that is none or not known.
    """
    if not is_identifier(participant) or len(participant) > MAX_PARTICIPANT_ID:
        raise InputError(
            f"{participant!r} cannot name a participant; use a pseudonym of a-z, 0-9 and -, such as p01, at most "
            f"{MAX_PARTICIPANT_ID} long."
        )
    for name in setups:
        if not is_label(name):
            raise InputError(f"{name!r} cannot name a set-up; use 1 to 64 printable characters without slashes.")
    people = book.participant_ids()
    if not new:
        refuse_unknown("the participant", participant, people, NEW)
    person = book.participant(participant) if participant in people else Participant(id=participant)
    sessions, noted = book.sessions(participant), read_notes(book, participant)
    known = {name: setup for name, (_, setup) in known_setups(sessions, noted).items()}
    found: dict[str, Setup] = {}
    for name in dict.fromkeys(setups):
        if not new:
            remedy = f"{NEW} `footroom setup` notes what was measured on it."
            refuse_unknown(f"of {participant}, the set-up", name, known, remedy)
        found[name] = as_played(known[name]) if name in known else Setup(name=name)
    unmeasured = [name for name, setup in found.items() if setup.reach_cm is None and setup.right is None]
    notes = []
    if unmeasured:
        those = " and ".join(repr(name) for name in unmeasured)
        notes.append(
            f"Nothing is known yet of where the pedals stand on {those}; the ankles need no tape, the hips do: "
            "`footroom setup NAME reach_cm=.. spacing_cm=..` first; a recording keeps what it began with."
        )
    return Subject(person, found, tuple(notes), ends_by_hand(noted.ranges, sessions))


def ends_by_hand(noted: Sequence[NotedRange], sessions: Sequence[Session]) -> dict[Side, dict[str, float]]:
    """Ends measured by hand, mean of the last three kept repetitions [deg], newer than the last check with clips."""
    checks = [one.recorded_at for one in sessions if any(phase.name.startswith("range_") for phase in one.phases)]
    found: dict[Side, dict[str, float]] = {}
    for one in sorted(noted, key=lambda one: one.recorded_at):
        if not checks or one.recorded_at > max(checks):
            found.setdefault(one.side, {})[one.motion] = mean_of_last_three(one.repetitions_deg)
    return found


def as_played(setup: Setup) -> Setup:
    """A set-up without what was felt on it another time."""
    return setup.model_copy(update=dict.fromkeys(FELT))


def worn_by(book: Logbook, participant: str) -> dict[str, str]:
    """{clip id: place} as the logbook remembers it, foot before shank before thigh, right before left."""
    places = read_worn(book.path).places(participant)
    order = {place: number for number, place in enumerate(PLACES)}
    return dict(sorted(places.items(), key=lambda item: order.get(item[1], len(order))))


def about_of(subject: Subject, worn: Mapping[str, str], note: str | None, source: Mapping[str, str]) -> About:
    """What the recording is of. Raises InputError when two clips have one place."""
    twice = sorted({place for place in worn.values() if list(worn.values()).count(place) > 1})
    if twice:
        raise InputError(
            f"two clips have the place {place_words(twice[0])}; take one off with `footroom clips take-off CLIP`."
        )
    return About(
        participant=subject.participant,
        setups=list(subject.setups.values()),
        worn=dict(worn),
        note=note,
        typed_range_deg=subject.typed_range_deg,
        source=dict(source),
    )


def exchange(book: Logbook, participant: str, pairs: Sequence[tuple[str, str]]) -> None:
    """Let the clips of each pair of places change places in the logbook, where each was noted."""
    own = {worn.clip for worn in read_worn(book.path).clips if worn.participant == participant}
    clip_at = {place: clip for clip, place in worn_by(book, participant).items()}
    for first, second in pairs:
        for clip, place in ((clip_at.get(first), second), (clip_at.get(second), first)):
            if clip is not None:
                side, _, segment = place.rpartition("_")
                wear(book.path, clip, segment, side or None, participant if clip in own else None)
