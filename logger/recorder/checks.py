"""Before and while recording: is all there that the plan needs, and if not, what to do? Pure; one sentence each."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from ..errors import InputError
from ..import_values import close_to
from ..models import SIDES, Side, place_words
from ..unit_checks import RATE_OFF_SHARE, SLOWEST_HZ
from .plan import legs_of
from .watch import ClipState

LOW_BATTERY_PERCENT = 20
"""Below this a recording does not begin by itself (ours: how long a charge lasts differs from clip to clip)."""
RESTLESS_RAD_S = 0.05
"""Above this a clip was not still (as the analysis takes it: 3 deg/s) [rad/s]."""
CLEARLY = 1.5
"""So much more must another clip turn than the one that should before they are called swapped (as the analysis)."""

Kind = Literal["not worn", "incomplete", "unheard", "silent", "battery", "rate", "fault", "stranger", "source"]


@dataclass(frozen=True)
class Finding:
    """Something to put right. stops : no recording begins with it; may : ... but with `--anyway`."""

    kind: Kind
    sentence: str
    stops: bool = True
    may: bool = False


def check_worn(worn: Iterable[str], participant: str, logbook: str) -> list[Finding]:
    """Whether the places with a clip are enough to know any joint; worn : names of places."""
    places = list(worn)
    legs = legs_of(places)
    if not legs:
        there = "only the pelvis has one" if places else "no clip has a place yet"
        return [
            Finding(
                "not worn",
                f"no clip is worn on a leg of {participant} as far as {logbook} knows ({there}); say who is where: "
                f"`footroom clips wear CLIP foot right --logbook {logbook}`, the shank and the other leg likewise. "
                "(`--source virtual` tries it without clips.)",
            )
        ]
    found = []
    for side in SIDES:
        segments = legs.get(side, {"shank", "foot"})
        missing = "shank" if "shank" not in segments else "foot" if len(segments) == 1 else None
        if missing is not None:
            there = " and ".join(sorted(segments))
            found.append(
                Finding(
                    "incomplete",
                    f"the {side} leg has a clip on the {there} and none on the {missing}, so no joint of it can be "
                    f"known; put one on and say `footroom clips wear CLIP {missing} {side} --logbook {logbook}`, or "
                    f"take the {there}'s off (`footroom clips take-off`).",
                    may=True,
                )
            )
    return found


def check_clips(
    states: Sequence[ClipState], strangers: Iterable[str] = (), troubles: Iterable[str] = (), anyway: bool = False
) -> list[Finding]:
    """Everything about the clips that are worn, those that stop the recording first.

    strangers : ids heard that are worn nowhere. troubles : what sources said. anyway : go on with what may be.
    """
    found = [finding for state in states for finding in _of_clip(state)]
    if any(finding.kind == "unheard" for finding in found):
        found += [Finding("source", trouble, stops=False) for trouble in troubles]
    for clip in sorted(strangers):
        found.append(
            Finding(
                "stranger",
                f"the clip {clip} is heard and worn nowhere: it is not recorded; `footroom clips wear {clip} SEGMENT "
                "SIDE` gives it a place.",
                stops=False,
            )
        )
    found = [Finding(one.kind, one.sentence, one.stops and not (anyway and one.may), one.may) for one in found]
    return sorted(found, key=lambda finding: not finding.stops)


def _of_clip(state: ClipState) -> list[Finding]:
    who = f"the {place_words(state.place)} ({state.clip})"
    if state.problem and not state.connected:
        return [Finding("unheard", f"{who} is not heard: {state.problem}", may=True)]
    if state.nominal_hz is None:
        return [Finding("unheard", f"{who} is not heard: switch the clip on and bring it near.", may=True)]
    if state.problem:
        return [Finding("source", state.problem)]
    found = []
    if state.fault:
        found.append(Finding("fault", f"{who}: its sensor does not answer; switch the clip off and on.", may=True))
    if state.silent:
        return [
            *found,
            Finding(
                "silent",
                f"{who} is linked but sends nothing: bring it nearer, take it off the charger, or switch it off and "
                "on.",
                may=True,
            ),
        ]
    if state.battery_percent is not None and state.battery_percent < LOW_BATTERY_PERCENT:
        found.append(
            Finding(
                "battery",
                f"{who} has {state.battery_percent} % of its charge left, and how many minutes that is is not known; "
                "charge it first, or go on with --anyway.",
                may=True,
            )
        )
    found += _rate(state, who)
    return found


def _rate(state: ClipState, who: str) -> list[Finding]:
    nominal, heard = state.nominal_hz, state.heard_hz
    if nominal is not None and nominal < SLOWEST_HZ:
        return [
            Finding(
                "rate",
                f"{who} takes {nominal:g} samples a second; fast strokes need {SLOWEST_HZ:g}. Set another rate in "
                "its firmware.",
                may=True,
            )
        ]
    if nominal is None or heard is None or abs(heard - nominal) <= RATE_OFF_SHARE * nominal:
        return []
    if heard < nominal:
        more = "bring it nearer, away from other transmitters, or plug it into a port of its own"
        return [Finding("rate", f"only {heard:.0f} of {nominal:g} samples a second come from {who}: {more}.", False)]
    sentence = f"{who} sends {heard:.0f} samples a second and promises {nominal:g}; look at its firmware."
    return [Finding("rate", sentence, False)]


@dataclass(frozen=True)
class Swap:
    """Clips that look swapped. sentence : what was seen. pairs : places to exchange."""

    sentence: str
    pairs: tuple[tuple[str, str], ...]


def check_taps(side: Side, turning: Mapping[str, float]) -> Swap | str | None:
    """What the ankle taps of one leg say about where the clips sit: swapped ones, a sentence, or None if all is well.

    turning : {place: angular rate while one foot tapped [rad/s]} (`Watch.turning`).
    """
    own_name = f"{side}_foot"
    if own_name not in turning:
        return f"The clip on the {side} foot was not heard during the taps. r = once more."
    most = max(turning, key=lambda place: turning[place])
    if turning[most] < RESTLESS_RAD_S:
        return f"Nothing turned: was it the {side} foot that moved? r = once more."
    if most == own_name or turning[most] < CLEARLY * turning[own_name]:
        return None
    if most == f"{'left' if side == 'right' else 'right'}_foot":
        pairs = tuple(
            (place, f"left_{place.removeprefix('right_')}")
            for place in turning
            if place.startswith("right_") and f"left_{place.removeprefix('right_')}" in turning
        )
        moved = f"While the {side} foot moved, the clip of the {place_words(most)} turned"
        return Swap(f"{moved}: right and left look swapped.", pairs)
    if most == "pelvis" or not most.startswith(side):
        return f"While the {side} foot moved, the {place_words(most)} turned most. r = once more, only the {side} foot."
    sentence = f"While the {side} foot moved, the clip of the {place_words(most)} turned most: the two look swapped."
    return Swap(sentence, ((own_name, most),))


def restless(turning: Mapping[str, float]) -> list[str]:
    """Places whose clip was not still, in words; turning : as `Watch.turning` gives it [rad/s]."""
    return [place_words(place) for place, rate in turning.items() if rate > RESTLESS_RAD_S]


def refuse_unknown(what: str, name: str, known: Iterable[str], remedy: str) -> None:
    """Raise InputError for a name that is not among those known, when any is; a new one is welcome with `--new`."""
    there = list(known)
    if there and name not in there:
        raise InputError(f"{what} {name!r} is not known{close_to(name, there)}; known are {', '.join(there)}. {remedy}")
