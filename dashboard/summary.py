"""One participant's figures, gathered per side, motion and set-up over sessions: what a card shows.

Sessions count equally, as in the comparison: the figures here are means of session figures. Pure functions over
`exposure.json` dicts and session models.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from ..analysis.felt import felt, felt_words
from ..analysis.setups import Variant, variants
from ..logger.models import Session, Setup
from .wording import MOTION_WORDS, sentence

SIDES = ("right", "left", "both")


@dataclass
class SetupFigures:
    """One set-up in one card. Degrees, shares 0-1, seconds; lists hold one value per session.

    Shares are None where a motion has no end zone (its end is contact, not the joint's).
    """

    name: str
    median_room_deg: float
    band_room_deg: tuple[float, float]
    share_near_end: float | None
    band_near_end: tuple[float, float] | None
    share_past_end: float | None
    session_rooms_deg: list[float]
    session_shares: list[float]
    known_s: float
    zone_deg: float
    active_end_deg: list[float]
    range_sources: list[str]
    edges_deg: list[float] = field(default_factory=list)
    shares: list[float] = field(default_factory=list)
    seconds_per_minute: float | None = None
    entries_per_minute: float | None = None
    longest_stay_s: float | None = None


@dataclass
class Card:
    """Everything about one side and motion of one participant; the comparison's rows on room and on the share."""

    side: str
    motion: str
    setups: list[SetupFigures]
    rows: list[Mapping[str, Any]]
    share_rows: list[Mapping[str, Any]] = field(default_factory=list)

    @property
    def primary(self) -> bool:
        """Whether some pair of set-ups is judged on this motion."""
        return any(row.get("primary") for row in self.rows)

    @property
    def zone_deg(self) -> float:
        """Width of the end zone [deg], of the first set-up."""
        return self.setups[0].zone_deg

    @property
    def has_zone(self) -> bool:
        """Whether there is an end zone at all: none where the legs touch before the joint ends."""
        return any(one.share_near_end is not None for one in self.setups)


def cards(
    exposures: Iterable[Mapping[str, Any]], sessions: Sequence[Session], rows: Sequence[Mapping[str, Any]]
) -> list[Card]:
    """Cards of one participant, those the set-ups are judged on first.

    exposures, sessions : of one participant; a session without exposure is left out.
    rows : the comparison's rows for the same sessions.
    Set-ups are told apart as the comparison does it: a name used at two throne heights is two.
    """
    by_id = {str(exposure["session"]): exposure for exposure in exposures}
    found: dict[tuple[str, str], dict[str, list[Mapping[str, Any]]]] = {}
    for variant in variants([session for session in sessions if session.id in by_id]):
        for session_id, setup in variant.setups:
            sides = by_id[session_id]["setups"].get(setup.name) or {}
            for side in SIDES:
                for motion, figures in (sides.get(side) or {}).items():
                    if figures.get("median_room_deg") is not None:
                        found.setdefault((side, motion), {}).setdefault(variant.label, []).append(figures)
    order = list(MOTION_WORDS)
    result = [
        Card(
            side,
            motion,
            [setup_figures(name, figures) for name, figures in setups.items()],
            *(
                [row for row in rows if (row["side"], row["motion"], row["measure"]) == (side, motion, measure)]
                for measure in ("median_room_deg", "share_near_end")
            ),
        )
        for (side, motion), setups in found.items()
    ]
    return sorted(
        result,
        key=lambda card: (
            not card.primary,
            order.index(card.motion) if card.motion in order else len(order),
            SIDES.index(card.side),
        ),
    )


def setup_figures(name: str, sessions: Sequence[Mapping[str, Any]]) -> SetupFigures:
    """The figures of one set-up from the per-session figures of one side and motion."""

    def values(key: str) -> list[float]:
        return [float(one[key]) for one in sessions if one.get(key) is not None]

    edges, shares = _mean_histogram(sessions)
    return SetupFigures(
        name=name,
        median_room_deg=_mean(values("median_room_deg")),
        band_room_deg=_mean_pair(sessions, "band_median_room_deg", "median_room_deg"),
        share_near_end=_mean_or_none(values("share_near_end")),
        band_near_end=_mean_pair(sessions, "band_near_end", "share_near_end") if values("share_near_end") else None,
        share_past_end=_mean_or_none(values("share_past_end")),
        session_rooms_deg=values("median_room_deg"),
        session_shares=values("share_near_end"),
        known_s=sum(values("known_s")),
        zone_deg=float(sessions[0].get("zone_deg") or 0.0),
        active_end_deg=values("active_end_deg"),
        range_sources=sorted({str(one.get("range_source")) for one in sessions if one.get("range_source")}),
        edges_deg=edges,
        shares=shares,
        seconds_per_minute=_mean_or_none(values("seconds_per_minute")),
        entries_per_minute=_mean_or_none(values("entries_per_minute")),
        longest_stay_s=max(values("longest_stay_s"), default=None),
    )


def _mean(values: Sequence[float]) -> float:
    return sum(values) / len(values)


def _mean_or_none(values: Sequence[float]) -> float | None:
    return _mean(values) if values else None


def _mean_pair(sessions: Sequence[Mapping[str, Any]], band: str, figure: str) -> tuple[float, float]:
    """Mean of the sessions' bands; a session without a band counts with its figure."""
    pairs = [one.get(band) or (one[figure], one[figure]) for one in sessions if one.get(figure) is not None]
    return _mean([float(low) for low, _ in pairs]), _mean([float(high) for _, high in pairs])


def _mean_histogram(sessions: Sequence[Mapping[str, Any]]) -> tuple[list[float], list[float]]:
    """Mean histogram of room over sessions that share the bin width; bins are lined up by their lower edge."""
    found: list[tuple[list[float], list[float]]] = []
    for one in sessions:
        histogram = one.get("room_histogram") or {}
        edges, shares = histogram.get("edges_deg") or [], histogram.get("share") or []
        if len(edges) == len(shares) + 1 and shares:
            found.append(([float(edge) for edge in edges], [float(share) for share in shares]))
    if not found:
        return [], []
    width = found[0][0][1] - found[0][0][0]
    found = [(edges, shares) for edges, shares in found if abs(edges[1] - edges[0] - width) < 1e-6]
    start = min(edges[0] for edges, _ in found)
    count = max(round((edges[-1] - start) / width) for edges, _ in found)
    total = [0.0] * count
    for edges, shares in found:
        first = round((edges[0] - start) / width)
        for position, share in enumerate(shares):
            total[first + position] += share / len(found)
    return [start + width * position for position in range(count + 1)], total


def quality_level(exposure: Mapping[str, Any] | None) -> tuple[str, str]:
    """(`good` | `look at this` | `withheld` | `not analysed`, the short why) of one session, in words."""
    if exposure is None:
        return "not analysed", "run `footroom analyze`"
    quality = exposure.get("quality") or {}
    withheld = quality.get("withheld") or []
    if not any(figures for sides in exposure["setups"].values() for figures in sides.values()):
        alone = exposure.get("slide") or any(exposure.get("ranges", {}).values())
        if alone and not any(exposure.get("playing", {}).values()):
            return "good", "no playing: the ends of the range or the slide alone"
        return "withheld", str(withheld[0].get("reason", "")) if withheld else "no figure is known"
    slips, gaps = quality.get("slips") or [], quality.get("gaps") or []
    why = []
    if slips:
        why.append("a clip turned on the leg")
    if gaps:
        why.append("parts of the recording are missing")
    if why:
        return "look at this", "; ".join(why)
    doubts, _ = doubts_and_notes(quality)
    if doubts:
        return "look at this", doubts[0]
    if withheld:
        return "good", "some figures withheld"
    return "good", ""


def doubts_and_notes(quality: Mapping[str, Any]) -> tuple[list[str], list[str]]:
    """What makes figures less sure, and what only says how they are meant, in sentences."""
    doubts, notes = ([sentence(str(text)) for text in quality.get(key) or []] for key in ("messages", "notes"))
    return doubts, notes


def session_setups(session: Session) -> dict[str, dict[str, Any]]:
    """Geometry of a session's set-ups by name."""
    return {setup.name: setup.model_dump(exclude={"name"}, exclude_none=True) for setup in session.setups}


def felt_by_name(sessions: Sequence[Session], typed: Sequence[Setup] = ()) -> dict[str, str]:
    """How each set-up felt, in words, by name: `comfort 7, chosen 3 of 4 times`, or empty. typed: of `felt_by_hand`."""
    uses: dict[str, list[tuple[str, Setup]]] = {}
    for session in sessions:
        for setup in session.setups:
            uses.setdefault(setup.name, []).append((session.id, setup))
    return {
        name: felt_words("", felt(Variant(name, name, tuple(some)), typed).as_json()).removeprefix(": ")
        for name, some in uses.items()
    }
