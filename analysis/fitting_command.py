"""What `footroom setup`, `footroom placement` and `footroom range` do; `dashboard.command` assembles the command."""

from __future__ import annotations

import json as json_text
import logging
import sys
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from ..logger.errors import InputError, NotInLogbook
from ..logger.logbook import Logbook
from ..logger.models import SIDES, Participant, Session, Setup
from ..logger.person_notes import (
    NotedRange,
    NotedSetup,
    PersonNotes,
    changed_setup,
    flat,
    known_setups,
    note_ranges,
    note_setup,
    read_notes,
)
from ..logger.setup_checks import check_setup

log = logging.getLogger(__name__)


def _write(data: dict[str, Any]) -> None:
    sys.stdout.write(json_text.dumps(data, allow_nan=False, indent=1) + "\n")


def pairs(values: Sequence[str], what: str) -> dict[str, str]:
    """`KEY=VALUE` words as a dictionary. Raises InputError for a word without an equals sign."""
    found: dict[str, str] = {}
    for word in values:
        key, equals, value = word.partition("=")
        if not equals or not key.strip():
            raise InputError(f"{word!r} is no {what}; write KEY=VALUE, such as reach_cm=44.")
        found[key.strip()] = value.strip()
    return found


def person_of(book: Logbook, participant: str, lengths: dict[str, str]) -> Participant:
    """A person as the logbook knows them, with typed lengths laid over; new people need a length.

    Raises InputError for a length that cannot be used, NotInLogbook for an unknown person without any.
    """
    from pydantic import ValidationError

    try:
        known = book.participant(participant).model_dump(exclude_none=True)
    except NotInLogbook:
        if not lengths:
            raise
        known = {"id": participant}
    for key in lengths:
        if key not in Participant.model_fields or key == "id":
            choice = ", ".join(name for name in Participant.model_fields if name != "id")
            raise InputError(f"`{key}` is nothing known of a person; use one of {choice}.")
    try:
        return Participant.model_validate({**known, **lengths})
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        key = ".".join(str(part) for part in first["loc"])
        raise InputError(f"`{key}` = {first.get('input')!s:.40} cannot be used ({first['msg'].lower()}).") from None


def setup_command(
    logbook: Path,
    participant: str,
    name: str | None = None,
    values: Sequence[str] = (),
    lengths: Sequence[str] = (),
    *,
    json: bool = False,
) -> None:
    """Note a set-up (with `values`) or show the known ones with the history of what was changed.

    Everything is checked before anything is stored. Raises InputError, NotInLogbook, LogbookError.
    """
    from .fitting import pick_setup

    book = Logbook.open(logbook, create=bool(values or lengths))
    person = person_of(book, participant, pairs(lengths, "length"))
    notes = read_notes(book, person.id)
    typed = pairs(values, "value")
    if (typed and name is None) or (name is not None and "=" in name):
        raise InputError("say which set-up: a name before the values, such as `footroom setup near reach_cm=44`.")
    sessions = book.sessions(person.id)
    known = known_setups(sessions, notes)
    if typed and name is not None:
        before = known[name][1] if name in known else None
        setup = changed_setup(name, before, typed)
        unusual = check_setup(person, setup)
        other = _other_height(before, setup)
        if other and "throne_settled" not in typed:
            setup = setup.model_copy(update={"throne_settled": None})
        unusual += other + _too_early(setup, typed, known)
        _predictable(person, setup)
        if lengths:
            book.save_participant(person)
        note_setup(book, person.id, NotedSetup(recorded_at=datetime.now(UTC), setup=setup))
        notes = read_notes(book, person.id)
        shown = {name: setup}
    else:
        shown = {n: s for n, (_, s) in known.items()} if name is None else {name: pick_setup(known, name)}
        unusual = []
        for setup in shown.values():
            unusual += [finding.sentence for finding in _findings(person, setup)]
        if lengths:
            book.save_participant(person)
    report = {
        "participant": person.id,
        "setups": [_setup_json(person, setup, notes, sessions) for setup in shown.values()],
        "warnings": unusual,
    }
    if json:
        _write(report)
        return
    _print_setups(report)


def _findings(person: Participant, setup: Setup) -> list[Any]:
    from ..logger.setup_checks import setup_findings

    return setup_findings(person, setup)


def _other_height(before: Setup | None, now: Setup) -> list[str]:
    from .setups import SAME_THRONE_CM

    if before is None or before.seat_height_cm is None or now.seat_height_cm is None:
        return []
    if abs(now.seat_height_cm - before.seat_height_cm) <= SAME_THRONE_CM:
        return []
    return [
        f"the throne is {now.seat_height_cm - before.seat_height_cm:+.0f} cm from before: earlier range checks and "
        "set-ups count as another height; check the range again and settle the height first"
    ]


def _too_early(setup: Setup, typed: dict[str, str], known: Mapping[str, tuple[datetime, Setup]]) -> list[str]:
    """The order coaches work in, said kindly: a pedal that moves before the throne's height is settled."""
    from .fitting import is_settled

    pedals = {"reach_cm", "spacing_cm", "footboard_pitch_deg"} & {key.rpartition(".")[2] for key in typed}
    if not pedals or setup.seat_height_cm is None or is_settled(setup, known):
        return []
    return [
        "the throne height is not settled yet; noted all the same. Settle it first (thigh slope, balance 0-10), then "
        f"`footroom setup {setup.name} throne_settled=true`: a change of height moves every joint"
    ]


def _predictable(person: Participant, setup: Setup) -> dict[str, Any] | None:
    """Angles at rest, for both feet that have a reach; None while the geometry is not complete.

    Raises InputError when the pedal is out of reach.
    """
    from .fit import fit_of
    from .fitting import feet_of
    from .placement_report import rounded
    from .seated_pose import degrees

    sides = feet_of(setup)
    lengths = person.stature_cm is not None or (person.thigh_length_cm and person.shank_length_cm)
    if not sides or setup.seat_height_cm is None or setup.spacing_cm is None or not lengths:
        return None
    fit = fit_of(person, setup, sides=sides)
    return {s: {name: rounded(float(v)) for name, v in degrees(fit.poses(s)["rest"]).items()} for s in sides}


def _setup_json(person: Participant, setup: Setup, notes: PersonNotes, sessions: Sequence[Session]) -> dict[str, Any]:
    try:
        rest = _predictable(person, setup)
    except InputError as error:
        log.warning("%s", error)
        rest = None
    history = [
        {"recorded_at": when.isoformat(), "changed": {k: list(v) for k, v in changes.items()}}
        for when, changes in notes.history(setup.name, sessions)
    ]
    return {**flat(setup), "name": setup.name, "predicted_rest_deg": rest, "history": history}


def _print_setups(report: dict[str, Any]) -> None:
    from .placement_report import CAUTION

    if not report["setups"]:
        print(
            f"No set-up of {report['participant']} is known yet. Measure one and note it: footroom setup NAME KEY=VALUE"
        )
    for setup in report["setups"]:
        known = [
            f"{k} {v}" for k, v in setup.items() if k not in ("name", "predicted_rest_deg", "history", "keep_clear")
        ]
        print(f"{setup['name']}: {', '.join(known) or 'nothing measured yet'}")
        for thing in setup.get("keep_clear", ()):
            place = f"{thing['forward_cm']:g} cm ahead, {thing.get('right_cm', 0):g} cm to the right"
            print(f"  kept clear of: {thing['name']}, {place}, {thing['diameter_cm']:g} cm across")
        for side, angles in (setup["predicted_rest_deg"] or {}).items():
            print(
                f"  {side} leg at rest (model), deg: "
                + ", ".join(f"{name.replace('_', ' ')} {value:.0f}" for name, value in angles.items())
            )
        for entry in setup["history"]:
            changed = ", ".join(f"{k} {a} -> {b}" for k, (a, b) in entry["changed"].items())
            print(f"  {entry['recorded_at'][:16].replace('T', ' ')}: {changed or 'measured again'}")
    for warning in report["warnings"]:
        print(f"Note: {warning}")
    print(CAUTION)


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
    exposures = _exposures(book, sessions)
    zones = parameters_of(book.settings()).zone_deg
    way = None if heel_up is None else "heel-up" if heel_up else "heel-down"
    report = placement_report(gather(person, chosen, sessions, exposures, notes, zones=zones, way=way))
    report["notes"] += [sentence.rstrip(".") for sentence in unusual]
    if json:
        _write(report)
        return
    print_placement(report, Console(file=sys.stdout, highlight=False))


def _exposures(book: Logbook, sessions: Sequence[Session]) -> dict[str, dict[str, Any]]:
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

    values : kept repetitions in order, practice ones left out [deg]. method : how an end is formed from repetitions.
    The sheet holds recorded range checks as well. Everything is checked before anything is stored.
    Raises InputError, NotInLogbook, LogbookError.
    """
    from typing import cast, get_args

    from ..logger.person_notes import Instrument
    from .active_range import METHODS, Method
    from .fitting_reports import range_report
    from .range_sheet import summarise
    from .range_table import print_range_sheet

    if instrument not in get_args(Instrument):
        raise InputError(f"{instrument!r} is no instrument; use one of {', '.join(get_args(Instrument))}.")
    if method not in METHODS:
        raise InputError(f"{method!r} is no way to form an active end; use one of {', '.join(METHODS)}.")
    if throne_height_cm is not None and not 28 <= throne_height_cm <= 95:
        raise InputError(f"a throne height of {throne_height_cm:g} cm is outside 28 to 95; give it in cm, loaded.")
    typed = pairs(values, "range")
    book = Logbook.open(logbook, create=bool(typed or lengths))
    person = person_of(book, participant, pairs(lengths, "length") if lengths else {})
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
                    "instrument": instrument, "footwear": footwear, "throne_height_cm": throne_height_cm,
                    "pain_0_10": pain,
                }
            )
        )  # fmt: skip
    if lengths:
        book.save_participant(person)
    if noted:
        note_ranges(book, person.id, noted)
    sessions = book.sessions(person.id)
    report = range_report(
        person.id, sessions, _exposures(book, sessions), read_notes(book, person.id), method=cast(Method, method)
    )
    if json:
        _write(report)
        return
    print_range_sheet(report)
