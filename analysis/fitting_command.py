"""What `footroom placement` and `footroom range` do, and what the commands of a fitting share."""

from __future__ import annotations

import contextlib
import json as json_text
import logging
import sys
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from ..logger.errors import InputError, NotInLogbook
from ..logger.logbook import Logbook
from ..logger.models import SIDES, Participant, Session
from ..logger.new_logbook import check_place, undone_on_error
from ..logger.person_notes import (
    NotedRange,
    changed_setup,
    known_setups,
    note_ranges,
    read_notes,
)
from ..logger.setup_checks import check_setup, person_findings

log = logging.getLogger(__name__)


def write_json(data: dict[str, Any]) -> None:
    """Strict JSON on stdout."""
    sys.stdout.write(json_text.dumps(data, allow_nan=False, indent=1) + "\n")


def pairs(values: Sequence[str], what: str) -> dict[str, str]:
    """`KEY=VALUE` words as a dictionary. Raises InputError for a word without an equals sign, and a key typed twice."""
    found: dict[str, str] = {}
    for word in values:
        key, equals, value = word.partition("=")
        if not equals or not key.strip():
            raise InputError(f"{word!r} is no {what}; write KEY=VALUE, such as reach_cm=44.")
        if key.strip() in found:
            raise InputError(f"`{key.strip()}` is typed twice, as {found[key.strip()]} and {value.strip()}; keep one.")
        found[key.strip()] = value.strip()
    return found


@contextlib.contextmanager
def opened(path: Path, create: bool) -> Iterator[Logbook]:
    """The logbook at `path`; one that is made here vanishes again when what follows is refused."""
    if not create:
        yield Logbook.open(path)
        return
    check_place(path)
    with undone_on_error(path):
        yield Logbook.open(path, create=True)


def person_of(book: Logbook, participant: str, lengths: dict[str, str]) -> Participant:
    """A person as the logbook knows them, with typed lengths laid over; new people need a length.

    Raises InputError for lengths that cannot be used or do not belong to one person, NotInLogbook for an unknown
    person without any.
    """
    from pydantic import ValidationError

    from ..logger.import_values import refusal_of_typed

    try:
        known = book.participant(participant).model_dump(exclude_none=True)
    except NotInLogbook as error:
        if not lengths:
            new = "somebody new begins with a length, such as --person stature_cm=172"
            raise NotInLogbook(f"{str(error).rstrip('.')}; {new}.") from None
        known = {"id": participant}
    for key in lengths:
        if key not in Participant.model_fields or key == "id":
            choice = ", ".join(name for name in Participant.model_fields if name != "id")
            raise InputError(f"`{key}` is nothing known of a person; use one of {choice}.")
    try:
        person = Participant.model_validate({**known, **lengths})
    except ValidationError as error:
        raise InputError(refusal_of_typed(error, (Participant,), "stature_cm=172")) from None
    for finding in person_findings(person) if lengths else ():
        if finding.refuse:
            raise InputError(finding.sentence)
    return person


def placement_command(
    logbook: Path, participant: str, setup: str | None = None, *, heel_up: bool | None = None, json: bool = False
) -> None:
    """Where the pedals may stand for one person and throne height, and what to try next.

    heel_up : how it is played; None takes what was measured, else heel-down.
    Raises InputError when no set-up is known well enough, or its geometry cannot be.
    """
    from rich.console import Console

    from .fitting import gather, pick_setup
    from .placement_report import placement_report
    from .placement_table import print_placement
    from .settings import parameters_of

    book = Logbook.open(logbook)
    person = book.participant(participant)
    sessions = book.sessions(participant)
    notes = read_notes(book, participant)
    chosen = pick_setup(known_setups(sessions, notes), setup)
    unusual = check_setup(person, chosen)
    exposures = analysed_exposures(book, sessions)
    zones = parameters_of(book.settings()).zone_deg
    way = None if heel_up is None else "heel-up" if heel_up else "heel-down"
    report = placement_report(gather(person, chosen, sessions, exposures, notes, zones=zones, way=way))
    report["notes"] += [sentence.rstrip(".") for sentence in unusual]
    if json:
        write_json(report)
        return
    print_placement(report, Console(file=sys.stdout, highlight=False))


def analysed_exposures(book: Logbook, sessions: Sequence[Session]) -> dict[str, dict[str, Any]]:
    """{session id: exposure.json} of the analysed ones; the others are named in a warning."""
    from .pipeline import read_exposure

    found = {session.id: read_exposure(book, session.id) for session in sessions}
    missing = [name for name, exposure in found.items() if exposure is None]
    if missing:
        log.warning("left out, not analysed yet (run `footroom analyze`): %s", ", ".join(missing))
    return {name: exposure for name, exposure in found.items() if exposure is not None}


def range_command(
    logbook: Path,
    participant: str,
    values: Sequence[str] = (),
    lengths: Sequence[str] = (),
    *,
    instrument: str = "goniometer",
    footwear: str | None = None,
    throne_height_cm: float | None = None,
    pain: float | None = None,
    method: str = "mean_of_last_three",
    json: bool = False,
) -> None:
    """Note ranges measured by hand, `right.ankle_dorsiflexion=14,15,15.5`, or show the range sheet.

    values : kept repetitions in order, practice ones left out [deg]. throne_height_cm : None takes the one noted last,
    so that a later change of height marks the range. method : how an end is formed from repetitions.
    The sheet holds recorded range checks as well. Everything is checked before anything is stored.
    Raises InputError, NotInLogbook, LogbookError.
    """
    from typing import cast, get_args

    from ..logger.person_notes import Instrument
    from .active_range import METHODS, Method
    from .fitting_reports import range_report, throne_height_now
    from .range_sheet import summarise
    from .range_table import print_range_sheet

    if instrument not in get_args(Instrument):
        raise InputError(f"{instrument!r} is no instrument; use one of {', '.join(get_args(Instrument))}.")
    if method not in METHODS:
        raise InputError(f"{method!r} is no way to form an active end; use one of {', '.join(METHODS)}.")
    if throne_height_cm is not None:
        changed_setup("range", None, {"throne_height_cm": f"{throne_height_cm:g}"})
    typed = pairs(values, "range")
    if not typed and (pain, footwear, throne_height_cm) != (None, None, None):
        raise InputError(
            "there is no range to note pain, footwear or throne height with; add it, such as "
            "right.ankle_dorsiflexion=14,15,15.5."
        )
    with opened(logbook, create=bool(typed or lengths)) as book:
        person = person_of(book, participant, pairs(lengths, "length") if lengths else {})
        sessions = book.sessions(person.id)
        notes = read_notes(book, person.id)
        height = throne_height_now(sessions, notes) if throne_height_cm is None else throne_height_cm
        now = datetime.now(UTC)
        noted: list[NotedRange] = []
        for key, text in typed.items():
            side, _, motion = key.partition(".")
            if side not in SIDES:
                raise InputError(f"`{key}` says no side; write right.{motion or key}=... or left.{motion or key}=...")
            try:
                repetitions = [float(part) for part in text.replace(";", ",").split(",") if part.strip()]
            except ValueError:
                raise InputError(
                    f"`{key}`: {text!r} are no numbers; write degrees with commas, such as 14,15,15.5."
                ) from None
            summarise(side, motion, repetitions, pain=pain)
            noted.append(
                NotedRange.model_validate(
                    {
                        "recorded_at": now, "side": side, "motion": motion, "repetitions_deg": repetitions,
                        "instrument": instrument, "footwear": footwear, "throne_height_cm": height,
                        "pain_0_10": pain,
                    }
                )
            )  # fmt: skip
        if lengths:
            book.save_participant(person)
        if noted:
            note_ranges(book, person.id, noted)
    report = range_report(
        person.id,
        sessions,
        analysed_exposures(book, sessions),
        read_notes(book, person.id),
        method=cast(Method, method),
    )
    if json:
        write_json(report)
        return
    print_range_sheet(report)
