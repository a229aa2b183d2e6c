"""What `footroom analyze` and `footroom compare` do; `dashboard.command` assembles the command."""

from __future__ import annotations

import json as json_text
import logging
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from ..logger.errors import FootroomError, InputError, system_sentence
from ..logger.logbook import Logbook
from ..logger.models import Session

log = logging.getLogger(__name__)


SOME_FAILED = 1


def analyze_command(logbook: Path, sessions: Sequence[str] = (), *, force: bool = False, jobs: int = 1) -> int:
    """Analyse the named sessions, or all; one line each on stdout. Returns the exit status.

    0: all done or unchanged; 1: some failed, each named on stderr, and the others are done. When none could be done
    the error of the first is raised. Raises NotInLogbook before any work when a named session does not exist, and
    InputError when a setting cannot be used.
    """
    from rich.console import Console

    from .pipeline import analyze_session, read_exposure

    book = Logbook(logbook)
    for name in sessions:
        book.session_folder(name)
    book.settings()  # an unusable setting is said once, not once a session
    names = list(dict.fromkeys(sessions)) or book.session_ids()
    failed: list[FootroomError | OSError] = []
    problems = [] if sessions else book.problems()
    for problem in problems:
        log.error("%s", problem)
    if not names and not problems:
        raise InputError(
            f"{logbook} holds no session yet; bring one in with `footroom import FOLDER --logbook {logbook}`."
        )
    console = Console(stderr=True, highlight=False)
    done = 0
    for number, name in enumerate(names, start=1):
        try:
            with console.status(f"Analysing {name} ({number} of {len(names)})"):
                fresh = analyze_session(book, name, force=force, jobs=jobs)
        except (FootroomError, OSError) as error:  # a lost file spoils its session, not the others
            failed.append(error)
            if len(names) > 1:
                log.error("%s: %s", name, error if isinstance(error, FootroomError) else system_sentence(error))
            continue
        done += 1
        print(_line(name, fresh, read_exposure(book, name)), flush=True)
    if failed and not done:
        raise failed[0]
    return SOME_FAILED if failed or problems else 0


def _line(name: str, fresh: bool, exposure: dict[str, Any] | None) -> str:
    """One line about an analysed session."""
    quality = (exposure or {}).get("quality", {})
    notes = [
        f"{len(quality.get(key, []))} {word}"
        for key, word in (("slips", "slip(s)"), ("gaps", "gap(s)"), ("withheld", "withheld"), ("messages", "note(s)"))
        if quality.get(key)
    ]
    return f"{name}: {'analysed' if fresh else 'unchanged'}" + (f" - {', '.join(notes)}" if notes else "")


def compare_command(logbook: Path, participant: str, json: bool = False, *, mixed: bool = False) -> None:
    """Print how the set-ups of one participant differ: text, or with `json` strict JSON, on stdout.

    mixed: compare also sessions of other footwear, exercise or throne height of a reused name. Sessions that were not
    analysed are left out and named in the log. Not enough data is an answer, not an error.
    Raises NotInLogbook for an unknown participant; InputError when there are not two set-ups, or nothing was analysed.
    """
    from ..logger.person_notes import felt_by_hand, read_notes
    from .comparison import compare_participant
    from .pipeline import read_exposure
    from .standing import stands_out

    book = Logbook(logbook)
    sessions = [book.session(session_id) for session_id in book.session_ids(participant)]
    if not sessions:
        book.participant(participant)
        raise InputError(f"{participant} has no session in {logbook} yet; bring one in with `footroom import`.")
    for problem in book.problems():
        log.warning("left out: %s", problem)
    _need_two_setups(participant, sessions)
    found = [read_exposure(book, session.id) for session in sessions]
    exposures = [exposure for exposure in found if exposure is not None]
    if not exposures:
        raise InputError(
            f"no session of {participant} in {logbook} is analysed yet; run `footroom analyze --logbook {logbook}`."
        )
    missing = [session.id for session in sessions if session.id not in {str(e["session"]) for e in exposures}]
    if missing:
        log.warning("left out, not analysed yet (run `footroom analyze`): %s", ", ".join(missing))
    typed = felt_by_hand(sessions, read_notes(book, participant))
    rows = compare_participant(exposures, sessions, mixed=mixed, typed=typed)
    standing = stands_out(rows)
    if json:
        answer = {"participant": participant, "pairs": rows, "stands_out": standing}
        sys.stdout.write(json_text.dumps(answer, allow_nan=False, indent=1) + "\n")
        return
    if not rows:
        log.warning(
            "no motion is known on two set-ups of %s for long enough (half a block, 30 s unless you set block_s); play "
            "longer on each, or see what was withheld on the session's page.",
            participant,
        )
    from rich.console import Console

    from .compare_table import print_comparisons

    print_comparisons(participant, rows, standing, Console(file=sys.stdout, highlight=False))


def _need_two_setups(participant: str, sessions: list[Session]) -> None:
    from .setups import variants

    found = variants(sessions)
    if len(found) < 2:
        raise InputError(
            f"{participant} has played on one set-up only ({found[0].label}), so there is nothing to compare; record a "
            "second set-up, best in the same session."
        )
