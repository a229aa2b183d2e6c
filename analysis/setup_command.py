"""What `footroom setup` does: note a set-up as measured, or show the known ones with what was changed."""

from __future__ import annotations

import logging
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..logger.errors import InputError
from ..logger.models import Participant, Session, Setup
from ..logger.person_notes import NotedSetup, PersonNotes, changed_setup, flat, known_setups, note_setup, read_notes
from ..logger.setup_checks import check_setup, setup_findings
from .fitting_command import analysed_exposures, opened, pairs, person_of, write_json
from .fitting_reports import throne_height_now
from .range_report import on_the_pedal
from .range_table import pedal_line
from .setups import other_height

if TYPE_CHECKING:
    from .fit import Fit

log = logging.getLogger(__name__)


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
    from .fit import slope_apart
    from .fitting import pick_setup

    with opened(logbook, create=bool(values or lengths)) as book:
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
            unusual += other + _too_early(setup, typed, known) + _settled_on(setup, typed)
            placed = _placed(person, setup)
            if placed is not None and (apart := slope_apart(placed, setup)):
                unusual.append(apart)
            if lengths:
                book.save_participant(person)
            note_setup(book, person.id, NotedSetup(recorded_at=datetime.now(UTC), setup=setup))
            notes = read_notes(book, person.id)
            shown = {name: setup}
        else:
            shown = {n: s for n, (_, s) in known.items()} if name is None else {name: pick_setup(known, name)}
            unusual = []
            for setup in shown.values():
                unusual += [finding.sentence for finding in setup_findings(person, setup)]
            if lengths:
                book.save_participant(person)
    exposures = analysed_exposures(book, sessions)
    report = {
        "participant": person.id,
        "throne_height_cm": throne_height_now(sessions, notes),
        "setups": [_setup_json(person, setup, notes, sessions, exposures) for setup in shown.values()],
        "warnings": unusual,
    }
    if json:
        write_json(report)
        return
    _print_setups(report)


def _other_height(before: Setup | None, now: Setup) -> list[str]:
    then_cm, now_cm = None if before is None else before.seat_height_cm, now.seat_height_cm
    if then_cm is None or now_cm is None or not other_height(then_cm, now_cm):
        return []
    return [
        f"the throne is {now_cm - then_cm:+.0f} cm from before: earlier range checks and "
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


def _settled_on(setup: Setup, typed: Mapping[str, str]) -> list[str]:
    """What a height that is marked settled rests on, where it was not noted."""
    if not setup.throne_settled or "throne_settled" not in typed:
        return []
    needed = {"throne_height_cm": setup.seat_height_cm, "thigh_slope_deg": setup.thigh_slope_deg,
              "balance_0_10": setup.balance_0_10}  # fmt: skip
    missing = [key for key, value in needed.items() if value is None]
    return [f"settled without {', '.join(missing)}: note what it was agreed on"] if missing else []


def _placed(person: Participant, setup: Setup) -> Fit | None:
    """The legs on the pedals, of the feet that have a reach; None while the geometry is not complete.

    Raises InputError when the pedal is out of reach.
    """
    from .fit import fit_of
    from .fitting import feet_of

    sides = feet_of(setup)
    lengths = person.stature_cm is not None or (person.thigh_length_cm and person.shank_length_cm)
    if not sides or setup.seat_height_cm is None or setup.spacing_cm is None or not lengths:
        return None
    return fit_of(person, setup, sides=sides)


def _rest_deg(fit: Fit | None) -> dict[str, Any] | None:
    """Angles at rest by foot [deg]."""
    from .placement_report import rounded
    from .seated_pose import degrees

    if fit is None:
        return None
    return {s: {name: rounded(float(v)) for name, v in degrees(fit.poses(s)["rest"]).items()} for s in fit.legs}


def _setup_json(
    person: Participant, setup: Setup, notes: PersonNotes, sessions: Sequence[Session], exposures: Mapping[str, Any]
) -> dict[str, Any]:
    try:
        rest = _rest_deg(_placed(person, setup))
    except InputError as error:
        log.warning("%s", error)
        rest = None
    history = [
        {"recorded_at": when.isoformat(), "changed": {k: list(v) for k, v in changes.items()}}
        for when, changes in notes.history(setup.name, sessions)
    ]
    height_cm = throne_height_now(sessions, notes)
    lifts = [one for one in on_the_pedal(sessions, exposures) if one["setup"] == setup.name]
    return {
        **flat(setup), "name": setup.name, "other_height": other_height(setup.seat_height_cm, height_cm),
        "predicted_rest_deg": rest, "history": history, "on_the_pedal": lifts,
    }  # fmt: skip


NOT_MEASURES = ("name", "other_height", "predicted_rest_deg", "history", "keep_clear", "on_the_pedal")


def _change(key: str, before: Any, after: Any) -> str:
    """`reach_cm 44`, `reach_cm 44 -> 46`, `throne_settled yes -> forgotten`."""
    texts = ["forgotten" if v is None else _plain(v) for v in (before, after)]
    return f"{key} {texts[1]}" if before is None else f"{key} {' -> '.join(texts)}"


def _plain(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return ", ".join(str(one.get("name", one)) if isinstance(one, dict) else str(one) for one in value) or "none"
    return f"{value:g}" if isinstance(value, float) else str(value)


def _print_setups(report: dict[str, Any]) -> None:
    from .placement_report import CAUTION

    if not report["setups"]:
        print(
            f"No set-up of {report['participant']} is known yet. Measure one and note it: footroom setup NAME KEY=VALUE"
        )
    for setup in report["setups"]:
        known = [_change(key, None, value) for key, value in setup.items() if key not in NOT_MEASURES]
        elsewhere = f" (other height: now {report['throne_height_cm']:g} cm)" if setup["other_height"] else ""
        print(f"{setup['name']}{elsewhere}: {', '.join(known) or 'nothing measured yet'}")
        for thing in setup.get("keep_clear", ()):
            place = f"{thing['forward_cm']:g} cm ahead, {thing.get('right_cm', 0):g} cm to the right"
            print(f"  kept clear of: {thing['name']}, {place}, {thing['diameter_cm']:g} cm across")
        for side, angles in (setup["predicted_rest_deg"] or {}).items():
            print(
                f"  {side} leg at rest (model), deg: "
                + ", ".join(f"{name.replace('_', ' ')} {round(value) + 0}" for name, value in angles.items())
            )
        for entry in setup["history"]:
            changed = ", ".join(_change(key, *values) for key, values in entry["changed"].items())
            print(f"  {entry['recorded_at'][:16].replace('T', ' ')}: {changed or 'measured again'}")
        for one in setup["on_the_pedal"]:
            print(f"  {pedal_line(one)}")
    for warning in report["warnings"]:
        print(f"Note: {warning}")
    print(CAUTION)
