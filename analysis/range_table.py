"""The range sheet as text for a terminal."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from .motions import words

METHOD_WORDS = {
    "mean_of_last_three": "mean of the last three",
    "median": "median of the kept ones",
    "best_of_n": "best of the last three, which is biased upward",
}


def repetition_text(rep: Mapping[str, Any]) -> str:
    """One repetition: practice in brackets, an invalid one crossed, one that counts plain."""
    value = f"{rep['held_deg']:.1f}"
    if rep["invalid"]:
        return f"{value} not valid"
    if rep["practice"]:
        return f"({value})"
    return value if rep["held"] in (True, None) else f"{value} not held"


def ended(message: str) -> str:
    """A message as a sentence."""
    return message if message.endswith(("?", ".")) else f"{message}."


def print_range_sheet(report: Mapping[str, Any]) -> None:
    """The sheet; the contraindications come first."""
    print(report["caution"])
    if not report["ranges"]:
        print(f"No range of {report['participant']} was measured yet. {report['conditions']}")
    for row in report["ranges"]:
        _print_row(row, report["method"])
    for one in report["side_differences"]:
        print(
            f"Right minus left, {words('both', one['motion'])}: {one['right_minus_left_deg']:+.1f} deg, {one['note']} "
            f"({one['detectable_deg']:g} deg)."
        )
    if report["missing_sides"]:
        print(f"Not measured on the other side: {', '.join(report['missing_sides'])}.")
    for one in report.get("on_the_pedal", ()):
        print(pedal_line(one))
    for one in report.get("slides", ()):
        print(slide_line(one))
    if report["ranges"]:
        print("In brackets: practice. Published values are for orientation, never targets. " + report["conditions"])


def _print_row(row: Mapping[str, Any], method: str) -> None:
    norm = f"; published {row['norms'][0]['mean_deg']:g} ({row['norms'][0]['conditions']})" if row["norms"] else ""
    where = f", {row['session']}" if row["session"] else ""
    print(
        f"{words(row['side'], row['motion'])}: {row['end_deg']:.1f} deg, {METHOD_WORDS[method]} "
        f"({row['how']}, {row['recorded_at'][:10]}{where})"
    )
    print(
        f"  repetitions {', '.join(repetition_text(rep) for rep in row['repetitions'])}; growth "
        f"{row['growth_deg']:+.1f}{', levelled off' if row['plateau'] else ''}; smallest change that can be told "
        f"{row['minimal_detectable_change_deg']:g}{norm}"
    )
    if row["other_height"]:
        print(f"  Note: measured at another throne height ({row['throne_height_cm']:g} cm): check it again.")
    for message in row["messages"]:
        print(f"  Note: {ended(message)}")
    for before in row["history"]:
        other = ", other throne height" if before["other_height"] else ""
        print(f"  before, {before['recorded_at'][:10]} ({before['how']}{other}): {before['end_deg']:.1f} deg")


def pedal_line(one: Mapping[str, Any]) -> str:
    """One foot on one set-up: what is left at rest, and how far it is lifted."""
    said = []
    if one["room_at_rest_deg"] is not None:
        said.append(f"{one['room_at_rest_deg']:.1f} deg left at rest{_sure(one['band_room_at_rest_deg'])}")
    if one["lifted_deg"] is not None:
        little = "" if one["lifted"] else ", hardly lifted"
        said.append(f"the foot can be lifted {one['lifted_deg']:.1f} deg{_sure(one['band_lifted_deg'])}{little}")
    return f"On the pedal, {one['setup']}, {one['side']} foot ({one['session']}): {'; '.join(said)}."


def _sure(band: list[float] | None) -> str:
    return "" if band is None else f" (95 %: {band[0]:.1f} to {band[1]:.1f})"


def slide_line(one: Mapping[str, Any]) -> str:
    """One slide: narrowest and widest, how sure, and what was marked."""
    if one["widest_cm"] is None:
        return f"Slide ({one['session']}): not known: {one['reason']}."
    tilted = sum(rep["tilted"] for rep in one["repetitions"])
    said = f"; {tilted} of {len(one['repetitions'])} with a shank tilted more than 10 deg: repeat" if tilted else ""
    return (
        f"Slide ({one['session']}): ball to ball {slide_width(one)}, legs {one['widest_spread_deg']:.0f} deg apart at "
        f"the widest{said}."
    )


def slide_width(one: Mapping[str, Any]) -> str:
    """`16 to 62 +- 7 cm`, narrowest to widest, 95 %."""
    unsure = "" if one["plus_minus_cm"] is None else f" +- {one['plus_minus_cm']:.0f}"
    narrow = "" if one["narrowest_cm"] is None else f"{one['narrowest_cm']:.0f} to "
    return f"{narrow}{one['widest_cm']:.0f}{unsure} cm"
