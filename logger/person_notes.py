"""What is noted about a person outside recordings: set-ups as tried, and ranges measured by hand. One file a person.

`participants/ID.notes.json`, in order of time; nothing is overwritten, so the history of what was changed is kept.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from pathlib import Path
from statistics import fmean
from typing import Any, Literal

from pydantic import AwareDatetime, Field, ValidationError

from . import files
from .errors import InputError
from .json_files import read_json, validated
from .locks import locked, writing
from .logbook import Logbook
from .models import FELT, SCHEMA_VERSION, FootPlace, Identifier, Model, Session, Setup, Side

Instrument = Literal["goniometer", "inclinometer", "phone", "other"]


class NotedSetup(Model):
    """A set-up as measured at a time."""

    recorded_at: AwareDatetime
    setup: Setup


class NotedRange(Model):
    """The repetitions of one motion, measured by hand: kept ones in order, practice ones left out. In degrees."""

    recorded_at: AwareDatetime
    side: Side
    motion: str
    repetitions_deg: list[float] = Field(min_length=1, max_length=20)
    instrument: Instrument = "goniometer"
    footwear: str | None = None
    throne_height_cm: float | None = None
    pain_0_10: float | None = Field(default=None, ge=0, le=10)
    note: str | None = None


class PersonNotes(Model):
    """All notes about one person."""

    schema_version: int = SCHEMA_VERSION
    participant: Identifier
    setups: list[NotedSetup] = Field(default_factory=list)
    ranges: list[NotedRange] = Field(default_factory=list)

    def latest(self) -> dict[str, NotedSetup]:
        """The last version of every set-up, by name, in order of time."""
        found: dict[str, NotedSetup] = {}
        for one in self.setups:
            found.pop(one.setup.name, None)
            found[one.setup.name] = one
        return found

    def history(self, name: str, sessions: Sequence[Session] = ()) -> list[tuple[datetime, dict[str, tuple[Any, Any]]]]:
        """What was changed about one set-up, and when: [(time, {key: (before, after)})]; first all it began with.

        sessions : recordings on it count as well; one on which nothing had changed is left out.
        """
        versions = [(one.recorded_at, one.setup, False) for one in self.setups]
        versions += [(session.recorded_at, setup, True) for session in sessions for setup in session.setups]
        before: dict[str, Any] = {}
        found: list[tuple[datetime, dict[str, tuple[Any, Any]]]] = []
        for when, setup, recorded in sorted(versions, key=lambda one: one[0]):
            if setup.name != name:
                continue
            now = flat(setup)
            keys = [key for key in {**before, **now} if before.get(key) != now.get(key) and key != "name"]
            if keys or not recorded:
                found.append((when, {key: (before.get(key), now.get(key)) for key in keys}))
            before = now
        return found


def mean_of_last_three(repetitions_deg: Sequence[float]) -> float:
    """The end of active range from kept repetitions in order [deg]."""
    return fmean(repetitions_deg[-3:])


def known_setups(sessions: Sequence[Session], notes: PersonNotes) -> dict[str, tuple[datetime, Setup]]:
    """The last version of every set-up, by name, in order of time."""
    every = [(session.recorded_at, setup) for session in sessions for setup in session.setups]
    every += [(noted.recorded_at, noted.setup) for noted in notes.setups]
    found: dict[str, tuple[datetime, Setup]] = {}
    for when, setup in sorted(every, key=lambda one: one[0]):
        found.pop(setup.name, None)
        found[setup.name] = (when, setup)
    return found


def felt_by_hand(sessions: Sequence[Session], notes: PersonNotes) -> list[Setup]:
    """How set-ups felt as typed apart from recordings, in order of time: each with its height and only what was new.

    What is typed again before the set-up was played on again, at the same height, corrects what was typed before.
    """
    versions = [(session.recorded_at, setup, False) for session in sessions for setup in session.setups]
    versions += [(noted.recorded_at, noted.setup, True) for noted in notes.setups]
    before: dict[str, Setup] = {}
    said: dict[tuple[str, float | None], Setup] = {}
    found: list[Setup] = []
    for _, setup, typed in sorted(versions, key=lambda one: one[0]):
        last, place = before.get(setup.name), (setup.name, setup.seat_height_cm)
        before[setup.name] = setup
        if not typed:
            said.pop(place, None)
            continue
        new = {key: getattr(setup, key) for key in FELT if getattr(setup, key) != getattr(last, key, None)}
        if new and place not in said:
            said[place] = Setup(name=setup.name, throne_height_cm=setup.seat_height_cm)
            found.append(said[place])
        for key, value in new.items():
            setattr(said[place], key, value)
    return found


def flat(setup: Setup) -> dict[str, Any]:
    """What is known of a set-up, one foot's values as `right.reach_cm`."""
    data = setup.model_dump(mode="json", exclude_none=True, exclude_defaults=True)
    for side in ("right", "left"):
        data |= {f"{side}.{key}": value for key, value in (data.pop(side, None) or {}).items()}
    return data


def notes_path(logbook: Logbook, participant: str) -> Path:
    """Where a person's notes lie."""
    return logbook.path / "participants" / f"{participant}.notes.json"


def read_notes(logbook: Logbook, participant: str) -> PersonNotes:
    """The notes about a person, empty when nothing was noted. Raises LogbookError when the file is damaged."""
    path = notes_path(logbook, participant)
    if not path.is_file():
        return PersonNotes(participant=participant)
    return validated(PersonNotes, read_json(path), path)


def note_setup(logbook: Logbook, participant: str, noted: NotedSetup) -> None:
    """Add a set-up to a person's notes, in one step. Raises LogbookBusy, LogbookError."""
    _add(logbook, participant, setups=[noted])


def note_ranges(logbook: Logbook, participant: str, noted: list[NotedRange]) -> None:
    """Add measured ranges to a person's notes, in one step. Raises LogbookBusy, LogbookError."""
    _add(logbook, participant, ranges=noted)


def _add(logbook: Logbook, participant: str, **more: list[Any]) -> None:
    with locked(logbook.path, f"notes-{participant}"[:64], 10.0, f"the notes about {participant}"):
        notes = read_notes(logbook, participant)
        data = notes.model_copy(update={key: [*getattr(notes, key), *items] for key, items in more.items()})
        with writing(logbook.path):
            files.write_json(notes_path(logbook, participant), data.model_dump(mode="json", exclude_none=True))


def changed_setup(name: str, before: Setup | None, values: Mapping[str, str]) -> Setup:
    """A set-up with typed values laid over what was known, `right.reach_cm` for one foot alone; `-` forgets a value.

    `keep_clear.NAME` is a drum or stand: forward, right, diameter, top and, if given, bottom, with commas [cm].

    Raises InputError for a key or value that cannot be used, with the nearest known key.
    """
    from .import_values import close_to, refusal_of_typed

    data: dict[str, Any] = {"name": name} if before is None else before.model_dump(exclude_none=True)
    data["name"] = name
    for key, text in values.items():
        if key.startswith(_THING):
            data["keep_clear"] = _with_thing(data.get("keep_clear", []), key.removeprefix(_THING).strip(), text)
            continue
        side, _, inner = key.rpartition(".")
        fields = FootPlace.model_fields if side else Setup.model_fields
        measures = [field for field in fields if field not in ("name", "right", "left", "keep_clear")]
        if side not in ("", "right", "left") or inner not in measures:
            raise InputError(f"`{key}` is nothing that a set-up has{close_to(inner, measures)}; see docs/import.md.")
        place = data.setdefault(side, {}) if side else data
        if text.strip() == "-":
            place.pop(inner, None)
            continue
        place[inner] = text.strip()
    try:
        return Setup.model_validate(data)
    except ValidationError as error:
        raise InputError(refusal_of_typed(error, (Setup, FootPlace), "reach_cm=44")) from None


_THING = "keep_clear."
_PLACE = ("forward_cm", "right_cm", "diameter_cm", "top_cm", "bottom_cm")


def _with_thing(there: list[dict[str, Any]], name: str, text: str) -> list[dict[str, Any]]:
    """The things to keep clear of, with one laid over or, for `-`, gone. Raises InputError for what is no place."""
    if not name:
        raise InputError("`keep_clear.` says no name; write keep_clear.NAME=FORWARD,RIGHT,DIAMETER,TOP in cm.")
    others = [thing for thing in there if thing["name"] != name]
    if text.strip() == "-":
        return others
    parts = [part.strip() for part in text.split(",")]
    if not 4 <= len(parts) <= len(_PLACE):
        raise InputError(
            f"`keep_clear.{name}` = {text!r}: give forward, right, diameter, top and, if you like, bottom, in cm, with "
            "commas, such as 30,45,40,60."
        )
    wrong = next((part for part in parts if _number(part) is None), None)
    if wrong is not None:
        raise InputError(f"`keep_clear.{name}`: {wrong!r} is no number; give cm, such as 30,45,40,60.")
    return [*others, {"name": name, **dict(zip(_PLACE, map(float, parts), strict=False))}]


def _number(value: Any) -> float | None:
    try:
        return float(value)
    except (TypeError, ValueError):
        return None
