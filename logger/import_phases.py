"""The phases and typed ranges of `import.toml`."""

from __future__ import annotations

from typing import Any, cast

from .errors import InputError
from .import_values import TomlPlace, build, choice, number, required, table, tables, text_value, warn_extra
from .models import MOTIONS, PHASE_NAMES, SIDES, Clip, Phase, Setup, Side

# Phases that happen on a set-up's pedals: they must say on which when there are several.
ON_A_SETUP: tuple[str, ...] = ("playing", "rest_on_pedal", "lift_test")
# The largest angle a joint can be typed to reach [deg]: generous, only to catch slips of the pen.
_MOST_DEG = {"ankle_dorsiflexion": 60.0, "ankle_plantarflexion": 90.0, "hip_flexion": 150.0}
_MOST_ELSE_DEG = 110.0
# Above this a seated active dorsiflexion is unheard of, a weight-bearing lunge test ordinary (facts: lunge 35-45).
_LUNGE_DEG = 35.0


def most_deg(motion: str) -> float:
    """The largest angle that a joint can be typed to reach [deg]; more is a slip of the pen."""
    return _MOST_DEG.get(motion, _MOST_ELSE_DEG)


def read_phases(
    top: TomlPlace, data: dict[str, Any], setups: list[Setup], clips: list[Clip], warnings: list[str]
) -> list[Phase]:
    worn = {clip.side for clip in clips if clip.side is not None}
    names = [setup.name for setup in setups]
    phases: list[Phase] = []
    for index, values in enumerate(tables(top, data, "phase", "at least for the playing, with start_s and end_s")):
        place = top.at("phase", index)
        name = required(place, values, "name", "[[phase]]", '"playing"')
        choice(place.at("name"), "phase", name, PHASE_NAMES)
        for key in ("start_s", "end_s"):
            if key not in values:
                raise place.error(f"the phase {name} has no `{key}`; add it in seconds, such as {key} = 110.0.")
        if "side" in values:
            choice(place.at("side"), "side", text_value(place.at("side"), values["side"]), SIDES)
        if "setup" in values:
            setup = text_value(place.at("setup"), values["setup"])
            choice(place.at("setup"), "set-up", setup, names, "or add a [[setup]] of that name")
        elif len(setups) > 1 and name in ON_A_SETUP:
            named = ", ".join(f'"{n}"' for n in names)
            raise place.error(f"the phase {name} does not say on which set-up; add setup = one of {named}.")
        warn_extra(place, values, Phase.model_fields, warnings)
        phase = build(place, Phase, values)
        if phase.end_s <= phase.start_s:
            raise place.at("end_s").error(
                f"the phase {name} ends at {phase.end_s:g} s, not after its start at {phase.start_s:g} s; correct one."
            )
        if phase.side is not None and worn and phase.side not in worn:
            warnings.append(place.at("side").sentence(f"the phase {name} is for the {phase.side}, where no clip is."))
        phases.append(phase)
    _check_playing(top, phases)
    return phases


def _check_playing(top: TomlPlace, phases: list[Phase]) -> None:
    playing = sorted((p.start_s, p.end_s, index) for index, p in enumerate(phases) if p.name == "playing")
    if not playing:
        raise InputError(
            'there is no phase with name = "playing"; add when the playing began and ended.', path=top.path
        )
    for place, (_, end, index) in enumerate(playing):
        for start, _, later in playing[place + 1 :]:
            sides = {phases[index].side, phases[later].side}
            if start < end and (None in sides or len(sides) == 1):
                raise top.at("phase", later).error(
                    f"this playing phase begins at {start:g} s, before another one ends at {end:g} s; "
                    "let playing phases follow one another."
                )


def read_typed_ranges(
    top: TomlPlace, data: dict[str, Any], clips: list[Clip], warnings: list[str]
) -> dict[Side, dict[str, float]]:
    ranges = table(top.at("range"), data.get("range", {}), "[range]")
    worn = {clip.side for clip in clips}
    typed: dict[Side, dict[str, float]] = {}
    known = [f"{motion}_deg" for motion in MOTIONS]
    for side, values in ranges.items():
        place = top.at("range", side)
        choice(place, "side", side, SIDES)
        checked: dict[str, float] = {}
        for key, value in table(place, values, f"[range.{side}]").items():
            choice(place.at(key), "motion", key, known)
            checked[key.removesuffix("_deg")] = _typed_angle(place.at(key), key, value, warnings)
        if side not in worn:
            warnings.append(place.sentence(f"a range is typed for the {side}, where no clip is."))
        typed[cast(Side, side)] = checked
    return typed


def _typed_angle(place: TomlPlace, key: str, value: object, warnings: list[str]) -> float:
    motion = key.removesuffix("_deg")
    most = most_deg(motion)
    value = number(place, value)
    if not value > 0:
        raise place.error(
            f"{key} = {value:g}: a range that ends before neutral leaves no room to measure; write how far past "
            "neutral the person gets, in degrees above 0, or remove the line."
        )
    if value > most:
        raise place.error(f"{key} = {value:g} is more than a joint can ({most:g} degrees); correct it or remove it.")
    if motion == "ankle_dorsiflexion" and value >= _LUNGE_DEG:
        warnings.append(
            place.sentence(
                f"{key} = {value:g} looks like a weight-bearing lunge; seated active dorsiflexion is much smaller, and "
                "room counted from a lunge is too large."
            )
        )
    return value
