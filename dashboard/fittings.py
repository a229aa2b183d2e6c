"""What the pages of a fitting read of one person, and fittings kept at hand while a slider moves.

A page reads the logbook once; a slider asks for the same fitting many times a second, so the last few are kept until
what they were made of changes.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from functools import cached_property, lru_cache
from pathlib import Path
from typing import Any

from ..analysis.fitting import Fitting, gather, pick_setup
from ..analysis.settings import parameters_of
from ..logger.models import Participant, Session, Setup
from ..logger.person_notes import PersonNotes, known_setups
from .store import Store

KEPT = 8


@dataclass(frozen=True)
class Known:
    """A person with all their sessions, figures and notes. exposures : {session id: exposure.json}."""

    person: Participant
    sessions: Sequence[Session]
    exposures: Mapping[str, Mapping[str, Any]]
    notes: PersonNotes
    settings: Mapping[str, Any]

    @cached_property
    def setups(self) -> dict[str, tuple[datetime, Setup]]:
        """The last version of every set-up, by name, in order of time."""
        return known_setups(self.sessions, self.notes)

    def fitting(self, name: str | None = None) -> Fitting:
        """The person on a set-up; None takes the chosen one. Raises InputError where there is none, or it cannot be."""
        zones = parameters_of(self.settings).zone_deg
        chosen = pick_setup(self.setups, name)
        return gather(self.person, chosen, self.sessions, self.exposures, self.notes, zones=zones)


def read_known(store: Store, participant: str) -> Known:
    """Everything about one person. Raises NotInLogbook, LogbookError."""
    entries = store.entries(participant)
    return Known(
        person=store.person(participant),
        sessions=[entry.session for entry in entries],
        exposures={entry.session.id: entry.exposure for entry in entries if entry.exposure is not None},
        notes=store.notes(participant),
        settings=store.settings(),
    )


@dataclass
class Fittings:
    """The fittings looked at last, by person and set-up. Safe to use from several threads."""

    store: Store
    _kept: OrderedDict[tuple[str, str], tuple[str, Fitting]] = field(default_factory=OrderedDict)
    _guard: threading.Lock = field(default_factory=threading.Lock)

    def get(self, participant: str, setup: str) -> Fitting:
        """The fitting as the logbook has it now. Raises what `Known.fitting` does."""
        key, stamp = (participant, setup), self._stamp(participant)
        with self._guard:
            found = self._kept.get(key)
            if found is not None and found[0] == stamp:
                self._kept.move_to_end(key)
                return found[1]
        return self._keep(read_known(self.store, participant).fitting(setup), stamp)

    def of(self, known: Known, setup: str | None) -> Fitting:
        """The fitting of a person who was just read, kept for the sliders that follow; None takes the chosen set-up."""
        return self._keep(known.fitting(setup), self._stamp(known.person.id))

    def _keep(self, fitting: Fitting, stamp: str) -> Fitting:
        with self._guard:
            self._kept[fitting.person.id, fitting.setup.name] = (stamp, fitting)
            while len(self._kept) > KEPT:
                self._kept.popitem(last=False)
        return fitting

    def _stamp(self, participant: str) -> str:
        """Changes with the notes, the person's lengths, the settings, and sessions that come, go or are analysed."""
        root = self.store.path
        paths = [root / "logbook.toml"]
        paths += [root / "participants" / f"{participant}{end}" for end in (".json", ".notes.json")]
        paths += sorted((root / "sessions").glob(f"{participant}*/derived/exposure.json"))
        return " ".join(f"{path.parent.parent.name} {_changed(path)}" for path in paths)


@lru_cache(maxsize=4)
def fittings_at(path: Path) -> Fittings:
    """The fittings kept at hand for the logbook at `path`. Raises LogbookError if there is none."""
    return Fittings(Store(path))


def _changed(path: Path) -> int:
    try:
        return path.stat().st_mtime_ns
    except OSError:
        return 0
