"""Which set-ups of a person may be compared, what differs between them, and what is asked first.

The question is fixed by the geometry before any angle is looked at: reach and footboard pitch move the ankle, throne
height the hip's flexion, pedal spacing the spread of the thighs. Keys are those of `Setup`; `right.reach_cm` where one
foot has a value of its own.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from statistics import median
from typing import Any, TypeVar

from ..logger.models import SIDES, Session, Setup
from .motions import BOTH, MOTION, words

SAME_THRONE_CM = 1.0  # a larger change of throne height is another set-up
_DIFFERS = 0.5  # cm or deg: smaller differences of reach, spacing and pitch are not what a person changed

Outcome = tuple[str, str]  # side, motion
Found = TypeVar("Found")

_WORDS = {
    "throne_height_cm": ("throne height", "cm"),
    "reach_cm": ("reach", "cm"),
    "spacing_cm": ("spacing", "cm"),
    "footboard_pitch_deg": ("footboard pitch", "deg"),
}
# What is moved, and the words for more and for less of it.
_MOVED = {
    "throne_height_cm": ("the throne", "higher", "lower"),
    "reach_cm": ("the pedal", "farther", "nearer"),
    "spacing_cm": ("the pedals", "farther apart", "closer together"),
    "footboard_pitch_deg": ("the footboard", "steeper", "flatter"),
}
# The motion that is asked about first where this differs.
_ASKED = {
    "reach_cm": "ankle_dorsiflexion",
    "footboard_pitch_deg": "ankle_dorsiflexion",
    "throne_height_cm": "hip_flexion",
    "spacing_cm": "hip_spread",
}
_EACH_FOOT = ("reach_cm", "footboard_pitch_deg", "footwear")  # may be another one for one foot


@dataclass(frozen=True)
class Variant:
    """A set-up as used: a name, and the throne height where one name was used with several.

    label: shown to people. setups: (session id, set-up) it was used in, in order of time. split: whether its name was
    used with several throne heights.
    """

    label: str
    name: str
    setups: tuple[tuple[str, Setup], ...]
    split: bool = False

    def sessions(self) -> set[str]:
        """Ids of the sessions that hold it."""
        return {session_id for session_id, _ in self.setups}

    def value(self, key: str) -> float | None:
        """The middle of a measured length or angle over its sessions; None where it was never measured."""
        known = self.noted(key)
        return float(median(known)) if known else None

    def noted(self, key: str) -> list[Any]:
        """What its sessions say of a key, in order of time; the throne's height as loaded."""
        return [value for _, setup in self.setups if (value := _noted(setup, key)) is not None]


def variants(sessions: Sequence[Session]) -> list[Variant]:
    """The set-ups played on, in order of first use; a name used with throne heights > 1 cm apart is split."""
    by_name: dict[str, list[tuple[str, Setup]]] = {}
    for session in sessions:
        on = {session.setup_of(phase).name for phase in session.phases if phase.name == "playing"}
        for setup in (setup for setup in session.setups if setup.name in on):
            by_name.setdefault(setup.name, []).append((session.id, setup))
    found: list[Variant] = []
    for name, uses in by_name.items():
        heights = sorted({setup.seat_height_cm for _, setup in uses if setup.seat_height_cm is not None})
        groups: list[list[float]] = []
        for height in heights:
            if groups and height - groups[-1][0] <= SAME_THRONE_CM:
                groups[-1].append(height)
            else:
                groups.append([height])
        if len(groups) < 2:
            found.append(Variant(name, name, tuple(uses)))
            continue
        for group in groups:
            some = tuple(use for use in uses if use[1].seat_height_cm in group)
            found.append(Variant(f"{name} (throne {_number(median(group))} cm)", name, some, True))
        unknown = tuple(use for use in uses if use[1].seat_height_cm is None)
        if unknown:
            found.append(Variant(f"{name} (throne height not given)", name, unknown, True))
    return found


def changes(a: Variant, b: Variant) -> dict[str, tuple[float, float]]:
    """What differs between two set-ups, {key: (value in a, value in b)}; only what was measured in both."""

    def apart(key: str) -> tuple[float, float] | None:
        x, y = a.value(key), b.value(key)
        if x is None or y is None:
            return None
        differs = abs(y - x) > SAME_THRONE_CM if key == "throne_height_cm" else abs(y - x) >= _DIFFERS
        return (x, y) if differs else None

    return {key: values for plain in _WORDS for key, values in _by_foot(plain, apart).items()}


def describe_changes(a: Variant, b: Variant) -> str:
    """`reach 41 to 44 cm`; empty where nothing measured differs."""
    return ", ".join(
        f"{_named(key)} {_number(x)} to {_number(y)} {_WORDS[_plain(key)][1]}" for key, (x, y) in changes(a, b).items()
    )


def moved(a: Variant, b: Variant) -> str | None:
    """`the pedal 2 cm farther`: b as seen from a, where exactly one measured thing differs; else None."""
    differing = changes(a, b)
    if len(differing) != 1:
        return None
    ((key, (x, y)),) = differing.items()
    side, _, plain = key.rpartition(".")
    part, more, less = _MOVED[plain]
    if side:
        part = part.replace("the", f"the {side}", 1)
    unit = "degrees" if _WORDS[plain][1] == "deg" else _WORDS[plain][1]
    return f"{part} {_number(abs(y - x))} {unit} {more if y > x else less}"


def primary_outcomes(a: Variant, b: Variant, measured: Iterable[Outcome]) -> list[Outcome]:
    """The outcomes named before the data for a pair of set-ups, among those `measured` in both (side, motion).

    Where only one foot's pedal differs, that foot is asked about. Where the named motion was not measured the next one
    that was takes its place, in a fixed order.
    """
    available = set(measured)
    in_order = [one for motion in dict.fromkeys(_ASKED.values()) for one in _sides(motion, available)]
    named = [one for one in in_order if asks_about(a, b, one)]
    if named:
        return named
    for motion in ("ankle_dorsiflexion", "hip_flexion", "hip_spread", "hip_horizontal_abduction"):
        if stand_in := _sides(motion, available):
            return stand_in
    return sorted(available)[:1]


def not_measured(a: Variant, b: Variant, primary: Sequence[Outcome]) -> list[str]:
    """A clause for people on what the geometry asks about first and the primary outcomes do not hold."""
    lacking = [
        (side, motion)
        for side, motion in sorted(_asked(a, b))
        if not any(motion == other and side in ("", own) for own, other in primary)
    ]
    if not lacking:
        return []
    named = " and ".join(words(*one).strip() for one in lacking)
    were = "was" if len(lacking) == 1 else "were"
    return [f"{named}, asked about first where set-ups differ like this, {were} not measured"]


def asks_about(a: Variant, b: Variant, outcome: Outcome) -> bool:
    """Whether the geometry asks about an outcome; where nothing differs it is dorsiflexion."""
    side, motion = outcome
    return bool((_asked(a, b) or {("", "ankle_dorsiflexion")}) & {("", motion), (side, motion)})


def _asked(a: Variant, b: Variant) -> set[Outcome]:
    """What differs in the geometry asks about; an empty side stands for every worn one. Empty where nothing differs."""
    return {(side, _ASKED[plain]) for side, _, plain in (key.rpartition(".") for key in changes(a, b))}


def reading_order(outcome: Outcome) -> tuple[int, int]:
    """A key to sort by: motions as in `motions.MOTION`, the spread of both legs last; right, then left."""
    side, motion = outcome
    names = list(MOTION)
    return (names.index(motion) if motion in names else len(names), (*SIDES, BOTH).index(side))


def _sides(motion: str, available: set[Outcome]) -> list[Outcome]:
    sides = (BOTH,) if motion == "hip_spread" else SIDES
    return [(side, motion) for side in sides if (side, motion) in available]


def other_height(then_cm: float | None, now_cm: float | None) -> bool:
    """Whether a throne stood more than 1 cm from now; False where either is not known."""
    return then_cm is not None and now_cm is not None and abs(then_cm - now_cm) > SAME_THRONE_CM


def unlike(a: Variant, b: Variant, sessions: Sequence[Session]) -> dict[str, tuple[set[str], set[str]]]:
    """{exercise | tempo | footwear: (what was noted of it on a, on b)}, where that is not the same."""
    noted = {
        words: (_played(a, sessions, key), _played(b, sessions, key))
        for words, key in (("exercise", "exercise"), ("tempo", "tempo_bpm"))
    }
    for key, worn in _by_foot("footwear", lambda key: (set(a.noted(key)), set(b.noted(key)))).items():
        noted[_named(key)] = worn
    return {words: (x, y) for words, (x, y) in noted.items() if x != y and x and y}


def mismatches(a: Variant, b: Variant, sessions: Sequence[Session]) -> list[str]:
    """What was not alike apart from the geometry: exercise, tempo, footwear, order of playing; clauses for people."""
    notes = [
        f"the {what} differs ({_list(on_a)} on {a.label}, {_list(on_b)} on {b.label})"
        for what, (on_a, on_b) in unlike(a, b, sessions).items()
    ]
    order = _order(a, b, sessions)
    if order is not None:
        first, then = order
        notes.append(f"{then.label} was always played after {first.label}, so warming up or tiring may play a part")
    for variant in (a, b):
        for plain in (key for key in _WORDS if key != "throne_height_cm"):
            for key, sizes in _by_foot(plain, variant.noted).items():
                if sizes and max(sizes) - min(sizes) > 1.0:
                    span = f"{_number(min(sizes))} to {_number(max(sizes))} {_WORDS[plain][1]}"
                    notes.append(f"the {_named(key)} on {variant.label} varied from {span}")
    return notes


def played(session: Session, setup: str, key: str) -> set[str]:
    """What a phase key (`exercise`, `tempo_bpm`) said while a set-up was played on in a session, as text."""
    values = [getattr(p, key) for p in session.phases if p.name == "playing" and session.setup_of(p).name == setup]
    return {_number(value) if isinstance(value, float) else str(value) for value in values if value is not None}


def _played(variant: Variant, sessions: Sequence[Session], key: str) -> set[str]:
    mine = variant.sessions()
    return {text for session in sessions if session.id in mine for text in played(session, variant.name, key)}


def _order(a: Variant, b: Variant, sessions: Sequence[Session]) -> tuple[Variant, Variant] | None:
    """(first, then) where one was played before the other in every one of at least two sessions that hold both."""
    leads: list[bool] = []
    for session in sessions:
        starts: list[float] = []
        for variant in (a, b):
            own = [
                phase.start_s
                for phase in session.phases
                if phase.name == "playing" and session.setup_of(phase).name == variant.name
            ]
            if session.id in variant.sessions() and own:
                starts.append(sum(own) / len(own))
        if len(starts) == 2:
            leads.append(starts[0] < starts[1])
    if len(leads) < 2 or len(set(leads)) != 1:
        return None
    return (a, b) if leads[0] else (b, a)


def _noted(setup: Setup, key: str) -> Any:
    """What a set-up says of a key; None where it says nothing."""
    if key == "throne_height_cm":
        return setup.seat_height_cm
    own = [setup.of_foot(side, _plain(key)) for side in SIDES if key.startswith(f"{side}.")]
    value = own[0] if own else getattr(setup, key)
    return None if value == "" else value


def _by_foot(plain: str, find: Callable[[str], Found | None]) -> dict[str, Found]:
    """{key: what is found}, of each foot by itself where the feet are not alike; without what is None."""
    keys = [f"{side}.{plain}" for side in SIDES] if plain in _EACH_FOOT else [plain]
    found = [find(key) for key in keys]
    if all(one == found[0] for one in found):
        keys = [plain]
    return {key: one for key, one in zip(keys, found, strict=False) if one is not None}


def _plain(key: str) -> str:
    return key.rpartition(".")[2]


def _named(key: str) -> str:
    """`reach`, `reach of the right foot`."""
    side, _, plain = key.rpartition(".")
    words = _WORDS[plain][0] if plain in _WORDS else plain
    return f"{words} of the {side} foot" if side else words


def _number(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")


def _list(values: set[str]) -> str:
    return ", ".join(sorted(values))
