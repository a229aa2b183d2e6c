"""What `footroom compare` does; `dashboard.command` assembles the command and turns errors into exit statuses."""

from __future__ import annotations

import json as json_text
import logging
import sys
from pathlib import Path
from typing import Any

from ..logger.errors import InputError
from ..logger.logbook import Logbook
from ..logger.models import Session

log = logging.getLogger(__name__)


def compare_command(logbook: Path, participant: str, json: bool = False) -> None:
    """Print how the set-ups of one participant differ: text, or with `json` strict JSON, on stdout.

    Sessions that were not analysed are left out and named in the log. Not enough data is an answer, not an error.
    Raises NotInLogbook for an unknown participant; InputError when there are not two set-ups, or nothing was analysed.
    """
    from .comparison import compare_participant

    book = Logbook(logbook)
    sessions = [book.session(session_id) for session_id in book.session_ids(participant)]
    if not sessions:
        book.participant(participant)
        raise InputError(f"{participant} has no session in {logbook} yet; bring one in with `footroom import`.")
    _need_two_setups(participant, sessions)
    exposures = read_exposures(book, sessions)
    if not exposures:
        raise InputError(
            f"no session of {participant} in {logbook} is analysed yet; run `footroom analyze --logbook {logbook}`."
        )
    missing = [session.id for session in sessions if session.id not in {str(e["session"]) for e in exposures}]
    if missing:
        log.warning("left out, not analysed yet (run `footroom analyze`): %s", ", ".join(missing))
    rows = compare_participant(exposures, sessions)
    if json:
        sys.stdout.write(json_text.dumps({"participant": participant, "pairs": rows}, allow_nan=False, indent=1) + "\n")
        return
    if not rows:
        log.warning("no motion is known on two set-ups of %s; see what was withheld on the session's page", participant)
    from rich.console import Console

    from .compare_table import print_comparisons

    print_comparisons(participant, rows, Console(file=sys.stdout, highlight=False))


def read_exposures(book: Logbook, sessions: list[Session]) -> list[dict[str, Any]]:
    """The parsed `derived/exposure.json` of the sessions that have one.

    Raises InputError when a file is damaged: it names the file and the command that makes it anew.
    """
    found: list[dict[str, Any]] = []
    for session in sessions:
        path = book.derived_folder(session.id) / "exposure.json"
        try:
            data = json_text.loads(path.read_text(encoding="utf-8"))
        except FileNotFoundError:
            continue
        except (OSError, ValueError) as error:
            raise InputError(f"cannot be read; run `footroom analyze {session.id} --force`.", path=path) from error
        if not isinstance(data, dict) or data.get("session") != session.id or not isinstance(data.get("setups"), dict):
            raise InputError(f"is not complete; run `footroom analyze {session.id} --force`.", path=path)
        found.append(data)
    return found


def _need_two_setups(participant: str, sessions: list[Session]) -> None:
    from .setups import variants

    found = variants(sessions)
    if len(found) < 2:
        raise InputError(
            f"{participant} has played on one set-up only ({found[0].label}), so there is nothing to compare; record a "
            "second set-up, best in the same session."
        )
