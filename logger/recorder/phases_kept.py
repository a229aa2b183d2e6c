"""From the journal of a recording to the phases, set-ups and warnings of its session. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from pydantic import ValidationError

from ..models import FELT, Phase, Setup, place_words, tells_alone
from .journal import Entry, ReadJournal
from .kept import duration


@dataclass
class _Marked:
    """A phase as it was marked, in host time [s]."""

    what: dict[str, Any]
    start_s: float
    end_s: float | None = None
    dropped: bool = False


@dataclass
class Marks:
    """phases : on the session's time. warnings : what could not be used, a sentence each."""

    phases: list[Phase] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)


def phases_of(journal: ReadJournal, zero_s: float, span: tuple[float, float]) -> Marks:
    """The phases that count.

    zero_s : host time of the session's zero [s]. span : of the samples, in host time [s]: a phase that was never ended
    ends with them, and none reaches beyond.
    """
    marks = Marks()
    for mark in _marked(journal.entries):
        if mark.dropped:
            continue
        start, end = max(mark.start_s, span[0]), min(span[1] if mark.end_s is None else mark.end_s, span[1])
        if end <= start:
            marks.warnings.append(f"nothing was recorded in the phase {mark.what.get('phase')}; it is left out.")
            continue
        what = {key: value for key, value in mark.what.items() if key != "phase"}
        times = {"start_s": round(start - zero_s, 4), "end_s": round(end - zero_s, 4)}
        try:
            marks.phases.append(Phase.model_validate({"name": mark.what.get("phase"), **times, **what}))
        except ValidationError:
            marks.warnings.append(f"the phase {mark.what.get('phase')} was marked with values that are none: left out.")
    if journal.lost:
        marks.warnings.append(
            f"the recording's journal is damaged (lines lost: {journal.lost}); phases may be missing or too long."
        )
    if not any(phase.name == "playing" or tells_alone(phase.name) for phase in marks.phases):
        marks.warnings.append("no playing was recorded.")
    return marks


def _marked(entries: Sequence[Entry]) -> list[_Marked]:
    found: list[_Marked] = []
    for entry in entries:
        runs = found[-1] if found and found[-1].end_s is None else None
        if entry.kind in ("begin", "end") and runs is not None:
            runs.end_s = entry.at_s
        if entry.kind == "begin":
            found.append(_Marked(entry.what, entry.at_s))
        elif entry.kind == "drop":
            last = next((mark for mark in reversed(found) if not mark.dropped), None)
            if last is not None:
                last.dropped = True
    return found


def setups_with_felt(setups: Sequence[Setup], journal: ReadJournal) -> list[Setup]:
    """The set-ups, with what was said of them (remarks of kind `felt`, with the keys `FELT`); the last word counts."""
    said: dict[str, dict[str, Any]] = {}
    for entry in journal.of("remark"):
        if entry.what["remark"] == "felt":
            what = entry.what["said"]
            said.setdefault(str(what.get("setup")), {}).update({key: what[key] for key in FELT if key in what})
    found = []
    for setup in setups:
        try:
            found.append(Setup.model_validate({**setup.model_dump(), **said.get(setup.name, {})}))
        except ValidationError:
            found.append(setup)
    return found


def said_pain(journal: ReadJournal, zero_s: float) -> list[str]:
    """A sentence for each time pain was said."""
    found = []
    for entry in journal.of("remark"):
        if entry.what["remark"] == "pain":
            what = [
                place_words(str(entry.what["said"][key]))
                for key in ("side", "phase", "motion")
                if key in entry.what["said"]
            ]
            where = f" ({', '.join(what)})" if what else ""
            found.append(f"pain was said at {duration(max(0.0, entry.at_s - zero_s))}{where}.")
    return found
